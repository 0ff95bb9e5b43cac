"""Ties counted in every operating state: none is worse than two.

In each state every live system must have its neutral joined to metal once. Which ties reach it
depends on the transfer switches: one that doesn't open the neutral leaves the ties of both its
supplies joined to both, one that does takes them apart. The joins ahead of a service disconnect
and at it are one set and count once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.editions import clause
from bondwright.rules.inputs import ProtectiveDevice
from bondwright.rules.paths import MetalPaths, Standing
from bondwright.rules.protection import equipment_protection
from bondwright.rules.tie_findings import load_side
from bondwright.rules.ties import (
    NEUTRAL,
    TiePlacement,
    grounded_terminal,
    leader,
    tie_terminal,
    ties_lacking,
    ties_that_belong,
    where_ties_belong,
)
from bondwright.site.model import Position, SwitchedNeutral
from bondwright.site.states import OperatingState
from bondwright.site.topology import Topology


@dataclass(frozen=True, slots=True)
class TieCount:
    """How often the neutral of one live system is joined to metal in one state.

    Attributes:
        state: id of the state.
        origin: the source, generator, inverter or transformer that makes the system.
        terminal: what is joined: "N", or the line of a grounded corner; None where nothing of
            the system is grounded, and nothing is to be joined.
        supply: joins at the service disconnects and ahead of them, one tuple for each utility
            whose neutral is joined; each tuple counts once.
        others: every other join that the neutral reaches.
    """

    state: str
    origin: str
    terminal: str | None
    supply: tuple[tuple[str, ...], ...]
    others: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of joins."""
        return len(self.supply) + len(self.others)

    @property
    def ties(self) -> tuple[str, ...]:
        """Ids of all ties that make the joins."""
        return (*(tie for one in self.supply for tie in one), *self.others)

    @property
    def verdict(self) -> Verdict:
        """Holds with exactly one join, or where the system is ungrounded."""
        right = self.terminal is None or self.count == 1
        return Verdict.HOLDS if right else Verdict.FALLS_SHORT

    @property
    def severity(self) -> Severity | None:
        """How bad it is: none is worse than two; None where it holds."""
        if self.verdict is Verdict.HOLDS:
            return None
        return Severity.DANGER if self.count == 0 else Severity.FALLS_SHORT


def tie_counts(
    standing: Standing,
    states: Iterable[OperatingState],
    placements: Mapping[str, TiePlacement] | None = None,
) -> tuple[TieCount, ...]:
    """Count the joins of every live system in every state.

    Args:
        standing: what stands; its tree is that of normal running.
        states: of the same site.
        placements: where joins belong; None takes those of the NEC.
    """
    if placements is None:
        placements = where_ties_belong(standing.tree)
    service = {
        name: placements[name].allowed for name in standing.tree.site.sources if name in placements
    }
    return tuple(
        _count(standing, state, origin, service) for state in states for origin in state.systems
    )


def _count(
    standing: Standing, state: OperatingState, origin: str, service: dict[str, frozenset[str]]
) -> TieCount:
    tree = state.topology
    terminal = grounded_terminal(tree, origin)
    if terminal is None:
        return TieCount(state.id, origin, None, (), ())
    here = dict(_joins(standing, tree, origin, terminal))
    supply: list[tuple[str, ...]] = []
    taken: set[str] = set()
    for source, allowed in service.items():
        if source != origin and not tree.neutrals_joined(source, origin):
            continue
        ties = tuple(
            tie
            for tie, at in here.items()
            if at in allowed and tie not in taken and tie_terminal(tree, tie, at) == terminal
        )
        if ties:
            supply.append(ties)
            taken.update(ties)
    # With the utility's neutral cut off, a service disconnect may still serve another source.
    others = tuple(tie for tie in here if tie not in taken)
    return TieCount(state.id, origin, terminal, tuple(supply), others)


def _joins(
    standing: Standing, tree: Topology, origin: str, terminal: str
) -> Iterator[tuple[str, str]]:
    for tie, at in standing.ties.items():
        own = tie_terminal(tree, tie, at)
        if at not in tree.systems or (own == NEUTRAL) != (terminal == NEUTRAL):
            continue
        if terminal == NEUTRAL:
            if tree.neutrals_joined(at, origin):
                yield tie, at
        elif tree.systems[at].origin == origin and own in tree.lines_at(at):
            yield tie, at


# --- findings ------------------------------------------------------------------------------


def state_findings(
    standing: Standing, counts: Iterable[TieCount], rules: str
) -> tuple[Finding, ...]:
    """Return a finding for every system that some state leaves with no tie, or with several.

    What :func:`bondwright.rules.tie_findings.tie_findings` says already is not said again.

    Args:
        standing: what stands.
        counts: from :func:`tie_counts`.
        rules: name of the rule set.
    """
    tree = standing.tree
    if not (tree.site.transfers or tree.site.generators or tree.site.inverters):
        return ()
    placements = where_ties_belong(tree)
    keep = ties_that_belong(tree, standing.ties)
    told = load_side(standing, placements, keep)
    none: dict[str, list[TieCount]] = {}
    several: dict[frozenset[str], list[TieCount]] = {}
    for one in counts:
        if one.terminal is None:
            continue
        placement = placements.get(leader(tree, one.origin))
        missing = placement is not None and ties_lacking(placement, standing.ties.values())
        beside = [tie for tie in one.others if tie not in told]
        if one.count == 0 and not missing:
            none.setdefault(one.origin, []).append(one)
        elif len(one.supply) + len(beside) > 1 and one.origin not in tree.site.transformers:
            several.setdefault(frozenset(one.ties) - told, []).append(one)
    return (
        *(_none(origin, found, rules) for origin, found in none.items()),
        *(_several(standing, ties, found, keep, rules) for ties, found in several.items()),
        *_sensors(tree, rules),
    )


def _in_states(counts: Iterable[TieCount]) -> str:
    names = list(dict.fromkeys(repr(one.state) for one in counts))
    return f"state{'s' if len(names) > 1 else ''} {', '.join(names)}"


def _none(origin: str, counts: list[TieCount], rules: str) -> Finding:
    return Finding(
        "state-tie-none",
        Severity.DANGER,
        origin,
        f"no join of neutral and metal when {origin} supplies",
        f"In {_in_states(counts)} nothing joins the neutral of {origin} to metal. A line that "
        "touches metal then makes all metal live, and no breaker opens. That is worse than two "
        "joins. A ground rod doesn't replace the join.",
        f"Don't run it from {origin} until one join serves it in this state: at {origin} itself "
        "where a transfer switch opens its neutral, else over a neutral that stays joined to the "
        "service.",
        clause("state-tie-none", rules),
    )


def _several(
    standing: Standing,
    ties: frozenset[str],
    counts: list[TieCount],
    keep: frozenset[str],
    rules: str,
) -> Finding:
    tree = standing.tree
    names = [tie for tie in standing.ties if tie in ties]
    supply = {tie for one in counts for group in one.supply for tie in group}
    stay = next((tie for tie in names if tie in supply), None) or next(
        (tie for tie in names if tie in keep), names[0]
    )
    drop = [tie for tie in names if tie != stay and tie not in supply] or names[1:]
    solid = [n for n, t in tree.site.transfers.items() if t.neutral is SwitchedNeutral.SOLID]
    places = ", ".join(f"{tie!r} at {standing.ties[tie]}" for tie in names)
    text = (
        f"In {_in_states(counts)} one neutral is joined to metal more than once: {places}. Part "
        "of the neutral current then comes back over metal in normal use, and a ground-fault "
        "sensor is passed by."
    )
    ways = []
    away = " and ".join(repr(tie) for tie in drop)
    paths = MetalPaths(standing, without_ties=drop)
    bare = [standing.ties[tie] for tie in drop if not paths.returns(standing.ties[tie])]
    crossed = _while_changing(tree, counts)
    if crossed:
        return Finding(
            "state-tie-twice",
            Severity.NOTE,
            crossed[0],
            "neutral joined to metal more than once while changing over",
            f"{text} Each supply is grounded on its own, as it has to be when it supplies alone, "
            f"and {' and '.join(crossed)} joins the neutrals while it stands on both.",
            "For the moment of a changeover that is how such a switch works. It is no way to run: "
            "for sources that stay in parallel use one neutral that is never opened, and one join. "
            "Take neither join out: each is the only one when its source supplies alone.",
            clause("state-tie-twice", rules),
        )
    if not bare:
        there = " and ".join(dict.fromkeys(standing.ties[tie] for tie in drop))
        ways.append(
            f"with every supply off, and after proving that metal joins {there} with "
            f"{standing.ties[stay]}, take {away} out and keep {stay!r}"
        )
    else:
        ways.append(
            f"don't take {away} out yet: no other metal path joins {' and '.join(bare)} to the "
            f"neutral. First run a bonding conductor to {standing.ties[stay]}"
        )
    on_site = any(tree.root(standing.ties[tie]) not in tree.site.sources for tie in drop)
    if solid and on_site:
        text += f" {' and '.join(solid)} leaves the neutrals joined."
    if solid and on_site and supply:
        ways.append(
            f"use a transfer switch with a pole for the neutral in place of {' and '.join(solid)}; "
            "then the source on site is a system of its own, and keeps its own tie"
        )
    cure = "; or ".join(ways)
    return Finding(
        "state-tie-twice",
        Severity.FALLS_SHORT,
        drop[0],
        "neutral joined to metal more than once",
        text,
        f"{cure[:1].upper()}{cure[1:]}.",
        clause("state-tie-twice", rules),
    )


def _while_changing(tree: Topology, counts: Iterable[TieCount]) -> list[str]:
    """Return the switches of which both sides' neutrals join in all these states, and only there.

    These are transfer switches with a pole for the neutral that stand on both supplies.
    """
    found: list[str] = []
    for one in counts:
        state = tree.site.states.get(one.state)
        switches = [] if state is None else [
            name
            for name, at in state.transfers.items()
            if at is Position.BOTH
            and tree.site.transfers[name].neutral is SwitchedNeutral.SWITCHED
        ]  # fmt: skip
        if not switches:
            return []
        found += [name for name in switches if name not in found]
    return found


def _sensors(tree: Topology, rules: str) -> Iterator[Finding]:
    """Ground-fault sensors at a service whose neutral a transfer switch joins to a generator's."""
    for source in tree.site.sources:
        for name in tree.first_disconnects.get(source, ()):
            main = tree.site.places[name].main
            system = tree.systems[source].voltages
            if main is None:
                continue
            if not equipment_protection(system, ProtectiveDevice(main), rules).required:
                continue
            joined = [
                other
                for other in tree.roots
                if other not in tree.site.sources and tree.neutrals_joined(source, other)
            ]
            if joined:
                yield Finding(
                    "sensor-and-transfer",
                    Severity.NOTE,
                    name,
                    "ground-fault sensor ahead of a neutral that isn't switched",
                    f"The neutral of {', '.join(joined)} stays joined to that of the service. A "
                    f"fault while {joined[0]} supplies comes back by the service's tie, through "
                    f"the sensor of {name}: it may open a main that feeds nothing, and doesn't "
                    f"stop the fault. Only the devices of {joined[0]} do.",
                    "A transfer switch with a pole for the neutral, and a tie at the source on "
                    "site, avoids that; so does a sensor scheme made for several sources.",
                    clause("sensor-and-transfer", rules),
                )
