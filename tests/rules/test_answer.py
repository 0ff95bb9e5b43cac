"""What leaves an answer as data, and what a rule says that can't answer."""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Conductor
from bondwright.plan.parts import cannot_tell
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.inputs import CannotTellError
from tests.plan.sites import SHOP, finding, item, planned


def test_an_answer_as_data() -> None:
    answer = Answer(
        "main-bonding-jumper", "NEC 2023 250.28(D)", "nec-2023", Conductor.parse("4 AWG Cu"),
        ("First.", "Second."), (("supply conductors", "2/0 AWG Cu"),), "confirmed",
    )  # fmt: skip
    assert answer.as_dict() == {
        "answer": {
            "size": "4 AWG Cu",
            "area_cmil": 41740.0,  # NEC chapter 9 table 8
            "clause": "NEC 2023 250.28(D)",
            "rule": "main-bonding-jumper",
            "status": "confirmed",
            "inputs": {"supply conductors": "2/0 AWG Cu"},
        },
        "because": ["First.", "Second."],
        "rules": "nec-2023",
    }


@pytest.mark.parametrize(
    ("missing", "cure"),
    [
        ("give the size", "Give the size."),
        ("", "Have it sized by a qualified person: no rule here gives it."),
    ],
)
def test_what_cannot_be_told_is_told_in_sentences(missing: str, cure: str) -> None:
    found = cannot_tell(
        CannotTellError("fault-path", "NEC 2023 250.4", "too much of it", missing), "x"
    )
    assert (found.text, found.cure) == ("Too much of it.", cure)
    assert (found.rule, found.where, found.clause) == ("fault-path", "x", "NEC 2023 250.4")
    assert found.severity is Severity.CANNOT_TELL


def test_supplies_of_different_metals_are_named_as_the_reason() -> None:
    result = planned(
        SHOP,
        runs__second={"from": "utility", "to": "other", "length": "50 ft", "lines": "1/0 AWG Al"},
        places__other={"kind": "service", "main": "100 A"},
        metal={"pipe": {"kind": "water pipe", "from": "main", "to": "saw", "length": "40 ft",
                        "resistance": "5 mohm"}},
    )  # fmt: skip
    found = finding(result, "water-pipe-bond", "pipe")
    assert "different metals" in found.text
    assert item(result, "BJ pipe").required is None


# --- nothing without words ---------------------------------------------------------------------


@pytest.mark.parametrize("lacking", ["rule", "where", "title", "text"])
def test_a_finding_has_its_words(lacking: str) -> None:
    words = {"rule": "a", "where": "b", "title": "c", "text": "d"}
    assert Finding(severity=Severity.NOTE, **words).cure == ""
    with pytest.raises(ValueError, match="without words"):
        Finding(severity=Severity.NOTE, **words | {lacking: ""})
    with pytest.raises(TypeError, match="is no text"):
        Finding(severity=Severity.NOTE, **words | {lacking: None})  # type: ignore[arg-type]


def test_a_finding_is_severe_somehow() -> None:
    with pytest.raises(TypeError, match="no severity"):
        Finding("a", "danger", "b", "c", "d")  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="is no text"):
        Finding("a", Severity.NOTE, "b", "c", "d", None)  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="is no text"):
        Finding("a", Severity.NOTE, "b", "c", "d", "", None)  # type: ignore[arg-type]


def test_an_answer_has_reasons() -> None:
    size = Conductor.parse("4 AWG Cu")
    with pytest.raises(ValueError, match="without reasons"):
        Answer("rule", "", "nec-2023", size, (), (), "confirmed")
    with pytest.raises(TypeError, match="is no text"):
        Answer("rule", "", "nec-2023", size, (None,), (), "confirmed")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="without words"):
        Answer("rule", "", "nec-2023", size, ("so",), (("breaker", ""),), "confirmed")
