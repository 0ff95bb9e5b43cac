"""Everything a ribbon picture is painted from, and what its painters share."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bondwright.draw.colours import Colour, Palette, palette
from bondwright.draw.content import (
    Currents,
    Line,
    Station,
)
from bondwright.draw.foot import Foot
from bondwright.draw.lettering import width
from bondwright.draw.spots import PAD, leads_width
from bondwright.draw.svg import INK, Canvas
from bondwright.draw.ways import Ways
from bondwright.plan.model import Plan, PlannedRun

DIM = 0.11
"""A colour of less luminance is hard to see on a dark screen."""
BAR = 2.6
"""Width of a bar of a bus, px."""
SLAB = 7.0
"""How far a building's panel reaches beyond what stands on it, px."""
PANEL = "#eef2f7"
PANEL_EDGE = "#c3ccd8"
EARTH_FILL = "#f3ece1"
PIPE = "#6d7985"


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything a picture is painted from.

    Attributes:
        plan: the plan.
        ways: the layout and its ways.
        stations: what is said about each place.
        labels: main lines and current lines of the run to each place.
        now: currents, or None.
        leads: number of leads of each place.
        foot: the foot.
        full: the greatest current, which gets the widest ribbon, A; 0 without currents.
        rules: rule set whose conductor colours are used.
        lit: ids of the runs that a fault current lights up.
    """

    plan: Plan
    ways: Ways
    stations: Mapping[str, Station]
    labels: Mapping[str, tuple[Sequence[Line], Sequence[Line]]]
    now: Currents | None
    leads: Mapping[str, int]
    foot: Foot
    full: float
    rules: str
    lit: frozenset[str] = frozenset()
    terminals: dict[str, tuple[str, ...]] = field(default_factory=dict, init=False, repr=False)

    def run_to(self, name: str) -> PlannedRun | None:
        """Return the run that feeds a place."""
        run = self.plan.topology.fed_by.get(name)
        return self.plan.runs[run] if run is not None else None

    def palette_at(self, name: str) -> Palette:
        """Return the colours of the system at a place (a transformer's: its secondary's)."""
        system = self.plan.topology.systems.get(name)
        volts = system.voltages.line_to_line if system is not None else 0.0
        return palette(self.rules, volts)

    def terminals_at(self, name: str) -> tuple[str, ...]:
        """Return the terminals with a bar at a place."""
        tree = self.plan.topology
        found = self.terminals.get(name)
        if found is None:
            found = ("G",)
            if name in tree.systems:
                neutral = ("N",) if tree.neutral_at(name) else ()
                found = (*tree.lines_at(name), *neutral, "G")
            self.terminals[name] = found
        return found

    def thickness(self, amps: float | None) -> float:
        """Return the width of a ribbon that carries a current (None: not known), px."""
        most = self.ways.band.ribbon
        if amps is None or self.full <= 0:
            return most * 0.72
        return max(1.6, most * math.sqrt(min(1.0, amps / self.full)))


def run_terminals(run: PlannedRun) -> tuple[str, ...]:
    """Return the terminals that a run joins, in the order of a band."""
    metal = run.metal is not None or (
        run.raceway is not None and run.raceway.kind.is_metal and run.raceway_bonded
    )
    return (*run.on, *(("N",) if run.neutral is not None else ()), *(("G",) if metal else ()))


def stroke(
    canvas: Canvas,
    data: str,
    colour: Colour,
    thick: float,
    terminal: str,
    hatch: str,
    *,
    raceway: bool = False,
) -> None:
    """Paint one ribbon or bar: lines solid, neutral outlined, metal hatched across."""
    outlined = terminal == "N" or raceway or colour.luminance > 0.5
    if outlined:
        rim = f'fill="none" stroke="{INK}" stroke-width="{thick + 2:.1f}"'
        canvas.path(data, rim + canvas.part("rim"))
    elif colour.luminance < DIM and canvas.part("rim"):
        # On a dark screen a dark line needs a rim; on paper it has none.
        rim = f'fill="none" stroke="{INK}" stroke-width="{thick + 2:.1f}"'
        canvas.path(data, rim + canvas.part("rim dim"))
    body = f'fill="none" stroke="{colour.fill}" stroke-width="{thick:.1f}"'
    canvas.path(data, body + canvas.part("body"))
    if terminal == "G" and thick > 1.5:
        canvas.path(
            data,
            f'fill="none" stroke="{hatch}" stroke-width="{thick - 0.8:.1f}" '
            f'stroke-dasharray="{"2.4 2.4" if raceway else "1.3 4"}"' + canvas.part("hatch"),
        )


def clasp_spots(scene: Scene, name: str, count: int) -> list[float]:
    """Return free places on a deck for clasps and the flash, from the left, px."""
    ways = scene.ways
    spot, size = ways.spot(name), ways.band.size
    lead = leads_width(scene.leads.get(name, 0))
    begin = spot.x + 34 + lead
    if spot.entry == "top":
        begin = spot.strip + size + 13
    taken = []
    for child in ways.below.get(name, ()):
        other = ways.spot(child)
        if other.entry != "left":
            x = other.strip if len(other.lanes) == 1 else other.lanes[1][1]
            taken.append((x, x + size))
    found: list[float] = []
    x = begin
    while len(found) < count:
        clash = next((end for start, end in taken if start - 13 < x < end + 13), None)
        if clash is not None and x < spot.x + spot.w:
            x = clash + 13
            continue
        found.append(x)
        x += 34
    return [min(at, spot.x + spot.w - 14) for at in found]


def text_left(scene: Scene, name: str) -> float:
    """Return where the text of a station begins, px."""
    spot = scene.ways.spot(name)
    if spot.entry == "top":
        return spot.strip + scene.ways.band.size + 8
    return spot.x + PAD + 2


def tag_width(text: str) -> float:
    """Return the width of a tag, px."""
    return width(text, 10, True) + 8


def tags_room(tags: Sequence[str]) -> float:
    """Return the width that a row of tags takes, px."""
    return sum(tag_width(text) + 3 for text in tags)


def shown_tags(tags: Sequence[str], room: float) -> list[str]:
    """Return the tags that find room, the rest as a number."""
    shown: list[str] = []
    for k, text in enumerate(tags):
        rest = [f"+{len(tags) - k - 1}"] if k < len(tags) - 1 else []
        if tags_room([*shown, text, *rest]) > room:
            return [*shown, f"+{len(tags) - k}"]
        shown.append(text)
    return shown
