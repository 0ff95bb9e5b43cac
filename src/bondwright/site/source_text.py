"""YAML with places in: plain data, and for every value the line and column where it stands.

The scalars are those of the YAML 1.2 core schema, so that ``on``, ``yes``, ``1:30`` and ``012``
stay the words they are. What could make a file mean more than it shows (anchors, aliases, merge
keys, tags, a key written twice, several documents) is refused. The text is read event by event
and nothing is ever expanded, so a small file can't grow large in memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

import yaml

from bondwright.site.site_error import MAX_SHOWN, SiteError, SiteProblem, shorten
from bondwright.site.text_file import MAX_BYTES, TOO_LARGE, UNFIT_VALUE, check_characters, whole
from bondwright.site.yaml_syntax import NOT_FINITE, plain_scalar, syntax_problem

MAX_DEPTH: Final = 32
"""Deepest nesting read."""
MAX_NODES: Final = 1_000_000
"""Most values and keys read: a building of 20,000 places has some 700,000."""

LocPath = tuple[str | int, ...]
_LOADER: Final[Any] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class Mark(NamedTuple):
    """A stretch of text: where it starts (line and column from 1) and its offsets."""

    line: int
    column: int
    start: int
    end: int


class Entry(NamedTuple):
    """Where a value stands.

    Attributes:
        key: its key, None for an item of a list and for the whole.
        value: the value; for groups and lists in block style it ends with their last value.
        raw: the text of a plain or quoted value as written; empty for groups and lists.
        style: ``"plain"``, ``"quoted"``, ``"block text"``, ``"block"`` or ``"flow"``.
    """

    key: Mark | None
    value: Mark
    raw: str
    style: str


class Unreadable:
    """Stands where a value was refused and reported already."""

    def __repr__(self) -> str:
        return "<unreadable>"


@dataclass(slots=True)
class SourceText:
    """A text that could be split into keys and values.

    Attributes:
        name: name of the file.
        text: the text the marks count in (without a byte order mark).
        data: dicts, lists, str, int, float, bool, None and :class:`Unreadable`.
        marks: for each path of keys and list positions, where its value stands.
        problems: what was refused on the way.
    """

    name: str
    text: str
    data: Any = None
    marks: dict[LocPath, Entry] = field(default_factory=dict)
    problems: list[SiteProblem] = field(default_factory=list)

    def locate(self, loc: LocPath, *, on_key: bool = False) -> tuple[Mark, str]:
        """Return the mark nearest to a path and the text there, shortened for a message."""
        here = loc
        while here and here not in self.marks:
            here = here[:-1]
        entry = self.marks.get(here)
        if entry is None:
            return Mark(1, 1, 0, 0), ""
        whole = here == loc
        if entry.key is not None and (on_key or not whole or not entry.raw):
            return entry.key, shorten(str(here[-1]))
        if not here:
            return Mark(entry.value.line, entry.value.column, entry.value.start, 0), ""
        return entry.value, shorten(entry.raw or _one_line(self.text, entry.value))

    def problem(
        self, loc: LocPath, problem: str, hint: str = "", *, on_key: bool = False
    ) -> SiteProblem:
        """Return a problem at the value (or the key) of a path."""
        mark, text = self.locate(loc, on_key=on_key)
        return SiteProblem(self.name, mark.line, mark.column, text, problem, hint, loc)


def _one_line(text: str, mark: Mark) -> str:
    return text[mark.start : min(mark.end, mark.start + 4 * MAX_SHOWN)].split("\n", 1)[0]


# --- events to data ------------------------------------------------------------------------


@dataclass(slots=True)
class _Frame:
    """A group or list that is being read."""

    path: LocPath
    data: dict[str, Any] | list[Any]
    flow: bool
    start: Any
    own_key: Mark | None
    key: str | None = None
    key_mark: Mark | None = None
    stored: bool = True
    last_end: int = 0
    seen: dict[str, Mark] = field(default_factory=dict)


def parse(text: str, name: str = "<text>") -> SourceText:
    """Split a text into located keys and values.

    Args:
        text: the text of a site file.
        name: its name in messages.

    Returns:
        The data and marks; look at its ``problems`` before using the data.

    Raises:
        SiteError: the text is no YAML, is empty, holds several documents, or is too large.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MAX_BYTES or len(text.encode("utf-8", "replace")) > MAX_BYTES:
        raise whole(name, f"is larger than {MAX_BYTES // 2**20} MiB", TOO_LARGE)
    check_characters(text, name)
    source = SourceText(name, text)
    try:
        _Builder(source).read(yaml.parse(text, Loader=_LOADER))
    except yaml.YAMLError as error:
        raise SiteError((syntax_problem(error, source.text, source.name),)) from error
    if not isinstance(source.data, dict):
        _refuse_whole(source)
    return source


def _refuse_whole(source: SourceText) -> None:
    entry = source.marks.get(())
    hint = "a site file starts with lines like 'site: Farmhouse'"
    if entry is None or source.data is None:
        raise whole(source.name, "is empty", hint)
    kind = "a list" if isinstance(source.data, list) else "a single value"
    mark = entry.value
    text = shorten(_one_line(source.text, mark))
    problem = f"is {kind}, but a site file is made of 'key: value' lines"
    raise SiteError((SiteProblem(source.name, mark.line, mark.column, text, problem, hint),))


class _Builder:
    def __init__(self, source: SourceText) -> None:
        self.source = source
        self.stack: list[_Frame] = []
        self.nodes = 0
        self.documents = 0
        self.told: set[str] = set()

    def read(self, events: Iterator[Any]) -> None:
        for event in events:
            match event:
                case yaml.AliasEvent():
                    self._count(event)
                    self._once("alias", event, "is an alias ('*')", "write the value out")
                    self._value(Unreadable(), event, "plain")
                case yaml.ScalarEvent():
                    self._count(event)
                    self._anchored(event)
                    self._scalar(event)
                case yaml.MappingStartEvent() | yaml.SequenceStartEvent():
                    self._count(event)
                    self._anchored(event)
                    self._open(event, isinstance(event, yaml.MappingStartEvent))
                case yaml.MappingEndEvent() | yaml.SequenceEndEvent():
                    self._close(event)
                case yaml.DocumentStartEvent():
                    self.documents += 1
                    if self.documents > 1:
                        hint = "keep each site in a file of its own and remove the '---'"
                        raise self._fatal(event, "begins a second document", hint)
                case _:
                    pass

    def _mark(self, event: Any, end: int | None = None) -> Mark:
        start = event.start_mark
        stop = event.end_mark.index if end is None else end
        return Mark(start.line + 1, start.column + 1, start.index, stop)

    def _add(self, mark: Mark, text: str, problem: str, hint: str) -> None:
        name = self.source.name
        new = SiteProblem(name, mark.line, mark.column, shorten(text), problem, hint)
        self.source.problems.append(new)

    def _fatal(self, event: Any, problem: str, hint: str) -> SiteError:
        mark = self._mark(event)
        text = shorten(_one_line(self.source.text, mark))
        new = SiteProblem(self.source.name, mark.line, mark.column, text, problem, hint)
        return SiteError((*self.source.problems, new))

    def _once(self, what: str, event: Any, problem: str, hint: str) -> None:
        """Report the first of a kind only; a hostile file has thousands."""
        if what not in self.told:
            self.told.add(what)
            mark = self._mark(event)
            self._add(mark, _one_line(self.source.text, mark), problem, hint)

    def _count(self, event: Any) -> None:
        self.nodes += 1
        if self.nodes > MAX_NODES:
            hint = "split the site into several files"
            raise self._fatal(event, f"is beyond {MAX_NODES:,} values in one file", hint)
        if len(self.stack) >= MAX_DEPTH and not isinstance(event, yaml.ScalarEvent):
            hint = "a site file needs no more than five; look for brackets that never close"
            raise self._fatal(event, f"is nested more than {MAX_DEPTH} deep", hint)

    def _anchored(self, event: Any) -> None:
        if event.anchor is not None:
            hint = "remove the anchor and write each value out where it stands"
            self._once("anchor", event, "has an anchor ('&')", hint)
        if event.tag is not None and event.tag != "!":
            hint = "remove the tag; text may stand in quotes instead"
            self._once("tag", event, "has a tag ('!')", hint)

    def _scalar(self, event: Any) -> None:
        top = self.stack[-1] if self.stack else None
        mark = self._mark(event)
        raw = self.source.text[mark.start : mark.end]
        if top is not None and isinstance(top.data, dict) and top.key is None:
            self._key(top, event, mark, raw)
            return
        value: object = event.value
        style = "quoted" if event.style in ("'", '"') else "block text"
        if event.style in (None, ""):
            style = "plain"
            value = plain_scalar(event.value)
            if NOT_FINITE.fullmatch(event.value):
                self._add(mark, raw, "is not a number a building can have", "write a real value")
                value = Unreadable()
        elif UNFIT_VALUE.search(event.value):
            self._add(mark, raw, "holds a control character", "remove it")
            value = Unreadable()
        self._value(value, event, style)

    def _key(self, top: _Frame, event: Any, mark: Mark, raw: str) -> None:
        key = event.value
        if raw == "<<":
            self._once("merge", event, "is a merge key", "write the values out where they stand")
        top.key_mark, top.stored = mark, True
        if not key:
            self._add(mark, raw, "is an empty key", "write a name before the ':'")
            top.stored = False
            key = f"\x00{len(top.seen)}"
        if key in top.seen:
            first = top.seen[key]
            self._add(
                mark,
                raw,
                f"is written twice here; it stands already at line {first.line}, "
                f"column {first.column}",
                "give each a name of its own, or remove one",
            )
            top.stored = False
            key = f"{key}\x00{len(top.seen)}"
        top.seen[key] = mark
        top.key = key

    def _place(self, value: object, event: Any) -> tuple[LocPath, Mark | None]:
        """Store a value in the group or list that is open; return its path and key."""
        if not self.stack:
            self.source.data = value
            return (), None
        top = self.stack[-1]
        if isinstance(top.data, list):
            top.data.append(value)
            return (*top.path, len(top.data) - 1), None
        if top.key is None:
            mark = self._mark(event)
            text = _one_line(self.source.text, mark)
            self._add(mark, text, "stands where a name belongs", "write 'name: value'")
            top.key, top.key_mark, top.stored = f"\x00{len(top.seen)}", mark, False
            top.seen[top.key] = mark
            return (*top.path, top.key), mark
        path, key_mark = (*top.path, top.key), top.key_mark
        if top.stored:
            top.data[top.key] = value
        top.key = None
        return path, key_mark

    def _value(self, value: object, event: Any, style: str) -> None:
        as_key = self._awaits_key()
        path, key = self._place(value, event)
        if as_key:
            return
        mark = self._mark(event)
        raw = self.source.text[mark.start : mark.end]
        if style == "block text":
            mark = Mark(mark.line, mark.column, mark.start, mark.start + len(raw.rstrip()))
        self.source.marks[path] = Entry(key, mark, raw, style)
        if self.stack:
            self.stack[-1].last_end = mark.end

    def _awaits_key(self) -> bool:
        if not self.stack:
            return False
        top = self.stack[-1]
        return isinstance(top.data, dict) and top.key is None

    def _open(self, event: Any, is_map: bool) -> None:
        data: dict[str, Any] | list[Any] = {} if is_map else []
        if self._awaits_key():
            raise self._fatal(event, "stands where a name belongs", "write 'name: value'")
        path, key = self._place(data, event)
        self.stack.append(_Frame(path, data, bool(event.flow_style), event, key))

    def _close(self, event: Any) -> None:
        done = self.stack.pop()
        end = event.end_mark.index if done.flow else done.last_end
        mark = self._mark(done.start, max(end, done.start.start_mark.index))
        entry = Entry(done.own_key, mark, "", "flow" if done.flow else "block")
        self.source.marks[done.path] = entry
        if self.stack:
            self.stack[-1].last_end = mark.end
