"""Changing a site file without disturbing it, and writing a site that was built in Python.

An edit splices new text in at the place of the old; comments, order and spacing elsewhere stay
byte for byte. The result is read again before it is handed back: it must hold exactly the
change that was asked for, and must be a sound site.
"""

from __future__ import annotations

import copy
import os
import stat
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from bondwright.site import reader
from bondwright.site.details import NAMED_IN
from bondwright.site.model import Site
from bondwright.site.shape import did_you_mean, nearest
from bondwright.site.site_error import SiteError
from bondwright.site.source_text import Entry, LocPath, SourceText, parse
from bondwright.site.structure import NODE_TABLES, REFERENCES
from bondwright.site.yaml_text import block, flow, scalar


class EditError(ValueError):
    """An edit that can't be made; the text is unchanged."""


class Removed:
    """Stands in place of a value that is to be taken out."""


REMOVED: Final = Removed()


def set_value(text: str, path: Sequence[str | int], value: object) -> str:
    """Set one value in the text of a site file, adding its key where it is missing.

    Args:
        text: the file as it is.
        path: keys and list positions from the top, as written in the file
            (``("runs", "service drop", "length")``); a list's length appends to it.
        value: text with its unit, a number, a bool, or lists and dicts of them.

    Returns:
        The file with that value changed.

    Raises:
        EditError: the path leads nowhere, or the text can't be changed there.
        SiteError: the text can't be read, or what comes out would be no sound site.
    """
    return set_values(text, [(path, value)])


def set_values(text: str, changes: Iterable[tuple[Sequence[str | int], object]]) -> str:
    """Set several values in the text of a site file, which need be sound only after the last.

    Args:
        text: the file as it is.
        changes: paths and values as for :func:`set_value`, made one after the other;
            :data:`REMOVED` takes a value out.

    Returns:
        The file with all of them changed.

    Raises:
        EditError: a path leads nowhere, or the text can't be changed there.
        SiteError: the text can't be read, or what comes out would be no sound site.
    """
    text, source = spliced(text, changes)
    reader.validate(source)
    return text


def spliced(
    text: str, changes: Iterable[tuple[Sequence[str | int], object]]
) -> tuple[str, SourceText]:
    """Make changes as :func:`set_values` does, and leave it to the caller to look at the site.

    Returns:
        The file with all of them changed, and the same with places in.

    Raises:
        EditError: a path leads nowhere, or the text can't be changed there.
        SiteError: the text can't be read.
    """
    source = _parsed(text)
    for path, value in changes:
        if isinstance(value, Removed):
            text, source = _without(text, source, tuple(path))
            continue
        loc, data = tuple(path), _plain(value)
        wanted = copy.deepcopy(source.data)
        _store(wanted, loc, data)
        while loc[:-1] not in source.marks:  # the group isn't there yet: add it with its content
            data = {str(loc[-1]): data}
            loc = loc[:-1]
        new = _replaced(source, loc, data) if loc in source.marks else _added(source, loc, data)
        text, source = _held(text, new, wanted)
    return text, source


def remove(text: str, path: Sequence[str | int]) -> str:
    """Remove one value with its key from the text of a site file.

    A group or list left empty stays, written ``{}`` or ``[]``.

    Args:
        text: the file as it is.
        path: as for :func:`set_value`.

    Returns:
        The file without that value.

    Raises:
        EditError: there is nothing at the path.
        SiteError: the text can't be read, or what comes out would be no sound site.
    """
    return set_values(text, [(path, REMOVED)])


def _without(text: str, source: SourceText, loc: LocPath) -> tuple[str, SourceText]:
    if not loc or loc not in source.marks:
        raise EditError(f"there is nothing at {_words(loc)}")
    wanted = copy.deepcopy(source.data)
    parent = _at(wanted, loc[:-1])
    del parent[loc[-1]]
    empty = not parent and loc[:-1]
    new = _replaced(source, loc[:-1], parent) if empty else _removed(source, loc)
    return _held(text, new, wanted)


def rename_id(text: str, old: str, new: str) -> str:
    """Give something in a site file another id, whichever table it stands in.

    Everything that refers to it follows.

    Args:
        text: the file as it is.
        old: the id as it is.
        new: the id as it shall be.

    Returns:
        The file with the id changed.

    Raises:
        EditError: no such id, the new one is taken, or several things are called so.
        SiteError: the text can't be read, or what comes out would be no sound site.
    """
    new_text, source = renamed(text, old, new)
    reader.validate(source)
    return new_text


def renamed(text: str, old: str, new: str) -> tuple[str, SourceText]:
    """Give something another id as :func:`rename_id` does, without looking at the site.

    Raises:
        EditError: no such id, the new one is taken, or several things are called so.
        SiteError: the text can't be read.
    """
    source = _parsed(text)
    tables = {name: _table(source.data, name) for name in _ID_TABLES}
    homes = [name for name, entries in tables.items() if old in entries]
    if any(name in NODE_TABLES for name in homes):
        homes = [name for name in homes if name in NODE_TABLES]
    if not homes:
        close = nearest(old, [key for entries in tables.values() for key in entries])
        raise EditError(f"there is no {old!r}" + (f"; {did_you_mean(close)}" if close else ""))
    if len(homes) > 1:
        raise EditError(f"{old!r} stands in {' and '.join(homes)}; rename it by hand")
    family = NODE_TABLES if homes[0] in NODE_TABLES else (homes[0],)
    if any(new in tables[name] for name in family):
        raise EditError(f"{new!r} is taken already")
    wanted = copy.deepcopy(source.data)
    entries = wanted[homes[0]]
    wanted[homes[0]] = {new if key == old else key: entry for key, entry in entries.items()}
    key = source.marks[homes[0], old].key
    if key is None:
        raise EditError(f"{old!r} has no name to change")
    cuts = [(key.start, key.end, scalar(new))]
    shared = homes[0] == "places" and old in tables["runs"]
    # Where a list grows, what comes after moves: the last spots first.
    for loc, is_key in reversed(list(_mentions(source.data, homes[0]))):
        if is_key:
            here = source.marks[loc].key
            # A key such as 3 may stand unquoted; the data has it as text.
            if loc[-1] != old or here is None:
                continue
            group = _at(wanted, loc[:-1])
            renamed = {new if word == old else word: entry for word, entry in group.items()}
            _store(wanted, loc[:-1], renamed)
        else:
            if _as_id(source, loc) != old:
                continue
            here = source.marks[loc].value
            if shared and loc[0] == "states":
                # A state's "open" names a place and a run alike; the run keeps its name.
                main = isinstance(entries[old], dict) and "main" in entries[old]
                run = tables["runs"][old]
                if isinstance(run, dict) and "device" in run:
                    if main:
                        _at(wanted, loc[:-1]).insert(int(loc[-1]) + 1, new)
                        cuts.append((here.end, here.end, _next_item(source.text, here.start, new)))
                    continue
            _store(wanted, loc, new)
        cuts.append((here.start, here.end, scalar(new)))
    new_text = source.text
    for start, end, piece in sorted(cuts, reverse=True):
        new_text = new_text[:start] + piece + new_text[end:]
    held, after = _held(text, new_text, wanted)
    for loc in _twice(after, new):
        held, after = _without(held, after, loc)
    return held, after


def _twice(source: SourceText, id: str) -> list[LocPath]:
    """Return where a state opens an id that it opens already, the last first.

    A place and a run that are both open have one entry in the list once they share a name.
    """
    found: list[LocPath] = []
    for name, entry in _table(source.data, "states").items():
        listed = entry.get("open") if isinstance(entry, dict) else None
        spots: list[LocPath] = [
            ("states", name, "open", k)
            for k in range(len(listed) if isinstance(listed, list) else 0)
        ]
        found += [loc for loc in spots if _as_id(source, loc) == id][1:]
    return found[::-1]


def _next_item(text: str, start: int, item: str) -> str:
    """Return what to put behind an item of a list so that another one follows it.

    Args:
        text: the file.
        start: where the item that is there begins.
        item: the new one.
    """
    before = text[text.rfind("\n", 0, start) + 1 : start]
    if before.rstrip().endswith("-"):
        end = "\r\n" if "\r\n" in text else "\n"
        dash = before[: before.rstrip().rindex("-")]
        return f"{end}{' ' * len(dash)}- {scalar(item)}"
    return f", {scalar(item)}"


_ID_TABLES: Final = (
    *NODE_TABLES,
    *(table for table in REFERENCES if table != "transfers"),
    "states",
)
"""Tables whose keys are ids."""


def _mentions(data: Any, table: str) -> Iterator[tuple[LocPath, bool]]:
    """Yield every spot that may name an entry of a table, and whether it is a key there."""
    nodes = table in NODE_TABLES
    for other, keys in REFERENCES.items():
        if (table == "runs") if other == "transfers" else nodes:
            for name, entry in _table(data, other).items():
                if isinstance(entry, dict):
                    yield from (((other, name, key), False) for key in keys if key in entry)
    if not nodes and table != "runs":
        return
    for name, entry in _table(data, "metal").items():
        taps = entry.get("taps") if nodes and isinstance(entry, dict) else None
        for index, tap in enumerate(taps if isinstance(taps, list) else ()):
            if isinstance(tap, dict) and "to" in tap:
                yield ("metal", name, "taps", index, "to"), False
    for other, key in NAMED_IN.get("runs" if table == "runs" else "nodes", ()):
        for name, entry in _table(data, other).items():
            value = entry.get(key) if isinstance(entry, dict) else None
            if isinstance(value, list):
                yield from (((other, name, key, index), False) for index in range(len(value)))
            elif value is not None:
                yield (other, name, key), False
    lists = {"sources": ("on",), "generators": ("on",), "inverters": ("on",)}.get(table, ())
    if table in ("places", "runs"):
        lists = ("open",)
    for name, entry in _table(data, "states").items():
        if not isinstance(entry, dict):
            continue
        for word in lists:
            listed = entry.get(word)
            for index in range(len(listed) if isinstance(listed, list) else 0):
                yield ("states", name, word, index), False
        stands = entry.get("transfers")
        if table == "transfers" and isinstance(stands, dict):
            yield from ((("states", name, "transfers", switch), True) for switch in stands)


def save(path: str | os.PathLike[str], text: str | bytes) -> None:
    """Write a file whole or not at all, keeping its permissions.

    Args:
        path: where; a symbolic link is followed.
        text: what to write; characters become UTF-8, line ends stay as they are.

    Raises:
        OSError: it can't be written; what was there is untouched.
    """
    target = Path(path).resolve()
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8") if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        part.chmod(_permissions(target))
        part.replace(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _permissions(target: Path) -> int:
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def dump(site: Site) -> str:
    """Write a site as a site file; :func:`bondwright.site.reader.read` gives an equal site.

    Quantities carry their units, what equals its default is left out (but for the rules).
    """
    data = site.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    ordered = {"site": data.pop("site"), "rules": site.rules, **data}
    return "".join(block(key, value, 0) for key, value in ordered.items())


# --- splices ----------------------------------------------------------------------


def _plain(value: object) -> Any:
    """Return a value as the reader would see it, refusing what YAML text can't say."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if value is None or (isinstance(value, float) and not abs(value) < float("inf")):
        raise EditError(f"{value!r} can't stand in a site file; use remove() to take a value out")
    if isinstance(value, bool | int | float) and type(value) in (bool, int, float):
        return value
    return str(value)


def _replaced(source: SourceText, loc: LocPath, data: Any) -> str:
    text, entry = source.text, source.marks[loc]
    in_flow = _in_flow(source, loc)
    new = flow(data) if isinstance(data, dict | list) or in_flow else scalar(data)
    mark = entry.value
    if entry.key is None and not loc:
        raise EditError("the whole file is not one value; set what is in it")
    if mark.start == mark.end or (entry.style == "block" and entry.key is not None):
        # Nothing, or lines of its own: the new value goes behind the colon, the lines go away.
        colon = _behind_colon(text, entry)
        rest = text[mark.end :]
        if entry.style == "block":
            begin = text.rfind("\n", 0, mark.start) + 1
            rest = text[_line_end(text, mark.end) :]
            return f"{text[:colon]} {new}{text[colon:begin]}{rest}"
        return f"{text[:colon]} {new}{text[colon:]}"
    return text[: mark.start] + new + text[mark.end :]


def _added(source: SourceText, loc: LocPath, data: Any) -> str:
    text, group = source.text, source.marks[loc[:-1]]
    parent = _at(source.data, loc[:-1])
    is_list = isinstance(parent, list)
    if not isinstance(parent, dict | list) or (is_list and loc[-1] != len(parent)):
        raise EditError(f"there is no group or list at {_words(loc[:-1])} to add to")
    name = "" if is_list else f"{scalar(loc[-1])}: "
    last = (
        source.marks[*loc[:-1], len(parent) - 1 if is_list else next(reversed(parent))]
        if parent
        else None
    )
    if group.style == "flow":
        piece = name + flow(data)
        if last is None:
            return text[: group.value.start + 1] + piece + text[group.value.end - 1 :]
        return f"{text[: last.value.end]}, {piece}{text[last.value.end :]}"
    if last is None or (group.style != "block"):
        raise EditError(f"there is nothing at {_words(loc[:-1])} to add to")
    first = source.marks[*loc[:-1], 0 if is_list else next(iter(parent))]
    if is_list:
        dash = text.rfind("-", 0, first.value.start)
        indent = dash - text.rfind("\n", 0, dash) - 1
        lines = f"{' ' * indent}- {flow(data)}"
    else:
        column = (first.key or first.value).column - 1
        lines = block(str(loc[-1]), data, column).rstrip("\n")
    end = _line_end(text, last.value.end)
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = lines.replace("\n", newline)
    if end and text[end - 1] not in "\r\n":
        return text[:end] + newline + lines + text[end:]
    return text[:end] + lines + newline + text[end:]


def _removed(source: SourceText, loc: LocPath) -> str:
    text, entry = source.text, source.marks[loc]
    parent = _at(source.data, loc[:-1])
    keys: list[str | int] = list(range(len(parent))) if isinstance(parent, list) else list(parent)
    spot = keys.index(loc[-1])
    start = (entry.key or entry.value).start
    after = source.marks[*loc[:-1], keys[spot + 1]] if spot + 1 < len(keys) else None
    if _in_flow(source, loc):
        if after is not None:
            return text[:start] + text[(after.key or after.value).start :]
        before = source.marks[*loc[:-1], keys[spot - 1]].value.end if spot else start
        return text[:before] + text[entry.value.end :]
    line = text.rfind("\n", 0, start) + 1
    if isinstance(parent, list):
        line = text.rfind("\n", 0, text.rfind("-", 0, start)) + 1
    elif text[line:start].strip() and after is not None and after.key is not None:
        return text[:start] + text[after.key.start :]  # first in a list item, behind the dash
    return text[:line] + text[_line_end(text, entry.value.end) :]


def _in_flow(source: SourceText, loc: LocPath) -> bool:
    return bool(loc) and source.marks[loc[:-1]].style == "flow"


def _behind_colon(text: str, entry: Entry) -> int:
    if entry.key is None:
        raise EditError("an empty list item can't be changed; remove it")
    return text.index(":", entry.key.end) + 1


def _line_end(text: str, index: int) -> int:
    """Return where the line after the one of ``index`` starts."""
    if index and text[index - 1] == "\n":
        return index
    found = text.find("\n", index)
    return len(text) if found < 0 else found + 1


# --- data behind the text ------------------------------------------------------------------


@lru_cache(maxsize=4)
def split(text: str) -> SourceText:
    """Split a text; edits often follow each other, so what one returned the next one has.

    What is returned is shared: it is to be looked at and never changed.

    Raises:
        SiteError: as for :func:`bondwright.site.source_text.parse`.
    """
    return parse(text)


def _parsed(text: str) -> SourceText:
    source = split(text)
    if source.problems:
        raise SiteError(tuple(source.problems))
    return source


def _held(old: str, new: str, wanted: Any) -> tuple[str, SourceText]:
    """Read an edited text again; return it only if it holds what was wanted, sound or not."""
    result = ("\ufeff" if old.startswith("\ufeff") else "") + new
    source = split(result)
    if source.problems or source.data != wanted:
        raise EditError("the layout of the file there does not allow this edit; change it by hand")
    return result, source


def _table(data: Any, name: str) -> dict[str, Any]:
    entries = data.get(name)
    return entries if isinstance(entries, dict) else {}


def _as_id(source: SourceText, loc: LocPath) -> str | None:
    value = _at(source.data, loc) if loc in source.marks else None
    return value if isinstance(value, str) or value is None else source.marks[loc].raw


def _at(data: Any, loc: LocPath) -> Any:
    for step in loc:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError) as error:
            raise EditError(f"there is nothing at {_words(loc)}") from error
    return data


def _store(data: Any, loc: LocPath, value: Any) -> None:
    if not loc:
        raise EditError("the whole file is not one value; set what is in it")
    for step in loc[:-1]:
        if isinstance(data, dict) and step not in data and isinstance(step, str):
            data[step] = {}
        data = _at(data, (step,))
    last = loc[-1]
    if isinstance(data, list) and isinstance(last, int) and 0 <= last <= len(data):
        data[last : last + 1] = [value]
    elif isinstance(data, dict) and isinstance(last, str):
        data[last] = value
    else:
        raise EditError(f"there is no group or list at {_words(loc[:-1])} to add to")


def _words(loc: LocPath) -> str:
    return " / ".join(str(step) for step in loc) or "the top of the file"
