"""The foot of the picture: pipes and steel as ribbons, the earth as a band, electrodes in it.

A lead goes straight down from its place to the foot where nothing stands in its way. Where
something does, the place and the thing in the foot carry the same short name instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bondwright.draw.content import SMALL, Currents, Line, amperes, us, widest
from bondwright.draw.lettering import fit
from bondwright.draw.ways import Rect, Ways
from bondwright.explain.dialect import purpose_short, speaker
from bondwright.plan.model import Plan, Purpose
from bondwright.site.model import ElectrodeKind
from bondwright.units import Dimension, show

MOST_LEADS: Final = 6
"""More leads from one place than this are told by short names only."""
_COLUMN: Final = 64.0
_CLEAR: Final = 5.0
_PIPE_ROW: Final = 34.0
_EARTH_ROW: Final = 50.0


@dataclass(frozen=True, slots=True)
class Buried:
    """An electrode, or the supply's own grounding.

    Attributes:
        id: of the electrode or the source.
        tag: its short name.
        at: the place.
        kind: what it is; None for the supply's.
        joined: whether it has a conductor.
        lines: what is written.
        index: number of its lead at the place, or None without a lead of its own.
    """

    id: str
    tag: str
    at: str
    kind: ElectrodeKind | None
    joined: bool
    lines: tuple[Line, ...]
    index: int | None


@dataclass(frozen=True, slots=True)
class Pipe:
    """A pipe, steel or other metal between two places, with the number of its lead at each."""

    id: str
    tag: str
    ends: tuple[str, str]
    indices: tuple[int | None, int | None]
    text: Line


@dataclass(frozen=True, slots=True)
class FootItems:
    """All that belongs along the foot, and how many leads each place needs."""

    buried: tuple[Buried, ...]
    pipes: tuple[Pipe, ...]
    leads: dict[str, int]


def foot_items(plan: Plan, now: Currents | None, *, direct: bool) -> FootItems:
    """Gather what belongs along the foot.

    Args:
        plan: the plan.
        now: currents to be told, or None.
        direct: whether leads may go down from the places.
    """
    wanted: dict[str, int] = {}
    for electrode in plan.electrodes.values():
        wanted[electrode.at] = wanted.get(electrode.at, 0) + 1
    for item in plan.site.metal.values():
        for end in (item.from_, item.to):
            wanted[end] = wanted.get(end, 0) + 1
    for name, source in plan.site.sources.items():
        if source.electrode is not None:
            wanted[name] = wanted.get(name, 0) + 1
    given: dict[str, int] = {}

    def lead(place: str) -> int | None:
        if not direct or wanted[place] > MOST_LEADS:
            return None
        given[place] = given.get(place, 0) + 1
        return given[place] - 1

    pipes = []
    unit = "us" if us(plan) else "metric"
    for number, (name, item) in enumerate(plan.site.metal.items(), start=1):
        length = show(item.length, Dimension.LENGTH, "us" if unit == "us" else "metric")
        text = f"P{number} {name} · {item.kind.value} · {length}"
        if now is not None and name in now.metal:
            text += f" · {amperes(now.metal[name])}"
        ends = (item.from_, item.to)
        indices = (lead(item.from_), lead(item.to))
        line = Line(text, key=f"metal {name}")
        pipes.append(Pipe(name, f"P{number}", ends, indices, line))
    buried = []
    say = speaker(plan.site)
    short = purpose_short(Purpose.ELECTRODE_CONDUCTOR, plan.site.rules)
    for name, source in plan.site.sources.items():
        if source.electrode is not None:
            ohms = show(source.electrode, Dimension.RESISTANCE)
            told = (Line(name, True), Line(say(f"supply's own grounding · {ohms}")))
            buried.append(Buried(name, "S", name, None, True, told, lead(name)))
    for number, electrode in enumerate(plan.electrodes.values(), start=1):
        ohms = show(electrode.resistance, Dimension.RESISTANCE)
        first = Line(f"E{number} {electrode.id}", True)
        words = f"{electrode.kind.value} · {ohms}"
        if now is not None and electrode.id in now.electrodes:
            words += f" · {amperes(now.electrodes[electrode.id])}"
        joined = electrode.conductor is not None
        wire = f"{short} {electrode.conductor}" if joined else "not joined"
        lines = (
            first,
            Line(words, key=f"electrode {electrode.id}"),
            Line(f"{wire} · at {electrode.at}"),
        )
        buried.append(
            Buried(
                electrode.id,
                f"E{number}",
                electrode.at,
                electrode.kind,
                joined,
                lines,
                lead(electrode.at),
            )
        )
    return FootItems(tuple(buried), tuple(pipes), given)


@dataclass(frozen=True, slots=True)
class PlacedPipe:
    """A pipe with its place: y, the x of both ends, whether a lead reaches each, and its label."""

    pipe: Pipe
    y: float
    x: tuple[float, float]
    direct: tuple[bool, bool]
    label: tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlacedBuried:
    """An electrode with its place: its x, its top, and whether a lead reaches it."""

    buried: Buried
    x: float
    y: float
    direct: bool


@dataclass(frozen=True, slots=True)
class Foot:
    """The finished foot.

    Attributes:
        pipes: with their places.
        buried: with their places.
        surface: y of the earth's surface, px.
        bottom: y of its lower edge, px; equal to ``surface`` where there is no earth band.
        right: right end of the texts, px.
    """

    pipes: tuple[PlacedPipe, ...]
    buried: tuple[PlacedBuried, ...]
    surface: float
    bottom: float
    right: float


def place_foot(
    items: FootItems, ways: Ways, solid: Iterable[Rect], left: float, room: float
) -> Foot:
    """Place everything along the foot.

    Args:
        items: what belongs there.
        ways: the layout.
        solid: what takes up room above.
        left: where lists begin, px.
        room: greatest width of a text, px.
    """
    items = _shortened(items, room)
    layout = ways.layout
    if not items.pipes and not items.buried:
        return Foot((), (), layout.height, layout.height, 0.0)
    free = _Free(solid)

    def reach(place: str, index: int | None) -> float | None:
        if index is None:
            return None
        spot = ways.spot(place)
        x = ways.lead_x(place, index)
        return x if free.below(x, spot.y + spot.h) else None

    sunk = [(b, reach(b.at, b.index)) for b in items.buried]
    ended = [
        (p, tuple(reach(end, k) for end, k in zip(p.ends, p.indices, strict=True)))
        for p in items.pipes
    ]
    leads = sorted(
        {x for _, x in sunk if x is not None} | {x for _, xs in ended for x in xs if x is not None}
    )
    y = layout.height + 4
    pipes = []
    right = 0.0
    for pipe, (a, b) in ended:
        y += _PIPE_ROW
        wide = widest([pipe.text])
        anchor = min((x for x in (a, b) if x is not None), default=left)
        xa = a if a is not None else (anchor + 70 if b is not None else left)
        xb = b if b is not None else xa + 90
        at = _gap(leads, min(xa, xb) + 8, wide)
        right = max(right, at + wide, xa + 30, xb + 30)
        pipes.append(PlacedPipe(pipe, y, (xa, xb), (a is not None, b is not None), (at, y - 9)))
    surface = y + 26
    buried, bottom, edge = _sink(sunk, surface, left, max(layout.width, right))
    return Foot(tuple(pipes), tuple(buried), surface, bottom, max(right, edge))


def _shortened(items: FootItems, room: float) -> FootItems:
    """Return the same things with no text wider than there is room for."""

    def short(line: Line) -> Line:
        return replace(line, text=fit(line.text, room, SMALL, line.bold))

    return FootItems(
        tuple(replace(b, lines=tuple(short(line) for line in b.lines)) for b in items.buried),
        tuple(replace(p, text=short(p.text)) for p in items.pipes),
        items.leads,
    )


def _gap(leads: Sequence[float], start: float, wide: float) -> float:
    """Return the leftmost x from ``start`` at which a text crosses no lead."""
    x = start
    for lead in leads:
        if x - 5 < lead < x + wide + 5:
            x = lead + 8
    return x


def _sink(
    sunk: Sequence[tuple[Buried, float | None]], surface: float, left: float, width: float
) -> tuple[list[PlacedBuried], float, float]:
    placed: list[PlacedBuried] = []
    rows: list[tuple[float, float, int]] = []  # x, right end of the label, row
    edge = 0.0
    deepest = -1
    direct = sorted(((x, b) for b, x in sunk if x is not None), key=lambda pair: -pair[0])
    for x, item in direct:
        end = x + 16 + widest(item.lines)
        row = max((r + 1 for at, _, r in rows if x - 12 < at < end + 14), default=0)
        rows.append((x, end, row))
        deepest, edge = max(deepest, row), max(edge, end)
        placed.append(PlacedBuried(item, x, surface + 6 + row * _EARTH_ROW, True))
    x, row = left, deepest + 1
    for item, reached in sunk:
        if reached is not None:
            continue
        wide = 40 + widest(item.lines)
        if x > left and x + wide > width - 12:
            x, row = left, row + 1
        placed.append(PlacedBuried(item, x + 22, surface + 6 + row * _EARTH_ROW, False))
        edge = max(edge, x + wide)
        x += wide + 14
        deepest = row
    return placed, surface + 12 + (deepest + 1) * _EARTH_ROW if placed else surface, edge


class _Free:
    """Tells whether a lead can fall to the foot."""

    def __init__(self, solid: Iterable[Rect]) -> None:
        self._columns: dict[int, list[Rect]] = {}
        for rect in solid:
            first = int((rect[0] - _CLEAR) // _COLUMN)
            last = int((rect[0] + rect[2] + _CLEAR) // _COLUMN)
            for column in range(first, last + 1):
                self._columns.setdefault(column, []).append(rect)

    def below(self, x: float, y: float) -> bool:
        return not any(
            rx - _CLEAR <= x <= rx + w + _CLEAR and ry + h > y + 0.5
            for rx, ry, w, h in self._columns.get(int(x // _COLUMN), ())
        )
