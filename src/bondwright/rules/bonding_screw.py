"""Should the bonding screw of this panel be in or out? Four questions, asked at the panel.

The screw joins neutral and metal. The answer is never "out" where the screw, as far as the four
answers tell, is the only fault path or the only sound one: then another path comes first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.rules.answer import Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition


class Screw(StrEnum):
    """What to do with the screw."""

    IN = "in"
    OUT = "out"
    KEEP = "keep"
    CANNOT_TELL = "cannot tell"


QUESTIONS: Final = {
    "first_disconnect": "Is this the first disconnect after the meter, or after the transformer "
    "or generator that makes the system?",
    "ground_in_feeder": "Does an equipment grounding conductor arrive with the feeder: a wire, or "
    "a metal raceway or armour that may serve as one?",
    "other_metal": "Does other metal reach from here back to the supply: water or gas pipe, "
    "steel, a bonded cable shield?",
    "built_before": "Was the feeder installed before the edition that ended the second bond at a "
    "separate building ({since}) was adopted there?",
}
"""The four questions in their order, by the argument each answers."""


@dataclass(frozen=True, slots=True)
class ScrewAnswer:
    """What to do with the screw, and why.

    Attributes:
        screw: in, out, keep, or cannot tell.
        rule: permanent id of the rule that decides.
        clause: where the code says so.
        severity: how the panel stands if the screw is in now; a note where that is right.
        because: the reasons, each a sentence for a person.
        do: what to do, in order.
        ask: the open questions whose answers can change what is told.
    """

    screw: Screw
    rule: str
    clause: str
    severity: Severity
    because: tuple[str, ...]
    do: tuple[str, ...]
    ask: tuple[str, ...] = ()


_PROVE: Final = (
    "With the power off, prove that the equipment grounding conductor is whole from this panel "
    "back to the source.",
    "Only then take the screw out, and keep the neutral apart from the metal here.",
    "Look for further joins afterwards: one can hide another.",
)
_REPLACE: Final = (
    "Don't take it out now.",
    "Have an equipment grounding conductor run with the feeder, joined at both ends, and prove it "
    "with the power off; only then does the screw come out. A ground rod is no substitute.",
    "If the screw is out already, keep the panel off: metal here has no sound way back, and "
    "nothing opens when a line touches it.",
)


def questions(rules: str = DEFAULT_RULES) -> tuple[tuple[str, str], ...]:
    """Return the four questions, each with the argument it answers.

    Args:
        rules: name of the rule set.

    Raises:
        UnknownRulesError: no such rule set.
    """
    since = _since(rules)
    return tuple((name, text.format(since=since)) for name, text in QUESTIONS.items())


def _since(rules: str) -> int:
    return int(rule_parameter("building-no-rebond-since", edition(rules)).number)


def bonding_screw(
    first_disconnect: bool | None,
    ground_in_feeder: bool | None,
    other_metal: bool | None,
    built_before: bool | None,
    rules: str = DEFAULT_RULES,
) -> ScrewAnswer:
    """Return what to do with the bonding screw of a panel.

    Args:
        first_disconnect: whether the panel is the first disconnect of its system.
        ground_in_feeder: whether an equipment grounding conductor arrives with the feeder.
        other_metal: whether other metal reaches back to the supply.
        built_before: whether the feeder is older than the edition since which a neutral is no
            longer bonded again at a separate building.
        rules: name of the rule set.

    Returns:
        The answer. An argument of None is a question that nobody could answer; what holds for
        every answer to it is told, else it can't be told and the question is named.

    Raises:
        UnknownRulesError: no such rule set.
    """
    given = (first_disconnect, ground_in_feeder, other_metal, built_before)
    every = list(dict.fromkeys(_known(*full, rules) for full in _completions(given)))
    if len(every) == 1:
        return every[0]
    texts = dict(questions(rules))
    ask = tuple(texts[name] for name in QUESTIONS if _matters(given, name, rules))
    worst = min(every, key=lambda answer: _WORST.index(answer.severity))
    if len({answer.screw for answer in every}) == 1:
        sure = len({answer.severity for answer in every}) == 1
        careful = max(every, key=lambda answer: len(answer.do)) if sure else worst
        severity = careful.severity if sure else Severity.CANNOT_TELL
        because = (_WORST_CASE, *careful.because)
        return replace(careful, severity=severity, because=because, ask=ask)
    return ScrewAnswer(
        Screw.CANNOT_TELL,
        "fault-path",
        clause("fault-path", rules),
        Severity.CANNOT_TELL,
        (
            "What to do depends on an answer that is missing, and a wrong guess can leave metal "
            "live with nothing to open.",
        ),
        ("Leave the screw as it is until the questions are answered.",),
        ask,
    )


_WORST: Final = tuple(Severity)
_WORST_CASE: Final = "Not everything is answered; this tells the worst that is possible."


def _completions(given: Sequence[bool | None]) -> Iterator[tuple[bool, bool, bool, bool]]:
    for full in product(*((True, False) if value is None else (value,) for value in given)):
        yield full[0], full[1], full[2], full[3]


def _matters(given: Sequence[bool | None], name: str, rules: str) -> bool:
    """Whether the answer to an open question can change what is told."""
    place = list(QUESTIONS).index(name)
    if given[place] is not None:
        return False
    for full in _completions(given):
        flipped = list(full)
        flipped[place] = not flipped[place]
        if _known(flipped[0], flipped[1], flipped[2], flipped[3], rules) != _known(*full, rules):
            return True
    return False


def _known(first: bool, ground: bool, metal: bool, before: bool, rules: str) -> ScrewAnswer:
    if first:
        return _first(ground, rules)
    if ground:
        return _load_side(rules)
    if before and not metal:
        return _old(rules)
    return _only_path(metal, before, rules)


def _first(ground: bool, rules: str) -> ScrewAnswer:
    because = [
        "At the first disconnect neutral and metal are joined: a fault comes home over this join, "
        "and without it nothing opens.",
    ]
    do = ["The screw, strap or wire listed for this panel belongs in, tight."]
    if ground:
        because.append(
            "A grounding conductor that arrives is metal beside the neutral on the supply side, "
            "which is normal there. But it often means that a disconnect stands ahead, at the "
            "meter or outdoors."
        )
        do.insert(0, "Look once more for a disconnect ahead. If there is one, this is not the "
                     "first: ask again.")  # fmt: skip
    return ScrewAnswer(
        Screw.IN, "tie-missing", clause("tie-missing", rules), Severity.NOTE,
        tuple(because), tuple(do),
    )  # fmt: skip


def _load_side(rules: str) -> ScrewAnswer:
    return ScrewAnswer(
        Screw.OUT,
        "tie-load-side",
        clause("tie-load-side", rules),
        Severity.FALLS_SHORT,
        (
            "Past the first disconnect a join lets the neutral's current onto every piece of "
            "metal between here and there, in normal use, and makes it live when the neutral "
            "opens.",
            "The equipment grounding conductor of the feeder is the fault path, so the screw is "
            "not needed for one.",
        ),
        _PROVE,
    )


def _old(rules: str) -> ScrewAnswer:
    return ScrewAnswer(
        Screw.KEEP,
        "old-three-wire-feeder",
        clause("old-three-wire-feeder", rules),
        Severity.CANNOT_TELL,
        (
            "No grounding conductor and no other metal leads back: the join of neutral and metal "
            "here is the only fault path there is.",
            "At a separate building that was lawful once and may stand, if no ground-fault "
            "protection of equipment is ahead of the feeder and the neutral is no smaller than "
            "the equipment grounding conductor would be. Within one building it never was.",
        ),
        (
            "Keep it in. Check the conditions with the authority having jurisdiction.",
            *_REPLACE[1:],
        ),
    )


def _only_path(metal: bool, before: bool, rules: str) -> ScrewAnswer:
    since = _since(rules)
    if metal:
        path = (
            "Other metal leads back, so the neutral's current divides onto it; but pipe and steel "
            "are no fault path to rely on, and can be cut or replaced by plastic. The join is "
            "the only sound one."
        )
        why = "The rule for old feeders needs that no metal runs between the buildings."
    else:
        path = "No grounding conductor and no other metal leads back: the join is all there is."
        why = f"Since the {since} edition a feeder brings its own equipment grounding conductor."
    return ScrewAnswer(
        Screw.KEEP,
        "equipment-ground-missing" if not before else "tie-load-side",
        clause("equipment-ground-missing" if not before else "tie-load-side", rules),
        Severity.FALLS_SHORT,
        (path, f"{why} So this falls short, and it must be mended in the right order."),
        _REPLACE,
    )
