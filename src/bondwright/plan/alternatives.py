"""Where the code leaves a choice: each way to do it, planned in full.

Only what the description leaves open is varied. What the person fixed is named and kept; an
alternative to it is theirs to ask for, by changing the description.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from bondwright.plan.build import plan as make_plan
from bondwright.plan.cost import Cost, MaterialLine, Price, cost, material
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.plan.ways import ChoiceKind, Way, open_choices
from bondwright.rules.answer import Finding, Severity
from bondwright.site.check import problems
from bondwright.site.model import Describes

__all__ = ["Alternative", "Choice", "ChoiceKind", "RowChange", "choices"]


@dataclass(frozen=True, slots=True)
class RowChange:
    """A row of the schedule that an alternative changes.

    Attributes:
        row: id of the row.
        before: ends, conductor and verdict as planned; "" where the row is new.
        after: the same in the alternative; "" where the row is gone.
    """

    row: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to do it.

    Attributes:
        what: in a few words.
        planned: whether the plan has it so.
        plan: the site planned in this way.
        rows: what differs from the plan in the schedule.
        findings: what the rules find fault with in this way and not in the plan, worst first.
        material: for the rows that the choice is about.
        cost: of that material; None without a price list.
        remark: what comes with it, in plain words.
        open: whether something has to be found out before it can be taken.
    """

    what: str
    planned: bool
    plan: Plan
    rows: tuple[RowChange, ...]
    findings: tuple[Finding, ...]
    material: tuple[MaterialLine, ...]
    cost: Cost | None
    remark: str = ""
    open: bool = False


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice that the code leaves.

    Attributes:
        kind: what there is to choose.
        about: id of the run, transformer, row or electrode.
        clause: where the code says so.
        ways: the alternatives, the planned one first; just that where the person fixed it.
        fixed: how the description fixes it; "" where it is open.
    """

    kind: ChoiceKind
    about: str
    clause: str
    ways: tuple[Alternative, ...]
    fixed: str = ""


def choices(
    plan: Plan, prices: Mapping[str, Price] | None = None, about: str | None = None
) -> tuple[Choice, ...]:
    """Return every choice that the code leaves on a site, each way planned in full.

    Args:
        plan: the plan of a site that describes a plan; one as found has nothing to choose.
        prices: a price list, or None for quantities without cost.
        about: only choices about this run, transformer, row or electrode; None takes all. Every
            way is a plan of the whole site, so ask for one at a time on a large one.

    Returns:
        The choices in walking order.
    """
    if plan.site.describes is not Describes.PLAN:
        return ()
    found = []
    for kind, name, where, ways, fixed in open_choices(plan):
        if about in (None, name):
            made = [way for way in (_planned(plan, way) for way in ways) if way is not None]
            found.append(Choice(kind, name, where, _with_material(made, prices), fixed))
    return tuple(found)


# --- making them ------------------------------------------------------------------------------


def _planned(plan: Plan, way: Way) -> Alternative | None:
    """Plan a way; None where the description would contradict itself."""
    if way.site is None:
        return Alternative(way.what, True, plan, (), (), (), None, way.remark, way.open)
    if problems(way.site):
        return None
    other = make_plan(way.site)
    before = {(finding.rule, finding.where) for finding in plan.findings}
    new = tuple(
        finding
        for finding in other.findings
        if finding.severity is not Severity.NOTE and (finding.rule, finding.where) not in before
    )
    rows = _differences(plan, other)
    return Alternative(way.what, False, other, rows, new, (), None, way.remark, way.open)


def _with_material(
    ways: Sequence[Alternative], prices: Mapping[str, Price] | None
) -> tuple[Alternative, ...]:
    """Put material beside each way: of the rows for which any two of them need other things."""
    lists = [material(way.plan) for way in ways]
    common = frozenset.intersection(*(frozenset(lines) for lines in lists)) if lists else ()
    rows = {change.row for way in ways for change in way.rows}
    rows.update(line.row for lines in lists for line in lines if line not in common)
    done = []
    for way, lines in zip(ways, lists, strict=True):
        own = tuple(line for line in lines if line.row in rows)
        spent = None if prices is None else cost(own, prices)
        done.append(replace(way, material=own, cost=spent))
    return tuple(done)


def _told(item: ScheduleItem | None) -> str:
    if item is None:
        return ""
    what = item.form if item.chosen is None else f"{item.chosen} {item.form}"
    return f"{item.from_} to {item.to}: {what} ({item.verdict.value})"


def _differences(plan: Plan, other: Plan) -> tuple[RowChange, ...]:
    before = {item.id: item for item in plan.schedule}
    after = {item.id: item for item in other.schedule}
    changes = []
    for row in dict.fromkeys((*before, *after)):
        old, new = _told(before.get(row)), _told(after.get(row))
        if old != new:
            changes.append(RowChange(row, old, new))
    return tuple(changes)
