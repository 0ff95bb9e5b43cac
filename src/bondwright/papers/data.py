"""The results as data: documented, versioned JSON.

Its form: ``{"format": "bondwright/results", "version": 1, ...}``, described by
``results.schema.json`` beside this module. SI units, named in each key's ending
(``_a``, ``_v``, ``_s``, ``_ohm``, ``_degc``, ``_m``). A phasor is ``{"amps": , "angle_deg": }``.
There is no NaN and no infinity: a time that never comes is null, and its companion ``..._never``
is true.
"""

from __future__ import annotations

import io
import json
import math
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Final

from bondwright import __version__
from bondwright.explain.cautions import CAUTIONS
from bondwright.explain.dialect import report
from bondwright.explain.faults import tell_fault
from bondwright.explain.loops import tell_cures, tell_loop, tell_net
from bondwright.explain.schedule import schedule_rows
from bondwright.explain.stray import tell_current, tell_stray
from bondwright.explain.summary import Summary
from bondwright.explain.whatif import tell_added, tell_removed
from bondwright.network.solve import Residuals
from bondwright.papers.arrays import arrays_data
from bondwright.papers.earth_data import ground_data
from bondwright.papers.results import Results, StateResult
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding
from bondwright.studies.availability import AvailableAt
from bondwright.studies.disconnection import Disconnection
from bondwright.studies.faults import FaultResult, TouchPair
from bondwright.studies.flows import Flow
from bondwright.studies.loops import Loop, LoopStudy
from bondwright.studies.protection import Duty, Series
from bondwright.studies.stray import StrayCurrent, StrayStudy
from bondwright.studies.supplies import Supply

FORMAT: Final = "bondwright/results"
VERSION: Final = 1


@cache
def schema() -> dict[str, Any]:
    """Return the JSON Schema of :func:`results_data`."""
    text = files("bondwright.papers").joinpath("results.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def results_json(results: Results) -> str:
    """Write :func:`results_data` as JSON text, the same for the same results."""
    out = io.StringIO()  # json.dumps keeps millions of pieces of a large site until it joins them
    json.dump(results_data(results), out, ensure_ascii=False, indent=1, allow_nan=False)
    out.write("\n")
    return out.getvalue()


def results_data(results: Results) -> dict[str, Any]:
    """Return everything as plain data (see the module docstring)."""
    plan = results.plan
    data = {
        "format": FORMAT,
        "version": VERSION,
        "tool": __version__,
        "site": plan.site.site,
        "rules": plan.site.rules,
        "describes": str(plan.site.describes),
        "frequency_hz": plan.frequency,
        "soil_ohm_m": plan.soil,
        "conductor_temperature_degc": plan.temperature,
        "summary": summary_data(results.summary),
        "findings": findings_data(results.findings),
        "schedule": schedule_data(plan),
        "faults": [fault_data(f, plan) for f in results.faults],
        "array_faults": arrays_data(results.arrays),
        "states": [_state(state, plan) for state in results.states],
        "devices": [_device(duty, results.series) for duty in results.duties],
        "available": [_available(one) for one in results.available],
        "stray": stray_data(results.stray, plan),
        "earth": ground_data(results.ground, results.earth_tests),
        "tie_removed": [
            {
                "tie": r.tie.id,
                "at": r.tie.at,
                "with_tie": fault_data(r.with_tie, plan),
                "without_tie": fault_data(r.without_tie, plan),
                "story": list(tell_removed(r, plan).sentences),
            }
            for r in results.removed
        ],
        "tie_added": [
            {
                "at": a.at,
                "name": a.name,
                "after": stray_data(a.after, plan),
                "story": list(tell_added(a, plan).sentences),
            }
            for a in results.added
        ],
        "assumptions": [{"where": a.where, "text": a.text} for a in results.assumptions],
        "cautions": list(CAUTIONS),
        "residuals": _residuals(results.residuals),
    }
    if results.disconnections:
        data["disconnections"] = [_disconnection(one) for one in results.disconnections]
    return report(data, plan.site)


def _disconnection(one: Disconnection) -> dict[str, Any]:
    loop = one.loop_ohm if math.isfinite(one.loop_ohm) else None
    return {
        "place": one.place,
        "earthing": one.earthing.value,
        "device": one.device,
        "residual_device": one.residual_device,
        "final": one.final,
        "u0_v": one.u0_v,
        "current_a": one.current_a,
        "loop_ohm": loop,
        "limit_ohm": one.limit_ohm,
        "earth_ohm": one.earth_ohm,
        "allowed_s": one.allowed_s,
        **_time("takes", one.takes_s),
        "opens": one.opens,
        "verdict": str(one.verdict),
        "because": list(one.because),
        "clause": one.clause,
    }


def _state(state: StateResult, plan: Plan) -> dict[str, Any]:
    return {
        "id": state.id,
        "on": list(state.on),
        "ties": [
            {"origin": c.origin, "count": c.count, "ties": list(c.ties), "verdict": str(c.verdict)}
            for c in plan.tie_counts
            if c.state == state.id
        ],
        "faults": [
            {
                "place": f.fault.place,
                "between": [f.fault.a, f.fault.b],
                "current_a": f.current,
                **_time("slowest", f.clearing),
                "verdict": str(f.verdict),
            }
            for f in state.faults
        ],
        "objectionable": state.stray.objectionable,
    }


def _device(duty: Duty, series: Sequence[Series]) -> dict[str, Any]:
    ahead = next((s for s in series if s.downstream == duty.device), None)
    alone = None if ahead is None else ahead.judgement
    return {
        "device": duty.device,
        "at": duty.at,
        "rating": duty.rating,
        "available_a": duty.available,
        "of_motors_a": duty.of_motors,
        "peak_a": duty.peak,
        "between": duty.between,
        "verdict": str(duty.judgement.verdict),
        "because": duty.judgement.because,
        "upstream": None if ahead is None else ahead.upstream,
        "opens_alone": None if alone is None else alone.total,
        "opens_alone_below_a": None if alone is None else _finite(alone.limit_a),
    }


def _available(one: AvailableAt) -> dict[str, Any]:
    return {
        "place": one.place,
        "available_a": one.available.current,
        "between": one.available.between,
        "peak_a": one.available.peak,
        "of_motors_a": one.of_motors,
        "state": one.state or "normal",
        "verdict": str(one.verdict),
    }


def summary_data(summary: Summary) -> dict[str, Any]:
    """Return the headline as plain data."""
    return {
        "verdict": str(summary.verdict),
        "danger": summary.danger,
        "headline": summary.headline,
        "sentences": list(summary.sentences),
        "counts": dict(summary.counts),
    }


def findings_data(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Return findings as plain data."""
    return [
        {
            "rule": f.rule,
            "severity": str(f.severity),
            "where": f.where,
            "title": f.title,
            "text": f.text,
            "cure": f.cure,
            "clause": f.clause,
        }
        for f in findings
    ]


def schedule_data(plan: Plan) -> list[dict[str, Any]]:
    """Return the jumper and conductor schedule as plain data."""
    return [
        {
            "id": row.id,
            "purpose": row.purpose,
            "short": row.short,
            "from": row.from_,
            "to": row.to,
            "required": row.required,
            "chosen": row.chosen,
            "origin": row.origin,
            "clause": row.clause,
            "because": list(row.why),
            "inputs": dict(row.inputs),
            "status": row.status,
            "verdict": str(row.verdict),
            "remark": row.remark,
        }
        for row in schedule_rows(plan)
    ]


def _time(name: str, value: float) -> dict[str, Any]:
    """Return a time with its companion flag: ``{name_s: 0.02, name_never: false}``."""
    never = math.isinf(value)
    return {f"{name}_s": None if never else value, f"{name}_never": never}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _residuals(residuals: Residuals) -> dict[str, float]:
    return {"kirchhoff": residuals.kirchhoff, "power": residuals.power}


def _flow(flow: Flow) -> dict[str, Any]:
    return {
        "carrier": str(flow.carrier),
        "id": flow.id,
        "conductor": flow.conductor,
        "terminal": flow.terminal,
        "from": flow.from_,
        "to": flow.to,
        "current": {"amps": flow.amperes, "angle_deg": flow.angle},
    }


def fault_data(result: FaultResult, plan: Plan) -> dict[str, Any]:
    """Return one followed fault as plain data."""
    fault, touch, heat = result.fault, result.touch_verdict, result.heat
    return {
        "place": fault.place,
        "kind": str(fault.kind),
        "between": [fault.a, fault.b],
        "impedance_ohm": fault.impedance,
        "arc_v": fault.arc,
        "also": {"place": fault.also_at or fault.place, "terminal": fault.also}
        if fault.also
        else None,
        "current_a": result.current,
        "loop_ohm": _finite(result.loop),
        "loop_angle_deg": result.angle,
        "resistance_ohm": _finite(result.resistance),
        "path": [
            {
                "way": s.way,
                "carrier": str(s.carrier),
                "id": s.id,
                "conductor": s.conductor,
                "current_a": s.amperes,
                "share": s.share,
            }
            for s in result.path
        ],
        "openings": [
            {
                "device": o.device,
                "at": o.at,
                "rating": o.rating,
                "by": "residual" if o.residual else "overcurrent",
                "lines": list(o.lines),
                "current_a": o.current,
                **_time("fastest", o.fastest),
                **_time("slowest", o.slowest),
            }
            for o in result.openings
        ],
        "cleared": result.cleared,
        **_time("fastest", result.fastest),
        **_time("slowest", result.clearing),
        "touch": {
            "place": result.worst_place,
            "voltage_v": touch.voltage_v,
            "limit_v": touch.limit_v,
            "condition": touch.condition,
            "source": str(touch.source),
            "verdict": touch.verdict,
            "metal_v": dict(result.touch),
            "between": None if result.pair is None else _pair(result.pair),
        },
        "live_after_v": result.live_after,
        "heat": None
        if heat is None
        else {
            "id": heat.id,
            "conductor": heat.conductor,
            "size": heat.size,
            "i2t_a2s": _finite(heat.i2t),
            "temperature_degc": _finite(heat.temperature),
            "melts": math.isinf(heat.temperature),
            "limit_degc": heat.limit,
            "verdict": str(heat.verdict),
            "basis": heat.basis,
            "because": heat.because,
        },
        "ahead_of_every_device": result.supply_side,
        "first_of_two": result.first_of_two,
        "unknown_devices": list(result.unknown),
        "missing": list(result.missing),
        "steel_settled": result.settled,
        "told_in_full": result.in_full,
        "verdict": str(result.verdict),
        "residuals": _residuals(result.residuals),
        "story": list(tell_fault(result, plan).sentences),
    }


def _pair(pair: TouchPair) -> dict[str, Any]:
    return {
        "a": pair.a,
        "b": pair.b,
        "voltage_v": pair.verdict.voltage_v,
        "limit_v": pair.verdict.limit_v,
        "verdict": pair.verdict.verdict,
    }


def stray_data(study: StrayStudy, plan: Plan) -> dict[str, Any]:
    """Return normal use as plain data."""
    return {
        "objectionable": study.objectionable,
        "largest_neutral_a": study.neutral,
        "metal_v": dict(study.metal),
        "neutral_to_metal_v": dict(study.neutral_to_metal),
        "currents": [_stray_current(c, plan) for c in study.currents],
        "flows": [_flow(f) for f in study.flows],
        "supplies": [_supply(s) for s in study.supplies],
        "residuals": _residuals(study.residuals),
        "story": list(tell_stray(study, plan).sentences),
    }


def _supply(supply: Supply) -> dict[str, Any]:
    return {
        "source": supply.name,
        "power_w": supply.power.real,
        "reactive_power_var": supply.power.imag,
        "lines_a": list(supply.amperes),
        "neutral_a": supply.neutral,
        "neutral_harmonics_a": {str(order): amps for order, amps in supply.harmonics},
        "rated_a": supply.rated,
        "beside": list(supply.beside),
    }


def _stray_current(current: StrayCurrent, plan: Plan) -> dict[str, Any]:
    return {
        **_flow(current.flow),
        "share_of_neutral": current.share,
        "nature": str(current.nature),
        "causes": list(current.causes),
        "without_cause_a": current.without,
        "story": tell_current(current, plan),
    }


def loops_data(study: LoopStudy, plan: Plan, metres: float) -> dict[str, Any]:
    """Return every current on metal as the loop it runs in, and the net currents of runs.

    Args:
        study: the loops.
        plan: the plan they were studied on.
        metres: distance of the field, m.
    """
    return {
        "loops": [_loop(loop, plan) for loop in study.loops],
        "net_currents": [
            {
                "run": net.run,
                "whole_run_a": net.amperes,
                "lines_and_neutral_a": net.wires,
                "distance_m": metres,
                "field_t": net.field(metres),
                "story": tell_net(net, metres),
            }
            for net in study.nets
        ],
        "cures": list(tell_cures(study, plan)),
    }


def _loop(loop: Loop, plan: Plan) -> dict[str, Any]:
    current = loop.current
    return {
        **_flow(current.flow),
        "rms_a": current.rms,
        "harmonics": {str(order): amperes for order, amperes in current.harmonics},
        "closed_by": list(loop.closed_by),
        "share_of_return": loop.share,
        "causes": list(current.causes),
        "causes_together": current.together,
        "without_cause_a": current.without,
        "steps": [
            {
                "via": step.via.value,
                "id": step.id,
                "conductor": step.conductor,
                "from": step.from_,
                "to": step.to,
                "amperes": step.amperes,
            }
            for step in loop.steps
        ],
        "story": list(tell_loop(loop, plan)),
    }
