"""What the ribbon picture says: the words and numbers beside every station and run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from bondwright.draw.lettering import KEEP, width, wrap
from bondwright.draw.svg import ALARM, INK, SOFT
from bondwright.explain.dialect import purpose_short
from bondwright.plan.model import Plan, PlannedRun, Purpose
from bondwright.rules.families import placements, unit_system
from bondwright.rules.iec.intake import tails
from bondwright.rules.ties import ties_lacking
from bondwright.site.model import Generator, Inverter, Place, Source, Transfer, Transformer
from bondwright.studies.flows import Carrier, Flow
from bondwright.units import Dimension, show

TITLE: Final = 13.0
"""Font size of ids, px."""
SMALL: Final = 11.0
"""Font size of everything else, px."""
LEADING: Final = 13.0
"""From line to line, px."""
QUIET_A: Final = 0.05
"""Current in metal below which it is not called out, A: below the resolution of a clamp meter."""

NOTHING_A: Final = 5e-4
"""Current written as 0 A: what the network's assumed stray capacitance lets through, A."""

TieState = Literal["stands", "wrong", "missing", "free"]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text; ``key`` names it where it is to be changed later."""

    text: str
    bold: bool = False
    fill: str = INK
    key: str = ""


@dataclass(frozen=True, slots=True)
class TieMark:
    """A tie to be drawn: its id ("" for a missing one), how it stands, what is written about it."""

    id: str
    state: TieState
    text: str


@dataclass(slots=True)
class Station:
    """What is said about a place.

    Attributes:
        name: its id.
        mark: which little shape stands before the id.
        about: kind, rating, loads.
        notes: what else is to be known, worst first.
        ties: ties here.
        tags: short names of electrodes and metal that are drawn along the foot.
        title: the whole text.
    """

    name: str
    mark: str
    about: str
    notes: list[Line] = field(default_factory=list)
    ties: list[TieMark] = field(default_factory=list)
    tags: list[str] = field(default_factory=list)
    title: str = ""


@dataclass(frozen=True, slots=True)
class Currents:
    """Currents by what carries them, phasors of equal direction summed, A.

    Attributes:
        runs: by run id and terminal (parallel sets and metal in one run together).
        ties: by tie id.
        electrodes: by electrode id.
        metal: by metal id.
    """

    runs: Mapping[tuple[str, str], float]
    ties: Mapping[str, float]
    electrodes: Mapping[str, float]
    metal: Mapping[str, float]

    @property
    def greatest(self) -> float:
        """The greatest of all, A."""
        tables: tuple[Iterable[float], ...] = (
            self.runs.values(),
            self.ties.values(),
            self.electrodes.values(),
            self.metal.values(),
        )
        return max((value for table in tables for value in table), default=0.0)


def currents(flows: Sequence[Flow]) -> Currents:
    """Gather the currents of a solution."""
    runs: dict[tuple[str, str], complex] = {}
    single: dict[Carrier, dict[str, complex]] = {
        Carrier.TIE: {},
        Carrier.ELECTRODE: {},
        Carrier.METAL: {},
    }
    for flow in flows:
        if flow.carrier is Carrier.RUN:
            key = (flow.id, flow.terminal)
            runs[key] = runs.get(key, 0j) + flow.current
        else:
            single[flow.carrier][flow.id] = flow.current

    def sizes(table: Mapping[str, complex]) -> dict[str, float]:
        return {key: abs(value) for key, value in table.items()}

    return Currents(
        {key: abs(value) for key, value in runs.items()},
        sizes(single[Carrier.TIE]),
        sizes(single[Carrier.ELECTRODE]),
        sizes(single[Carrier.METAL]),
    )


def amperes(value: float) -> str:
    """Write a current for a person."""
    return show(value if value >= NOTHING_A else 0.0, Dimension.CURRENT, digits=3)


def kept(text: str) -> str:
    """Hold a text together on one line."""
    return text.replace(" ", KEEP)


def stations(plan: Plan, now: Currents | None) -> dict[str, Station]:
    """Return what is said about every source, transformer and place, in walking order."""
    found = {name: _station(plan, name) for name in all_nodes(plan)}
    rules = plan.site.rules
    short = {item.about: purpose_short(item.purpose, rules) for item in plan.schedule}
    for tie in plan.ties:
        if tie.at not in found:
            continue
        how = str(tie.size) if tie.size is not None else tie.form.value
        text = f"{short.get(tie.id, 'tie')}: {how}"
        state: TieState = "stands" if tie.belongs else "wrong"
        if state == "wrong":
            text = f"tie where none belongs: {how}"
        if now is not None and tie.id in now.ties:
            text += f" · {amperes(now.ties[tie.id])}"
        found[tie.at].ties.append(TieMark(tie.id, state, text))
    for run in idle_runs(plan):
        from_, to = run.from_, run.to
        if from_ in found and to in found:
            found[from_].notes.append(Line(f"stands by for {to}: {run.id}", False, SOFT))
            found[to].notes.append(Line(f"standing by: {run.id} from {from_}", False, SOFT))
    for place in missing_ties(plan):
        if place in found:
            found[place].ties.append(TieMark("", "missing", "no tie: one belongs here"))
    for station in found.values():
        for mark in station.ties:
            fill = INK if mark.state == "stands" else ALARM
            station.notes.append(Line(mark.text, mark.state != "stands", fill))
        station.notes.sort(key=lambda line: line.fill != ALARM)
        station.title = "; ".join([station.name, station.about, *(n.text for n in station.notes)])
    return found


def all_nodes(plan: Plan) -> tuple[str, ...]:
    """Return every source, transformer and place, those that nothing feeds last."""
    site = plan.site
    everything = (
        *site.sources,
        *site.generators,
        *site.inverters,
        *site.transfers,
        *site.transformers,
        *site.places,
    )
    return tuple(dict.fromkeys((*plan.topology.order, *everything)))


def idle_runs(plan: Plan) -> tuple[PlannedRun, ...]:
    """Return the runs that lead to a place which another run feeds (a transfer switch's)."""
    feeding = set(plan.topology.fed_by.values())
    return tuple(run for name, run in plan.runs.items() if name not in feeding)


def missing_ties(plan: Plan) -> tuple[str, ...]:
    """Return the places that lack a tie that belongs there."""
    # A join at a source is part of the source.
    standing = [*(tie.at for tie in plan.ties), *plan.site.sources]
    found: dict[str, None] = {}
    for placement in placements(plan.topology).values():
        if placement.allowed and placement.required:
            found.update(dict.fromkeys(ties_lacking(placement, standing)))
    return tuple(found)


def _station(plan: Plan, name: str) -> Station:
    node = plan.topology.node(name)
    if isinstance(node, Source):
        parts = ["supply", str(node.system)]
        if node.transformer is not None:
            parts.append(show(node.transformer.rating, Dimension.APPARENT_POWER))
        elif node.available is not None:
            parts.append(f"{amperes(node.available.current)} available")
        return Station(name, "source", _joined(parts))
    if isinstance(node, Transformer):
        rating = show(node.rating, Dimension.APPARENT_POWER)
        parts = ["transformer", rating, f"{node.primary} to {node.secondary}"]
        return Station(name, "transformer", _joined(parts))
    if isinstance(node, Generator | Inverter):
        mark = "generator" if isinstance(node, Generator) else "inverter"
        rating = show(node.rating, Dimension.APPARENT_POWER)
        return Station(name, mark, _joined([mark, str(node.system), rating, *_arrays(plan, name)]))
    if isinstance(node, Transfer):
        parts = ["transfer switch", f"neutral {node.neutral.value}"]
        return Station(name, "transfer", _joined(parts))
    return Station(name, node.kind.value, _joined(_about_place(node)))


def _arrays(plan: Plan, inverter: str) -> Iterator[str]:
    for array in plan.arrays.values():
        if array.at == inverter:
            yield f"array {show(array.open_circuit, Dimension.VOLTAGE)} dc"


def _about_place(node: Place) -> Iterator[str]:
    yield node.kind.value
    if node.main is not None:
        yield f"main {node.main}"
    if node.loads:
        yield show(sum(load.power for load in node.loads), Dimension.REAL_POWER)
    if node.enclosure == "nonmetallic":
        yield "nonmetallic"


def _joined(parts: Iterable[str]) -> str:
    return " · ".join(kept(part) for part in parts)


def metal_words(plan: Plan, run: PlannedRun) -> list[str]:
    """Return what serves as bonding metal along a run, in the words of its readers."""
    kind = Purpose.SUPPLY_SIDE_JUMPER if run.supply_side else Purpose.EQUIPMENT_GROUND
    word = purpose_short(kind, plan.site.rules)
    words = [f"{word} {run.metal}"] if run.metal is not None else []
    if run.raceway is not None:
        pipe = f"{run.raceway.kind.value.upper()} {run.raceway.trade_size}"
        if run.raceway.kind.is_metal and run.raceway_bonded:
            words.append(pipe if words else f"{word} {pipe}")
        elif run.raceway.kind.is_metal:
            words.append(f"{pipe} not joined")
        else:
            words.append(f"in {pipe}")
    if not words and not run.supply_side and not _without_metal(plan, run):
        words.append(f"no {word}")
    return words


def _without_metal(plan: Plan, run: PlannedRun) -> bool:
    """Whether a run has none by intention: the tails of a supply that brings no earth."""
    if plan.site.earthing not in ("TT", "IT"):
        return False
    return any(run.id in tails(plan.topology, source) for source in plan.site.sources)


def run_sizes(plan: Plan, run: PlannedRun) -> str:
    """Return a run's conductors in a line: "4 AWG Cu · N 4 AWG Cu · EGC 8 AWG Cu"."""
    parts = [str(run.lines)]
    if run.neutral is not None:
        parts.append(f"N {run.neutral}")
    return _joined([*parts, *metal_words(plan, run)])


def run_lines(plan: Plan, run: PlannedRun, room: float) -> list[Line]:
    """Return the main lines of a run's label."""
    device = plan.site.runs[run.id].device
    about = [show(run.length, Dimension.LENGTH, "us" if us(plan) else "metric")]
    if device is not None:
        about.insert(0, str(device))
    return [
        *(Line(text, True) for text in wrap(run.id, room, SMALL, 1, True)),
        *(Line(text) for text in wrap(_joined(about), room, SMALL, 2)),
        *(Line(text, False, SOFT) for text in wrap(run_sizes(plan, run), room, SMALL, 3)),
    ]


def us(plan: Plan) -> bool:
    """Whether lengths are written in feet."""
    return unit_system(plan.site.rules) == "us"


def current_lines(run: PlannedRun, now: Currents | None, room: float, *, fault: bool) -> list[Line]:
    """Return the lines of a run's label that tell its currents."""
    if now is None:
        return []
    parts = [
        f"{terminal} {amperes(now.runs[run.id, terminal])}"
        for terminal in ("L1", "L2", "L3", "N")
        if (run.id, terminal) in now.runs
        and not (fault and now.runs[run.id, terminal] < 1e-3 * now.greatest)
    ]
    lines = [Line(text, True) for text in wrap(_joined(parts), room, SMALL, 2, True)]
    metal = now.runs.get((run.id, "G"))
    if metal is not None and not (fault and metal < 1e-3 * now.greatest):
        loud = not fault and metal >= QUIET_A
        fill = ALARM if loud else INK
        lines += [
            Line(t, True, fill) for t in wrap(f"metal {amperes(metal)}", room, SMALL, 1, True)
        ]
    return lines


def run_title(plan: Plan, run: PlannedRun) -> str:
    """Return everything a run's label would say with room enough."""
    device = plan.site.runs[run.id].device
    start = f"{run.id}: {run.from_} to {run.to}; "
    if device is not None:
        start += f"{device}; "
    length = show(run.length, Dimension.LENGTH, "us" if us(plan) else "metric")
    return f"{start}{run_sizes(plan, run).replace(KEEP, ' ')} · {length}"


def widest(lines: Iterable[Line], size: float = SMALL) -> float:
    """Return the width of the widest line, px."""
    return max((width(line.text, size, line.bold) for line in lines), default=0.0)
