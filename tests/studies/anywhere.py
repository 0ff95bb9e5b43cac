"""Random sites of every kind that is known, for what must hold anywhere.

A few of them are tried each time. ``BONDWRIGHT_SITES=200`` tries two hundred, from the seed in
``BONDWRIGHT_SEED`` on.
"""

from __future__ import annotations

import os
import random
from functools import lru_cache

from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.generator import large_site
from bondwright.site.model import Site
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import Fault, FaultKind
from scripts.made_up import random_site
from scripts.second_opinion import SLOW, described, shipped
from tests.second.sound import varied

SORTS = ("made up", "shipped", "works")


def seeds(few: int) -> range:
    """Return the seeds to try: a few, or as many as the environment asks for."""
    first = int(os.environ.get("BONDWRIGHT_SEED", "0"))
    return range(first, first + int(os.environ.get("BONDWRIGHT_SITES", few)))


@lru_cache(maxsize=8)
def site_of(seed: int, sorts: tuple[str, ...] = SORTS) -> Site:
    """Return a site: a house or shop, a shipped one with other lengths, or made-up works."""
    dice = random.Random(f"anywhere {seed}")
    sort = sorts[seed % len(sorts)]
    if sort == "works":
        return large_site(dice.randint(4, 12), seed=dice.randrange(10**6))
    if sort == "made up":
        return Site.model_validate(random_site(dice))
    wanted = sort.removeprefix("shipped").strip(" ,")
    names = [name for name in shipped() if name != SLOW and wanted in name]
    return Site.model_validate(varied(described(shipped()[dice.choice(names)]), dice))


@lru_cache(maxsize=8)
def plan_of(seed: int, sorts: tuple[str, ...] = SORTS) -> Plan:
    """Return its plan."""
    return plan(site_of(seed, sorts))


@lru_cache(maxsize=8)
def quiet(seed: int, sorts: tuple[str, ...] = SORTS) -> Network:
    """Return its circuit without loads."""
    return build(plan_of(seed, sorts), loads=False)


@lru_cache(maxsize=8)
def used(seed: int, sorts: tuple[str, ...] = SORTS) -> Network:
    """Return its circuit with loads."""
    return build(plan_of(seed, sorts))


def some_faults(
    network: Network, count: int, dice: random.Random, *kinds: FaultKind
) -> list[Fault]:
    """Return some of the faults that are possible, all where there are fewer."""
    every = possible_faults(network, kinds or tuple(FaultKind))
    return dice.sample(every, min(count, len(every)))
