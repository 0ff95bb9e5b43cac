"""Reading a site file: a :class:`~bondwright.site.model.Site`, or everything wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from os import PathLike
from pathlib import Path
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError

from bondwright.site import check, structure
from bondwright.site.amendments import with_files
from bondwright.site.areas import area_problems
from bondwright.site.direct_current import direct_current_problems
from bondwright.site.fields import FROM_FILE
from bondwright.site.model import Area, Array, Curve, DirectCurrent, Electrode, Run, Site
from bondwright.site.shape import Shape, did_you_mean, meant_keys, nearest, shape_at, site_shape
from bondwright.site.site_error import SiteError, SiteProblem
from bondwright.site.source_text import LocPath, SourceText, Unreadable, parse
from bondwright.site.text_file import decode, read_bytes
from bondwright.site.topology import Problem

__all__ = ["SiteError", "SiteProblem", "load", "read"]

_Entry = TypeVar("_Entry", bound=BaseModel)


def load(path: str | PathLike[str]) -> Site:
    """Read a site file.

    Args:
        path: where it is.

    Returns:
        The site it describes.

    Raises:
        SiteError: it can't be opened, is too large, or doesn't describe a site; ``problems``
            lists everything found, each with line and column.
    """
    file = Path(path)
    return validate(parse(decode(read_bytes(file), str(file)), str(file)), file.parent)


def read(text: str, name: str = "<text>") -> Site:
    """Read the text of a site file.

    Args:
        text: YAML.
        name: what messages call it.

    Returns:
        The site it describes.

    Raises:
        SiteError: it doesn't describe a site; ``problems`` lists everything found.
    """
    return validate(parse(text, name))


def validate(source: SourceText, folder: Path | None = None) -> Site:
    """Turn located data into a site.

    Args:
        source: the data.
        folder: where files that it names are looked for; None can't find any.

    Raises:
        SiteError: as for :func:`read`.
    """
    reading = _Reading(source)
    data = reading.cleaned(source.data, site_shape(), ())
    site: Site | None = None
    try:
        site = Site.model_validate(data, context=FROM_FILE)
    except ValidationError as error:
        reading.take(error)
    if site is not None and not reading.problems:
        found: list[Problem] = []
        if folder is not None:
            site, found = with_files(site, folder)
        found += check.problems(site)
    else:
        found = _partial(data, source, broken=reading.silent)
    for problem in found:
        if not reading.covers(problem.loc):
            reading.add(problem.loc, problem.problem, problem.hint, on_key=problem.on_key)
    if reading.problems or site is None:
        raise SiteError(tuple(dict.fromkeys(reading.problems)))
    return site


class _Dropped:
    """Marks a value that was reported and is left out of what goes on."""


_DROPPED: Final = _Dropped()


class _Reading:
    """Collects what is wrong, saying each thing once."""

    def __init__(self, source: SourceText) -> None:
        self.source = source
        self.problems: list[SiteProblem] = list(source.problems)
        self.silent: set[LocPath] = set()

    def add(self, loc: LocPath, problem: str, hint: str, *, on_key: bool = False) -> None:
        self.problems.append(self.source.problem(loc, problem, hint, on_key=on_key))

    def covers(self, loc: LocPath) -> bool:
        """Whether a path, or what it lies in, was reported already."""
        return any(loc[:length] in self.silent for length in range(1, len(loc) + 1))

    def _drop(self, loc: LocPath, problem: str, hint: str, *, on_key: bool = False) -> _Dropped:
        self.add(loc, problem, hint, on_key=on_key)
        self.silent.add(loc)
        return _DROPPED

    # --- before the models: keys, empty values, groups and lists in their places -----------

    def cleaned(self, value: Any, shape: Shape, loc: LocPath) -> Any:
        """Return data with everything left out that the models need not see."""
        if isinstance(value, Unreadable):
            self.silent.add(loc)
            return _DROPPED
        if value is None:
            return self._drop(loc, "has no value", self._fill(shape, loc), on_key=True)
        match shape.kind:
            case "group" | "table":
                if not isinstance(value, dict):
                    return self._misplaced(value, shape, loc)
                if shape.kind == "group":
                    return self._group(value, shape, loc)
                return self._kept({key: (shape.item, (*loc, key)) for key in value}, value)
            case "list":
                if not isinstance(value, list):
                    return self._misplaced(value, shape, loc)
                items = [
                    self.cleaned(item, shape.item or shape, (*loc, index))
                    for index, item in enumerate(value)
                ]
                # Positions must stay what they are in the file, so one bad item drops the list.
                if any(item is _DROPPED for item in items):
                    self.silent.add(loc)
                    return _DROPPED
                return items
            case _:
                if isinstance(value, dict | list):
                    return self._misplaced(value, shape, loc)
                if shape.kind == "number" and isinstance(value, str) and _not_finite(value):
                    hint = self._like(shape, loc)
                    return self._drop(loc, "is not a number a building can have", hint)
                if isinstance(value, str) or (
                    shape.kind in ("number", "whole") and not isinstance(value, bool)
                ):
                    return value
                if shape.kind == "flag":
                    return value
                # A panel may be called 3, and 75 without a unit is best quoted as written.
                return self.source.marks[loc].raw

    def _kept(self, parts: Mapping[str, tuple[Shape | None, LocPath]], value: Any) -> Any:
        result = {}
        for key, (shape, loc) in parts.items():
            if shape is None:
                continue
            new = self.cleaned(value[key], shape, loc)
            if new is not _DROPPED:
                result[key] = new
        return result

    def _group(self, value: dict[str, Any], shape: Shape, loc: LocPath) -> Any:
        for key in value:
            if key not in shape.fields:
                meant = meant_keys(key, shape)
                hint = (
                    did_you_mean(meant) if meant else f"known here are: {', '.join(shape.fields)}"
                )
                self._drop((*loc, key), "is not known here", hint, on_key=True)
                # Written under a wrong name it isn't missing.
                self.silent.update((*loc, name) for name in meant if name not in value)
        known = {key: (shape.fields[key], (*loc, key)) for key in value if key in shape.fields}
        return self._kept(known, value)

    def _misplaced(self, value: Any, shape: Shape, loc: LocPath) -> _Dropped:
        found = (
            "is a group"
            if isinstance(value, dict)
            else "is a list"
            if isinstance(value, list)
            else "is a single value"
        )
        wanted = {
            "group": "a group of 'key: value' lines",
            "table": "a group of names with what each of them is",
            "list": "a list",
        }.get(shape.kind, "a single value")
        return self._drop(loc, f"{found}, but {wanted} belongs here", self._like(shape, loc))

    def _like(self, shape: Shape, loc: LocPath) -> str:
        if loc and isinstance(loc[-1], int):
            return f"write it like '{shape.sample()}'"
        return f"write it like '{loc[-1]}: {shape.sample()}'" if loc else ""

    def _fill(self, shape: Shape, loc: LocPath) -> str:
        if shape.kind == "table":
            return f"write '{loc[-1]}: {{}}' for none, or remove the line"
        return self._like(shape, loc) + ", or remove the line"

    # --- what the models say, in plain words ------------------------------------------------

    def take(self, error: ValidationError) -> None:
        """Report what the models refused."""
        for item in error.errors(include_url=False, include_input=False):
            loc: LocPath = item["loc"]
            context: dict[str, Any] = item.get("ctx", {})
            on_key = bool(loc) and loc[-1] == "[key]"
            if on_key:
                loc = loc[:-1]
            if self.covers(loc):
                continue
            if item["type"] == "missing":
                self._missing(loc)
            else:
                problem, hint = self._plain(item["type"], loc, context, on_key=on_key)
                self.add(loc, problem, hint, on_key=on_key)
            self.silent.add(loc)

    def _missing(self, loc: LocPath) -> None:
        key, parent = str(loc[-1]), loc[:-1]
        shape = shape_at(loc)
        hint = f"add '{key}: {shape.sample()}'" if shape else ""
        if shape and shape.kind == "words":
            hint += f" (one of: {', '.join(shape.words)})"
        if parent:
            problem = self.source.problem(parent, f"lacks {key!r}", hint, on_key=True)
            self.problems.append(replace(problem, loc=loc))
        else:
            self.add(parent, f"the file lacks {key!r}", hint)

    def _plain(
        self, kind: str, loc: LocPath, context: dict[str, Any], *, on_key: bool
    ) -> tuple[str, str]:
        shape = shape_at(loc)
        example = self._like(shape, loc) if shape else ""
        limit = next((context[key] for key in ("gt", "ge", "lt", "le") if key in context), None)
        match kind:
            case "site_value":
                problem: str = context["problem"]
                return (f"is {problem}" if problem.startswith("no ") else problem), context["hint"]
            case "enum" | "literal_error" if shape is not None:
                return "is not one of the words known here", self._words_hint(shape, loc)
            case "greater_than":
                return f"must be more than {limit:g}", example
            case "greater_than_equal":
                return f"must be {limit:g} or more", example
            case "less_than":
                return f"must be less than {limit:g}", example
            case "less_than_equal":
                return f"must be {limit:g} or less", example
            case "int_parsing" | "int_type" | "int_from_float" | "int_parsing_size":
                return "is not a whole number", example
            case "float_parsing" | "float_type" | "finite_number":
                return "is not a number", f"{example}, without a unit"
            case "bool_parsing" | "bool_type":
                return "is neither true nor false", "write true or false"
            case "string_too_short":
                return "is empty", "write a name, or remove the line"
            case "string_too_long":
                return f"is longer than {context['max_length']} characters", "shorten it"
            case "string_pattern_mismatch" | "string_unicode":
                what = "a name" if on_key else "this text"
                return f"holds characters that {what} can't have", "use letters, digits and spaces"
            case "too_short":
                return "is empty", f"give at least one; {example}"
            case "too_long":
                return f"has more than {context['max_length']} items", example
            case _:
                return "can't stand here", example

    def _words_hint(self, shape: Shape, loc: LocPath) -> str:
        words = ", ".join(shape.words)
        entry = self.source.marks.get(loc)
        close = nearest(entry.raw.strip("'\""), shape.words, cutoff=55) if entry else ()
        return (
            f"{did_you_mean(close)} known are: {words}"
            if len(close) == 1
            else f"known are: {words}"
        )


def _not_finite(text: str) -> bool:
    return text.strip().lstrip("+-").casefold() in {"nan", "inf", "infinity"}


# --- a file that is wrong in part ----------------------------------------------------------


def _partial(data: Any, source: SourceText, *, broken: set[LocPath]) -> list[Problem]:
    """Return what can be said of names, runs and electrodes although the whole isn't a site."""
    if not isinstance(data, dict):
        return []
    raw = source.data

    def table(name: str, of: Any) -> dict[str, Any]:
        entries = of.get(name)
        return entries if isinstance(entries, dict) else {}

    # An entry that is wrong inside still has its name.
    ids = {
        name: tuple(table(name, raw)) for name in (*structure.NODE_TABLES, *structure.REFERENCES)
    }
    references: dict[tuple[str, str], dict[str, str | None]] = {}
    for name, keys in structure.REFERENCES.items():
        for entry, value in table(name, data).items():
            if isinstance(value, dict):
                found = {key: value.get(key) for key in keys}
                references[name, entry] = {
                    key: text if isinstance(text, str) else None for key, text in found.items()
                }
    runs = table("runs", data)
    complete = (
        "runs" in raw
        and ("runs",) not in broken
        and set(runs) == set(table("runs", raw))
        and all(references["runs", run]["to"] is not None for run in runs)
        and not any("twice" in problem.problem for problem in source.problems)
    )
    draft = structure.Draft(ids, references, complete)
    # Where a whole table of ids couldn't be read, every reference would seem to dangle.
    readable = not any((name,) in broken for name in structure.NODE_TABLES)

    def sound(name: str, model: type[_Entry]) -> dict[str, _Entry]:
        # Where one value is wrong the others may look as if they contradicted each other.
        hurt = {loc[1] for loc in broken if loc[0] == name and len(loc) > 1}
        whole = {key: value for key, value in table(name, data).items() if key not in hurt}
        return {key: model.model_validate(value, context=FROM_FILE) for key, value in whole.items()}

    return [
        *(structure.structural(draft) if readable else ()),
        *check.local(
            sound("runs", Run),
            sound("electrodes", Electrode),
            sound("curves", Curve),
            sound("arrays", Array),
        ),
        *area_problems(sound("areas", Area)),
        *direct_current_problems(sound("direct current", DirectCurrent)),
    ]
