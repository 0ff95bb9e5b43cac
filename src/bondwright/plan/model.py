"""The plan: the site with every tie placed and every conductor sized."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from bondwright.catalog.edges import Point
from bondwright.catalog.raceways import RacewayDimensions
from bondwright.catalog.sizes import Conductor
from bondwright.earth.shapes import Electrode as Metalwork
from bondwright.earth.soil import Soil
from bondwright.rules.answer import Answer, Finding, Verdict, need_words
from bondwright.rules.states import TieCount
from bondwright.site.model import ArrayGrounded, ElectrodeKind, Pole, Site, TieForm
from bondwright.site.states import OperatingState
from bondwright.site.topology import Topology


class Purpose(StrEnum):
    """What a bonding or grounding conductor is for."""

    MAIN_BONDING_JUMPER = "main bonding jumper"
    SYSTEM_BONDING_JUMPER = "system bonding jumper"
    SUPPLY_SIDE_JUMPER = "supply-side bonding jumper"
    ELECTRODE_CONDUCTOR = "grounding electrode conductor"
    EQUIPMENT_GROUND = "equipment grounding conductor"
    IMPEDANCE_CONDUCTOR = "grounding impedance conductor"
    METAL_BOND = "bonding jumper to metal"
    BUSHING_JUMPER = "bonding bushing jumper"
    EQUIPOTENTIAL = "equipotential bonding conductor"
    NEUTRAL_BOND = "bond of an enclosure to the neutral"
    DC_JUMPER = "direct-current bonding jumper"

    @property
    def short(self) -> str:
        """The abbreviation used on drawings."""
        return {
            Purpose.MAIN_BONDING_JUMPER: "MBJ",
            Purpose.SYSTEM_BONDING_JUMPER: "SBJ",
            Purpose.SUPPLY_SIDE_JUMPER: "SSBJ",
            Purpose.ELECTRODE_CONDUCTOR: "GEC",
            Purpose.EQUIPMENT_GROUND: "EGC",
            Purpose.IMPEDANCE_CONDUCTOR: "impedance",
            Purpose.METAL_BOND: "BJ",
            Purpose.BUSHING_JUMPER: "bushing",
            Purpose.EQUIPOTENTIAL: "equipotential",
            Purpose.NEUTRAL_BOND: "neutral bond",
            Purpose.DC_JUMPER: "DC jumper",
        }[self]


@dataclass(frozen=True, slots=True)
class ScheduleItem:
    """One row of the jumper and conductor schedule.

    Attributes:
        id: unique within the plan, e.g. ``"EGC pump house feeder"``.
        purpose: what it is for.
        from_: what it leaves (a place, or an electrode's place).
        to: what it reaches (a place, an electrode or metal id, "neutral" or a line).
        about: id of the run, tie, electrode, metal or system it belongs to.
        required: the least size and why; None where the code asks for no size.
        chosen: the conductor that stands or is designed; None where something else does the job.
        form: how it is made: "wire", "screw", "strap", "bus", "raceway", "none".
        given: True when the description fixes it, False when the plan chose it.
        verdict: whether it holds.
        remark: by how much it falls short, or what to know, in plain words.
    """

    id: str
    purpose: Purpose
    from_: str
    to: str
    about: str
    required: Answer | None
    chosen: Conductor | None
    form: str
    given: bool
    verdict: Verdict
    remark: str = ""

    def __post_init__(self) -> None:
        need_words(self.id, self.from_, self.to, self.about, self.form, maybe=(self.remark,))


@dataclass(frozen=True, slots=True)
class PlannedTie:
    """A join of neutral and metal, as given or as designed.

    Attributes:
        id: the person's label, or the label the plan gave it.
        at: place, transformer, generator or inverter.
        form: screw, strap, wire or bus.
        size: its conductor where it is a wire.
        resistance: of the join, ohm.
        given: True when the description has it.
        belongs: whether a tie belongs here.
        line: the line that is joined to metal (a grounded corner); None for the neutral.
    """

    id: str
    at: str
    form: TieForm
    size: Conductor | None
    resistance: float
    given: bool
    belongs: bool
    line: str | None = None


@dataclass(frozen=True, slots=True)
class PlannedRun:
    """A run with every conductor decided.

    Attributes:
        id: the run's label.
        from_: where it starts.
        to: where it ends.
        length: m.
        on: line terminals it carries.
        lines: each line conductor (``sets`` in parallel per line).
        neutral: the neutral, or None.
        metal: the bonding conductor carried with it (EGC, or SSBJ on the supply side), or None.
        raceway: the metal raceway around it, or None (also for plastic).
        raceway_bonded: whether the metal raceway joins the metal at both ends.
        lie: "pulled" in a raceway, "touching" in a cable, "flat" in a flat cable, "tray",
            "triplex" or "open wire" overhead, "buried".
        supply_side: whether it lies ahead of its system's first overcurrent device.
    """

    id: str
    from_: str
    to: str
    length: float
    on: tuple[str, ...]
    lines: Conductor
    neutral: Conductor | None
    metal: Conductor | None
    raceway: RacewayDimensions | None
    raceway_bonded: bool
    lie: str
    supply_side: bool


@dataclass(frozen=True, slots=True)
class PlannedElectrode:
    """An electrode with its conductor decided.

    Attributes:
        id: the electrode's label.
        at: place whose metal it is joined to.
        kind: what it is.
        resistance: to remote earth, ohm.
        conductor: the electrode conductor; None if it isn't joined.
        lead: length of the electrode conductor, m.
    """

    id: str
    at: str
    kind: ElectrodeKind
    resistance: float
    conductor: Conductor | None
    lead: float


@dataclass(frozen=True, slots=True)
class PlannedArray:
    """An array with its direct-current circuit decided.

    Attributes:
        id: the array's label.
        at: the inverter it feeds.
        open_circuit: voltage of a string, V.
        short_circuit: current of all strings together, A.
        work_voltage: voltage of a string at greatest power, V.
        work_current: current of all strings at greatest power, A.
        length: of the circuit, m.
        lines: each of its two conductors.
        egc: its equipment grounding conductor, or None.
        grounded: how it is joined to metal at the inverter.
        pole: the conductor that is joined; None where no single one is.
        ground_fuse: rating of the ground-fault fuse, A, or None.
        monitor: residual current at which the inverter stops, A, or None.
        insulation_alarm: insulation resistance that gives the alarm, ohm, or None.
        insulation: of each conductor to metal, ohm.
    """

    id: str
    at: str
    open_circuit: float
    short_circuit: float
    work_voltage: float
    work_current: float
    length: float
    lines: Conductor
    egc: Conductor | None
    grounded: ArrayGrounded
    pole: Pole | None
    ground_fuse: float | None
    monitor: float | None
    insulation_alarm: float | None
    insulation: float


@dataclass(frozen=True, slots=True)
class Assumption:
    """A default that was taken because the description is silent.

    Attributes:
        where: id of what it is about, or "site".
        text: what was assumed, with its value.
    """

    where: str
    text: str

    def __post_init__(self) -> None:
        need_words(self.where, self.text)


@dataclass(frozen=True, slots=True)
class GroundMatrix:
    """The ground in one season.

    Attributes:
        soil: its layers then.
        resistance: potential of each electrode for an ampere into another, rows and columns in
            the order of :attr:`PlannedGround.names`, ohm.
    """

    soil: Soil
    resistance: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class PlannedGround:
    """Everything that stands in the ground of a site.

    Attributes:
        soil: the layers.
        names: ids of the electrodes, then of the neighbours' metal.
        resistance: potential of each for an ampere into another, rows and columns in that order,
            symmetric and positive definite, ohm; 0 between two of which one's place isn't known.
        shapes: the metal of those whose place is known.
        computed: what each has by itself as worked out or typical, ohm.
        factors: measured over computed resistance, of those that have both and a place.
        neighbours: ids of those that are a neighbour's.
        seasons: the same in other seasons, by name.
    """

    soil: Soil
    names: tuple[str, ...]
    resistance: tuple[tuple[float, ...], ...]
    shapes: Mapping[str, Metalwork]
    computed: Mapping[str, float]
    factors: Mapping[str, float]
    neighbours: frozenset[str]
    seasons: Mapping[str, GroundMatrix]

    def between(self, one: str, other: str) -> float:
        """Return an entry of the matrix, ohm."""
        return self.resistance[self.names.index(one)][self.names.index(other)]


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything decided about a site.

    Attributes:
        site: the description.
        topology: its supply tree, the transfer switches at normal.
        ties: every tie that stands or is designed.
        runs: every run, by id.
        electrodes: every electrode, by id.
        schedule: jumpers and conductors in walking order.
        findings: worst first.
        assumptions: defaults taken.
        soil: resistivity under the runs (that of the lowest layer), ohm m.
        ground: what stands in the ground.
        frequency: Hz.
        temperature: of the conductors, degC.
        states: the ways the site is run.
        tie_counts: for every state and every system that is live in it, its joins of neutral
            and metal.
        arrays: every array, by id.
        curves: quick and slow edge of every described curve, points of current [A] and
            time [s]; for :func:`bondwright.devices.curves.curves_of`.
    """

    site: Site
    topology: Topology
    ties: tuple[PlannedTie, ...]
    runs: Mapping[str, PlannedRun]
    electrodes: Mapping[str, PlannedElectrode]
    schedule: tuple[ScheduleItem, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    soil: float
    ground: PlannedGround
    frequency: float
    temperature: float
    states: tuple[OperatingState, ...] = ()
    tie_counts: tuple[TieCount, ...] = ()
    arrays: Mapping[str, PlannedArray] = field(default_factory=dict)
    curves: Mapping[str, tuple[tuple[Point, ...], tuple[Point, ...]]] = field(default_factory=dict)
