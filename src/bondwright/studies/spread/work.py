"""Faults and stray current of many samples of a site, in pieces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from bondwright.network.build import Network, build
from bondwright.network.solve import Change
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.site.ranges import Unknown, unknowns, with_values
from bondwright.site.states import states
from bondwright.studies.fault_list import arcing, possible_faults
from bondwright.studies.fault_model import Fault, FaultKind
from bondwright.studies.fault_parts import Floats
from bondwright.studies.fault_table import VERDICTS, study_many
from bondwright.studies.faults import study_faults
from bondwright.studies.many.work import Arrays, fingerprint_of, site_bytes, site_of
from bondwright.studies.spread.draw import latin_hypercube, values_of
from bondwright.studies.stray import Nature, study_stray
from bondwright.studies.whatif import ADDED_TIE_OHM

PER_PIECE: Final = 8
"""Samples in one piece."""

MANY: Final = 200
"""From this number of faults on they are followed as a table, with steel as it is without
current; an inverter, an arc or a changed tie has them followed one by one all the same."""

Key = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class What:
    """What is asked of every sample.

    Attributes:
        study: faults or stray current.
        state: id of the operating state, "" for the first.
        place: only faults at this place, "" for all.
        kinds: kinds of fault.
        arc: voltage of an arc to metal, V; 0 for bolted faults.
        without: ids of ties that are off.
        added: places with a tie too many.
    """

    study: Literal["faults", "stray"]
    state: str = ""
    place: str = ""
    kinds: tuple[FaultKind, ...] = ()
    arc: float = 0.0
    without: tuple[str, ...] = ()
    added: tuple[str, ...] = ()


@dataclass(frozen=True)
class Samples:
    """Samples of a site to be studied.

    Attributes:
        packed: the site with its ranges, packed.
        what: what is asked.
        samples: how many.
        seed: which.
        fingerprint: of all that.
    """

    packed: bytes
    what: What
    samples: int
    seed: int
    fingerprint: str

    @staticmethod
    def of(site: Site, what: What, samples: int, seed: int) -> Samples:
        """Return the work for a site.

        Raises:
            ValueError: it has no ranges.
        """
        if not unknowns(site):
            msg = (
                "no quantity of this site is a range, so there is nothing to sample; write one "
                "like 'length: 80..120 ft'"
            )
            raise ValueError(msg)
        mark = fingerprint_of(site, what, samples, seed)
        return Samples(site_bytes(site), what, samples, seed, f"samples-{mark}")

    @property
    def title(self) -> str:
        """What is studied."""
        return f"{self.samples} samples, {self.what.study}"

    @property
    def count(self) -> int:
        """How many pieces."""
        return -(-self.samples // PER_PIECE)

    @cached_property
    def site(self) -> Site:
        """The site with its ranges."""
        return site_of(self.packed)

    @cached_property
    def unknown(self) -> tuple[Unknown, ...]:
        """What is sampled."""
        return unknowns(self.site)

    @cached_property
    def values(self) -> Floats:
        """Value of every unknown in every sample, (samples, unknowns)."""
        shares = latin_hypercube(self.samples, len(self.unknown), self.seed)
        return values_of(self.unknown, shares)

    def __getstate__(self) -> dict[str, Any]:
        """What is worked out is worked out anew where it is needed."""
        names = ("packed", "what", "samples", "seed", "fingerprint")
        return {name: getattr(self, name) for name in names}

    def sampled(self, number: int) -> Site:
        """Return the site of one sample."""
        row = self.values[number].tolist()
        values = {one.path: value for one, value in zip(self.unknown, row, strict=True)}
        found = with_values(self.site, values)
        if not isinstance(found, Site):
            raise TypeError("a sample of a site is a site")
        return found

    def open(self) -> Callable[[int], Arrays]:
        """Return what does one piece."""
        asker = Asker(self.site, self.what)

        def do(number: int) -> Arrays:
            rows = range(number * PER_PIECE, min((number + 1) * PER_PIECE, self.samples))
            found = [self._one(asker, row) for row in rows]
            return {name: np.stack([one[name] for one in found]) for name in found[0]}

        return do

    def _one(self, asker: Asker, row: int) -> dict[str, npt.NDArray[Any]]:
        try:
            return asker.answer(self.sampled(row))
        except ValueError as error:
            told = ", ".join(
                f"{one.name} {value:.4g}"
                for one, value in zip(self.unknown, self.values[row].tolist(), strict=True)
            )
            msg = f"sample {row + 1} can't be studied ({told}, in SI units): {error}"
            raise ValueError(msg) from error


class Asker:
    """Puts the same question to one site after the other.

    Args:
        site: the site with its ranges, at its nominal values.
        what: the question.
    """

    def __init__(self, site: Site, what: What) -> None:
        self.what = what
        self.plan = plan(site)
        self._sizes = _sizes(self.plan)
        self.network = self._network(self.plan)
        self.faults: tuple[Fault, ...] = ()
        self.keys: tuple[Key, ...] = ()
        if what.study == "faults":
            found = possible_faults(self.network, what.kinds)
            if what.arc:
                found = list(arcing(found, what.arc))
            self.faults = tuple(f for f in found if what.place in {"", f.place})
        else:
            flows = study_stray(self.network, *self._changes(self.network)).flows
            self.flows = {(f.carrier.value, f.id, f.conductor): f for f in flows if f.on_metal}
            self.keys = tuple(self.flows)

    def _network(self, made: Plan) -> Network:
        there = {state.id: state for state in states(made.site)}
        state = there[self.what.state] if self.what.state else None
        return build(made, loads=self.what.study == "stray", state=state)

    def _changes(self, network: Network) -> tuple[list[Change], list[tuple[str, str]]]:
        solver = network.solver
        changes = [solver.open_switch(f"tie {name}") for name in self.what.without]
        changes += [solver.join(f"{at}:N", f"{at}:G", ADDED_TIE_OHM) for at in self.what.added]
        return changes, [(f"one too many at {at}", at) for at in self.what.added]

    @property
    def as_table(self) -> bool:
        """Whether faults are followed as a table."""
        return (
            len(self.faults) >= MANY
            and not (self.what.arc or self.what.without or self.what.added)
            and not self.network.inverters
        )

    def answer(self, site: Site) -> dict[str, npt.NDArray[Any]]:
        """Return the answers of one site, and whether the plan is another."""
        made = plan(site)
        network = self._network(made)
        moved = np.array(_sizes(made) != self._sizes)
        if self.what.study == "stray":
            return {**self._stray(network), "resized": moved}
        if self.as_table:
            table = study_many(network, self.faults)
            return {
                "current": table.current,
                "clearing": table.clearing,
                "touch": table.touch,
                "verdict": np.asarray(table.verdict),
                "resized": moved,
            }
        found = study_faults(network, self.faults, self._changes(network)[0])
        return {
            "current": np.array([r.current for r in found]),
            "clearing": np.array([r.clearing for r in found]),
            "touch": np.array([r.touch.get(r.worst_place, 0.0) for r in found]),
            "verdict": np.array([VERDICTS.index(r.verdict) for r in found]),
            "resized": moved,
        }

    def _stray(self, network: Network) -> dict[str, npt.NDArray[Any]]:
        study = study_stray(network, *self._changes(network))
        amps = {(f.carrier.value, f.id, f.conductor): f.amperes for f in study.flows}
        wrong = {
            (c.flow.carrier.value, c.flow.id, c.flow.conductor)
            for c in study.currents
            if c.nature is Nature.OBJECTIONABLE
        }
        return {
            "amperes": np.array([amps.get(key, 0.0) for key in self.keys]),
            "objectionable": np.array([key in wrong for key in self.keys], dtype=bool),
        }


def _sizes(made: Plan) -> Sequence[tuple[object, ...]]:
    """Return what a plan has decided, without the numbers that a sample moves."""
    ties = [(tie.id, tie.at) for tie in made.ties]
    items = [(item.id, item.form, str(item.chosen)) for item in made.schedule]
    return [*ties, *items]
