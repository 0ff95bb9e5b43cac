"""Entries of a site file as a form shows them, and as what a person filled in is written."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from bondwright.page.wire_describe import FieldInfo
from bondwright.site.site_error import SiteError
from bondwright.site.source_text import LocPath, SourceText, parse
from bondwright.site.yaml_text import flow

_WHOLE: Final = re.compile(r"[+-]?\d{1,15}")
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def to_form(fields: list[FieldInfo], source: SourceText, at: LocPath) -> dict[str, Any]:
    """Return an entry as its form shows it: text as written, groups and lists as they are."""
    data = _at(source.data, at)
    known = {field.key: field for field in fields}
    return {
        key: _shown(known[key], source, (*at, key), value)
        for key, value in (data.items() if isinstance(data, dict) else ())
        if key in known
    }


def _at(data: Any, at: LocPath) -> Any:
    for step in at:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _shown(field: FieldInfo, source: SourceText, at: LocPath, value: Any) -> Any:
    if field.kind == "group" and isinstance(value, dict):
        return to_form(field.fields, source, at)
    if field.kind == "list" and isinstance(value, list):
        return [to_form(field.fields, source, (*at, k)) for k in range(len(value))]
    if field.kind == "names" and isinstance(value, list):
        return [_text(source, (*at, k), item) for k, item in enumerate(value)]
    if isinstance(value, dict | list):
        return flow(value)
    return value if isinstance(value, bool) else _text(source, at, value)


def _text(source: SourceText, at: LocPath, value: Any) -> str:
    if isinstance(value, str):
        return value
    entry = source.marks.get(at)
    return entry.raw if entry is not None else str(value)


def to_file(fields: list[FieldInfo], filled: Mapping[str, Any], before: Any, shown: Any) -> Any:
    """Return what a filled-in form says as the data of a site file.

    Args:
        fields: of the form.
        filled: by key; empty text, None and empty lists say nothing.
        before: the data that is there, or None.
        shown: how the form showed it; what is still the same is left as it was.
    """
    known = {field.key: field for field in fields}
    old = before if isinstance(before, dict) else {}
    seen = shown if isinstance(shown, dict) else {}
    found: dict[str, Any] = {}
    for key, value in filled.items():
        if key in old and key in seen and seen[key] == value:
            found[key] = old[key]
        elif value is not None and value != "" and value != []:
            found[key] = _said(known.get(key), value, old.get(key), seen.get(key))
    # The file's own order comes first: what is new stands behind.
    return {key: found[key] for key in (*(k for k in old if k in found), *found)}


def _said(field: FieldInfo | None, value: Any, before: Any, shown: Any) -> Any:
    if field is None:
        return value
    if isinstance(value, dict):
        return to_file(field.fields, value, before, shown)
    if isinstance(value, list) and field.kind == "list":
        old = before if isinstance(before, list) else []
        seen = shown if isinstance(shown, list) else []
        return [_item(field, item, old, seen) for item in value]
    if isinstance(value, str):
        return _scalar(field.kind, value.strip())
    return value


def _item(field: FieldInfo, item: Any, old: list[Any], seen: list[Any]) -> Any:
    same = next((k for k, one in enumerate(seen) if one == item and k < len(old)), None)
    if same is not None:
        return old[same]
    return to_file(field.fields, item, None, None) if isinstance(item, dict) else item


def _scalar(kind: str, text: str) -> Any:
    if kind in ("whole", "number") and _WHOLE.fullmatch(text):
        return int(text)
    if kind == "number" and _NUMBER.fullmatch(text):
        return float(text)
    if kind == "flag" and text in ("true", "false"):
        return text == "true"
    if kind == "other":
        try:
            return parse(f"x: {text}").data["x"]
        except (SiteError, KeyError, TypeError):
            return text
    return text
