"""What is wrong with a site file, and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

MAX_SHOWN: Final = 60
"""Longest offending text that a message repeats."""
_LISTED: Final = 50


@dataclass(frozen=True, slots=True)
class SiteProblem:
    """One thing that is wrong in a site file.

    Attributes:
        file: name of the file.
        line: line, from 1.
        column: column, from 1.
        text: the offending text, shortened where it is long.
        problem: what is wrong with it, as a clause.
        hint: what would be right; empty where nothing can be said.
        loc: keys and list positions from the top that lead there; empty where nothing is found.
    """

    file: str
    line: int
    column: int
    text: str
    problem: str
    hint: str = ""
    loc: tuple[str | int, ...] = ()

    def __str__(self) -> str:
        said = f"{self.text!r} {self.problem}" if self.text else self.problem
        where = f"{self.file}:{self.line}:{self.column}: "
        return where + (f"{said}; {self.hint}" if self.hint else said)


class SiteError(ValueError):
    """A site file that can't be used.

    Attributes:
        problems: everything that is wrong with it, in the order of the file.
    """

    def __init__(self, problems: tuple[SiteProblem, ...]) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: (p.line, p.column)))
        lines = [str(problem) for problem in self.problems[:_LISTED]]
        if len(self.problems) > _LISTED:
            lines.append(f"... and {len(self.problems) - _LISTED} more")
        super().__init__("\n".join(lines))


def shorten(text: str) -> str:
    """Return text on one line, cut to what a message can hold."""
    line = " ".join(text.split())
    return line if len(line) <= MAX_SHOWN else line[: MAX_SHOWN - 1] + "…"
