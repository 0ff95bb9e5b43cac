"""An entry of a site file changed as a whole: what of it is new, and what hangs on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import SequenceMatcher
from typing import Any, Final

from bondwright.site.details import NAMED_IN
from bondwright.site.source_text import LocPath
from bondwright.site.structure import NODE_TABLES, REFERENCES
from bondwright.site.writer import REMOVED

Change = tuple[LocPath, object]
"""A path and the value that is to stand there, or :data:`~bondwright.site.writer.REMOVED`."""


def changes_between(before: Any, after: Any, at: LocPath) -> Iterator[Change]:
    """Yield the fewest changes that turn one value into another, for the writer to make in order.

    What stays the same is not touched, so its comments and its place in the file stay as well.

    Args:
        before: data as parsed.
        after: data of the same kind.
        at: path of both.
    """
    if isinstance(before, dict) and isinstance(after, dict) and before:
        for key, value in after.items():
            if key not in before:
                yield (*at, key), value
            else:
                yield from changes_between(before[key], value, (*at, key))
        # Removed last: a group that would be empty in between loses its layout.
        yield from (((*at, key), REMOVED) for key in before if key not in after)
    elif isinstance(before, list) and isinstance(after, list) and before and after:
        yield from _list_changes(before, after, at)
    elif before != after or type(before) is not type(after):
        yield at, after


def _list_changes(before: list[Any], after: list[Any], at: LocPath) -> Iterator[Change]:
    gone: list[int] = []
    if len(after) < len(before):
        steps = SequenceMatcher(None, [repr(b) for b in before], [repr(a) for a in after],
                                autojunk=False).get_opcodes()  # fmt: skip
        for kind, i, j, k, m in steps:
            if kind == "insert" or (kind == "replace" and j - i < m - k):
                yield at, after  # the writer can't put items in between
                return
            if kind in ("delete", "replace"):
                gone += range(i + (m - k), j)
    kept = [index for index in range(len(before)) if index not in gone]
    for index, value in zip(kept, after, strict=False):
        yield from changes_between(before[index], value, (*at, index))
    yield from (((*at, index), REMOVED) for index in sorted(gone, reverse=True))
    for index in range(len(kept), len(after)):
        yield (*at, index), after[index]


def table_of(data: Any, table: str) -> Mapping[str, Any]:
    """Return a table of parsed data; an empty one where it isn't there."""
    found = data.get(table) if isinstance(data, dict) else None
    return found if isinstance(found, dict) else {}


_TRANSFER_SIDES: Final = ("normal", "standby")


def hanging_on(data: Any, table: str, name: str) -> tuple[tuple[str, str], ...]:
    """Return what can't stand any more without an entry: (table, id), the entry itself first.

    What a place feeds goes with it, and so does everything that is joined to either.

    Args:
        data: a site file as parsed.
        table: of the entry.
        name: its id.
    """
    gone: dict[tuple[str, str], None] = {(table, name): None}
    grew = True
    while grew:
        before = len(gone)
        nodes = {id for home, id in gone if home in NODE_TABLES}
        runs = {id for home, id in gone if home == "runs"}
        for other, keys in REFERENCES.items():
            for id, entry in table_of(data, other).items():
                named = {str(entry.get(key)) for key in keys if isinstance(entry, dict)}
                if named & (runs if other == "transfers" else nodes):
                    gone[other, id] = None
        fed = {
            str(entry.get("to")): id
            for id, entry in table_of(data, "runs").items()
            if isinstance(entry, dict) and ("runs", id) not in gone
        }
        for home, id in list(gone):
            target = table_of(data, home).get(id) if home == "runs" else None
            end = str(target.get("to")) if isinstance(target, dict) else ""
            for node in ("places", "transformers", "transfers"):
                if end in table_of(data, node) and end not in fed:
                    gone[node, end] = None
        grew = len(gone) > before
    return tuple(gone)


def without(data: Any, gone: tuple[tuple[str, str], ...]) -> Iterator[Change]:
    """Yield the changes that take entries out, and their names out of the lists that have them."""
    nodes = {id for home, id in gone if home in NODE_TABLES}
    runs = {id for home, id in gone if home == "runs"}
    for table, key in NAMED_IN["runs"] + NAMED_IN["nodes"]:
        yield from _unlisted(data, table, key, runs if table != "electrodes" else nodes, gone)
    for key in ("on", "open"):
        yield from _unlisted(data, "states", key, nodes | runs, gone)
    switches = {id for home, id in gone if home == "transfers"}
    for id, entry in table_of(data, "states").items():
        stands = entry.get("transfers") if isinstance(entry, dict) else None
        for switch in switches & set(stands if isinstance(stands, dict) else ()):
            yield ("states", id, "transfers", switch), REMOVED
    for id, entry in table_of(data, "metal").items():
        taps = entry.get("taps") if isinstance(entry, dict) and ("metal", id) not in gone else None
        for index in range(len(taps) - 1 if isinstance(taps, list) else -1, -1, -1):
            if isinstance(taps, list) and str(taps[index].get("to")) in nodes:
                yield ("metal", id, "taps", index), REMOVED
    yield from (((table, id), REMOVED) for table, id in gone)


def _unlisted(
    data: Any, table: str, key: str, names: set[str], gone: tuple[tuple[str, str], ...]
) -> Iterator[Change]:
    for id, entry in table_of(data, table).items():
        value = entry.get(key) if isinstance(entry, dict) and (table, id) not in gone else None
        if isinstance(value, list):
            found = [index for index, item in enumerate(value) if str(item) in names]
            yield from (((table, id, key, index), REMOVED) for index in reversed(found))
        elif value is not None and str(value) in names:
            yield (table, id, key), REMOVED
