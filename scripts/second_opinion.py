"""A second opinion on hundreds of designs: is anything called good that isn't?

Random houses, shops and works, the shipped examples and starters with other lengths, each as it was
designed and then spoiled (a bond taken out, a conductor too thin, a breaker ten times larger, a run
twenty times longer, a curve that isn't given). What the tool says of each is held against
``tests/second``, a second and simpler implementation that shares no code with it. Then every
verdict is turned into "holds": how often the second opinion objects to that says how much it sees.

    python scripts/second_opinion.py --sites 400 --seed 1
"""

from __future__ import annotations

import copy
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, Final

import click

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.site.check import problems
from bondwright.site.generator import large_site
from bondwright.site.model import Site
from bondwright.site.reader import load, read
from bondwright.site.starters import STARTERS, starter
from bondwright.site.writer import dump, split
from scripts.made_up import random_site
from tests.second.judge import Opinion
from tests.second.sound import sound, varied
from tests.second.spoil import spoil, written_out
from tests.second.whole import all_called_good, opinion

EXAMPLES: Final = Path(__file__).resolve().parents[1] / "examples"
SLOW: Final = "harrow-creek.yaml"
"""An example of which one study takes many seconds: it is tried once and not varied."""
SPOILED: Final = 3
"""Spoiled designs made of each."""


@dataclass
class Tally:
    """What came of the designs of a kind."""

    designs: int = 0
    held: int = 0
    spoiled: int = 0
    still: int = 0
    seen: int = 0
    opinion: Opinion = field(default_factory=Opinion)


def described(site: Site) -> dict[str, Any]:
    """Return a site as plain data, as it stands in its file."""
    return copy.deepcopy(dict(split(dump(site)).data))


@cache
def shipped() -> Mapping[str, Site]:
    """Return the shipped examples and starters by name."""
    found = {path.name: load(path) for path in sorted(EXAMPLES.glob("*.yaml"))}
    return found | {f"starter {name}": read(starter(name)) for name in STARTERS}


def design(dice: random.Random) -> tuple[str, Site]:
    """Make up a site: its kind, and what stands there."""
    kind = dice.choice(["as it comes", "sound", "sound", "works", "example", "example"])
    if kind == "as it comes":
        return "houses and shops", Site.model_validate(random_site(dice))
    if kind == "sound":
        return "sound houses and shops", Site.model_validate(sound(random_site(dice), dice))
    if kind == "works":
        return "works", large_site(dice.randint(6, 16), seed=dice.randrange(10**6))
    names = [name for name in shipped() if name != SLOW]
    site = shipped()[dice.choice(names)]
    return "examples, varied", Site.model_validate(varied(described(site), dice))


def spoiled_from(site: Site, dice: random.Random, count: int) -> Iterator[tuple[str, Site]]:
    """Yield spoiled designs of a site, with what is wrong with each."""
    whole = written_out(described(site), plan(site))
    for _ in range(count):
        found = spoil(whole, dice)
        if found is None:
            return
        said, data = found
        bad = Site.model_validate(data)
        if not problems(bad):
            yield said, bad


def hold(results: Results) -> bool:
    """Whether a whole site was said to hold."""
    return results.summary.verdict == "holds"


def judge(seed: int, tallies: dict[str, Tally], spoilings: Counter[str], count: int) -> list[str]:
    """Judge a design and what was spoiled of it; return what is objected to."""
    dice = random.Random(f"second opinion {seed}")
    kind, site = design(dice)
    tally = tallies.setdefault(kind, Tally())
    said = study(plan(site))
    tally.designs += 1
    tally.held += hold(said)
    objections = _take(tally, said, f"seed {seed}, as designed")
    for what, bad in spoiled_from(site, dice, count):
        result = study(plan(bad))
        tally.spoiled += 1
        tally.still += hold(result)
        objections += _take(tally, result, f"seed {seed}, {what}")
        if opinion(all_called_good(result)).objections:
            tally.seen += 1
            spoilings["seen"] += 1
    return objections


def _take(tally: Tally, said: Results, where: str) -> list[str]:
    found = opinion(said)
    tally.opinion.add(found)
    return [f"{where}: {one.kind}, {one.where}: {one.text}" for one in found.objections]


def report(tallies: Mapping[str, Tally]) -> None:
    """Say what came of all designs."""
    whole = Opinion()
    for kind, tally in sorted(tallies.items()):
        whole.add(tally.opinion)
        click.echo(
            f"{kind}: {tally.designs} designs, {tally.held} held; {tally.spoiled} spoiled, "
            f"{tally.still} of them held; called good all the same, the second opinion would have "
            f"objected to {tally.seen}"
        )
    looked = ", ".join(f"{count} x {what}" for what, count in sorted(whole.looked.items()))
    click.echo(f"called good and looked at: {looked}")
    near = sorted(whole.ratios)
    if near:
        spread = [near[int(share * (len(near) - 1))] for share in (0, 0.05, 0.5, 0.95, 1)]
        told = ", ".join(f"{one:.2f}" for one in spread)
        click.echo(f"current said over current by handbook (least, 5 %, half, 95 %, most): {told}")
    click.echo(f"objections: {len(whole.objections)}")


@click.command()
@click.option("--sites", default=400, show_default=True)
@click.option("--seed", default=1, show_default=True, help="Of the first site; each has its own.")
@click.option("--spoiled", default=SPOILED, show_default=True, help="Spoiled designs of each.")
def main(sites: int, seed: int, spoiled: int) -> None:
    """Hold what the tool says of many designs against a second opinion."""
    begun = time.monotonic()
    tallies: dict[str, Tally] = {"examples, varied": Tally()}
    objections = _take(tallies["examples, varied"], study(plan(shipped()[SLOW])), SLOW)
    spoilings: Counter[str] = Counter()
    for number in range(seed, seed + sites):
        objections += judge(number, tallies, spoilings, spoiled)
        if sys.stderr.isatty():
            click.echo(f"\r{number - seed + 1}/{sites}", nl=False, err=True)
    for one in objections:
        click.echo(one, err=True)
    report(tallies)
    click.echo(f"{time.monotonic() - begun:.0f} s")
    sys.exit(1 if objections else 0)


if __name__ == "__main__":
    main()
