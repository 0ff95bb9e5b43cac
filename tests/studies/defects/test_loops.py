"""Loops of stray current, by hand."""

from __future__ import annotations

import pytest

from bondwright.studies.defects.catalogue import ADDED_TIE_OHM
from bondwright.studies.loops import Via, field_of, net_of_field, nets_of, study_loops, told
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
