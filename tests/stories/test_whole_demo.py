"""The whole demo farm: every finding of it read, and its faults held against hand calculations.

Available fault current by the usual hand method of the handbooks: full-load current over the
impedance of the transformer, with what lies ahead of it added by the squares of the voltages.
The sums below leave out what is small (cables' own reactance among others), so a few percent are
allowed.
"""

from __future__ import annotations

import cmath
import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bondwright.cli.main import main
from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.site.reader import load
from bondwright.studies.faults import Fault, FaultKind, study_fault

FARM = Path(__file__).parents[2] / "examples" / "harrow-creek.yaml"


@cache
def _network() -> Network:
    return build(plan(load(FARM)), loads=False)


def _amps(place: str, kind: FaultKind, a: str, b: str) -> float:
    return study_fault(_network(), Fault(place, kind, a, b)).current


def _ohms(volts: float, va: float, part: float, x_r: float) -> complex:
    """Impedance of a transformer from its nameplate, by one line, ohm."""
    return cmath.rect(volts**2 / va * part, math.atan(x_r))


PAD = _ohms(480, 300e3, 0.045, 3)
# 60 ft of 600 kcmil copper in plastic conduit: NEC chapter 9 table 9, 0.023 + j0.039 ohm/kft.
LATERAL = 0.060 * (0.023 + 0.039j)


def test_nothing_falls_short_and_three_notes_stay() -> None:
    ran = CliRunner().invoke(main, ["check", str(FARM), "--json"])
    assert ran.exit_code == 0, ran.output
    found: dict[str, Any] = json.loads(ran.output)
    assert found["summary"]["counts"] == {
        "dangers": 0,
        "falling short": 0,
        "cannot tell": 0,
        "notes": 3,
    }
    assert [(one["rule"], one["where"]) for one in found["findings"]] == [
        ("pv-electrode", "hall roof array"),
        ("fault-ahead-of-devices", "farm meter"),
        ("array-live-in-daylight", "hall roof array"),
    ]
    assert "46 cleared in time" in " ".join(found["summary"]["sentences"])


def test_fault_current_at_the_hall_switchboard_by_hand() -> None:
    by_hand = 480 / math.sqrt(3) / abs(PAD + LATERAL)
    two_lines = _amps("hall switchboard", FaultKind.LINE_TO_LINE, "L1", "L2")
    assert two_lines == pytest.approx(by_hand * math.sqrt(3) / 2, rel=0.02)


@pytest.mark.parametrize(
    ("place", "va", "x_r", "feeder"),
    [
        # 15 ft of 1 AWG and 260 ft of 2 AWG copper: NEC chapter 9 table 9, steel 0.16 + j0.057,
        # plastic 0.19 + j0.045 ohm/kft.
        ("hall transformer", 75e3, 2.0, 0.015 * (0.16 + 0.057j)),
        ("barn transformer", 45e3, 1.7, 0.260 * (0.19 + 0.045j)),
    ],
)
def test_fault_current_behind_a_dry_transformer_by_hand(
    place: str, va: float, x_r: float, feeder: complex
) -> None:
    """Line to line at 208 V; what lies ahead of a delta-wye counts twice by (208/480)^2."""
    ahead = (PAD + LATERAL + feeder) * (208 / 480) ** 2
    own = _ohms(208, va, 0.04, x_r)
    by_hand = 208 / (2 * abs(ahead + own))
    assert _amps(place, FaultKind.LINE_TO_LINE, "L1", "L2") == pytest.approx(by_hand, rel=0.03)


def test_fault_current_at_the_farm_meter_by_hand() -> None:
    """25 kVA of 2.1 %; 90 ft of 4/0 aluminium, 0.100 ohm/kft (NEC chapter 9 table 8).

    The conductors of a service drop are twisted together: about 0.03 ohm/kft of reactance each
    (common practice).
    """
    own = _ohms(240, 25e3, 0.021, 1.3)
    drop = 2 * 0.090 * (0.100 + 0.03j)
    by_hand = 240 / abs(own + drop)
    assert _amps("farm meter", FaultKind.LINE_TO_LINE, "L1", "L2") == pytest.approx(
        by_hand, rel=0.04
    )


def test_transformers_are_parted_in_time_on_a_fault_at_their_own_terminals() -> None:
    """The only device ahead is the primary's; its short-time setting rides through inrush."""
    for place in ("hall transformer", "barn transformer"):
        result = study_fault(_network(), Fault(place, FaultKind.LINE_TO_METAL, "L1", "G"))
        assert result.cleared
        assert result.clearing < 0.5
        assert result.openings[0].at == "hall switchboard"
