"""Voltages put together to points: against plane geometry, and against the readings of a case."""

from __future__ import annotations

import cmath
import math
import random

import pytest

from bondwright.draw.phasors import phasor_picture
from bondwright.explain.phasors import tell_plane
from bondwright.studies.hunt.consistency import Sort
from bondwright.studies.hunt.phasors import Distance, PhasorPlane, phasor_planes, placed
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
