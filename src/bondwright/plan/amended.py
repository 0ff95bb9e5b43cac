"""Planning under local amendments, and finding out where each of them bites.

Where an amendment bites is found by planning again without it: what differs is what it changed.
So no rule has to report which numbers it used, and none can forget to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from bondwright.catalog.parameters import Override, in_force
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.rules.amendments import (
    LocalAmendment,
    answer_with,
    finding_with,
    local_amendments,
    silenced,
    stated,
)
from bondwright.rules.answer import Finding
from bondwright.site.amendments import overrides
from bondwright.site.model import Site

Make = Callable[[], Plan]


def with_amendments(site: Site, make: Make) -> Plan:
    """Make a plan with the amendments of its site in force.

    Args:
        site: the site.
        make: makes the plan; called once, and once more for every amendment.

    Returns:
        The plan. Every row and finding that an amendment changed says so; a finding that the
        code has and an amendment takes away becomes a note; so does every amendment itself.
    """
    local = overrides(site)
    if not local:
        return make()
    whole, code = _under(make, local), _under(make, {})
    plain = _Told.of(code)
    changed = local_amendments(site)
    without = {
        one.id: _Told.of(_under(make, {id: other for id, other in local.items() if id != one.id}))
        for one in changed
    }
    bites: dict[str, dict[str, None]] = {one.id: {} for one in changed}

    def those(differs: Callable[[_Told], bool], where: str) -> tuple[LocalAmendment, ...]:
        found = [one for one in changed if differs(without[one.id])]
        # Where each alone does it, taking one away changes nothing.
        if not found and differs(plain):
            found = list(changed)
        for one in found:
            bites[one.id][where] = None
        return tuple(found)

    rows = []
    for item in whole.schedule:
        by = those(partial(_lacks, item), item.about)
        rows.append(_row(item, by))
    findings = []
    for finding in whole.findings:
        by = those(partial(_lacks, finding), finding.where)
        findings.append(finding_with(finding, by))
    standing = {(finding.rule, finding.where) for finding in whole.findings}
    for finding in code.findings:
        key = (finding.rule, finding.where)
        if key not in standing:
            by = those(partial(_reports, key), finding.where)
            findings.append(silenced(finding, by))
    findings += [stated(one, tuple(bites[one.id])) for one in changed]
    return replace(whole, schedule=tuple(rows), findings=tuple(findings))


@dataclass(frozen=True, slots=True)
class _Told:
    """What a plan says, made quick to look up."""

    everything: frozenset[ScheduleItem | Finding]
    reported: frozenset[tuple[str, str]]

    @classmethod
    def of(cls, plan: Plan) -> _Told:
        return cls(
            frozenset((*plan.schedule, *plan.findings)),
            frozenset((finding.rule, finding.where) for finding in plan.findings),
        )


def _lacks(row: ScheduleItem | Finding, other: _Told) -> bool:
    return row not in other.everything


def _reports(key: tuple[str, str], other: _Told) -> bool:
    return key in other.reported


def _under(make: Make, local: Mapping[str, Override]) -> Plan:
    with in_force(local):
        return make()


def _row(item: ScheduleItem, those: Sequence[LocalAmendment]) -> ScheduleItem:
    if not those or item.required is None:
        return item
    return replace(item, required=answer_with(item.required, those))
