"""What a defect is: its kind, its name, what it does to the circuit, and how it is found."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright.studies.defects.alterations import Alteration

ADDED_TIE_OHM: Final = 0.5e-3
"""A join that somebody made: a green screw, ohm (common practice)."""

CONTACT_OHM: Final = 1e-3
"""Metal that touches metal, ohm (common practice)."""

LOOSE_OHM: Final = 0.5
"""A joint that has worked loose, ohm. Assumed: found ones have tenths of an ohm to some ohms."""

LEAKAGE_OHM: Final = 100.0
"""A line that lies on metal through damp or dirt, ohm. Assumed: it draws an ampere or so, which
no breaker sees."""

SMALL_PART: Final = 0.25
"""Area of a conductor called too small, in part of what stands in the plan. Assumed."""

JUMPER_M: Final = 0.5
"""Length taken for a jumper of wire, m. Assumed."""


class DefectKind(StrEnum):
    """What sort of mistake it is; its value is the first part of the permanent id."""

    TIE_MISSING = "tie-missing"
    TIE_ADDED = "tie-added"
    TIE_LOOSE = "tie-loose"
    TIE_SMALL = "tie-small"
    EGC_OPEN = "egc-open"
    SSBJ_OPEN = "ssbj-open"
    EGC_SMALL = "egc-small"
    RACEWAY_OPEN = "raceway-open"
    NEUTRAL_OPEN = "neutral-open"
    NEUTRAL_LOOSE = "neutral-loose"
    SWAPPED = "neutral-egc-swapped"
    ELECTRODE_OFF = "electrode-off"
    METAL_UNBONDED = "metal-unbonded"
    CONTACT = "contact"
    LEAKAGE = "line-leaks"
    TRANSFER_KIND = "transfer-kind"


class FoundBy(StrEnum):
    """How a defect is found by a qualified person."""

    LOOKING = "by looking, with the supply off"
    CONTINUITY = "by a continuity test, with the supply off"
    CLAMP = "by a clamp round the whole run or the bonding conductor, in normal use"
    VOLTAGE = "by voltages in normal use"
    INSULATION = "by an insulation test, with the supply off"
    LOOP = "by a loop or fault-path test"


WAYS: Final = {
    DefectKind.TIE_MISSING: (FoundBy.LOOKING, FoundBy.CONTINUITY),
    DefectKind.TIE_ADDED: (FoundBy.CLAMP, FoundBy.LOOKING),
    DefectKind.TIE_LOOSE: (FoundBy.CONTINUITY, FoundBy.LOOKING),
    DefectKind.TIE_SMALL: (FoundBy.LOOKING,),
    DefectKind.EGC_OPEN: (FoundBy.CONTINUITY, FoundBy.LOOP),
    DefectKind.SSBJ_OPEN: (FoundBy.CONTINUITY, FoundBy.LOOKING),
    DefectKind.EGC_SMALL: (FoundBy.LOOKING,),
    DefectKind.RACEWAY_OPEN: (FoundBy.LOOKING, FoundBy.CONTINUITY),
    DefectKind.NEUTRAL_OPEN: (FoundBy.VOLTAGE, FoundBy.LOOKING),
    DefectKind.NEUTRAL_LOOSE: (FoundBy.VOLTAGE, FoundBy.LOOKING),
    DefectKind.SWAPPED: (FoundBy.CLAMP, FoundBy.LOOKING),
    DefectKind.ELECTRODE_OFF: (FoundBy.LOOKING, FoundBy.CONTINUITY),
    DefectKind.METAL_UNBONDED: (FoundBy.LOOKING, FoundBy.CONTINUITY),
    DefectKind.CONTACT: (FoundBy.LOOKING, FoundBy.CLAMP),
    DefectKind.LEAKAGE: (FoundBy.CLAMP, FoundBy.INSULATION),
    DefectKind.TRANSFER_KIND: (FoundBy.LOOKING,),
}


@dataclass(frozen=True, slots=True)
class Weak:
    """A conductor that bears less than the plan says.

    Attributes:
        id: of the run, or the tie.
        part: of the planned area.
    """

    id: str
    part: float


@dataclass(frozen=True, slots=True)
class Defect:
    """One mistake.

    Attributes:
        id: permanent: kind and what it is of.
        kind: what sort.
        thing: id of the run, tie, place, electrode, metal or switch.
        at: a place where one would look for it.
        name: for people.
        alterations: what it does to the circuit.
        found_by: how it is found, the best way first.
        weak: conductors that it makes smaller.
    """

    id: str
    kind: DefectKind
    thing: str
    at: str
    name: str
    alterations: tuple[Alteration, ...]
    found_by: tuple[FoundBy, ...]
    weak: tuple[Weak, ...] = ()
