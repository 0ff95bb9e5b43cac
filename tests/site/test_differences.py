from pathlib import Path
from typing import Any

import pytest

from bondwright.site.differences import Difference, differences, raw
from bondwright.site.reader import load, read
from bondwright.site.writer import dump

FARM = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"

BASE = """\
site: Barn
sources:
  utility: {system: 120/240 V, transformer: {rating: 25 kVA, impedance: 2.1 %, x/r: 1.3}}
places:
  panel: {kind: service, main: 60 A breaker}
runs:
  drop: {from: utility, to: panel, length: 90 ft, lines: 4 AWG Cu, wiring: overhead}
"""


def test_the_meaning_is_compared() -> None:
    same = (
        BASE.replace("90 ft", "27.432 m")
        .replace("Barn\n", "Barn  # paced out\nrules: nec-2023\n")
        .replace("from: utility, to: panel", "to: panel, from: utility")
    )
    assert differences(read(BASE), read(same)) == ()
    farm = load(FARM)
    assert differences(farm, read(dump(farm))) == ()


def test_what_was_changed_is_told_where_it_stands() -> None:
    after = (
        BASE.replace("90 ft", "105 ft")
        .replace("kind: service", "kind: service, building: barn")
        .replace("4 AWG Cu, wiring: overhead", "2 AWG Al")
    )
    assert differences(read(BASE), read(after)) == (
        Difference(("places", "panel", "building"), None, "barn"),
        Difference(("runs", "drop", "length"), "90 ft", "105 ft"),
        Difference(("runs", "drop", "lines"), "4 AWG Cu", "2 AWG Al"),
        Difference(("runs", "drop", "wiring"), "overhead", None),
    )


def test_new_and_gone_things_are_told_whole() -> None:
    rod = BASE + "electrodes: {rod: {kind: rod, at: panel, length: 8 ft}}\n"
    new = Difference(("electrodes", "rod"), None, "{kind: rod, length: 8 ft, at: panel}")
    gone = Difference(new.path, new.after, None)
    assert differences(read(BASE), read(rod)) == (new,)
    assert differences(read(rod), read(BASE)) == (gone,)


def test_an_edition_counts_though_it_is_a_default() -> None:
    older = BASE.replace("Barn\n", "Barn\nrules: nec-2017\n")
    assert differences(read(older), read(BASE)) == (Difference(("rules",), "nec-2017", "nec-2023"),)


@pytest.mark.parametrize("path", sorted((FARM.parent).glob("*.yaml")), ids=lambda p: p.stem)
def test_every_value_of_the_examples_is_seen(path: Path) -> None:
    """What the dump shows and what is compared have one shape, or a change could be missed."""
    site = load(path)
    shown = site.model_dump(mode="json", by_alias=True, exclude_defaults=True)

    def shape(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: shape(item) for key, item in value.items()}
        return [shape(item) for item in value] if isinstance(value, list) else None

    assert shape(raw(site)) == shape(shown)
