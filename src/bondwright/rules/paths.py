"""Whether a fault to metal has a way back to its source that is made of metal.

Earth is never counted: an electrode joins nothing here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import neutral_bonds
from bondwright.rules.editions import clause
from bondwright.rules.ties import grounded_terminal, tie_terminal
from bondwright.site.model import Place, SwitchedNeutral, TransformerForm
from bondwright.site.topology import Topology

Terminal = tuple[str, str]
"""Place or transformer or source, and "N", "G", a grounded line, or a neutral that ends there:
"NP" of a transformer's primary, "NS" of a transfer switch's open side."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands, as far as paths and ties go.

    Attributes:
        tree: the supply tree.
        ties: place of every join of neutral and metal, by id.
        with_metal: runs whose EGC, bonding jumper or metal raceway joins the metal at both ends.
    """

    tree: Topology
    ties: Mapping[str, str]
    with_metal: frozenset[str]


class MetalPaths:
    """What is joined to what by conductors and metal, the earth left out.

    Args:
        standing: what stands.
        without_ties: ids of ties to leave out.
        extra_ties: places that are to have a tie as well.
        without_metal: runs whose metal is to be left out.
        neutrals: whether neutrals count; False asks for metal alone.
    """

    def __init__(
        self,
        standing: Standing,
        *,
        without_ties: Iterable[str] = (),
        extra_ties: Iterable[str] = (),
        without_metal: Iterable[str] = (),
        neutrals: bool = True,
    ) -> None:
        self._tree = tree = standing.tree
        self._parent: dict[Terminal, Terminal] = {}
        self._grounded: dict[str, str | None] = {}
        left_out, cut = set(without_ties), set(without_metal)
        site = tree.site
        for name, run in site.runs.items():
            if name in standing.with_metal and name not in cut:
                self._join((run.from_, "G"), (run.to, "G"))
            if neutrals and tree.has_neutral(name):
                self._join((run.from_, "N"), (run.to, _neutral_end(tree, name)))
        if neutrals and any(tie.line is not None for tie in (site.ties or {}).values()):
            self._join_grounded_lines()
        for metal in site.metal.values():
            self._join((metal.from_, "G"), (metal.to, "G"))
            for tap in metal.taps:
                self._join((metal.from_, "G"), (tap.to, "G"))
        if neutrals:
            for tie, at in standing.ties.items():
                if tie not in left_out:
                    self._join((at, tie_terminal(tree, tie, at)), (at, "G"))
            for at in extra_ties:
                self._join((at, self._terminal(at) or "N"), (at, "G"))

    def _terminal(self, place: str) -> str | None:
        """What of the system at a place is grounded."""
        origin = self._tree.systems[place].origin
        if origin not in self._grounded:
            self._grounded[origin] = grounded_terminal(self._tree, origin)
        return self._grounded[origin]

    def _join_grounded_lines(self) -> None:
        tree = self._tree
        for name, run in tree.site.runs.items():
            line = self._terminal(run.from_)
            ends = run.to in tree.site.transformers or name in tree.idle
            if line not in (None, "N") and line in tree.lines_of(name) and not ends:
                self._join((run.from_, line), (run.to, line))

    def _root(self, terminal: Terminal) -> Terminal:
        path = []
        while (above := self._parent.get(terminal, terminal)) != terminal:
            path.append(terminal)
            terminal = above
        for passed in path:
            self._parent[passed] = terminal
        return terminal

    def _join(self, a: Terminal, b: Terminal) -> None:
        self._parent[self._root(a)] = self._root(b)

    def joined(self, a: Terminal, b: Terminal) -> bool:
        """Whether two terminals are joined."""
        return self._root(a) == self._root(b)

    def returns(self, place: str) -> bool:
        """Whether the metal of a place is joined to the neutral of the system that is there.

        For a transformer that is its secondary; where a corner is grounded, its line counts as
        the neutral. Always False on a system of which nothing is grounded.
        """
        terminal = self._terminal(place) or "N"
        return self.joined((place, "G"), (self._tree.systems[place].origin, terminal))


def _neutral_end(tree: Topology, run: str) -> str:
    """Return the terminal that a run's neutral lands on."""
    to = tree.site.runs[run].to
    unit, switch = tree.site.transformers.get(to), tree.site.transfers.get(to)
    if unit is not None:
        return "N" if unit.form is TransformerForm.AUTO else "NP"
    if switch is not None and run in tree.idle and switch.neutral is SwitchedNeutral.SWITCHED:
        return "NS"
    return "N"


def behind(tree: Topology, run: str) -> tuple[str, ...]:
    """Return everything a run supplies, nearest first."""
    found: dict[str, None] = {}
    waiting = [tree.site.runs[run].to]
    while waiting:
        name = waiting.pop(0)
        if name in found:
            continue
        found[name] = None
        waiting.extend(tree.site.runs[further].to for further in tree.feeds.get(name, []))
    return tuple(found)


def path_findings(
    standing: Standing, required_ties: Iterable[str], excused: Iterable[str], rules: str
) -> tuple[Finding, ...]:
    """Return a finding for every run whose faults have no way back, or a wrong one.

    Args:
        standing: what stands.
        required_ties: places that must have a tie; their absence is a finding of its own and
            doesn't hide here that a run has no metal.
        excused: runs judged elsewhere (:func:`bondwright.rules.ties.tie_findings`).
        rules: name of the rule set.
    """
    tree, pardoned = standing.tree, set(excused)
    paths = MetalPaths(standing, extra_ties=required_ties)
    metal = MetalPaths(standing, neutrals=False)
    found = []
    for name, run in tree.site.runs.items():
        if name in standing.with_metal or neutral_bonds(tree, name):
            continue
        ends = ((run.from_, "G"), (run.to, "G"))
        if not paths.joined(*ends):
            if not _nothing_to_touch(tree, run.to):
                found.append(_no_path(tree, name, rules))
        elif name not in pardoned:
            terminal = grounded_terminal(tree, tree.system_of_run(name).origin)
            conductor = (
                "the neutral" if terminal in ("N", None) else f"the grounded line {terminal}"
            )
            way = _OTHER_METAL if metal.joined(*ends) else conductor
            found.append(_wrong_path(tree, name, way, rules))
    return (*found, *_service_neutral(tree, rules))


def _nothing_to_touch(tree: Topology, name: str) -> bool:
    node = tree.node(name)
    plastic = isinstance(node, Place) and node.enclosure == "nonmetallic"
    return plastic and not tree.feeds.get(name)


def _no_path(tree: Topology, run: str, rules: str) -> Finding:
    described = tree.site.runs[run]
    on_supply = run in tree.supply_side_runs
    what = "supply-side bonding jumper" if on_supply else "equipment grounding conductor"
    article = "a" if on_supply else "an"
    places = behind(tree, run)
    names = ", ".join(places[:6]) + (f" and {len(places) - 6} more" if len(places) > 6 else "")
    text = (
        f"The run {run!r} has neither a wire nor a metal raceway that joins the metal of "
        f"{described.from_} and {described.to}. A line that touches metal there makes it live "
        f"and nothing opens: no breaker sees enough current. This concerns: {names}. The earth "
        "is not a way back; a ground rod does not help."
    )
    if grounded_terminal(tree, tree.system_of_run(run).origin) is None:
        text += " On an ungrounded system it is the second fault that must find this way."
    return Finding(
        "fault-path",
        Severity.DANGER,
        run,
        f"no {what}: a fault has no path back",
        text,
        f"Keep it off until {article} {what} runs with the line conductors of {run!r} and is "
        "joined at both ends.",
        clause("fault-path", rules),
    )


_OTHER_METAL = "other metal"


def _wrong_path(tree: Topology, run: str, way: str, rules: str) -> Finding:
    if run in tree.supply_side_runs:
        rule, what = "supply-side-jumper-missing", "supply-side bonding jumper"
        title = "enclosures of a derived system not joined"
    else:
        rule, what = "equipment-ground-missing", "equipment grounding conductor"
        title = "no equipment grounding conductor with the circuit"
    text = f"The run {run!r} has no {what} of its own. A fault comes back over {way} only."
    if way != _OTHER_METAL:
        text += (
            " If that conductor opens, all metal behind it becomes live through whatever is "
            "switched on. The tie that makes this path must not be taken out before another "
            "path stands."
        )
    else:
        text += (
            " Pipe and steel are too far from the line conductors to carry enough current, and "
            "may be cut or replaced by plastic at any time."
        )
    return Finding(
        rule,
        Severity.FALLS_SHORT,
        run,
        title,
        text,
        f"Run the {what} with the line conductors of {run!r}, and join it at both ends.",
        clause(rule, rules),
    )


def _service_neutral(tree: Topology, rules: str) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "service-neutral",
            Severity.DANGER,
            name,
            "neutral not brought to the service disconnect",
            f"{tree.systems[name].voltages} is a grounded system, but no neutral reaches {name}. "
            "Ahead of the first disconnect the neutral is the fault path, even where no load "
            "needs it.",
            "Bring the grounded conductor to every service disconnect and join it to the metal "
            "there. Ahead of the meter that is the utility's work: call them.",
            clause("service-neutral", rules),
        )
        for origin in tree.site.sources
        if tree.systems[origin].voltages.has_neutral
        for name in tree.first_disconnects.get(origin, ())
        if not tree.neutral_at(name)
    )


def earth_findings(
    standing: Standing, electrodes: Mapping[str, str], rules: str
) -> tuple[Finding, ...]:
    """Return a finding for every electrode that is all the way back that metal has.

    Args:
        standing: what stands.
        electrodes: place of every joined electrode, by id.
        rules: name of the rule set.
    """
    paths = MetalPaths(standing)
    return tuple(
        Finding(
            "earth-not-a-path",
            Severity.DANGER,
            name,
            "an electrode is no fault path",
            f"The metal of {at} is joined to the earth by {name!r}, but by no metal to the "
            "neutral of its source. Through the earth flow a few amperes, not enough to open a "
            "breaker: the metal stays live. More or better rods don't mend that.",
            "Mend the metal path (see the finding on the missing tie or conductor). Leave the "
            "electrode where it is.",
            clause("earth-not-a-path", rules),
        )
        for name, at in electrodes.items()
        if grounded_terminal(standing.tree, standing.tree.systems[at].origin) is not None
        and not paths.returns(at)
    )
