"""Measures the sweep of defects: one line a figure, ``name: value unit, goal G, met|short``.

Run it with ``python benchmarks/sweep.py``; ``--very-large`` adds a block of 20,000 places. Before
anything is timed, a thousand random pairs of a defect and a fault on ten random sites are held
against the circuit built anew and factored. ``python benchmarks/sweep.py dask`` does only the
part of that name, one of ``pairs``, ``large``, ``dask`` and ``very-large``, or several.
"""

from __future__ import annotations

import argparse
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from itertools import chain, pairwise
from pathlib import Path

import numpy as np

from bondwright.network.build import Network, build
from bondwright.network.solve import Solver
from bondwright.network.spice import netlist
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.studies.defects.catalogue import changes_of
from bondwright.studies.defects.doubles import choose
from bondwright.studies.defects.pairs import follow_pairs
from bondwright.studies.defects.sweep import Sweeper, sweep
from bondwright.studies.defects.work import Asked, DoublesWork, Singles, scene
from bondwright.studies.faults import possible_faults, study_fault
from bondwright.studies.many.run import How, quietly, run

sys.path.insert(0, str(Path(__file__).parents[1]))

PAIRS = 1000
CLOSE = 1e-8
GIB = 2**30 / 1024
MANY = 20_000
DOUBLES = 4000
EACH: dict[int, float] = {}
"""Seconds a case, by the number of places."""


def checked(pairs: int = PAIRS) -> Iterator[str]:
    """Hold random pairs against circuits built anew; yield a line of what came out."""
    from benchmarks.run import Figure
    from tests.studies.defects.rebuilt import FAULT, rebuilt

    dice = random.Random(5)
    worst, tried = 0.0, 0
    for seed in range(10):
        site = _quiet(dice.randint(5, 80), seed)
        sweeper = Sweeper(site, faults=possible_faults(site))
        good = [d for d in range(len(sweeper.defects)) if d not in sweeper.faulty.lost]
        d = np.array([dice.choice(good) for _ in range(pairs // 10)])
        f = np.array([dice.randrange(len(sweeper.faults.faults)) for _ in d])
        out = follow_pairs(sweeper.faults, sweeper.faulty, d, f)
        for k, (one, fault) in enumerate(zip(d.tolist(), f.tolist(), strict=True)):
            solver = Solver(rebuilt(site, sweeper.defects[one], sweeper.faults.faults[fault]))
            solution = solver.solve()
            scale = max(abs(solution.voltage(node)) for node in solver.nodes)
            place = sweeper.ports.parts.places[out.touch_place[k]]
            alone = study_fault(
                site,
                sweeper.faults.faults[fault],
                changes_of(site, sweeper.defects[one]),
                settle=False,
            )
            volts, current = (
                abs(solution.voltage(f"{place}:G")),
                abs(solution.switch_current(FAULT)),
            )
            # Where parts hang by a loose tie a circuit factored anew loses digits itself: nobody
            # can agree better than it does with the refined answer.
            spread = 4 * abs(volts - alone.touch[place])
            apart = max(0.0, abs(out.touch[k] - volts) - spread) / scale
            if current > 1e-2:
                spread = 4 * abs(current - alone.current)
                apart = max(apart, (abs(out.current[k] - current) - spread) / current)
            worst = max(worst, float(apart))
            tried += 1
    yield str(Figure(f"{tried} random pairs against the circuit built anew", worst, "", CLOSE))


def large(places: int, seconds: float) -> Iterator[str]:
    """Sweep a large building; yield time, memory and how much faster than ngspice."""
    from benchmarks.run import Figure

    site = _quiet(places, 0)
    start = time.perf_counter()
    swept = sweep(site)
    took = time.perf_counter() - start
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / GIB
    name = f"{places} places: {len(swept.defects)} defects, {len(swept.faults)} faults"
    yield str(Figure(f"{name}, {swept.scenarios / 1e6:.1f} million cases", took, "s", seconds))
    yield str(Figure(f"{places} places: memory of the sweep", memory, "GiB", 4))
    rate = swept.scenarios / took
    EACH[places] = 1 / rate
    yield str(Figure(f"{places} places: cases solved", rate / 1e6, "million/s", 0.5, more=True))
    theirs = _theirs(site)
    if theirs is not None:
        ratio = theirs * rate
        yield str(Figure(f"{places} places: case against ngspice", ratio, "times", 1e5, more=True))


def one_block(places: int) -> Iterator[str]:
    """Do one block of a very large site; yield its time, the memory, and what all would take."""
    from benchmarks.run import Figure

    start = time.perf_counter()
    sweeper = Sweeper(_quiet(places, 0))
    ready = time.perf_counter()
    block = sweeper.block(*sweeper.blocks()[0])
    took = time.perf_counter() - ready
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / GIB
    count = len(sweeper.blocks())
    yield str(Figure(f"{places} places: plan, network and ports", ready - start, "s", 600))
    name = f"{places} places: one block of {count}, {block.pairs / 1e6:.0f} million cases"
    yield str(Figure(name, took, "s", 120))
    yield str(Figure(f"{places} places: memory of a block", memory, "GiB", 4))
    rate = block.pairs / took / 1e6
    yield str(Figure(f"{places} places: cases solved", rate, "million/s", 0.5, more=True))
    yield str(Figure(f"{places} places: all blocks, reckoned", took * count / 3600, "h", 4))


def scaling(figures: dict[int, float]) -> Iterator[str]:
    """Yield how the time of a case grows with the site: linear blocks keep it the same."""
    from benchmarks.run import Figure

    sizes = sorted(figures)
    for small, large_one in pairwise(sizes):
        ratio = figures[large_one] / figures[small]
        name = f"time of a case, {large_one} places over {small}"
        yield str(Figure(name, ratio, "times", 3))


def doubles_on_dask(places: int, most: int) -> Iterator[str]:
    """Sweep doubles by one worker and by two; yield the times and whether they agree."""
    from benchmarks.run import Figure

    made = plan(large_site(places, 0))
    times, found = [], []
    asked = Asked.of(made, None, every_fault=False, daily=True)
    work = Singles.of(asked)
    singles, moved = work.gather(run(work))
    choice = choose(singles.defects, [scene(asked).sweeper.faulty], moved, most)
    for workers in (1, 2):
        double = DoublesWork.of(asked, choice.pairs)
        small = DoublesWork(
            asked, choice.pairs, max(1, len(choice.pairs) // 16), double.fingerprint
        )
        with quietly(How(workers=workers)) as client:
            address = str(client.scheduler_info()["address"])
            # Every worker plans and factors the site once; a long run doesn't notice it.
            client.run(_ready, asked)
            start = time.perf_counter()
            swept = small.gather(run(small, How(scheduler=address)), singles)
            times.append(time.perf_counter() - start)
        found.append(swept)
    apart = float(np.abs(found[0].outcome.touch - found[1].outcome.touch).max())
    name = f"{places} places: {len(found[0].defects)} doubles, {found[0].scenarios:,} cases"
    yield str(Figure(f"{name}, one worker", times[0], "s", 300))
    yield str(Figure(f"{places} places: two workers over one", times[0] / times[1], "times", 1.7,
                     more=True))  # fmt: skip
    yield str(Figure(f"{places} places: two workers and one apart", apart, "V", 1e-12))
    near = f"{choice.near:,} of {choice.possible:,} doubles have to do with each other"
    part = choice.near / choice.possible
    yield str(Figure(f"{places} places: {near}", part, "part", 0.1))


def _ready(asked: Asked) -> int:
    """Plan and factor a site in a worker; return how much there is to read on it."""
    return len(scene(asked).readings.spots)


def _quiet(places: int, seed: int) -> Network:
    return build(plan(large_site(places, seed)), loads=False)


def _theirs(site: Network) -> float | None:
    """Return how long ngspice takes for one case of a site, s."""
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        sys.stderr.write("ngspice is not installed: no ratio\n")
        return None
    fault = possible_faults(site)[-1]
    join = site.solver.join(f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}")
    with tempfile.TemporaryDirectory() as name:
        deck = Path(name) / "large.cir"
        deck.write_text(netlist(site.circuit, str(fault), [join]), encoding="utf-8")
        command = [ngspice, "-b", "-r", str(Path(name) / "large.raw"), str(deck)]
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=True, cwd=name)
        return time.perf_counter() - start


PARTS: dict[str, Callable[[], Iterable[str]]] = {
    "pairs": checked,
    "large": lambda: chain(large(200, 2), large(2000, 20), scaling(EACH)),
    "dask": lambda: doubles_on_dask(200, DOUBLES),
    "very-large": lambda: one_block(MANY),
}


def main() -> None:
    """Print every figure of the parts that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", help=f"some of {', '.join(PARTS)}")
    parser.add_argument("--very-large", action="store_true", help="20,000 places as well")
    asked = parser.parse_args()
    if unknown := set(asked.parts) - set(PARTS):
        parser.error(f"no part is called {unknown.pop()!r}; there are {', '.join(PARTS)}")
    names = asked.parts or [name for name in PARTS if name != "very-large" or asked.very_large]
    for name in names:
        for line in PARTS[name]():
            sys.stdout.write(f"{line}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
