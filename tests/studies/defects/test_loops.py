"""Loops of stray current, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bondwright.studies.defects.catalogue import ADDED_TIE_OHM
from bondwright.studies.flows import Carrier, Flow
from bondwright.studies.loops import (
    Loop,
    Via,
    _Web,
    field_of,
    net_of_field,
    nets_of,
    study_loops,
    told,
)
from bondwright.studies.stray import Nature, StrayCurrent
from tests.plan.sites import described
from tests.studies.sites import SUBPANEL, network


def test_two_ties_close_the_loop() -> None:
    """Neutral and ground wire of one size: half of 10 A goes by metal, from tie to tie."""
    found = study_loops(network(SUBPANEL, loads=True))
    loop = next(one for one in found.loops if one.current.flow.id == "feeder")
    assert set(loop.closed_by) == {"bond", "stray screw"}
    assert [step.via for step in loop.steps].count(Via.TIE) == 2
    assert [step.via for step in loop.steps].count(Via.NEUTRAL) == 1
    assert [step.via for step in loop.steps].count(Via.METAL) == 1
    assert loop.share == pytest.approx(0.5, rel=0.05)
    assert loop.current.flow.amperes == pytest.approx(5, rel=0.05)
    # Each step starts where the one before it ended: it is a loop.
    for before, after in zip(loop.steps, loop.steps[1:], strict=False):
        assert before.to == after.from_
    assert loop.steps[-1].to == loop.steps[0].from_
    assert loop.current.causes == ("stray screw",)
    assert loop.current.without is not None
    assert loop.current.without < 0.01
    assert "stray screw" in told(loop)


def test_a_tie_added_for_the_question_closes_it_too() -> None:
    site = network(described(SUBPANEL, ties={"bond": {"at": "main", "by": "screw"}}), loads=True)
    join = site.solver.join("sub:N", "sub:G", ADDED_TIE_OHM)
    quiet = study_loops(site)
    assert all(one.current.flow.id != "feeder" for one in quiet.loops)
    found = study_loops(site, [join], [("one too many", "sub")])
    loop = next(one for one in found.loops if one.current.flow.id == "feeder")
    assert set(loop.closed_by) == {"bond", "one too many"}


def test_clamp_round_the_run_reads_what_comes_home_elsewhere() -> None:
    """A pipe beside the feeder takes its share; lines, neutral and ground wire leave it over."""
    pipe = {
        "pipe": {
            "kind": "water pipe",
            "from": "main",
            "to": "sub",
            "length": "60 ft",
            "resistance": "20 milliohm",
        }
    }
    site = network(described(SUBPANEL, metal=pipe), loads=True)
    found = study_loops(site)
    on_pipe = next(one for one in found.loops if one.current.flow.id == "pipe")
    net = next(one for one in found.nets if one.run == "feeder")
    assert net.amperes == pytest.approx(on_pipe.current.flow.amperes, rel=0.02)
    assert net.wires > net.amperes
    assert set(on_pipe.closed_by) == {"bond", "stray screw"}


def test_field_of_a_net_current() -> None:
    """1 A at 1 m: 0.2 microtesla, which is 2 mG; amperes = milligauss x metres / 2."""
    assert field_of(1, 1) == pytest.approx(2e-7)
    milligauss = field_of(4.2, 1.5) / 1e-7
    assert milligauss * 1.5 / 2 == pytest.approx(4.2)
    assert net_of_field(field_of(3.3, 0.7), 0.7) == pytest.approx(3.3)
    with pytest.raises(ValueError, match="positive"):
        field_of(1, 0)


def test_no_flows_no_nets() -> None:
    assert nets_of([]) == []


# --- told --------------------------------------------------------------------------------------


def test_a_loop_is_told_from_place_to_place() -> None:
    """10 A of load on equal wires: about 5 A by metal, through both ties, home on the neutral."""
    found = study_loops(network(SUBPANEL, loads=True))
    loop = next(one for one in found.loops if one.current.flow.id == "feeder")
    text = told(loop)
    places = [step.from_ for step in loop.steps] + [loop.steps[-1].to]
    for step in loop.steps:
        what = (
            f"feeder {step.conductor}" if step.via is Via.METAL else f"{step.via.value} {step.id}"
        )
        assert f"{step.from_} > ({what}, {step.amperes:.3g} A)" in text
    assert text.count(" > ") == 2 * len(loop.steps)
    assert text.endswith(f" > {places[-1]}")
    named = told(loop, {"stray screw": "the green screw", "bond": "the main one"})
    assert "(tie the green screw," in named
    assert "stray screw" not in named
    by = {step.via: step for step in loop.steps}
    assert by[Via.METAL].amperes == pytest.approx(loop.current.flow.amperes)
    assert by[Via.METAL].amperes + by[Via.NEUTRAL].amperes == pytest.approx(10, rel=0.05)
    for step in loop.steps:
        if step.via is Via.TIE:
            assert step.amperes == pytest.approx(by[Via.METAL].amperes)
            assert step.from_ == step.to
    assert {by[Via.NEUTRAL].from_, by[Via.NEUTRAL].to} == {"main", "sub"}
    assert (by[Via.NEUTRAL].id, by[Via.NEUTRAL].conductor) == ("feeder", "N")


def test_current_by_the_earth_goes_from_rod_to_rod() -> None:
    """Rods at both ends beside the neutral of a feeder: its drop over the way by the soil."""
    rods = {
        "rod": {"kind": "rod", "at": "main", "resistance": "25 ohm", "conductor": "6 AWG Cu"},
        "sub rod": {"kind": "rod", "at": "sub", "resistance": "25 ohm", "conductor": "6 AWG Cu"},
    }
    load = {"kind": "panel", "loads": [{"on": "L1-N", "power": "6 kW"}]}
    base = described(
        SUBPANEL,
        electrodes=rods,
        places__sub=load,
        runs__feeder__egc="none",
        sources__bench__electrode="5 ohm",
    )
    found = study_loops(network(base, loads=True))
    loop = next(one for one in found.loops if one.current.flow.id == "sub rod")
    vias = [step.via for step in loop.steps]
    assert Via.EARTH in vias
    assert Via.NEUTRAL not in vias
    assert "earth" in loop.closed_by
    # 60 ft of 6 AWG (NEC chapter 9 table 8) put the far neutral 1.47 V up at 50 A, 10 ft the source
    # 0.25 V down; currents into the soil by 25, 25 and 5 ohm sum to nothing (Kirchhoff)
    amps = 6000 / 120 * 0.97  # the load's voltage is some 3 % low
    up, down = (amps * 0.491e-3 * feet for feet in (60, 10))
    main = -(up / 25 - down / 5) / (1 / 25 + 1 / 25 + 1 / 5)
    by_hand = (up + main) / 25
    assert loop.current.flow.amperes == pytest.approx(by_hand, rel=0.05)
    assert "earth" in told(loop)


def test_nets_are_sums_of_phasors() -> None:
    """3 A out and 2 A home by the neutral, 0.5 A by the ground wire: half an A is missing."""
    found = study_loops(network(SUBPANEL, loads=True))
    flow = next(f for f in found.stray.flows if f.carrier is Carrier.RUN and f.id == "feeder")

    def made(run: str, terminal: str, current: complex) -> Flow:
        return replace(flow, id=run, terminal=terminal, current=current)

    flows = [
        made("a", "L1", 3), made("a", "N", -2), made("a", "G", -0.5),
        made("b", "L1", 5j), made("b", "L2", -5j), made("b", "G", 0.0),
        made("c", "L1", 2j), made("c", "N", -2), made("c", "G", 0.0),
        replace(flow, carrier=Carrier.TIE, id="t", current=9 + 0j),
    ]  # fmt: skip
    nets = nets_of(flows)
    assert [net.run for net in nets] == ["c", "a"]
    assert nets[0].amperes == nets[0].wires == pytest.approx(8**0.5)
    assert nets[1].amperes == pytest.approx(0.5)
    assert nets[1].wires == pytest.approx(1.0)
    # a meter half a metre off: mu0 I / (2 pi r)
    assert nets[1].field(0.5) == pytest.approx(2e-7 * 0.5 / 0.5)


def test_a_loop_between_two_branches_goes_home_by_both_feeders() -> None:
    """Ties in both of two panels and a pipe between them: up one neutral, down the other."""
    base = described(
        SUBPANEL,
        places__far={"kind": "panel"},
        runs__second={
            "from": "main", "to": "far", "length": "60 ft", "lines": "6 AWG Cu",
            "egc": "none", "device": "30 A breaker",
        },
        runs__feeder__egc="none",
        ties={
            "bond": {"at": "main", "by": "screw"},
            "one": {"at": "sub", "by": "strap"},
            "two": {"at": "far", "by": "strap"},
        },
        metal={
            "pipe": {
                "kind": "water pipe", "from": "sub", "to": "far", "length": "30 ft",
                "resistance": "5 milliohm",
            }
        },
    )  # fmt: skip
    found = study_loops(network(base, loads=True))
    loop = next(one for one in found.loops if one.current.flow.id == "pipe")
    assert set(loop.closed_by) == {"one", "two"}
    home = [(s.id, s.from_, s.to) for s in loop.steps if s.via is Via.NEUTRAL]
    ways = {("feeder", "main", "sub"), ("second", "far", "main")}
    back = {("feeder", "sub", "main"), ("second", "main", "far")}
    assert set(home) in (ways, back)
    for before, after in zip(loop.steps, loop.steps[1:], strict=False):
        assert before.to == after.from_
    assert loop.steps[-1].to == loop.steps[0].from_


def edge(name: str, from_: str, to: str, amperes: complex) -> Flow:
    return Flow(Carrier.METAL, name, "metal", "G", from_, to, amperes)


def web_loop(flows: list[Flow], named: int) -> Loop:
    web = _Web(network(SUBPANEL), flows, ())
    return web.loop(StrayCurrent(flows[named], 1.0, Nature.INDUCED, (), None))


@pytest.mark.parametrize(
    ("named", "steps"),
    [
        (0, [("one", "a", "b"), ("two", "b", "c"), ("three", "c", "a")]),
        # A current counted from c to b is told from c to b, half a turn later.
        (1, [("two", "c", "b"), ("one", "b", "a"), ("three", "a", "c")]),
        (2, [("three", "c", "a"), ("one", "a", "b"), ("two", "b", "c")]),
    ],
)
def test_a_ring_of_metal_closes_by_itself(named: int, steps: list[tuple[str, str, str]]) -> None:
    """5 A round a - b - c - a: three pieces, told from the one that is asked about."""
    ring = [edge("one", "a", "b", 5), edge("two", "c", "b", -5), edge("three", "c", "a", 5)]
    loop = web_loop(ring, named)
    assert [(step.id, step.from_, step.to) for step in loop.steps] == steps
    assert (loop.closed_by, loop.share) == ((), None)
    assert {(step.amperes, step.via, step.conductor) for step in loop.steps} == {
        (5, Via.METAL, "metal")
    }


def test_what_leads_into_a_ring_is_no_part_of_it() -> None:
    """A wire from z brings 1 A to a ring that carries more."""
    flows = [
        edge("lead", "z", "a", 1),
        edge("one", "a", "b", 6),
        edge("two", "b", "c", 6),
        edge("three", "c", "a", 5),
    ]
    loop = web_loop(flows, 0)
    assert [step.id for step in loop.steps] == ["one", "two", "three"]
    assert loop.closed_by == ()


def test_metal_that_leads_nowhere_ends_where_the_current_does() -> None:
    """Two pieces in a row; beyond them nothing carries the current on, or it comes back."""
    flows = [edge("one", "a", "b", 5), edge("two", "b", "c", 5), edge("back", "d", "c", 1)]
    for named in (0, 1):
        loop = web_loop(flows, named)
        assert [(step.id, step.from_, step.to) for step in loop.steps] == [
            ("one", "a", "b"),
            ("two", "b", "c"),
        ]
        assert loop.closed_by == ()
