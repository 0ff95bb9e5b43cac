"""Changing the description of a working copy: by forms, as text, by a panel schedule.

Forms and text are two views of one file. A form's change is spliced into the text, so that
comments and order stay; either way the whole is read again as from disk before it stands.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Sequence
from typing import Any

from bondwright.page.desk import Desk, UnknownError
from bondwright.page.edits import Edit, EditError, Edits, said
from bondwright.page.forms import TABLES, forms, one
from bondwright.page.wire import EditRequest
from bondwright.page.wire_describe import (
    DescriptionAnswer,
    EntryAnswer,
    EntryChange,
    EntryRow,
    FieldInfo,
    TableInfo,
)
from bondwright.page.written import to_file, to_form
from bondwright.plan.model import Plan, PlannedTie
from bondwright.site.entries import Change, changes_between, hanging_on, table_of, without
from bondwright.site.model import TieForm
from bondwright.site.source_text import SourceText
from bondwright.site.writer import EditError as CannotWriteError
from bondwright.site.writer import Removed, renamed, spliced, split
from bondwright.site.yaml_text import flow

_LONG = 60


def change_working_copy(desk: Desk, request: EditRequest) -> None:
    """Take a tie off, put one on, or go back and forth among all changes.

    Raises:
        EditError: it can't be done.
    """
    match request.action:
        case "undo" | "redo":
            desk.go(request.action == "undo")
        case "start over":
            desk.change(lambda _: Edits(), "every tie as described")
        case "keep ties":
            keep_ties(desk)
        case action:
            off = action == "take off"
            words = f"{request.name} taken off" if off else f"a tie put on at {request.name}"
            desk.change(lambda edits: edits.add(Edit(action, request.name)), words)


def fields_of(table: str) -> list[FieldInfo]:
    """Return the fields of a table's form.

    Raises:
        UnknownError: there is no such table.
    """
    for form in forms():
        if form.table == table:
            return form.fields
    raise UnknownError(f"nothing is kept under {table!r}; there are {', '.join(TABLES)}")


def description(desk: Desk) -> DescriptionAnswer:
    """Return all that is described, in lists."""
    data = split(desk.text).data
    tables = [
        TableInfo(
            table=table,
            rows=[
                EntryRow(id=str(id), about=_about(table, entry))
                for id, entry in table_of(data, table).items()
            ],
        )
        for table in TABLES
    ]
    return DescriptionAnswer(tables=tables)


def _about(table: str, entry: Any) -> str:
    """Say in a line what an entry is."""
    if not isinstance(entry, dict):
        return ""

    def said(*keys: str) -> str:
        parts = (flow(entry[key]) for key in keys if key in entry)
        return ", ".join(text for text in parts if len(text) <= _LONG)

    match table:
        case "runs" | "metal":
            way = f"{entry.get('from', '?')} to {entry.get('to', '?')}"
            more = said("device", "lines", "length") if table == "runs" else said("kind", "length")
            return f"{way}: {more}" if more else way
        case "places":
            return said("kind", "main", "building")
        case "ties" | "areas" | "arrays" | "direct current" | "electrodes":
            return f"{said('kind', 'by', 'count', 'length')} at {entry.get('at', '?')}".strip()
        case _:
            return said(*list(entry)[:3])


def entry_answer(desk: Desk, table: str, id: str) -> EntryAnswer:
    """Return an entry as its form shows it; of an empty table the site itself.

    Raises:
        UnknownError: there is no such entry.
    """
    source, fields = split(desk.text), fields_of(table)
    if table and id not in table_of(source.data, table):
        raise UnknownError(f"there is no {one(table)} {id!r}")
    hanging = hanging_on(source.data, table, id)[1:] if table else ()
    return EntryAnswer(
        table=table,
        id=id,
        entry=to_form(fields, source, (table, id) if table else ()),
        hanging=[f"{one(home)} {name}" for home, name in hanging],
    )


def change_description(desk: Desk, changes: Sequence[EntryChange]) -> None:
    """Make changes of the description together, or none of them.

    Raises:
        bondwright.site.site_error.SiteError: what comes out would be no sound site.
        EditError: the file's layout doesn't allow it, or nothing would change.
        UnknownError: an entry isn't there.
    """
    with desk.lock:
        text, done = desk.text, list[str]()
        try:
            if any(c.table == "ties" and c.entry is not None for c in changes):
                text, done = _with_designed_ties(text, desk.base)
            for change in changes:
                text, words = _changed(text, change)
                done += words
        except CannotWriteError as error:
            raise EditError(str(error)) from error
        if text == desk.text:
            raise EditError("nothing differs from what is described already")
        desk.describe(desk.read(text), text, _summed(done))


def change_text(desk: Desk, text: str, said: str) -> None:
    """Put another text in place of the whole file.

    Raises:
        bondwright.site.site_error.SiteError: it describes no sound site.
    """
    with desk.lock:
        if "\r\n" in desk.text and "\r" not in text:
            text = text.replace("\n", "\r\n")
        if text != desk.text:
            desk.describe(desk.read(text), text, said)


def keep_ties(desk: Desk) -> None:
    """Write the ties as they stand on the page into the description.

    Raises:
        EditError: none differs from what is described.
        bondwright.site.site_error.SiteError: what comes out would be no sound site.
    """
    with desk.lock:
        if not desk.edits.done:
            raise EditError("no tie was taken off or put on")
        source = split(desk.text)
        before = source.data.get("ties")
        old = before if isinstance(before, dict) else {}
        after = {tie.id: old.get(tie.id, _tie(tie)) for tie in desk.plan.ties}
        made = list(changes_between(before, after, ("ties",)))
        text, _ = spliced(desk.text, made)
        done = ", ".join(said(desk.base, desk.edits.done))
        desk.describe(desk.read(text), text, f"ties: {done}", ties=False)


def _with_designed_ties(text: str, plan: Plan) -> tuple[str, list[str]]:
    """Write down the ties that the plan designed: once one is written, no other is designed."""
    if not plan.ties or plan.site.ties is not None:
        return text, []
    ties = {tie.id: _tie(tie) for tie in plan.ties}
    new, _ = spliced(text, [(("ties",), ties)])
    return new, ["the ties that the plan placed written down"]


def _tie(tie: PlannedTie) -> dict[str, str]:
    entry = {"at": tie.at, "by": str(tie.form)}
    if tie.line is not None:
        entry["line"] = tie.line
    if tie.form is TieForm.WIRE and tie.size is not None:
        entry["size"] = str(tie.size)
    return entry


def _changed(text: str, change: EntryChange) -> tuple[str, list[str]]:
    """Return a text with a change made to it, and what was done."""
    source, table = split(text), change.table
    fields = fields_of(table)
    if not table:
        return _site_changed(text, source, fields, change.entry or {})
    there = table_of(source.data, table)
    if change.was and change.was not in there:
        raise UnknownError(f"there is no {one(table)} {change.was!r} any more")
    if change.entry is None:
        return _taken_out(text, source, table, change.was)
    id, done = change.id.strip() or change.was, list[str]()
    if not id:
        raise EditError(f"give the {one(table)} a name")
    if change.was and id != change.was:
        text, source = renamed(text, change.was, id)
        done.append(f"{change.was} renamed {id}")
    elif not change.was and id in there:
        raise EditError(f"there is a {one(table)} {id!r} already")
    before = table_of(source.data, table).get(id)
    shown = to_form(fields, source, (table, id)) if before is not None else None
    after = to_file(fields, change.entry, before, shown)
    if before is None:
        made: list[Change] = [((table, id), after)]
        done.append(f"{one(table)} {id} added")
    else:
        made = list(changes_between(before, after, (table, id)))
        if made:
            done.append(f"{id}: {', '.join(_differences(source.data, made, 2))}")
    new, _ = spliced(text, made) if made else (text, source)
    return new, done


def _site_changed(
    text: str, source: SourceText, fields: list[FieldInfo], filled: dict[str, Any]
) -> tuple[str, list[str]]:
    keys = [field.key for field in fields]
    before = {key: value for key, value in source.data.items() if key in keys}
    after = to_file(fields, filled, before, to_form(fields, source, ()))
    made = list(changes_between(before, after, ()))
    new, _ = spliced(text, made) if made else (text, source)
    return new, _differences(source.data, made, 0)


def _taken_out(text: str, source: SourceText, table: str, id: str) -> tuple[str, list[str]]:
    gone = hanging_on(source.data, table, id)
    new, _ = spliced(text, without(source.data, gone))
    more = f" with {len(gone) - 1} more that hung on it" if len(gone) > 1 else ""
    return new, [f"{one(table)} {id} taken out{more}"]


def _differences(data: Any, made: Sequence[Change], skip: int) -> list[str]:
    """Say what changes, a line for each, leaving out so many steps of where."""
    return list(_told(copy.deepcopy(data), made, skip))


def _told(data: Any, made: Sequence[Change], skip: int) -> Iterator[str]:
    for path, value in made:
        where = " ".join(str(step + 1) if isinstance(step, int) else step for step in path[skip:])
        before: Any = data
        for step in path:
            try:
                before = before[step]
            except (KeyError, IndexError, TypeError):
                before = None
                break
        after = "taken out" if isinstance(value, Removed) else _short(value)
        if before is None or isinstance(value, Removed):
            yield f"{where} {after}"
        else:
            yield f"{where} {_short(before)} to {after}"


def _short(value: Any) -> str:
    text = flow(value)
    return text if len(text) <= _LONG else "…"


def _summed(said: Sequence[str]) -> str:
    if len(said) <= 3:
        return "; ".join(said)
    return f"{'; '.join(said[:2])} and {len(said) - 2} more changes"
