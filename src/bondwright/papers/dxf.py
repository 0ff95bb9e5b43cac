"""Drawings as DXF: the ribbon picture in mm of paper, electrodes from above in true size.

ezdxf writes the file. Everything that stands for something carries its kind and label as extended
data of the application :data:`APP`, so that another program can find it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final
from xml.etree.ElementTree import Element, fromstring  # reads our own pictures only

from bondwright.catalog._data import load_yaml
from bondwright.draw.drawing import Drawing
from bondwright.draw.path_data import strokes
from bondwright.earth.shapes import Electrode, Place
from bondwright.papers.dxf_entities import Entities, colour_tag
from bondwright.papers.dxf_names import Names
from bondwright.units import FOOT, UnitSystem

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

APP: Final = "BONDWRIGHT"
"""Application name of the extended data."""
_LONGEST: Final = 250
"""Letters of a text in extended data; 255 bytes is the format's limit."""
_LEAST_LETTERS: Final = 0.4
"""Height of letters on a small plan of electrodes, m."""
_LETTERS_TO_REACH: Final = 110.0
"""How many times as far a plan reaches as its letters are high: 2.5 mm on 275 mm."""
CAPITALS: Final = 0.68
"""Height of a capital over the size of its font."""
_SVG: Final = "{http://www.w3.org/2000/svg}"
_MM, _M, _FT = 4, 6, 2
_KINDS: Final = {
    "run": "E-POWR-LINE",
    "device": "E-POWR-DEVICE",
    "main": "E-POWR-DEVICE",
    "tie": "E-GRND-TIE",
    "slot": "E-GRND-TIE",
    "missing-tie": "E-GRND-TIE",
    "electrode": "E-GRND-ELECTRODE",
    "supply-ground": "E-GRND-ELECTRODE",
    "metal": "E-GRND-PIPE",
    "fault": "E-ANNO-FAULT",
}
_CLASSES: Final = {
    "bus": "E-POWR-BUS",
    "flow line": "E-POWR-LINE",
    "flow neutral": "E-POWR-NEUTRAL",
    "flow metal": "E-GRND-METAL",
    "legend": "E-ANNO-LEGEND",
    "flash": "E-ANNO-FAULT",
    "glow": "E-ANNO-FAULT",
}
_WHITE: Final = "#ffffff"
_INK: Final = "#16202a"
_WITH_WHITE: Final = frozenset({"E-POWR-NEUTRAL", "E-POWR-BUS"})
_PALE, _DARK = 0.8, 0.4
"""Lighter than the one, or darker than the other, a colour is lost on some screens."""
_Point = tuple[float, float]


@cache
def layers() -> Mapping[str, Mapping[str, Any]]:
    """Return the layers by name: colour, linetype, what is on it."""
    text = files("bondwright.papers").joinpath("data", "layers.yaml").read_text(encoding="utf-8")
    raw: dict[str, dict[str, Any]] = load_yaml(text)["layers"]
    return raw


def picture_dxf(drawing: Drawing) -> bytes:
    """Return one of our pictures as DXF, 1 mm for each px, y upwards.

    Args:
        drawing: a picture of the drawing layer; its halos and pale fills are left out.
    """
    doc = _document(_MM)
    entities = Entities(doc, APP)
    _group(entities, fromstring(drawing.svg), "E-ANNO-FRAME", ("", ""), (0.0, 0.0))
    return entities.into(_written(doc)).encode("utf-8")


def ground_dxf(
    electrodes: Mapping[str, Electrode],
    others: frozenset[str],
    places: Mapping[str, Place],
    ways: Mapping[str, Sequence[Place]],
    system: UnitSystem = "us",
) -> bytes:
    """Return the electrodes from above as DXF in true size, depth as z.

    Args:
        electrodes: metal in the ground, by label.
        others: labels of those that are a neighbour's.
        places: places whose position is known, by label.
        ways: metal that leads away over the ground, by label.
        system: feet or metres.
    """
    doc = _document(_FT if system == "us" else _M)
    per = 1 / FOOT if system == "us" else 1.0
    space = doc.modelspace()
    size = _letters(electrodes, places, ways) * per
    names = Names(size)
    for name, electrode in electrodes.items():
        layer = "E-GRND-OTHERS" if name in others else "E-GRND-ELECTRODE"
        kind = "neighbour" if name in others else "electrode"
        for wire in electrode.wires:
            ends = [(x * per, y * per, -z * per) for x, y, z in (wire.start, wire.end)]
            line = space.add_line(ends[0], ends[1], dxfattribs={"layer": layer})
            _own(line, kind, name)
            if wire.start[:2] == wire.end[:2]:
                spot = ends[0][:2]
                circle = space.add_circle(spot, size / 2, dxfattribs={"layer": layer})
                _own(circle, kind, name)
                names.keep_free(spot)
            else:
                names.keep_clear(ends[0][:2], ends[1][:2])
    for name, spot in places.items():
        at = (spot[0] * per, spot[1] * per)
        square = [(at[0] + dx * size, at[1] + dy * size) for dx, dy in _SQUARE]
        outline = space.add_lwpolyline(square, close=True, dxfattribs={"layer": "E-POWR-PLACE"})
        _own(outline, "place", name)
        names.keep_free(at)
    for name, way in ways.items():
        path = space.add_lwpolyline(
            [(x * per, y * per) for x, y in way], dxfattribs={"layer": "E-GRND-PIPE"}
        )
        _own(path, "metal", name)
        for a, b in pairwise(way):
            names.keep_clear((a[0] * per, a[1] * per), (b[0] * per, b[1] * per))
    for name, electrode in electrodes.items():
        x, y, _ = electrode.wires[0].start
        _label(space, names.beside((x * per, y * per), name), name, size)
    for name, spot in places.items():
        _label(space, names.beside((spot[0] * per, spot[1] * per), name), name, size)
    for name, way in ways.items():
        k = (len(way) - 1) // 2  # the middle leg: its ends stand in a place's name
        a, b = way[k], way[min(k + 1, len(way) - 1)]
        middle = ((a[0] + b[0]) / 2 * per, (a[1] + b[1]) / 2 * per)
        _label(space, names.beside(middle, name), name, size)
    return _written(doc).encode("utf-8")


def _letters(
    electrodes: Mapping[str, Electrode],
    places: Mapping[str, Place],
    ways: Mapping[str, Sequence[Place]],
) -> float:
    """Return how high letters are, m: to be read where the whole fits on a sheet."""
    spots = [end[:2] for one in electrodes.values() for w in one.wires for end in (w.start, w.end)]
    spots += [*places.values(), *(spot for way in ways.values() for spot in way)]
    reach = max((max(axis) - min(axis) for axis in zip(*spots, strict=True)), default=0.0)
    return max(_LEAST_LETTERS, reach / _LETTERS_TO_REACH)


_SQUARE: Final = ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))


def _document(units: int) -> Document:
    from ezdxf.filemanagement import new

    with _fixed():
        doc = new("R2010", setup=["linetypes"], units=units)
    doc.appids.add(APP)
    for name, one in layers().items():
        doc.layers.add(name, color=one["colour"], linetype=one["linetype"]).description = one[
            "about"
        ]
    return doc


@contextmanager
def _fixed() -> Iterator[None]:
    """Keep the time and random names out of a file, so that it is the same each time."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _written(doc: Document) -> str:
    out = io.StringIO(newline="\n")
    for kind in sorted(doc.entitydb.dxf_types_in_use()):
        doc.classes.add_class(kind)  # or ezdxf adds them in the order of a set, another each time
    with _fixed():
        doc.write(out)
    return out.getvalue()


def _own(entity: Any, kind: str, name: str) -> None:
    """Say in extended data what an entity stands for."""
    if name:
        entity.set_xdata(APP, [(1000, kind[:_LONGEST]), (1000, name[:_LONGEST])])


def _label(space: Modelspace, at: _Point, text: str, high: float) -> None:
    attributes = {"layer": "E-ANNO-TEXT", "height": high}
    space.add_text(_plain(text), dxfattribs=attributes).set_placement(at)


def _plain(text: str) -> str:
    """Return a text without what the format would read as a code."""
    return text.replace("%%", "% %").replace("\n", " ").replace("^", "^ ")


def _layer(element: Element, above: str) -> tuple[str, tuple[str, str] | None]:
    """Return the layer of a group and what it stands for, where it says so."""
    kind, name = element.get("data-kind"), element.get("data-id")
    words = element.get("class", "")
    found = _CLASSES.get(words) or _KINDS.get(kind or "")
    if found is None and words.startswith("station"):
        found = "E-POWR-PLACE"
    if found is None and kind is not None:
        found = above
    conductor = element.get("data-conductor")
    label = f"{name} {conductor}" if conductor else name
    return found or above, (kind, label or "") if kind is not None else None


def _group(
    space: Entities, group: Element, layer: str, owner: tuple[str, str], shift: _Point
) -> None:
    before = ""
    children = list(group)
    for place, element in enumerate(children):
        tag = element.tag.removeprefix(_SVG)
        here, own = _layer(element, layer)
        whose = own or owner
        if tag == "g":
            _group(space, element, here, whose, shift)
        elif tag == "text":
            _text(space, element, shift)
        elif tag in {"path", "rect", "circle"}:
            if tag == "path" and element.get("d") == before:
                continue  # the hatch on a ribbon
            later = children[place + 1] if place + 1 < len(children) else None
            if tag == "path" and _is_rim(element, later, here):
                continue
            before = element.get("d", "") if tag == "path" else ""
            _shape(space, tag, element, here, whose, shift)


def _is_rim(element: Element, later: Element | None, layer: str) -> bool:
    """Whether a path only edges the one that follows it, or clears the way for it."""
    if element.get("stroke") == _WHITE:
        return layer not in _WITH_WHITE
    same = later is not None and later.get("d") == element.get("d")
    return same and element.get("stroke") == _INK and element.get("fill") == "none"


def _shape(
    space: Entities,
    tag: str,
    element: Element,
    layer: str,
    owner: tuple[str, str],
    shift: _Point,
) -> None:
    fill, stroke = element.get("fill", "none"), element.get("stroke", "none")
    wide = float(element.get("stroke-width", "1"))
    if stroke == "none" and (fill == "none" or _light(fill) > _PALE):
        return
    shift = _shifted(element, shift)
    if tag == "circle":
        at = _at(float(element.get("cx", 0)), float(element.get("cy", 0)), shift)
        space.circle(at, float(element.get("r", 0)), layer=layer, owner=_short(owner))
        return
    every = _rect(element) if tag == "rect" else list(strokes(element.get("d", "")))
    for points, closed in every:
        corners = [_at(x, y, shift) for x, y in points]
        if len(corners) < 2:
            continue
        space.polyline(
            corners,
            layer=layer,
            colour=_colour(stroke if stroke != "none" else fill),
            closed=closed,
            wide=wide if stroke != "none" and wide > 2 else 0.0,
            owner=_short(owner),
        )


def _short(owner: tuple[str, str]) -> tuple[str, str]:
    return owner[0][:_LONGEST], owner[1][:_LONGEST]


def _text(space: Entities, element: Element, shift: _Point) -> None:
    said = "".join(element.itertext())
    size = float(element.get("font-size", "11"))
    long = float(element.get("textLength", "0"))
    x, y = float(element.get("x", 0)), float(element.get("y", 0))
    if not said.strip() or long <= 0:
        return
    anchor = element.get("text-anchor", "start")
    left = x - {"middle": long / 2, "end": long}.get(anchor, 0.0)
    shift = _shifted(element, shift)
    space.text(
        _plain(said),
        _at(left, y, shift),
        _at(left + long, y, shift),
        high=size * CAPITALS,
        layer="E-ANNO-TEXT",
        colour=_colour(element.get("fill", _INK)),
    )


def _shifted(element: Element, shift: _Point) -> _Point:
    found = re.fullmatch(r"translate\((-?[\d.]+) (-?[\d.]+)\)", element.get("transform", ""))
    return (shift[0] + float(found[1]), shift[1] + float(found[2])) if found else shift


def _at(x: float, y: float, shift: _Point) -> _Point:
    return (x + shift[0], -(y + shift[1]))


def _rect(element: Element) -> list[tuple[list[_Point], bool]]:
    x, y, w, h = (float(element.get(key, 0)) for key in ("x", "y", "width", "height"))
    return [([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], True)]


def _triple(colour: str) -> tuple[int, int, int]:
    value = int(colour.removeprefix("#"), 16)
    return value >> 16, value >> 8 & 255, value & 255


def _light(colour: str) -> float:
    red, green, blue = _triple(colour)
    return (0.299 * red + 0.587 * green + 0.114 * blue) / 255


@cache
def _colour(colour: str) -> str:
    """Return the tag of a colour that shows on a dark and on a light screen alike."""
    triple = _triple(colour)
    if max(triple) < _DARK * 255:
        return colour_tag(None)
    return colour_tag(triple) if _light(colour) <= _PALE else ""
