"""Texts with a mark (‸) where a message must point, so that tests don't count columns."""

from __future__ import annotations

from pathlib import Path

MARK = "‸"
GOOD = (Path(__file__).parent / "good.yaml").read_text(encoding="utf-8")


def edited(*edits: tuple[str, str]) -> str:
    """The good file with some stretches of it replaced, each of which must be there."""
    text = GOOD
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def unmarked(text: str) -> tuple[str, int, int]:
    """A text without its mark, and the line and column where the mark stood."""
    before, mark, after = text.partition(MARK)
    assert mark, "the text has no mark"
    return before + after, before.count("\n") + 1, len(before) - before.rfind("\n")
