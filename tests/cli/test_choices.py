"""The commands about choices and words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import refused, said, structure

Z08 = str(Path(__file__).parents[1] / "cases" / "Z08-75kVA.yaml")
FOUND = str(Path(__file__).parents[1] / "cases" / "R03-meter-main-raceway.yaml")


def test_each_way_side_by_side() -> None:
    told = said("choices", Z08, "--about", "secondary")
    assert "as planned: wire 2 AWG Cu" in told
    assert "or: the 3 in emt raceway alone" in told
    assert told.count("L1 to metal at hall panel: 5") == 2
    assert told.count("neutral current on metal in normal use: none") == 2
    assert "10 ft 2 AWG Cu wire" in told
    assert "2 bonding bushing 3 in" in told
    assert "By the price list" not in told


def test_as_data() -> None:
    found = structure("choices", Z08, "--about", "T1")
    (choice,) = found["choices"]
    assert [way["what"] for way in choice["ways"]] == ["at T1", "at hall panel"]
    assert all(way["stray_a"] == 0 for way in choice["ways"])
    assert all(way["fault"]["cleared"] for way in choice["ways"])
    assert choice["ways"][0]["cost"] is None


def test_with_a_price_list(tmp_path: Path) -> None:
    prices = tmp_path / "prices.csv"
    prices.write_text("item,unit,price\n2 AWG Cu wire,ft,2.00\n")
    told = said("choices", Z08, "--about", "secondary", "--prices", str(prices))
    assert "By the price list: 20.00." in told
    assert "By the price list: 0.00, without bonding bushing 3 in." in told
    prices.write_text("a,b\n")
    assert "first line must be" in refused("choices", Z08, "--prices", str(prices))
    missing = str(tmp_path / "none.csv")
    assert "can't be read" in refused("choices", Z08, "--prices", missing)


def test_what_is_fixed_is_said() -> None:
    told = said("choices", Z08, "--about", "primary feeder")
    assert "the description fixes it (egc: raceway)" in told


def test_nothing_to_choose() -> None:
    assert "Nothing to choose" in said("choices", FOUND)
    assert "nothing to choose about 'x'" in refused("choices", Z08, "--about", "x")


def test_a_word() -> None:
    told = said("words", "cpc")
    assert told.startswith("equipment grounding conductor")
    assert "Australia and New Zealand: protective earthing conductor" in told
    assert "grounding" in said("words")
    assert "earthing" in said("words", "--dialect", "iec")
    assert "nearest are 'ground'" in refused("words", "grond")
    (found,) = structure("words", "gfci")["words"]
    assert found["called"] == {"us": "GFCI", "iec": None, "au": None}


@pytest.mark.parametrize(
    ("answers", "screw"),
    [
        (("yes", "no", "no", "no"), "in"),
        (("no", "yes", "no", "no"), "out"),
        (("no", "no", "no", "yes"), "keep"),
        (("unknown", "unknown", "unknown", "unknown"), "cannot tell"),
    ],
)
def test_the_screw(answers: tuple[str, ...], screw: str) -> None:
    options = [
        word
        for name, value in zip(("first", "ground", "metal", "before"), answers, strict=True)
        for word in (f"--{name}", value)
    ]
    assert said("quick", "screw", *options).startswith(screw)
    found = structure("quick", "screw", *options)
    assert found["answer"]["screw"] == screw
    assert (found["answer"]["ask"] == []) is (screw != "cannot tell")
