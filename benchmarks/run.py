"""Measures how fast the tool is: one line a figure, ``name: value unit, goal G, met|short``.

Run it with ``make bench``. Figures are of this machine, now; ratios are of runs one after the
other on it. Each figure is also checked for being the answer to the question it is the time of.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from benchmarks import earth, hunting
from benchmarks.figure import Figure, seconds
from benchmarks.page import page_figures

ROOT = Path(__file__).parents[1]
PROGRAM = [sys.executable, "-m", "bondwright"]
PLACES = 2000
SAMPLED = 12
"""Faults that are also followed one by one, to see that the fast way gives the same."""

CLOSE = 1e-7
"""Part of a fault's current by which steel raceways left as they are may change it, the second
time."""

FARM = ROOT / "examples" / "harrow-creek-farmhouse.yaml"
WHOLE_DEMO = ROOT / "examples" / "harrow-creek.yaml"


def program(*arguments: str) -> None:
    """Run the command line; exit 1 (something falls short) is an answer too."""
    done = subprocess.run([*PROGRAM, *arguments], capture_output=True, text=True, check=False)
    if done.returncode not in {0, 1}:
        raise RuntimeError(f"bondwright {' '.join(arguments)} failed:\n{done.stderr}")


def command_line(folder: Path) -> Iterator[Figure]:
    """Measure the program as a person starts it."""
    yield Figure("bondwright --help", seconds(lambda: program("--help"), 5), "s", 0.3)
    for name, path in (
        ("demo farmhouse, all papers", FARM),
        ("whole demo, all papers", WHOLE_DEMO),
    ):
        if path.exists():
            out = str(folder / path.stem)
            took = seconds(partial(program, "papers", str(path), "--out", out))
            yield Figure(name, took, "s", 10)


def building(folder: Path) -> Iterator[Figure]:
    """Measure a large building, from its file to every fault, and ngspice on the same circuit."""
    from bondwright.network.build import build
    from bondwright.network.spice import netlist
    from bondwright.plan.build import plan
    from bondwright.site.generator import large_site
    from bondwright.site.reader import load
    from bondwright.site.writer import dump
    from bondwright.studies.fault_table import study_many
    from bondwright.studies.faults import possible_faults, study_fault
    from bondwright.studies.wall_settling import DROPPED

    path = folder / "large.yaml"
    path.write_text(dump(large_site(PLACES)), encoding="utf-8")
    start = time.perf_counter()
    site = load(path)
    read = time.perf_counter()
    planned = plan(site)
    placed = time.perf_counter()
    network = build(planned)
    whole = network.solver.solve()
    solved = time.perf_counter()
    if len(site.places) != PLACES or whole.residuals.kirchhoff > 1e-9:
        raise RuntimeError("the building is not what it should be")
    yield Figure(f"{PLACES} places: read, plan, network, solve", solved - start, "s", 2)
    yield Figure(f"{PLACES} places: read", read - start, "s", 1)
    yield Figure(f"{PLACES} places: plan", placed - read, "s", 0.5)
    yield Figure(f"{PLACES} places: network and solve", solved - placed, "s", 0.5)

    quiet = build(planned, loads=False)
    faults = possible_faults(quiet)
    tables = []
    took = seconds(lambda: tables.append(study_many(quiet, faults)))
    closer = seconds(lambda: tables.append(study_many(quiet, faults, within=CLOSE)))
    table, fine = tables
    step = max(1, len(faults) // SAMPLED)
    for k in range(0, len(faults), step):
        one = study_fault(quiet, faults[k])
        for found, close in ((table, 2 * DROPPED), (fine, 1e-6)):
            if abs(one.current - found.current[k]) > close * one.current + 1e-6:
                said = f"{found.current[k]} A, followed alone {one.current} A"
                raise RuntimeError(f"{faults[k]}: {said}")
    many = f"{PLACES} places: every fault ({len(faults)})"
    yield Figure(many, took, "s", 5)
    yield Figure(f"{many}, current within {CLOSE:g}", closer, "s", 5)
    each = took / len(faults)
    yield Figure("one fault of them, all together", each * 1e3, "ms", 1)
    alone = seconds(lambda: study_fault(quiet, faults[-1]), 3)
    yield Figure("one fault followed alone, steel settled", alone * 1e3, "ms", 1000)
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        sys.stderr.write("ngspice is not installed: no ratio\n")
        return
    fault = faults[-1]
    join = quiet.solver.join(f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}")
    deck = folder / "large.cir"
    deck.write_text(netlist(quiet.circuit, str(fault), [join]), encoding="utf-8")

    def theirs() -> None:
        raw = str(folder / "large.raw")
        command = [ngspice, "-b", "-r", raw, str(deck)]
        subprocess.run(command, capture_output=True, check=True, cwd=folder)

    # One run of theirs is one solution; a followed fault of ours is two or more.
    other = seconds(theirs)
    yield Figure("faults against ngspice", other / each, "times faster", 100_000, more=True)


def main() -> None:
    """Print every figure."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for figures in (
            command_line(folder),
            earth.figures(),
            building(folder),
            hunting.figures(),
            page_figures(folder),
        ):
            for figure in figures:
                sys.stdout.write(f"{figure}\n")
                sys.stdout.flush()


if __name__ == "__main__":
    main()
