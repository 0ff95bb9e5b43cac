"""The earth in the page: soil, electrodes, the ground in a fault."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from bondwright.draw.drawing import Drawing
from bondwright.draw.live import Form
from bondwright.earth.judged import CAUTION
from bondwright.explain.earth import soil_words
from bondwright.explain.earth_tests import tell_test
from bondwright.explain.ground import (
    SURFACE_NOTE,
    footing_words,
    method_words,
    ohms,
    range_words,
    spot_words,
    state_words,
    tell_brings,
    tell_ground,
    tell_ground_fault,
    touch_words,
)
from bondwright.explain.words import amps, capital, listed, percent, seconds, volts
from bondwright.page.desk import Desk, UnknownError
from bondwright.page.edits import Edit
from bondwright.page.wire import Figure, Target
from bondwright.page.wire_earth import (
    Drawn,
    EarthAnswer,
    EarthTestInfo,
    ElectrodeInfo,
    GroundFaultInfo,
    MapAnswer,
    MapInfo,
    Shading,
)
from bondwright.page.words import story_info
from bondwright.page.work import Order, Outcome
from bondwright.papers.earth import draw_ground, draw_test, has_plot, sheet_of, test_caption
from bondwright.rules.answer import Verdict
from bondwright.rules.families import unit_system
from bondwright.safety.touch import Footing, Skin, body_limit, touch_limit
from bondwright.studies.earth_tests import JudgedTest, judge_tests
from bondwright.studies.ground import footing_of, study_ground
from bondwright.studies.ground_model import GroundFault, GroundMap, GroundStudy, TouchAt
from bondwright.studies.ground_parts import ElectrodeRow
from bondwright.units import UnitSystem

WIDE: Final = {"page": 720.0, "phone": 350.0}
_PLOT: Final = {"page": (560.0, 300.0), "phone": (350.0, 280.0)}
_KEPT: Final = 6
_SHADES: Final = {
    "touch": "Touch voltage: the metal of {metal}, where it led there, against the ground.",
    "step": "Step voltage: the worst pace of 1 m from each spot.",
    "ground": "Voltage of the ground against remote earth.",
}


class Earth:
    """The earth of a working copy.

    Args:
        desk: the working copy.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._faults: OrderedDict[tuple[tuple[Edit, ...], str], tuple[GroundFault, ...]]
        self._faults = OrderedDict()
        self._studies: OrderedDict[tuple[tuple[Edit, ...], str], GroundStudy] = OrderedDict()
        self._site = desk.site

    @property
    def _units(self) -> UnitSystem:
        return unit_system(self.desk.site.rules)

    def take(self, order: Order, outcome: Outcome) -> None:
        """Keep what the background found out about the ground in a fault."""
        with self.desk.lock:
            self._forget_another_site()
            if order.site != self._site:
                return  # described anew meanwhile
            self._faults[order.edits, order.state] = outcome.ground
            while len(self._faults) > _KEPT:
                self._faults.popitem(last=False)

    def _forget_another_site(self) -> None:
        if self.desk.site is not self._site:
            self._site = self.desk.site
            self._faults.clear()
            self._studies.clear()

    def _key(self, state: str) -> tuple[tuple[Edit, ...], str]:
        self._forget_another_site()
        return self.desk.edits.done, self.desk.state(state).id

    def study(self, state: str) -> GroundStudy:
        """Return the electrodes, with the ground in the faults as far as it was worked out."""
        with self.desk.lock:
            key = self._key(state)
            if key not in self._studies:
                self._studies[key] = study_ground(self.desk.network(state, loads=False), ())
                while len(self._studies) > _KEPT:
                    self._studies.popitem(last=False)
            return replace(self._studies[key], faults=self._faults.get(key, ()))

    def answer(self, state: str, form: Form) -> EarthAnswer:
        """Tell the earth of the site."""
        desk = self.desk
        with desk.lock:
            plan, study = desk.plan, self.study(state)
            tests = judge_tests(plan)
            known = self._key(state) in self._faults
            drawn = None
            if study.ground.shapes:
                bare = draw_ground(plan, replace(study, faults=()), "", WIDE[form], "earth-plan-")
                drawn = drawing(bare, "Electrodes from above. Choose one to see what it does.")
            return EarthAnswer(
                soil=soil_words(study.ground.soil, self._units),
                assumed=plan.site.soil is None,
                seasons=list(study.ground.seasons),
                story=story_info(tell_ground(study, self._units)) if study.rows else None,
                plan=drawn,
                electrodes=[_electrode(study, row, tests, self._units) for row in study.rows],
                faults=[self._fault(one) for one in study.faults] if known else None,
                note=SURFACE_NOTE,
                tests=[
                    judged_info(one, form, f"earth-test-{k}-", self._units)
                    for k, one in enumerate(tests)
                ],
                caution=CAUTION,
            )

    def map(self, state: str, fault: int, part: int, shade: Shading, form: Form) -> MapAnswer:
        """Draw a part of the ground in a fault.

        Raises:
            UnknownError: the faults were not worked out, or there is no such part.
        """
        with self.desk.lock:
            study = self.study(state)
            if not 0 <= fault < len(study.faults):
                raise UnknownError("work out the ground in the faults first; then choose one")
            one = study.faults[fault]
            if not 0 <= part < len(one.maps):
                raise UnknownError("there is no such part of the ground; choose one of the list")
            shown = one.maps[part]
            made = draw_ground(self.desk.plan, study, shade, WIDE[form], f"earth-{shade}-", shown)
            caption = f"{one.fault}, around {listed(list(shown.names))}. "
            caption += _SHADES[shade].format(metal=shown.metal)
            return MapAnswer(
                drawn=drawing(made, caption),
                figures=list(_of_map(_Reader(footing_of(self.desk.plan), self._units), one, shown)),
            )

    def _fault(self, one: GroundFault) -> GroundFaultInfo:
        return GroundFaultInfo(
            name=str(one.fault),
            story=story_info(tell_ground_fault(one, self._units)),
            figures=list(_figures(_Reader(footing_of(self.desk.plan), self._units), one)),
            maps=[MapInfo(name=listed(list(m.names)), metal=volts(m.metal_v)) for m in one.maps],
        )


@dataclass(frozen=True, slots=True)
class _Reader:
    """What people stand on, and the units that they read in."""

    footing: Footing
    system: UnitSystem


def drawing(made: Drawing, caption: str) -> Drawn:
    """Return a drawing as it goes over the wire."""
    return Drawn(svg=made.svg[made.svg.index("<svg") :], alt=made.alt, caption=caption)


def judged_info(one: JudgedTest, form: Form, prefix: str, system: UnitSystem) -> EarthTestInfo:
    """Return a judged field test as it goes over the wire."""
    content = sheet_of(one, system)
    plot = None
    if has_plot(one):
        plot = drawing(draw_test(one, *_PLOT[form], prefix, system), test_caption(one))
    return EarthTestInfo(
        id=one.id,
        story=story_info(tell_test(one, system)),
        facts=[Figure(label=label, value=value, why=[]) for label, value in content["facts"]],
        head=content["head"],
        rows=content["rows"],
        plot=plot,
    )


def _electrode(
    study: GroundStudy, row: ElectrodeRow, tests: tuple[JudgedTest, ...], system: UnitSystem
) -> ElectrodeInfo:
    ground = study.ground
    facts = [
        Figure(
            label="Alone",
            value=ohms(row.own),
            why=[f"{capital(method_words(row))}.", "The measured electrode decides."],
        )
    ]
    if row.given is not None and row.shape is not None:
        apart = [f"Its shape in soil of {soil_words(ground.soil, system)}; the other is given."]
        facts.append(Figure(label="By its shape", value=ohms(row.computed), why=apart))
    span = range_words(row)
    if span:
        over = f"Over {listed(['the soil as it is', *ground.seasons])}."
        facts.append(Figure(label="Over the year", value=span, why=[over]))
    if row.joined:
        why = ["Of the current into the earth when all joined electrodes stand at one voltage."]
        facts.append(Figure(label="Takes", value=percent(row.share), why=why))
    else:
        facts.append(Figure(label="It is", value=state_words(row), why=[], loud=not row.neighbour))
    for one in tests:
        if row.id in one.test.of and one.measured is not None:
            words = list(tell_test(one, system).sentences)
            value = f"{ohms(one.measured)}, {one.test.kind.value}"
            facts.append(Figure(label=f"Read: {one.id}", value=value, why=words))
    whose = "a neighbour's" if row.neighbour else f"joined at {row.at}" if row.at else "not joined"
    return ElectrodeInfo(
        id=row.id,
        kind=row.kind.value,
        about=f"{row.kind.value}, {whose}",
        resistance=ohms(row.own),
        facts=facts,
        mutual=list(_mutual(study, row)),
        brings=[tell_brings(one) for one in study.brings if one.what == row.id],
        place=None if row.neighbour else Target(kind="electrode", id=row.id),
    )


def _mutual(study: GroundStudy, row: ElectrodeRow) -> Iterator[Figure]:
    ground = study.ground
    for other in ground.names:
        if other == row.id:
            continue
        both = ground.between(row.id, other)
        if both <= 0:
            why = [f"The place of one of the two isn't known, so {other} counts as far away."]
            yield Figure(label=other, value="not known", why=why)
            continue
        own = math.sqrt(ground.between(row.id, row.id) * ground.between(other, other))
        why = [
            f"An ampere into {row.id} lifts {other} by {volts(both)}, and the other way round.",
            f"That is {percent(both / own)} of the mean of their own resistances: at 0 they don't "
            "feel each other, at 100 % the second one brings nothing.",
        ]
        yield Figure(label=other, value=ohms(both), why=why)


def _figures(reader: _Reader, one: GroundFault) -> Iterator[Figure]:
    rest = "The rest comes home by the neutral, pipes and shields, and never enters the earth."
    into = [f"{name}: {amps(value)}." for name, value in one.currents_a.items()]
    yield Figure(
        label="Into the earth",
        value=f"{amps(one.total_a)} of {amps(one.fault_a)}",
        why=[*into, rest, "Added as phasors, in the circuit that was solved."],
    )
    name, highest = max(one.rise_v.items(), key=lambda item: item[1], default=("", 0.0))
    rises = [f"{other}: {volts(value)}." for other, value in one.rise_v.items()]
    yield Figure(label=f"Rise of {name}", value=volts(highest), why=rises)
    lasts = "for ever: nothing opens" if math.isinf(one.clearing_s) else seconds(one.clearing_s)
    limits = _limits(reader, one)
    yield Figure(label="It lasts", value=lasts, why=["As the devices on its way open."])
    for touch in one.touch:
        yield _touch(f"Touch at {touch.what}", touch, limits, reader.system)
    for touch in one.transfer:
        yield _touch(f"Carried away along {touch.what}", touch, limits, reader.system)
    stepped = one.stepped
    if stepped is not None:
        yield _step("Worst pace of 1 m", stepped, reader.system)


def _limits(reader: _Reader, one: GroundFault) -> str:
    by_standard = volts(body_limit(one.clearing_s, 50, reader.footing))
    by_skin = volts(touch_limit(one.clearing_s, Skin.WET))
    feet = footing_words(reader.footing, reader.system)
    return (
        f"The limit is the lower of {by_standard} (IEEE Std 80, 50 kg, {feet}) "
        f"and {by_skin} (conventional, wet skin), for as long as the fault lasts."
    )


def _touch(label: str, touch: TouchAt, limits: str, system: UnitSystem) -> Figure:
    short = touch.verdict is not Verdict.HOLDS
    value = f"{volts(touch.touch_v)}, {'above' if short else 'within'} {volts(touch.limit_v)}"
    return Figure(label=label, value=value, why=[touch_words(touch, system), limits], loud=short)


def _step(label: str, drawn: GroundMap, system: UnitSystem) -> Figure:
    short = drawn.step_verdict is not Verdict.HOLDS
    where = spot_words(*drawn.step_at_m, system)
    why = [
        f"From {where}, the worst of 24 directions and more.",
        "The limit is that of IEEE Std 80 for 50 kg, feet on this ground with what lies on it, for "
        "as long as the fault lasts.",
    ]
    value = f"{volts(drawn.step_worst_v)}, {'above' if short else 'within'} "
    return Figure(label=label, value=value + volts(drawn.step_limit_v), why=why, loud=short)


def _of_map(reader: _Reader, one: GroundFault, drawn: GroundMap) -> Iterator[Figure]:
    why = [f"The metal of {drawn.metal}, to remote earth, at the start of the fault."]
    yield Figure(label="Metal here rises to", value=volts(drawn.metal_v), why=why)
    yield _step("Worst pace here", drawn, reader.system)
    near = [touch for touch in one.touch if _inside(drawn, touch)]
    for touch in near[:3]:
        yield _touch(f"Touch at {touch.what}", touch, _limits(reader, one), reader.system)


def _inside(drawn: GroundMap, touch: TouchAt) -> bool:
    return bool(
        drawn.x_m[0] <= touch.x_m <= drawn.x_m[-1] and drawn.y_m[0] <= touch.y_m <= drawn.y_m[-1]
    )
