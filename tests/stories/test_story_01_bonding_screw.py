"""An inspector asks at a panel: is the bonding screw in or out? Four questions, sixteen answers.

The expected answers are common practice of the trade: the neutral is joined to metal at the first
disconnect only; an old three-wire feeder to another building may keep its join on conditions;
nothing is taken out where it is the only fault path.
"""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from bondwright.explain.remaining import standing
from bondwright.plan.build import plan
from bondwright.rules.answer import Severity
from bondwright.rules.bonding_screw import QUESTIONS, Screw, ScrewAnswer, bonding_screw, questions
from bondwright.rules.editions import EDITIONS, UnknownRulesError, catalogue
from bondwright.rules.paths import MetalPaths
from bondwright.site.model import Site
from tests.plan.sites import HOUSE, described

# first disconnect, ground in the feeder, other metal, built before -> answer, rule
EXPECTED: dict[tuple[bool, bool, bool, bool], tuple[Screw, str]] = {
    **{(True, *rest): (Screw.IN, "tie-missing") for rest in product((True, False), repeat=3)},  # type: ignore[misc]
    **{
        (False, True, *rest): (Screw.OUT, "tie-load-side")  # type: ignore[misc]
        for rest in product((True, False), repeat=2)
    },
    (False, False, False, True): (Screw.KEEP, "old-three-wire-feeder"),
    (False, False, True, True): (Screw.KEEP, "tie-load-side"),
    (False, False, False, False): (Screw.KEEP, "equipment-ground-missing"),
    (False, False, True, False): (Screw.KEEP, "equipment-ground-missing"),
}
ALL = list(product((True, False), repeat=4))


def told(answer: ScrewAnswer) -> str:
    return " ".join((*answer.because, *answer.do, *answer.ask))


def test_all_sixteen_are_here() -> None:
    assert set(EXPECTED) == set(ALL)
    assert len(EXPECTED) == 16


@pytest.mark.parametrize("rules", EDITIONS)
@pytest.mark.parametrize("answers", ALL)
def test_each_combination(answers: tuple[bool, bool, bool, bool], rules: str) -> None:
    found = bonding_screw(*answers, rules)
    assert (found.screw, found.rule) == EXPECTED[answers]
    assert found.clause.startswith(f"NEC {EDITIONS[rules]} 250.")
    assert catalogue()[found.rule].clauses[EDITIONS[rules]] in found.clause
    assert found.because
    assert found.do
    assert found.ask == ()


@pytest.mark.parametrize("answers", ALL)
def test_out_only_where_a_sized_path_remains(answers: tuple[bool, bool, bool, bool]) -> None:
    first, ground, _, _ = answers
    found = bonding_screw(*answers)
    if found.screw is Screw.OUT:
        assert ground
        assert not first
        assert found.do[0].startswith("With the power off, prove")
    if not ground and not first:
        assert found.screw is Screw.KEEP
        assert "is no substitute" in told(found)
        assert "out already, keep the panel off" in told(found)


@pytest.mark.parametrize("answers", list(product((True, False, None), repeat=4)))
def test_open_questions_never_make_it_bolder(answers: tuple[bool | None, ...]) -> None:
    first, ground, metal, before = answers
    found = bonding_screw(first, ground, metal, before)
    every = {
        bonding_screw(*full).screw  # type: ignore[arg-type]
        for full in ALL
        if all(value in (None, full[k]) for k, value in enumerate(answers))
    }
    assert found.screw is (every.pop() if len(every) == 1 else Screw.CANNOT_TELL)
    if found.screw is Screw.CANNOT_TELL:
        assert found.ask
        assert found.do == ("Leave the screw as it is until the questions are answered.",)
    asked = {name for name, text in questions() if text in found.ask}
    assert asked <= {name for name, v in zip(QUESTIONS, answers, strict=True) if v is None}


def test_what_is_asked_is_what_matters() -> None:
    texts = dict(questions())
    assert bonding_screw(False, True, None, None).ask == ()
    assert bonding_screw(False, None, False, True).ask == (texts["ground_in_feeder"],)
    age = bonding_screw(False, False, False, None)
    assert (age.screw, age.severity) == (Screw.KEEP, Severity.CANNOT_TELL)
    assert age.ask == (texts["built_before"],)
    assert bonding_screw(None, None, None, None).ask == tuple(texts.values())
    near = bonding_screw(True, None, False, False)
    assert near.screw is Screw.IN
    assert near.do[0].startswith("Look once more for a disconnect ahead")


def test_severity_of_a_screw_that_is_in() -> None:
    assert bonding_screw(True, False, False, False).severity is Severity.NOTE
    assert bonding_screw(False, True, False, False).severity is Severity.FALLS_SHORT
    assert bonding_screw(False, False, False, True).severity is Severity.CANNOT_TELL
    assert bonding_screw(False, False, True, True).severity is Severity.FALLS_SHORT
    assert bonding_screw(False, False, False, False).severity is Severity.FALLS_SHORT


def test_the_year_stands_in_the_question() -> None:
    assert "(2008)" in dict(questions())["built_before"]


def test_an_unknown_rule_set_is_refused() -> None:
    with pytest.raises(UnknownRulesError, match="did you mean"):
        bonding_screw(True, False, False, False, "nec-2021")


# --- the same sixteen, as sites ---------------------------------------------------------------


def site_of(first: bool, ground: bool, metal: bool, before: bool) -> Site:
    """A house with a shed; the screw is at the house (first) or at the shed, the other apart."""
    screw = {"at": "house" if first else "shed", "by": "screw"}
    ties: dict[str, Any] = {"screw": screw}
    if not first:
        ties["main screw"] = {"at": "house", "by": "screw"}
    ties["meter bond"] = {"at": "meter", "by": "bus"}
    changes: dict[str, Any] = {
        "describes": "as found",
        "ties": ties,
        "runs__feeder__egc": "10 AWG Cu" if ground else "none",
        "runs__feeder__installed": 1993 if before else 2021,
        "runs__circuit__egc": "10 AWG Cu",
    }
    if first and ground:
        changes["runs__riser__ssbj"] = "4 AWG Cu"
    if metal:
        ends = ("meter", "house") if first else ("house", "shed")
        changes["metal"] = {
            "pipe": {"kind": "water pipe", "from": ends[0], "to": ends[1], "length": "200 ft",
                     "resistance": "20 mohm"}
        }  # fmt: skip
    return Site.model_validate(described(HOUSE, **changes))


@pytest.mark.parametrize("answers", ALL)
def test_the_plan_of_such_a_site_agrees(answers: tuple[bool, bool, bool, bool]) -> None:
    made = plan(site_of(*answers))
    answer = bonding_screw(*answers, rules="nec-2020")
    about = {f.rule: f for f in made.findings if f.where == "screw"}
    match answer.screw:
        case Screw.IN:
            assert about == {}
        case Screw.OUT:
            assert set(about) == {"tie-load-side"}
            assert "then take 'screw' out" in about["tie-load-side"].cure
            assert not about["tie-load-side"].cure.startswith("Don't")
        case Screw.KEEP:
            (finding,) = about.values()
            assert "Don't take 'screw' out" in finding.cure
            assert (finding.rule == "old-three-wire-feeder") is (
                answer.rule == "old-three-wire-feeder"
            )


@pytest.mark.parametrize("answers", ALL)
def test_out_leaves_the_metal_with_a_way_home(answers: tuple[bool, bool, bool, bool]) -> None:
    """Checked on the site itself, with pipes left out: no fault path may rest on them."""
    first, ground, _, before = answers
    answer = bonding_screw(*answers)
    bare = plan(site_of(first, ground, False, before))
    without = MetalPaths(standing(bare), without_ties=["screw"])
    panel = "house" if first else "shed"
    if answer.screw is Screw.OUT:
        assert without.returns(panel)
    elif answer.screw is Screw.KEEP:
        assert not without.returns(panel)
