"""Every version of a working copy, one after the other, with undo and redo over all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bondwright.page.edits import Edit, EditError
from bondwright.site.model import Site

MOST: Final = 200
"""Versions that can be gone back to."""


@dataclass(frozen=True, slots=True, eq=False)
class Version:
    """A description, and what is tried out about its ties.

    Attributes:
        site: as described.
        text: the site file; None where nobody asked for it yet.
        edits: ties taken off and put on, which the file knows nothing of.
        said: how it came out of the one before, in a line.
    """

    site: Site
    text: str | None = None
    edits: tuple[Edit, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class Versions:
    """The versions so far.

    Attributes:
        done: in order; the last one stands.
        undone: the next to be done again last.
    """

    done: tuple[Version, ...]
    undone: tuple[Version, ...] = ()

    @property
    def now(self) -> Version:
        """The version that stands."""
        return self.done[-1]

    @property
    def can_undo(self) -> bool:
        """Whether there is one before."""
        return len(self.done) > 1

    def add(self, version: Version) -> Versions:
        """Return these with one more; what was undone is forgotten, and so is what is long ago."""
        return Versions((*self.done[-MOST:], version))

    def undo(self) -> Versions:
        """Return these without the last.

        Raises:
            EditError: nothing was changed.
        """
        if not self.can_undo:
            raise EditError("nothing was changed yet, so there is nothing to undo")
        return Versions(self.done[:-1], (*self.undone, self.done[-1]))

    def redo(self) -> Versions:
        """Return these with the last undone one done again.

        Raises:
            EditError: nothing was undone.
        """
        if not self.undone:
            raise EditError("nothing was undone, so there is nothing to do again")
        return Versions((*self.done, self.undone[-1]), self.undone[:-1])
