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
