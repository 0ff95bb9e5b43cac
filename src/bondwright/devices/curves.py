"""A person's own time-current curve, given by points off the maker's sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType

from bondwright.catalog.sources import Source, Status
from bondwright.devices.band import Edge, Point, TimeBand


@dataclass(frozen=True, slots=True)
class UserCurve:
    """A time-current curve by points.

    Attributes:
        name: what a device calls it by ("curve my relay").
        quick: (current [A], time [s]) of the edge before which the device does not open.
        slow: the same of the edge by which it has opened for sure.

    Raises:
        ValueError: no points, a number that is not positive, a line that turns back, or a quick
            edge that is slower than the slow one; the message names the curve.
    """

    name: str
    quick: tuple[Point, ...]
    slow: tuple[Point, ...]
    _band: TimeBand = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueError("a curve needs a name")
        edges = {}
        for word, given in (("quick", self.quick), ("slow", self.slow)):
            points = _points(given, f"curve {self.name!r}, {word} edge")
            object.__setattr__(self, word, points)
            try:
                edges[word] = Edge(points)
            except ValueError as error:
                raise ValueError(f"curve {self.name!r}, {word} edge: {error}") from error
        try:
            band = TimeBand(
                quick=edges["quick"],
                slow=edges["slow"],
                assumptions=(
                    f"The curve {self.name!r} was given by points; nothing but their order was "
                    "checked. Between them times lie straight on log-log scales, and beyond the "
                    "last point the time stays.",
                ),
                sources=(
                    Source(f"curve {self.name!r}, given by points", "no edition", Status.MEMORY),
                ),
            )
        except ValueError as error:
            raise ValueError(f"curve {self.name!r}: {error}") from error
        object.__setattr__(self, "_band", band)

    @property
    def band(self) -> TimeBand:
        """The time band of the curve."""
        return self._band


def curves_of(
    points: Mapping[str, tuple[Iterable[Point], Iterable[Point]]],
) -> Mapping[str, UserCurve]:
    """Return curves by name, as :func:`bondwright.devices.bands.band` takes them.

    Args:
        points: (quick edge, slow edge) of each curve, points of current [A] and time [s]; the
            ``curves`` of a plan.

    Raises:
        ValueError: a curve can't be one; see :class:`UserCurve`.
    """
    return _curves(tuple((k, tuple(quick), tuple(slow)) for k, (quick, slow) in points.items()))


@lru_cache(maxsize=64)
def _curves(
    points: tuple[tuple[str, tuple[Point, ...], tuple[Point, ...]], ...],
) -> Mapping[str, UserCurve]:
    return MappingProxyType({name: UserCurve(name, quick, slow) for name, quick, slow in points})


def _points(given: Iterable[Iterable[float]], where: str) -> tuple[Point, ...]:
    points = []
    for number, point in enumerate(given, 1):
        values = tuple(float(value) for value in point)
        if len(values) != 2:
            raise ValueError(
                f"{where}: point {number} has {len(values)} numbers; give current, time"
            )
        points.append((values[0], values[1]))
    if not points:
        raise ValueError(f"{where}: has no points; give at least one (current, time)")
    return tuple(points)
