"""Made-up sites that differ from their description, with defects in them, and meters to read them.

The sites, the spread of what is true about what is described, and the sizes of the defects are
none of the hunt's own ranges.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from bondwright.network.build import Network
from bondwright.network.raceways import settled
from bondwright.network.runs import strands
from bondwright.network.solve import Change, Injection, Solution
from bondwright.plan.build import plan as make_plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.defects.alterations import (
    Alteration,
    Break,
    Insert,
    Join,
    Lift,
    changes_for,
)
from bondwright.studies.defects.catalogue import defects
from bondwright.studies.hunt.hypotheses import singles
from bondwright.studies.hunt.instruments import DRIVEN, Instrument, Quantity
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.readings import Reading

# --- sites ------------------------------------------------------------------------------------


def random_site(dice: random.Random) -> dict[str, Any]:
    """Make a small site: a house with outbuildings, or a shop on 208Y/120 V."""
    return dice.choice([_house, _house, _shop])(dice)


def _house(dice: random.Random) -> dict[str, Any]:
    places: dict[str, Any] = {
        "meter": {"kind": "meter"},
        "main panel": {"kind": "service", "main": "200 A breaker", "building": "house"},
    }
    runs: dict[str, Any] = {
        "drop": {
            "from": "utility", "to": "meter", "length": f"{dice.randint(50, 160)} ft",
            "wiring": "overhead", "lines": "2/0 AWG Al", "neutral": "2/0 AWG Al",
        },
        "entrance": {
            "from": "meter", "to": "main panel", "length": f"{dice.randint(5, 25)} ft",
            "wiring": "cable", "lines": "2/0 AWG Cu", "neutral": "2/0 AWG Cu",
        },
    }  # fmt: skip
    electrodes: dict[str, Any] = {
        "rod": {
            "kind": "rod", "at": "main panel", "resistance": f"{dice.randint(12, 70)} ohm",
            "conductor": "6 AWG Cu",
        }
    }  # fmt: skip
    metal: dict[str, Any] = {}
    if dice.random() < 0.7:
        metal["water pipe"] = {
            "kind": "water pipe", "from": "main panel", "to": "utility",
            "length": "120 ft", "resistance": f"{dice.randint(2, 15) / 10} ohm",
        }  # fmt: skip
    panels = ["main panel"]
    for number in range(1, dice.randint(1, 3) + 1):
        name = f"barn {number}"
        places[name] = {"kind": "panel", "main": "60 A breaker", "building": name}
        runs[f"feeder {number}"] = {
            "from": dice.choice(panels), "to": name, "length": f"{dice.randint(40, 260)} ft",
            "device": "60 A breaker", "lines": "4 AWG Cu", "egc": "8 AWG Cu",
            "wiring": "direct buried",
        }  # fmt: skip
        if dice.random() < 0.8:
            electrodes[f"rod {number}"] = {
                "kind": "rod", "at": name, "resistance": f"{dice.randint(12, 90)} ohm",
                "conductor": "6 AWG Cu",
            }  # fmt: skip
        panels.append(name)
    for panel in panels:
        for k in range(1, dice.randint(2, 4) + 1):
            line = dice.choice(["L1", "L2"])
            way: dict[str, Any] = {
                "from": panel, "to": f"{panel} outlet {k}", "on": [line],
                "length": f"{dice.randint(15, 110)} ft", "device": "20 A breaker",
                "lines": "12 AWG Cu",
            }  # fmt: skip
            if dice.random() < 0.6:
                way["wiring"] = "cable"
            else:
                way |= {"egc": "raceway", "raceway": {"kind": "emt", "size": "1/2 in"}}
            runs[f"{panel} circuit {k}"] = way
            load = {"on": f"{line}-N", "power": f"{dice.randint(2, 15) / 10} kW"}
            places[f"{panel} outlet {k}"] = {"kind": "outlet", "loads": [load]}
    return {
        "site": "made-up house",
        "soil": "100 ohm m",
        "sources": {
            "utility": {
                "system": "120/240 V",
                "transformer": {"rating": "25 kVA", "impedance": "2 %"},
                "electrode": f"{dice.randint(2, 20)} ohm",
            }
        },
        "places": places,
        "runs": runs,
        "electrodes": electrodes,
        "metal": metal,
    }


def _shop(dice: random.Random) -> dict[str, Any]:
    places: dict[str, Any] = {"switchboard": {"kind": "service", "main": "400 A breaker"}}
    runs: dict[str, Any] = {
        "service": {
            "from": "utility", "to": "switchboard", "length": f"{dice.randint(30, 120)} ft",
            "lines": "500 kcmil Cu", "neutral": "500 kcmil Cu",
            "raceway": {"kind": "pvc", "size": "4 in"},
        }
    }  # fmt: skip
    panels: list[str] = []
    for number in range(1, dice.randint(2, 4) + 1):
        name = f"panel {number}"
        places[name] = {"kind": "panel", "main": "100 A breaker"}
        way: dict[str, Any] = {
            "from": dice.choice(["switchboard", *panels]), "to": name,
            "length": f"{dice.randint(40, 200)} ft", "device": "100 A breaker",
            "lines": "3 AWG Cu",
        }  # fmt: skip
        if dice.random() < 0.5:
            way |= {"egc": "raceway", "raceway": {"kind": "emt", "size": "1-1/4 in"}}
        else:
            way |= {"egc": "8 AWG Cu", "raceway": {"kind": "pvc", "size": "1-1/4 in"}}
        runs[f"feeder {number}"] = way
        panels.append(name)
    for panel in panels:
        for k in range(1, dice.randint(2, 4) + 1):
            line = dice.choice(["L1", "L2", "L3"])
            runs[f"{panel} circuit {k}"] = {
                "from": panel, "to": f"{panel} outlet {k}", "on": [line], "wiring": "cable",
                "length": f"{dice.randint(15, 120)} ft", "device": "20 A breaker",
                "lines": "12 AWG Cu",
            }  # fmt: skip
            load = {"on": f"{line}-N", "power": f"{dice.randint(2, 15) / 10} kW"}
            places[f"{panel} outlet {k}"] = {"kind": "outlet", "loads": [load]}
    return {
        "site": "made-up shop",
        "soil": "150 ohm m",
        "sources": {
            "utility": {
                "system": "208Y/120 V",
                "available": {"current": f"{dice.randint(8, 22)} kA", "x/r": 3},
                "electrode": "5 ohm",
            }
        },
        "places": places,
        "runs": runs,
        "electrodes": {
            "footing": {
                "kind": "concrete", "at": "switchboard", "resistance": f"{dice.randint(5, 20)} ohm"
            }
        },
        "metal": {},
    }  # fmt: skip


def true_plan(described: dict[str, Any], dice: random.Random) -> Plan:
    """Return the plan of the site as it really is, but for its defects."""
    site = Site.model_validate(described)
    found = make_plan(site)
    runs = {
        name: replace(run, length=run.length * dice.uniform(0.9, 1.12))
        for name, run in found.runs.items()
    }
    electrodes = {
        name: replace(e, resistance=e.resistance * math.exp(dice.gauss(0, 0.4)))
        for name, e in found.electrodes.items()
    }
    places = {}
    for name, place in site.places.items():
        loads = [
            load.model_copy(update={"power": load.power * share, "pf": dice.uniform(0.85, 1)})
            for load in place.loads
            if (share := 0.0 if dice.random() < 0.15 else dice.uniform(0.2, 1.5)) > 0
        ]
        places[name] = place.model_copy(update={"loads": loads})
    real = site.model_copy(update={"places": places})
    return replace(found, site=real, runs=runs, electrodes=electrodes)


# --- defects -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Wrong:
    """A defect to put into a site."""

    id: str
    kind: str
    thing: str
    alterations: tuple[Alteration, ...]


def possible(network: Network) -> Iterator[Wrong]:
    """Yield everything that can be put into a site and that the hunt looks for."""
    known = {v[0].id for v in singles(network)}
    for defect in defects(network):
        if defect.id in known:
            yield Wrong(defect.id, defect.kind.value, defect.thing, defect.alterations)
    for run in network.plan.runs.values():
        section = f"run {run.id}"
        for line in run.on:
            own = [p.name for p in strands(run) if p.terminal == line]
            opened, loose = f"line-open/{run.id}/{line}", f"line-loose/{run.id}/{line}"
            broken = tuple(Break(section, name) for name in own)
            yield Wrong(opened, "line-open", run.id, broken)
            series = tuple(Insert(section, name, 1.0) for name in own)
            yield Wrong(loose, "line-loose", run.id, series)
        metal = [p.name for p in strands(run) if p.terminal == "G"]
        if metal:
            series = tuple(Insert(section, name, 1.0) for name in metal)
            yield Wrong(f"egc-loose/{run.id}", "egc-loose", run.id, series)


# --- the truth and its readings ----------------------------------------------------------------


@dataclass
class Truth:
    """The site as it is, and somebody who reads meters on it."""

    plan: Plan
    wrong: tuple[Wrong, ...]
    sizes: tuple[float, ...]
    volts: float
    dice: random.Random

    def __post_init__(self) -> None:
        """Nothing is built before it is asked for."""
        self.solved: dict[Moment, tuple[Network, tuple[Change, ...], Solution]] = {}

    def state(self, moment: Moment) -> tuple[Network, tuple[Change, ...], Solution]:
        """Return the solved truth of a state."""
        if moment not in self.solved:
            network = self._network(moment)
            changes: list[Change] = []
            for defect, size in zip(self.wrong, self.sizes, strict=True):
                for item in defect.alterations:
                    own = item
                    if isinstance(item, (Join, Insert, Lift)) and size > 0:
                        own = replace(item, ohm=size)
                    changes += changes_for(network.solver, own)
            if moment.test is not None:
                volts = moment.test.siemens * self.dice.uniform(0.95, 1.05)
                port = moment.test.port
                changes.append(network.solver.join(port.a, port.b, 1 / volts))
            solution = settled(network, changes)[0]
            self.solved[moment] = (network, tuple(changes), solution)
        return self.solved[moment]

    def _network(self, moment: Moment) -> Network:
        """Return the circuit of a state; what is off may still stand by at a few watts."""
        if moment.loads or not moment.power:
            return network_at(self.plan, moment)
        site = self.plan.site
        places = {
            name: place.model_copy(
                update={
                    "loads": [
                        load.model_copy(update={"power": self.dice.uniform(0.5, 6.0)})
                        for load in place.loads
                        if self.dice.random() < 0.5
                    ]
                }
            )
            for name, place in site.places.items()
        }
        idle = replace(self.plan, site=site.model_copy(update={"places": places}))
        return network_at(idle, replace(moment, loads=True))

    def exact(self, reading: Reading) -> float:
        """Return what an ideal meter would show."""
        network, changes, solution = self.state(reading.moment)
        driven = reading.quantity in DRIVEN
        total = 0j
        if reading.quantity is Quantity.EARTH_LOOP:
            return self._round(network, changes, reading.terms[0][0])
        for port, weight in reading.terms:
            if driven or not port.gap:
                source = self._source(network, changes, port.a, port.b)
                if driven:
                    return abs(source)
                seen = solution.between(port.a, port.b)
                meter = reading.instrument
                if meter.phantom and abs(source) > 2e5:
                    return self.dice.uniform(15, 85)
                total += weight * seen / (1 + source / meter.input)
            elif port.b == "switch":
                total += weight * solution.switch_current(port.a)
            else:
                total += weight * solution.conductor_current(port.a, port.b)
        return abs(total) * self.volts

    def _source(self, network: Network, changes: Sequence[Change], a: str, b: str) -> complex:
        """Return the impedance between two nodes, by a one-ampere test."""
        told = network.solver.solve(changes, [Injection(b, a, 1.0)], dead=True)
        return told.between(a, b)

    def _round(self, network: Network, changes: Sequence[Change], port: Port) -> float:
        """Return the loop that a tester drives which is clamped round a conductor.

        Between the ends of the conductor, taken out, and in series with it.
        """
        k = network.solver.section_index[port.a]
        section = network.circuit.sections[k]
        place = section.names.index(port.b)
        own = network.solver.open_conductor(port.a, port.b)
        if any((change.u, change.v) == (own.u, own.v) for change in changes):
            return 1e9
        rest = self._source(network, (*changes, own), section.starts[place], section.ends[place])
        return abs(rest + complex(section.impedance[place, place]))

    def read(self, reading: Reading, number: int) -> Reading:
        """Return the reading with a value as its instrument would show it."""
        meter = reading.instrument
        exact = self.exact(reading)
        limit = meter.relative * exact + meter.floor
        shown = max(exact + self.dice.uniform(-0.9, 0.9) * limit, 0.0)
        digit = _digit(meter)
        shown = round(shown / digit) * digit
        over = shown > meter.most
        value = min(shown, meter.most)
        return replace(
            reading, number=number, value=value, sigma=meter.uncertainty(value), over=over
        )


def _digit(meter: Instrument) -> float:
    return 10.0 ** math.floor(math.log10(meter.floor / 3))


SIZES = {
    "tie-added": (0.001, 0.03),
    "tie-loose": (0.3, 8.0),
    "neutral-loose": (0.15, 3.0),
    "line-loose": (0.25, 5.0),
    "egc-loose": (0.2, 10.0),
    "line-leaks": (8.0, 80.0),
    "contact": (0.003, 0.2),
}


def random_wrong(
    network: Network, count: int, dice: random.Random, weights: Mapping[str, float] | None = None
) -> tuple[Wrong, ...]:
    """Choose defects: a kind first, then one of it, so that rare kinds are met too.

    Args:
        network: the site as described.
        count: how many.
        dice: for choosing.
        weights: of the kinds; all alike without.
    """
    by: dict[str, list[Wrong]] = {}
    for item in possible(network):
        by.setdefault(item.kind, []).append(item)
    kinds = sorted(by)
    shares = [1.0 if weights is None else weights[kind] for kind in kinds]
    while True:
        chosen = tuple(dice.choice(by[k]) for k in dice.choices(kinds, shares, k=count))
        if len({item.thing for item in chosen}) == count:
            return chosen


def size_of(item: Wrong, dice: random.Random) -> float:
    """Return the resistance of a defect, ohm; 0 where it has none to vary."""
    span = SIZES.get(item.kind)
    return 0.0 if span is None else math.exp(dice.uniform(*(math.log(v) for v in span)))
