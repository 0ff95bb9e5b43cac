"""What a fault loop may read by IEC 60364: by table 41.1, or by the residual current."""

from __future__ import annotations

from bondwright.catalog.device_rating import DeviceKind
from bondwright.catalog.device_settings import GFCI
from bondwright.catalog.iec_tables import iec_number
from bondwright.plan.model import Plan
from bondwright.rules.families import earthing_of
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.installation import devices_ahead
from bondwright.rules.iec.ruleset import clause
from bondwright.rules.iec.times import disconnection_time, loop_limit
from bondwright.rules.inputs import CannotTellError
from bondwright.site.model import PlaceKind
from bondwright.studies.disconnection import FINAL_KINDS, to_earth


def loop_is_read(plan: Plan) -> bool:
    """Whether a loop test says anything: not in an IT system, which has no loop to earth."""
    return plan.site.earthing != Earthing.IT.value


def loop_reading_limit(plan: Plan, place: str) -> tuple[float | None, str]:
    """Return the most that a loop tester may read at a place, ohm, and where that is from.

    Args:
        plan: of a site that is judged by IEC 60364.
        place: behind a device.
    """
    site, rules, tree = plan.site, plan.site.rules, plan.topology
    ahead = [device for _, device in devices_ahead(tree, place)]
    if earthing_of(site) is Earthing.TT:
        residual = next(
            (d.residual_a for d in ahead if d.residual_a and d.residual_type != GFCI), None
        )
        if residual is None:
            return None, ""
        touch = iec_number("touch_limit", "ac").value
        source = clause("iec-tt-residual-device", rules)
        return touch / residual, f"{source}: {touch:g} V / {1000 * residual:g} mA"
    device = next((d for d in ahead if d.kind is not DeviceKind.RCD), None)
    if device is None:
        return None, ""
    node = site.places[place]
    volts = to_earth(tree.systems[place].voltages)
    try:
        time = disconnection_time(
            volts,
            earthing_of(site),
            device.rating_a,
            rules,
            final=node.kind in FINAL_KINDS and not tree.feeds.get(place),
            sockets=node.kind is PlaceKind.OUTLET,
        )
        limit = loop_limit(device, time.time_s, volts, rules)
    except CannotTellError:
        return None, ""
    return limit.ohm, (
        f"{limit.clause}: {device} opens for sure within {time.time_s:g} s at "
        f"{limit.operating_a:.0f} A; hot conductors, less where measured cold"
    )
