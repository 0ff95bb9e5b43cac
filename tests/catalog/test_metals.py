"""Pipe, tube, shapes and bars against their published weights."""

from __future__ import annotations

import csv
from importlib.resources import files

import pytest

from bondwright.catalog.metals import (
    MetalForm,
    metal_kinds,
    metal_material,
    metal_shape,
    metal_sizes,
)
from bondwright.catalog.sources import CatalogError, Status
from bondwright.units import FOOT, INCH
from tests.outside import outside, published

POUND = 0.45359237

# kg/m3: copper 8.94, aluminium 2.70, carbon steel 490 lb/ft3 (handbooks).
DENSITY = {
    "copper": 8940.0,
    "water tube copper": 8940.0,
    "aluminium": 2700.0,
    "structural steel": 490 * POUND / FOOT**3,
}


def rows() -> list[dict[str, str]]:
    text = files("bondwright.catalog").joinpath("data", "metal_shapes.csv").read_text("utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@pytest.mark.parametrize(
    "row", [r for r in rows() if r["weight_lb_ft"]], ids=lambda r: f"{r['kind']} {r['size']}"
)
@outside("weights of ASTM, ASME and AISC tables", "memory", unit="lb/ft")
def test_dimensions_give_the_published_weight(row: dict[str, str]) -> None:
    """Area times density is the weight per foot of the standard, within 2.5 %.

    Areas of rolled shapes and pipe are the standard's within rounding; a strand weighs up to
    8 % more than its area says, being twisted and of thin wires (published weights are minima).
    """
    shape = metal_shape(row["kind"], row["size"])
    weight = shape.area * DENSITY[row["material"]] / POUND * FOOT
    strand = shape.form is MetalForm.CABLE
    assert weight == published(float(row["weight_lb_ft"]), rel=0.09 if strand else 0.025)


@pytest.mark.parametrize("row", [r for r in rows() if r["form"] == "i"], ids=lambda r: r["size"])
def test_a_shape_is_its_plates_and_its_name(row: dict[str, str]) -> None:
    """Flanges and web make its area (fillets add up to 5 %); the name holds depth and weight."""
    shape = metal_shape("W shape", row["size"])
    plates = 2 * shape.width * shape.wall + (shape.outside - 2 * shape.wall) * shape.web
    assert 0.95 < plates / shape.area < 1.005
    depth, weight = row["size"].removeprefix("W").split("x")
    assert shape.outside / INCH == pytest.approx(float(depth), abs=0.8)
    assert float(row["weight_lb_ft"]) == float(weight)


@pytest.mark.parametrize("kind", ["copper tube K", "copper tube L", "copper tube M"])
def test_copper_tube_is_an_eighth_over_its_name(kind: str) -> None:
    """ASTM B88: outside diameter 1/8 in over the standard size, of every type."""
    for size, inches in zip(metal_sizes(kind), (0.5, 0.75, 1, 1.25, 1.5, 2), strict=True):
        assert metal_shape(kind, size).outside / INCH == pytest.approx(inches + 0.125)


@pytest.mark.parametrize("kind", metal_kinds())
def test_larger_sizes_conduct_better(kind: str) -> None:
    sizes = [size for size in metal_sizes(kind) if "mm2" not in size]
    if kind == "W shape":
        sizes.sort(key=lambda size: float(size.split("x")[1]))
    resistance = [metal_shape(kind, size).resistance() for size in sizes]
    assert resistance == sorted(resistance, reverse=True)


def test_types_of_copper_tube_differ_by_their_wall() -> None:
    ohms = [metal_shape(f"copper tube {t}", "3/4").resistance() for t in "KLM"]
    assert ohms[0] < ohms[1] < ohms[2]


def test_resistance_follows_temperature() -> None:
    pipe = metal_shape("steel pipe 40", "1")
    assert pipe.resistance(70) / pipe.resistance() == pytest.approx(1 + 0.0045 * 50)


def test_copper_tube_beside_copper_wire() -> None:
    """3/4 in type L water tube has the metal of 150 kcmil, at 85 % of the conductivity."""
    tube = metal_shape("copper tube L", "3/4 in")
    assert tube.area * 1e6 == pytest.approx(75.7, rel=0.01)
    assert tube.resistance() * 1000 * FOOT == pytest.approx(0.0817, rel=0.01)


def test_nothing_is_surer_than_its_material() -> None:
    assert metal_shape("steel pipe 40", "2").source.status is Status.MEMORY
    assert metal_shape("copper tube L", "2").source.status is Status.ONE_SOURCE


@pytest.mark.parametrize(
    ("kind", "size", "hint"), [("brass pipe", "1", "copper tube K"), ("W shape", "W9x9", "W8x31")]
)
def test_what_is_not_known_names_what_is(kind: str, size: str, hint: str) -> None:
    with pytest.raises(CatalogError) as caught:
        metal_shape(kind, size)
    assert hint in str(caught.value)


def test_an_unknown_material() -> None:
    with pytest.raises(CatalogError, match="ductile iron"):
        metal_material("unobtainium")
