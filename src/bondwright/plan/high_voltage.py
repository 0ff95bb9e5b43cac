"""Rows of the schedule that belong to a system above 1000 V: these rules can't judge them."""

from __future__ import annotations

from dataclasses import replace

from bondwright.plan.model import ScheduleItem
from bondwright.rules.answer import Verdict
from bondwright.rules.special_places import is_high
from bondwright.site.topology import Topology


def left_open(item: ScheduleItem, tree: Topology, rules: str) -> ScheduleItem:
    """Return a row without a verdict if its system is above the voltage that the rules are for.

    Args:
        item: the row.
        tree: the supply tree.
        rules: name of the rule set.
    """
    if item.about in tree.site.runs:
        origin = tree.system_of_run(item.about).origin
    elif item.from_ in tree.systems:
        origin = tree.systems[item.from_].origin
    else:
        return item
    if item.verdict is not Verdict.HOLDS or not is_high(tree, origin, rules):
        return item
    remark = "a system above 1000 V has rules of its own; see the finding on it"
    return replace(item, verdict=Verdict.CANNOT_TELL, remark=remark)
