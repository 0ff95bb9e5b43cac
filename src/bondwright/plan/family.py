"""What a plan asks of a family of rules: the one seam between planning and any country's code.

A plan walks the site and asks, at each run, join, electrode and piece of metal, what belongs there
and how large it is; then it asks what is wrong with the whole. Each family answers in its own
modules, and the walk knows none of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from bondwright.plan.defaults import Defaults
from bondwright.plan.model import PlannedElectrode, PlannedRun, PlannedTie, ScheduleItem
from bondwright.plan.parts import Context, Part
from bondwright.rules.answer import Finding
from bondwright.rules.states import TieCount
from bondwright.rules.ties import TiePlacement
from bondwright.site.ground import Buried
from bondwright.site.states import OperatingState


@dataclass(frozen=True, slots=True)
class Whole:
    """A plan of which everything is placed and sized, and nothing judged yet.

    Attributes:
        ctx: the context.
        runs: every run, by id.
        ties: every join of neutral and metal.
        electrodes: every electrode, by id.
        placements: where joins belong.
        states: the ways the site is run.
    """

    ctx: Context
    runs: Mapping[str, PlannedRun]
    ties: tuple[PlannedTie, ...]
    electrodes: Mapping[str, PlannedElectrode]
    placements: Mapping[str, TiePlacement]
    states: Sequence[OperatingState]


@dataclass(frozen=True, slots=True)
class Judged:
    """What a family finds in a whole plan.

    Attributes:
        findings: in the order they are told.
        counts: joins of every live system in every state.
        excused: runs that may stand without a conductor, under conditions that a finding names.
        unfit: runs whose raceway a finding says doesn't do.
    """

    findings: tuple[Finding, ...]
    counts: tuple[TieCount, ...] = ()
    excused: frozenset[str] = frozenset()
    unfit: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Family:
    """A family of rules, as a plan asks it.

    Attributes:
        defaults: what is taken where a description is silent.
        resistance: of an electrode in soil of so many ohm m, ohm, where none is given.
        run: decides the conductors of a run.
        ties: decides every join of neutral and metal; parts by place.
        electrode: decides an electrode and its conductor.
        derived: what a system of the site's own needs beside its join.
        metal: bonds a piece of metal.
        area: bonds an area with rules of its own.
        direct: bonds a direct-current system.
        row: a row of the schedule as it may stand: one that the family can't judge is left open.
        judge: says what is wrong with the whole.
    """

    defaults: Callable[[], Defaults]
    resistance: Callable[[Buried, float], float]
    run: Callable[[Context, str], tuple[PlannedRun, Part]]
    ties: Callable[[Context], tuple[tuple[PlannedTie, ...], Mapping[str, Part]]]
    electrode: Callable[[Context, str], tuple[PlannedElectrode, Part]]
    derived: Callable[[Context, TiePlacement, tuple[PlannedTie, ...]], Part]
    metal: Callable[[Context, str], Part]
    area: Callable[[Context, str], Part]
    direct: Callable[[Context, str], Part]
    row: Callable[[Context, ScheduleItem], ScheduleItem]
    judge: Callable[[Whole], Judged]
