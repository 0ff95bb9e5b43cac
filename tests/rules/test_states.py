"""Ties counted in every state, against a count made by walking the neutrals one by one.

What a pole for the neutral does, and that none is worse than two, is common practice.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.states import TieCount
from bondwright.rules.ties import where_ties_belong
from bondwright.site import Site, problems
from bondwright.site.states import OperatingState
from tests.plan.sites import HOUSE_FOUND, Described, described, finding, findings, planned, rules_of

GENERATOR = described(
    HOUSE_FOUND,
    generators={"gen": {"system": "120/240 V", "rating": "12 kVA"}},
    transfers={"switch": {"normal": "supply", "standby": "cable", "neutral": "switched"}},
    places__backup={"kind": "panel", "building": "house"},
    runs__supply={"from": "house", "to": "switch", "length": "5 ft", "lines": "6 AWG Cu",
                  "device": "60 A", "egc": "10 AWG Cu"},
    runs__cable={"from": "gen", "to": "switch", "length": "40 ft", "lines": "6 AWG Cu",
                 "device": "50 A", "egc": "10 AWG Cu"},
    runs__backup_feeder={"from": "switch", "to": "backup", "length": "5 ft", "lines": "6 AWG Cu",
                         "egc": "10 AWG Cu"},
    ties__generator_bond={"at": "gen", "by": "wire", "size": "8 AWG Cu"},
    electrodes__generator_rod={"kind": "rod", "at": "gen", "count": 2, "conductor": "8 AWG Cu"},
)  # fmt: skip
"""A house with a generator behind a switch with a pole for the neutral: nothing wrong."""


def count(result: Plan, state: str, origin: str) -> TieCount:
    (one,) = [c for c in result.tie_counts if (c.state, c.origin) == (state, origin)]
    return one


def test_a_pole_for_the_neutral_and_a_tie_at_the_generator() -> None:
    result = planned(GENERATOR)
    assert {f.severity for f in result.findings} <= {Severity.NOTE}
    assert count(result, "normal", "utility").ties == ("meter bond", "green screw")
    assert count(result, "on gen", "gen").ties == ("generator bond",)
    assert all(one.verdict is Verdict.HOLDS for one in result.tie_counts)
    assert all(one.severity is None for one in result.tie_counts)


def test_the_service_counts_once_whatever_is_bonded_ahead_of_it() -> None:
    """Public discussion, many contributors: bonds ahead of a service disconnect are normal."""
    one = count(planned(GENERATOR), "normal", "utility")
    assert (one.supply, one.others, one.count) == ((("meter bond", "green screw"),), (), 1)


def test_a_solid_neutral_and_a_tie_at_the_generator_are_two() -> None:
    result = planned(GENERATOR, transfers__switch__neutral="solid")
    for state, origin in (("normal", "utility"), ("on gen", "gen")):
        one = count(result, state, origin)
        assert (one.count, one.others, one.severity) == (
            2,
            ("generator bond",),
            Severity.FALLS_SHORT,
        )
    found = finding(result, "state-tie-twice")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "generator bond")
    assert "'normal', 'on gen'" in found.text
    assert "take 'generator bond' out" in found.cure
    assert "a pole for the neutral" in found.cure


def test_the_tie_at_the_generator_stays_where_it_is_the_only_path() -> None:
    result = planned(GENERATOR, transfers__switch__neutral="solid", runs__cable__egc="none")
    assert "on't take 'generator bond' out yet" in finding(result, "state-tie-twice").cure


def test_a_solid_neutral_and_no_tie_at_the_generator_holds() -> None:
    result = planned(
        GENERATOR,
        transfers__switch__neutral="solid",
        ties__generator_bond=...,
        electrodes__generator_rod=...,
    )
    assert result.findings == ()
    assert where_ties_belong(result.topology)["utility"].members == ("utility", "gen")


def test_none_is_worse_than_two() -> None:
    none = planned(GENERATOR, ties__generator_bond=...)
    assert count(none, "on gen", "gen").severity is Severity.DANGER
    assert finding(none, "derived-tie-missing", "gen").severity is Severity.DANGER
    order = list(Severity)
    two = planned(GENERATOR, transfers__switch__neutral="solid")
    assert order.index(none.findings[0].severity) < order.index(two.findings[0].severity)


def test_a_state_that_loses_its_only_tie() -> None:
    """One tie behind the second switch serves the generator only when that switch is thrown."""
    base = described(
        GENERATOR,
        ties={"board bond": {"at": "board", "by": "screw"}, "meter bond": {"at": "meter"},
              "green screw": {"at": "house", "by": "screw"}},
        transfers__second={"normal": "riser", "standby": "cable 2", "neutral": "switched"},
        places__board={"kind": "service", "main": "100 A", "building": "house"},
        runs__riser={"from": "meter", "to": "second", "length": "5 ft", "lines": "2 AWG Cu",
                     "ssbj": "8 AWG Cu"},
        runs__riser_2={"from": "meter", "to": "house", "length": "5 ft", "lines": "3/0 AWG Cu"},
        runs__board_feed={"from": "second", "to": "board", "length": "5 ft", "lines": "2 AWG Cu",
                          "ssbj": "8 AWG Cu"},
        runs__cable_2={"from": "gen", "to": "second", "length": "40 ft", "lines": "6 AWG Cu",
                       "device": "50 A", "egc": "10 AWG Cu"},
        electrodes__generator_rod=...,
    )  # fmt: skip
    result = planned(base)
    assert count(result, "on gen", "gen").ties == ("board bond",)
    assert count(result, "on gen by second", "gen").count == 1
    assert count(result, "on gen by switch", "gen").count == 0
    found = finding(result, "state-tie-none")
    assert (found.severity, found.where) == (Severity.DANGER, "gen")
    assert "'on gen by switch'" in found.text
    assert "derived-tie-missing" not in rules_of(result)


def test_a_load_side_tie_is_told_once() -> None:
    result = planned(GENERATOR, ties__extra={"at": "backup", "by": "screw"})
    assert finding(result, "tie-load-side").where == "extra"
    assert count(result, "normal", "utility").count == 2
    assert count(result, "on gen", "gen").count == 2
    assert findings(result, "state-tie-twice") == []


def test_a_sensor_ahead_of_a_solid_neutral() -> None:
    """Large service with ground-fault protection: compiled reasoning, not in a published source."""
    large: dict[str, Any] = {
        "sources": {"utility": {"system": "480Y/277 V", "available": {"current": "30 kA"}}},
        "generators__gen__system": "480Y/277 V",
        "places__house__main": "1200 A",
    }
    solid = planned(GENERATOR, transfers__switch__neutral="solid", **large)
    assert finding(solid, "sensor-and-transfer").severity is Severity.NOTE
    assert finding(solid, "sensor-and-transfer").clause == "NEC 2020 230.95"
    assert "sensor-and-transfer" not in rules_of(planned(GENERATOR, **large))


def test_clauses_follow_the_edition() -> None:
    old = planned(GENERATOR, transfers__switch__neutral="solid", rules="nec-2017")
    assert finding(old, "state-tie-twice").clause == "NEC 2017 250.24(A)(5), 250.30(A), 702.11"
    new = planned(GENERATOR, transfers__switch__neutral="solid", rules="nec-2023")
    assert finding(new, "state-tie-twice").clause == "NEC 2023 250.24(B), 250.30(A), 702.11"


def test_a_house_without_other_sources_gets_no_word_on_states() -> None:
    result = planned(HOUSE_FOUND, ties={})
    assert count(result, "normal", "utility").count == 0
    assert not rules_of(result) & {"state-tie-none", "state-tie-twice"}


# --- any site, against a walk along the neutrals --------------------------------------------


@st.composite
def supplied(draw: st.DrawFn) -> Described:
    """A service, one or two generators, up to three switches, ties anywhere."""
    gens = ["g1", "g2"][: draw(st.integers(1, 2))]
    switches = [f"t{n}" for n in range(draw(st.integers(1, 3)))]
    places: dict[str, Any] = {
        "m": {"kind": "meter"},
        "s": {"kind": "service", "main": "200 A"},
        "p": {"kind": "panel"},
    }
    runs: dict[str, Any] = {}

    def run(start: str, end: str, **more: Any) -> str:
        name = f"{start} to {end}"
        neutral = {} if draw(st.integers(0, 9)) else {"neutral": "none"}
        runs[name] = {"from": start, "to": end, "length": "9 ft", "lines": "4 AWG Cu", **more}
        if end in switches:  # elsewhere a missing neutral would leave ties without one
            runs[name] |= neutral
        return name

    run("u", "m")
    run("m", "s")
    run("s", "p", device="60 A")
    transfers = {}
    feeders = ["s", "p"]
    for name in switches:
        board = f"b{name}"
        places[board] = {"kind": "panel", "main": "60 A"}
        normal = run(draw(st.sampled_from(feeders)), name, device="60 A")
        standby = run(draw(st.sampled_from(gens)), name, device="60 A")
        if "none" in (runs[normal].get("neutral"), runs[standby].get("neutral")):
            # A switch with a neutral on one side only would leave its board without one.
            for side in (normal, standby):
                runs[side].pop("neutral", None)
        transfers[name] = {
            "normal": normal,
            "standby": standby,
            "neutral": draw(st.sampled_from(["solid", "switched"])),
        }
        run(name, board)
        feeders.append(board)
    for gen in gens:
        if not any(entry["from"] == gen for entry in runs.values()):
            places[f"b{gen}"] = {"kind": "panel"}
            run(gen, f"b{gen}", device="60 A")
    spots = [*places, *gens, *switches]
    ties = draw(st.lists(st.sampled_from(spots), max_size=5))
    return {
        "site": "x",
        "describes": "as found",
        "sources": {"u": {"system": "120/240 V", "available": {"current": "10 kA"}}},
        "generators": {gen: {"system": "120/240 V", "rating": "20 kVA"} for gen in gens},
        "transfers": transfers,
        "places": places,
        "runs": runs,
        "ties": {f"tie {n}": {"at": at} for n, at in enumerate(ties)},
    }


def walked(site: Site, state: OperatingState, origin: str) -> int:
    """Count the ties that the neutral of a source reaches, terminal by terminal."""
    wires: list[tuple[str, str]] = []
    for name, run in site.runs.items():
        end = run.to
        if end in site.transfers:
            side = "normal" if site.transfers[end].normal == name else "standby"
            end = f"{end}/{side}"
        wires.append((run.from_, end))
    for name, switch in site.transfers.items():
        sides = ["normal", "standby"]
        if switch.neutral == "switched":
            sides = [state.transfers[name].value]
        wires += [(name, f"{name}/{side}") for side in sides]
    reached, waiting = {origin}, [origin]
    while waiting:
        here = waiting.pop()
        for a, b in wires:
            for one, other in ((a, b), (b, a)):
                if one == here and other not in reached:
                    reached.add(other)
                    waiting.append(other)
    at = [tie.at for tie in (site.ties or {}).values() if tie.at in reached]
    service = [place for place in at if place in {"m", "s"}] if "u" in reached else []
    return len(at) - len(service) + bool(service)


@settings(max_examples=300, deadline=None)
@given(supplied())
def test_the_count_is_what_a_walk_finds(text: Described) -> None:
    site = Site.model_validate(text)
    assert problems(site) == []
    result = plan(site)
    ways = {state.id: state for state in result.states}
    assert result.tie_counts
    for one in result.tie_counts:
        assert one.count == walked(site, ways[one.state], one.origin)
        bad = one.count != 1
        assert (one.severity is not None) == bad
    # Whatever is wrong in a state, some finding speaks of it; and nothing is said without cause.
    wrong = [one for one in result.tie_counts if one.count != 1]
    told = {"state-tie-none", "state-tie-twice", "tie-missing", "derived-tie-missing",
            "tie-load-side"}  # fmt: skip
    if wrong:
        assert rules_of(result) & told
    if any(one.count == 0 for one in wrong):
        assert result.findings[0].severity is Severity.DANGER


@settings(max_examples=100, deadline=None)
@given(supplied())
def test_what_is_designed_holds_in_every_state(text: Described) -> None:
    site = Site.model_validate({**text, "describes": "plan", "ties": {}})
    in_series = any(site.runs[t.normal].from_.startswith("bt") for t in site.transfers.values())
    # Behind each other a switch that opens the neutral and one that doesn't can't both be right.
    assume(not in_series or len({t.neutral for t in site.transfers.values()}) == 1)
    result = plan(site)
    assert [one for one in result.tie_counts if one.verdict is not Verdict.HOLDS] == []


@pytest.mark.parametrize("neutral", ["solid", "switched"])
def test_a_switch_ahead_of_the_service_disconnect(neutral: str) -> None:
    """The tie at the service disconnect serves the generator too, whatever the poles."""
    result = planned(
        {
            "site": "x",
            "rules": "nec-2020",
            "sources": {"u": {"system": "120/240 V", "available": {"current": "10 kA"}}},
            "generators": {"g": {"system": "120/240 V", "rating": "20 kVA"}},
            "transfers": {"t": {"normal": "n", "standby": "c", "neutral": neutral}},
            "places": {"m": {"kind": "meter"}, "s": {"kind": "service", "main": "100 A"}},
            "runs": {
                "d": {"from": "u", "to": "m", "length": "9 ft", "lines": "2 AWG Cu"},
                "n": {"from": "m", "to": "t", "length": "9 ft", "lines": "2 AWG Cu"},
                "c": {"from": "g", "to": "t", "length": "9 ft", "lines": "6 AWG Cu",
                      "device": "60 A"},
                "e": {"from": "t", "to": "s", "length": "9 ft", "lines": "2 AWG Cu"},
            },
            "electrodes": {"r": {"kind": "rod", "at": "s", "count": 2}},
        }
    )  # fmt: skip
    assert {f.severity for f in result.findings} <= {Severity.NOTE}
    assert [one.count for one in result.tie_counts] == [1, 1]
    assert not any(tie.at == "g" for tie in result.ties)
    # Where the neutral is opened it can't bond the switch: a jumper does.
    with_jumper = {run for run in ("n", "e") if result.runs[run].metal is not None}
    assert with_jumper == ({"n", "e"} if neutral == "switched" else set())


def test_switches_of_both_kinds_in_series_are_found_out() -> None:
    """No place for a tie is right in every state then, and the danger is named."""
    base = described(
        GENERATOR,
        describes="plan",
        ties={},
        transfers__second={"normal": "board feed", "standby": "cable 2", "neutral": "solid"},
        places__board={"kind": "panel", "building": "house"},
        runs__board_feed={"from": "backup", "to": "second", "length": "5 ft",
                          "lines": "6 AWG Cu", "device": "50 A"},
        runs__cable_2={"from": "gen", "to": "second", "length": "40 ft", "lines": "6 AWG Cu",
                       "device": "50 A"},
        runs__tail={"from": "second", "to": "board", "length": "5 ft", "lines": "6 AWG Cu"},
    )  # fmt: skip
    result = planned(base)
    assert count(result, "normal", "utility").count == 1
    assert count(result, "on gen", "gen").count == 0
    assert finding(result, "state-tie-none").where == "gen"
