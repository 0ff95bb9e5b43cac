"""The ribbon picture on screen: painted once in pieces, then changed element by element.

Every part that can ever change is painted from the start: a slot on each deck where a tie could
stand, a line of text for every current. What changes later is told as looks by element id, so
that nothing is laid out or painted again: places stay where the eye left them, and an answer is
on screen at once. The painters are those of the whole picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final, Literal

from bondwright.draw import ground, legend, lit, marks, paint
from bondwright.draw.content import Currents, Line, TieMark, amperes, run_title
from bondwright.draw.looks import Look, Memo, Now, every_look
from bondwright.draw.ribbon import Labels, Picture
from bondwright.draw.scene import Scene, run_terminals
from bondwright.draw.svg import INK, Canvas, element_id, line_path
from bondwright.draw.ways import Rect
from bondwright.plan.model import Plan, PlannedTie
from bondwright.site.model import Source, Transfer
from bondwright.studies.faults import FaultResult

TILE: Final = 1500.0
"""Side of a tile, px: a piece is what one layer has in it."""
LAYERS: Final = ("ground", "boxes", "under", "foot", "buses", "runs", "ties", "over")
"""From the bottom up. "under" and "over" take the light of a fault."""
MANY: Final = 400
"""With more places than this there is an overview for when all of it is seen."""
_ROOM_A: Final = 1880.0
"""Current whose text sets the room that is kept for a current, A."""
_KEY_ALT: Final = "A list of marks, each with its meaning beside it."

Form = Literal["page", "phone"]


@dataclass(frozen=True, slots=True)
class Piece:
    """What one layer has in one tile.

    Attributes:
        layer: one of :data:`LAYERS`.
        box: x, y, width and height of what it covers, px.
        svg: its elements.
    """

    layer: str
    box: Rect
    svg: str


class _Pieces(Canvas):
    """A canvas that sorts what is painted on it into layers and tiles."""

    def __init__(self) -> None:
        super().__init__()
        self._bins: dict[tuple[str, int, int], list[str]] = {}
        self._boxes: dict[tuple[str, int, int], Rect] = {}

    def begin(self, layer: str, box: Rect | None = None) -> None:
        where = (layer, -1, -1)
        if box is not None and max(box[2], box[3]) < TILE:
            where = (layer, int(box[0] // TILE), int(box[1] // TILE))
        elif box is not None:
            where = (layer, -2, len(self._bins))  # long ones come and go by themselves
        self._out = self._bins.setdefault(where, [])
        if box is not None:
            self._boxes[where] = _joined(self._boxes.get(where, box), box)

    def key(self, key: str) -> str:
        return f' id="{element_id("text", key)}"' if key else ""

    def part(self, name: str) -> str:
        return f' class="{name}"'

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        fill: str = INK,
        anchor: str = "start",
        extra: str = "",
    ) -> None:
        if " id=" not in extra:
            super().text(x, y, text, size, bold=bold, fill=fill, anchor=anchor, extra=extra)
            return
        # Its words are told later; here is only where they will stand.
        weight = ' font-weight="600"' if bold else ""
        self._out.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}"{weight} '
            f'lengthAdjust="spacingAndGlyphs"{extra}></text>'
        )

    def pieces(self, whole: Rect) -> Iterator[Piece]:
        for layer in LAYERS:
            for where, parts in self._bins.items():
                if where[0] == layer and parts:
                    yield Piece(layer, self._boxes.get(where, whole), "".join(parts))


def _joined(a: Rect, b: Rect) -> Rect:
    x, y = min(a[0], b[0]), min(a[1], b[1])
    return (x, y, max(a[0] + a[2], b[0] + b[2]) - x, max(a[1] + a[3], b[1] + b[3]) - y)


class _Drawn(Picture):
    """A picture with room for whatever may have to be said later."""

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan, None, None, None, "", "")
        self.now = _room_for_all(plan)
        self.rooms: dict[str, float] = {}
        for name, station in self.stations.items():
            slots = list(station.ties)
            station.notes = [line for line in station.notes if line.text not in _told(slots)]
            if not slots and can_be_tied(plan, name):
                slots = [TieMark("", "free", "")]
            for at, mark in enumerate(slots):
                text = f"{mark.text or 'tie where none belongs: screw'} · {amperes(_ROOM_A)}"
                station.notes.append(Line(text, key=f"tie {name} {at}"))
            station.ties = slots
            station.notes.append(Line("metal at 8,888 V to earth", True, key=f"at {name}"))

    def _lines(self, name: str, room: float) -> Labels:
        main, more = super()._lines(name, room)
        run = self.plan.topology.fed_by[name]
        self.rooms[run] = room
        return main, tuple(replace(line, key=f"run {run} {k}") for k, line in enumerate(more))


def _told(ties: Sequence[TieMark]) -> set[str]:
    return {mark.text for mark in ties}


def can_be_tied(plan: Plan, name: str) -> bool:
    """Whether neutral and metal meet at a place, so that a tie could be made there."""
    if name not in plan.topology.systems or not plan.topology.neutral_at(name):
        return False
    return not isinstance(plan.topology.node(name), Source | Transfer)


def _room_for_all(plan: Plan) -> Currents:
    return Currents(
        {(run.id, t): _ROOM_A for run in plan.runs.values() for t in run_terminals(run)},
        {},
        dict.fromkeys(plan.electrodes, _ROOM_A),
        dict.fromkeys(plan.site.metal, _ROOM_A),
    )


class LivePicture:
    """The picture of a plan, ready to be changed.

    Args:
        plan: the plan as it stands in the file.
        form: "page" for a wide screen, "phone" for one column.

    Attributes:
        width: px.
        height: px.
        alt: what it shows.
        pieces: everything painted, in order.
        boxes: where each place stands: x, y, width, height, px.
        blocks: the same of a place with all that it feeds.
    """

    def __init__(self, plan: Plan, form: Form) -> None:
        drawn = _Drawn(plan)
        composed = drawn.composed(form)
        self._scene = scene = replace(composed.scene, full=0.0)
        self._rooms = drawn.rooms
        self._memo: Memo = {}
        # Ribbons start at their plain width; looks give them that of their current.
        still = replace(scene, now=None)
        self.width, self.height = composed.width, scene.foot.bottom + 14
        self.alt = drawn.alt()
        canvas = _Pieces()
        canvas.begin("ground")
        ground.slabs(canvas, still, drawn.groups)
        ground.earth(canvas, still, self.width)
        paint.boxes(canvas, still)
        ground.foot_items(canvas, still)
        paint.buses(canvas, still)
        paint.runs(canvas, still, {r.id: run_title(plan, r) for r in plan.runs.values()})
        paint.ties(canvas, still, marks.slot)
        self.pieces = tuple(canvas.pieces((0.0, 0.0, self.width, self.height)))
        spots = scene.ways.layout.spots
        self.boxes = {name: (s.x, s.y, s.w, s.h) for name, s in spots.items()}
        self.blocks = {name: s.block for name, s in spots.items()}
        self.groups: Mapping[str, str | None] = drawn.groups

    @cached_property
    def overview(self) -> str:
        """The whole at a glance: a box for every place and a line for every run; "" for few."""
        if len(self.boxes) <= MANY:
            return ""
        ways = self._scene.ways
        boxes = "".join([f"M{x:.0f} {y:.0f}h{w:.0f}v{h:.0f}h-{w:.0f}z"
                         for x, y, w, h in self.boxes.values()])  # fmt: skip
        lines = "".join([line_path(ways.way(name, ways.carries[name][0])) for name in ways.above])
        return (
            f'<path class="far-runs" d="{lines}" fill="none"/><path class="far-boxes" d="{boxes}"/>'
        )

    def key(self, wide: float) -> str:
        """Return a drawing of what the marks mean, so many px wide."""
        canvas = Canvas("key-")
        scene = replace(self._scene, now=None)
        entries = legend.entries(scene, lit=True, ties=("stands", "wrong", "missing"))
        spots, tall = legend.lay_out(entries, 4.0, wide)
        legend.paint(canvas, entries, spots, 0.0, wide)
        return canvas.finish(wide, tall, "What the marks mean", _KEY_ALT, "bondwright-key")

    def looks(self, now: Now) -> dict[str, Look]:
        """Return how every element looks at a moment, by id."""
        return dict(every_look(self._scene, self.scene_of(now.plan), now, self._rooms, self._memo))

    def scene_of(self, plan: Plan) -> Scene:
        """Return the scene with the ties of a plan in the slots of this one."""
        at: dict[str, list[PlannedTie]] = {}
        for tie in plan.ties:
            at.setdefault(tie.at, []).append(tie)
        stations = {
            name: replace(station, ties=list(_slots(station.ties, at.get(name, []))))
            if station.ties
            else station
            for name, station in self._scene.stations.items()
        }
        return replace(self._scene, plan=plan, stations=stations)

    def light(self, plan: Plan, fault: FaultResult) -> tuple[str, str]:
        """Return the light of a fault's way: what lies under the ribbons, and what over them.

        Args:
            plan: the plan the fault was followed on.
            fault: its result, whose path may be a part of the whole.
        """
        scene = self.scene_of(plan)
        stretch = lit.stretches(scene, fault)
        under, over = Canvas("lit-"), Canvas("lit-")
        lit.glow(under, scene, stretch)
        lit.heads(over, scene, stretch)
        return under.body(), over.body()

    def flash(self, plan: Plan, fault: FaultResult) -> str:
        """Return the flash that stands where a fault is."""
        canvas = Canvas("lit-")
        lit.burst(canvas, self.scene_of(plan), fault)
        return canvas.body()


def _slots(drawn: Sequence[TieMark], standing: Sequence[PlannedTie]) -> Iterator[TieMark]:
    """Yield what is in each slot of a place now: a tie that was drawn there, or another one."""
    there = {tie.id: tie for tie in standing}
    known = {mark.id for mark in drawn}
    new = [tie for tie in standing if tie.id not in known]
    for mark in drawn:
        if mark.id in there:
            yield mark
        elif new:
            tie = new.pop(0)
            yield TieMark(tie.id, "stands" if tie.belongs else "wrong", "")
        else:
            yield replace(mark, id="", state="missing" if mark.state == "missing" else "free")
