"""Single numbers of the NEC rules (caps, limits, minima), by edition.

The rules layer decides when a number applies; this module only says what it is, in which clause
it stands and how surely it is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import Any, Final

from bondwright.catalog._data import read_text
from bondwright.catalog.sizes import Material, Size, limit_size
from bondwright.catalog.sources import CatalogError, Source, Status
from bondwright.units import Dimension, parse

EDITIONS: Final = (2017, 2020, 2023)


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number of a rule in one edition.

    Attributes:
        id: our name for it, such as "rod-resistance".
        clause: where the edition has it.
        edition: year.
        status: how surely it is known.
        note: doubts and remarks; empty if none.
        value: the number in the canonical unit of its dimension, or None.
        dimension: what ``value`` measures; None for a count, a year or an angle in degrees.
        sizes: conductor sizes by metal; empty if it is not a size.
        choice: the word for the form of the rule, or None.
        absent: True where the edition has no such rule; it then has no number either.
    """

    id: str
    clause: str
    edition: int
    status: Status
    note: str = ""
    value: float | None = None
    dimension: Dimension | None = None
    sizes: tuple[tuple[Material, Size], ...] = ()
    choice: str | None = None
    absent: bool = False

    @property
    def number(self) -> float:
        """The value, where there must be one.

        Raises:
            CatalogError: this parameter is not a number, or absent in the edition.
        """
        if self.value is None:
            raise CatalogError(self.id, f"has no number in the {self.edition} edition")
        return self.value

    def size(self, material: Material) -> Size:
        """Return the size for a metal.

        Raises:
            CatalogError: none for that metal, or absent in the edition.
        """
        for known, size in self.sizes:
            if known is material:
                return size
        problem = f"has no {material.value} size in the {self.edition} edition"
        metals = ", ".join(known.value for known, _ in self.sizes)
        raise CatalogError(self.id, problem, f"given for {metals}" if metals else None)

    @property
    def source(self) -> Source:
        """Where the number stands."""
        return Source(f"NFPA 70 (NEC) {self.clause}", str(self.edition), self.status, self.note)


@dataclass(frozen=True, slots=True)
class Override:
    """What a local authority puts in place of a rule's number.

    Attributes:
        value: as for :class:`Parameter`.
        sizes: as for :class:`Parameter`; metals that are not named keep the code's size.
        choice: as for :class:`Parameter`.
        absent: as for :class:`Parameter`.
    """

    value: float | None = None
    sizes: tuple[tuple[Material, Size], ...] = ()
    choice: str | None = None
    absent: bool = False

    def on(self, parameter: Parameter) -> Parameter:
        """Return a parameter with this in place of its number.

        It is as sure as the one paper of the authority that it was taken from.
        """
        named = {metal for metal, _ in self.sizes}
        kept = tuple(pair for pair in parameter.sizes if pair[0] not in named)
        return replace(
            parameter,
            value=self.value,
            sizes=() if self.absent else (*self.sizes, *kept),
            choice=self.choice,
            absent=self.absent,
            status=Status.ONE_SOURCE,
        )


_NONE: Final[Mapping[str, Override]] = MappingProxyType({})
# A context variable, so that sites planned at once in several threads keep theirs apart.
_IN_FORCE: ContextVar[Mapping[str, Override]] = ContextVar("overrides in force", default=_NONE)


@contextmanager
def in_force(overrides: Mapping[str, Override]) -> Iterator[None]:
    """Let overrides hold for every :func:`rule_parameter` asked inside the block.

    Args:
        overrides: by the parameter's id; they replace those of an outer block.
    """
    token = _IN_FORCE.set(MappingProxyType(dict(overrides)))
    try:
        yield
    finally:
        _IN_FORCE.reset(token)


def rule_parameter(
    id: str, edition: int, overrides: Mapping[str, Override] | None = None
) -> Parameter:
    """Return a rule's number in an edition.

    Args:
        id: name, one of :func:`parameter_ids`.
        edition: one of ``EDITIONS``.
        overrides: what a local authority puts in place, by id; None takes what is
            :func:`in_force`, an empty mapping the code alone.

    Raises:
        CatalogError: no such name (the hint has the nearest) or no such edition.
    """
    if edition not in EDITIONS:
        years = ", ".join(str(year) for year in EDITIONS)
        raise CatalogError(str(edition), "no such edition of the NEC here", f"there are {years}")
    if (found := _parameters().get((id, edition))) is not None:
        local = (_IN_FORCE.get() if overrides is None else overrides).get(id)
        return found if local is None else local.on(found)
    from rapidfuzz import process  # only a wrong name needs it

    close = process.extractOne(id, parameter_ids(), score_cutoff=50)
    raise CatalogError(id, "no such parameter", f"nearest is {close[0]!r}" if close else None)


@cache
def parameter_ids() -> tuple[str, ...]:
    """Return every parameter name, in the order of the data file."""
    return tuple(dict.fromkeys(id for id, _ in _parameters()))


@cache
def _parameters() -> Mapping[tuple[str, int], Parameter]:
    import yaml  # kept out of the catalog's import, which the command line waits for

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    document = yaml.load(read_text("nec_parameters.yaml"), Loader=loader)
    known: dict[tuple[str, int], Parameter] = {}
    for id, entries in document["parameters"].items():
        for entry in entries:
            for edition in entry["editions"]:
                if (id, edition) in known:
                    raise CatalogError(id, f"stands twice for {edition} in the data file")
                known[id, edition] = _read(id, edition, entry)
    return known


def _read(id: str, edition: int, entry: Mapping[str, Any]) -> Parameter:
    dimension = Dimension(entry["of"]) if "of" in entry else None
    raw = entry.get("value")
    value = None
    if raw is not None:
        value = float(raw) if dimension is None else parse(str(raw), dimension)
    sizes = tuple(
        (Material(metal), limit_size(name)) for metal, name in entry.get("sizes", {}).items()
    )
    return Parameter(
        id=id,
        clause=entry["clause"],
        edition=edition,
        status=Status(entry["status"]),
        note=entry.get("note", ""),
        value=value,
        dimension=dimension,
        sizes=sizes,
        choice=entry.get("choice"),
        absent=entry.get("absent", False),
    )
