"""Sites to hunt on, and readings taken on a truth that the hunt doesn't see."""

from __future__ import annotations

import copy
import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from bondwright.network.solve import Change
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.hunt.candidates import Candidate
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.readings import Reading, read_readings

HEAD = "what,where,of,value,state,with\n"


def hall(panels: int = 4, *, chain: bool = False, watts: Sequence[int] = ()) -> dict[str, Any]:
    """A service with panels beneath it, each with a load from line to neutral."""
    places: dict[str, Any] = {"main": {"kind": "service", "main": "200 A breaker"}}
    runs: dict[str, Any] = {
        "service": {"from": "utility", "to": "main", "length": "60 ft", "lines": "4/0 AWG Cu"}
    }
    for k in range(1, panels + 1):
        power = watts[k - 1] if watts else 900 + 400 * (k % 3)
        places[f"P{k}"] = {
            "kind": "panel",
            "loads": [{"on": f"L{1 + k % 2}-N", "power": f"{power} W"}],
        }
        runs[f"F{k}"] = {
            "from": f"P{k - 1}" if chain and k > 1 else "main",
            "to": f"P{k}",
            "length": f"{50 + 15 * k} ft",
            "lines": "6 AWG Cu",
            "egc": "8 AWG Cu",
            "device": "60 A breaker",
            "wiring": "cable",
        }
    return {
        "site": "hall of the cidery",
        "soil": "100 ohm m",
        "sources": {
            "utility": {
                "system": "120/240 V",
                "transformer": {"rating": "50 kVA", "impedance": "2 %"},
                "electrode": "5 ohm",
            }
        },
        "places": places,
        "runs": runs,
        "electrodes": {
            "rod": {"kind": "rod", "at": "main", "resistance": "25 ohm", "conductor": "6 AWG Cu"}
        },
    }


def planned(described: dict[str, Any]) -> Plan:
    """The plan of a description."""
    return plan(Site.model_validate(described))


def other_loads(described: dict[str, Any], dice: random.Random) -> dict[str, Any]:
    """The same site with other loads on than described, each between 0.4 and 1.4 of it."""
    real = copy.deepcopy(described)
    for place in real["places"].values():
        for load in place.get("loads", []):
            watts = float(load["power"].split()[0]) * dice.uniform(0.4, 1.4)
            load["power"] = f"{watts:.0f} W"
    return real


def table(site: Plan, text: str) -> tuple[Reading, ...]:
    """Readings from rows under the usual heading."""
    return read_readings(HEAD + text, network_at(site, Moment()))


def ask(site: Plan, text: str, **kwargs: Any) -> Ranking:
    """Hunt with rows under the usual heading."""
    return hunt(site, table(site, text), **kwargs)


def kinds(ranking: Ranking, least: float = 0.02) -> list[str]:
    """Kinds of the causes that are likely enough, likeliest first."""
    return [c.hypothesis.kind for c in ranking.causes if c.probability >= least]


class Meter:
    """Somebody who reads meters on a site as it really is."""

    def __init__(
        self, real: Plan, ties: Sequence[str], dice: random.Random, floor: float | None = None
    ) -> None:
        network = network_at(real, Moment())
        solver = network.solver
        changes: list[Change] = [solver.join(f"{at}:N", f"{at}:G", 0.002) for at in ties]
        self.solution = solver.solve(changes)
        self.dice = dice
        self.floor = floor

    def exact(self, item: Reading) -> float:
        """What an ideal meter would show."""
        total = 0j
        for port, weight in item.terms:
            if port.b == "switch":
                total += weight * self.solution.switch_current(port.a)
            elif port.gap:
                total += weight * self.solution.conductor_current(port.a, port.b)
            else:
                total += weight * self.solution.between(port.a, port.b)
        return abs(total)

    def read(self, candidate: Candidate, number: int) -> Reading:
        """A reading with an error within the limits of its instrument (or 3 % and the floor)."""
        item = candidate.reading
        meter = item.instrument
        if self.floor is not None:
            meter = replace(meter, relative=0.03, floor=self.floor)
        exact = self.exact(item)
        limit = meter.relative * exact + meter.floor
        value = max(exact + self.dice.uniform(-1, 1) * limit, 0.0)
        return replace(item, number=number, value=value, sigma=meter.uncertainty(value))
