"""Faults of arrays in words: the caution, the blind spot with its numbers, what is assumed."""

from __future__ import annotations

import pytest

from bondwright.explain.assumptions import assumptions
from bondwright.explain.pv import (
    DAYLIGHT,
    array_fault_name,
    array_findings,
    array_stops,
    array_time,
    tell_array_fault,
    worst_array_fault,
)
from bondwright.network.build import build
from bondwright.papers.arrays import HEAD, array_row, arrays_data
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.site import read
from bondwright.studies.pv import study_arrays
from tests.site.test_arrays_and_curves import FILE

FUSE = "    grounded: fuse\n    pole: positive\n    ground fuse: 1 A\n"


def planned(grounded: str = FUSE, egc: str = "10 AWG Cu") -> Plan:
    return plan(read(FILE.replace(FUSE, grounded).replace("egc: none", f"egc: {egc}")))


def findings(made: Plan) -> dict[str, Finding]:
    return {finding.rule: finding for finding in array_findings(study_arrays(made), made)}


def test_every_array_has_the_caution_of_daylight() -> None:
    for grounded in (FUSE, "    grounded: inverter\n", "    grounded: none\n"):
        note = findings(planned(grounded))["array-live-in-daylight"]
        assert (note.severity, note.text) == (Severity.NOTE, DAYLIGHT)
    assert "proved dead" in DAYLIGHT


def test_the_blind_spot_is_told_with_numbers() -> None:
    blind = findings(planned())["array-fault-not-seen"]
    assert blind.severity is Severity.FALLS_SHORT
    # 20.4 A in 0.0992 ohm of conductor, beside 0.0992 ohm of ground wire and 0.2 ohm of fuse.
    assert "puts 5.09 A through the fuse, and above 1.1 ohm in the fault it holds" in blind.text
    assert "positive conductor" in blind.text
    assert "22 A go through the metal" in blind.text


def test_an_array_without_a_ground_wire_is_a_danger() -> None:
    live = findings(planned(egc="none"))["array-frame-live"]
    assert live.severity is Severity.DANGER
    assert "A rod is no cure" in live.cure
    assert "array-frame-live" not in findings(planned())


def test_solid_and_ungrounded_arrays() -> None:
    solid = findings(planned("    grounded: solid\n"))["array-fault-not-stopped"]
    assert "nothing opens" in solid.text
    silent = findings(planned("    grounded: none\n"))["array-second-fault"]
    assert silent.severity is Severity.CANNOT_TELL
    watched = findings(planned("    grounded: none\n    insulation alarm: 100 kohm\n"))
    assert set(watched) == {"array-live-in-daylight"}


@pytest.mark.parametrize("grounded", ["fuse", "inverter", "solid", "none"])
def test_stories_and_rows_read_well(grounded: str) -> None:
    made = planned(f"    grounded: {grounded}\n", egc="none")
    for result in study_arrays(made):
        told = tell_array_fault(result)
        assert told.title == array_fault_name(result)
        assert all(sentence.endswith(".") for sentence in told.sentences)
        assert len(array_row(result)) == len(HEAD) - 1
        if not result.stopped:
            assert array_stops(result) in {"nothing", "nothing; insulation alarm"}
            assert array_time(result) == "–"
            assert "420 V where it breaks" in array_row(result)
            assert "nothing opens" in told.text or "don't open on its own current" in told.text


def test_data_are_plain_and_finite() -> None:
    for row in arrays_data(study_arrays(planned())):
        assert (row["stop_s"] is None) is row["stop_never"]
        assert row["verdict"] in {"holds", "falls short", "cannot tell"}


def test_the_worst_fault_of_all() -> None:
    assert worst_array_fault(study_arrays(planned())) is Verdict.FALLS_SHORT
    assert worst_array_fault(()) is Verdict.HOLDS


def test_assumptions_of_arrays_machines_and_curves() -> None:
    made = planned()
    said = [(a.where, a.text) for a in assumptions(made, build(made, loads=False))]
    text = " ".join(t for _, t in said)
    assert "Faults within a string" in text
    assert "ground-fault fuse opens for sure from 1.35 times" in text
    assert "The curve 'my relay' was given by points" in text
    assert any(where == "roof inverter" for where, _ in said)
    assert len(said) == len(set(said))
