"""What a change of the description changes: in the bonds, in the findings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from bondwright.explain.findings import worst_first
from bondwright.explain.words import capital
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.rules.answer import Finding
from bondwright.site.differences import Difference, differences


@dataclass(frozen=True, slots=True)
class Consequence:
    """One bond that is no longer what it was.

    Attributes:
        item: as the schedule names it: ``"EGC pump house feeder"``.
        what: "size", "least size", "verdict", "made as"; or "bond" for a whole one.
        before: in words; "" where it wasn't there.
        after: the same; "" where it is gone.
    """

    item: str
    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two descriptions of a site beside each other.

    Attributes:
        described: what differs in the description.
        bonds: what differs in the schedule of jumpers and conductors.
        new: findings that only the second one has, worst first.
        gone: findings that only the first one had, worst first.
    """

    described: tuple[Difference, ...]
    bonds: tuple[Consequence, ...]
    new: tuple[Finding, ...]
    gone: tuple[Finding, ...]


def compare(
    before: Plan,
    after: Plan,
    findings_before: Sequence[Finding],
    findings_after: Sequence[Finding],
) -> Comparison:
    """Compare two plans, with the findings of whatever was studied on both.

    Findings are the same where rule, place and title are; their numbers may differ.
    """
    return Comparison(
        differences(before.site, after.site),
        _bonds(before.schedule, after.schedule),
        _only(findings_after, findings_before),
        _only(findings_before, findings_after),
    )


def _bonds(
    before: Sequence[ScheduleItem], after: Sequence[ScheduleItem]
) -> tuple[Consequence, ...]:
    old, new = ({item.id: item for item in schedule} for schedule in (before, after))
    found = []
    for id in dict.fromkeys((*old, *new)):
        if id not in new:
            found.append(Consequence(id, "bond", _in_words(old[id]), ""))
        elif id not in old:
            found.append(Consequence(id, "bond", "", _in_words(new[id])))
        else:
            pairs = zip(_told(old[id]), _told(new[id]), strict=True)
            found += [Consequence(id, w, was, now) for (w, was), (_, now) in pairs if was != now]
    return tuple(found)


def _told(item: ScheduleItem) -> tuple[tuple[str, str], ...]:
    return (
        ("size", str(item.chosen) if item.chosen else "none"),
        ("least size", str(item.required.size) if item.required else "none"),
        ("made as", item.form),
        ("verdict", item.verdict.value),
    )


def _in_words(item: ScheduleItem) -> str:
    size = f"{item.chosen} " if item.chosen else ""
    return f"{size}{item.form}, {item.from_} to {item.to}, {item.verdict.value}"


def _only(these: Sequence[Finding], those: Sequence[Finding]) -> tuple[Finding, ...]:
    left = Counter((each.rule, each.where, each.title) for each in those)
    found = []
    for each in these:
        key = (each.rule, each.where, each.title)
        if left[key]:
            left[key] -= 1
        else:
            found.append(each)
    return worst_first(found)


def lines(comparison: Comparison) -> list[tuple[str, list[str]]]:
    """Return a comparison as headed lists of lines; a list with nothing in it is left out."""
    described = [
        f"{' / '.join(each.path)}: {_change(each.before, each.after)}"
        for each in comparison.described
    ]
    bonds = [
        f"{each.item}: {_change(each.before or None, each.after or None)}"
        if each.what == "bond"
        else f"{each.item}, {each.what}: {_change(each.before, each.after)}"
        for each in comparison.bonds
    ]
    parts = [
        ("In the description", described),
        ("In the bonds and conductors", bonds),
        ("New findings", [_finding(each) for each in comparison.new]),
        ("Findings that are gone", [_finding(each) for each in comparison.gone]),
    ]
    return [(head, body) for head, body in parts if body]


def _change(before: str | None, after: str | None) -> str:
    if before is None:
        return f"new: {after}"
    if after is None:
        return f"gone; was {before}"
    return f"{before} → {after}"


def _finding(finding: Finding) -> str:
    return f"{capital(finding.severity.value)}, {finding.where}: {finding.title}. {finding.text}"
