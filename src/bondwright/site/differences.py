"""What differs between two descriptions of a site."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from pydantic import BaseModel

from bondwright.site.model import Site
from bondwright.site.yaml_text import flow


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that isn't the same.

    Attributes:
        path: where, as keys from the top: ``("runs", "well feeder", "length")``.
        before: its value as a site file says it; None where it wasn't there.
        after: the same afterwards; None where it is gone.
    """

    path: tuple[str, ...]
    before: str | None
    after: str | None


def differences(before: Site, after: Site) -> tuple[Difference, ...]:
    """Return what differs between two sites, in the order of the file.

    It is the meaning that is compared: other units, other comments, another order of entries and a
    default that is written out make no difference.
    """
    return tuple(_compared((), _values(before), _values(after), _texts(before), _texts(after)))


_NONE: Final = object()
_CLOSE: Final = 1e-12
"""Relative: 90 ft and 27.432 m are one length, though not one binary number."""


def _values(site: Site) -> dict[str, Any]:
    return {**raw(site), "rules": site.rules}


def raw(value: Any) -> Any:
    """Return a part of a site as the dump has it, but with numbers where that has text."""
    if isinstance(value, BaseModel):
        fields = type(value).model_fields
        return {
            info.alias or name: raw(getattr(value, name))
            for name, info in fields.items()
            if getattr(value, name) != info.get_default(call_default_factory=True)
        }
    if isinstance(value, dict):
        return {str(key): raw(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [raw(item) for item in value]
    return value


def _texts(site: Site) -> dict[str, Any]:
    data = site.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return {**data, "rules": site.rules}


def _compared(
    path: tuple[str, ...], before: Any, after: Any, was: Any, now: Any
) -> Iterator[Difference]:
    if _same(before, after):
        return
    # Entries are told one by one, and within an entry its values; but an entry that is new or gone
    # is told whole.
    groups = isinstance(before, dict) and isinstance(after, dict) and len(path) < 3
    if groups or (len(path) == 1 and (isinstance(before, dict) or isinstance(after, dict))):
        for key in dict.fromkeys((*_keys(before), *_keys(after))):
            yield from _compared((*path, key), *(_at(v, key) for v in (before, after, was, now)))
        return
    yield Difference(path, _text(was), _text(now))


def _keys(value: Any) -> Iterable[str]:
    return value if isinstance(value, dict) else ()


def _at(value: Any, key: str) -> Any:
    return value.get(key, _NONE) if isinstance(value, dict) else _NONE


def _same(before: Any, after: Any) -> bool:
    if isinstance(before, float) and isinstance(after, float):
        return math.isclose(before, after, rel_tol=_CLOSE)
    if isinstance(before, dict) and isinstance(after, dict):
        return before.keys() == after.keys() and all(_same(before[k], after[k]) for k in before)
    if isinstance(before, list | tuple) and isinstance(after, list | tuple):
        return len(before) == len(after) and all(map(_same, before, after))
    return bool(before == after)


def _text(value: Any) -> str | None:
    return None if value is _NONE else flow(value)
