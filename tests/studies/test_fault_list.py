"""Which faults there can be, counted out by hand."""

from __future__ import annotations

import pytest

from bondwright.network.build import Network, build
from bondwright.studies.fault_list import arcing, places_of, possible_faults, untied
from bondwright.studies.fault_model import ARC_V, EARTH_FAULT_OHM, Fault, FaultKind
from tests.plan.sites import Described, described, planned
from tests.studies.sites import BENCH, DERIVED, UNGROUNDED, WYE_SERVICE, network

DELTA: Described = {
    "site": "mill",
    "sources": {"utility": {"system": "480 V delta", "available": {"current": "10 kA"}}},
    "places": {
        "main": {"kind": "service", "main": "100 A breaker"},
        "saw": {"kind": "equipment"},
    },
    "runs": {
        "service": {"from": "utility", "to": "main", "length": "9 ft", "lines": "1 AWG Cu"},
        "branch": {
            "from": "main",
            "to": "saw",
            "length": "50 ft",
            "lines": "10 AWG Cu",
            "on": ["L1", "L2"],
            "device": "30 A breaker",
        },
    },
    "electrodes": {"rod": {"kind": "rod", "at": "main", "conductor": "6 AWG Cu"}},
}


def mill() -> Network:
    return build(planned(DELTA), loads=False)


def short(faults: list[Fault]) -> list[tuple[str, str, str]]:
    return [(fault.place, fault.a, fault.b) for fault in faults]


def test_the_usual_faults_of_the_bench() -> None:
    """One line, neutral and metal at two places; nothing at the utility's."""
    assert short(possible_faults(network(BENCH))) == [
        ("main", "L1", "N"),
        ("main", "L1", "G"),
        ("far", "L1", "N"),
        ("far", "L1", "G"),
    ]


@pytest.mark.parametrize(
    ("kind", "count"),
    [
        # Three places of three lines; the press has no neutral.
        (FaultKind.LINE_TO_LINE, 9),
        (FaultKind.THREE_LINES, 3),
        (FaultKind.LINE_TO_METAL, 9),
        (FaultKind.LINE_TO_EARTH, 9),
        (FaultKind.SECOND_TO_METAL, 0),
    ],
)
def test_of_each_kind_in_a_wye_service(kind: FaultKind, count: int) -> None:
    found = possible_faults(network(WYE_SERVICE), [kind])
    assert {fault.kind for fault in found} <= {kind}
    assert len(found) == count
    assert len(set(found)) == count


def test_pairs_of_lines_and_all_three() -> None:
    found = possible_faults(network(WYE_SERVICE), [FaultKind.LINE_TO_LINE, FaultKind.THREE_LINES])
    at_main = [(f.kind, f.a, f.b, f.also) for f in found if f.place == "main"]
    assert at_main == [
        (FaultKind.LINE_TO_LINE, "L1", "L2", ""),
        (FaultKind.LINE_TO_LINE, "L1", "L3", ""),
        (FaultKind.LINE_TO_LINE, "L2", "L3", ""),
        (FaultKind.THREE_LINES, "L1", "L2", "L3"),
    ]


def test_a_fault_to_earth_goes_through_a_rod_and_one_to_metal_may_arc() -> None:
    (one, *_) = possible_faults(network(BENCH), [FaultKind.LINE_TO_EARTH])
    assert (one.b, one.impedance) == ("earth", EARTH_FAULT_OHM)
    usual = possible_faults(network(BENCH))
    arcs = arcing(usual)
    assert short(arcs) == [("main", "L1", "G"), ("far", "L1", "G")]
    assert {fault.arc for fault in arcs} == {ARC_V}
    assert {fault.arc for fault in arcing(usual, 40.0)} == {40.0}
    (neutral, *_) = possible_faults(network(BENCH), [FaultKind.NEUTRAL_TO_METAL])
    assert (neutral.place, neutral.a, neutral.b) == ("main", "N", "G")


def test_a_transformer_has_those_of_both_sides() -> None:
    found = possible_faults(network(DERIVED), [FaultKind.LINE_TO_METAL, FaultKind.LINE_TO_LINE])
    at = [(f.kind.value, f.a, f.b) for f in found if f.place == "T1"]
    assert [x for x in at if x[1][0] == "H"] == [
        ("line to line", "H1", "H2"),
        ("line to line", "H1", "H3"),
        ("line to line", "H2", "H3"),
        ("line to metal", "H1", "G"),
        ("line to metal", "H2", "G"),
        ("line to metal", "H3", "G"),
    ]
    assert len([x for x in at if x[1][0] == "L"]) == 6
    neutral = possible_faults(network(DERIVED), [FaultKind.LINE_TO_NEUTRAL])
    assert {f.a[0] for f in neutral} == {"L"}
    there = dict(places_of(network(DERIVED)))
    assert set(there["T1"]) == {"L1", "L2", "L3", "N", "G", "H1", "H2", "H3"}
    assert "utility" not in there


def test_second_faults_where_nothing_is_tied_to_metal() -> None:
    """The first at the main on one line, the second on another: each pair once at the main
    itself, and every two of different lines at the saw, which has two lines."""
    found = possible_faults(mill(), [FaultKind.SECOND_TO_METAL])
    told = [(f.place, f.a, f.also, f.also_at) for f in found]
    assert told == [
        ("main", "L1", "L2", "main"),
        ("main", "L1", "L3", "main"),
        ("main", "L2", "L3", "main"),
        ("saw", "L1", "L2", "main"),
        ("saw", "L2", "L1", "main"),
    ]
    assert {f.b for f in found} == {"G"}


def test_what_is_tied_to_metal() -> None:
    """A utility's own ground counts as a tie; a delta has none; a corner that is joined does."""
    assert untied(mill()) == {"utility"}
    assert untied(network(BENCH)) == frozenset()
    corner = described(DELTA, ties={"corner": {"at": "main", "line": "L2", "by": "strap"}})
    assert untied(build(planned(corner), loads=False)) == frozenset()
    derived = described(DERIVED, ties={"mbj": {"at": "main", "by": "bus"}}, describes="as found")
    assert untied(build(planned(derived), loads=False)) == {"T1"}


def test_a_second_fault_is_asked_for_where_a_system_floats_behind_one_that_does_not() -> None:
    """The service is tied, the transformer behind it lost its jumper: its places only."""
    site = network(UNGROUNDED)
    found = possible_faults(site, [FaultKind.SECOND_TO_METAL])
    assert found
    origins = {site.state.topology.systems[fault.place].origin for fault in found}
    assert origins == set(untied(site))
    assert {fault.place for fault in found} < set(site.plan.topology.order)
