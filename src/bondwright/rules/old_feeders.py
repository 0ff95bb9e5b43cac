"""Old feeders to a separate building without an equipment grounding conductor, and their ties.

They were lawful once. What may stand on conditions, and on which, is said here.
"""

from __future__ import annotations

from bondwright.catalog.parameters import rule_parameter
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import entry_run, year_of
from bondwright.rules.editions import clause, edition
from bondwright.rules.inputs import ProtectiveDevice
from bondwright.rules.paths import MetalPaths, Standing
from bondwright.rules.protection import equipment_protection
from bondwright.site.model import Describes
from bondwright.site.topology import Topology


def old_feeder(standing: Standing, at: str, rules: str) -> list[str] | None:
    """Return what stands against the old-feeder rule at a place; None where it can't apply."""
    tree = standing.tree
    run = tree.fed_by.get(at)
    if run is None or entry_run(tree, at) != run or run in standing.with_metal:
        return None
    against = []
    year, since = (
        year_of(tree, run),
        int(rule_parameter("building-no-rebond-since", edition(rules)).number),
    )
    planned = tree.site.describes is Describes.PLAN
    if year is not None and year >= since:
        against.append(f"it is for feeders from before the {since} edition, and this is of {year}")
    elif year is None and planned:
        against.append("it is for existing feeders, and this one is planned")
    metal = MetalPaths(standing, neutrals=False)
    if metal.joined((tree.site.runs[run].from_, "G"), (at, "G")):
        against.append("metal runs between the buildings")
    if _protected_by_sensor(tree, run, rules):
        against.append("ground-fault protection of equipment is ahead of it")
    return against


def _protected_by_sensor(tree: Topology, run: str, rules: str) -> bool:
    system = tree.system_of_run(run).voltages
    mains = [
        tree.site.places[place].main
        for place in tree.first_disconnects.get(tree.system_of_run(run).origin, ())
    ]
    return any(
        main is not None and equipment_protection(system, ProtectiveDevice(main), rules).required
        for main in mains
    )


def old_feeder_stands(standing: Standing, tie: str, at: str, run: str, rules: str) -> Finding:
    """Return the finding on a tie that may stand because its feeder is old, with the conditions.

    Args:
        standing: what stands.
        tie: id of the tie.
        at: where it is.
        run: the feeder.
        rules: name of the rule set.
    """
    year = year_of(standing.tree, run)
    since = int(rule_parameter("building-no-rebond-since", edition(rules)).number)
    conditions: tuple[str, ...] = (
        "that no metal joins the two buildings (water or gas pipe, the shield of a telephone or "
        "data cable bonded at both ends, a metal raceway)",
        "that no ground-fault protection of equipment is ahead of the feeder",
        "that the neutral is no smaller than the equipment grounding conductor would be",
    )
    if year is None:
        conditions = (f"that it was installed before the {since} edition was adopted", *conditions)
    age = f"installed {year}" if year is not None else "of unknown age"
    return Finding(
        "old-three-wire-feeder",
        Severity.CANNOT_TELL,
        tie,
        "old feeder without equipment grounding conductor",
        f"{tie!r} joins neutral and metal at {at}, fed from another building by {run!r} ({age}) "
        "without an equipment grounding conductor. That was lawful once and may stand, on "
        f"conditions: {'; '.join(conditions)}.",
        f"Check each condition. Don't take {tie!r} out while this feeder has no equipment "
        "grounding conductor: it is the only fault path. The better state is a feeder with one, "
        "and then no tie here.",
        clause("old-three-wire-feeder", rules),
    )
