"""What stands against what is asked: the areas compared are those of NEC chapter 9 table 8."""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Conductor
from bondwright.plan.parts import checked, label
from bondwright.rules.answer import Answer, Verdict


def _asked(text: str) -> Answer:
    size = Conductor.parse(text)
    return Answer(
        "equipment-ground", "NEC 2023 250.122(A)", "nec-2023", size, ("the table",), (), "confirmed"
    )


@pytest.mark.parametrize(
    ("given", "asked", "verdict", "words"),
    [
        ("8 AWG Cu", "8 AWG Cu", Verdict.HOLDS, "8 AWG Cu is asked"),
        ("6 AWG Cu", "8 AWG Cu", Verdict.HOLDS, "8 AWG Cu is asked"),
        # 10,380 of 16,510 cmil.
        ("10 AWG Cu", "8 AWG Cu", Verdict.FALLS_SHORT,
         "10 AWG Cu where 8 AWG Cu is asked: 10,380 cmil of 16,510 cmil, 37 % too small; "
         "replace it with 8 AWG Cu"),
        # Two wires side by side add up where one would serve: 2 x 10,380 cmil.
        ("2 x 10 AWG Cu", "8 AWG Cu", Verdict.HOLDS, "8 AWG Cu is asked"),
        ("2 x 12 AWG Cu", "8 AWG Cu", Verdict.FALLS_SHORT,
         "2 x 12 AWG Cu where 8 AWG Cu is asked: 13,060 cmil of 16,510 cmil, 21 % too small; "
         "replace it with 8 AWG Cu"),
        # In parallel raceways each has to be of full size.
        ("2 x 3 AWG Cu", "2 x 3 AWG Cu", Verdict.HOLDS, "2 x 3 AWG Cu is asked"),
        ("2 x 4 AWG Cu", "2 x 3 AWG Cu", Verdict.FALLS_SHORT,
         "2 x 4 AWG Cu where 2 x 3 AWG Cu is asked: 41,740 cmil of 52,620 cmil, 21 % too small; "
         "replace it with 2 x 3 AWG Cu"),
        ("3 x 4 AWG Cu", "2 x 3 AWG Cu", Verdict.FALLS_SHORT,
         "3 x 4 AWG Cu where 2 x 3 AWG Cu is asked: 41,740 cmil of 52,620 cmil, 21 % too small; "
         "replace it with 2 x 3 AWG Cu"),
        ("3 AWG Cu", "2 x 3 AWG Cu", Verdict.CANNOT_TELL,
         "one in each of 2 parallel raceways is asked; if that is meant, write '2 x 3 AWG Cu'"),
        ("3 x 3 AWG Cu", "2 x 3 AWG Cu", Verdict.HOLDS, "2 x 3 AWG Cu is asked"),
    ],
)  # fmt: skip
def test_as_large_as_asked(given: str, asked: str, verdict: Verdict, words: str) -> None:
    assert checked(Conductor.parse(given), _asked(asked)) == (verdict, words)


@pytest.mark.parametrize(
    ("taken", "free"),
    [(set(), "tie"), ({"tie"}, "tie (2)"), ({"tie", "tie (2)", "tie (3)"}, "tie (4)"),
     ({"tie", "tie (3)"}, "tie (2)")],
)  # fmt: skip
def test_a_label_that_is_free(taken: set[str], free: str) -> None:
    assert label("tie", taken) == free
