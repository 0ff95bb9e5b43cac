"""A person's own time-current curves in a description: sound ones, and devices that name them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.edges import Edge, Point, crossing
from bondwright.site.model import Curve, CurvePoint, Site
from bondwright.site.shape import did_you_mean, nearest
from bondwright.site.topology import Problem


def points(edge: list[CurvePoint]) -> tuple[Point, ...]:
    """Return the points of an edge as (current [A], time [s])."""
    return tuple((point.current, point.time) for point in edge)


def curve_problems(curves: Mapping[str, Curve]) -> Iterator[Problem]:
    """Yield what can't be a time-current curve."""
    for name, curve in curves.items():
        if "," in name or name != " ".join(name.split()):
            problem = "is a name that no device can give"
            hint = "leave out commas and double spaces"
            yield Problem(("curves", name), problem, hint, on_key=True)
        back = [*_turns(name, "quick", curve.quick), *_turns(name, "slow", curve.slow)]
        yield from back
        if back:
            continue
        at = crossing(Edge(points(curve.quick)), Edge(points(curve.slow)))
        if at is not None:
            hint = "'quick' is the lower edge on the sheet; read both again, or swap them"
            problem = f"is slower than 'slow' at {at:g} A"
            yield Problem(("curves", name, "quick"), problem, hint, on_key=True)


def _turns(name: str, word: str, edge: list[CurvePoint]) -> Iterator[Problem]:
    for index, (before, here) in enumerate(pairwise(edge), start=1):
        loc = ("curves", name, word, index)
        if here.current < before.current:
            hint = "list the points by rising current"
            problem = f"is less than the current of the point before it, {before.current:g} A"
            yield Problem((*loc, "current"), problem, hint)
        if here.time > before.time:
            hint = (
                "a device takes no more time at a greater current; list the points by falling time"
            )
            problem = f"is more than the time of the point before it, {before.time:g} s"
            yield Problem((*loc, "time"), problem, hint)


def named_curves(site: Site) -> Iterator[Problem]:
    """Yield the devices that name a curve which isn't described."""
    for loc, device in _devices(site):
        name = device.curve_name
        if name is None or name in site.curves:
            continue
        near = nearest(name, site.curves)
        known = ", ".join(repr(known) for known in site.curves)
        hint = (
            did_you_mean(near)
            if near
            else f"there are: {known}"
            if known
            else "give its points under 'curves'"
        )
        yield Problem(loc, f"names the curve {name!r}, which is not under 'curves'", hint)


def _devices(site: Site) -> Iterator[tuple[tuple[str, str, str], DeviceRating]]:
    for name, place in site.places.items():
        if place.main is not None:
            yield ("places", name, "main"), place.main
    for name, run in site.runs.items():
        if run.device is not None:
            yield ("runs", name, "device"), run.device
    for name, array in site.arrays.items():
        if array.device is not None:
            yield ("arrays", name, "device"), array.device
