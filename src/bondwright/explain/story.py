"""What a told result looks like."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.rules.answer import Verdict


@dataclass(frozen=True, slots=True)
class Story:
    """A result in words.

    Attributes:
        title: a few words.
        sentences: in the order they are to be read.
        verdict: how it stands.
    """

    title: str
    sentences: tuple[str, ...]
    verdict: Verdict

    @property
    def text(self) -> str:
        """All sentences in one paragraph."""
        return " ".join(self.sentences)
