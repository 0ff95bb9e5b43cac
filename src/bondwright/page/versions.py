"""Every version of a working copy, one after the other, with undo and redo over all of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from bondwright.page.edits import Edit, EditError
from bondwright.site.model import Site

MOST: Final = 200
"""Versions that can be gone back to."""
READ: Final = 8
"""Of these as many, on either side, are kept as they were read; of the others only the text."""
MOST_TEXT: Final = 64_000_000
"""Characters of all texts together; the oldest versions go where there would be more."""


@dataclass(frozen=True, slots=True, eq=False)
class Version:
    """A description, and what is tried out about its ties.

    Attributes:
        site: as described; None of one long ago, whose text is read again when it is wanted.
        text: the site file; None where nobody asked for it yet.
        edits: ties taken off and put on, which the file knows nothing of.
        said: how it came out of the one before, in a line.
    """

    site: Site | None
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
        return Versions((*self.done[-MOST:], version))._thinned()

    def _thinned(self) -> Versions:
        """Return these with as little of what is long ago as will do."""
        done, room = [], MOST_TEXT
        for k, version in enumerate(reversed(self.done)):
            room -= len(version.text or "")
            if room < 0 and k > 0:
                break
            done.append(_text_only(version) if k >= READ else version)
        undone = [
            _text_only(version) if k >= READ else version
            for k, version in enumerate(reversed(self.undone))
        ]
        return Versions(tuple(reversed(done)), tuple(reversed(undone)))

    def undo(self) -> Versions:
        """Return these without the last.

        Raises:
            EditError: nothing was changed.
        """
        if not self.can_undo:
            raise EditError("nothing was changed yet, so there is nothing to undo")
        return Versions(self.done[:-1], (*self.undone, self.done[-1]))._thinned()

    def redo(self) -> Versions:
        """Return these with the last undone one done again.

        Raises:
            EditError: nothing was undone.
        """
        if not self.undone:
            raise EditError("nothing was undone, so there is nothing to do again")
        return Versions((*self.done, self.undone[-1]), self.undone[:-1])._thinned()


def _text_only(version: Version) -> Version:
    return version if version.text is None else replace(version, site=None)
