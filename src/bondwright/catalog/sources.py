"""Where a number comes from and how far it can be trusted.

Every data file starts with comment lines ``# source:``, ``# edition:``, ``# status:`` and
``# note:``; every row carries its own status word. Nothing in the catalog is more certain
than the least certain number it was made from.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """How a number is known, the surest first."""

    CONFIRMED = "confirmed"
    """Seen in at least two independent public sources."""
    ONE_SOURCE = "one-source"
    """Seen in one public source only."""
    COMPUTED = "computed"
    """Worked out here from a published formula."""
    MEMORY = "memory"
    """Known from the publication but not seen again; check before relying on it."""

    @staticmethod
    def least_sure(*statuses: Status) -> Status:
        """Return the least certain of several statuses (one or more)."""
        order = list(Status)
        return max(statuses, key=order.index)


@dataclass(frozen=True, slots=True)
class Source:
    """A publication, the editions meant, and how the numbers taken from it are known.

    Attributes:
        title: publication and table.
        edition: year or years.
        status: how far the number can be trusted.
        note: doubts and remarks, free text; empty if none.
    """

    title: str
    edition: str
    status: Status
    note: str = ""

    def __str__(self) -> str:
        return f"{self.title} ({self.edition}; {self.status.value})"


class CatalogError(LookupError):
    """Something that was asked of the catalog and is not in it.

    Attributes:
        text: what was asked for.
        problem: what is wrong with it, as a clause.
        hint: what would be right, or None.
    """

    def __init__(self, text: str, problem: str, hint: str | None = None) -> None:
        self.text = text
        self.problem = problem
        self.hint = hint
        message = f"{text!r}: {problem}"
        super().__init__(f"{message}; {hint}" if hint else message)
