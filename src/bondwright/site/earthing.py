"""What can't stand in a description for IEC 60364, and what of such a one belongs nowhere else."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.catalog.sizes import Conductor
from bondwright.site.fields import NoWire
from bondwright.site.model import MeansOfEarthing, Run, Site
from bondwright.site.topology import Problem

FAMILY: Final = "iec-60364"
"""What the names of the rule sets of IEC 60364 begin with."""

MEANS: Final = {
    "TN-S": MeansOfEarthing.SUPPLY,
    "TN-C-S": MeansOfEarthing.PEN,
    "TT": MeansOfEarthing.ELECTRODE,
    "IT": MeansOfEarthing.ELECTRODE,
}
"""What the main earthing terminal is joined to under each arrangement."""

_WHY: Final = {
    "TN-S": "a TN-S supply brings a protective conductor of its own",
    "TN-C-S": "a TN-C-S supply brings a PEN conductor; an installation that takes its earth from "
    "an electrode instead is TT",
    "TT": "a TT supply brings no earth",
    "IT": "an IT supply brings no earth",
}


def by_iec(site: Site) -> bool:
    """Whether a site is judged by IEC 60364."""
    return site.rules.startswith(FAMILY)


def protective(run: Run) -> Conductor | NoWire | None:
    """Return what a description says of the protective conductor of a run, by any of its keys."""
    return next((one for one in (run.pe, run.egc, run.ssbj) if one is not None), None)


def earthing_problems(site: Site) -> Iterator[Problem]:
    """Yield what a description lacks for its rules, or has that they don't know.

    Args:
        site: the description.
    """
    if not by_iec(site):
        yield from _not_here(site)
        return
    if site.earthing is None:
        hint = "add a line 'earthing: TN-S' (or TN-C-S, TT, IT), as the network operator declares"
        yield Problem(("rules",), "needs the earthing arrangement of the supply as well", hint)
        return
    means = MEANS[site.earthing]
    if site.means_of_earthing not in (None, means):
        hint = f"{_WHY[site.earthing]}; write {means.value!r}, or the arrangement that is meant"
        problem = f"does not go with {site.earthing}"
        yield Problem(("means of earthing",), problem, hint)
    if site.earthing != "IT":
        for key, given in _isolated(site):
            if given is not None:
                hint = f"remove it: a {site.earthing} system has no first fault that stays"
                yield Problem((key,), "belongs to an IT system", hint, on_key=True)
    for name, run in site.runs.items():
        for key, given in (("egc", run.egc), ("ssbj", run.ssbj)):
            if given is not None and run.pe is not None:
                hint = "keep 'pe' and remove the other"
                problem = "says the same as 'pe'"
                yield Problem(("runs", name, key), problem, hint, on_key=True)
        metal = run.raceway is not None and run.raceway.kind.is_metal
        if run.pe is NoWire.RACEWAY and not metal:
            hint = "write the size of the wire, or the metal raceway that does its job"
            yield Problem(("runs", name, "pe"), "needs a metal raceway, and none is given", hint)
    for name in site.arrays:
        problem = "is judged by the NEC only so far"
        hint = f"remove it; {site.rules} says nothing of arrays here yet"
        yield Problem(("arrays", name), problem, hint, on_key=True)


def _isolated(site: Site) -> tuple[tuple[str, object], ...]:
    return (
        ("insulation monitoring", site.insulation_monitoring),
        ("first fault current", site.first_fault),
    )


def _not_here(site: Site) -> Iterator[Problem]:
    hint = f"remove it, or name rules of IEC 60364; {site.rules} doesn't ask for it"
    given: tuple[tuple[str, object], ...] = (
        ("earthing", site.earthing),
        ("means of earthing", site.means_of_earthing),
        *_isolated(site),
    )
    for key, value in given:
        if value is not None:
            yield Problem((key,), "belongs to the rules of IEC 60364", hint, on_key=True)
    for name, run in site.runs.items():
        if run.pe is not None:
            hint = "write 'egc', or 'ssbj' ahead of the first overcurrent device"
            problem = f"is a word of IEC 60364, and the rules are {site.rules}"
            yield Problem(("runs", name, "pe"), problem, hint, on_key=True)
    for name, electrode in site.electrodes.items():
        if electrode.buried is not None:
            problem = f"is a key for IEC 60364, and the rules are {site.rules}"
            yield Problem(("electrodes", name, "buried"), problem, "remove it", on_key=True)
