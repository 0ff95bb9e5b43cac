"""The four examples for IEC 60364, as they are and with something changed."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml

from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.check import problems
from bondwright.site.model import Site
from tests.plan.sites import Described, described

EXAMPLES = Path(__file__).parents[1] / "examples"
COTTAGE = "cider-makers-cottage"
FLAT = "flat-over-the-cider-shop"
COOPERAGE = "cooperage"
HALL = "fermentation-hall"
NAMES = (COTTAGE, FLAT, COOPERAGE, HALL)
ARRANGED = {COTTAGE: "TT", FLAT: "TN-C-S", COOPERAGE: "TN-S", HALL: "IT"}


def path_of(name: str) -> Path:
    return EXAMPLES / f"{name}.yaml"


@cache
def _raw(name: str) -> Described:
    # Every value as text, as the site reader has it: "on" stays a word.
    loaded: Described = yaml.load(path_of(name).read_text("utf-8"), Loader=yaml.BaseLoader)
    return loaded


def site_of(name: str, **changes: Any) -> Site:
    """Return an example with changes as :func:`tests.plan.sites.described` writes them."""
    raw = described(_raw(name), **changes)
    monitored = raw.get("insulation monitoring")
    if isinstance(monitored, str):
        raw["insulation monitoring"] = monitored == "true"
    return Site.model_validate(raw)


def plan_of(name: str, **changes: Any) -> Plan:
    site = site_of(name, **changes)
    assert problems(site) == []
    return plan(site)


def network_of(name: str, **changes: Any) -> Network:
    """Return an example's network without loads."""
    return build(plan_of(name, **changes), loads=False)
