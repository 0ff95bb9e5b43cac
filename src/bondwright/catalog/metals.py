"""Metal that is not wiring: pipe, tube, structural shapes, bars, ducts, down conductors.

Dimensions are nominal ones of the product standards; resistivities are typical ones. Joints are
not in here: a threaded, soldered or welded joint is taken as metal, and a push-on joint, a
gasket, a dielectric union or a flexible connector may conduct nothing at all.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from bondwright.catalog._data import read_table
from bondwright.catalog.sources import CatalogError, Source, Status
from bondwright.units import INCH


class MetalForm(StrEnum):
    """What a cross-section looks like."""

    TUBE = "tube"
    BAR = "bar"
    CABLE = "cable"
    I_SHAPE = "i"
    BOX = "box"


@dataclass(frozen=True, slots=True)
class MetalMaterial:
    """What metal is made of.

    Attributes:
        name: such as "ductile iron".
        resistivity: at 20 degC, ohm m.
        alpha: temperature coefficient of resistance referred to 20 degC, 1/K.
        permeability: relative, at weak fields; None where the magnetisation curve of
            low-carbon steel tells it.
        source: of the numbers.
    """

    name: str
    resistivity: float
    alpha: float
    permeability: float | None
    source: Source


@dataclass(frozen=True, slots=True)
class MetalShape:
    """One product of the metal trades.

    Attributes:
        kind: such as "copper tube L".
        size: such as "3/4"; a name, not a measure.
        form: the cross-section.
        material: what it is made of.
        outside: outside diameter, or the depth of a shape or box, m; of a cable, the diameter
            of a solid round of its area.
        width: of a shape or box, m; 0 for round metal.
        wall: of a tube or box, or a shape's flange, m; 0 for bars and cables.
        web: of a shape, m; else 0.
        area: of the metal, m2.
        source: of the dimensions.
    """

    kind: str
    size: str
    form: MetalForm
    material: MetalMaterial
    outside: float
    width: float
    wall: float
    web: float
    area: float
    source: Source

    def resistance(self, temperature: float = 20.0) -> float:
        """Return the direct-current resistance, ohm/m, at a temperature in degC."""
        metal = self.material
        return metal.resistivity * (1 + metal.alpha * (temperature - 20)) / self.area


def metal_kinds() -> tuple[str, ...]:
    """Return the kinds of metal there are data for."""
    return tuple(dict.fromkeys(kind for kind, _ in _shapes()))


def metal_sizes(kind: str) -> tuple[str, ...]:
    """Return the sizes of a kind.

    Raises:
        CatalogError: no such kind.
    """
    sizes = tuple(size for one, size in _shapes() if one == kind)
    if not sizes:
        raise CatalogError(kind, "is no kind of metal known here", _choices(metal_kinds()))
    return sizes


def metal_shape(kind: str, size: str) -> MetalShape:
    """Return a product by kind and size.

    Args:
        kind: one of :func:`metal_kinds`.
        size: one of :func:`metal_sizes`; an inch mark or "in" after a pipe size is allowed.

    Raises:
        CatalogError: no such kind, or no such size of it.
    """
    sizes = metal_sizes(kind)
    wanted = size.strip()
    for name in (wanted, wanted.removesuffix('"').removesuffix("in").strip()):
        if name in sizes:
            return _shapes()[kind, name]
    raise CatalogError(size, f"is no size of {kind} known here", _choices(sizes))


def metal_material(name: str) -> MetalMaterial:
    """Return a material.

    Raises:
        CatalogError: no such material.
    """
    known = _materials()
    if name not in known:
        raise CatalogError(name, "is no material known here", _choices(tuple(known)))
    return known[name]


def _choices(names: tuple[str, ...]) -> str:
    return "known are " + ", ".join(names)


@cache
def _materials() -> Mapping[str, MetalMaterial]:
    table = read_table("metal_materials.csv")
    return {
        row["material"]: MetalMaterial(
            row["material"],
            float(row["resistivity_ohm_m"]),
            float(row["alpha_per_k"]),
            float(row["permeability"]) or None,
            table.source(row["status"], row["note"]),
        )
        for row in table.rows
    }


@cache
def _shapes() -> Mapping[tuple[str, str], MetalShape]:
    table = read_table("metal_shapes.csv")
    return {(row["kind"], row["size"]): _shape(row) for row in table.rows}


def _shape(row: Mapping[str, str]) -> MetalShape:
    form = MetalForm(row["form"])
    material = metal_material(row["material"])
    outside, width, wall, web = (
        float(row[column] or 0) * INCH for column in ("outside_in", "width_in", "wall_in", "web_in")
    )
    match form:
        case MetalForm.TUBE:
            area = math.pi * wall * (outside - wall)
        case MetalForm.BAR:
            area = math.pi / 4 * outside**2
        case MetalForm.BOX:
            area = 2 * wall * (outside + width - 2 * wall)
        case _:
            area = float(row["area_in2"]) * INCH**2
    if form is MetalForm.CABLE:
        outside = math.sqrt(4 * area / math.pi)
    status = Status.least_sure(Status(row["status"]), material.source.status)
    source = read_table("metal_shapes.csv").source(status, row["note"])
    return MetalShape(
        row["kind"], row["size"], form, material, outside, width, wall, web, area, source
    )
