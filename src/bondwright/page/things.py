"""What a tap on a thing tells: what it is, its size and why, what flows, what falls short."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from bondwright.draw.content import all_nodes, metal_words, run_sizes
from bondwright.draw.lettering import KEEP
from bondwright.draw.live import can_be_tied
from bondwright.explain.cautions import CAUTIONS
from bondwright.explain.rules import tell_requirement
from bondwright.explain.stray import tell_current
from bondwright.explain.words import (
    amps,
    capital,
    counted,
    device_rating,
    flow_name,
    listed,
    percent,
    volts,
)
from bondwright.page.desk import Desk, UnknownError, View
from bondwright.page.wire import (
    Action,
    FaultChoice,
    Figure,
    FlowRow,
    Link,
    StoryInfo,
    ThingAnswer,
    ThingInfo,
)
from bondwright.page.words import finding_infos, story_info
from bondwright.plan.model import Plan, PlannedTie
from bondwright.site.model import Generator, Inverter, Place, Source, Transfer, Transformer
from bondwright.studies.fault_model import Fault, FaultKind
from bondwright.studies.faults import FaultResult
from bondwright.studies.flows import Carrier, Flow
from bondwright.units import Dimension, show

_FEW = 1500
"""Up to so many places the loops of stray current are worked out for a tap."""
_MOST_FINDINGS = 20
_OFF_CAUTION = CAUTIONS[4]
_ON_CAUTION = (
    "On the page only. In the building a tie where none belongs puts neutral current on metal; "
    "where it belongs is for the code and the authority having jurisdiction to say."
)


def things_of(desk: Desk) -> Iterator[ThingInfo]:
    """Yield everything that can be searched for."""
    plan = desk.base
    for name in all_nodes(plan):
        kind, about = _what(plan, name)
        yield ThingInfo(kind=kind, id=name, about=about, near=_building(plan, name))
    for run in plan.runs.values():
        yield ThingInfo(kind="run", id=run.id, about="run", near=f"{run.from_} to {run.to}")
    for tie in plan.ties:
        yield ThingInfo(kind="tie", id=tie.id, about="tie", near=tie.at)
    for electrode in plan.electrodes.values():
        kind = electrode.kind.value
        yield ThingInfo(kind="electrode", id=electrode.id, about=kind, near=electrode.at)
    for name, metal in plan.site.metal.items():
        near = f"{metal.from_} to {metal.to}"
        yield ThingInfo(kind="metal", id=name, about=metal.kind.value, near=near)


def _what(plan: Plan, name: str) -> tuple[str, str]:
    node = plan.topology.node(name)
    match node:
        case Source():
            return "source", "supply"
        case Transformer():
            return "transformer", "transformer"
        case Generator():
            return "generator", "generator"
        case Inverter():
            return "inverter", "inverter"
        case Transfer():
            return "transfer", "transfer switch"
        case _:
            return "place", node.kind.value


def _building(plan: Plan, name: str) -> str:
    node = plan.topology.node(name)
    return "" if isinstance(node, Source) else node.building or ""


class Teller:
    """Tells about things of a working copy as it stands.

    Args:
        desk: the working copy.
        view: what is looked at; a fault in it is told beside normal use.
    """

    def __init__(self, desk: Desk, view: View) -> None:
        self.desk, self.view, self.plan = desk, view, desk.plan
        self.normal = desk.normal(view.state)
        self.result: FaultResult | None = None
        if view.show == "fault":
            self.result = desk.fault(view.state, view.fault)

    def tell(self, kind: str, name: str) -> ThingAnswer:
        """Tell about a thing.

        Raises:
            UnknownError: there is none of that kind and name.
        """
        tellers: Mapping[str, Callable[[str], ThingAnswer]] = {
            "run": self._run,
            "tie": self._tie,
            "slot": self._slot,
            "missing-tie": self._slot,
            "metal": self._metal,
            "electrode": self._electrode,
            "device": self._device,
            "main": self._device_main,
        }
        try:
            if kind in tellers:
                return tellers[kind](name)
            return self._place(name)
        except KeyError as error:
            raise UnknownError(f"there is no {kind} {name!r} here") from error

    def _answer(
        self,
        kind: str,
        name: str,
        about: str,
        *,
        facts: Sequence[Figure] = (),
        flows: Sequence[FlowRow] = (),
        links: Sequence[Link] = (),
        actions: Sequence[Action] = (),
        faults: Sequence[FaultChoice] = (),
        story: bool = False,
        also: Sequence[str] = (),
    ) -> ThingAnswer:
        ids = {name, *also}
        found = [f for f in self.desk.findings() if f.where in ids]
        return ThingAnswer(
            kind=kind,
            id=name,
            title=name,
            about=about,
            facts=list(facts),
            sizes=self._sizes(ids, kind),
            flows=list(flows),
            findings=finding_infos(found[:_MOST_FINDINGS]),
            links=list(links),
            actions=list(actions),
            faults=list(faults),
            story=story,
        )

    def _sizes(self, ids: set[str], kind: str) -> list[StoryInfo]:
        items = [item for item in self.plan.schedule if item.about in ids]
        if not items and kind in {"place", "transformer", "generator", "inverter"}:
            items = [item for item in self.plan.schedule if item.from_ in ids][:6]
        return [story_info(tell_requirement(item)) for item in items]

    # --- what flows ---------------------------------------------------------------------------

    def _rows(self, carrier: Carrier, name: str) -> list[FlowRow]:
        keys: dict[str, tuple[Flow | None, Flow | None]] = {}
        for flow in self.normal.flows:
            if flow.carrier is carrier and flow.id == name:
                keys[flow.conductor] = (flow, None)
        for flow in self.result.flows if self.result is not None else ():
            if flow.carrier is carrier and flow.id == name:
                keys[flow.conductor] = (keys.get(flow.conductor, (None, None))[0], flow)
        return [self._row(now, then) for now, then in keys.values()]

    def _row(self, now: Flow | None, then: Flow | None) -> FlowRow:
        flow = now or then
        if flow is None:
            raise UnknownError("nothing can flow there")
        why = self._why_normal(now) if now is not None else []
        if then is not None and self.result is not None and self.result.current > 0:
            part = then.amperes / self.result.current
            why.append(
                f"In the fault {percent(part)} of the fault current is on it; ways side by side "
                "share by their impedance."
            )
        what = capital(flow_name(self.plan, flow).removeprefix("the "))
        return FlowRow(
            what=what.partition(f" of {flow.id}")[0] if flow.carrier is Carrier.RUN else what,
            normal=amps(now.amperes) if now is not None else "",
            fault=amps(then.amperes) if then is not None else "",
            why=why,
            loud=now is not None and now.on_metal and now.amperes >= 0.05 and self._loud(now),
        )

    def _loud(self, flow: Flow) -> bool:
        return flow.carrier is not Carrier.ELECTRODE and any(not t.belongs for t in self.plan.ties)

    def _why_normal(self, flow: Flow) -> list[str]:
        if flow.on_metal and len(self.plan.runs) <= _FEW:
            for loop in self.desk.loops(self.view.state).loops:
                one = loop.current.flow
                if (one.carrier, one.id, one.conductor) == (flow.carrier, flow.id, flow.conductor):
                    return [tell_current(loop.current, self.plan)]
            return ["Less than a hundredth of an ampere: metal is quiet, as it should be."]
        if flow.carrier is Carrier.TIE:
            return [
                "What has to change over from neutral to metal here, or back: the share that "
                "electrodes and supply-side metal take in normal use, and nothing else where no "
                "tie is wrong."
            ]
        if flow.terminal == "N":
            return [
                "What the lines of this run don't balance among themselves, added with its "
                "phase; where metal lies beside it and a tie is wrong, a part of it is missing "
                "here and is on metal."
            ]
        return [f"{self._loads_behind(flow.to)}, each solved at the voltage it really gets."]

    def _loads_behind(self, place: str) -> str:
        total, count, stack = 0.0, 0, [place]
        feeds, site = self.plan.topology.feeds, self.plan.site
        while stack:
            here = stack.pop()
            node = site.places.get(here)
            if node is not None:
                total += sum(load.power for load in node.loads)
                count += len(node.loads)
            stack.extend(site.runs[run].to for run in feeds.get(here, ()))
        if not count:
            return "No load is described behind it"
        return f"{counted(count, 'load')} behind it, {show(total, Dimension.REAL_POWER)} together"

    def _metal_number(self, place: str) -> Iterator[Figure]:
        if place in self.normal.metal:
            here = self.normal.metal[place]
            yield Figure(
                label="Metal to earth, normal use",
                value=volts(here),
                why=[
                    "Normal current lifts the metal by what it drops on the neutral and in the "
                    "earth between here and the supply's own grounding."
                ],
                loud=here >= 50,
            )
        if self.result is not None and place in self.result.touch:
            limit = self.result.touch_verdict
            here = self.result.touch[place]
            yield Figure(
                label="Metal to earth, in the fault",
                value=volts(here),
                why=[
                    f"At the start of the fault. The limit for the time it lasts is "
                    f"{volts(limit.limit_v)} ({limit.condition}; {limit.source})."
                ],
                loud=here > limit.limit_v,
            )

    # --- things -------------------------------------------------------------------------------

    def _place(self, name: str) -> ThingAnswer:
        kind, about = _what(self.plan, name)
        node = self.plan.topology.node(name)
        facts = [Figure(label=k, value=v, why=w) for k, v, w in self._place_facts(node, name)]
        facts += self._metal_number(name)
        tree = self.plan.topology
        links = [Link(label="Tie", kind="tie", id=t.id) for t in self.plan.ties if t.at == name]
        if name in tree.fed_by:
            links.append(Link(label="Fed by", kind="run", id=tree.fed_by[name]))
        links += [Link(label="Feeds", kind="run", id=run) for run in tree.feeds.get(name, ())]
        links += [
            Link(label="Electrode", kind="electrode", id=e.id)
            for e in self.plan.electrodes.values()
            if e.at == name
        ]
        return self._answer(
            kind,
            name,
            f"{about}{f', {_building(self.plan, name)}' if _building(self.plan, name) else ''}",
            facts=facts,
            links=links,
            actions=list(self._put_on(name)),
            faults=self.choices(name),
            also=[t.id for t in self.plan.ties if t.at == name],
        )

    def _put_on(self, name: str, label: str = "Put a tie on here") -> Iterator[Action]:
        if can_be_tied(self.plan, name) and all(tie.at != name for tie in self.plan.ties):
            yield Action(label=label, action="put on", name=name, caution=_ON_CAUTION)

    def _place_facts(self, node: object, name: str) -> Iterator[tuple[str, str, list[str]]]:
        system = self.plan.topology.systems.get(name)
        if system is not None:
            yield (
                "System",
                str(system.voltages),
                [f"It begins at {system.origin}."]
                + (
                    ["It is separately derived: it has a tie of its own."] if system.derived else []
                ),
            )
        if isinstance(node, Place):
            if node.main is not None:
                yield "Main", device_rating(str(node.main)), ["As described in the site file."]
            if node.loads:
                total = show(sum(load.power for load in node.loads), Dimension.REAL_POWER)
                each = [
                    f"{load.on}: {show(load.power, Dimension.REAL_POWER)}"
                    + (f", {load.note}" if load.note else "")
                    for load in node.loads
                ]
                yield "Loads", total, each
        elif isinstance(node, Transformer):
            yield (
                "Rating",
                show(node.rating, Dimension.APPARENT_POWER),
                [f"{node.primary} to {node.secondary}, as described in the site file."],
            )
        elif isinstance(node, Generator | Inverter):
            rating = show(node.rating, Dimension.APPARENT_POWER)
            yield "Rating", rating, ["As described in the site file."]
        elif isinstance(node, Transfer):
            yield (
                "Neutral",
                node.neutral.value,
                ["A switched neutral makes the standby supply a system with a tie of its own."],
            )
        elif isinstance(node, Source) and node.electrode is not None:
            ohms = show(node.electrode, Dimension.RESISTANCE)
            yield "Supply's own grounding", ohms, ["As given in the site file."]

    def choices(self, place: str) -> list[FaultChoice]:
        """Return the faults that can be played at a place."""
        return [
            FaultChoice(key=key, name=_fault_words(fault))
            for key, fault in self.desk.faults(self.view.state).items()
            if fault.place == place
        ]

    def _run(self, name: str) -> ThingAnswer:
        run = self.plan.runs[name]
        unit = "us" if self.plan.site.rules.startswith("nec") else "metric"
        length = show(run.length, Dimension.LENGTH, "us" if unit == "us" else "metric")
        device = self.plan.site.runs[name].device
        facts = [
            Figure(label="From, to", value=f"{run.from_} to {run.to}", why=[]),
            Figure(label="Length", value=length, why=["As described in the site file."]),
            Figure(
                label="Conductors",
                value=run_sizes(self.plan, run).replace(KEEP, " "),
                why=["What is written in the site file is kept; what is missing is designed."],
            ),
            Figure(
                label="Metal of the run",
                value=listed(metal_words(self.plan, run)) or "none",
                why=["It brings a fault's current home until the device opens."],
            ),
        ]
        if device is not None:
            facts.append(Figure(label="Device", value=device_rating(str(device)), why=[]))
        links = [Link(label=w, kind=_what(self.plan, p)[0], id=p)
                 for w, p in (("From", run.from_), ("To", run.to))]  # fmt: skip
        if device is not None:
            links.append(Link(label="Device", kind="device", id=name))
        flows = self._rows(Carrier.RUN, name)
        side = "run ahead of the first disconnect" if run.supply_side else "run"
        return self._answer("run", name, side, facts=facts, flows=flows, links=links)

    def _device(self, name: str) -> ThingAnswer:
        run = self.plan.site.runs[name]
        if run.device is None:
            raise KeyError(name)
        return self._device_answer("device", name, str(run.device), run.from_)

    def _device_main(self, name: str) -> ThingAnswer:
        main = self.plan.site.places[name].main
        if main is None:
            raise KeyError(name)
        return self._device_answer("main", name, str(main), name)

    def _device_answer(self, kind: str, name: str, rating: str, at: str) -> ThingAnswer:
        facts = [Figure(label="Rating", value=rating, why=["As described in the site file."])]
        if self.result is not None:
            opening = next((o for o in self.result.openings if o.device == f"{kind} {name}"), None)
            value = "doesn't open" if opening is None else f"opens at {amps(opening.current)}"
            why = (
                ["In the chosen fault another device is sooner, or it carries too little."]
                if opening is None
                else ["See the time-current plot: the fault current on the band of the device."]
            )
            facts.append(Figure(label="In the chosen fault", value=value, why=why))
        links = [Link(label="At", kind=_what(self.plan, at)[0], id=at)]
        if kind == "device":
            links.append(Link(label="Protects", kind="run", id=name))
        about = "overcurrent device" if kind == "device" else "main of the place"
        return self._answer(kind, name, about, facts=facts, links=links)

    def _tie(self, name: str) -> ThingAnswer:
        tie = next((t for t in self.plan.ties if t.id == name), None)
        if tie is None:
            gone = next(t for t in self.desk.base.ties if t.id == name)
            return self._gone(gone)
        made = str(tie.size) if tie.size is not None else tie.form.value
        word = "belongs here" if tie.belongs else "doesn't belong here"
        facts = [
            Figure(label="Made by", value=made, why=[
                "As described in the site file." if tie.given else "Designed: the file has none."]),
            Figure(label="Resistance", value=show(tie.resistance, Dimension.RESISTANCE), why=[
                "Of the join itself: its length, its section, its metal and two contacts."]),
            Figure(label="Neutral and metal", value=word, loud=not tie.belongs, why=[
                "They are joined once in a system: at the service or first disconnect, or at the "
                "source of a separately derived one. A second join makes metal a neutral."]),
        ]  # fmt: skip
        action = Action(label="Take it off", action="take off", name=tie.id, caution=_OFF_CAUTION)
        links = [Link(label="At", kind=_what(self.plan, tie.at)[0], id=tie.at)]
        flows = self._rows(Carrier.TIE, name)
        about = "tie: a join of neutral and metal"
        return self._answer(
            "tie", name, about, facts=facts, flows=flows, links=links, actions=[action], story=True
        )

    def _gone(self, tie: PlannedTie) -> ThingAnswer:
        links = [Link(label="At", kind=_what(self.plan, tie.at)[0], id=tie.at)]
        return self._answer(
            "tie",
            tie.id,
            "a tie that was taken off on the page",
            links=links,
            actions=list(self._put_on(tie.at, "Put it back")),
            story=True,
        )

    def _slot(self, name: str) -> ThingAnswer:
        tie = next((t for t in self.plan.ties if t.at == name), None)
        if tie is not None:
            return self._tie(tie.id)
        kind, _ = _what(self.plan, name)
        return self._answer(
            "slot",
            name,
            "no tie here: neutral and metal are apart",
            links=[Link(label="At", kind=kind, id=name)],
            actions=list(self._put_on(name)),
            story=True,
        )

    def _metal(self, name: str) -> ThingAnswer:
        item = self.plan.site.metal[name]
        links = [Link(label=word, kind=_what(self.plan, place)[0], id=place)
                 for word, place in (("From", item.from_), ("To", item.to))]  # fmt: skip
        length = show(item.length, Dimension.LENGTH)
        facts = [Figure(label="Length", value=length, why=["As described in the site file."])]
        flows = self._rows(Carrier.METAL, name)
        return self._answer("metal", name, item.kind.value, facts=facts, flows=flows, links=links)

    def _electrode(self, name: str) -> ThingAnswer:
        item = self.plan.electrodes[name]
        facts = [
            Figure(
                label="To remote earth",
                value=show(item.resistance, Dimension.RESISTANCE),
                why=["As given, or from its shape and the soil. It holds voltages down; it is not "
                     "what opens a breaker."],
            ),
            Figure(
                label="Conductor",
                value=str(item.conductor) if item.conductor is not None else "not joined",
                why=[],
                loud=item.conductor is None,
            ),
        ]  # fmt: skip
        links = [Link(label="At", kind=_what(self.plan, item.at)[0], id=item.at)]
        flows = self._rows(Carrier.ELECTRODE, name)
        return self._answer(
            "electrode", name, item.kind.value, facts=facts, flows=flows, links=links
        )


def _fault_words(fault: Fault) -> str:
    if fault.kind is FaultKind.LINE_TO_EARTH:
        return f"{fault.a} to the earth"
    if fault.kind is FaultKind.THREE_LINES:
        return "three lines together"
    other = {"G": "metal", "N": "neutral"}.get(fault.b, fault.b)
    if fault.kind is FaultKind.SECOND_TO_METAL:
        return f"{fault.a} to metal, with {fault.also} on metal at {fault.also_at}"
    return f"{'neutral' if fault.a == 'N' else fault.a} to {other}"
