"""Random sites against ngspice, a general circuit simulator, on the netlists that the tool writes.

Each site is made up by its own seed: houses with outbuildings, shops, works with transformers of
their own. It is planned, built with its loads or without, and changed as faults and mistakes change
it: a fault, a tie off or one too many, a conductor broken, several of these at once. Every node's
voltage must agree to 1e-6 of the largest; to 1e-5 where a conductor is broken, for what then floats
on nanofarads has volts that both programs know no better (a hundred thousand millionth of the other
admittances hold it).

    python scripts/against_ngspice.py --sites 500 --seed 1 --workers 2
"""

from __future__ import annotations

import multiprocessing
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import click

from bondwright.network.build import Network, build
from bondwright.network.solve import Change
from bondwright.network.spice import netlist, node_numbers
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.site.model import Site
from bondwright.studies.faults import USUAL, possible_faults
from scripts.made_up import random_site

AGREE: Final = 1e-6
FLOATING: Final = 1e-5
CASES: Final = 3
"""Ways in which each site is changed."""


@dataclass(frozen=True, slots=True)
class Compared:
    """What came of a site.

    Attributes:
        seed: of the site.
        kind: what sort of site.
        nodes: of its circuit.
        worst: largest difference of a node, as a part of the largest voltage and of what is
            allowed; above one they don't agree.
        what: the change with that difference.
        changes: how often each kind of change was made.
    """

    seed: int
    kind: str
    nodes: int
    worst: float
    what: str
    changes: tuple[str, ...]


def site_of(dice: random.Random) -> tuple[str, Site]:
    """Make up a site."""
    if dice.random() < 0.25:
        return "works", large_site(dice.randint(8, 60), seed=dice.randrange(10**6))
    return "house or shop", Site.model_validate(random_site(dice))


def change_of(network: Network, dice: random.Random) -> tuple[str, list[Change]]:
    """Choose what is different in a network."""
    solver, made = network.solver, []
    words = []
    for kind in dice.sample(["fault", "tie off", "tie added", "broken"], dice.randint(0, 3)):
        if kind == "fault":
            faults = possible_faults(network, USUAL)
            fault = dice.choice(faults)
            ohms = dice.choice((0.0, 0.0, 0.05, 2.0))
            made.append(solver.join(f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}", ohms))
        elif kind == "tie off" and network.plan.ties:
            made.append(solver.open_switch(f"tie {dice.choice(network.plan.ties).id}"))
        elif kind == "tie added":
            both = [name for name, t in network.terminals.items() if {"N", "G"} <= set(t)]
            if not both:
                continue
            at = dice.choice(both)
            made.append(solver.join(f"{at}:N", f"{at}:G", 5e-4))
        elif kind == "broken":
            section = dice.choice([s for s in network.circuit.sections if s.id.startswith("run ")])
            made.append(solver.open_conductor(section.id, dice.choice(section.names)))
        else:
            continue
        words.append(kind)
    return " and ".join(words) or "whole", made


def compare(ngspice: Path, seed: int) -> Compared:
    """Compare a site in several ways.

    Raises:
        RuntimeError: ngspice gives no voltages.
    """
    from tests.network.ngspice import node_voltages

    dice = random.Random(f"against ngspice {seed}")
    kind, site = site_of(dice)
    planned = plan(site)
    worst, what, told = 0.0, "", []
    nodes = 0
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(CASES):
            loads = dice.random() < 0.5
            network = build(planned, loads=loads)
            words, changes = change_of(network, dice)
            told.append(words)
            ours = network.solver.solve(changes)
            text = netlist(network.circuit, f"seed {seed}", changes)
            theirs = node_voltages(ngspice, text, Path(folder))
            largest = max(abs(value) for value in theirs.values())
            nodes = max(nodes, len(theirs))
            for name, number in node_numbers(network.circuit).items():
                if number == "0":
                    continue
                off = abs(theirs[number] - ours.voltage(name)) / largest
                part = off / (FLOATING if "broken" in words else AGREE)
                if not part <= worst:
                    worst, what = part, f"{words}, loads {'on' if loads else 'off'}: {name}"
    return Compared(seed, kind, nodes, worst, what, tuple(told))


def report(found: Sequence[Compared]) -> bool:
    """Say what came of all sites; return whether all agree."""
    kinds = Counter(one.kind for one in found)
    parts = (word for one in found for whole in one.changes for word in whole.split(" and "))
    changes = Counter(parts)
    for kind, count in kinds.items():
        click.echo(f"{count} sites of the kind {kind}")
    for word, count in sorted(changes.items()):
        click.echo(f"  {count} times {word}")
    largest = max(found, key=lambda one: one.worst)
    click.echo(f"largest circuit: {max(one.nodes for one in found)} nodes")
    said = f"{largest.worst:.2g} of what is allowed (seed {largest.seed}, {largest.what})"
    click.echo(f"largest difference: {said}")
    bad = [one for one in found if not one.worst <= 1]
    for one in bad:
        click.echo(f"seed {one.seed}: {one.worst:.2g} of what is allowed, {one.what}", err=True)
    click.echo(
        f"{len(found) - len(bad)} of {len(found)} sites agree to {AGREE:g}, "
        f"with a broken conductor to {FLOATING:g}"
    )
    return not bad


@click.command()
@click.option("--sites", default=500, show_default=True)
@click.option("--seed", default=1, show_default=True, help="Of the first site; each has its own.")
@click.option("--workers", default=2, show_default=True)
def main(sites: int, seed: int, workers: int) -> None:
    """Hold random sites against ngspice."""
    found = shutil.which("ngspice")
    if found is None:
        raise click.ClickException("ngspice is not installed")
    begun, done = time.monotonic(), []
    every = range(seed, seed + sites)
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        for one in pool.imap_unordered(partial(compare, Path(found)), every, chunksize=4):
            done.append(one)
            if sys.stderr.isatty():
                click.echo(f"\r{len(done)}/{sites}", nl=False, err=True)
    ok = report(done)
    click.echo(f"{time.monotonic() - begun:.0f} s")
    sys.exit(0 if ok else 1)


if __name__ == "__main__":
    main()
