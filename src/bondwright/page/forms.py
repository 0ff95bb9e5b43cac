"""The forms by which a site is described, read off the models so that none can lack a field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Final

import yaml

from bondwright.page.wire_describe import FieldInfo, FormInfo
from bondwright.site.schema import json_schema
from bondwright.site.shape import Shape, site_shape
from bondwright.site.structure import NODE_TABLES, REFERENCES

TABLES: Final = (
    "places", "runs", "sources", "transformers", "generators", "inverters", "transfers", "ties",
    "electrodes", "metal", "areas", "arrays", "direct current", "states", "earth tests",
    "neighbours", "seasons", "amendments", "curves",
)  # fmt: skip
"""The tables of a site file in the order in which they are offered."""
_FAMILY: Final = [*NODE_TABLES]
_LISTS: Final[Mapping[tuple[str, str], list[str]]] = {
    ("runs", "with"): ["runs"],
    ("electrodes", "shared by"): ["transformers", "generators", "inverters"],
    ("states", "on"): ["sources", "generators", "inverters"],
    ("states", "open"): ["places", "runs"],
    ("earth tests", "of"): ["electrodes"],
}
_SINGLE: Final[Mapping[tuple[str, str], list[str]]] = {
    ("metal", "circuit"): ["runs"],
    ("taps", "to"): _FAMILY,
}


@cache
def forms() -> tuple[FormInfo, ...]:
    """Return every form; the first is that of the site itself, under an empty table."""
    data = yaml.safe_load(files("bondwright.page.data").joinpath("forms.yaml").read_text("utf-8"))
    schema = json_schema()
    told = _Told(data, schema["$defs"])
    shape = site_shape()
    site = {key: part for key, part in shape.fields.items() if key not in TABLES}
    found = [told.form("", data["site"], Shape("group", site, required=("site",)), schema)]
    for table in TABLES:
        item = shape.fields[table].item
        if item is None:
            raise LookupError(f"{table!r} is no table of a site file")
        found.append(told.form(table, data["tables"][table], item, told.model(item)))
    return tuple(found)


def one(table: str) -> str:
    """Return what a single entry of a table is called."""
    return next(form.one for form in forms() if form.table == table)


class _Told:
    def __init__(self, data: Mapping[str, Any], definitions: Mapping[str, Any]) -> None:
        self._data, self._definitions = data, definitions

    def model(self, shape: Shape) -> Mapping[str, Any]:
        found: Mapping[str, Any] = self._definitions[shape.model.__name__ if shape.model else ""]
        return found

    def form(
        self, table: str, data: Mapping[str, Any], shape: Shape, schema: Mapping[str, Any]
    ) -> FormInfo:
        return FormInfo(
            table=table,
            one=data["one"],
            title=data["title"],
            about=data["about"],
            fields=list(self._fields(table, data["labels"], data["main"], shape, schema)),
        )

    def _fields(
        self,
        table: str,
        labels: Mapping[str, str],
        main: Sequence[str] | None,
        shape: Shape,
        schema: Mapping[str, Any],
    ) -> Iterator[FieldInfo]:
        order = [*(main or ()), *(key for key in shape.fields if key not in (main or ()))]
        for key in order:
            part = shape.fields[key]
            kind = _kind(table, key, part)
            inner = part.item if kind == "list" else part if kind == "group" else None
            said = schema["properties"][key]
            label = labels.get(key) or self._data["labels"].get(key) or key.capitalize()
            yield FieldInfo(
                key=key,
                label=label,
                help=_help(said),
                kind=kind,
                words=_words(part),
                example=part.example if kind in ("value", "number", "whole") else "",
                required=key in shape.required,
                main=main is None or key in main,
                offers=self._data["offers"].get(key, []) if kind == "value" else [],
                of=_of(table, key),
                fields=list(self._inside(key, inner)),
            )

    def _inside(self, key: str, shape: Shape | None) -> Iterator[FieldInfo]:
        if shape is not None:
            main = self._data["inner"].get(key)
            yield from self._fields(key, {}, main, shape, self.model(shape))


def _kind(table: str, key: str, shape: Shape) -> str:
    item = shape.item.kind if shape.item is not None else ""
    if _of(table, key):
        return "names" if shape.kind == "list" else "name"
    match shape.kind:
        case "list":
            return {"group": "list", "words": "names"}.get(item, "other")
        case "table":
            return "other"
        case kind:
            return str(kind)


def _words(shape: Shape) -> list[str]:
    inner = shape.item if shape.kind == "list" and shape.item is not None else shape
    return list(inner.words)


def _of(table: str, key: str) -> list[str]:
    if (table, key) in _LISTS:
        return _LISTS[table, key]
    if (table, key) in _SINGLE:
        return _SINGLE[table, key]
    if key in REFERENCES.get(table, ()):
        if table == "transfers":
            return ["runs"]
        return ["inverters"] if table == "arrays" else _FAMILY
    return []


def _help(schema: Mapping[str, Any]) -> str:
    """Return what the schema says of a key, without what every quantity says of itself."""
    said, _, last = str(schema.get("description", "")).rpartition(". ")
    return f"{said}." if said and last.startswith(("A ", "An ")) else f"{said}. {last}".lstrip(". ")
