"""Paints what lies under and below the stations: panels of buildings, earth, pipes, electrodes."""

from __future__ import annotations

from collections.abc import Mapping

from bondwright.draw import marks
from bondwright.draw.content import (
    LEADING,
    SMALL,
    widest,
)
from bondwright.draw.lettering import fit
from bondwright.draw.scene import (
    EARTH_FILL,
    PANEL,
    PANEL_EDGE,
    PIPE,
    SLAB,
    Scene,
)
from bondwright.draw.spots import TAB
from bondwright.draw.svg import ALARM, INK, SOFT, Canvas, line_path
from bondwright.draw.ways import Rect


def slabs(canvas: Canvas, scene: Scene, groups: Mapping[str, str | None]) -> None:
    """Paint a light panel under what stands in one building."""
    rects: list[Rect] = []
    tabs: list[tuple[float, float, float, str]] = []
    ways = scene.ways
    pure: dict[str, bool] = {}
    order = list(groups)
    for name in reversed(order):
        pure[name] = all(
            pure[child] and groups[child] == groups[name] for child in ways.below.get(name, ())
        )
    for name in order:
        group = groups[name]
        if group is None:
            continue
        spot = ways.spot(name)
        feeder = ways.above.get(name)
        root = feeder is None or groups[feeder] != group
        if not root and feeder is not None and pure[feeder]:
            continue
        x, y, w, h = spot.block if pure[name] else (spot.x, spot.y, spot.w, spot.h)
        if root:
            top = spot.y - TAB + 3
            y, h = min(y, top), max(h, y + h - top)
            at = spot.strip + ways.band.size + 8 if spot.entry == "top" else spot.x
            tabs.append((at, spot.y - 5, spot.x + spot.w - at, group))
        rects.append((x - SLAB, y - (0 if root else SLAB), w + 2 * SLAB, h + SLAB * (2 - root)))
        if not root:
            rects += _link(scene, name)
    edge = f'fill="{PANEL}" stroke="{PANEL_EDGE}" stroke-width="2"'
    for rect in rects:
        canvas.rect(*rect, edge, 6)
    for rect in rects:
        canvas.rect(*rect, f'fill="{PANEL}"', 5)
    for x, y, room, text in tabs:
        canvas.text(x, y, fit(text, room, SMALL, True), SMALL, bold=True, fill=SOFT)


def _link(scene: Scene, name: str) -> list[Rect]:
    """Return what joins a place to its feeder on the same panel: bands and the run's label."""
    spot = scene.ways.spot(name)
    main, more = scene.labels[name]
    rects = scene.ways.bands(name)
    x, y = spot.label
    right = max(spot.x + spot.w, x + widest(main), x + widest(more))
    if spot.entry == "left":
        edge = scene.ways.spot(scene.ways.above[name])
        x = edge.x + edge.w
        rects.append((x, y, spot.x - x, spot.more[1] + len(more) * LEADING - y))
    else:
        x = spot.lanes[-1][1] if spot.entry == "side" else spot.x
        rects.append((x, y, right - x, spot.y + spot.h - y))
    pad = SLAB - 1
    return [(x - pad, y - pad, w + 2 * pad, h + 2 * pad) for x, y, w, h in rects]


def earth(canvas: Canvas, scene: Scene, w: float) -> None:
    """Paint the earth band."""
    foot = scene.foot
    if foot.bottom <= foot.surface:
        return
    canvas.rect(0, foot.surface, w, foot.bottom - foot.surface, f'fill="{EARTH_FILL}"')
    strokes = "".join(f"M{x:.1f} {foot.surface:.1f}l-5 6" for x in range(8, int(w), 12))
    canvas.path(strokes, f'fill="none" stroke="{marks.EARTH}" stroke-width="1"')
    canvas.line([(0, foot.surface), (w, foot.surface)], f'stroke="{marks.EARTH}" stroke-width="2"')


def foot_items(canvas: Canvas, scene: Scene) -> None:
    """Paint leads, pipes, steel and electrodes."""
    ways, foot = scene.ways, scene.foot
    now = scene.now
    for placed in foot.pipes:
        pipe = placed.pipe
        amps = now.metal.get(pipe.id) if now is not None else None
        thick = scene.thickness(amps)
        xa, xb = placed.x
        reached = zip(pipe.ends, placed.direct, strict=True)
        top = min([placed.y - 24, *(ways.deck_y(end, "G") for end, direct in reached if direct)])
        right = max(xa, xb, placed.label[0] + widest([pipe.text]))
        left = min(xa, xb, placed.label[0])
        canvas.begin("foot", (left, top, right - left, placed.y + 6 - top))
        canvas.open(f'{canvas.mark("metal", pipe.id)} class="flow pipe"', pipe.text.text)
        for end, index, x, direct in zip(
            pipe.ends, pipe.indices, placed.x, placed.direct, strict=True
        ):
            if direct and index is not None:
                canvas.line([(x, ways.deck_y(end, "G")), (x, placed.y)], _lead(thick))
            else:
                canvas.line([(x, placed.y - 5), (x, placed.y + 5)], _lead(2))
        data = line_path([(min(xa, xb), placed.y), (max(xa, xb), placed.y)])
        rim = f'fill="none" stroke="{INK}" stroke-width="{thick + 3:.1f}"'
        canvas.path(data, rim + canvas.part("rim"))
        body = f'fill="none" stroke="{PIPE}" stroke-width="{thick + 1:.1f}"'
        canvas.path(data, body + canvas.part("body"))
        canvas.path(
            data,
            'fill="none" stroke="#ffffff" stroke-width="1.2" stroke-dasharray="7 4"',
        )
        x, y = placed.label
        canvas.text(x, y, pipe.text.text, SMALL, extra=canvas.key(pipe.text.key))
        canvas.close()
    for sunk in foot.buried:
        item = sunk.buried
        title = "; ".join(line.text for line in item.lines)
        kind = "supply-ground" if item.kind is None else "electrode"
        high = ways.deck_y(item.at, "N") if sunk.direct else sunk.y - 4
        canvas.begin(
            "foot", (sunk.x - 12, high, 28 + widest(item.lines), sunk.y + 3 * LEADING + 10 - high)
        )
        canvas.open(f'{canvas.mark(kind, item.id)} class="flow electrode"', title)
        amps = now.electrodes.get(item.id) if now is not None else None
        thick = max(2.0, scene.thickness(amps) if amps is not None else 2.4)
        dash = "" if item.joined else ' stroke-dasharray="4 4"'
        bar = "G" if item.kind is not None or not _has_neutral(scene, item.at) else "N"
        if sunk.direct:
            top = ways.deck_y(item.at, bar)
            if bar == "N":
                start = (ways.start_x(item.at, "N"), top)
                canvas.line([start, (sunk.x, top)], _lead(2))
            lead = [(sunk.x, top), (sunk.x, sunk.y)]
        else:
            lead = [(sunk.x, sunk.y - 4), (sunk.x, sunk.y)]
        canvas.line(lead, _lead(thick) + dash + canvas.part("body"))
        marks.in_earth(canvas, item.kind, sunk.x, sunk.y)
        for k, line in enumerate(item.lines):
            fill = ALARM if "not joined" in line.text else line.fill
            canvas.text(
                sunk.x + 15,
                sunk.y + 13 + k * (LEADING - 0.5),
                line.text,
                SMALL,
                bold=line.bold,
                fill=fill,
                extra=canvas.key(line.key),
            )
        canvas.close()


def _has_neutral(scene: Scene, name: str) -> bool:
    return "N" in scene.terminals_at(name)


def _lead(thick: float) -> str:
    return f'stroke="{marks.EARTH}" stroke-width="{thick:.1f}"'
