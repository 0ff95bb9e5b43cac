"""The pictures of the papers, drawn once for all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from bondwright.draw.drawing import Drawing
from bondwright.draw.part import LARGE, around, boards, flows_in, part_of
from bondwright.draw.plot import time_current_plot
from bondwright.draw.ribbon import ribbon_picture
from bondwright.explain.faults import fault_name, openers
from bondwright.explain.words import amps, tie_name, volts
from bondwright.papers.content import telling_addition
from bondwright.papers.curves import Chain, chain_bands, chains
from bondwright.papers.earth import (
    draw_ground,
    draw_test,
    ground_pictures,
    has_plot,
    test_caption,
)
from bondwright.papers.permit import state_plan
from bondwright.papers.results import Results
from bondwright.plan.model import Plan
from bondwright.rules.families import unit_system
from bondwright.studies.faults import CLEARED_A, FaultResult
from bondwright.studies.flows import Carrier, Flow

if TYPE_CHECKING:
    from bondwright.studies.earth_tests import JudgedTest

_TALL: Final = 0.7
"""Height over width above which a plan of the ground is drawn narrower."""


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
        plots: time-current plots; that of the fault that tells most first.
        states: normal use in each way the site is run, where there are several.
        ground: the electrodes from above.
        tests: readings of field tests, plotted.
    """

    site: tuple[Picture, ...]
    fault: tuple[Picture, ...]
    without: tuple[Picture, ...]
    added: tuple[Picture, ...]
    plots: tuple[Picture, ...]
    states: tuple[Picture, ...]
    ground: tuple[Picture, ...]
    tests: tuple[Picture, ...]

    def groups(self) -> Iterator[tuple[str, tuple[Picture, ...]]]:
        """Yield each group by its name."""
        yield "site", self.site
        yield "fault", self.fault
        yield "without", self.without
        yield "added", self.added
        yield "plots", self.plots
        yield "states", self.states
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
        states=tuple(_states(results)),
        ground=tuple(_ground(results)),
        tests=tuple(_tests(results)),
    )


def _ground(results: Results) -> Iterator[Picture]:
    system = unit_system(results.plan.site.rules)
    for caption, shade in ground_pictures(results.ground, system):

        def draw(wide: float, start: str, shade: str = shade) -> Drawing:
            return draw_ground(results.plan, results.ground, shade, wide, start)

        name = shade or "plan"
        page = draw(640.0, f"ground-{name}-")
        if page.height_px > _TALL * page.width_px:
            # on a sheet its height is what counts: narrower, its words come out larger
            page = draw(430.0, f"ground-{name}-")
        yield Picture(caption, page, draw(360.0, f"ground-{name}-phone-"))


def _tests(results: Results) -> Iterator[Picture]:
    system = unit_system(results.plan.site.rules)
    for number, one in enumerate(results.earth_tests):
        if not has_plot(one):
            continue

        def draw(wide: float, high: float, start: str, one: JudgedTest = one) -> Drawing:
            return draw_test(one, wide, high, start, system)

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
    part = boards(results.plan)
    if part is not results.plan:
        caption += " What feeds something else, and what has a tie; picture.svg has everything."
    return _ribbons(caption, "", part)


def whole_picture(results: Results, pictures: Pictures) -> Drawing:
    """Return the whole installation, also where the papers show a part of it."""
    if boards(results.plan) is results.plan:
        return pictures.site[0].page
    return ribbon_picture(results.plan, title="")


def _states(results: Results) -> Iterator[Picture]:
    if len(results.states) < 2:
        return
    every = {one.id: one for one in results.plan.states}
    for number, state in enumerate(results.states):
        plan = results.plan
        if state.id in every:
            plan = state_plan(plan, every[state.id])
        part = boards(plan)
        caption = f"Normal use, {state.id}: ribbons as wide as their currents."
        yield _ribbons(caption, f"state-{number}-", part, flows_in(part, state.stray.flows))


def _fault(results: Results) -> Iterator[Picture]:
    telling = results.telling
    if telling is None:
        return
    caption = f"{fault_name(telling)}: {amps(telling.current)}, out on the line and home on metal."
    part = around(results.plan, telling)
    yield _ribbons(caption, "fault-", part, flows_in(part, telling.flows), telling)


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
    part = around(plan, worst.with_tie)
    left = [f for f in flows_in(part, off.flows) if (f.carrier, f.id) != gone]
    yield _ribbons(caption, "without-", part, left, off)


def _added(results: Results) -> Iterator[Picture]:
    number = telling_addition(results)
    if number is None or not results.added[number].after.objectionable:
        return
    added = results.added[number]
    caption = f"Normal use with a second tie at {added.at}: neutral current on metal."
    part = results.plan
    if len(part.site.places) > LARGE:
        part = part_of(part, [added.at])
    yield _ribbons(caption, "added-", part, flows_in(part, added.after.flows))


def _plots(results: Results) -> Iterator[Picture]:
    """Plot the telling fault with and without its tie, and then every other chain of devices."""
    yield from _telling_plot(results)
    done = results.telling.fault.place if results.telling is not None else ""
    for number, chain in enumerate(chains(results)[0]):
        if chain.place == done:
            continue
        lines = [("fault to metal", chain.fault.current)] if chain.fault is not None else []

        def draw(
            wide: float,
            high: float,
            start: str,
            chain: Chain = chain,
            lines: Sequence[tuple[str, float]] = tuple(lines),
        ) -> Drawing:
            title = chain.caption
            return time_current_plot(chain.bands, lines, wide, high, title=title, prefix=start)

        name = f"plot-{number}-"
        page, phone = draw(640.0, 320.0, name), draw(360.0, 480.0, f"{name}phone-")
        yield Picture(chain.caption, page, phone)


def _telling_plot(results: Results) -> Iterator[Picture]:
    telling = results.telling
    if telling is None:
        return
    bands = chain_bands(results, telling.fault.place)
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
