"""Where neutral and earth are joined under each arrangement. Common practice where not named."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.rules.answer import Finding, Severity
from bondwright.rules.iec.arrangements import Earthing, JoinAt, arrangement
from bondwright.rules.iec.joins import (
    join_findings,
    network_joins,
    ties_that_belong,
    where_ties_belong,
)
from bondwright.rules.paths import Standing
from bondwright.site.check import problems
from bondwright.site.model import Site
from bondwright.site.topology import Topology, topology
from tests.plan.sites import Described, described

RULES = "bs-7671-2018"
FLAT: Described = {
    "site": "flat with a garage",
    "describes": "as found",
    "sources": {"network": {"system": "230 V", "available": {"current": "2 kA"}}},
    "places": {
        "cut-out": {"kind": "meter"},
        "consumer unit": {"kind": "service", "main": "80 A fuse", "building": "house"},
        "garage": {"kind": "panel", "building": "garage"},
        "socket": {"kind": "outlet", "building": "garage"},
    },
    "runs": {
        "service": {"from": "network", "to": "cut-out", "length": "20 m", "lines": "25 mm2 Cu"},
        "tails": {"from": "cut-out", "to": "consumer unit", "length": "2 m", "lines": "25 mm2 Cu"},
        "submain": {
            "from": "consumer unit",
            "to": "garage",
            "length": "40 m",
            "lines": "16 mm2 Cu",
            "egc": "16 mm2 Cu",
            "device": "32 A fuse",
        },
        "circuit": {
            "from": "garage",
            "to": "socket",
            "length": "5 m",
            "lines": "2.5 mm2 Cu",
            "egc": "2.5 mm2 Cu",
            "device": "B16",
        },
    },
}
ALL_METAL = frozenset({"service", "tails", "submain", "circuit"})


def tree_of(**changes: Any) -> Topology:
    site = Site.model_validate(described(FLAT, **changes))
    assert problems(site) == []
    return topology(site)


def found(
    earthing: Earthing,
    ties: dict[str, str],
    metal: frozenset[str] = ALL_METAL,
    rules: str = RULES,
    **changes: Any,
) -> list[Finding]:
    standing = Standing(tree_of(**changes), ties, metal)
    return list(join_findings(standing, earthing, rules))


# --- the arrangements -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("earthing", "join", "joins", "path"),
    [
        # IEC 60364-1 312.2, common practice.
        (Earthing.TN_S, JoinAt.NETWORK, 0, "metal"),
        (Earthing.TN_C_S, JoinAt.ORIGIN, 0, "metal"),
        (Earthing.TN_C, JoinAt.EVERYWHERE, None, "metal"),
        (Earthing.TT, JoinAt.NETWORK, 0, "earth"),
        (Earthing.IT, JoinAt.NOWHERE, 0, "earth, and only by leakage at the first fault"),
        (Earthing.MEN, JoinAt.MAIN_SWITCHBOARD, 1, "metal"),
    ],
)
def test_arrangements(earthing: Earthing, join: JoinAt, joins: int | None, path: str) -> None:
    facts = arrangement(earthing)
    assert (facts.join, facts.joins_in_installation, facts.fault_path) == (join, joins, path)
    assert facts.returns_to
    assert earthing.is_tn is (path == "metal")
    assert earthing.has_pen is (earthing in (Earthing.TN_C, Earthing.TN_C_S, Earthing.MEN))


@pytest.mark.parametrize(
    ("earthing", "required", "allowed"),
    [
        (Earthing.TN_S, {"network"}, {"network"}),
        (Earthing.TN_C_S, {"cut-out"}, {"network", "cut-out"}),
        (Earthing.TT, {"network"}, {"network"}),
        (Earthing.IT, set(), set()),
        (Earthing.MEN, {"consumer unit"}, {"network", "consumer unit"}),
        (
            Earthing.TN_C,
            {"cut-out", "consumer unit"},
            {"network", "cut-out", "consumer unit"},
        ),
    ],
)
def test_where_joins_belong(earthing: Earthing, required: set[str], allowed: set[str]) -> None:
    (placement,) = where_ties_belong(tree_of(), earthing).values()
    assert set(placement.required) == required
    assert placement.allowed == allowed
    assert placement.why


def test_a_pen_conductor_ends_where_a_protective_conductor_begins() -> None:
    tree = tree_of(runs__submain__egc=..., runs__circuit__egc=...)
    (placement,) = where_ties_belong(tree, Earthing.TN_C).values()
    assert placement.required == ("cut-out", "consumer unit", "garage", "socket")
    tree = tree_of(runs__circuit__egc=...)
    (placement,) = where_ties_belong(tree, Earthing.TN_C).values()
    assert placement.required == ("cut-out", "consumer unit")  # never joined again


def test_network_joins_are_the_operators() -> None:
    assert network_joins(tree_of(), Earthing.TN_S) == ("network",)
    assert network_joins(tree_of(), Earthing.TN_C_S) == ("cut-out",)
    assert network_joins(tree_of(), Earthing.TT) == ("network",)
    for earthing in (Earthing.MEN, Earthing.IT, Earthing.TN_C):
        assert network_joins(tree_of(), earthing) == ()


# --- iec-join-missing -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("earthing", "where"),
    [
        (Earthing.TN_S, "network"),
        (Earthing.TN_C_S, "cut-out"),
        (Earthing.MEN, "consumer unit"),
    ],
)
def test_missing_join(earthing: Earthing, where: str) -> None:
    assert found(earthing, {"link": where}) == []
    (lacking,) = found(earthing, {})
    assert (lacking.rule, lacking.severity, lacking.where) == (
        "iec-join-missing",
        Severity.DANGER,
        where,
    )
    assert "An earth electrode doesn't replace the join." in lacking.text
    assert lacking.clause == "BS 7671 411.4.2"
    opens_it = "don't open the cut-out" in lacking.cure
    assert opens_it is (earthing is not Earthing.MEN)


def test_missing_join_with_another_way_back() -> None:
    lacking, stray = found(Earthing.TN_C_S, {"screw": "garage"})
    assert (lacking.rule, lacking.severity) == ("iec-join-missing", Severity.FALLS_SHORT)
    assert stray.rule == "iec-join-downstream"


def test_missing_join_of_a_tt_source() -> None:
    (lacking,) = found(Earthing.TT, {})
    assert (lacking.rule, lacking.severity) == ("iec-join-missing", Severity.FALLS_SHORT)
    assert "too little to open a residual-current device" in lacking.text


# --- iec-join-downstream, iec-join-not-allowed ----------------------------------------------


@pytest.mark.parametrize("earthing", [Earthing.TN_S, Earthing.TN_C_S, Earthing.MEN])
def test_join_downstream(earthing: Earthing) -> None:
    right = where_ties_belong(tree_of(), earthing)["network"].required[0]
    rules = "as-nzs-3000-2018" if earthing is Earthing.MEN else "iec-60364-2017"
    (stray,) = found(earthing, {"link": right, "screw": "garage"}, rules=rules)
    assert (stray.rule, stray.severity, stray.where) == (
        "iec-join-downstream",
        Severity.FALLS_SHORT,
        "screw",
    )
    assert "all metal is live when the neutral breaks" in stray.text
    assert stray.cure.startswith("With the supply off, prove that the protective conductor")
    assert stray.clause.startswith("AS/NZS 3000 5.3.5" if "as" in rules else "IEC 60364-5-54 543")


def test_join_at_the_consumer_unit_is_downstream_of_the_cut_out() -> None:
    (stray,) = found(Earthing.TN_C_S, {"link": "cut-out", "bar": "consumer unit"})
    assert (stray.rule, stray.where) == ("iec-join-downstream", "bar")


def test_the_only_fault_path_is_not_taken_away() -> None:
    ties = {"link": "cut-out", "screw": "garage"}
    (stray,) = found(Earthing.TN_C_S, ties, ALL_METAL - {"submain"})
    assert stray.cure.startswith("Don't take 'screw' out yet")
    assert "First run a protective conductor with 'submain'" in stray.cure
    assert "no substitute" in stray.cure
    # Nor where the join that belongs is missing.
    _, stray = found(Earthing.TN_C_S, {"screw": "garage"})
    assert stray.cure.startswith("Don't take 'screw' out yet")
    assert "bring back the join that belongs" in stray.cure


@pytest.mark.parametrize("earthing", [Earthing.TT, Earthing.IT])
def test_no_join_in_tt_and_it(earthing: Earthing) -> None:
    ties = {"screw": "consumer unit"} | ({"star": "network"} if earthing is Earthing.TT else {})
    (stray,) = found(earthing, ties)
    assert (stray.rule, stray.where) == ("iec-join-not-allowed", "screw")
    assert "before a residual-current device" in stray.cure
    assert stray.clause == "BS 7671 411.5.1"


def test_join_where_no_neutral_is_belongs_to_the_reader() -> None:
    ties = {"link": "cut-out", "odd": "socket"}
    assert found(Earthing.TN_C_S, ties, runs__circuit__neutral="none") == []


# --- iec-join-twice, systems of the installation's own --------------------------------------

OWN: Described = {
    "transformers": {
        "own": {
            "primary": "400 V delta",
            "secondary": "400Y/230 V",
            "rating": "100 kVA",
            "impedance": "4 %",
        }
    },
}


def _own() -> Topology:
    site = Site.model_validate(
        {
            "site": "works with a transformer of its own",
            "describes": "as found",
            "sources": {"network": {"system": "400Y/230 V", "available": {"current": "10 kA"}}},
            "places": {
                "intake": {"kind": "service", "main": "200 A fuse"},
                "main board": {"kind": "panel", "main": "160 A fuse"},
                "shop board": {"kind": "panel"},
            },
            **OWN,
            "runs": {
                "service": {
                    "from": "network",
                    "to": "intake",
                    "length": "9 m",
                    "lines": "95 mm2 Cu",
                },
                "primary": {
                    "from": "intake",
                    "to": "own",
                    "length": "9 m",
                    "lines": "70 mm2 Cu",
                    "neutral": "none",
                    "device": "160 A fuse",
                },
                "secondary": {
                    "from": "own",
                    "to": "main board",
                    "length": "9 m",
                    "lines": "70 mm2 Cu",
                },
                "submain": {
                    "from": "main board",
                    "to": "shop board",
                    "length": "9 m",
                    "lines": "25 mm2 Cu",
                    "device": "63 A fuse",
                },
            },
        }
    )
    assert problems(site) == []
    return topology(site)


def test_own_transformer_has_one_join() -> None:
    tree = _own()
    placement = where_ties_belong(tree, Earthing.TN_S)["own"]
    assert placement.required == ("own",)
    assert placement.allowed == {"own", "main board"}
    assert placement.one_only
    assert "of the installation's own" in placement.why
    metal = frozenset(tree.site.runs)
    ties = {"net": "network", "star": "own", "bar": "main board"}
    (stray,) = join_findings(Standing(tree, ties, metal), Earthing.TN_S, RULES)
    assert (stray.rule, stray.where) == ("iec-join-twice", "bar")
    placements = where_ties_belong(tree, Earthing.TN_S)
    assert ties_that_belong(tree, ties, placements) == {"net", "star"}
    lone = Standing(tree, {"net": "network", "bar": "main board"}, metal)
    assert join_findings(lone, Earthing.TN_S, RULES) == ()
    none = Standing(tree, {"net": "network"}, metal)
    (lacking,) = join_findings(none, Earthing.TN_S, RULES)
    assert (lacking.rule, lacking.where) == ("iec-join-missing", "own")
    assert lacking.cure.startswith("Have a licensed installer mend it")


def test_own_transformer_of_an_it_system_has_none() -> None:
    placement = where_ties_belong(_own(), Earthing.IT)["own"]
    assert (placement.required, placement.allowed) == ((), frozenset())


def _standby(neutral: str) -> Topology:
    run = {"length": "5 m", "lines": "25 mm2 Cu"}
    site = Site.model_validate(
        {
            "site": "house with a standby generator ahead of its main switch",
            "describes": "as found",
            "sources": {"network": {"system": "230 V", "available": {"current": "2 kA"}}},
            "generators": {"standby": {"system": "230 V", "rating": "8 kVA"}},
            "places": {
                "cut-out": {"kind": "meter"},
                "main board": {"kind": "service", "main": "80 A fuse"},
            },
            "transfers": {"changeover": {"normal": "tails", "standby": "lead", "neutral": neutral}},
            "runs": {
                "service": {"from": "network", "to": "cut-out", **run},
                "tails": {"from": "cut-out", "to": "changeover", **run},
                "lead": {"from": "standby", "to": "changeover", **run},
                "onward": {"from": "changeover", "to": "main board", **run},
            },
        }
    )
    assert problems(site) == []
    return topology(site)


def test_generator_behind_a_switched_neutral_has_its_own_join() -> None:
    tree = _standby("switched")
    placements = where_ties_belong(tree, Earthing.TN_C_S)
    assert placements["network"].required == ("cut-out",)
    assert placements["standby"].required == ("standby",)
    assert placements["standby"].allowed == {"standby"}
    assert "must not rely on the network's earth" in placements["standby"].why
    # The MEN link lies behind the switch, so it serves both.
    placements = where_ties_belong(tree, Earthing.MEN)
    assert placements["network"].required == ("main board",)
    assert placements["standby"].required == ("main board",)


def test_generator_on_the_networks_neutral_shares_its_joins() -> None:
    placements = where_ties_belong(_standby("solid"), Earthing.TN_C_S)
    assert set(placements) == {"network"}
    assert placements["network"].required == ("cut-out",)


# --- MEN: older boards and outbuildings -----------------------------------------------------


def test_men_link_of_an_old_board_is_left_to_the_authority() -> None:
    ties = {"men": "consumer unit", "old": "garage"}
    (old,) = found(Earthing.MEN, ties, rules="as-nzs-3000-2018", places__garage__installed=1995)
    assert (old.rule, old.severity) == ("iec-join-downstream", Severity.CANNOT_TELL)
    assert "Of 1995" in old.text
    (new,) = found(Earthing.MEN, ties, rules="as-nzs-3000-2018", places__garage__installed=2010)
    assert new.severity is Severity.FALLS_SHORT


def test_men_link_at_an_outbuilding_without_an_earth_core() -> None:
    ties = {"men": "consumer unit", "shed link": "garage"}
    (asked,) = found(Earthing.MEN, ties, ALL_METAL - {"submain"}, rules="as-nzs-3000-2018")
    assert (asked.rule, asked.severity) == ("iec-outbuilding", Severity.CANNOT_TELL)
    assert "has to be inspected" in asked.text
    assert asked.clause == "AS/NZS 3000 5.5.3"
