"""The electrode sheet and the earth test sheets: as content for the report, as tables and data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bondwright.draw.curve_plot import STRIP, Readings, curve_plot
from bondwright.draw.drawing import Drawing
from bondwright.draw.plan_view import Ground, Shade, plan_view
from bondwright.earth.judged import CAUTION, said
from bondwright.explain.earth import soil_words
from bondwright.explain.earth_tests import tell_test
from bondwright.explain.ground import (
    SURFACE_NOTE,
    method_words,
    ohms,
    pace_words,
    range_words,
    state_words,
    tell_ground,
    tell_ground_fault,
)
from bondwright.explain.words import capital, listed, volts
from bondwright.papers.wording import badge
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.rules.families import unit_system
from bondwright.site.ground import OF_ELECTRODES, EarthTestKind, PinsStood, TesterUsed
from bondwright.studies.ground_model import GroundMap, GroundStudy
from bondwright.studies.ground_parts import ElectrodeRow
from bondwright.units import Dimension, UnitSystem, show

if TYPE_CHECKING:
    from bondwright.studies.earth_tests import JudgedTest

_GRID_STEP: Final = 4
_MOST_SHOWN: Final = 8


# --- content ---------------------------------------------------------------------------------


def measured_of(name: str, tests: Sequence[JudgedTest]) -> JudgedTest | None:
    """Return the test that gives one electrode's resistance, the latest; a clamp only if alone."""
    found = [
        t
        for t in tests
        if t.test.of == [name] and t.test.kind in OF_ELECTRODES and t.measured is not None
    ]
    better = [t for t in found if t.test.kind is not EarthTestKind.CLAMP]
    usable = better or found
    return usable[-1] if usable else None


def earth_content(
    study: GroundStudy, tests: Sequence[JudgedTest], system: UnitSystem = "us"
) -> dict[str, Any]:
    """Return the sheets as text ready to be set; nothing is in it where a site has none."""
    if not study.rows and not tests:
        return {}
    told = tell_ground(study, system)
    plotted = [k for k, one in enumerate(tests) if has_plot(one)]
    return {
        "soil": soil_words(study.ground.soil, system),
        "story": {**_story(told), "badge": badge(Verdict.CANNOT_TELL)} if study.rows else None,
        "electrodes": [_row(row, tests) for row in study.rows],
        "matrix": _matrix(study) if 1 < len(study.rows) <= _MOST_SHOWN else None,
        "note": SURFACE_NOTE if study.faults else "",
        "faults": [_story(tell_ground_fault(one, system)) for one in study.faults],
        "tests": [
            {**sheet_of(one, system), "picture": plotted.index(k) if k in plotted else -1}
            for k, one in enumerate(tests)
        ],
        "caution": CAUTION,
    }


def _story(told: Any) -> dict[str, Any]:
    return {
        "title": told.title,
        "sentences": list(told.sentences),
        "badge": badge(told.verdict),
    }


def _row(row: ElectrodeRow, tests: Sequence[JudgedTest]) -> dict[str, Any]:
    test = measured_of(row.id, tests)
    shown = "–"
    kind, verdict = "", Verdict.CANNOT_TELL
    if test is not None and test.measured is not None and test.judged is not None:
        shown = ohms(test.measured)
        kind = f"{test.test.kind.value}{', ' + test.test.date if test.test.date else ''}"
        verdict = Verdict(test.judged.verdict.value)
    return {
        "name": row.id,
        "form": row.kind.value,
        "at": row.at or "–",
        "calculated": ohms(row.computed),
        "counts": ohms(row.own),
        "range": range_words(row) or "–",
        "measured": shown,
        "by": kind or "–",
        "method": capital(method_words(row)),
        "state": state_words(row),
        "badge": badge(verdict),
    }


def _matrix(study: GroundStudy) -> dict[str, Any]:
    names = list(study.ground.names)
    return {
        "names": names,
        "rows": [
            [name, *(ohms(v) if v else "0" for v in row)]
            for name, row in zip(names, study.ground.resistance, strict=True)
        ],
    }


def sheet_of(one: JudgedTest, system: UnitSystem) -> dict[str, Any]:
    """Return the sheet of a field test: story, facts, and the readings as a table."""
    told, test = tell_test(one, system), one.test
    facts = [["Test", test.kind.value + (f", {test.pins.value}" if one.fit is not None else "")]]
    if test.of:
        facts.append(["Of", listed(test.of)])
    if test.where:
        facts.append(["Where", test.where])
    facts.append(["Date", test.date or "not recorded"])
    facts.append(["Instrument", test.instrument or "not recorded"])
    if test.far is not None:
        facts.append(["Current pin at", show(test.far, Dimension.LENGTH, system)])
    if test.section is not None:
        area = show(test.section, Dimension.AREA, "metric")
        apart = show(test.apart or 0.0, Dimension.LENGTH, system)
        facts.append(["Soil box", f"{area} across, pins {apart} apart"])
    if test.kind is EarthTestKind.LOOP:
        facts.append(["Tester", (test.tester or TesterUsed.HIGH_CURRENT).value])
    if test.residual is not None:
        facts.append(["Residual-current device", show(test.residual, Dimension.CURRENT)])
    if test.goal is not None:
        facts.append(["Goal", f"no more than {ohms(test.goal)}"])
    if one.measured is not None and one.judged is not None:
        give = one.judged.uncertainty_ohm or 0.0
        facts.append(["Result", said(one.measured, give)])
    if one.calculated is not None:
        facts.append(["Calculated", ohms(one.calculated)])
    head, rows = _readings(one, system)
    return {
        **_story(told),
        "title": one.id,
        "facts": facts,
        "head": head,
        "rows": rows,
        "note": test.note,
        "badge": badge(told.verdict),
    }


def _readings(one: JudgedTest, system: UnitSystem) -> tuple[list[str], list[list[str]]]:
    test = one.test
    if test.over_range:
        return ["Reading"], [["over range"]]
    rows = test.readings
    length = Dimension.LENGTH
    if test.kind is EarthTestKind.FALL:
        return ["Potential pin at", "Of the distance", "Reading"], [
            [
                show(r.distance or 0.0, length, system),
                f"{100 * (r.distance or 0.0) / (test.far or 1.0):.1f} %",
                ohms(r.resistance or 0.0),
            ]
            for r in rows
        ]
    if one.fit is not None and one.sounding is not None:
        wild = {odd.index for odd in one.fit.suspicious}
        return ["Spacing", "Reading", "Apparent resistivity", "Curve", "Off"], [
            [
                show(a, length, system),
                ohms(r.resistance) if r.resistance is not None else "–",
                show(seen, Dimension.RESISTIVITY),
                show(made, Dimension.RESISTIVITY),
                f"{100 * off:+.1f} %" + (", look again" if k in wild else ""),
            ]
            for k, (r, a, seen, made, off) in enumerate(
                zip(
                    rows,
                    one.sounding.spacing_m,
                    one.sounding.rho_a_ohm_m,
                    one.fit.curve_ohm_m,
                    one.fit.departure,
                    strict=True,
                )
            )
        ]
    return ["Reading"], [[ohms(r.resistance or 0.0)] for r in rows]


# --- pictures --------------------------------------------------------------------------------


def ground_pictures(
    study: GroundStudy, system: UnitSystem | None = None
) -> Iterator[tuple[str, str]]:
    """Yield caption and shade ("touch", "step", "" for none) of the pictures of the ground."""
    if not study.ground.shapes:
        return
    worst = study.faults[0] if study.faults else None
    if worst is None or worst.drawn is None or worst.stepped is None:
        yield "Electrodes from above.", ""
        return
    drawn, stepped = worst.drawn, worst.stepped
    what, where, there = "Electrodes from above, and the", "", ""
    if len(worst.maps) > 1:
        yield "Electrodes from above.", ""
        where, there = (f" around {listed(list(one.names))}" for one in (drawn, stepped))
        what = f"The ground{where}: the"
    yield (
        f"{what} touch voltage of the metal where it led there: {worst.fault}, metal at "
        f"{volts(drawn.metal_v)}.",
        "touch",
    )
    yield (
        f"Step voltage{there}, the worst pace of {pace_words(system)} from each spot: "
        f"{worst.fault}, {volts(stepped.step_worst_v)} at most.",
        "step",
    )


def has_plot(one: JudgedTest) -> bool:
    """Whether the readings of a test make a curve."""
    return one.test.kind in {EarthTestKind.FALL, EarthTestKind.SURVEY}


def test_caption(one: JudgedTest) -> str:
    """Say what the plot of a test shows."""
    if one.fit is not None:
        return (
            f"{one.id}: dots are readings, the line is what the layers found would read; the bars "
            "below say how far each reading is off it."
        )
    return f"{one.id}: dots are readings; upright lines at 52 %, 61.8 % and 72 % of the distance."


def ground_of(plan: Plan, study: GroundStudy) -> Ground:
    """Return what a plan view of a site's ground shows."""
    site = plan.site
    places = {
        name: (place.position[0], place.position[1])
        for name, place in site.places.items()
        if place.position is not None
    }
    ways = {
        name: [(x, y) for x, y in metal.along] for name, metal in site.metal.items() if metal.along
    }
    return Ground(study.ground.shapes, study.ground.neighbours, places, ways)


def draw_ground(
    plan: Plan,
    study: GroundStudy,
    shade: str,
    wide: float,
    prefix: str,
    drawn: GroundMap | None = None,
) -> Drawing:
    """Draw the plan of a site's ground, bare or with a voltage.

    Args:
        plan: the plan.
        study: its ground.
        shade: "touch", "step", "ground" or "" for none.
        wide: width, px.
        prefix: put before every id.
        drawn: the map; None for that of the worst fault.
    """
    ground = ground_of(plan, study)
    if drawn is None and study.faults:
        worst = study.faults[0]
        drawn = worst.stepped if shade == "step" else worst.drawn
    laid = None if drawn is None or not shade else _shade(drawn, shade)
    title = f"Ground of {plan.site.site}"
    units = unit_system(plan.site.rules)
    return plan_view(ground, laid, wide, title=title, prefix=prefix, system=units)


def _shade(drawn: GroundMap, which: str) -> Shade:
    if which == "touch":
        return Shade("touch voltage", drawn.x_m, drawn.y_m, drawn.touch_v)
    if which == "step":
        worst = (drawn.step_at_m, drawn.step_worst_v)
        return Shade("step voltage", drawn.x_m, drawn.y_m, drawn.step_v, worst)
    return Shade("voltage of the ground", drawn.x_m, drawn.y_m, drawn.ground_v)


def draw_test(
    one: JudgedTest, wide: float, high: float, prefix: str, system: UnitSystem = "metric"
) -> Drawing:
    """Plot a fall of potential or a survey; that is taller by how far its readings are off."""
    if one.fit is not None and one.sounding is not None:
        from bondwright.earth.sounding import apparent_resistivity

        high += STRIP
        found, spacing = one.sounding, np.array(one.sounding.spacing_m)
        line: tuple[tuple[float, float], ...]
        if found.array.value == PinsStood.WENNER.value or not found.inner_m:
            fine = np.geomspace(spacing.min(), spacing.max(), 60)
            curve = apparent_resistivity(one.fit.soil, tuple(map(float, fine)), found.array)
            line = tuple(zip(map(float, fine), map(float, curve), strict=True))
        else:
            line = tuple(sorted(zip(found.spacing_m, one.fit.curve_ohm_m, strict=True)))
        readings = Readings(
            points=tuple(zip(found.spacing_m, found.rho_a_ohm_m, strict=True)),
            curve=line,
            x=("spacing", Dimension.LENGTH),
            y=("apparent resistivity", Dimension.RESISTIVITY),
            logarithmic=True,
            doubtful=frozenset(odd.index for odd in one.fit.suspicious),
            off=one.fit.departure,
        )
    else:
        test, far = one.test, one.test.far or 1.0
        points = tuple((r.distance or 0.0, r.resistance or 0.0) for r in test.readings)
        levels = [] if test.goal is None else [(f"goal {ohms(test.goal)}", test.goal)]
        if one.measured is not None:
            levels.append((f"result {ohms(one.measured)}", one.measured))
        readings = Readings(
            points=points,
            curve=tuple(sorted(points)),
            x=("distance of the potential pin", Dimension.LENGTH),
            y=("reading", Dimension.RESISTANCE),
            uprights=(("52 %", 0.52 * far), ("61.8 %", 0.618 * far), ("72 %", 0.72 * far)),
            levels=tuple(levels),
        )
    return curve_plot(readings, wide, high, title=test_caption(one), prefix=prefix, system=system)
