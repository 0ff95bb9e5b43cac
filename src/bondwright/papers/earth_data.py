"""The electrode sheet and the earth test sheets as CSV tables and as plain data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, cast

import numpy as np

from bondwright.explain.earth_tests import compared, tell_test
from bondwright.explain.ground import method_words
from bondwright.papers.earth import measured_of
from bondwright.site.ground import EarthReading
from bondwright.studies.ground_model import GroundFault, GroundMap, GroundStudy, TouchAt
from bondwright.studies.ground_parts import ElectrodeRow

if TYPE_CHECKING:
    from bondwright.studies.earth_tests import JudgedTest

_GRID_STEP: Final = 4


def electrode_table(
    study: GroundStudy, tests: Sequence[JudgedTest]
) -> tuple[list[str], list[list[str | float | None]]]:
    """Return the electrode sheet as a heading and rows of a table."""
    head = ["electrode", "kind", "joined to", "calculated (ohm)", "given (ohm)", "measured (ohm)"]
    head += ["measured by", "counts (ohm)", "least (ohm)", "most (ohm)", "share"]
    head += ["method"]
    rows: list[list[str | float | None]] = []
    for row in study.rows:
        test = measured_of(row.id, tests)
        rows.append(
            [
                row.id,
                row.kind.value,
                row.at or ("a neighbour's" if row.neighbour else "not joined"),
                row.computed,
                row.given,
                None if test is None else test.measured,
                "" if test is None else test.id,
                row.own,
                row.least,
                row.most,
                row.share,
                method_words(row),
            ]
        )
    return head, rows


def test_table(
    tests: Sequence[JudgedTest],
) -> tuple[list[str], list[list[str | float | None]]]:
    """Return every reading of every field test, with the result beside it."""
    head = ["test", "kind", "of", "where", "date", "instrument", "reading", "distance (m)"]
    head += ["spacing (m)", "resistance (ohm)", "resistivity (ohm m)", "result (ohm)"]
    head += ["uncertainty (ohm)", "goal (ohm)", "calculated (ohm)", "verdict"]
    rows: list[list[str | float | None]] = []
    for one in tests:
        test = one.test
        readings = test.readings or [EarthReading()]
        for number, r in enumerate(readings, start=1):
            rows.append(
                [
                    one.id,
                    test.kind.value,
                    "; ".join(test.of),
                    test.where,
                    test.date,
                    test.instrument,
                    float(number),
                    r.distance,
                    r.spacing,
                    r.resistance,
                    r.resistivity,
                    one.measured,
                    None if one.judged is None else one.judged.uncertainty_ohm,
                    test.goal,
                    one.calculated,
                    tell_test(one).verdict.value,
                ]
            )
    return head, rows


def finite(value: float | None) -> float | None:
    """Return a number that JSON can hold, or None."""
    return None if value is None or not math.isfinite(value) else float(value)


def ground_data(study: GroundStudy, tests: Sequence[JudgedTest]) -> dict[str, Any]:
    """Return the sheets as plain data, SI units in the names."""
    ground = study.ground
    return {
        "soil": {
            "resistivity_ohm_m": list(ground.soil.rho_ohm_m),
            "thickness_m": list(ground.soil.thickness_m),
        },
        "resistance_ohm": finite(study.resistance_ohm),
        "undisturbed_ohm": finite(study.apart_ohm),
        "electrodes": [_row_data(row, tests) for row in study.rows],
        "matrix": {
            "names": list(ground.names),
            "resistance_ohm": [list(row) for row in ground.resistance],
        },
        "brings": [
            {
                "what": one.what,
                "count": one.count,
                "before_ohm": one.before,
                "after_ohm": one.after,
                "undisturbed_ohm": one.ideal,
            }
            for one in study.brings
        ],
        "seasons": [
            {
                "name": name,
                "soil": {
                    "resistivity_ohm_m": list(there.soil.rho_ohm_m),
                    "thickness_m": list(there.soil.thickness_m),
                },
                "resistance_ohm": [list(row) for row in there.resistance],
            }
            for name, there in ground.seasons.items()
        ],
        "faults": [_fault_data(one) for one in study.faults],
        "tests": [_test_data(one) for one in tests],
    }


def _row_data(row: ElectrodeRow, tests: Sequence[JudgedTest]) -> dict[str, Any]:
    test = measured_of(row.id, tests)
    return {
        "id": row.id,
        "kind": row.kind.value,
        "at": row.at or None,
        "resistance_ohm": row.own,
        "calculated_ohm": row.computed,
        "given_ohm": row.given,
        "measured_ohm": None if test is None else finite(test.measured),
        "measured_by": None if test is None else test.id,
        "least_ohm": row.least,
        "most_ohm": row.most,
        "joined": row.joined,
        "neighbour": row.neighbour,
        "placed": row.shape is not None,
        "share": row.share,
        "lifted": row.lifted,
        "method": method_words(row),
    }


def _touch_data(one: TouchAt) -> dict[str, Any]:
    return {
        "what": one.what,
        "at_m": [one.x_m, one.y_m],
        "metal_v": one.metal_v,
        "ground_v": one.ground_v,
        "touch_v": one.touch_v,
        "limit_v": one.limit_v,
        "verdict": one.verdict.value,
    }


def _fault_data(one: GroundFault) -> dict[str, Any]:
    return {
        "fault": str(one.fault),
        "place": one.fault.place,
        "clearing_s": finite(one.clearing_s),
        "clearing_never": math.isinf(one.clearing_s),
        "fault_a": one.fault_a,
        "earth_a": one.total_a,
        "electrode_a": dict(one.currents_a),
        "rise_v": dict(one.rise_v),
        "touch": [_touch_data(t) for t in one.touch],
        "transferred": [_touch_data(t) for t in one.transfer],
        "seasons": [
            {
                "name": s.season,
                "earth_a": s.total_a,
                "rise_v": s.rise_v,
                "resistance_ohm": finite(s.resistance_ohm),
            }
            for s in one.seasons
        ],
        "surface": None if one.drawn is None else _map_data(one.drawn, one.stepped or one.drawn),
    }


def _map_data(drawn: GroundMap, stepped: GroundMap) -> dict[str, Any]:
    k = slice(None, None, _GRID_STEP)
    return {
        "metal": drawn.metal,
        "metal_v": drawn.metal_v,
        "x_m": drawn.x_m[k].tolist(),
        "y_m": drawn.y_m[k].tolist(),
        "ground_v": _rounded(drawn.ground_v[k, k]),
        "touch_v": _rounded(drawn.touch_v[k, k]),
        "step_v": _rounded(drawn.step_v[k, k]),
        "step_worst_v": stepped.step_worst_v,
        "step_at_m": list(stepped.step_at_m),
        "step_limit_v": finite(stepped.step_limit_v),
        "step_verdict": stepped.step_verdict.value,
    }


def _rounded(values: Any) -> list[list[float]]:
    return cast(list[list[float]], np.round(np.nan_to_num(values), 3).tolist())


def _test_data(one: JudgedTest) -> dict[str, Any]:
    told, test = tell_test(one), one.test
    fit = None
    if one.fit is not None:
        fit = {
            "resistivity_ohm_m": list(one.fit.soil.rho_ohm_m),
            "thickness_m": list(one.fit.soil.thickness_m),
            "rms": one.fit.rms,
        }
    return {
        "id": one.id,
        "kind": test.kind.value,
        "of": list(test.of),
        "where": test.where,
        "date": test.date,
        "instrument": test.instrument,
        "readings": [
            {
                "distance_m": r.distance,
                "spacing_m": r.spacing,
                "inner_m": r.inner,
                "resistance_ohm": r.resistance,
                "resistivity_ohm_m": r.resistivity,
            }
            for r in test.readings
        ],
        "over_range": test.over_range,
        "goal_ohm": finite(test.goal),
        "measured_ohm": finite(one.measured),
        "uncertainty_ohm": None if one.judged is None else finite(one.judged.uncertainty_ohm),
        "calculated_ohm": finite(one.calculated),
        "soil": fit,
        "verdict": told.verdict.value,
        "words": list(told.sentences),
        "compared": compared(one),
        "note": test.note,
    }
