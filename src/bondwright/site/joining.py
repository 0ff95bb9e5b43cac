"""Two people's changes of one site file, put together entry by entry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from bondwright.site.entries import Change, changes_between
from bondwright.site.source_text import LocPath
from bondwright.site.writer import REMOVED, EditError, Removed, spliced, split


@dataclass(frozen=True, slots=True)
class Joined:
    """What comes of two people's changes.

    Attributes:
        text: theirs, with one's own changes in it.
        both: what both changed, each to something else; one's own stands in the text.
        left: whether comments, order or spelling that one changed oneself are not in it.
    """

    text: str
    both: tuple[str, ...]
    left: bool


_NOTHING: Final = object()


def joined(base: str, own: str, theirs: str) -> Joined:
    """Put one's own changes of a file into what somebody else made of it meanwhile.

    What only one of the two changed is as they made it. What is said in a list counts as one
    thing where both changed it, for nobody knows which item is which.

    Args:
        base: the file that both began with.
        own: what one made of it oneself.
        theirs: what the other one made of it.

    Returns:
        The two together. Whether it is a sound site has still to be looked at.

    Raises:
        EditError: the layout of theirs doesn't allow it.
        bondwright.site.site_error.SiteError: one of the three can't be read.
    """
    before, mine, other = (split(text).data for text in (base, own, theirs))
    changes = list(changes_between(before, mine, ()))
    moved = [path for path, _ in changes_between(before, other, ())]
    made: dict[LocPath, object] = {}
    both: list[str] = []
    for path, value in changes:
        wide = _widened(path, moved)
        if not wide:
            raise EditError("the two have nothing in common any more")
        if any(_under(wide, known) for known in made):
            continue
        if not any(_meet(wide, at) for at in moved):
            made[path] = value
            continue
        value, there = _at(mine, wide), _at(other, wide)
        if value == there and type(value) is type(there):
            continue
        both.append(_words(wide))
        made = {known: v for known, v in made.items() if not _under(known, wide)}
        made[wide] = REMOVED if value is _NOTHING else value
    text, _ = spliced(theirs, _sound(made, other))
    return Joined(text, tuple(dict.fromkeys(both)), _more_than(base, own, changes))


def _widened(path: LocPath, moved: list[LocPath]) -> LocPath:
    """Return the path of what counts as one thing, for both of them."""
    cut = next((k for k, step in enumerate(path) if isinstance(step, int)), len(path))
    if any(_meet(path[:cut], at) for at in moved):
        path = path[:cut]
    above = [at for at in moved if len(at) < len(path) and _meet(at, path)]
    return min(above, key=len, default=path)


def _meet(one: LocPath, other: LocPath) -> bool:
    return _under(one, other) or _under(other, one)


def _under(path: LocPath, above: LocPath) -> bool:
    return path[: len(above)] == above


def _sound(made: dict[LocPath, object], other: Any) -> list[Change]:
    """Leave out what is to be taken out and isn't there."""
    return [
        (path, value)
        for path, value in made.items()
        if not (isinstance(value, Removed) and _at(other, path) is _NOTHING)
    ]


def _at(data: Any, path: LocPath) -> Any:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return _NOTHING
    return data


def _words(path: LocPath) -> str:
    steps = [str(step + 1) if isinstance(step, int) else step for step in path]
    return " ".join(steps if len(steps) < 2 else steps[1:])


def _more_than(base: str, own: str, changes: list[Change]) -> bool:
    """Tell whether a text differs from another by more than changes of its data."""
    try:
        return spliced(base, changes)[0] != own
    except EditError:
        return True
