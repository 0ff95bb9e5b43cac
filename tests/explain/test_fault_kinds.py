"""Faults of every kind in words: what is said, and what must never be."""

from __future__ import annotations

import pytest

from bondwright.explain.faults import fault_name, tell_fault
from bondwright.explain.findings import fault_findings
from bondwright.network.build import Network
from bondwright.rules.answer import Severity
from bondwright.studies.faults import Fault, FaultKind, possible_faults, study_fault, study_faults
from tests.studies.sites import BENCH, DELTA_SOURCE, DERIVED, WYE_SERVICE, network


def told(site: Network, fault: Fault) -> str:
    return " ".join(tell_fault(study_fault(site, fault), site.plan).sentences)


def test_the_first_fault_of_an_ungrounded_system() -> None:
    text = told(network(DELTA_SOURCE), Fault("motor", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert "detectors have to report the first one" in text
    assert "not tied to metal" in text
    assert "dangerous" not in text


def test_the_second_fault() -> None:
    site = network(DELTA_SOURCE)
    fault = next(
        f for f in possible_faults(site, [FaultKind.SECOND_TO_METAL]) if f.place == "motor"
    )
    result = study_fault(site, fault)
    assert fault_name(result) == str(fault)
    text = told(site, fault)
    assert f"while line {fault.also} already touches the metal at main" in text


def test_three_lines() -> None:
    site = network(WYE_SERVICE)
    text = told(site, Fault("panel", FaultKind.THREE_LINES, "L1", "L2", also="L3"))
    assert text.startswith("Lines L1, L2 and L3 touch each other at panel.")
    assert "electrodes" not in text


def test_earth_is_called_no_fault_path() -> None:
    text = told(network(BENCH), Fault("far", FaultKind.LINE_TO_EARTH, "L1", "earth", 25.0))
    assert text.startswith("Line L1 touches the earth at far through 25 ohm.")
    assert "The fault stays." in text


def test_an_arc() -> None:
    fault = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", arc=50.0)
    assert "through an arc of 50 V" in told(network(BENCH), fault)
    gone = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", arc=130.0)
    assert "the arc goes out" in told(network(BENCH), gone)


def test_neutral_on_metal() -> None:
    site = network(WYE_SERVICE)
    text = told(site, Fault("panel", FaultKind.NEUTRAL_TO_METAL, "N", "G"))
    assert text.startswith("The neutral touches the metal at panel.")
    assert "no way back" not in text


def test_a_primary() -> None:
    text = told(network(DERIVED), Fault("T1", FaultKind.LINE_TO_METAL, "H1", "G"))
    assert text.startswith("Primary line H1 touches the metal at T1.")


def test_a_gfci_finds_what_does_not_come_back() -> None:
    site = network(BENCH, runs__branch__device="20 A GFCI breaker", places__far__kind="outlet")
    text = told(site, Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", 2000.0))
    assert "that doesn't come back by it" in text


@pytest.mark.parametrize(
    ("device", "length", "rule", "severity"),
    [
        ("20 A breaker", "300 ft", "breaker-curve-missing", Severity.CANNOT_TELL),
        ("20 A fuse", "500 ft", "fault-cleared-late", Severity.FALLS_SHORT),
    ],
)
def test_what_is_slow_for_sure_and_what_only_perhaps(
    device: str, length: str, rule: str, severity: Severity
) -> None:
    site = network(BENCH, runs__branch__device=device, runs__branch__length=length)
    far = [r for r in study_faults(site) if r.fault.place == "far"]
    (finding,) = fault_findings(far, site.plan)
    assert (finding.rule, finding.severity) == (rule, severity)
    if severity is Severity.CANNOT_TELL:
        assert "the maker's curve or the instantaneous setting" in finding.cure


def test_what_the_device_lets_through_is_asked_for() -> None:
    """Within the first cycles a conductor takes what the device lets through."""
    site = network(BENCH)
    near = [r for r in study_faults(site) if r.fault.place == "main"]
    (finding,) = fault_findings(near, site.plan)
    assert finding.rule == "let-through-missing"
    assert finding.severity is Severity.CANNOT_TELL
