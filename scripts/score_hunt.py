"""Score the hunt on made-up sites with made-up defects, and write its tables and its plot.

    python -m scripts.score_hunt [--singles N] [--doubles N] [--sound N] [--drawn N] [--seed S]
        [--write]

Each case: a random small site; a truth that differs from its description in lengths, loads,
electrodes, joints and supply voltage; one or two defects put into the truth and solved by the
network itself, steel settled; readings as the hunt asks for them, one at a time, each with an
error within its instrument's limits and rounded to its digits. Seeds from 10,000 to 99,999 are for
development, from 500,000 on for the page: change nothing by what the latter show.
"""

from __future__ import annotations

import argparse
import itertools
import json
import random
import statistics
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from bondwright.draw.calibration import Said, calibration_plot
from bondwright.network.solve import SolveError
from bondwright.plan.build import plan as make_plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.hunt.candidates import Candidate, candidates
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.next_reading import grouped, ports_of, propose
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.settings import settings
from bondwright.studies.hunt.staged import everything
from scripts.made_up import Truth, random_site, random_wrong, size_of, true_plan

DOCS = Path(__file__).parents[1] / "docs"
PAGE, PLOT = DOCS / "hunt.md", DOCS / "images" / "hunt-calibration.svg"
BEGIN, END = "<!-- score: begin -->", "<!-- score: end -->"
LIMITS = (8, 12, 16)
"""Numbers of readings after which a hunt is judged."""

OPEN_SORTS = (
    "clamp in an accessible place",
    "voltage at an outlet",
    "voltage to a remote pin",
)


@dataclass(frozen=True)
class State:
    """How far a hunt had come after so many readings.

    Attributes:
        first: whether the truth came first.
        group: whether it came first, or can't be told from what came first.
        three: whether it was among the first three, or in that group.
        right: whether the first cause, or one not to be told from it, is true or a part of it.
        chance: probability given to those.
        taken: readings.
        stood_out: whether one cause stood out.
    """

    first: bool
    group: bool
    three: bool
    right: bool
    chance: float
    taken: int
    stood_out: bool


@dataclass(frozen=True)
class Outcome:
    """How one case went: after 8, 12 and 16 readings."""

    kinds: tuple[str, ...]
    true: str
    told: str
    silent: bool
    states: tuple[State, ...]
    seconds: float
    taken: int


@dataclass(frozen=True)
class Case:
    """What is to be tried: a seed, how many defects (-1: as the weights of the hunt have it)."""

    seed: int
    count: int


def run_case(case: Case) -> Outcome:
    """Make one case and hunt it down.

    Two defects are hunted as in practice: what stands out is mended, and the readings start anew.
    """
    dice = random.Random(case.seed)
    data = settings()
    drawn = case.count < 0
    count = case.count
    if drawn:
        total = sum(data.weights.values())
        count = 0 if dice.random() < data.nothing / (data.nothing + total) else 1
    while True:
        described = random_site(dice)
        plan = make_plan(Site.model_validate(described))
        network = network_at(plan, Moment())
        wrong = random_wrong(network, count, dice, data.weights if drawn else None)
        sizes = tuple(size_of(d, dice) for d in wrong)
        truth = Truth(true_plan(described, dice), wrong, sizes, dice.gauss(1, 0.02), dice)
        try:
            truth.state(Moment())
        except SolveError:
            continue
        sound = replace(truth, wrong=(), sizes=())
        alone = [replace(truth, wrong=(d,), sizes=(z,)) for d, z in zip(wrong, sizes, strict=True)]
        if count < 2 or all(noticed(one, sound, candidates(network)) for one in alone):
            break
    those = everything(network, plan)
    symptom = noticed(truth, sound, candidates(network))
    wanted = " + ".join(sorted(d.id for d in wrong)) or "nothing-wrong"
    limits = LIMITS if case.count == 1 else LIMITS[:1]
    rankings, seconds = follow(plan, truth, those, limits, symptom)
    parts = {d.id for d in wrong}
    states = tuple(_state(r, wanted, parts) for r in rankings)
    ranking, taken = rankings[0], states[-1].taken
    group = {ranking.causes[0].id, *ranking.causes[0].alike}
    hit = [k for k, d in enumerate(wrong) if d.id in group]
    if count == 2 and hit and not states[0].group and ranking.stands_out:
        left = alone[1 - hit[0]]
        again = noticed(left, sound, candidates(network))
        (then,), further = follow(plan, left, those, limits, again)
        second = _state(then, left.wrong[0].id, {left.wrong[0].id})
        first = second.first and ranking.causes[0].id == wrong[hit[0]].id
        taken, seconds = taken + second.taken, seconds + further
        states = (
            replace(states[0], first=first, group=second.group, three=second.three, taken=taken),
        )
    told = rankings[0].causes[0].id
    return Outcome(
        tuple(d.kind for d in wrong), wanted, told, symptom is None, states, seconds, taken
    )


def kept(path: Path) -> dict[Case, Outcome]:
    """Return the cases that an earlier run kept."""
    found = {}
    for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else []:
        seed, count, told = json.loads(line)
        states = tuple(State(**item) for item in told.pop("states"))
        kinds = tuple(told.pop("kinds"))
        found[Case(seed, count)] = Outcome(kinds=kinds, states=states, **told)
    return found


def keep(path: Path, case: Case, one: Outcome) -> None:
    """Add a case to those that are kept."""
    with path.open("a", encoding="utf-8") as file:
        file.write(json.dumps([case.seed, case.count, asdict(one)]) + "\n")


def _state(ranking: Ranking, wanted: str, parts: set[str]) -> State:
    top = ranking.causes[0]
    group = {top.id, *top.alike}
    return State(
        first=top.id == wanted,
        group=wanted in group,
        three=wanted in group | {c.id for c in ranking.causes[:3]},
        right=wanted in group or (len(top.hypothesis.members) == 1 and bool(group & parts)),
        chance=sum(ranking.probability(id) for id in group),
        taken=len(ranking.readings),
        stood_out=ranking.stands_out,
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
    limits: Sequence[int],
    symptom: Candidate | None,
) -> tuple[list[Ranking], float]:
    """Take the readings that the hunt asks for until one cause stands out.

    Returns:
        The ranking after so many readings as each limit allows, and the processor's time for it, s.
    """
    readings: list[Reading] = []
    more = ports_of(those)
    start = time.process_time()
    if symptom is not None:
        readings.append(replace(truth.read(symptom.reading, 1), noticed=True))
    ranking = hunt(plan, readings, doubles=False, more=more)
    found: list[Ranking] = []
    for limit in limits:
        while len(readings) < limit:
            proposals = propose(ranking, those, count=1)
            if not proposals:
                break
            readings.append(truth.read(proposals[0].candidate.reading, len(readings) + 1))
            ranking = grouped(hunt(plan, readings, more=more), those)
            if ranking.stands_out and ranking.causes[0].id != "nothing-wrong":
                found += [ranking] * (len(limits) - len(found))
                return found, time.process_time() - start
        found.append(ranking)
    return found, time.process_time() - start


# --- the tables ---------------------------------------------------------------------------------


def share(values: Sequence[bool]) -> str:
    """Write a share with its count."""
    return f"{sum(values) / len(values):.0%} ({sum(values)} of {len(values)})" if values else "-"


def report(found: dict[str, list[Outcome]], command: str) -> str:
    """Return the tables as markdown."""
    single = found["single"]
    shows = [o for o in single if not o.silent]
    silent = [o for o in single if o.silent]
    met = [o for o in found["drawn"] if o.kinds]
    out = [
        f"Made by `{command}`.",
        "",
        "| cases, after eight readings | true cause first | first, or not to be told from the "
        "first | in the first three | one stood out | median readings |",
        "|---|---|---|---|---|---|",
    ]
    for word, those in (
        ("one defect that shows", shows),
        ("one defect, silent in normal use", silent),
        ("one defect, all", single),
        ("one defect that shows, kinds as often as met", [o for o in met if not o.silent]),
        ("one defect, silent, kinds as often as met", [o for o in met if o.silent]),
        ("two that show, mended one after the other", found["double"]),
        ("nothing wrong", found["sound"]),
    ):
        if those:
            states = [o.states[0] for o in those]
            out.append(
                f"| {word} | {share([s.first for s in states])} | "
                f"{share([s.group for s in states])} | {share([s.three for s in states])} | "
                f"{share([s.stood_out for s in states])} | "
                f"{statistics.median(s.taken for s in states):g} |"
            )
    out += [
        "",
        "With more readings, one defect, first or not to be told from the first:",
        "",
        "| cases | " + " | ".join(f"within {limit}" for limit in LIMITS) + " |",
        "|---|" + "---|" * len(LIMITS),
    ]
    for word, those in (("shows", shows), ("silent", silent), ("all", single)):
        cells = [share([o.states[k].group for o in those]) for k in range(len(LIMITS))]
        out.append(f"| {word} | {' | '.join(cells)} |")
    out += [
        "",
        "By kind, one defect, the same:",
        "",
        "| kind | shows, within 8 | "
        + " | ".join(f"silent, within {limit}" for limit in LIMITS)
        + " |",
        "|---|---|" + "---|" * len(LIMITS),
    ]
    for kind in sorted({o.kinds[0] for o in single}):
        cells = [share([o.states[0].group for o in shows if o.kinds[0] == kind])]
        own = [o for o in silent if o.kinds[0] == kind]
        cells += [share([o.states[k].group for o in own]) for k in range(len(LIMITS))]
        out.append(f"| {kind} | {' | '.join(cells)} |")
    out += _calibration(found)
    every = [o for those in found.values() for o in those]
    seconds = statistics.median(o.seconds / max(o.taken, 1) for o in every)
    out += [
        "",
        f"Ranking and proposing took {seconds:.2f} s of one processor for each reading (median).",
    ]
    return "\n".join(out)


EDGES = (0.0, 0.3, 0.5, 0.7, 0.85, 0.95, 1.01)


def said(those: Sequence[Outcome]) -> list[Said]:
    """Return what was said and how often it was right, in classes of probability."""
    states = [o.states[0] for o in those]
    found = []
    for low, high in itertools.pairwise(EDGES):
        own = [s for s in states if low <= s.chance < high]
        if own:
            mean = float(np.mean([s.chance for s in own]))
            found.append(Said(mean, sum(s.right for s in own), len(own)))
    return found


def series(found: dict[str, list[Outcome]]) -> list[tuple[str, list[Said]]]:
    """Return the series of the calibration plot."""
    even = [*found["sound"], *found["single"], *found["double"]]
    return [
        (word, said(those))
        for word, those in (
            ("kinds as often as the hunt takes them to be met", found["drawn"]),
            ("every kind as often as every other", even),
        )
        if those
    ]


def _calibration(found: dict[str, list[Outcome]]) -> list[str]:
    out = [
        "",
        "Calibration after eight readings: the probability given to the first cause, with those "
        "not to be told from it, and how often it was right (of two defects either counts):",
        "",
        "| cases | said, mean | right |",
        "|---|---|---|",
    ]
    for word, points in series(found):
        out += [f"| {word} | {p.mean:.0%} | {p.right} of {p.count}: {p.part:.0%} |" for p in points]
    return [*out, "", f"![Said and right](images/{PLOT.name})"]


def main() -> None:
    """Run the cases and print, or write, the tables and the plot."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--singles", type=int, default=100)
    parser.add_argument("--doubles", type=int, default=40)
    parser.add_argument("--sound", type=int, default=20)
    parser.add_argument("--drawn", type=int, default=100)
    parser.add_argument("--seed", type=int, default=20_000)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="file of cases done, to go on from")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    found: dict[str, list[Outcome]] = {}
    done = {} if asked.keep is None else kept(asked.keep)
    wanted = (
        ("single", 1, asked.singles),
        ("double", 2, asked.doubles),
        ("drawn", -1, asked.drawn),
        ("sound", 0, asked.sound),
    )
    with ProcessPoolExecutor(asked.workers) as pool:
        for number, (word, count, cases) in enumerate(wanted):
            seeds = [Case(asked.seed + 10_000 * number + k, count) for k in range(cases)]
            left = [case for case in seeds if case not in done]
            for case, one in zip(left, pool.map(run_case, left), strict=True):
                done[case] = one
                if asked.keep is not None:
                    keep(asked.keep, case, one)
                if asked.verbose:
                    marks = "".join("+" if s.group else "-" for s in one.states)
                    print(
                        case.seed, marks, one.true, "|", one.told, one.silent, one.taken,
                        f"{one.states[0].chance:.2f} {one.seconds:.1f} s", flush=True,
                    )  # fmt: skip
            found[word] = [done[case] for case in seeds]
    command = (
        f"python -m scripts.score_hunt --singles {asked.singles} --doubles {asked.doubles} "
        f"--sound {asked.sound} --drawn {asked.drawn} --seed {asked.seed} --write"
    )
    text = report(found, command)
    print(text)
    if asked.write:
        page = PAGE.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN, 1)
        after = rest.split(END, 1)[1]
        PAGE.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")
        PLOT.write_text(calibration_plot(series(found)).svg + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
