"""Least sizes of bonds and electrode conductors, by an own reading of the tables.

Where more than one conductor could be the one that a size follows, the least answer counts: an
objection is made only where every reading gives more than what was called good.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from tests.second.judge import Opinion, Second
from tests.second.opens import rating_of
from tests.second.tables import (
    area,
    electrode_conductor,
    equipment_ground,
    jumper,
    protective_conductor,
    withstands,
)

ROUND: Final = 0.985
"""Areas by gauge formula and as the tables print them differ by up to 1 %."""
_JUMPERS: Final = {"main bonding jumper", "system bonding jumper", "supply-side bonding jumper"}
# Least copper that is enough for an electrode conductor that leads to nothing else (250.66).
_CAPS: Final = {
    "rod": {"Cu": "6 AWG", "Al": "4 AWG"},
    "plate": {"Cu": "6 AWG", "Al": "4 AWG"},
    "concrete": {"Cu": "4 AWG"},
    "ring": {"Cu": "2 AWG"},
}


def sizes(second: Second) -> Opinion:
    """Look at every row of the schedule that is said to hold and has a conductor."""
    found = Opinion()
    plan = second.plan
    iec = str(plan.site.rules).startswith("iec")
    for item in plan.schedule:
        if str(item.verdict) != "holds" or item.chosen is None:
            continue
        has = area(str(item.chosen.size))
        purpose, metal = str(item.purpose), str(item.chosen.material.value)
        if purpose == "equipment grounding conductor" and item.about in plan.runs:
            if iec:
                _protective(second, item, has, found)
                continue
            least = _ground(second, item, metal)
        elif iec:
            continue
        elif purpose in _JUMPERS:
            least = _jumper(second, item, metal)
        elif purpose == "grounding electrode conductor" and item.about in plan.site.electrodes:
            least = _electrode(second, item, metal)
        else:
            continue
        if least is None:
            continue
        found.looked["size"] += 1
        if has < least * ROUND:
            said = f"{item.chosen} stands, {least:.3g} mm2 is asked"
            found.object("undersized", item.id, said)
    return found


def _upstream(second: Second, place: str) -> Iterator[str]:
    """Yield the runs from a place up to where its system begins."""
    plan, origin, seen = second.plan, second.origin(place), set()
    while place != origin and place not in seen:
        seen.add(place)
        run = second.state.topology.fed_by.get(place)
        if run is None:
            return
        yield run
        place = plan.site.runs[run].from_


def _device(second: Second, run: str) -> str | None:
    """Return the device that protects a run, as it is written."""
    site = second.plan.site
    for name in (run, *_upstream(second, site.runs[run].from_)):
        one = site.runs[name]
        if name != run:
            place = site.places.get(one.to)
            if place is not None and place.main is not None:
                return str(place.main)
        if one.device is not None:
            return str(one.device)
    return None


def _ground(second: Second, item: Any, metal: str) -> float | None:
    run = second.plan.site.runs[item.about]
    text = _device(second, item.about)
    if text is None or run.motor_current is not None:
        return None
    least = equipment_ground(rating_of(text), metal)
    if least is None:
        return None
    one = area(str(run.lines.size))
    counts = str(run.enlarged) == "voltage drop" or second.plan.site.rules == "nec-2017"
    if run.needed is not None and counts:
        need = area(str(run.needed.size)) * run.needed.sets
        least *= max(1.0, one * run.lines.sets / need)
    if not (metal == "Al" and str(run.lines.material.value) == "Cu"):
        least = min(least, one)
    return least


def _supply(second: Second, place: str) -> list[tuple[float, str]]:
    """Return what may be the supply conductors of a place: mm2 and metal of each candidate."""
    runs = second.plan.site.runs
    if place == second.origin(place):
        names = [name for name, run in runs.items() if run.from_ == place]
    else:
        names = list(_upstream(second, place))
    found = []
    for name in names:
        lines = runs[name].lines
        found.append((area(str(lines.size)) * lines.sets, str(lines.material.value)))
    return found


def _jumper(second: Second, item: Any, metal: str) -> float | None:
    if item.about in second.plan.runs:  # a supply-side jumper, one in each raceway or one for all
        lines = second.plan.runs[item.about].lines
        sets = 1 if item.chosen.sets > 1 else lines.sets
        return jumper(area(str(lines.size)) * sets, str(lines.material.value), metal)
    supplies = _supply(second, item.from_)
    return min((jumper(mm2, of, metal) for mm2, of in supplies), default=None)


def _electrode(second: Second, item: Any, metal: str) -> float | None:
    electrode = second.plan.site.electrodes[item.about]
    if electrode.lightning or electrode.shared_by:
        return None
    supplies = _supply(second, electrode.at)
    least = min((electrode_conductor(mm2, of, metal) for mm2, of in supplies), default=None)
    cap = _CAPS.get(str(electrode.kind), {}).get(metal)
    if least is not None and cap is not None:
        least = min(least, area(cap))
    # An electrode beyond what its building has to have is of no size (250.54).
    return None if "no size by rule" in item.remark else least


def _protective(second: Second, item: Any, has: float, found: Opinion) -> None:
    """By IEC 60364-5-54: the table by the line, or else the heat of the fault at its far end."""
    run = second.plan.runs[item.about]
    found.looked["size"] += 1
    same = str(run.lines.material) == str(item.chosen.material)
    if same and has >= protective_conductor(area(str(run.lines.size))) * ROUND:
        return
    told = second.follow(f"{run.to}:{run.on[0]}", f"{run.to}:G")
    bears = withstands(str(item.chosen.size), str(item.chosen.material.value), 70.0, 160.0)
    taken = told.energy.get(f"{run.id} G", 0.0)
    if told.sees and not told.limits and taken > 1.5 * bears:
        said = f"{item.chosen} bears {bears:.3g} A2s, a fault at its end gives it {taken:.3g} A2s"
        found.object("undersized", item.id, said)
