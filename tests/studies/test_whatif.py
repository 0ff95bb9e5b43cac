"""The stories of a tie too few and a tie too many."""

from __future__ import annotations

import pytest

from bondwright.rules.answer import Verdict
from bondwright.studies.faults import Fault, FaultKind
from bondwright.studies.stray import Nature
from bondwright.studies.whatif import (
    addition_stories,
    main_ties,
    removal_stories,
    tie_added,
    tie_removed,
)
from tests.outside import outside, published
from tests.studies.sites import (
    BENCH,
    DELTA_SOURCE,
    DERIVED,
    OHM_PER_FT,
    SECOND_TIE,
    SUBPANEL,
    WHOLE_SITES,
    example,
    network,
)


@outside("Ohm's law by hand", "computed")
def test_the_example_without_its_main_bonding_jumper() -> None:
    """A fault at the pump clears with the tie, and without it nothing trips: by hand the metal
    then stands at 120 V x R_site / (R_site + R_pole), R_site the two rod pairs side by side."""
    (story,) = removal_stories(example())
    assert story.tie.at == "farmhouse panel"
    assert str(story.with_tie.fault) == "L1 to metal at well pump"
    assert story.with_tie.verdict is Verdict.HOLDS
    assert story.with_tie.live_after < 1
    assert story.without_tie.verdict is Verdict.FALLS_SHORT
    assert not story.without_tie.cleared
    assert story.without_tie.openings == ()
    rods = [e.resistance for e in example().plan.electrodes.values()]
    site_ohm = 1 / sum(1 / ohm for ohm in rods)
    assert story.without_tie.live_after == published(
        120 * site_ohm / (site_ohm + 8), rel=0.01, unit="V"
    )
    assert story.without_tie.current == published(120 / (site_ohm + 8), rel=0.02, unit="A")


@outside("NEC chapter 9, table 8, current divider", "computed", unit="A")
def test_the_example_with_a_second_tie() -> None:
    """4 AWG Cu beside 2 AWG Al: the divider of NEC Chapter 9 Table 8, on the pump house's
    neutral current of (1.5 - 0.2) kW / 120 V."""
    (story,) = addition_stories(example(loads=True))
    assert story.at == "pump house panel"
    assert not story.before.objectionable
    assert story.after.objectionable
    (feeder,) = [c for c in story.after.currents if c.flow.id == "pump house feeder"]
    divider = OHM_PER_FT["2 AWG Al"] / (OHM_PER_FT["2 AWG Al"] + OHM_PER_FT["4 AWG Cu"])
    assert feeder.flow.amperes == published(1300 / 120 * divider, rel=0.06)
    assert feeder.nature is Nature.OBJECTIONABLE
    assert feeder.causes == (story.name,)
    assert feeder.without is not None
    assert feeder.without < 0.02


def test_each_system_has_its_own_story() -> None:
    """Service and derived system: two ties, two stories, each within its own system."""
    site = network(DERIVED)
    assert {tie.at for tie in main_ties(site)} == {"main", "T1"}
    stories = {story.tie.at: story for story in removal_stories(site)}
    assert stories["T1"].with_tie.fault.place == "saw"
    for story in stories.values():
        assert story.with_tie.cleared
    assert not stories["T1"].without_tie.cleared
    assert stories["T1"].without_tie.current < 0.01


def test_a_meter_bond_is_no_main_tie() -> None:
    at = {tie.at for tie in example().plan.ties}
    assert "meter" in at
    assert {tie.at for tie in main_ties(example())} == {"farmhouse panel"}


def test_a_wrong_tie_is_no_main_tie() -> None:
    assert {tie.id for tie in main_ties(network(SECOND_TIE))} == {"screw"}


def test_an_ungrounded_system_has_no_stories() -> None:
    assert removal_stories(network(DELTA_SOURCE)) == []
    assert addition_stories(network(DELTA_SOURCE, loads=True)) == []


def test_asking_for_a_tie_where_no_neutral_is() -> None:
    with pytest.raises(ValueError, match="no neutral or no metal"):
        tie_added(example(loads=True), "well pump")


def test_one_tie_one_fault() -> None:
    site = network(BENCH)
    (tie,) = site.plan.ties
    story = tie_removed(site, tie, Fault("far", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert story.with_tie.cleared
    assert not story.without_tie.cleared
    assert story.with_tie.current > 50 * story.without_tie.current


def test_a_place_that_is_tied_already_is_not_asked_again() -> None:
    assert addition_stories(network(SUBPANEL, loads=True)) == []


@pytest.mark.parametrize("name", WHOLE_SITES)
def test_no_removal_ever_helps(name: str) -> None:
    """Taking the right tie off never raises the fault current (common practice)."""
    for story in removal_stories(network(WHOLE_SITES[name])):
        assert story.without_tie.current <= story.with_tie.current * (1 + 1e-9)
