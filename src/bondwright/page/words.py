"""Results in the forms of the wire."""

from __future__ import annotations

from collections.abc import Iterable

from bondwright.explain.story import Story
from bondwright.explain.words import MARKS, SEVERITY_MARKS
from bondwright.page.wire import FindingInfo, StoryInfo
from bondwright.rules.answer import Finding


def story_info(story: Story) -> StoryInfo:
    """Return a story as it goes over the wire."""
    return StoryInfo(
        title=story.title,
        sentences=list(story.sentences),
        verdict=str(story.verdict),
        mark=MARKS[story.verdict],
    )


def finding_infos(findings: Iterable[Finding]) -> list[FindingInfo]:
    """Return findings as they go over the wire."""
    return [
        FindingInfo(
            severity=str(f.severity),
            mark=SEVERITY_MARKS[f.severity],
            where=f.where,
            title=f.title,
            text=f.text,
            cure=f.cure,
            clause=f.clause,
        )
        for f in findings
    ]
