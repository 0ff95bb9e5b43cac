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
    """

    rule: str
    clause: str
    rules: str
    size: Conductor
    because: tuple[str, ...]
    inputs: tuple[tuple[str, str], ...]
    status: str

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
    """

    rule: str
    severity: Severity
    where: str
    title: str
    text: str
    cure: str = ""
    clause: str = ""
