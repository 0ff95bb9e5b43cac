"""Electrodes by the formulas of the literature, without a site file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import click

from bondwright.cli.common import json_option, plain_errors
from bondwright.cli.quick import _show_numbers

_NEEDS: Final = {
    "wire": ("length", "diameter", "depth"),
    "strip": ("length", "width", "depth"),
    "ring": ("across", "diameter", "depth"),
    "plate": ("across", "depth"),
    "footing": ("length", "diameter", "concrete"),
    "grid": ("length", "width", "meshes", "depth", "diameter"),
}
"""Measures that each kind takes."""
_SAMPLES: Final = {
    "length": "10 m", "diameter": "8 mm", "depth": "0.8 m", "width": "30 mm", "across": "6 m",
    "concrete": "0.3 m",
}  # fmt: skip
_THIN: Final = 0.1
"""Thickness of a strip over its width; the formula hardly feels it."""
_CONCRETE_OHM_M: Final = 60.0


@click.command()
@click.argument("kind", type=click.Choice(list(_NEEDS)))
@click.option("--soil", required=True, help="Soil resistivity, like '100 ohm m'.")
@click.option("--length", help="Length of a wire, strip or footing; of a grid along one side.")
@click.option("--width", help="Width of a strip; of a grid along the other side.")
@click.option("--across", help="Diameter of a ring or of a round plate.")
@click.option("--diameter", help="Diameter of the wire, or of a footing's bar.")
@click.option("--depth", help="Depth of the wire, or of a plate's middle.")
@click.option("--concrete", help="Diameter of the concrete around a footing's bar.")
@click.option("--meshes", type=click.IntRange(1, 200), nargs=2, help="Meshes of a grid each way.")
@click.option("--upright", is_flag=True, help="A plate that stands.")
@json_option
@plain_errors
def electrode(
    kind: str,
    soil: str,
    meshes: tuple[int, int] | None,
    upright: bool,
    as_json: bool,
    **given: str | None,
) -> None:
    """Work out one electrode by a formula, in uniform soil.

    For layers, several electrodes or any other shape see 'bondwright earth ground'.
    """
    from bondwright.units import Dimension, parse, show

    values: dict[str, Any] = {"upright": upright, "meshes": meshes}
    for name in _NEEDS[kind]:
        if name == "meshes":
            if meshes is None:
                raise click.UsageError("a grid needs --meshes, like '--meshes 4 4'")
            continue
        text = given[name]
        if text is None:
            raise click.UsageError(f"a {kind} needs --{name}, like '{_SAMPLES[name]}'")
        values[name] = parse(text, Dimension.LENGTH)
    extra = [name for name, text in given.items() if text is not None and name not in _NEEDS[kind]]
    if extra:
        raise click.UsageError(f"--{extra[0]} doesn't belong to a {kind}")
    rho = parse(soil, Dimension.RESISTIVITY)
    ohms, source = _FORMULAS[kind](rho, values)
    because = (
        f"{source}, uniform soil of {show(rho, Dimension.RESISTIVITY)}.",
        "Formulas let the current out evenly and are a little high; the segment method of "
        "'bondwright earth ground' doesn't, and knows layers and neighbours.",
        "Real soil is layered and changes with the seasons: measure the installed electrode. "
        "However low its resistance, earth is no path that opens a breaker.",
    )
    numbers: dict[str, object] = {"kind": kind, "resistance_ohm": ohms, "source": source}
    _show_numbers(show(ohms, Dimension.RESISTANCE), numbers, because, "uniform soil", as_json)


def _wire(rho: float, v: dict[str, Any]) -> tuple[float, str]:
    from bondwright.earth.closed_forms import buried_straight_wire

    ohms = buried_straight_wire(rho, v["length"], v["diameter"] / 2, v["depth"])
    return ohms, "Straight buried wire, H. B. Dwight 1936"


def _strip(rho: float, v: dict[str, Any]) -> tuple[float, str]:
    from bondwright.earth.closed_forms import buried_strip

    ohms = buried_strip(rho, v["length"], v["width"], _THIN * v["width"], v["depth"])
    return ohms, "Straight buried strip, H. B. Dwight 1936"


def _ring(rho: float, v: dict[str, Any]) -> tuple[float, str]:
    from bondwright.earth.closed_forms import ring_of_wire

    ohms = ring_of_wire(rho, v["across"], v["diameter"], v["depth"])
    return ohms, "Ring of wire, H. B. Dwight 1936"


def _plate(rho: float, v: dict[str, Any]) -> tuple[float, str]:
    from bondwright.earth.closed_forms import round_plate

    ohms = round_plate(rho, v["across"] / 2, v["depth"], upright=v["upright"])
    return ohms, f"Round plate, {'upright' if v['upright'] else 'level'}, H. B. Dwight 1936"


def _footing(rho: float, v: dict[str, Any]) -> tuple[float, str]:
    from bondwright.earth.closed_forms import encased_rod

    ohms = encased_rod(rho, _CONCRETE_OHM_M, v["length"], v["diameter"], v["concrete"])
    return ohms, (
        f"Upright bar in concrete of {_CONCRETE_OHM_M:g} ohm m, IEEE Std 80 and 142 (from memory)"
    )


def _grid(rho: float, v: dict[str, Any]) -> tuple[float, str]:
    from bondwright.earth.grid_forms import GridShape, grid_resistance_sverak

    x, y, (across, up) = v["length"], v["width"], v["meshes"]
    shape = GridShape(
        horizontal_m=(up + 1) * x + (across + 1) * y,
        perimeter_m=2 * (x + y),
        area_m2=x * y,
        size_m=(x, y),
        spacing_m=max(x / across, y / up),
        depth_m=v["depth"],
        wire_diameter_m=v["diameter"],
    )
    return grid_resistance_sverak(rho, shape), "Grid, J. G. Sverak 1984 (IEEE Std 80)"


_FORMULAS: Final[dict[str, Callable[[float, dict[str, Any]], tuple[float, str]]]] = {
    "wire": _wire,
    "strip": _strip,
    "ring": _ring,
    "plate": _plate,
    "footing": _footing,
    "grid": _grid,
}
