"""Local amendments of a site: reading the files they stand in, and what can't stand in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from bondwright.catalog.amendments import read_override
from bondwright.catalog.parameters import EDITIONS, Override, Parameter, rule_parameter
from bondwright.site.model import Amendment, Site
from bondwright.site.site_error import SiteError
from bondwright.site.source_text import parse
from bondwright.site.text_file import decode, read_bytes
from bondwright.site.topology import Problem
from bondwright.units import UnitError

_KEYS = ("authority", "reference", "date", "values")


def code_year(rules: str) -> int | None:
    """Return the edition of a rule set whose numbers can be amended here, or None."""
    family, _, year = rules.rpartition("-")
    return int(year) if family == "nec" and year.isdigit() and int(year) in EDITIONS else None


def amendment_problems(site: Site) -> Iterator[Problem]:
    """Yield everything in the amendments of a site that can't stand.

    Args:
        site: the site; amendments in files have been read (:func:`with_files`).
    """
    year = code_year(site.rules)
    taken: dict[str, str] = {}
    for name, amendment in site.amendments.items():
        if amendment.file is not None:
            problem = "is in a file of its own, which is found only from a site file on disk"
            yield Problem(("amendments", name, "file"), problem, "write the amendment in its place")
            continue
        if year is None:
            problem = f"amends numbers of {site.rules}, and only those of the NEC are known here"
            yield Problem(("amendments", name), problem, "remove it", on_key=True)
            continue
        for id, text in amendment.values.items():
            loc = ("amendments", name, "values", id)
            if id in taken:
                problem = f"is amended by {taken[id]!r} already"
                yield Problem(loc, problem, "keep the one in force", on_key=True)
                continue
            taken[id] = name
            try:
                read_override(id, text, year)
            except UnitError as error:
                known = error.problem != "is no parameter of the rules"
                yield Problem(loc, error.problem, error.hint or "", on_key=not known)


def overrides(site: Site) -> Mapping[str, Override]:
    """Return what the amendments of a sound site put in place, by parameter."""
    year = code_year(site.rules)
    if year is None:
        return MappingProxyType({})
    return MappingProxyType(
        {
            id: read_override(id, text, year)
            for amendment in site.amendments.values()
            for id, text in amendment.values.items()
        }
    )


def amended(site: Site, id: str) -> tuple[Amendment, Parameter, Parameter]:
    """Return the amendment of a parameter, what the code has, and what holds on the site.

    Raises:
        KeyError: nothing amends it.
    """
    year = code_year(site.rules)
    for amendment in site.amendments.values():
        if year is not None and id in amendment.values:
            code = rule_parameter(id, year, {})
            return amendment, code, read_override(id, amendment.values[id], year).on(code)
    raise KeyError(id)


def with_files(site: Site, folder: Path) -> tuple[Site, list[Problem]]:
    """Return a site with the amendments that stand in files read into it.

    Args:
        site: as its file describes it.
        folder: folder of the site file; the files are looked for beside it.

    Returns:
        The site, and what is wrong with the files.
    """
    found: dict[str, Amendment] = {}
    wrong: list[Problem] = []
    for name, amendment in site.amendments.items():
        if amendment.file is None:
            found[name] = amendment
            continue
        loc = ("amendments", name, "file")
        try:
            found[name] = _read(folder, amendment.file)
        except ValueError as error:
            wrong.append(Problem(loc, str(error), _HINT))
    return site.model_copy(update={"amendments": found}), wrong


_HINT = (
    "the file has 'authority', 'reference', 'date' and 'values', a group of parameter names with "
    "what is put in place"
)


def named_files(text: str) -> tuple[str, ...]:
    """Return the files of amendments that the text of a sound site file names.

    Raises:
        SiteError: the text can't be read.
    """
    data: Any = parse(text, "<text>").data
    entries = data.get("amendments") or {}
    return tuple(str(entry["file"]) for entry in entries.values() if "file" in entry)


def _read(folder: Path, file: str) -> Amendment:
    """Read one file of amendments.

    Raises:
        ValueError: with what is wrong, as a clause.
    """
    path = Path(file)
    if path.is_absolute() or ".." in path.parts:
        raise ValueError("leads out of the folder of the site file")
    try:
        data: Any = parse(decode(read_bytes(folder / path), file), file).data
    except SiteError as error:
        first = error.problems[0]
        raise ValueError(f"can't be used: line {first.line}: {first.problem}") from error
    if not isinstance(data, dict) or not isinstance(data.get("values"), dict):
        raise ValueError("holds no group of 'values'")
    for key in data:
        if key not in _KEYS:
            raise ValueError(f"has {key!r}, which is not known there")
    texts: dict[str, Any] = {key: str(data.get(key, "")) for key in _KEYS if key != "values"}
    texts["values"] = {str(id): str(value) for id, value in data["values"].items()}
    try:
        return Amendment.model_validate(texts)
    except ValidationError as error:
        keys = sorted({str(item["loc"][0]) if item["loc"] else "values" for item in error.errors()})
        raise ValueError(f"has no good {' and no good '.join(keys)}") from error
