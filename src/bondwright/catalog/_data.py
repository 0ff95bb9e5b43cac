"""Reading the catalog's own data files."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from bondwright.catalog.sources import Source, Status


@dataclass(frozen=True, slots=True)
class Table:
    """A data file as read, all text.

    Attributes:
        title: publication and table.
        edition: years.
        doubt: what is doubtful about the whole file; goes with every row.
        rows: by column name.
    """

    title: str
    edition: str
    doubt: str
    rows: tuple[Mapping[str, str], ...]

    def source(self, status: str | Status, note: str = "") -> Source:
        """Return the file's source with the status of one row or cell."""
        notes = "; ".join(part for part in (note, self.doubt) if part)
        return Source(self.title, self.edition, Status(status), notes)


def read_text(name: str) -> str:
    """Return the text of a data file that ships with the package."""
    return files("bondwright.catalog").joinpath("data", name).read_text(encoding="utf-8")


def load_yaml(text: str) -> Any:
    """Return what a YAML file of ours says, by libyaml where it is there, which is quicker."""
    import yaml  # tables alone don't need it

    return yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))


@cache
def read_table(name: str) -> Table:
    """Read a CSV data file with its ``# key: text`` header lines.

    Keys: source, edition, status, doubt (travels with every row) and note (for who reads the
    file). A column ``note`` holds the doubt about one row.
    """
    head: dict[str, list[str]] = {}
    body: list[str] = []
    for line in read_text(name).splitlines():
        if line.startswith("#"):
            key, _, text = line[1:].strip().partition(": ")
            head.setdefault(key, []).append(text)
        elif line:
            body.append(line)
    rows = tuple(MappingProxyType(row) for row in csv.DictReader(body))
    return Table(
        title=head["source"][0],
        edition=head["edition"][0],
        doubt="; ".join(head.get("doubt", [])),
        rows=rows,
    )
