"""Direct-current systems and areas in a site file: read, written back, and errors at the spot."""

from __future__ import annotations

import pytest

from bondwright.site import SiteError, dump, read, rename_id
from bondwright.site.model import DirectCurrentGrounded, DirectCurrentSource, ElectrodeKind
from tests.site.marked import unmarked

FILE = """\
site: Pump house
sources:
  utility: {system: 120/240 V, transformer: {rating: 25 kVA, impedance: 2 %}}
places:
  panel: {kind: service, main: 200 A breaker}
  hut: {kind: panel, main: 60 A breaker}
direct current:
  bank:
    at: hut
    source: battery
    voltage: 380 V
    wires: 3
    balancer: true
    lines: 2 AWG Cu
    neutral: 4 AWG Cu
    grounded: solid
    jumper: 2 AWG Cu
    conductor: none
    electrode: rod
    detector: false
    installed: 2021
    note: behind the stove
areas:
  yard:
    kind: pond
    at: hut
    bond: 8 AWG Cu
runs:
  drop: {from: utility, to: panel, length: 90 ft, lines: 4/0 AWG Al}
  feeder: {from: panel, to: hut, device: 60 A breaker, length: 20 ft, lines: 6 AWG Cu}
"""


def test_what_is_written_is_read() -> None:
    bank = read(FILE).direct_current["bank"]
    assert (bank.at, bank.source, bank.voltage) == ("hut", DirectCurrentSource.BATTERY, 380.0)
    assert (bank.wires, bank.balancer, str(bank.neutral)) == (3, True, "4 AWG Cu")
    assert (bank.grounded, bank.electrode) == (DirectCurrentGrounded.SOLID, ElectrodeKind.ROD)
    assert (bank.detector, bank.installed, bank.note) == (False, 2021, "behind the stove")


def test_it_survives_being_written() -> None:
    site = read(FILE)
    assert read(dump(site)) == site


def test_it_follows_its_place_to_another_name() -> None:
    renamed = read(rename_id(FILE, "hut", "barn panel"))
    assert renamed.direct_current["bank"].at == "barn panel"
    assert renamed.areas["yard"].at == "barn panel"
    assert set(read(rename_id(FILE, "bank", "old bank")).direct_current) == {"old bank"}


@pytest.mark.parametrize(
    ("old", "new", "problem", "hint"),
    [
        ("    at: hut\n    source", "    at: ‸hat\n    source",
         "is not the id of a source, transformer or place", "did you mean 'hut'?"),
        ("    at: hut\n    source", "    at: ‸utility\n    source",
         "is a source; no direct-current system of the site is there",
         "name the panel, inverter or equipment that it belongs to"),
        ("    wires: 3\n    balancer: true\n", "    ‸balancer: true\n",
         "is given, but there are two wires", "write 'wires: 3', or remove it"),
        ("    wires: 3\n    balancer: true\n    lines: 2 AWG Cu\n    neutral: 4 AWG Cu\n",
         "    lines: 2 AWG Cu\n    ‸neutral: 4 AWG Cu\n",
         "is given, but there are two wires", "write 'wires: 3', or remove it"),
        ("    grounded: solid\n    jumper", "    grounded: device\n    ‸jumper",
         "does not belong to a system with 'grounded: device'",
         "write 'grounded: solid', or remove it"),
        ("    grounded: solid\n    jumper", "    grounded: none\n    ‸jumper",
         "does not belong to a system with 'grounded: none'",
         "write 'grounded: solid', or remove it"),
        ("source: battery", "source: ‸batery", "is not one of",
         "did you mean 'battery'?"),
        ("voltage: 380 V", "voltage: ‸380", "has no unit", "write '380 V'"),
        ("wires: 3", "wires: ‸4", "", ""),
        ("    kind: pond\n    at: hut\n    bond", "    kind: sign\n    at: hut\n    ‸bond",
         "does not belong to an area of kind 'sign'",
         "remove it; it belongs to 'pool', 'livestock', 'marina', 'pond', 'tub'"),
    ],
)  # fmt: skip
def test_errors_point_at_the_spot(old: str, new: str, problem: str, hint: str) -> None:
    assert FILE.count(old) == 1
    text, line, column = unmarked(FILE.replace(old, new))
    with pytest.raises(SiteError) as caught:
        read(text)
    found = caught.value.problems[0]
    assert (found.line, found.column) == (line, column)
    assert problem in found.problem
    assert hint in (found.hint or "")


def test_a_contradiction_is_said_even_where_another_table_is_broken() -> None:
    broken = FILE.replace("length: 90 ft", "length: 90 fr").replace(
        "grounded: solid", "grounded: none"
    )
    with pytest.raises(SiteError) as caught:
        read(broken.replace("kind: pond", "kind: lift"))
    said = " ".join(found.problem for found in caught.value.problems)
    assert "'grounded: none'" in said
    assert "an area of kind 'lift'" in said
