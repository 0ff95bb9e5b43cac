"""What the marks of a ribbon picture mean: only those that appear in it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from bondwright.draw import marks
from bondwright.draw.colours import Colour
from bondwright.draw.content import SMALL, amperes
from bondwright.draw.lettering import fit, width
from bondwright.draw.scene import PIPE, Scene, run_terminals, stroke
from bondwright.draw.svg import INK, Canvas

ROW = 24.0
_MARK = 40.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: how its mark is drawn around x, y (left, middle), and what it means."""

    draw: Callable[[Canvas, float, float], None]
    text: str


def entries(scene: Scene, *, lit: bool, ties: Collection[str] = ()) -> list[Entry]:
    """Return the entries that a picture needs.

    Args:
        scene: what it is painted from.
        lit: whether a fault is lit up.
        ties: states of ties that are explained whether they appear or not.
    """
    return list(_entries(scene, lit=lit, ties=ties))


def _entries(scene: Scene, *, lit: bool, ties: Collection[str]) -> Iterator[Entry]:
    plan = scene.plan
    seen: dict[tuple[str, str, str], None] = {}
    raceway = False
    for run in plan.runs.values():
        colours = scene.palette_at(run.from_)
        for terminal in run_terminals(run):
            colour = colours.of(terminal)
            seen.setdefault((terminal, colour.fill, colour.word))
        raceway = raceway or ("G" in run_terminals(run) and run.metal is None)
    metal = scene.palette_at(next(iter(scene.stations)))
    for terminal, fill, word in sorted(seen, key=lambda key: "L1 L2 L3 N G".index(key[0])):
        name = {"N": "neutral", "G": "bonding metal, hatched"}.get(terminal, f"line {terminal}")
        yield Entry(_ribbon(Colour(fill, word), terminal, metal.hatch), f"{name} ({word})")
    if raceway:
        yield Entry(_ribbon(metal.metal, "G", metal.hatch, raceway=True), "raceway as metal")
    states = set(ties) | {
        mark.state for station in scene.stations.values() for mark in station.ties
    }
    for state, text in (
        ("stands", "tie: neutral joined to metal"),
        ("wrong", "tie where none belongs"),
        ("missing", "tie missing"),
    ):
        if state in states:
            yield Entry(_clasp(state), text)
    yield Entry(_device, "overcurrent device")
    if scene.foot.pipes:
        yield Entry(_pipe, "pipe, steel, other metal")
    if lit:
        yield Entry(_glow, "way of the fault current")
        yield Entry(lambda c, x, y: marks.flash(c, x + 16, y, 10), "fault")
    if scene.now is not None and scene.full > 0:
        for part in (1.0, 0.25, 0.04):
            amps = scene.full * part
            start = "width of a ribbon at " if part == 1.0 else ""
            yield Entry(_scale(scene.thickness(amps)), f"{start}{amperes(amps)}")


def _ribbon(
    colour: Colour, terminal: str, hatch: str, *, raceway: bool = False
) -> Callable[[Canvas, float, float], None]:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        stroke(canvas, f"M{x:.1f} {y:.1f}h32", colour, 5, terminal, hatch, raceway=raceway)

    return draw


def _clasp(state: str) -> Callable[[Canvas, float, float], None]:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        marks.clasp(canvas, x + (8 if state == "wrong" else 16), y - 4, y + 4, state)

    return draw


def _device(canvas: Canvas, x: float, y: float) -> None:
    marks.device(canvas, x + 6, y - 4.5, 20, 9, "")


def _pipe(canvas: Canvas, x: float, y: float) -> None:
    points = f"M{x:.1f} {y:.1f}h32"
    canvas.path(points, f'stroke="{INK}" stroke-width="7"')
    canvas.path(points, f'stroke="{PIPE}" stroke-width="5"')
    canvas.path(points, 'stroke="#ffffff" stroke-width="1.2" stroke-dasharray="7 4"')


def _glow(canvas: Canvas, x: float, y: float) -> None:
    points = f"M{x + 4:.1f} {y:.1f}h24"
    cap = 'stroke-linecap="round"'
    canvas.path(points, f'stroke="{INK}" stroke-width="12" {cap}')
    canvas.path(points, f'stroke="{marks.GLOW}" stroke-width="9.8" {cap}')
    marks.arrow(canvas, x + 16, y, "right", 5)


def _scale(thick: float) -> Callable[[Canvas, float, float], None]:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.path(f"M{x:.1f} {y:.1f}h32", f'stroke="{INK}" stroke-width="{thick:.1f}"')

    return draw


def lay_out(items: list[Entry], left: float, w: float) -> tuple[list[tuple[float, float]], float]:
    """Return the left end of each entry (y from the top of the legend) and the height, px."""
    spots = []
    x, y = left, ROW / 2
    for item in items:
        wide = _MARK + width(item.text, SMALL) + 18
        if x > left and x + wide > w - left + 18:
            x, y = left, y + ROW
        spots.append((x, y))
        x += wide
    return spots, y + ROW / 2 if items else 0.0


def paint(
    canvas: Canvas, items: list[Entry], spots: list[tuple[float, float]], top: float, w: float
) -> None:
    """Paint the legend."""
    canvas.add('<g class="legend">')
    for item, (x, y) in zip(items, spots, strict=True):
        item.draw(canvas, x, top + y)
        text = fit(item.text, w - x - _MARK - 4, SMALL)
        canvas.text(x + _MARK, top + y + 4, text, SMALL)
    canvas.close()
