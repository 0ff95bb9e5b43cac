"""The way of a fault current, lit up: out from the source and back to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from bondwright.draw import marks
from bondwright.draw.scene import Scene, clasp_spots
from bondwright.draw.svg import INK, Canvas, line_path
from bondwright.draw.ways import Points
from bondwright.studies.faults import FaultResult, PathStep
from bondwright.studies.flows import Carrier

FAINT: Final = 0.01
"""Share of the fault current below which a lead or a pipe is not lit."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of the path.

    Attributes:
        points: in the direction of the current.
        share: of the fault current.
        arrows: whether arrow heads stand along it.
        aside: whether it lies beside the ribbons: a lead, a pipe.
    """

    points: Points
    share: float
    arrows: bool
    aside: bool = False


def terminal_of(conductor: str) -> str:
    """Return the terminal of a conductor named as in flows: "L1.2" -> L1, "raceway" -> G."""
    base = conductor.partition(".")[0]
    return base if base in {"L1", "L2", "L3", "N"} else "G"


def deck_terminal(terminal: str) -> str:
    """Return the bar of a deck where a terminal of a fault is shown.

    A primary line is shown where the secondary's of its number lies, the earth at the metal.
    """
    if terminal.startswith("H"):
        return f"L{terminal[1:]}"
    return "G" if terminal == "earth" else terminal


def stretches(scene: Scene, fault: FaultResult) -> list[Stretch]:
    """Return the lit stretches of a fault."""
    return list(_stretches(scene, fault))


def _stretches(scene: Scene, fault: FaultResult) -> Iterator[Stretch]:
    shares: dict[tuple[str, str, str], float] = {}
    for step in fault.path:
        if step.carrier is Carrier.RUN:
            key = (step.way, step.id, terminal_of(step.conductor))
            shares[key] = shares.get(key, 0.0) + step.share
    runs = scene.plan.runs
    for (way, run, terminal), share in shares.items():
        to = runs[run].to
        if to in scene.ways.layout.spots and to in scene.ways.above:
            points = scene.ways.way(to, terminal)
            yield Stretch(points if way == "out" else points[::-1], min(1.0, share), True)
    for step in fault.path:
        # What takes a hundredth or less is told in numbers; lit up it would pass for a way home.
        if step.carrier is not Carrier.RUN and step.share > FAINT:
            yield from _aside(scene, step)
    place = fault.fault.place
    if place in scene.ways.layout.spots:
        x = flash_x(scene, place)
        for terminal, back in ((fault.fault.a, False), (fault.fault.b, True)):
            bar = deck_terminal(terminal)
            y = scene.ways.deck_y(place, bar)
            points = [(scene.ways.start_x(place, bar), y), (x, y)]
            yield Stretch(points[::-1] if back else points, 1.0, False)


def _aside(scene: Scene, step: PathStep) -> Iterator[Stretch]:
    ways, share = scene.ways, min(1.0, step.share)
    if step.carrier is Carrier.TIE:
        for name, station in scene.stations.items():
            for k, mark in enumerate(station.ties):
                if mark.id == step.id:
                    x = clasp_spots(scene, name, len(station.ties))[k]
                    for terminal in ("G", "N"):
                        y = ways.deck_y(name, terminal)
                        yield Stretch([(ways.start_x(name, terminal), y), (x, y)], share, False)
    elif step.carrier is Carrier.ELECTRODE:
        for sunk in scene.foot.buried:
            if sunk.buried.id == step.id and sunk.direct:
                top = ways.deck_y(sunk.buried.at, "G")
                yield Stretch([(sunk.x, top), (sunk.x, sunk.y)], share, False, True)
    else:
        for placed in scene.foot.pipes:
            if placed.pipe.id == step.id:
                ends = [(x, placed.y) for x in placed.x]
                yield Stretch(ends, share, False, True)
                for name, x, direct in zip(placed.pipe.ends, placed.x, placed.direct, strict=True):
                    if direct:
                        points = [(x, ways.deck_y(name, "G")), (x, placed.y)]
                        yield Stretch(points, share, False, True)


def flash_x(scene: Scene, place: str) -> float:
    """Return where on the deck of a place the flash stands, px."""
    return clasp_spots(scene, place, len(scene.stations[place].ties) + 1)[-1]


def glow(canvas: Canvas, scene: Scene, lit: list[Stretch]) -> None:
    """Paint the light under the ribbons: a dark rim so that it shows in grey too."""
    thick = scene.ways.band.ribbon
    slim = min(1.0, 0.3 + 0.7 * scene.ways.band.scale)
    canvas.add('<g class="lit">')
    for rim in (True, False):
        for stretch in lit:
            # A lead or a pipe shares its light by what it carries; a ribbon always shows.
            base = 2.0 if stretch.aside else thick
            reach = base + (2.5 + 4.5 * stretch.share**0.5) * slim
            colour = INK if rim else marks.GLOW
            wide = reach + (2.2 if rim else 0)
            canvas.path(
                line_path(stretch.points),
                f'fill="none" stroke="{colour}" stroke-width="{wide:.1f}" '
                'stroke-linejoin="round" stroke-linecap="round"',
            )
    canvas.close()


def arrows(canvas: Canvas, scene: Scene, fault: FaultResult, lit: list[Stretch]) -> None:
    """Paint arrow heads along the path and the flash where the fault is."""
    heads(canvas, scene, lit)
    burst(canvas, scene, fault)


def heads(canvas: Canvas, scene: Scene, lit: list[Stretch]) -> None:
    """Paint arrow heads along the path."""
    size = max(3.6, scene.ways.band.ribbon * 0.85)
    for stretch in lit:
        if not stretch.arrows or stretch.share < 0.02:
            continue
        for (x0, y0), (x1, y1) in zip(stretch.points, stretch.points[1:], strict=False):
            long = max(abs(x1 - x0), abs(y1 - y0))
            if long < 30:
                continue
            if abs(x1 - x0) > abs(y1 - y0):
                toward = "right" if x1 > x0 else "left"
            else:
                toward = "down" if y1 > y0 else "up"
            part = 0.42
            marks.arrow(canvas, x0 + (x1 - x0) * part, y0 + (y1 - y0) * part, toward, size)


def burst(canvas: Canvas, scene: Scene, fault: FaultResult) -> None:
    """Paint the flash where the fault is."""
    place = fault.fault.place
    if place not in scene.ways.layout.spots:
        return
    ya = scene.ways.deck_y(place, deck_terminal(fault.fault.a))
    yb = scene.ways.deck_y(place, deck_terminal(fault.fault.b))
    x = flash_x(scene, place)
    canvas.line([(x, ya), (x, yb)], f'stroke="{marks.PATH}" stroke-width="3.4"')
    size = 12 if scene.ways.band.scale > 0.7 else 9
    marks.flash(canvas, x, (ya + yb) / 2, size, canvas.mark("fault", place))
