"""Score the hunt on made-up sites with made-up defects, and write the table in docs/hunt.md.

    python scripts/score_hunt.py [--singles N] [--doubles N] [--seed S] [--readings R] [--write]

Each case: a random small site; a truth that differs from its description in lengths, loads,
electrodes, joints and supply voltage; one or two defects put into the truth and solved by the
network itself, steel settled; readings as the hunt asks for them, one at a time, each with an
error within its instrument's limits and rounded to its digits. The sites, the spread of the truth
and the sizes of the defects are none of the hunt's own ranges.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from bondwright.network.build import Network
from bondwright.network.raceways import settled
from bondwright.network.solve import Change, Solution, SolveError
from bondwright.plan.build import plan as make_plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.defects.alterations import Insert, Join, Lift, changes_for
from bondwright.studies.defects.catalogue import Defect, defects
from bondwright.studies.hunt.candidates import (
    Candidate,
    candidates,
    with_main_off,
    with_power_off,
)
from bondwright.studies.hunt.hypotheses import singles
from bondwright.studies.hunt.instruments import Instrument, Quantity
from bondwright.studies.hunt.next_reading import grouped, ports_of, propose
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.readings import Moment, Reading

PAGE = Path(__file__).parents[1] / "docs" / "hunt.md"
BEGIN, END = "<!-- score: begin -->", "<!-- score: end -->"


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


# --- the truth and its readings ----------------------------------------------------------------


@dataclass
class Truth:
    """The site as it is, and somebody who reads meters on it."""

    plan: Plan
    wrong: tuple[Defect, ...]
    sizes: tuple[float, ...]
    volts: float
    dice: random.Random

    def __post_init__(self) -> None:
        """Nothing is built before it is asked for."""
        self.solved: dict[Moment, tuple[Network, tuple[Change, ...], Solution]] = {}

    def state(self, moment: Moment) -> tuple[Network, tuple[Change, ...], Solution]:
        """Return the solved truth of a state."""
        if moment not in self.solved:
            network = network_at(self.plan, moment)
            changes: list[Change] = []
            for defect, size in zip(self.wrong, self.sizes, strict=True):
                for item in defect.alterations:
                    own = item
                    if isinstance(item, (Join, Insert, Lift)) and size > 0:
                        own = replace(item, ohm=size)
                    changes += changes_for(network.solver, own)
            solution = settled(network, changes)[0]
            self.solved[moment] = (network, tuple(changes), solution)
        return self.solved[moment]

    def exact(self, reading: Reading) -> float:
        """Return what an ideal meter would show."""
        network, changes, solution = self.state(reading.moment)
        driven = reading.quantity in (Quantity.RESISTANCE, Quantity.LOOP)
        total = 0j
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
        from bondwright.network.solve import Injection

        told = network.solver.solve(changes, [Injection(b, a, 1.0)], dead=True)
        return told.between(a, b)

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
    "line-leaks": (8.0, 80.0),
    "contact": (0.003, 0.2),
}


def random_wrong(network: Network, count: int, dice: random.Random) -> tuple[Defect, ...]:
    """Choose defects: a kind first, then one of it, so that rare kinds are met too."""
    known = {v[0].id for v in singles(network)}
    by: dict[str, list[Defect]] = {}
    for defect in defects(network):
        if defect.id in known:
            by.setdefault(defect.kind.value, []).append(defect)
    while True:
        chosen = tuple(dice.choice(by[dice.choice(sorted(by))]) for _ in range(count))
        if len({d.thing for d in chosen}) == count:
            return chosen


@dataclass(frozen=True)
class Outcome:
    """How one case went."""

    kinds: tuple[str, ...]
    true: str
    told: str
    silent: bool
    first: bool
    group: bool
    three: bool
    right: bool
    taken: int
    stood_out: bool
    chance: float
    seconds: float


def run_case(seed: int, count: int, most: int) -> Outcome:
    """Make one case and hunt it down.

    Two defects are hunted as in practice: what stands out is mended, and the readings start anew.
    """
    dice = random.Random(seed)
    while True:
        described = random_site(dice)
        plan = make_plan(Site.model_validate(described))
        network = network_at(plan, Moment())
        wrong = random_wrong(network, count, dice)
        sizes = tuple(_size(d, dice) for d in wrong)
        truth = Truth(true_plan(described, dice), wrong, sizes, dice.gauss(1, 0.02), dice)
        try:
            truth.state(Moment())
        except SolveError:
            continue
        sound = replace(truth, wrong=(), sizes=())
        alone = [replace(truth, wrong=(d,), sizes=(z,)) for d, z in zip(wrong, sizes, strict=True)]
        if count < 2 or all(noticed(one, sound, candidates(network)) for one in alone):
            break
    those = (*candidates(network), *with_main_off(network, plan), *with_power_off(network))
    symptom = noticed(truth, sound, candidates(network))
    ranking, taken, seconds = follow(plan, truth, those, most, symptom)
    wanted = " + ".join(sorted(d.id for d in wrong)) or "nothing-wrong"
    top = ranking.causes[0]
    group = {top.id, *top.alike}
    first, found = top.id == wanted, wanted in group
    hit = [k for k, d in enumerate(wrong) if d.id in group]
    if count == 2 and hit and not found and ranking.stands_out:
        left = alone[1 - hit[0]]
        again = noticed(left, sound, candidates(network))
        then, more, further = follow(plan, left, those, most, again)
        taken, seconds = taken + more, seconds + further
        rest = left.wrong[0].id
        found = rest in {then.causes[0].id, *then.causes[0].alike}
        first = found and top.id == wrong[hit[0]].id and then.causes[0].id == rest
    return Outcome(
        kinds=tuple(d.kind.value for d in wrong),
        true=wanted,
        told=top.id,
        silent=symptom is None,
        first=first,
        group=found,
        three=found or wanted in {c.id for c in ranking.causes[:3]},
        right=bool(hit) if count == 2 and len(top.hypothesis.members) < 2 else wanted in group,
        taken=taken,
        stood_out=ranking.stands_out,
        chance=sum(ranking.probability(id) for id in group),
        seconds=seconds,
    )


def _size(defect: Defect, dice: random.Random) -> float:
    span = SIZES.get(defect.kind.value)
    return 0.0 if span is None else math.exp(dice.uniform(*(math.log(v) for v in span)))


OPEN_SORTS = (
    "clamp in an accessible place",
    "voltage at an outlet",
    "voltage to a remote pin",
)


def noticed(truth: Truth, sound: Truth, those: Sequence[Candidate]) -> Candidate | None:
    """Return what somebody noticed, so that a hunt began: None where the defect is silent.

    One reading, at random, of those that need no cover off and that the defect moves by more than
    five standard uncertainties and half the sound value (6 V, where that is a line voltage).
    """
    found = []
    for item in those:
        if item.sort in OPEN_SORTS:
            now, before = truth.exact(item.reading), sound.exact(item.reading)
            sigma = item.reading.instrument.uncertainty(before)
            ordinary = 6.0 if before > 50 else 0.5 * before
            if abs(now - before) > 5 * sigma + ordinary:
                found.append(item)
    return truth.dice.choice(found) if found else None


def follow(
    plan: Plan,
    truth: Truth,
    those: Sequence[Candidate],
    most: int,
    symptom: Candidate | None,
) -> tuple[Ranking, int, float]:
    """Take the readings that the hunt asks for until one cause stands out."""
    readings: list[Reading] = []
    more = ports_of(those)
    start = time.perf_counter()
    if symptom is not None:
        readings.append(truth.read(symptom.reading, 1))
    ranking = hunt(plan, readings, doubles=False, more=more)
    while len(readings) < most:
        proposals = propose(ranking, those, count=1)
        if not proposals:
            break
        readings.append(truth.read(proposals[0].candidate.reading, len(readings) + 1))
        ranking = grouped(hunt(plan, readings, more=more), those)
        if ranking.stands_out and ranking.causes[0].id != "nothing-wrong":
            break
    return ranking, len(readings), time.perf_counter() - start


# --- the table ----------------------------------------------------------------------------------


def share(values: Sequence[bool]) -> str:
    """Write a share with its count."""
    return f"{sum(values) / len(values):.0%} ({sum(values)} of {len(values)})" if values else "-"


def report(sound: list[Outcome], single: list[Outcome], double: list[Outcome], command: str) -> str:
    """Return the tables as markdown."""
    shows = [o for o in single if not o.silent]
    silent = [o for o in single if o.silent]
    one_at_a_time = "two that show, mended one after the other"
    out = [
        f"Made by `{command}`.",
        "",
        "| cases | true cause first | first, or not to be told from the first | in the first three "
        "| one stood out | median readings |",
        "|---|---|---|---|---|---|",
    ]
    for word, those in (
        ("one defect that shows", shows),
        ("one defect, silent in normal use", silent),
        ("one defect, all", single),
        (one_at_a_time, double),
        ("nothing wrong", sound),
    ):
        if those:
            out.append(
                f"| {word} | {share([o.first for o in those])} | {share([o.group for o in those])}"
                f" | {share([o.three for o in those])} | {share([o.stood_out for o in those])} | "
                f"{statistics.median(o.taken for o in those):g} |"
            )
    out += [
        "",
        "By kind, one defect:",
        "",
        "| kind | shows: true cause first, or not to be told from it | silent |",
        "|---|---|---|",
    ]
    for kind in sorted({o.kinds[0] for o in single}):
        own = [[o.group for o in part if o.kinds[0] == kind] for part in (shows, silent)]
        out.append(f"| {kind} | {share(own[0])} | {share(own[1])} |")
    out += [
        "",
        "Calibration, all hunts up to their first answer: the probability given to the first "
        "cause, with those not to be told from it, and how often it was right (of two defects "
        "either counts):",
        "",
        "| said | cases | mean said | right |",
        "|---|---|---|---|",
    ]
    every = [*sound, *single, *double]
    for low, high in ((0.0, 0.3), (0.3, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 1.01)):
        own_cases = [o for o in every if low <= o.chance < high]
        if own_cases:
            mean = float(np.mean([o.chance for o in own_cases]))
            out.append(
                f"| {low:.0%} to {min(high, 1):.0%} | {len(own_cases)} | {mean:.0%} | "
                f"{share([o.right for o in own_cases])} |"
            )
    seconds = statistics.median(o.seconds / max(o.taken, 1) for o in every)
    out += ["", f"Ranking and proposing took {seconds:.2f} s for each reading (median)."]
    return "\n".join(out)


def main() -> None:
    """Run the cases and print, or write, the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--singles", type=int, default=100)
    parser.add_argument("--doubles", type=int, default=40)
    parser.add_argument("--sound", type=int, default=20)
    parser.add_argument("--seed", type=int, default=20_000)
    parser.add_argument("--readings", type=int, default=8)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    found: dict[int, list[Outcome]] = {0: [], 1: [], 2: []}
    for count, cases in ((0, asked.sound), (1, asked.singles), (2, asked.doubles)):
        for k in range(cases):
            one = run_case(asked.seed + 1000 * count + k, count, asked.readings)
            found[count].append(one)
            if asked.verbose:
                print(
                    k, "+" if one.group else "-", one.true, "|", one.told, one.silent, one.taken,
                    f"{one.chance:.2f} {one.seconds:.1f} s", flush=True,
                )  # fmt: skip
    command = (
        f"python scripts/score_hunt.py --singles {asked.singles} --doubles {asked.doubles} "
        f"--sound {asked.sound} --seed {asked.seed} --readings {asked.readings} --write"
    )
    text = report(found[0], found[1], found[2], command)
    print(text)
    if asked.write:
        page = PAGE.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN, 1)
        after = rest.split(END, 1)[1]
        PAGE.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
