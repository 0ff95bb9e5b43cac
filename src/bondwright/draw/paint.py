"""Paints stations, buses, runs and ties of a ribbon picture."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from bondwright.draw import marks
from bondwright.draw.colours import Palette, palette
from bondwright.draw.content import (
    LEADING,
    SMALL,
    TITLE,
    Station,
    kept,
    widest,
)
from bondwright.draw.lettering import fit, wrap
from bondwright.draw.scene import (
    BAR,
    PANEL_EDGE,
    Scene,
    clasp_spots,
    run_terminals,
    shown_tags,
    stroke,
    tag_width,
    tags_room,
    text_left,
)
from bondwright.draw.spots import PAD
from bondwright.draw.svg import INK, SOFT, Canvas, line_path
from bondwright.draw.ways import Points, Rect, around
from bondwright.plan.model import PlannedRun


def boxes(canvas: Canvas, scene: Scene) -> None:
    """Paint the stations with their names."""
    for name, station in scene.stations.items():
        spot = scene.ways.spot(name)
        canvas.begin("boxes", (spot.x, spot.y, spot.w, spot.h))
        attributes = canvas.mark(_kind(station), name)
        canvas.open(f'{attributes} class="station {station.mark}"', station.title)
        style = f'fill="#ffffff" stroke="{INK}" stroke-width="1.6" stroke-linejoin="round"'
        if station.mark in {"source", "generator", "inverter", "transformer"}:
            outline = marks.box_outline(station.mark, spot.x, spot.y, spot.w, spot.h)
            canvas.polygon(outline, style)
        else:
            canvas.rect(spot.x, spot.y, spot.w, spot.h, style, 4)
        deck = spot.deck - scene.ways.band.edge
        canvas.line(
            [(spot.x + 1, deck), (spot.x + spot.w - 1, deck)],
            f'stroke="{PANEL_EDGE}" stroke-width="1"',
        )
        _station_text(canvas, scene, station)
        canvas.close()


def _kind(station: Station) -> str:
    own = {"source", "generator", "inverter", "transfer", "transformer"}
    return station.mark if station.mark in own else "place"


def _station_text(canvas: Canvas, scene: Scene, station: Station) -> None:
    spot = scene.ways.spot(station.name)
    x = text_left(scene, station.name)
    right = spot.x + spot.w - PAD
    y = spot.y + 17
    marks.station_mark(canvas, station.mark, x, y - 11)
    tags = shown_tags(station.tags, (right - x) * 0.5)
    start = right - tags_room(tags)
    name = fit(station.name, start - x - 22, TITLE, True)
    canvas.text(x + 19, y, name, TITLE, bold=True)
    for text in tags:
        wide = tag_width(text)
        marks.tag(canvas, start + 3, y - 11, text, wide)
        start += wide + 3
    room = right - x
    for line in wrap(station.about, room, SMALL, 2):
        y += LEADING
        canvas.text(x, y, line, SMALL, fill=SOFT)
    for note in station.notes:
        for text in wrap(kept(note.text), room, SMALL, 1, note.bold):
            y += LEADING
            more = canvas.key(note.key)
            canvas.text(x, y, text, SMALL, bold=note.bold, fill=note.fill, extra=more)


def buses(canvas: Canvas, scene: Scene) -> None:
    """Paint the bars of every place and the buses that reach beyond it."""
    for name in scene.stations:
        colours = scene.palette_at(name)
        every = [
            (terminal, list(scene.ways.bars(name, terminal, scene.leads.get(name, 0))))
            for terminal in reversed(scene.terminals_at(name))
        ]
        canvas.begin("buses", around(point for _, bars in every for bar in bars for point in bar))
        canvas.add('<g class="bus">')
        for terminal, bars in every:
            colour = colours.of(terminal)
            data = "".join([line_path(points) for points in bars])
            stroke(canvas, data, colour, BAR, terminal, colours.hatch)
        canvas.close()


def runs(canvas: Canvas, scene: Scene, titles: Mapping[str, str]) -> None:
    """Paint the run to every place: ribbons, devices, label."""
    ways, tree = scene.ways, scene.plan.topology
    for name in ways.above:
        run = scene.run_to(name)
        if run is None:
            continue
        canvas.begin("runs", _run_box(scene, name))
        canvas.open(f'{canvas.mark("run", run.id)} class="run"', titles[run.id])
        colours = palette(scene.rules, tree.system_of_run(run.id).voltages.line_to_line)
        _ribbons(canvas, scene, name, run, colours)
        _devices(canvas, scene, name, run)
        _label(canvas, scene, name)
        canvas.close()


def _run_box(scene: Scene, name: str) -> Rect:
    """Return what the run to a place covers with its label, its bus left out."""
    ways, spot = scene.ways, scene.ways.spot(name)
    points = [point for terminal in ways.carries[name] for point in ways.ribbon(name, terminal)]
    for (x, y), lines in zip((spot.label, spot.more), scene.labels[name], strict=True):
        points += [(x, y), (x + widest(lines), y + len(lines) * LEADING)] if lines else []
    return around(points)


def _ribbons(canvas: Canvas, scene: Scene, name: str, run: PlannedRun, colours: Palette) -> None:
    ways = scene.ways
    terminals = ways.carries[name]
    taps = scene.terminals_at(ways.above[name]) if ways.spot(name).entry != "left" else ()
    points = [_landed(scene, name, terminal) for terminal in terminals]
    table = scene.now.runs if scene.now is not None else {}
    amps = [table.get((run.id, terminal)) for terminal in terminals]
    thick = [scene.thickness(value) for value in amps]
    # What a run crosses is interrupted by a white rim, as one line that passes over another.
    rim = f'fill="none" stroke="#ffffff" stroke-width="{max(thick, default=0) + 4:.1f}"'
    if run.id not in scene.lit:
        canvas.path("".join([line_path(_short(way)) for way in points]), rim + canvas.part("halo"))
    for k, terminal in enumerate(terminals):
        value = amps[k]
        told = f' data-amperes="{value:.4g}"' if value is not None else ""
        word = {"N": "neutral", "G": "metal"}.get(terminal, "line")
        canvas.open(f'{canvas.mark("ribbon", run.id, terminal)}{told} class="flow {word}"')
        colour = colours.of(terminal)
        raceway = terminal == "G" and run.metal is None
        data = line_path(points[k])
        stroke(canvas, data, colour, thick[k], terminal, colours.hatch, raceway=raceway)
        if terminal in taps:
            x, y = points[k][0]
            canvas.add(
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{max(2.2, thick[k] / 2 + 0.8):.1f}" '
                f'fill="{colour.fill}" stroke="{INK}" stroke-width="1"/>'
            )
        canvas.close()


def _landed(scene: Scene, name: str, terminal: str) -> Points:
    """Return a run's ribbon; into a transformer only the metal goes on to the deck."""
    points = scene.ways.ribbon(name, terminal)
    if name not in scene.plan.site.transformers or terminal == "G":
        return points
    spot = scene.ways.spot(name)
    x, y = points[-1]
    return [points[0], (spot.x, y) if spot.entry in {"left", "side"} else (x, _gap_y(scene, name))]


def _gap_y(scene: Scene, name: str) -> float:
    return scene.ways.spot(name).deck - scene.ways.band.edge - 5


def _short(points: Points) -> Points:
    """Keep the halo off the two ends, where a ribbon joins its own bars."""
    (x0, y0), (x1, y1) = points[0], points[-1]
    if abs(y1 - y0) > abs(x1 - x0):
        cut = math.copysign(min(3.5, abs(y1 - y0) / 3), y1 - y0)
        return [(x0, y0 + cut), (x1, y1 - cut)]
    cut = math.copysign(min(3.5, abs(x1 - x0) / 3), x1 - x0)
    return [(x0 + cut, y0), (x1 - cut, y1)]


def _devices(canvas: Canvas, scene: Scene, name: str, run: PlannedRun) -> None:
    ways = scene.ways
    spot, band = ways.spot(name), ways.band
    first, last = run.on[0], run.on[-1]
    half = band.ribbon / 2 + 2.5
    site = scene.plan.site
    device = site.runs[run.id].device
    place = site.places.get(name)
    main = place.main if place is not None else None
    if spot.entry in {"left", "side"}:
        top = band.lies(first, spot.deck) - half
        tall = band.lies(last, spot.deck) + half - top
        before = ways.spot(ways.above[name])
        start = spot.lanes[-1][1] + band.size if spot.entry == "side" else before.x + before.w
        if device is not None:
            about = canvas.mark("device", run.id)
            marks.device(canvas, start + 5, top, 8, tall, about)
        if main is not None:
            marks.device(canvas, spot.x - 4, top, 9, tall, canvas.mark("main", name))
    else:
        left = band.hangs(last, spot.strip) - half
        wide = band.hangs(first, spot.strip) + half - left
        if device is not None:
            past = spot.lanes[-1][1] + band.size + band.edge + 5
            below = spot.tap + 4 if spot.tap is not None else past
            marks.device(canvas, left, below, wide, 9, canvas.mark("device", run.id))
        if main is not None:
            marks.device(canvas, left, spot.y - 4, wide, 9, canvas.mark("main", name))
    if name in site.transformers:
        _windings(canvas, scene, name, run)


def _windings(canvas: Canvas, scene: Scene, name: str, run: PlannedRun) -> None:
    """Paint the gap between what comes to a transformer and what leaves it."""
    spot, band = scene.ways.spot(name), scene.ways.band
    ends = [t for t in run_terminals(run) if t != "G"]
    half = band.ribbon / 2 + 1
    style = f'fill="{INK}" class="windings"'
    if spot.entry in {"left", "side"}:
        top = band.lies(ends[0], spot.deck) - half
        tall = band.lies(ends[-1], spot.deck) + half - top
        for x in (spot.x - 1, spot.x + 5):
            canvas.rect(x, top, 3.4, tall, style)
    else:
        left = band.hangs(ends[-1], spot.strip) - half
        wide = band.hangs(ends[0], spot.strip) + half - left
        for y in (_gap_y(scene, name), _gap_y(scene, name) + 6):
            canvas.rect(left, y, wide, 3.4, style)


def _label(canvas: Canvas, scene: Scene, name: str) -> None:
    spot = scene.ways.spot(name)
    x, y = spot.label
    main, more = scene.labels[name]
    for k, line in enumerate(main):
        canvas.text(x, y + 10 + k * LEADING, line.text, SMALL, bold=line.bold, fill=line.fill)
    x, y = spot.more
    for k, line in enumerate(more):
        key = canvas.key(line.key)
        row = y + 10 + k * LEADING
        canvas.text(x, row, line.text, SMALL, bold=line.bold, fill=line.fill, extra=key)


Clasp = Callable[[Canvas, float, float, float, str, str], None]
"""Draws a clasp: x of its middle, y of neutral and metal, its state, id and the like."""


def ties(canvas: Canvas, scene: Scene, clasp: Clasp = marks.clasp) -> None:
    """Paint the clasps."""
    for name, station in scene.stations.items():
        at = clasp_spots(scene, name, len(station.ties))
        spot = scene.ways.spot(name)
        canvas.begin("ties", (spot.x, spot.y, spot.w, spot.h))
        for mark, x in zip(station.ties, at, strict=True):
            kind = "slot" if mark.state == "free" else "missing-tie"
            about = canvas.mark("tie", mark.id) if mark.id else canvas.mark(kind, name)
            neutral = scene.ways.deck_y(name, "N")
            metal = scene.ways.deck_y(name, "G")
            clasp(canvas, x, neutral, metal, mark.state, about)
