"""Takes every optional key out of a description, one at a time: no verdict may get better for it.

What isn't said can't make anything good. A verdict may only move to "holds" where a default is
taken and listed among the assumptions, or where the plan designs what is missing and says so.

    python scripts/missing_keys.py                # the shipped examples and starters
    python scripts/missing_keys.py --sites 20     # and random houses and shops, some spoiled
"""

from __future__ import annotations

import copy
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click
from pydantic import ValidationError

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.site.check import problems
from bondwright.site.model import Site
from scripts.made_up import random_site
from scripts.second_opinion import SLOW, described, shipped, spoiled_from

TABLES: Final = frozenset(
    ["sources", "generators", "inverters", "arrays", "places", "transfers", "transformers", "runs",
     "ties", "electrodes", "neighbours", "metal", "areas", "direct current", "states", "curves",
     "amendments", "seasons", "earth tests"]
)  # fmt: skip
"""Tables of things: leaving one out is another building, and no thing that isn't known of this."""
OTHER: Final = frozenset(["rules", "describes", "note", "site"])
"""Keys that choose what is asked, or say nothing."""

Path_ = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Moved:
    """A verdict that got better when a key was taken out.

    Attributes:
        path: of the key.
        what: of which the verdict is.
        before: the verdict with the key.
    """

    path: Path_
    what: str
    before: str


def keys(data: Any, at: Path_ = ()) -> Iterator[Path_]:
    """Yield the way to every key that says something about a thing."""
    if isinstance(data, dict):
        for key, value in data.items():
            table = not at and key in TABLES
            entry = len(at) == 1 and at[0] in TABLES
            if not (table or entry or key in OTHER):
                yield (*at, key)
            yield from keys(value, (*at, key))
    elif isinstance(data, list):
        for k, value in enumerate(data):
            yield from keys(value, (*at, k))


def without(data: dict[str, Any], path: Path_) -> Site | None:
    """Return the site without a key, None where that is no site any more."""
    less: Any = copy.deepcopy(data)
    at = less
    for step in path[:-1]:
        at = at[step]
    del at[path[-1]]
    try:
        site = Site.model_validate(less)
    except ValidationError:
        return None
    return None if problems(site) else site


def verdicts(said: Results) -> dict[str, str]:
    """Return every verdict on a site by what it is of."""
    found = {"the whole": str(said.summary.verdict)}
    found |= {f"row {row.id}": str(row.verdict) for row in said.plan.schedule}
    for state in said.states:
        found |= {f"{state.id}: {f.fault}": str(f.verdict) for f in state.faults}
    found |= {str(f.fault): str(f.verdict) for f in said.faults}
    found |= {f"disconnection {d.place}": str(d.verdict) for d in said.disconnections}
    found |= {f"array {a.fault}": str(a.verdict) for a in said.arrays}
    return found


def moved(before: Results, after: Results, path: Path_) -> list[Moved]:
    """Return what holds without a key and didn't with it, and nobody says what was taken for it."""
    if set(after.assumptions) - set(before.assumptions):
        return []
    had = verdicts(before)
    designed = {f"row {row.id}" for row in after.plan.schedule if "as designed" in row.remark}
    return [
        Moved(path, what, had[what])
        for what, verdict in verdicts(after).items()
        if verdict == "holds" and had.get(what, "holds") != "holds" and what not in designed
    ]


def try_site(site: Site, chosen: list[Path_] | None = None) -> tuple[int, list[Moved]]:
    """Take keys out of a site one at a time; return how many could be, and what moved.

    Args:
        site: the site.
        chosen: which keys; None for all.
    """
    data = described(site)
    before, tried, found = study(plan(site)), 0, []
    for path in keys(data) if chosen is None else chosen:
        less = without(data, path)
        if less is not None:
            tried += 1
            found += moved(before, study(plan(less)), path)
    return tried, found


@click.command()
@click.option("--sites", default=0, show_default=True, help="Random sites beside the shipped ones.")
@click.option("--seed", default=1, show_default=True)
def main(sites: int, seed: int) -> None:
    """Take every key out of every site."""
    begun, tried, bad = time.monotonic(), 0, 0
    every = [(name, site) for name, site in shipped().items() if name != SLOW]
    for number in range(seed, seed + sites):
        dice = random.Random(f"missing {number}")
        site = Site.model_validate(random_site(dice))
        every += [(f"seed {number}", site)]
        every += [(f"seed {number}, {what}", worse) for what, worse in spoiled_from(site, dice, 1)]
    for name, site in every:
        count, found = try_site(site)
        tried += count
        bad += len(found)
        for one in found:
            where = ".".join(map(str, one.path))
            click.echo(f"{name}: without {where}, {one.what} holds; it was: {one.before}", err=True)
    click.echo(f"{tried} keys of {len(every)} sites taken out; {bad} verdicts got better for it")
    click.echo(f"{time.monotonic() - begun:.0f} s")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
