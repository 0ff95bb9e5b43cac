"""What is said of the ground in a fault: touch, step and transferred voltages, seasons, a map."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bondwright.earth.shapes import Place
from bondwright.earth.soil import Array
from bondwright.plan.model import PlannedGround
from bondwright.rules.answer import Verdict
from bondwright.studies.fault_model import Fault
from bondwright.studies.ground_parts import Brings, ElectrodeRow


@dataclass(frozen=True, slots=True)
class TouchAt:
    """Metal that a person touches from the ground beside it.

    Attributes:
        what: the place or the piece of metal.
        x_m: where the worst is [m].
        y_m: [m].
        metal_v: of the metal to remote earth [V].
        ground_v: of the ground there [V].
        touch_v: between the two [V].
        limit_v: the most that is borne for so long [V].
        verdict: of the two.
    """

    what: str
    x_m: float
    y_m: float
    metal_v: float
    ground_v: float
    touch_v: float
    limit_v: float
    verdict: Verdict


@dataclass(frozen=True, slots=True, eq=False)
class GroundMap:
    """The ground around some electrodes in one fault.

    Attributes:
        names: the electrodes.
        x_m: shape (nx,) [m].
        y_m: shape (ny,) [m].
        ground_v: magnitude against remote earth, shape (ny, nx) [V].
        touch_v: of that metal of theirs that rises most, if it led there, shape (ny, nx) [V].
        step_v: the worst pace from each point, shape (ny, nx) [V].
        metal: the electrode whose metal rises most.
        metal_v: how high [V].
        step_worst_v: [V].
        step_at_m: where.
        step_limit_v: [V].
        step_verdict: against it.
    """

    names: tuple[str, ...]
    x_m: Array
    y_m: Array
    ground_v: Array
    touch_v: Array
    step_v: Array
    metal: str
    metal_v: float
    step_worst_v: float
    step_at_m: Place
    step_limit_v: float
    step_verdict: Verdict


@dataclass(frozen=True, slots=True)
class SeasonRise:
    """The same fault in another season.

    Attributes:
        season: its name.
        total_a: current into the earth [A].
        rise_v: of the metal that rises most [V].
        resistance_ohm: of all joined electrodes together [ohm].
    """

    season: str
    total_a: float
    rise_v: float
    resistance_ohm: float


@dataclass(frozen=True, slots=True, eq=False)
class GroundFault:
    """What one fault does to the ground.

    Attributes:
        fault: what happens.
        clearing_s: how long it lasts; infinite if nothing opens [s].
        fault_a: current of the fault [A].
        total_a: current into the earth through our electrodes, as a sum of phasors [A].
        currents_a: into each electrode [A].
        rise_v: of each electrode's metal, a neighbour's too [V].
        touch: metal of places whose position is known, worst first.
        transfer: metal that leads away, where it is worst, worst first.
        seasons: the same in other seasons.
        maps: the ground around, around the metal that rises most first; none where no
            electrode's place is known.
    """

    fault: Fault
    clearing_s: float
    fault_a: float
    total_a: float
    currents_a: Mapping[str, float]
    rise_v: Mapping[str, float]
    touch: tuple[TouchAt, ...]
    transfer: tuple[TouchAt, ...]
    seasons: tuple[SeasonRise, ...]
    maps: tuple[GroundMap, ...]

    @property
    def drawn(self) -> GroundMap | None:
        """The map around the metal that rises most; None where there is none."""
        return self.maps[0] if self.maps else None

    @property
    def stepped(self) -> GroundMap | None:
        """The map that has the worst pace; None where there is none."""
        return max(self.maps, key=lambda one: one.step_worst_v, default=None)


@dataclass(frozen=True, slots=True, eq=False)
class GroundStudy:
    """Everything about the ground of a site.

    Attributes:
        ground: the matrix and the shapes.
        rows: every electrode.
        joined: ids of those joined to our metal.
        resistance_ohm: of the joined ones together [ohm]; None for none.
        apart_ohm: what they would make if they did not disturb each other [ohm].
        brings: what each further piece adds.
        faults: worst first.
    """

    ground: PlannedGround
    rows: tuple[ElectrodeRow, ...]
    joined: tuple[str, ...]
    resistance_ohm: float | None
    apart_ohm: float | None
    brings: tuple[Brings, ...]
    faults: tuple[GroundFault, ...]
