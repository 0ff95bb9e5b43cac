"""What the studies of disconnection find, and what concerns a system as a whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from bondwright.catalog.iec_tables import iec_number
from bondwright.network.build import Network
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.families import earthing_of
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.electrode_loops import electrode_stability
from bondwright.rules.iec.intake import main_terminals
from bondwright.rules.iec.isolated import judge_it_first
from bondwright.rules.iec.loops import worst_first
from bondwright.rules.iec.ruleset import clause, is_iec
from bondwright.site.model import Site
from bondwright.studies.bare import without_metal
from bondwright.studies.disconnection import Disconnection, Judge


def system_findings(network: Network) -> tuple[Finding, ...]:
    """Return what concerns a whole system: the first fault of IT, an unstable electrode of TT.

    Args:
        network: built without loads, of a site that is judged by IEC 60364; any other has none.
    """
    if not is_iec(network.plan.site.rules):
        return ()
    network = without_metal(network)
    plan = network.plan
    site, rules = plan.site, plan.site.rules
    earthing, judge = earthing_of(site), Judge(network)
    found: list[Finding] = []
    for origin in site.sources:
        for terminal in main_terminals(plan.topology, origin):
            earth = judge.earth_ohm(terminal)
            if earth is None:
                continue
            if earthing is Earthing.TT:
                found += electrode_stability(terminal, earth, rules)
            elif earthing is Earthing.IT:
                found += _first_fault(terminal, earth, site)
    return worst_first(found)


def _first_fault(terminal: str, earth: float, site: Site) -> tuple[Finding, ...]:
    current, monitored, rules = site.first_fault, site.insulation_monitoring, site.rules
    _, found = judge_it_first(terminal, earth, current or 0.0, rules, monitored=monitored)
    if current is not None:
        return found
    most = iec_number("touch_limit", "ac").value
    unknown = Finding(
        "iec-it-first-fault",
        Severity.CANNOT_TELL,
        terminal,
        "current of the first fault not known",
        f"With an earth of {earth:.3g} ohm the first fault may draw at most {most / earth:.3g} A, "
        f"so that no more than {most:g} V stands until it is found. What cables and filters let "
        "through by capacitance and leakage is not described.",
        "Give the 'first fault current' as measured, or as worked out from the cables' "
        "capacitance.",
        clause("iec-it-first-fault", rules),
    )
    return (*found, unknown)


def disconnection_findings(found: Iterable[Disconnection], network: Network) -> tuple[Finding, ...]:
    """Return every finding on disconnection, worst first; what is alike at places is one.

    Args:
        found: from :func:`study_disconnection`.
        network: that they were found on.
    """
    every: dict[tuple[str, str, str], list[Finding]] = {}
    for one in found:
        for finding in one.findings:
            alike = (finding.rule, finding.text, finding.cure)
            every.setdefault(alike, []).append(finding)
    told = []
    for alike_ones in every.values():
        first = alike_ones[0]
        if len(alike_ones) > 1:
            places = ", ".join(dict.fromkeys(finding.where for finding in alike_ones))
            first = replace(first, text=f"At {places}: {first.text}")
        told.append(first)
    return worst_first([*told, *system_findings(network)])


def told_already(found: Iterable[Disconnection]) -> frozenset[str]:
    """Return the places whose fault to metal a finding on disconnection tells as a danger."""
    return frozenset(
        one.place
        for one in found
        if any(finding.severity is Severity.DANGER for finding in one.findings)
    )


def by_verdict(found: Iterable[Disconnection]) -> Mapping[Verdict, int]:
    """Return how many places have each verdict."""
    counts = dict.fromkeys(Verdict, 0)
    for one in found:
        counts[one.verdict] += 1
    return counts
