"""What a layout is made of: items to be laid out, and the spots where they come to stand."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

Entry = Literal["", "left", "side", "top"]
Lane = tuple[Literal["h", "v"], float]
"""A stretch of bus: it lies with its top at a y, or hangs with its left side at an x, px."""

GAP: Final = 22.0
"""Between neighbouring blocks, px."""
PAD: Final = 8.0
"""Inside a box, px."""
TAB: Final = 19.0
"""Height of the strip that carries a building's name, px."""
LEAD_PITCH: Final = 13.0
"""Between neighbouring leads to the foot, px."""
MARGIN: Final = 14.0
"""Around the whole, px."""
STUB: Final = 24.0
"""From the left side of a rail's last ribbon to the boxes beside it, px."""
STACK_GAP: Final = 14.0
"""Between blocks beside one rail, px."""


@dataclass(frozen=True, slots=True)
class LabelSize:
    """The room a run's label takes.

    Attributes:
        width: px.
        height: of its main lines, px.
        more: of the lines with its currents, px.
    """

    width: float
    height: float
    more: float = 0.0


@dataclass(frozen=True, slots=True)
class Item:
    """A place to be laid out.

    Attributes:
        name: its id.
        feeds: ids of what it feeds, in order.
        width: natural width of its box, px.
        head: height of its box above its deck, px.
        leads: how many leads go from its metal down to the foot.
        group: building it stands in.
        tab: whether its building's name is written above it.
    """

    name: str
    feeds: tuple[str, ...]
    width: float
    head: float
    leads: int = 0
    group: str | None = None
    tab: bool = False


@dataclass(slots=True)
class Spot:
    """Where a place, and the run that feeds it, came to stand.

    Attributes:
        x: left edge of its box, px.
        y: top edge of its box, px.
        w: width of its box, px.
        h: height of its box, px.
        strip: left edge of the band where it comes from above or goes on below, px.
        deck: top of the band on its deck, px.
        entry: where its run comes in: from its feeder to the left, from a bus that hangs at its
            side, from a bus above ("" for none).
        lanes: the bus that its run hangs from, from its feeder's deck on.
        tap: where its run goes straight on below a bus that hangs: y of its start, px.
        label: x and y of the top left corner of the run's label, px.
        more: the same of the label's currents.
        block: x, y, w, h of all that it feeds and itself, px.
    """

    x: float
    y: float
    w: float
    h: float
    strip: float
    deck: float
    entry: Entry = ""
    lanes: tuple[Lane, ...] = ()
    tap: float | None = None
    label: tuple[float, float] = (0.0, 0.0)
    more: tuple[float, float] = (0.0, 0.0)
    block: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Layout:
    """A finished layout.

    Attributes:
        spots: by id.
        width: px.
        height: px.
    """

    spots: Mapping[str, Spot]
    width: float
    height: float


LabelOf = Callable[[str, float], LabelSize]


def leads_width(count: int) -> float:
    """Return the width of the channel for a number of leads, px."""
    return count * LEAD_PITCH + 5 if count else 0.0


def parents_first(items: Mapping[str, Item], roots: Sequence[str]) -> list[str]:
    """Return ids of all places, every feeder before what it feeds."""
    order: list[str] = []
    stack = list(reversed(roots))
    while stack:
        name = stack.pop()
        order.append(name)
        stack.extend(reversed(items[name].feeds))
    return order
