"""One page for the owner: what was found, what can happen, what it takes. No words of the trade."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.explain.words import counted, listed
from bondwright.papers.permit import Cover
from bondwright.papers.results import Results
from bondwright.papers.wording import badge
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.families import title

MOST_PLACES: Final = 3
"""Places named in a line."""
MOST_LINES: Final = 5
"""Lines of a kind on the page, worst first."""
_ORDER: Final = (Severity.DANGER, Severity.FALLS_SHORT, Severity.CANNOT_TELL)


@cache
def _data() -> Mapping[str, Any]:
    text = files("bondwright.papers").joinpath("data", "owner.yaml").read_text(encoding="utf-8")
    raw: dict[str, Any] = load_yaml(text)
    return raw


def owner_content(results: Results, on: date, cover: Cover) -> dict[str, Any]:
    """Return the page as plain data."""
    site = results.plan.site
    groups = _grouped(results.findings)
    lines = [_line(name, found) for name, found in groups[:MOST_LINES]]
    left = len(groups) - len(lines)
    well = _data()["well"]
    return {
        "title": site.site,
        "subtitle": "Is the wiring safe to touch? A page for the owner",
        "edition": title(site.rules),
        "facts": [
            [name, value]
            for name, value in (("Job", cover.job), ("Date", f"{on:%B} {on.day}, {on.year}"))
            if value
        ],
        "verdict": {**badge(_shown(results)), "headline": _headline(results)},
        "found_title": "What was found",
        "happen_title": "What can happen",
        "takes_title": "What it takes",
        "lines": lines if _bad(results) else [{**well, "badge": None}, *lines],
        "more": f"{counted(left, 'more point')}: see the electrician's report." if left else "",
        "work": _work(results),
        "never": _data()["never"],
        "note": "This page leaves out nearly everything. The report for the electrician and the "
        "inspector goes before it.",
    }


def _bad(results: Results) -> bool:
    return results.summary.verdict is Verdict.FALLS_SHORT


def _grouped(findings: Sequence[Finding]) -> list[tuple[str, list[Finding]]]:
    """Return the findings in groups, the group with the worst finding first."""
    named = {rule: name for name, one in _data()["groups"].items() for rule in one["rules"]}
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.severity is Severity.NOTE and finding.rule not in named:
            continue
        rest = "open" if finding.severity is Severity.CANNOT_TELL else "short"
        groups.setdefault(named.get(finding.rule, rest), []).append(finding)
    order = {severity: k for k, severity in enumerate((*_ORDER, Severity.NOTE))}
    return sorted(groups.items(), key=lambda one: min(order[f.severity] for f in one[1]))


def _line(name: str, found: Sequence[Finding]) -> dict[str, Any]:
    words = _data()["groups"].get(name) or _data()[name]
    places = list(dict.fromkeys(f.where for f in found))
    named = places[:MOST_PLACES]
    if len(places) > len(named):
        named = [*named, counted(len(places) - len(named), "other place")]
    return {
        "found": words["found"].replace("{where}", listed(named)),
        "happen": words["happen"],
        "takes": words["takes"],
        "badge": badge(_worst(found)),
    }


def _worst(findings: Sequence[Finding]) -> Severity:
    there = {f.severity for f in findings}
    return next((s for s in _ORDER if s in there), Severity.NOTE)


def _hurts(findings: Sequence[Finding]) -> bool:
    """Whether something falls short that kills whoever touches metal."""
    deadly = {r for one in _data()["groups"].values() if one.get("hurts") for r in one["rules"]}
    return any(f.rule in deadly and f.severity is Severity.FALLS_SHORT for f in findings)


def _shown(results: Results) -> Severity | Verdict:
    return Severity.DANGER if results.summary.danger else results.summary.verdict


def _headline(results: Results) -> str:
    if results.summary.danger or _hurts(results.findings):
        return "Somebody can be hurt. Have it mended now."
    match results.summary.verdict:
        case Verdict.FALLS_SHORT:
            return "Not as it should be. Have it mended."
        case Verdict.CANNOT_TELL:
            return "Nothing wrong was found, but not everything could be judged."
        case _:
            return "As described, a fault is switched off in time."


def _work(results: Results) -> str:
    new = sum(not item.given for item in results.plan.schedule if item.form != "none")
    mend = sum(f.severity in (Severity.DANGER, Severity.FALLS_SHORT) for f in results.findings)
    said = [f"{counted(new, 'connection')} for safety to be made or checked"] if new else []
    if mend:
        said.append(f"{counted(mend, 'point')} to be mended")
    return (
        f"The work in numbers: {listed(said)}. " if said else ""
    ) + "It needs a licensed electrician, mostly a permit, and times with the power off."
