"""Earthing arrangements as facts: where neutral and earth meet, and how a fault comes back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Earthing(StrEnum):
    """How a supply and its installation are earthed (IEC 60364-1 312.2)."""

    TN_S = "TN-S"
    TN_C_S = "TN-C-S"
    TN_C = "TN-C"
    TT = "TT"
    IT = "IT"
    MEN = "MEN"
    """Multiple earthed neutral of Australia and New Zealand: a TN-C-S whose link stands in the
    installation's main switchboard."""

    @property
    def is_tn(self) -> bool:
        """Whether a fault comes back by metal all the way to the source."""
        return self not in (Earthing.TT, Earthing.IT)

    @property
    def has_pen(self) -> bool:
        """Whether one conductor is neutral and protective conductor at once somewhere."""
        return self in (Earthing.TN_C_S, Earthing.TN_C, Earthing.MEN)

    @property
    def column(self) -> str:
        """Which rows of the disconnection times hold: "TN" or "TT".

        An IT system is judged at its second fault, with the times of TN where all exposed parts
        share one earth.
        """
        return "TT" if self is Earthing.TT else "TN"


class JoinAt(StrEnum):
    """Where neutral and earth are joined."""

    NETWORK = "in the network"
    ORIGIN = "at the origin"
    MAIN_SWITCHBOARD = "at the main switchboard"
    EVERYWHERE = "wherever the PEN conductor ends"
    NOWHERE = "nowhere"


@dataclass(frozen=True, slots=True)
class Arrangement:
    """What one earthing arrangement says.

    Attributes:
        earthing: which one.
        join: where neutral and earth are joined.
        joins_in_installation: how many joins the installation itself may have; None where the
            PEN conductor runs on and every end of it is one.
        returns_to: what the protective conductor leads back to.
        fault_path: by what a fault to exposed metal comes back.
        mends: who mends a join that is missing.
    """

    earthing: Earthing
    join: JoinAt
    joins_in_installation: int | None
    returns_to: str
    fault_path: str
    mends: str


_OPERATOR: Final = "the network operator"
_INSTALLER: Final = "a licensed installer"

_FACTS: Final = MappingProxyType(
    {
        facts.earthing: facts
        for facts in (
            Arrangement(
                Earthing.TN_S,
                JoinAt.NETWORK,
                0,
                "the earthed point of the source, by a conductor or cable sheath of its own",
                "metal",
                _OPERATOR,
            ),
            Arrangement(
                Earthing.TN_C_S,
                JoinAt.ORIGIN,
                0,
                "the PEN conductor of the network, at the network operator's cut-out",
                "metal",
                _OPERATOR,
            ),
            Arrangement(
                Earthing.TN_C,
                JoinAt.EVERYWHERE,
                None,
                "the PEN conductor, which is neutral and protective conductor at once",
                "metal",
                _INSTALLER,
            ),
            Arrangement(
                Earthing.TT,
                JoinAt.NETWORK,
                0,
                "the installation's own earth electrode, which is not joined to the source",
                "earth",
                _OPERATOR,
            ),
            Arrangement(
                Earthing.IT,
                JoinAt.NOWHERE,
                0,
                "the installation's own earth electrode; the source is isolated from earth or "
                "joined to it through an impedance",
                "earth, and only by leakage at the first fault",
                _INSTALLER,
            ),
            Arrangement(
                Earthing.MEN,
                JoinAt.MAIN_SWITCHBOARD,
                1,
                "the service neutral, by the MEN link at the main switchboard",
                "metal",
                _INSTALLER,
            ),
        )
    }
)


def arrangement(earthing: Earthing) -> Arrangement:
    """Return the facts of an earthing arrangement."""
    return _FACTS[Earthing(earthing)]
