"""The pictures of the papers, drawn once for all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from bondwright.devices.band import TimeBand
from bondwright.devices.bands import band
from bondwright.devices.curves import curves_of
from bondwright.draw.drawing import Drawing
from bondwright.draw.plot import time_current_plot
from bondwright.draw.ribbon import ribbon_picture
from bondwright.explain.faults import fault_name, openers
from bondwright.explain.words import amps, capital, device_name, tie_name, volts
from bondwright.papers.content import telling_addition
from bondwright.papers.earth import (
    draw_ground,
    draw_test,
    ground_pictures,
    has_plot,
    test_caption,
)
from bondwright.papers.results import Results
from bondwright.plan.model import Plan
from bondwright.studies.faults import CLEARED_A, FaultResult
from bondwright.studies.flows import Carrier, Flow

if TYPE_CHECKING:
    from bondwright.studies.earth_tests import JudgedTest

_MOST_BANDS: Final = 6
"""Bands that can be told apart in one plot."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its caption, in a wide and a narrow form.

    Attributes:
        caption: what to look at.
        page: for paper and desktop.
        phone: for a narrow screen.
    """

    caption: str
    page: Drawing
    phone: Drawing


@dataclass(frozen=True, slots=True)
class Pictures:
    """Every picture of the papers.

    Attributes:
        site: the installation.
        fault: the fault that tells most.
        without: the same fault with its tie off.
        added: normal use with a tie too many.
        plots: time-current plots.
        ground: the electrodes from above.
        tests: readings of field tests, plotted.
    """

    site: tuple[Picture, ...]
    fault: tuple[Picture, ...]
    without: tuple[Picture, ...]
    added: tuple[Picture, ...]
    plots: tuple[Picture, ...]
    ground: tuple[Picture, ...]
    tests: tuple[Picture, ...]

    def groups(self) -> Iterator[tuple[str, tuple[Picture, ...]]]:
        """Yield each group by its name."""
        yield "site", self.site
        yield "fault", self.fault
        yield "without", self.without
        yield "added", self.added
        yield "plots", self.plots
        yield "ground", self.ground
        yield "tests", self.tests


def draw_pictures(results: Results) -> Pictures:
    """Draw every picture."""
    return Pictures(
        site=(_site(results),),
        fault=tuple(_fault(results)),
        without=tuple(_without(results)),
        added=tuple(_added(results)),
        plots=tuple(_plots(results)),
        ground=tuple(_ground(results)),
        tests=tuple(_tests(results)),
    )


def _ground(results: Results) -> Iterator[Picture]:
    for caption, shade in ground_pictures(results.ground):

        def draw(wide: float, start: str, shade: str = shade) -> Drawing:
            return draw_ground(results.plan, results.ground, shade, wide, start)

        name = shade or "plan"
        yield Picture(caption, draw(640.0, f"ground-{name}-"), draw(360.0, f"ground-{name}-phone-"))


def _tests(results: Results) -> Iterator[Picture]:
    for number, one in enumerate(results.earth_tests):
        if not has_plot(one):
            continue

        def draw(wide: float, high: float, start: str, one: JudgedTest = one) -> Drawing:
            return draw_test(one, wide, high, start)

        name = f"earth-test-{number}-"
        yield Picture(
            test_caption(one), draw(560.0, 300.0, name), draw(360.0, 280.0, f"{name}phone-")
        )


def _ribbons(
    caption: str,
    prefix: str,
    plan: Plan,
    flows: Sequence[Flow] | None = None,
    fault: FaultResult | None = None,
) -> Picture:
    """Draw both forms; ids begin with a prefix of their own, so that all can share a page."""

    def draw(width: Literal["page", "phone"], start: str) -> Drawing:
        return ribbon_picture(plan, flows=flows, fault=fault, width=width, title="", prefix=start)

    return Picture(caption, draw("page", prefix), draw("phone", f"{prefix}phone-"))


def _site(results: Results) -> Picture:
    caption = "The installation: ribbons for lines, neutral and bonding metal; ties as clasps."
    return _ribbons(caption, "", results.plan)


def _fault(results: Results) -> Iterator[Picture]:
    telling = results.telling
    if telling is None:
        return
    caption = f"{fault_name(telling)}: {amps(telling.current)}, out on the line and home on metal."
    yield _ribbons(caption, "fault-", results.plan, telling.flows, telling)


def _without(results: Results) -> Iterator[Picture]:
    if not results.removed:
        return
    worst = max(results.removed, key=lambda r: r.with_tie.loop)
    off = worst.without_tie
    caption = (
        f"{fault_name(off)} without {tie_name(worst.tie)}: {amps(off.current)}, opens: "
        f"{openers(off)}, metal stays at {volts(off.live_after)}."
    )
    gone = (Carrier.TIE, worst.tie.id)
    plan = replace(results.plan, ties=tuple(t for t in results.plan.ties if t != worst.tie))
    left = [flow for flow in off.flows if (flow.carrier, flow.id) != gone]
    yield _ribbons(caption, "without-", plan, left, off)


def _added(results: Results) -> Iterator[Picture]:
    number = telling_addition(results)
    if number is None or not results.added[number].after.objectionable:
        return
    added = results.added[number]
    caption = f"Normal use with a second tie at {added.at}: neutral current on metal."
    yield _ribbons(caption, "added-", results.plan, added.after.flows)


def _plots(results: Results) -> Iterator[Picture]:
    """Plot the devices on the way to the telling fault, with its current, and without its tie."""
    telling = results.telling
    if telling is None:
        return
    bands = list(_bands(results, telling.fault.place))
    markers = [("with the tie", telling.current)]
    off = next((r.without_tie for r in results.removed if r.with_tie is telling), None)
    if off is not None and off.current > CLEARED_A:
        markers.append(("without it", off.current))
    caption = f"When the devices on the way to {telling.fault.place} open: {fault_name(telling)}."
    if off is not None and len(markers) > 1 and not off.openings:
        caption += " Without the tie the current stays left of every band: nothing opens."

    def draw(width: float, height: float, start: str) -> Drawing:
        return time_current_plot(bands, markers, width, height, title=caption, prefix=start)

    yield Picture(caption, draw(640.0, 470.0, "plot-"), draw(360.0, 480.0, "plot-phone-"))


def _bands(results: Results, place: str) -> Iterator[tuple[str, TimeBand]]:
    """Yield the devices on the way to a place, the nearest first."""
    topology, devices = results.plan.topology, results.quiet.devices
    names = [f"main {place}"]
    for run in topology.upstream(place):
        names += [f"device {run}", f"main {results.plan.runs[run].from_}"]
    found = [devices[name] for name in names if name in devices]
    for device in found[:_MOST_BANDS]:
        label = device_name(device.id, device.at, str(device.rating)).removeprefix("the ")
        yield capital(label), band(device.rating, curves_of(results.plan.curves))
