"""The ribbon picture: an installation as stations joined by ribbons.

Places stand like stations. Each run is a band of three ribbons side by side: lines, neutral,
bonding metal. A tie is a clasp across neutral and metal. Pipes, steel and the earth lie along
the foot. The width of a ribbon follows its current; the way of a fault current lights up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from bondwright.draw import ground, legend, lit, paint
from bondwright.draw import scene as scenes
from bondwright.draw.band import Band
from bondwright.draw.column import column_band, lay_out_column
from bondwright.draw.content import (
    LEADING,
    SMALL,
    TITLE,
    Currents,
    Line,
    all_nodes,
    amperes,
    current_lines,
    currents,
    run_lines,
    run_title,
    stations,
    widest,
)
from bondwright.draw.drawing import Drawing
from bondwright.draw.foot import FootItems, foot_items, place_foot
from bondwright.draw.layout import lay_out_page
from bondwright.draw.lettering import width, wrap
from bondwright.draw.spots import PAD, Item, LabelSize, Layout, leads_width
from bondwright.draw.svg import ALARM, Canvas
from bondwright.draw.ways import Rect, Ways
from bondwright.plan.model import Plan
from bondwright.site.model import Source
from bondwright.studies.faults import FaultResult
from bondwright.studies.flows import Carrier, Flow

PHONE: Final = 390.0
"""Width of a phone, px."""
NARROW: Final = 620.0
"""Below this a given width gets one column, px."""
TEXT_ROOM: Final = 185.0
"""Greatest width of a station's text on a page, px."""
LABEL_ROOM: Final = 158.0
"""Greatest width of a run's label on a page, px."""
FEW: Final = 12
"""With more places than this ribbons are slimmer on a page."""
MANY: Final = 400
"""With more places than this a single layout is tried."""
_AIMS: Final = (1.0, 0.6, 0.8, 1.25, 1.6, 2.2, 3.2, 4.5)
FOOT_ROOM: Final = 300.0
"""Greatest width of a text along the foot, px."""
_RATIOS: Final = (2.2, 1.8, 1.5, 1.2, 0.9, 0.65, 0.45)

Labels = tuple[tuple[Line, ...], tuple[Line, ...]]


def ribbon_picture(
    plan: Plan,
    *,
    flows: Sequence[Flow] | None = None,
    fault: FaultResult | None = None,
    width: Literal["page", "phone"] | float = "page",
    rules: str | None = None,
    title: str | None = None,
    prefix: str = "",
) -> Drawing:
    """Draw a plan.

    Args:
        plan: the plan.
        flows: currents to show by the width of ribbons and in numbers, A; with a fault and
            without flows, the fault's own.
        fault: a fault whose way is lit up.
        width: "page" for a landscape page, "phone" for one column of 390 px, or px.
        rules: rule set whose conductor colours are used; None takes the site's.
        title: written above; None takes the site's name, "" leaves it out.
        prefix: put before every id, so that several pictures can share a page.

    Returns:
        The drawing. Its width is the given one or, where that can't hold it, more.
    """
    picture = Picture(plan, flows, fault, rules, title, prefix)
    return picture.painted(picture.composed(width))


@dataclass(frozen=True, slots=True)
class Composed:
    """A picture laid out, not painted yet.

    Attributes:
        scene: what it is painted from.
        width: px.
        top: lines of its title.
    """

    scene: scenes.Scene
    width: float
    top: tuple[str, ...]


class Picture:
    """A plan on its way to a picture: what is said, then laid out, then painted.

    Args:
        plan: the plan.
        flows: currents, or None.
        fault: a fault whose way is lit up, or None.
        rules: rule set whose conductor colours are used; None takes the site's.
        title: written above; None takes the site's name.
        prefix: put before every id.
    """

    def __init__(
        self,
        plan: Plan,
        flows: Sequence[Flow] | None,
        fault: FaultResult | None,
        rules: str | None,
        title: str | None,
        prefix: str,
    ) -> None:
        self.plan, self.fault = plan, fault
        self.rules = rules if rules is not None else plan.site.rules
        self.title = plan.site.site if title is None else title
        self.prefix = prefix
        given = flows if flows is not None or fault is None else fault.flows
        self.now: Currents | None = currents(given) if given is not None else None
        tree = plan.topology
        names = all_nodes(plan)
        reached = set(tree.order)
        self.above = {
            name: plan.site.runs[tree.fed_by[name]].from_
            for name in names
            if name in reached and name in tree.fed_by
        }
        self.below: dict[str, list[str]] = {name: [] for name in names}
        for name, feeder in self.above.items():
            self.below[feeder].append(name)
        self.roots = [name for name in names if name not in self.above]
        self.stations = stations(plan, self.now)
        if fault is not None and fault.fault.place in self.stations:
            other = {"G": "metal", "N": "neutral"}.get(fault.fault.b, fault.fault.b)
            text = f"fault {fault.fault.a} to {other}: {amperes(fault.current)}"
            self.stations[fault.fault.place].notes.insert(0, Line(text, True, ALARM))
        self.groups = {name: self._building(name) for name in self._walk()}
        used = [int(t[1]) for run in plan.runs.values() for t in run.on]
        self.lines = max(used, default=1)
        self._labels: dict[str, Labels] = {}

    def _walk(self) -> list[str]:
        order: list[str] = []
        stack = list(reversed(self.roots))
        while stack:
            name = stack.pop()
            order.append(name)
            stack.extend(reversed(self.below[name]))
        return order

    def _building(self, name: str) -> str | None:
        node = self.plan.topology.node(name)
        return None if isinstance(node, Source) else node.building

    def composed(self, wanted: Literal["page", "phone"] | float) -> Composed:
        """Lay the picture out for a page, a phone, or a width in px."""
        if wanted == "phone":
            return self._column(PHONE)
        if wanted == "page":
            return self._page(1.5)
        if wanted >= NARROW:
            for ratio in _RATIOS:
                found = self._page(ratio)
                if found.width <= wanted:
                    return found
        return self._column(max(wanted, 280.0))

    def _page(self, ratio: float) -> Composed:
        band = Band(self.lines, 1.0 if len(self.stations) <= FEW else 0.75)
        foot = foot_items(self.plan, self.now, direct=True)
        self._tag(foot)
        items = {name: self._item(name, band, foot) for name in self.stations}
        below = 80.0 + (60.0 if foot.buried else 0.0) + 34.0 * len(foot.pipes)
        # Blocks choose for themselves, so what they are told to aim at is searched for.
        aims = [ratio * part for part in (_AIMS if len(items) <= MANY else (1.0,))]
        label_of = cache(self._label_size)  # what is written doesn't hang on the aim
        layouts = (
            lay_out_page(items, self.roots, band, label_of, ratio=aim, room=LABEL_ROOM)
            for aim in aims
        )
        best = min(layouts, key=lambda found: max(found.width, (found.height + below) * ratio))
        return self._compose(best, band, foot, least=0.0)

    def _column(self, wide: float) -> Composed:
        foot = foot_items(self.plan, self.now, direct=False)
        self._tag(foot)
        plain = Band(self.lines)
        items = {name: self._item(name, plain, foot) for name in self.stations}
        band = column_band(items, self.roots, self.lines, wide)
        layout = lay_out_column(items, self.roots, band, self._head, self._label_size, width=wide)
        return self._compose(layout, band, foot, least=wide)

    def _tag(self, foot: FootItems) -> None:
        for station in self.stations.values():
            station.tags = []
        for buried in foot.buried:
            self.stations[buried.at].tags.append(buried.tag)
        for pipe in foot.pipes:
            for end in dict.fromkeys(pipe.ends):
                self.stations[end].tags.append(pipe.tag)

    def _head(self, name: str, room: float) -> float:
        station = self.stations[name]
        lines = len(wrap(station.about, room, SMALL, 2)) + len(station.notes)
        return 26 + lines * LEADING

    def _item(self, name: str, band: Band, foot: FootItems) -> Item:
        station = self.stations[name]
        leads = foot.leads.get(name, 0)
        tags = scenes.tags_room(station.tags) if len(station.tags) < 7 else 80.0
        text = max(
            min(22 + width(station.name, TITLE, True), TEXT_ROOM) + tags,
            widest(Line(line) for line in wrap(station.about, TEXT_ROOM, SMALL, 2)),
            min(widest(station.notes), TEXT_ROOM),
        )
        start = PAD + leads_width(leads) + band.size + 8
        clasps = 34.0 * (len(station.ties) + 1)
        natural = start + max(text, clasps, 70.0) + PAD + 1
        above = self.above.get(name)
        group = self.groups[name]
        tab = group is not None and (above is None or self.groups[above] != group)
        head = self._head(name, natural - start - PAD)
        return Item(name, tuple(self.below[name]), natural, head, leads, group, tab)

    def _lines(self, name: str, room: float) -> Labels:
        run = self.plan.runs[self.plan.topology.fed_by[name]]
        main = run_lines(self.plan, run, room)
        more = current_lines(run, self.now, room, fault=self.fault is not None)
        return tuple(main), tuple(more)

    def _label_size(self, name: str, room: float) -> LabelSize:
        if name not in self.above:
            return LabelSize(0.0, 0.0)
        main, more = self._labels[name] = self._lines(name, room)
        wide = max(widest(main), widest(more))
        return LabelSize(wide, len(main) * LEADING, len(more) * LEADING)

    def _compose(self, layout: Layout, band: Band, foot: FootItems, least: float) -> Composed:
        top = self._title_lines(max(layout.width, least))
        shift = len(top) * 18.0 + 8 if top else 0.0
        layout = _moved(layout, shift)
        ways = Ways(layout, band, self.above, self.below, self._carries())
        above = self.stations if foot.leads else ()
        solid = [rect for name in above for rect in self._solid(ways, name)]
        placed = place_foot(foot, ways, solid, 14.0, min(FOOT_ROOM, layout.width - 64))
        full = self.now.greatest if self.now is not None else 0.0
        scene = scenes.Scene(
            self.plan,
            ways,
            self.stations,
            self._labels,
            self.now,
            foot.leads,
            placed,
            full,
            self.rules,
            self._lit(),
        )
        return Composed(scene, max(layout.width, placed.right + 12, least), top)

    def painted(self, composed: Composed) -> Drawing:
        """Paint the picture as one whole."""
        scene, w, top = composed.scene, composed.width, composed.top
        placed = scene.foot
        entries = legend.entries(scene, lit=self.fault is not None)
        spots, tall = legend.lay_out(entries, 14.0, w)
        h = placed.bottom + 10 + tall + 8
        canvas = Canvas(self.prefix)
        for k, text in enumerate(top):
            canvas.text(14, 24 + 18 * k, text, 16, bold=True)
        stretch = lit.stretches(scene, self.fault) if self.fault is not None else []
        ground.slabs(canvas, scene, self.groups)
        ground.earth(canvas, scene, w)
        paint.boxes(canvas, scene)
        ground.foot_items(canvas, scene)
        if stretch:
            lit.glow(canvas, scene, stretch)
        paint.buses(canvas, scene)
        titles = {run.id: run_title(self.plan, run) for run in self.plan.runs.values()}
        paint.runs(canvas, scene, titles)
        paint.ties(canvas, scene)
        if self.fault is not None:
            lit.arrows(canvas, scene, self.fault, stretch)
        legend.paint(canvas, entries, spots, placed.bottom + 10, w)
        alt = self.alt()
        svg = canvas.finish(w, h, self.title or "Ribbon picture", alt, "bondwright-ribbon")
        return Drawing(svg, w, h, alt, canvas.ids)

    def _lit(self) -> frozenset[str]:
        if self.fault is None:
            return frozenset()
        return frozenset(s.id for s in self.fault.path if s.carrier is Carrier.RUN)

    def _carries(self) -> dict[str, tuple[str, ...]]:
        tree = self.plan.topology
        return {
            name: scenes.run_terminals(self.plan.runs[tree.fed_by[name]]) for name in self.above
        }

    def _title_lines(self, w: float) -> tuple[str, ...]:
        return wrap(self.title, w - 28, 16, 2, True) if self.title.strip() else ()

    def _solid(self, ways: Ways, name: str) -> list[Rect]:
        found = list(ways.solid(name))
        if name in self.above and name in self._labels:
            spot = ways.spot(name)
            main, more = self._labels[name]
            for (x, y), lines in ((spot.label, main), (spot.more, more)):
                if lines:
                    found.append((x, y, widest(lines), len(lines) * LEADING))
        return found

    def alt(self) -> str:
        """Return what the picture shows, in a few sentences."""
        site = self.plan.site
        count = f"{len(site.sources)} supply, {len(site.transformers)} transformers, "
        text = f"Ribbon picture: {count}{len(site.places)} places, {len(site.runs)} runs."
        for state, words in (
            ("stands", "Neutral and metal are joined at"),
            ("wrong", "A tie stands where none belongs at"),
            ("missing", "A tie is missing at"),
        ):
            at = [n for n, s in self.stations.items() if any(t.state == state for t in s.ties)]
            if at:
                more = f" and {len(at) - 8} more" if len(at) > 8 else ""
                text += f" {words} {', '.join(at[:8])}{more}."
        if self.fault is not None:
            text += f" Lit up: {self.fault.fault}, {amperes(self.fault.current)}."
        return text


def _moved(layout: Layout, down: float) -> Layout:
    """Return a layout moved down by some px."""
    for spot in layout.spots.values():
        spot.y += down
        spot.deck += down
        spot.label = (spot.label[0], spot.label[1] + down)
        spot.more = (spot.more[0], spot.more[1] + down)
        spot.lanes = tuple((k, at + down if k == "h" else at) for k, at in spot.lanes)
        x, y, w, h = spot.block
        spot.block = (x, y + down, w, h)
        if spot.tap is not None:
            spot.tap += down
    return Layout(layout.spots, layout.width, layout.height + down)
