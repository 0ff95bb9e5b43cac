"""The ground in a site file: what reads, round-trips, and what can't stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.earth.soil import Soil
from bondwright.site.fields import ground_of, ground_text
from bondwright.site.reader import load, read
from bondwright.site.site_error import SiteError
from bondwright.site.writer import dump
from bondwright.units import UnitError

BARN = Path(__file__).parents[1] / "cases" / "earth-press-barn.yaml"
TEXT = BARN.read_text(encoding="utf-8")


def test_written_and_read_again_it_is_the_same() -> None:
    site = load(BARN)
    assert site.soil == Soil.two_layer(300, 50, 3)
    assert read(dump(site)) == site


@pytest.mark.parametrize(
    "soil", [Soil.uniform(120), Soil.two_layer(300, 50, 3), Soil((100, 30, 900), (0.3, 7.25))]
)
def test_soils_as_text(soil: Soil) -> None:
    assert ground_of(ground_text(soil)) == soil


@pytest.mark.parametrize("text", ["", "100", "100 ohm m / 3 m", "100 ohm m / 3 / 50 ohm m", "3 m"])
def test_no_soil(text: str) -> None:
    with pytest.raises(UnitError):
        ground_of(text)


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("count: 2\n", "count: 3\n", "names 2 places, but the count is 3"),
        ("    depth: 2 ft\n", "    depth: 2 ft\n    across: 3 m\n", "does not belong to an elect"),
        ("    position: [14 m, -6 m]\n", "    position: [14 m]\n", "position"),
        ("along: [[0 m, 1 m], [9 m, 1 m]]", "along: [[0 m, 1 m]]", "1 of at least 2 corners"),
        ("  cottage rod: {kind", "  well: {kind", "is the id of an electrode too"),
        ("of: [well]", "of: [wel]", "is not the id of an electrode"),
        ("    far: 60 m\n", "", "needs 'far'"),
        ("    far: 60 m\n", "    far: 50 m\n", "is not nearer than the current pin"),
        ("    goal: 0.5 ohm\n", "", "needs 'goal'"),
        ("readings: [{resistance: 24.6 ohm}]", "readings: []", "has 0 readings"),
        (
            "readings: [{resistance: 24.6 ohm}]",
            "readings: [{resistance: 24.6 ohm}, {resistance: 12 ohm}]",
            "has 2 readings",
        ),
        ("readings: [{resistance: 24.6 ohm}]", "readings: [{distance: 3 m}]", "'resistance'"),
        ("    leads: 0.05 ohm\n", "    far: 5 m\n", "does not belong to 'continuity'"),
        ("factor: 2, down", "factor: 0, down", "must be more than 0"),
        ("kind: clamp\n", "kind: loop impedance\n    cold part: 120 %\n", "more than the whole"),
        ("kind: clamp\n    of: [rods]\n    goal: 25 ohm\n", "kind: soil box\n", "needs 'section'"),
        ("kind: clamp\n    of: [rods]\n    goal: 25 ohm\n", "kind: TT electrode\n", "'residual'"),
        ("kind: clamp\n", "kind: clamp\n    tester: no trip\n", "belongs to 'loop impedance'"),
        ("kind: rod, position: [6 m, -5 m]", "kind: strip, along: [[0 m, 0 m]]", "1 of at least 2"),
        (
            "kind: rod, position: [6 m, -5 m]",
            "kind: strip, along: [[0 m, 0 m], [1 m, 0 m]], width: 1 in, wire: 2 AWG Cu",
            "is given beside 'width'",
        ),
        ("kind: rod, position: [6 m, -5 m]", "kind: grid, across: 3 m", "does not belong"),
        (
            "kind: rod, position: [6 m, -5 m]",
            "kind: grid, meshes: [0, 2]",
            "must be 1 or more; write it like '2'",
        ),
        (
            "  bond of the light:\n    kind: continuity\n",
            "  pins: {kind: survey, readings: [{spacing: 1 m, resistance: 3 ohm},"
            " {spacing: 2 m, resistance: 2 ohm, resistivity: 9 ohm m},"
            " {spacing: 3 m, resistivity: 8 ohm m}]}\n"
            "  bond of the light:\n    kind: continuity\n",
            "needs one of 'resistance' and 'resistivity'",
        ),
    ],
)
def test_what_cannot_stand_is_named(old: str, new: str, problem: str) -> None:
    assert old in TEXT
    with pytest.raises(SiteError) as caught:
        read(TEXT.replace(old, new, 1))
    assert problem in str(caught.value)


def test_over_range_needs_no_reading() -> None:
    site = read(TEXT.replace("readings: [{resistance: 24.6 ohm}]", "over range: true"))
    assert site.earth_tests["clamp on the rods"].over_range


NEW = """\
  mat:
    kind: grid
    at: barn panel
    position: [20 m, 10 m]
    length: 9 m
    width: 6 m
    meshes: [3, 2]
    wire: 2/0 AWG Cu
    conductor: 4 AWG Cu
  cap:
    kind: pile cap
    at: barn panel
    count: 3
    along: [[0 m, 15 m], [2 m, 15 m], [1 m, 17 m]]
    conductor: 4 AWG Cu
  strip: {kind: strip, at: barn panel, along: [[30 m, 4 m], [42 m, 4 m]], width: 30 mm}
  bore: {kind: well, at: barn panel, position: [45 m, 12 m], length: 30 m}
"""
TESTS = """\
  sample: {kind: soil box, section: 40 cm2, apart: 10 cm, readings: [{resistance: 250 ohm}]}
  socket:
    kind: loop impedance
    goal: 1.37 ohm
    tester: no trip
    cold part: 80 %
    readings: [{resistance: 0.9 ohm}]
  tt: {kind: TT electrode, of: [rods], residual: 30 mA, readings: [{resistance: 120 ohm}]}
"""


def test_every_kind_of_electrode_and_test_goes_round() -> None:
    text = TEXT.replace("neighbours:\n", f"{NEW}neighbours:\n") + TESTS
    site = read(text)
    assert site.electrodes["mat"].meshes == [3, 2]
    assert site.earth_tests["sample"].section == pytest.approx(0.004)
    assert read(dump(site)) == site
