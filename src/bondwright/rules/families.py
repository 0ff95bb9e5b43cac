"""The families of rules, for layers that don't care which one a site is judged by.

Where two families answer the same question each by its own function, the question is asked here.
What a plan asks beyond that is a :class:`bondwright.plan.family.Family`.
"""

from __future__ import annotations

from collections.abc import Mapping

from bondwright.rules import ties as nec
from bondwright.rules.editions import edition
from bondwright.rules.iec import joins as iec
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.ruleset import is_iec, rule_set
from bondwright.rules.ties import TiePlacement
from bondwright.site.model import Site
from bondwright.site.topology import Topology
from bondwright.units import UnitSystem, wanted_units


def earthing_of(site: Site) -> Earthing:
    """Return the earthing arrangement of a site that is judged by IEC 60364.

    Raises:
        ValueError: the site doesn't name it, which its reader would have refused.
    """
    if site.earthing is None:
        raise ValueError(f"{site.rules} needs the earthing arrangement of the supply: earthing")
    return Earthing(site.earthing)


def placements(tree: Topology) -> Mapping[str, TiePlacement]:
    """Return where joins of neutral and metal belong, by the rules of the site."""
    if is_iec(tree.site.rules):
        return iec.where_ties_belong(tree, earthing_of(tree.site))
    return nec.where_ties_belong(tree)


def belonging(tree: Topology, ties: Mapping[str, str]) -> frozenset[str]:
    """Return the ids of the joins that stand where they may, by the rules of the site.

    Args:
        tree: the supply tree.
        ties: place of every join, by id.
    """
    if is_iec(tree.site.rules):
        return iec.ties_that_belong(tree, ties, placements(tree))
    return nec.ties_that_belong(tree, ties)


def unit_system(rules: str) -> UnitSystem:
    """Return the units that lengths are written in for readers of a rule set."""
    return wanted_units("metric" if is_iec(rules) else "us")


def title(rules: str) -> str:
    """Return what a rule set is called on a paper.

    Raises:
        UnknownRulesError: no such rule set.
    """
    if is_iec(rules):
        rule_set(rules)
        return "IEC 60364-4-41 (2005, amended 2017) and 60364-5-54 (2011)"
    return f"NEC (NFPA 70), {edition(rules)} edition"
