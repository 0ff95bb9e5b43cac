"""Arrays for tests, as planned."""

from __future__ import annotations

from typing import Any

from bondwright.catalog.sizes import Conductor
from bondwright.plan.model import PlannedArray
from bondwright.site.model import ArrayGrounded, Pole

FOOT = 0.3048


def planned_array(**changes: Any) -> PlannedArray:
    """Ten modules of 42 V, 11 A in each of two strings; 80 ft of 10 AWG; a fuse of 1 A."""
    given: dict[str, Any] = {
        "id": "roof",
        "at": "inverter",
        "open_circuit": 420.0,
        "short_circuit": 22.0,
        "work_voltage": 350.0,
        "work_current": 20.0,
        "length": 80 * FOOT,
        "lines": Conductor.parse("10 AWG Cu"),
        "egc": Conductor.parse("10 AWG Cu"),
        "grounded": ArrayGrounded.FUSE,
        "pole": Pole.NEGATIVE,
        "ground_fuse": 1.0,
        "monitor": None,
        "insulation_alarm": None,
        "insulation": 1e6,
    }
    return PlannedArray(**(given | changes))


def ungrounded(**changes: Any) -> PlannedArray:
    """Without any join to metal."""
    none = {"grounded": ArrayGrounded.NONE, "pole": None, "ground_fuse": None}
    return planned_array(**(none | changes))


def by_inverter(**changes: Any) -> PlannedArray:
    """On an inverter without a transformer that stops at 300 mA."""
    given = {
        "grounded": ArrayGrounded.INVERTER, "pole": None, "ground_fuse": None, "monitor": 0.3,
    }  # fmt: skip
    return planned_array(**(given | changes))


def solid(**changes: Any) -> PlannedArray:
    """With its negative conductor joined to metal by a plain join."""
    return planned_array(**({"grounded": ArrayGrounded.SOLID, "ground_fuse": None} | changes))
