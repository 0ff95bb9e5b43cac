"""What is told agrees with what was computed, and keeps the rules of conduct of the trade.

The rules of conduct checked here (earth is no fault path, a rod is no cure, no tie is taken out
without the path that remains, no work on live parts) are common practice and agree with
NFPA 70 (NEC) 250.4(A)(5) and NFPA 70E 110.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from bondwright.explain.cautions import CAUTIONS
from bondwright.explain.faults import earth_share, openers, returns_by, tell_fault, times
from bondwright.explain.findings import fault_findings, stray_findings
from bondwright.explain.remaining import path_without
from bondwright.explain.schedule import schedule_rows
from bondwright.explain.stray import cure, tell_current, tell_stray
from bondwright.explain.whatif import tell_added, tell_removed
from bondwright.explain.words import amps, between, counted, device_rating, listed, seconds, volts
from bondwright.rules.answer import Severity, Verdict
from bondwright.studies.faults import FaultKind, FaultResult
from bondwright.studies.flows import Carrier
from bondwright.studies.stray import Nature
from tests.explain.sites import (
    BARN_WITH_EGC,
    BARN_WITH_PIPE_ONLY,
    FARM,
    SMALL,
    planned,
    row_of_panels,
    studied,
)

SITES = {
    "farm": FARM,
    "barn": BARN_WITH_EGC,
    "pipe": BARN_WITH_PIPE_ONLY,
    "small": SMALL,
    "row": row_of_panels(6),
}


def to_metal(text: str, place: str) -> FaultResult:
    return next(
        f
        for f in studied(text).faults
        if f.fault.place == place and f.fault.kind is FaultKind.LINE_TO_METAL
    )


def every_text(text: str) -> list[str]:
    results, plan = studied(text), planned(text)
    stories = [tell_fault(f, plan) for f in results.faults]
    stories += [tell_removed(r, plan) for r in results.removed]
    stories += [tell_added(a, plan) for a in results.added]
    stories.append(tell_stray(results.stray, plan))
    told = [s for story in stories for s in (story.title, *story.sentences)]
    told += [tell_current(c, plan) for c in results.stray.currents]
    told += [f"{f.title} {f.text} {f.cure}" for f in results.findings]
    told += [a.text for a in results.assumptions]
    return [*told, results.summary.headline, *results.summary.sentences, *CAUTIONS]


@pytest.mark.parametrize("name", SITES)
def test_no_jargon_and_no_slips_of_the_pen(name: str) -> None:
    for text in every_text(SITES[name]):
        assert not re.search(r"\b(node|phasor|admittance|topology|nan|inf|None)\b", text), text
        assert "  " not in text
        assert ".." not in text.replace("...", "")
        assert text == text.strip()
        assert text


@pytest.mark.parametrize("name", SITES)
def test_nobody_is_told_to_touch_or_to_work_live(name: str) -> None:
    for text in every_text(SITES[name]):
        low = text.lower()
        assert not re.search(r"safe to (touch|handle|work)|while (it is )?live|hot work", low), text
        if re.search(r"\brods?\b.*\bcure\b|\bcure\b.*\brods?\b", low):
            assert "no cure" in low or "no substitute" in low, text


@pytest.mark.parametrize("name", SITES)
def test_advice_to_take_a_tie_out_comes_with_the_path_that_remains(name: str) -> None:
    for text in every_text(SITES[name]):
        if re.search(r"\btake\b[^.]*\bout\b", text, re.IGNORECASE):
            assert re.search(r"prove|path|no bonding", text), text
            assert re.search(r"power off|Don't|don't|no tie|No tie|no bonding", text), text


def test_the_farm_fault_is_told_in_order_with_its_numbers() -> None:
    result = to_metal(FARM, "well pump")
    story = tell_fault(result, planned(FARM))
    text = story.text
    assert story.verdict is Verdict.HOLDS
    order = [
        amps(result.current),
        "Out:",
        "line L1 of service drop",
        "line L1 of pump house feeder",
        "Home:",
        "equipment grounding conductor of pump branch",
        "main bonding jumper",
        "the neutral of service drop",
        "no fault path",
        "20 A breaker of pump branch",
        "the metal at well pump stands at",
        "Hottest conductor",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert volts(result.touch_verdict.voltage_v) in text
    assert between(result.fastest, result.clearing) in text
    assert "no leave to touch" in text


def test_a_fault_ahead_of_every_device_is_left_to_the_utility() -> None:
    result = to_metal(FARM, "meter")
    text = tell_fault(result, planned(FARM)).text
    assert result.supply_side
    assert "nothing on the site clears it" in text
    assert "utility's own protection" in text
    assert "not described here" in text
    assert openers(result) == "the utility's protection only"
    assert times(result) == "not known"


def test_removing_the_main_tie_is_told_with_both_numbers() -> None:
    (removed,) = studied(FARM).removed
    text = tell_removed(removed, planned(FARM)).text
    assert removed.with_tie.cleared
    assert not removed.without_tie.cleared
    for number in (
        amps(removed.with_tie.current),
        seconds(removed.with_tie.clearing),
        amps(removed.without_tie.current),
        volts(removed.without_tie.live_after),
    ):
        assert number in text
    assert "Nothing trips" in text
    # Through the earth a 120 V fault draws little: less than 120 V over the electrodes that
    # are left in series with the source's own 8 ohm (Ohm's law).
    assert removed.without_tie.current < 120 / 8
    assert "farmhouse panel" in text.split("not that place alone")[1]


def test_adding_a_tie_is_told_with_the_share_it_takes() -> None:
    (added,) = studied(FARM).added
    story = tell_added(added, planned(FARM))
    worst = max(
        (c for c in added.after.currents if c.nature is Nature.OBJECTIONABLE),
        key=lambda c: c.flow.amperes,
    )
    assert story.verdict is Verdict.FALLS_SHORT
    assert amps(worst.flow.amperes) in story.text
    assert "The fault path that remains is the bonding metal of pump house feeder" in story.text
    # Neutral and EGC share one current between the same two ends, so the sum of the magnitudes
    # is never less than it (triangle inequality).
    before = next(
        f.amperes for f in added.before.flows if f.id == "pump house feeder" and f.terminal == "N"
    )
    shared = [
        f.amperes
        for f in added.after.flows
        if f.id == "pump house feeder" and f.terminal in {"N", "G"}
    ]
    assert sum(shared) >= before * 0.97


def test_a_tie_is_kept_where_only_a_pipe_would_lead_home() -> None:
    """A water pipe is no equipment grounding conductor (NEC 250.118 doesn't list it)."""
    plan, results = planned(BARN_WITH_PIPE_ONLY), studied(BARN_WITH_PIPE_ONLY)
    assert path_without(plan, "barn screw", "barn") == ()
    text = tell_stray(results.stray, plan).text
    assert "on't take" in text
    about = [f for f in results.findings if f.where == "barn screw"]
    about += stray_findings(results.stray, plan)
    assert about
    for finding in about:
        assert "on't take" in finding.cure, finding
        assert "equipment grounding conductor" in finding.cure
        assert finding.cure.index("equipment grounding") < finding.cure.index("only then")


def test_a_tie_without_a_finding_is_kept_or_let_go_by_the_path_that_remains() -> None:
    """The cure never rests on the plan's finding alone."""
    bare = replace(planned(BARN_WITH_PIPE_ONLY), findings=())
    assert "don't take barn screw out yet" in cure(bare, "barn screw")
    whole = replace(planned(BARN_WITH_EGC), findings=())
    told = cure(whole, "barn screw")
    assert told.index("prove the path that remains") < told.index("Only then take barn screw out")
    assert cure(whole, "no such tie") == ""


def test_the_path_that_remains_is_named_where_there_is_one() -> None:
    plan, results = planned(BARN_WITH_EGC), studied(BARN_WITH_EGC)
    assert path_without(plan, "barn screw", "barn") == ("barn feeder",)
    (finding,) = stray_findings(results.stray, plan)
    assert finding.severity is Severity.FALLS_SHORT
    assert "barn feeder" in finding.cure
    assert "power off" in finding.cure


def test_earth_share_is_what_the_electrodes_carry() -> None:
    result = to_metal(FARM, "pump house panel")
    rods = [f.amperes for f in result.flows if f.carrier is Carrier.ELECTRODE]
    assert 0 < earth_share(result.flows) <= sum(rods)
    assert earth_share(()) == 0


def test_fault_findings_give_one_finding_for_each_place_and_trouble() -> None:
    results, plan = studied(BARN_WITH_PIPE_ONLY), planned(BARN_WITH_PIPE_ONLY)
    found = fault_findings(results.faults, plan)
    assert len({(f.rule, f.where) for f in found}) == len(found)
    bad = {f.fault.place for f in results.faults if f.verdict is Verdict.FALLS_SHORT}
    assert bad <= {f.where for f in found}


def test_returns_by_names_the_way_home() -> None:
    plan = planned(FARM)
    assert returns_by(to_metal(FARM, "well pump"), plan) == (
        "equipment grounding conductor of pump branch"
    )


def test_every_schedule_row_has_its_clause_where_a_size_is_asked() -> None:
    for row in schedule_rows(planned(FARM)):
        if row.required != "no size asked":
            assert row.clause.startswith("NEC 2023")
            assert row.why
            assert row.status
        assert row.mark in "✓×?"


@pytest.mark.parametrize(
    ("items", "told"),
    [((), ""), (("a",), "a"), (("a", "b"), "a and b"), (("a", "b", "c"), "a, b and c")],
)
def test_lists(items: tuple[str, ...], told: str) -> None:
    assert listed(items) == told


@pytest.mark.parametrize(
    ("value", "told"), [(0.0042, "4.2 mA"), (4.1, "4.1 A"), (412.3, "412 A"), (3144.6, "3,145 A")]
)
def test_amps(value: float, told: str) -> None:
    assert amps(value) == told


def test_small_words() -> None:
    assert device_rating("20 A/2p breaker") == "20 A 2-pole breaker"
    assert counted(1, "path") == "1 path"
    assert counted(2, "path") == "2 paths"
    assert seconds(float("inf")) == "never"
    assert between(0.0, 0.03) == "within 30 ms"
