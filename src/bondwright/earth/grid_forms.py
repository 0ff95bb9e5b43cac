"""Simplified formulas of IEEE Std 80 for grids: resistance, mesh and step voltage, uniform soil.

The mesh and step formulas hold for grids of a few to some tens of parallel conductors, 0.25 m to
2.5 m deep; :mod:`bondwright.earth.surface` computes the same voltages by the real geometry, and the
two differ by several percent either way (see docs/earth.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bondwright.earth.soil import check_positive


@dataclass(frozen=True, slots=True)
class GridShape:
    """A grid as IEEE Std 80 describes it.

    Attributes:
        horizontal_m: length of all level conductors [m].
        perimeter_m: [m].
        area_m2: covered area [m2].
        size_m: greatest lengths along x and y [m].
        spacing_m: between parallel conductors [m].
        depth_m: [m].
        wire_diameter_m: [m].
        rods: number of rods.
        rod_m: length of each [m].
        widest_m: greatest distance between two points of the grid [m]; None for squares and
            rectangles.
        rods_at_edge: whether rods stand at the perimeter or corners.

    Raises:
        ValueError: a number that is not positive, or rods without length.
    """

    horizontal_m: float
    perimeter_m: float
    area_m2: float
    size_m: tuple[float, float]
    spacing_m: float
    depth_m: float
    wire_diameter_m: float
    rods: int = 0
    rod_m: float = 0.0
    widest_m: float | None = None
    rods_at_edge: bool = True

    def __post_init__(self) -> None:
        for value in (
            self.horizontal_m, self.perimeter_m, self.area_m2, *self.size_m, self.spacing_m,
            self.depth_m, self.wire_diameter_m,
        ):  # fmt: skip
            check_positive(value, "measure of a grid")
        if self.rods < 0 or (self.rods and not self.rod_m > 0):
            raise ValueError(f"{self.rods} rods of {self.rod_m} m are not possible")

    @property
    def rod_total_m(self) -> float:
        """Length of all rods, m."""
        return self.rods * self.rod_m

    @property
    def parallels(self) -> float:
        """Effective number n of parallel conductors in a direction."""
        x, y = self.size_m
        base = 2 * self.horizontal_m / self.perimeter_m
        square = math.sqrt(self.perimeter_m / (4 * math.sqrt(self.area_m2)))
        rectangle = math.pow(x * y / self.area_m2, 0.7 * self.area_m2 / (x * y))
        odd = 1.0
        if self.widest_m is not None:
            odd = self.widest_m / math.hypot(x, y)
        return base * square * rectangle * odd

    @property
    def irregularity(self) -> float:
        """Factor Ki, ``0.644 + 0.148 n``."""
        return 0.644 + 0.148 * self.parallels


def grid_resistance_laurent(rho_ohm_m: float, shape: GridShape) -> float:
    """Return the resistance by P. G. Laurent and J. Niemann [ohm]."""
    check_positive(rho_ohm_m, "soil resistivity")
    total = shape.horizontal_m + shape.rod_total_m
    return rho_ohm_m / 4 * math.sqrt(math.pi / shape.area_m2) + rho_ohm_m / total


def grid_resistance_sverak(rho_ohm_m: float, shape: GridShape) -> float:
    """Return the resistance by J. G. Sverak (1984), IEEE Std 80 [ohm]."""
    check_positive(rho_ohm_m, "soil resistivity")
    total = shape.horizontal_m + shape.rod_total_m
    depth = shape.depth_m * math.sqrt(20 / shape.area_m2)
    return rho_ohm_m * (1 / total + 1 / math.sqrt(20 * shape.area_m2) * (1 + 1 / (1 + depth)))


@dataclass(frozen=True, slots=True)
class SchwarzParts:
    """S. J. Schwarz (1954): grid, rods and what they take from each other.

    Attributes:
        grid_ohm: grid alone [ohm].
        rods_ohm: rods alone [ohm].
        mutual_ohm: [ohm].
        resistance_ohm: together [ohm].
    """

    grid_ohm: float
    rods_ohm: float
    mutual_ohm: float
    resistance_ohm: float


def grid_resistance_schwarz(
    rho_ohm_m: float, shape: GridShape, rod_diameter_m: float
) -> SchwarzParts:
    """Return the resistance of a grid with rods by Schwarz' formulas (from memory) [ohm].

    The coefficients are the straight lines of IEEE Std 80 for depths up to a tenth of the root
    of the area.

    Raises:
        ValueError: a grid without rods, or an impossible number.
    """
    check_positive(rho_ohm_m, "soil resistivity")
    check_positive(rod_diameter_m, "rod diameter")
    if not shape.rods:
        raise ValueError("Schwarz' formula is for a grid with rods")
    root = math.sqrt(shape.area_m2)
    ratio = max(shape.size_m) / min(shape.size_m)
    lower, upper = (-0.05 * ratio + 1.20, 0.10 * ratio + 4.68)
    if shape.depth_m > root / 20:
        lower, upper = (-0.05 * ratio + 1.13, -0.05 * ratio + 4.40)
    length = shape.horizontal_m
    a = math.sqrt(shape.wire_diameter_m / 2 * 2 * shape.depth_m)
    own = rho_ohm_m / (math.pi * length)
    grid = own * (math.log(2 * length / a) + lower * length / root - upper)
    rod_own = rho_ohm_m / (2 * math.pi * shape.rods * shape.rod_m)
    crowd = 2 * lower * shape.rod_m / root * (math.sqrt(shape.rods) - 1) ** 2
    rods = rod_own * (math.log(8 * shape.rod_m / rod_diameter_m) - 1 + crowd)
    mutual = own * (math.log(2 * length / shape.rod_m) + lower * length / root - upper + 1)
    total = (grid * rods - mutual**2) / (grid + rods - 2 * mutual)
    return SchwarzParts(grid, rods, mutual, total)


def mesh_voltage(rho_ohm_m: float, shape: GridShape, grid_current_a: float) -> float:
    """Return the mesh (touch) voltage of IEEE Std 80's simplified formula [V].

    Args:
        rho_ohm_m: soil resistivity, ohm m.
        shape: the grid.
        grid_current_a: current from the grid into the earth, A.
    """
    check_positive(rho_ohm_m, "soil resistivity")
    length = shape.horizontal_m + shape.rod_total_m
    if shape.rods and shape.rods_at_edge:
        reach = 1.55 + 1.22 * shape.rod_m / math.hypot(*shape.size_m)
        length = shape.horizontal_m + reach * shape.rod_total_m
    return rho_ohm_m * mesh_factor(shape) * shape.irregularity * grid_current_a / length


def mesh_factor(shape: GridShape) -> float:
    """Return the geometrical factor Km."""
    d, h, gap, n = shape.wire_diameter_m, shape.depth_m, shape.spacing_m, shape.parallels
    inner = 1.0 if shape.rods and shape.rods_at_edge else math.pow(2 * n, -2 / n)
    first = gap**2 / (16 * h * d) + (gap + 2 * h) ** 2 / (8 * gap * d) - h / (4 * d)
    second = inner / math.sqrt(1 + h) * math.log(8 / (math.pi * (2 * n - 1)))
    return (math.log(first) + second) / (2 * math.pi)


def step_voltage(rho_ohm_m: float, shape: GridShape, grid_current_a: float) -> float:
    """Return the step voltage of IEEE Std 80's simplified formula [V]."""
    check_positive(rho_ohm_m, "soil resistivity")
    h, gap, n = shape.depth_m, shape.spacing_m, shape.parallels
    factor = (1 / (2 * h) + 1 / (gap + h) + (1 - math.pow(0.5, n - 2)) / gap) / math.pi
    length = 0.75 * shape.horizontal_m + 0.85 * shape.rod_total_m
    return rho_ohm_m * factor * shape.irregularity * grid_current_a / length
