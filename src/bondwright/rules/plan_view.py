"""A plan as the inspection checklist sees it: only what it must have.

The plan is made in a higher layer, so it is described here by its shape and not by its name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from bondwright.catalog.raceways import RacewayDimensions
from bondwright.catalog.sizes import Conductor
from bondwright.rules.answer import Answer
from bondwright.site.model import Site
from bondwright.site.topology import Topology


class ItemView(Protocol):
    """What is needed of a row of the schedule."""

    @property
    def about(self) -> str:
        """Id of what it belongs to."""

    @property
    def purpose(self) -> str:
        """What it is for, such as "main bonding jumper"."""

    @property
    def required(self) -> Answer | None:
        """The least size."""

    @property
    def chosen(self) -> Conductor | None:
        """The conductor that stands or is designed."""


class TieView(Protocol):
    """What is needed of a planned tie."""

    @property
    def id(self) -> str:
        """Its label."""

    @property
    def at(self) -> str:
        """Where it is."""

    @property
    def form(self) -> str:
        """Screw, strap, wire or bus."""

    @property
    def belongs(self) -> bool:
        """Whether it belongs there."""


class RunView(Protocol):
    """What is needed of a planned run."""

    @property
    def lines(self) -> Conductor:
        """Each line conductor."""

    @property
    def metal(self) -> Conductor | None:
        """The wire that joins the metal of both ends."""

    @property
    def raceway(self) -> RacewayDimensions | None:
        """The metal raceway around it."""

    @property
    def raceway_bonded(self) -> bool:
        """Whether that raceway joins the metal of both ends."""

    @property
    def lie(self) -> str:
        """How its conductors lie."""


class ElectrodeView(Protocol):
    """What is needed of a planned electrode."""

    @property
    def conductor(self) -> Conductor | None:
        """What joins it."""


class Planned(Protocol):
    """What is needed of a plan (:class:`bondwright.plan.model.Plan` has it)."""

    @property
    def site(self) -> Site:
        """The description."""

    @property
    def topology(self) -> Topology:
        """Its supply tree."""

    @property
    def ties(self) -> Sequence[TieView]:
        """Every tie."""

    @property
    def runs(self) -> Mapping[str, RunView]:
        """Every run."""

    @property
    def electrodes(self) -> Mapping[str, ElectrodeView]:
        """Every electrode."""

    @property
    def schedule(self) -> Sequence[ItemView]:
        """Its sized items."""
