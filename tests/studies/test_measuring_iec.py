"""What a loop tester may read by IEC 60364. Limits as in test_disconnection."""

from __future__ import annotations

import pytest

from bondwright.network.build import build
from bondwright.studies.bare import faults_to_metal
from bondwright.studies.measuring import Measured, measuring_points
from bondwright.studies.measuring_iec import loop_reading_limit
from bondwright.studies.stray import study_stray
from tests.iec_sites import COOPERAGE, COTTAGE, FLAT, HALL, plan_of


def _limits(name: str, **changes: object) -> dict[str, float | None]:
    made = plan_of(name, **changes)
    faults = faults_to_metal(build(made, loads=False))
    points = measuring_points(made, faults, study_stray(build(made)))
    return {p.place: p.limit for p in points if p.what is Measured.LOOP}


@pytest.mark.parametrize(
    ("name", "place", "ohm"),
    [
        (COTTAGE, "sockets", 1667),  # 50 V / 30 mA
        (COTTAGE, "consumer unit", 500),  # 50 V / 100 mA
        (FLAT, "cooker", 1.44),  # B32
        (FLAT, "consumer unit", 0.541),  # 80 A gG within 5 s: 425 A
        (COOPERAGE, "saw bench", 1.15),  # C20
    ],
)
def test_limits(name: str, place: str, ohm: float) -> None:
    assert _limits(name)[place] == pytest.approx(ohm, rel=2e-3)


def test_an_it_system_has_no_loop_to_read() -> None:
    assert _limits(HALL) == {}


def test_no_limit_where_nothing_opens_for_it() -> None:
    changes = {"places__consumer unit__main": ..., "runs__cooker circuit__device": "B32"}
    assert _limits(COTTAGE, **changes)["cooker"] is None


def test_a_residual_device_further_ahead_counts_where_the_nearest_device_has_none() -> None:
    """50 V over the 100 mA of the device at the origin, the cooker's own being a plain B32."""
    made = plan_of(COTTAGE, **{"runs__cooker circuit__device": "B32"})
    ohm, said = loop_reading_limit(made, "cooker")
    assert ohm == pytest.approx(500)
    assert said.endswith("50 V / 100 mA")


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("cooker", "opens for sure within 0.4 s at 160 A"),  # B32: 5 x 32 A; a final circuit
        ("consumer unit", "opens for sure within 5 s at 425 A"),  # 80 A gG; it feeds others
    ],
)
def test_the_limit_is_told_with_its_time(place: str, words: str) -> None:
    """Table 41.1: 0.4 s for final circuits up to 32 A at 230 V in TN, else 5 s (from memory)."""
    assert words in loop_reading_limit(plan_of(FLAT), place)[1]
