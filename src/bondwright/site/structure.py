"""Who refers to whom in a description: loose ends, loops, places fed twice or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from bondwright.site.model import Site
from bondwright.site.shape import did_you_mean, nearest
from bondwright.site.topology import Problem

NODE_TABLES: Final = (
    "sources",
    "generators",
    "inverters",
    "transformers",
    "transfers",
    "places",
)
"""Tables whose ids are one family: what runs go between."""
MOST_RUNS: Final = 1000
"""Most runs in a row between a source and a place."""
MOST_GUESSES: Final = 100
"""Most loose ends for which a right spelling is looked for."""

_ONE: Final = {
    "sources": "source",
    "generators": "generator",
    "inverters": "inverter",
    "transformers": "transformer",
    "transfers": "transfer switch",
    "places": "place",
    "runs": "run",
    "ties": "tie",
    "electrodes": "electrode",
    "metal": "piece of metal",
    "arrays": "array",
    "areas": "area",
    "direct current": "direct-current system",
}
REFERENCES: Final[Mapping[str, tuple[str, ...]]] = {
    "runs": ("from", "to"),
    "ties": ("at",),
    "electrodes": ("at",),
    "metal": ("from", "to"),
    "transfers": ("normal", "standby"),
    "arrays": ("at",),
    "areas": ("at",),
    "direct current": ("at",),
}
"""Keys of each table that name something with terminals; a transfer switch names runs."""


@dataclass(frozen=True, slots=True)
class Draft:
    """The names in a description and who refers to whom; all that the structure needs.

    Attributes:
        ids: ids of each table.
        references: for each table and id, the keys that refer and what they name (None where it
            could not be read).
        complete: whether every run could be read.
    """

    ids: Mapping[str, tuple[str, ...]]
    references: Mapping[tuple[str, str], Mapping[str, str | None]]
    complete: bool = True


def draft_of(site: Site) -> Draft:
    """Return the names and references of a site."""
    refs: dict[tuple[str, str], dict[str, str | None]] = {}
    for name, run in site.runs.items():
        refs["runs", name] = {"from": run.from_, "to": run.to}
    for name, tie in (site.ties or {}).items():
        refs["ties", name] = {"at": tie.at}
    for name, electrode in site.electrodes.items():
        refs["electrodes", name] = {"at": electrode.at}
    for name, metal in site.metal.items():
        refs["metal", name] = {"from": metal.from_, "to": metal.to}
    for name, array in site.arrays.items():
        refs["arrays", name] = {"at": array.at}
    for name, area in site.areas.items():
        refs["areas", name] = {"at": area.at}
    for name, system in site.direct_current.items():
        refs["direct current", name] = {"at": system.at}
    for name, switch in site.transfers.items():
        refs["transfers", name] = {"normal": switch.normal, "standby": switch.standby}
    ids = {table: tuple(getattr(site, table.replace(" ", "_")) or ()) for table in _ONE}
    return Draft(ids, refs)


def structural(draft: Draft) -> list[Problem]:
    """Return what is wrong with the names and references of a description."""
    return list(_Structure(draft).problems())


class _Structure:
    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        self.table_of: dict[str, str] = {}
        for table in NODE_TABLES:
            for name in draft.ids.get(table, ()):
                self.table_of.setdefault(name, table)
        self.shared: set[str] = set()
        self.dangling = 0
        self.guessed: set[str] = set()
        self.fed_by: dict[str, str] = {}

    def problems(self) -> Iterator[Problem]:
        yield from self._shared_ids()
        for (table, name), refs in self.draft.references.items():
            for key, target in refs.items():
                if target is not None:
                    yield from self._reference(table, name, key, target)
        yield from self._feeding()
        yield from self._loops()
        yield from self._deep()
        yield from self._unfed()

    def _shared_ids(self) -> Iterator[Problem]:
        for table in NODE_TABLES:
            for name in self.draft.ids.get(table, ()):
                other = self.table_of[name]
                if other != table:
                    self.shared.add(name)
                    problem = f"is the id of a {_ONE[other]} already"
                    hint = "give each source, transformer, place and switch an id of its own"
                    yield Problem((table, name), problem, hint, on_key=True)

    def _reference(self, table: str, name: str, key: str, target: str) -> Iterator[Problem]:
        loc = (table, name, key)
        if table == "transfers":
            yield from self._transfer_run(loc, target)
            return
        here = self.table_of.get(target)
        if here is None:
            what = "an inverter" if table == "arrays" else "a source, transformer or place"
            yield Problem(loc, f"is not the id of {what}", self._meant(target))
        elif target in self.shared:
            return
        elif table == "arrays":
            if here != "inverters":
                hint = f"there are: {', '.join(self.draft.ids.get('inverters', ())) or 'none'}"
                yield Problem(loc, f"is a {_ONE[here]}; an array feeds an inverter", hint)
        elif here == "sources" and table in ("ties", "electrodes"):
            hint = f"the grounding of {target!r} is its own 'electrode: ...' under sources"
            yield Problem(loc, f"is a source; no {_ONE[table]} of the site is there", hint)
        elif here == "sources" and table == "direct current":
            hint = "name the panel, inverter or equipment that it belongs to"
            yield Problem(loc, "is a source; no direct-current system of the site is there", hint)
        elif here == "sources" and table == "areas":
            hint = "name the panel or disconnect that gives the area its power"
            yield Problem(loc, "is a source; no area of the site is there", hint)
        elif here == "sources" and table == "runs" and key == "to":
            hint = "runs lead from a source to a meter or disconnect; swap 'from' and 'to'"
            yield Problem(loc, "is a source, and no run feeds a source", hint)

    def _transfer_run(self, loc: tuple[str, str, str], target: str) -> Iterator[Problem]:
        _, name, key = loc
        refs = self.draft.references.get(("runs", target))
        if refs is None:
            near = nearest(target, self.draft.ids.get("runs", ()))
            yield Problem(loc, "is not the id of a run", did_you_mean(near) if near else "")
        elif refs.get("to") not in (name, None):
            hint = f"name the run that leads to {name!r} from its {key} supply"
            yield Problem(loc, f"is a run that leads to {refs['to']!r}, not here", hint)
        elif key == "standby" and target == self.draft.references["transfers", name].get("normal"):
            hint = "two runs lead to a transfer switch, one from each supply"
            yield Problem(loc, "is the normal run as well", hint)

    def _meant(self, target: str) -> str:
        self.dangling += 1
        if self.dangling > MOST_GUESSES:
            return ""
        close = nearest(target, self.table_of)
        if close:
            self.guessed.update(close)
            return did_you_mean(close)
        for table in ("runs", "electrodes", "ties", "metal"):
            if target in self.draft.ids.get(table, ()):
                return f"{target!r} is a {_ONE[table]}; name the place at its end"
        known = list(self.table_of)
        if not known:
            return ""
        more = f" and {len(known) - 12} more" if len(known) > 12 else ""
        return "there are: " + ", ".join(known[:12]) + more

    def _feeding(self) -> Iterator[Problem]:
        for (table, name), refs in self.draft.references.items():
            if table != "runs":
                continue
            start, end = refs.get("from"), refs.get("to")
            if start is not None and start == end:
                hint = "a run leads from one place to another"
                yield Problem((table, name, "to"), "is where the run starts as well", hint)
                self.guessed.add(start)
                continue
            if end is None or self.table_of.get(end) in (None, "sources"):
                continue
            if self.table_of.get(end) == "transfers":
                sides = self.draft.references.get(("transfers", end), {})
                if name not in sides.values():
                    self.guessed.add(end)
                    runs = (self.draft.references.get(("runs", str(n)), {}) for n in sides.values())
                    if all(run.get("to") == end for run in runs):
                        hint = "a transfer switch is fed by its 'normal' and its 'standby' run"
                        problem = "is a transfer switch that does not name it"
                        yield Problem((table, name, "to"), problem, hint)
                    continue
                if sides.get("standby") == name and sides.get("normal") != name:
                    continue
            if end in self.fed_by:
                yield Problem(
                    (table, name, "to"),
                    f"is fed already, by the run {self.fed_by[end]!r}",
                    "a place has one supply; conductors in parallel are one run with "
                    "'lines: 2 x 4/0 AWG Al'",
                )
                continue
            self.fed_by[end] = name

    def _loops(self) -> Iterator[Problem]:
        done: set[str] = set()
        for begin in self.fed_by:
            trail: list[str] = []
            here: str | None = begin
            while here is not None and here in self.fed_by and here not in done:
                done.add(here)
                trail.append(here)
                here = self._feeder(here)
            if here is not None and here in trail:
                loop = [here, *reversed(trail[trail.index(here) :])]
                words = " -> ".join(loop if len(loop) < 12 else [*loop[:6], "...", *loop[-4:]])
                hint = "every place is fed from a source; turn one of these runs around"
                run = self.fed_by[here]
                yield Problem(("runs", run, "from"), f"closes a loop: {words}", hint)

    def _feeder(self, name: str) -> str | None:
        return self.draft.references["runs", self.fed_by[name]].get("from")

    def _deep(self) -> Iterator[Problem]:
        """Report chains of runs that are too long to be real, so that all walks stay short."""
        depth: dict[str, int] = {}
        for begin in self.fed_by:
            trail: list[str] = []
            here: str | None = begin
            while here is not None and here in self.fed_by and here not in depth:
                depth[here] = 0  # also ends a walk around a loop
                trail.append(here)
                here = self._feeder(here)
            steps = depth.get(here, 0) if here is not None else 0
            for name in reversed(trail):
                steps += 1
                depth[name] = steps
                if steps == MOST_RUNS + 1:
                    problem = f"is fed through more than {MOST_RUNS:,} runs in a row"
                    hint = "look for a place that should be fed from a panel nearer the source"
                    yield Problem(("runs", self.fed_by[name], "to"), problem, hint)

    def _unfed(self) -> Iterator[Problem]:
        if not self.draft.complete:
            return
        supplies = ("sources", "generators", "inverters")
        none = not any(self.draft.ids.get(table) for table in supplies)
        for table in ("transformers", "transfers", "places"):
            for name in self.draft.ids.get(table, ()):
                if name in self.fed_by or name in self.guessed or self.table_of[name] != table:
                    continue
                hint = f"add a run with 'to: {name}', or remove it"
                if none:
                    hint = "describe the supply under 'sources' (or 'generators', 'inverters')"
                yield Problem((table, name), "is fed by no run", hint, on_key=True)
