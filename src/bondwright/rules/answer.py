"""What a rule answers: a size or a finding, with the clause, the inputs and the reasons."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bondwright.catalog.sizes import Conductor


class Verdict(StrEnum):
    """How something stands."""

    HOLDS = "holds"
    FALLS_SHORT = "falls short"
    CANNOT_TELL = "cannot tell"


class Severity(StrEnum):
    """How much a finding matters, worst first."""

    DANGER = "danger"
    FALLS_SHORT = "falls short"
    CANNOT_TELL = "cannot tell"
    NOTE = "note"


def need_words(*texts: str, maybe: tuple[str, ...] = ()) -> None:
    """Refuse an answer whose words are missing: it must never reach a reader.

    Args:
        texts: what has to be said.
        maybe: what may be an empty text.

    Raises:
        TypeError: something else than text.
        ValueError: an empty text among those that have to be said.
    """
    for text in (*texts, *maybe):
        if not isinstance(text, str):
            raise TypeError(f"{text!r} is no text; an answer has to be said in words")
    if not all(texts):
        raise ValueError("an answer, a finding or a reason without words")


@dataclass(frozen=True, slots=True)
class Answer:
    """A required size.

    Attributes:
        rule: permanent id of the rule, e.g. ``"main-bonding-jumper"``.
        clause: where the code says so, e.g. ``"NEC 2020 250.28(D)"``.
        rules: name of the rule set, e.g. ``"nec-2020"``.
        size: the least conductor that will do.
        because: the reasons in order, each a sentence for a person.
        inputs: what went in, as (name, value) pairs of text.
        status: how well the table row is confirmed (see :mod:`bondwright.catalog.sources`).

    Raises:
        TypeError: a reason, an input or a name that is no text.
        ValueError: one of them is empty, or there is no reason.
    """

    rule: str
    clause: str
    rules: str
    size: Conductor
    because: tuple[str, ...]
    inputs: tuple[tuple[str, str], ...]
    status: str

    def __post_init__(self) -> None:
        words = (word for pair in self.inputs for word in pair)
        need_words(self.rule, self.rules, self.status, *self.because, *words, maybe=(self.clause,))
        if not self.because:
            raise ValueError(f"{self.rule}: an answer without reasons")

    def as_dict(self) -> dict[str, object]:
        """Return the documented structure that ``--json`` prints."""
        return {
            "answer": {
                "size": str(self.size),
                "area_cmil": self.size.area_cmil,
                "clause": self.clause,
                "rule": self.rule,
                "status": self.status,
                "inputs": dict(self.inputs),
            },
            "because": list(self.because),
            "rules": self.rules,
        }


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person has to know or mend.

    Attributes:
        rule: permanent id of the rule.
        severity: how much it matters.
        where: id of the place, run, tie or electrode.
        title: a few words.
        text: what is wrong and why it matters, in plain words.
        cure: what to do, or "" where there is nothing to do.
        clause: where the code says so, or "" for a fact of physics.

    Raises:
        TypeError: one of its words is no text, or the severity is none.
        ValueError: the rule, the place, the title or the text is empty.
    """

    rule: str
    severity: Severity
    where: str
    title: str
    text: str
    cure: str = ""
    clause: str = ""

    def __post_init__(self) -> None:
        maybe = (self.cure, self.clause)
        need_words(self.rule, self.where, self.title, self.text, maybe=maybe)
        if not isinstance(self.severity, Severity):
            raise TypeError(f"{self.severity!r} is no severity")
