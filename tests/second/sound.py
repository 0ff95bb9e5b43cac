"""Random sites made sound: what a description lacks is put right, so that a whole can hold."""

from __future__ import annotations

import copy
import random
import re
from typing import Any

Described = dict[str, Any]


def sound(described: Described, dice: random.Random) -> Described:
    """Return a description with two rods for each building, and trips that act soon and are told.

    Args:
        described: a random house or shop by the NEC.
        dice: for the settings.
    """
    site = copy.deepcopy(described)
    for part, key in (("runs", "device"), ("places", "main")):
        for thing in site[part].values():
            found = re.match(r"([\d.]+) A breaker$", thing.get(key, ""))
            if found:
                amps = float(found[1])
                trip = dice.choice([5, 6, 8]) * amps
                thing[key] = f"{amps:g} A breaker, instantaneous {trip:g} A, interrupts 65 kA"
    for electrode in site["electrodes"].values():
        electrode.pop("resistance", None)
        if electrode["kind"] == "rod":
            electrode["count"] = 2
    at = {electrode["at"] for electrode in site["electrodes"].values()}
    for name, place in site["places"].items():
        if place.get("building") and name not in at:
            site["electrodes"][f"rods of {name}"] = {"kind": "rod", "at": name, "count": 2}
    for run in site["runs"].values():
        if run.get("device", "").startswith(("60 A", "100 A")):
            feet = float(run["length"].split()[0])
            run["length"] = f"{max(5, 0.4 * feet):.0f} ft"
        # Branch conductors that bear the first half cycle at a strong source.
        if run["lines"] == "12 AWG Cu":
            run["lines"] = "8 AWG Cu"
            run["needed"] = "12 AWG Cu"
            if "raceway" in run:
                run["raceway"]["size"] = "1 in"
    return site


def varied(described: Described, dice: random.Random) -> Described:
    """Return a description whose runs are shorter or longer, up to half as long again."""
    site = copy.deepcopy(described)
    for run in site["runs"].values():
        number, unit = run["length"].split(maxsplit=1)
        # A flexible piece has to fit into its run.
        least = 0.9 if "flexible" in run else 0.2
        run["length"] = f"{float(number) * dice.uniform(least, 1.5):.3g} {unit}"
    return site
