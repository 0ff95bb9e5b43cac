"""Field tests of a site, judged, beside what the plan makes of the same electrodes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bondwright.catalog.earth_data import instrument
from bondwright.earth.clamp import judge_clamp
from bondwright.earth.fall import FallTest, judge_fall
from bondwright.earth.fit import SoilFit, fit_soil
from bondwright.earth.judged import Judged
from bondwright.earth.readings import (
    Asked,
    BondReading,
    LoopTester,
    judge_bond,
    judge_loop,
    judge_soil_box,
    judge_tt,
    judge_two_point,
)
from bondwright.earth.sounding import Sounding
from bondwright.plan.model import Plan
from bondwright.rules.families import unit_system
from bondwright.site.earth_tests import sounding_of
from bondwright.site.ground import OF_ELECTRODES, EarthTest, EarthTestKind, TesterUsed
from bondwright.studies.ground_parts import joined_resistance
from bondwright.units import units


@dataclass(frozen=True, slots=True)
class JudgedTest:
    """A field test with what it says.

    Attributes:
        id: of the test.
        test: as it was described.
        judged: its result; None for a survey.
        fit: the layers that a survey finds; None for any other.
        sounding: the survey that was fitted.
        calculated: what the plan's ground makes of the electrodes tested, ohm; None where it
            isn't about electrodes.
    """

    id: str
    test: EarthTest
    judged: Judged | None
    fit: SoilFit | None
    sounding: Sounding | None
    calculated: float | None

    @property
    def measured(self) -> float | None:
        """Resistance that was measured, ohm; None where the test gives none."""
        if self.judged is None or self.test.kind is EarthTestKind.SOIL_BOX:
            return None
        return self.judged.value_ohm


def judge_tests(plan: Plan) -> tuple[JudgedTest, ...]:
    """Judge every field test of a site, in the order of the file.

    Args:
        plan: the plan; its ground gives what is calculated for the same electrodes.
    """
    with units(unit_system(plan.site.rules)):
        return tuple(judge_test(plan, name, test) for name, test in plan.site.earth_tests.items())


def judge_test(plan: Plan, name: str, test: EarthTest) -> JudgedTest:
    """Judge one field test.

    Args:
        plan: as for :func:`judge_tests`.
        name: id of the test.
        test: a test that passed :mod:`bondwright.site.ground_checks`.

    Raises:
        ValueError: readings that no instrument shows, or leads that are more than the reading.
    """
    if test.kind is EarthTestKind.SURVEY:
        sounding = sounding_of(test)
        return JudgedTest(name, test, None, fit_soil(sounding), sounding, None)
    about = test.of and test.kind in OF_ELECTRODES
    calculated = joined_resistance(plan.ground, test.of, computed=True) if about else None
    return JudgedTest(name, test, _of(test), None, None, calculated)


def _of(test: EarthTest) -> Judged:
    shown = [r.resistance for r in test.readings if r.resistance is not None]
    leads = test.leads or 0.0
    match test.kind:
        case EarthTestKind.FALL:
            distance = tuple(r.distance for r in test.readings if r.distance is not None)
            fall = FallTest(distance, tuple(shown), test.far or 0.0, test.widest)
            return judge_fall(fall, test.goal).judged
        case EarthTestKind.CLAMP:
            reading = math.inf if test.over_range else shown[0]
            return judge_clamp(reading, test.goal)
        case EarthTestKind.TWO_POINT:
            asked = Asked(test.asked.value if test.asked is not None else "joined")
            return judge_two_point(
                shown[0], asked, reference_ohm=test.others, leads_ohm=leads, goal_ohm=test.goal
            )
        case EarthTestKind.SOIL_BOX:
            return judge_soil_box(shown, test.section or 0.0, test.apart or 0.0)
        case EarthTestKind.LOOP:
            quiet = test.tester is TesterUsed.NO_TRIP
            tester = LoopTester.NO_TRIP if quiet else LoopTester.HIGH_CURRENT
            part = 0.8 if test.cold_part is None else test.cold_part
            return judge_loop(shown[0], test.goal or 0.0, tester, part)
        case EarthTestKind.TT:
            give = instrument("fall of potential").of(shown[0])
            return judge_tt(shown[0], test.residual or 0.0, give)
        case _:
            metal = 20.0 if test.metal is None else test.metal
            bond = BondReading(tuple(shown), leads, metal)
            return judge_bond(bond, math.inf if test.goal is None else test.goal)
