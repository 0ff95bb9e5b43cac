"""Voltages put together to points: against plane geometry, and against the readings of a case."""

from __future__ import annotations

import cmath
import math
import random

import pytest

from bondwright.draw.phasors import phasor_picture
from bondwright.explain.phasors import tell_plane
from bondwright.studies.hunt.consistency import Sort
from bondwright.studies.hunt.phasors import (
    Distance,
    PhasorPlane,
    _fixed,
    _shift,
    _with_lines,
    phasor_planes,
    placed,
)
from tests.cases.test_hunt_cases import T07, ask, described, volts

LINES = [f"board:L{k}" for k in (1, 2, 3)]


def star(size: float, turn: float = 0.0) -> dict[str, complex]:
    """A three-phase system round its neutral, with the ground on it."""
    made = {n: cmath.rect(size, math.radians(turn - 120 * k)) for k, n in enumerate(LINES)}
    return {**made, "board:N": 0j, "board:G": 0j}


def between(points: dict[str, complex], *pairs: tuple[str, str]) -> list[Distance]:
    """What a sound meter reads between terminals that lie at points."""
    return [
        Distance(k, f"board:{a}", f"board:{b}", abs(points[f"board:{a}"] - points[f"board:{b}"]), 1)
        for k, (a, b) in enumerate(pairs, 1)
    ]


NINE = [("L1", "L2"), ("L2", "L3"), ("L3", "L1"), ("L1", "N"), ("L2", "N"), ("L3", "N"),
        ("L1", "G"), ("L2", "G"), ("L3", "G")]  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_points_anywhere_are_found_again(seed: int) -> None:
    """Nine distances between five points fix them (elementary geometry)."""
    dice = random.Random(seed)
    described_ = star(120, dice.uniform(0, 360))
    there = {**described_}
    for node in ("board:N", "board:G"):
        there[node] = cmath.rect(dice.uniform(0, 200), dice.uniform(0, 2 * math.pi))
    found = placed(between(there, *NINE), described_, LINES)
    assert found.keys() == there.keys()
    for node, point in there.items():
        assert abs(found[node] - point) < 0.05, node


def test_a_mirror_image_is_not_taken_for_the_thing() -> None:
    """The lines' order decides on which side the ground lies: ahead of L1, not behind."""
    described_ = star(120, 30)
    there = {**described_, "board:G": cmath.rect(80, math.radians(120))}
    found = placed(between(there, *NINE), described_, LINES)
    assert abs(found["board:G"] - there["board:G"]) < 0.05


def test_one_line_that_lost_voltage_does_not_draw_the_rest_along() -> None:
    """120 and 95 V with 215 V between: neutral and L1 stay where they are, L2 moves by 25 V."""
    described_ = {"board:L1": 120 + 0j, "board:L2": -120 + 0j, "board:N": 0j}
    there = {**described_, "board:L2": -95 + 0j}
    rows = between(there, ("L1", "N"), ("L2", "N"), ("L1", "L2"))
    found = placed(rows, described_, LINES[:2])
    assert found["board:L2"].real == pytest.approx(-95, abs=0.05)
    assert abs(found["board:N"]) < 0.05
    assert found["board:L1"].real == pytest.approx(120, abs=0.05)


def test_two_points_beside_two_lines_are_not_both_placed() -> None:
    """Neutral and ground off the straight line, on the same side or not: only one is placed,
    unless the voltage between them was read."""
    described_ = {"board:L1": 120 + 0j, "board:L2": -120 + 0j, "board:N": 0j, "board:G": 0j}
    there = {**described_, "board:N": 10 + 40j, "board:G": -20 - 50j}
    rows = [("L1", "L2"), ("L1", "N"), ("L2", "N"), ("L1", "G"), ("L2", "G")]
    found = placed(between(there, *rows), described_, LINES[:2])
    assert len(found) == 3
    more = placed(between(there, *rows, ("N", "G")), described_, LINES[:2])
    assert abs(more["board:N"] - more["board:G"]) == pytest.approx(abs(30 + 90j), abs=0.1)


def nine_volts() -> tuple[PhasorPlane, ...]:
    """T03: nine voltages at a transformer without a system bonding jumper, phase B on metal."""
    site = described("T03-sbj-missing-Bphase-fault-with-sbj")
    rows = volts("tenant panel", ("L1-N", 120), ("L2-N", 120), ("L3-N", 120), ("L1-G", 208),
                 ("L2-G", 0), ("L3-G", 208))  # fmt: skip
    rows += volts("switchboard", ("L1-G", 277), ("L2-G", 277), ("L3-G", 277))
    return phasor_planes(ask(site, rows))


def test_the_ground_lies_on_the_faulted_phase() -> None:
    """T03: 208/0/208 V to ground beside 120 V to neutral: phase B on metal (stated by the source).

    120 V x sqrt 3 = 208 V from there to the other two (elementary geometry).
    """
    panel, board = nine_volts()
    ground, second = panel.points["tenant panel:G"], panel.points["tenant panel:L2"]
    assert abs(ground - second) < 1
    assert abs(ground - panel.points["tenant panel:N"]) == pytest.approx(120, abs=1)
    assert panel.closes
    assert not panel.loose
    assert tell_plane(panel) == (
        "At tenant panel: G lies 120 V from where it is described, on L2.",
    )
    assert tell_plane(board) == (
        "At switchboard every terminal that was read lies where it is described.",
    )


def test_the_likeliest_cause_puts_it_there_too() -> None:
    panel, _ = nine_volts()
    for node, point in panel.points.items():
        assert abs(panel.expected[node] - point) < 5, node


def test_the_picture_shows_all_three() -> None:
    drawn = phasor_picture(nine_volts())
    assert drawn.alt.startswith("At tenant panel: G lies 120 V")
    assert ">L2, G</text>" in drawn.svg
    for words in ("as read", "as described", "as the likeliest cause has it"):
        assert f">{words}</text>" in drawn.svg
    # Full points: L1, L3, N and one for L2 with G; and one in the legend.
    assert drawn.svg.count('r="4"') == 4 + 4 + 1


def test_what_does_not_close_is_not_placed() -> None:
    """T07, 360/270/280 V at 486 V: circles, and no point for the ground."""
    site = described("T07-ungrounded-delta-486")
    rows = T07 + volts("tenant panel", ("L1-G", 360), ("L2-G", 270), ("L3-G", 280))
    ranking = ask(site, rows)
    assert any(item.sort is Sort.CLOSURE for item in ranking.contradictions)
    (plane,) = phasor_planes(ranking)
    assert not plane.closes
    assert plane.points.keys() == {f"tenant panel:L{k}" for k in (1, 2, 3)}
    assert plane.loose == ("tenant panel:G",)
    (told,) = tell_plane(plane)
    assert "No terminal is placed" in told
    drawn = phasor_picture([plane])
    assert "where a terminal could lie by one reading" in drawn.svg
    assert drawn.svg.count("stroke-dasharray") == 3 + 1


def test_a_lost_neutral_moves_the_neutral() -> None:
    """150 and 90 V that sum to 240: the neutral lies 30 V aside, the lines stay."""
    ranking = ask(
        described("T11-al-splice-120-95"),
        volts("garage", ("L1-N", 150), ("L2-N", 90), ("L1-L2", 240)),
    )
    (plane,) = phasor_planes(ranking)
    assert abs(plane.points["garage:N"]) == pytest.approx(30, abs=1)
    for line in ("L1", "L2"):
        assert abs(plane.points[f"garage:{line}"] - plane.described[f"garage:{line}"]) < 2


def test_two_voltages_make_no_picture() -> None:
    rows = volts("garage", ("L1-N", 120), ("L2-N", 95))
    assert phasor_planes(ask(described("T11-al-splice-120-95"), rows)) == ()
    with pytest.raises(ValueError, match="nothing to draw"):
        phasor_picture([])


SPLIT = {"board:L1": 120 + 0j, "board:L2": -120 + 0j, "board:N": 0j, "board:G": 0j}


def test_a_voltage_between_lines_that_was_not_read_is_the_described_one() -> None:
    """130 and 110 V to a neutral between lines 240 V apart: all on one straight line."""
    there = {**SPLIT, "board:N": -10 + 0j}
    found = placed(between(there, ("L1", "N"), ("L2", "N")), SPLIT, LINES[:2])
    assert abs(found["board:L1"] - found["board:L2"]) == pytest.approx(240, abs=0.1)
    assert abs(found["board:L1"] - found["board:N"]) == pytest.approx(130, abs=0.1)
    assert abs(found["board:L2"] - found["board:N"]) == pytest.approx(110, abs=0.1)


def test_what_was_read_between_lines_counts_before_the_description() -> None:
    """200 V between them and not 240, and the neutral half way: each line is 100 V from it."""
    there = {**SPLIT, "board:L1": 100 + 0j, "board:L2": -100 + 0j}
    found = placed(between(there, ("L1", "N"), ("L2", "N"), ("L1", "L2")), SPLIT, LINES[:2])
    assert abs(found["board:L1"] - found["board:L2"]) == pytest.approx(200, abs=0.01)
    given = _with_lines(between(there, ("L1", "N"), ("L2", "N"), ("L1", "L2")), SPLIT, LINES[:2])
    assert len(given) == 3
    more = _with_lines(between(there, ("L1", "N"), ("L2", "N")), SPLIT, LINES[:2])
    assert more[2] == Distance(0, "board:L1", "board:L2", 240.0, 12.0)
    # a line that nothing was read at, and one that isn't described, add nothing
    assert len(_with_lines(between(there, ("L1", "N")), SPLIT, LINES[:2])) == 1
    known = {"board:L1": 120 + 0j}
    assert len(_with_lines(between(there, ("L1", "N"), ("L2", "N")), known, LINES[:2])) == 2
    same = {**SPLIT, "board:L2": 120 + 0j}
    assert len(_with_lines(between(there, ("L1", "N"), ("L2", "N")), same, LINES[:2])) == 2


def test_one_line_alone_places_nothing() -> None:
    there = {**SPLIT, "board:N": -10 + 0j}
    assert placed(between(there, ("L1", "N"), ("L1", "G")), SPLIT, LINES[:2]) == {}
    assert placed(between(there, ("N", "G")), SPLIT, LINES[:2]) == {}


def test_a_point_is_placed_by_two_distances_beside_two_lines_and_three_beside_three() -> None:
    """Two circles meet in two points, mirror images; a third distance says which."""
    there = {**star(120), "board:G": 30 + 70j}
    two = [*NINE[:6], ("L1", "G"), ("L2", "G")]
    assert "board:G" not in placed(between(there, *two), star(120), LINES)
    assert "board:G" in placed(between(there, *two, ("N", "G")), star(120), LINES)
    beside = {**SPLIT, "board:G": 30 + 70j}
    rows = [("L1", "L2"), ("L1", "N"), ("L2", "N"), ("L1", "G")]
    assert "board:G" not in placed(between(beside, *rows), SPLIT, LINES[:2])
    found = placed(between(beside, *rows, ("L2", "G")), SPLIT, LINES[:2])
    assert abs(found["board:G"].imag) == pytest.approx(70, abs=0.1)
    assert found["board:G"].real == pytest.approx(30, abs=0.1)


@pytest.mark.parametrize(
    ("volts_", "sigma", "there"),
    [(2.4, 0.1, True), (2.6, 0.1, False), (5.9, 2.0, True), (6.1, 2.0, False)],
)
def test_one_short_distance_is_enough(volts_: float, sigma: float, *, there: bool) -> None:
    """Within 2 % of the largest voltage (120 V), or three uncertainties, the side is no matter."""
    rows = between(SPLIT, ("L1", "N"), ("L2", "N"))
    rows.append(Distance(3, "board:N", "board:G", volts_, sigma))
    given = _with_lines(rows, SPLIT, [])
    assert max(d.volts for d in given) == 120
    assert ("board:G" in _fixed(given, LINES[:2])) is there


def test_points_are_moved_as_most_of_lines_and_neutral_ask() -> None:
    """L1 and L2 lie 1 V off, the neutral 7 V; the ground isn't asked."""
    described_ = {"b:L1": 121 + 0j, "b:L2": -119 + 0j, "b:N": 7 + 0j, "b:G": 50 + 0j}
    points = {"b:L1": 120 + 0j, "b:L2": -120 + 0j, "b:N": 0j, "b:G": 0j, "earth": 0j}
    assert _shift(points, {**described_, "earth": 9j}) == 1
    assert _shift({"b:G": 3 + 0j, "earth": 0j}, {**described_, "earth": 9j}) == 0
    assert _shift({"b:N": 3 + 0j}, described_) == 4


def test_what_is_left_over_is_told_of_the_reading_that_fits_worst() -> None:
    """T03: what was read closes within a volt; T07's 360/270/280 V miss a triangle of 486 V."""
    for plane in nine_volts():
        assert 0 <= plane.left_over < 1
        assert plane.state == ""
        assert [d.reading for d in plane.distances] == sorted(d.reading for d in plane.distances)
    rows = T07 + volts("tenant panel", ("L1-G", 360), ("L2-G", 270), ("L3-G", 280))
    (plane,) = phasor_planes(ask(described("T07-ungrounded-delta-486"), rows))
    # The middle is 281 V from every corner; 50 V away from L1 it is 331, 259 and 259 V, which
    # leaves 29, 11 and 21 V, and the best point evens that out a little.
    assert 20 < plane.left_over < 29
