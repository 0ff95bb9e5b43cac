"""Large plausible sites, for measuring how fast the tool is and for trying it out.

A commercial building of any size: a 480Y/277 V switchboard, distribution panels, and zones.
Each zone has a 480 V panel with machines and lighting, and a transformer with a 208Y/120 V
panel of outlets and small machines. Sizes are of the kind that stands in such buildings; nobody
should build from them.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any, Final

from bondwright.site.model import Site

MOST_PLACES: Final = 200_000
"""Largest site made."""

PER_BUILDING: Final = 2500
"""Places in one building; a larger site has several, each with a service of its own."""

_MAIN: Final = (
    "2500 A electronic breaker, long 1 12 s, short 10 kA 0.3 s, instantaneous 20 kA, "
    "ground fault 1200 A 0.3 s, interrupts 65 kA"
)
_FEEDER: Final = (
    "600 A electronic breaker, long 1 12 s, short 3.6 kA 0.1 s, instantaneous 6 kA, "
    "ground fault 600 A 0.1 s, interrupts 65 kA"
)
_ZONES: Final = 6
"""Zones on one distribution panel."""

# kVA, primary device, primary lines, secondary main, secondary lines, raceway
_UNITS: Final = (
    ("30 kVA", "50 A breaker", "8 AWG Cu", "100 A breaker", "3 AWG Cu", "1-1/4 in"),
    ("45 kVA", "80 A breaker", "4 AWG Cu", "150 A breaker", "1/0 AWG Cu", "2 in"),
    ("75 kVA", "125 A breaker", "1 AWG Cu", "225 A breaker", "4/0 AWG Cu", "2-1/2 in"),
)
# device, lines, raceway, kW of a three-phase machine at 480 V
_MACHINES: Final = (
    ("20 A breaker", "12 AWG Cu", "1/2 in", 6),
    ("30 A breaker", "10 AWG Cu", "3/4 in", 11),
    ("60 A breaker", "6 AWG Cu", "1 in", 22),
)
_PAIRS: Final = (("L1", "L2"), ("L2", "L3"), ("L3", "L1"))
_LOAD_ON: Final = ("L1-L2", "L2-L3", "L3-L1")


@dataclass(slots=True)
class _Draft:
    """A description as it grows; ``left`` is how many places are still to come."""

    left: int
    dice: random.Random
    sources: dict[str, Any] = field(default_factory=dict)
    places: dict[str, Any] = field(default_factory=dict)
    transformers: dict[str, Any] = field(default_factory=dict)
    runs: dict[str, Any] = field(default_factory=dict)
    electrodes: dict[str, Any] = field(default_factory=dict)
    metal: dict[str, Any] = field(default_factory=dict)

    def place(self, name: str, feeder: dict[str, Any], **facts: Any) -> bool:
        """Add a place and the run to it; False once there are enough."""
        if self.left <= 0:
            return False
        self.left -= 1
        self.places[name] = facts
        self.runs[f"to {name}"] = {**feeder, "to": name}
        return True

    def feet(self, least: int, most: int) -> str:
        return f"{self.dice.randint(least, most)} ft"


def large_site(places: int, seed: int = 0) -> Site:
    """Make a plausible large site.

    Args:
        places: how many places it has, 1 to :data:`MOST_PLACES`; transformers come on top.
        seed: another seed gives another site; the same one always the same site.

    Returns:
        A site that passes :func:`bondwright.site.check.problems`.

    Raises:
        ValueError: the number of places is out of range.
    """
    if not 1 <= places <= MOST_PLACES:
        msg = f"a site of {places} places can't be made; give 1 to {MOST_PLACES}"
        raise ValueError(msg)
    draft = _Draft(0, random.Random(seed))
    for number in range(1, (places - 1) // PER_BUILDING + 2):
        draft.left = min(PER_BUILDING, places - len(draft.places))
        _building(draft, number)
    return Site.model_validate(
        {
            "site": f"Harrow Creek Cidery, works of {places} places (made up)",
            "soil": "120 ohm m",
            "sources": draft.sources,
            "places": draft.places,
            "transformers": draft.transformers,
            "runs": draft.runs,
            "electrodes": draft.electrodes,
            "metal": draft.metal,
        }
    )


def _building(draft: _Draft, number: int) -> None:
    hall = f"hall {number}"
    board, supply = f"{hall} switchboard", f"utility {number}"
    draft.sources[supply] = {
        "system": "480Y/277 V",
        "available": {"current": f"{draft.dice.randint(24, 40)} kA", "x/r": 6},
        "electrode": "5 ohm",
    }
    service = {
        "from": supply,
        "length": draft.feet(30, 80),
        "lines": "7 x 500 kcmil Cu",
        "neutral": "7 x 500 kcmil Cu",
        "raceway": {"kind": "pvc", "size": "4 in"},
    }
    draft.place(board, service, kind="service", building=hall, main=_MAIN)
    draft.electrodes[f"{hall} rods"] = {"kind": "rod", "at": board, "count": 3}
    draft.electrodes[f"{hall} footing"] = {"kind": "concrete", "at": board, "length": "80 ft"}
    before = board
    zone = 0
    while draft.left > 0:
        panel = f"{hall} DP{zone // _ZONES + 1}"
        feeder = {
            "from": board,
            "length": draft.feet(60, 300),
            "lines": "2 x 350 kcmil Cu",
            "device": _FEEDER,
            "raceway": {"kind": draft.dice.choice(["emt", "pvc"]), "size": "3 in"},
        }
        draft.place(panel, feeder, kind="panel", building=hall)
        for _ in range(_ZONES):
            zone += 1
            before = _zone(draft, hall, zone, panel, before)


def _zone(draft: _Draft, hall: str, zone: int, panel: str, before: str) -> str:
    """Add one zone; return what the building's frame has reached by now."""
    dice = draft.dice
    high = f"{hall} HP{zone}"
    feeder = {
        "from": panel,
        "length": draft.feet(20, 150),
        "lines": "4/0 AWG Cu",
        "device": "225 A breaker, instantaneous 1.6 kA, interrupts 35 kA",
        "raceway": {"kind": "emt", "size": "2-1/2 in"},
    }
    if not draft.place(high, feeder, kind="panel", building=hall):
        return before
    for k in range(1, dice.randint(8, 14) + 1):
        _high_branch(draft, hall, high, k)
    if draft.left < 1:
        return before
    unit, low = f"{hall} T{zone}", f"{hall} LP{zone}"
    rating, device, primary, main, secondary, size = dice.choice(_UNITS)
    draft.transformers[unit] = {
        "primary": "480 V delta",
        "secondary": "208Y/120 V",
        "rating": rating,
        "impedance": f"{dice.randint(25, 55) / 10} %",
        "building": hall,
    }
    draft.runs[f"to {unit}"] = {
        "from": high,
        "to": unit,
        "length": draft.feet(5, 30),
        "lines": primary,
        "neutral": "none",
        "device": device,
        "raceway": {"kind": "emt", "size": size},
    }
    feeder = {
        "from": unit,
        "length": draft.feet(5, 20),
        "lines": secondary,
        "raceway": {"kind": "emt", "size": size},
    }
    draft.place(low, feeder, kind="panel", building=hall, main=main)
    draft.electrodes[f"steel at {unit}"] = {"kind": "steel", "at": unit, "resistance": "8 ohm"}
    draft.metal[f"frame to {unit}"] = {
        "kind": "structural steel",
        "from": before,
        "to": unit,
        "length": draft.feet(30, 120),
        "resistance": f"{dice.randint(1, 9)} mohm",
    }
    for k in range(1, dice.randint(16, 28) + 1):
        _low_branch(draft, hall, low, k)
    return unit


def _high_branch(draft: _Draft, hall: str, panel: str, k: int) -> None:
    dice = draft.dice
    if k % 3 == 0:
        line = f"L{k // 3 % 3 + 1}"
        lights = {
            "from": panel,
            "length": draft.feet(40, 220),
            "lines": "12 AWG Cu",
            "on": [line],
            "device": "20 A breaker",
            "raceway": {"kind": "emt", "size": "1/2 in"},
        }
        load: dict[str, Any] = {"on": f"{line}-N", "pf": 0.95}
        load["power"] = f"{dice.randint(5, 30) / 10} kW"
        name = f"{panel} lights {k}"
        draft.place(name, lights, kind="box", building=hall, loads=[load])
        return
    device, lines, size, kilowatts = dice.choice(_MACHINES)
    raceway = {"kind": dice.choice(["emt", "emt", "pvc"]), "size": size}
    machine = {
        "from": panel,
        "length": draft.feet(20, 180),
        "lines": lines,
        "neutral": "none",
        "device": device,
        "raceway": raceway,
    }
    load = {"on": "L1-L2-L3", "power": f"{dice.randint(2, kilowatts)} kW", "pf": 0.86}
    draft.place(f"{panel} machine {k}", machine, kind="equipment", building=hall, loads=[load])


def _low_branch(draft: _Draft, hall: str, panel: str, k: int) -> None:
    dice = draft.dice
    way: dict[str, Any] = {"from": panel, "length": draft.feet(20, 140)}
    if dice.random() < 0.5:
        way["wiring"] = "cable"
    else:
        way["raceway"] = {"kind": "emt", "size": "3/4 in"}
    if k % 4:
        line = f"L{k % 3 + 1}"
        device = "20 A GFCI breaker" if dice.random() < 0.15 else "20 A breaker"
        way |= {"lines": "12 AWG Cu", "on": [line], "device": device}
        load: dict[str, Any] = {"on": f"{line}-N", "power": f"{dice.randint(2, 15) / 10} kW"}
        name, kind = f"{panel} outlet {k}", "outlet"
    else:
        pair = k // 4 % 3
        way |= {"lines": "10 AWG Cu", "on": list(_PAIRS[pair]), "neutral": "none"}
        way["device"] = "30 A breaker"
        load = {"on": _LOAD_ON[pair], "power": f"{dice.randint(10, 45) / 10} kW", "pf": 0.9}
        name, kind = f"{panel} unit {k}", "equipment"
    draft.place(name, way, kind=kind, building=hall, loads=[load])
