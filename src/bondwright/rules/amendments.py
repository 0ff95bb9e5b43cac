"""Local amendments: what they say, and how answers and findings tell that one bites.

Rules ask :func:`bondwright.catalog.parameters.rule_parameter`, which answers with the amended
number inside :func:`bondwright.catalog.parameters.in_force`; no rule knows of amendments.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bondwright.catalog.amendments import told
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.site.amendments import amended, overrides
from bondwright.site.model import Site

RULE = "local-amendment"


@dataclass(frozen=True, slots=True)
class LocalAmendment:
    """One number that a local authority has changed.

    Attributes:
        id: the parameter.
        code: what the code has, for a person.
        local: what holds on the site.
        source: who made it, where it is written and from when it holds.
    """

    id: str
    code: str
    local: str
    source: str

    def __str__(self) -> str:
        return f"local amendment {self.id}: {self.local} in place of {self.code} ({self.source})"


def local_amendments(site: Site) -> tuple[LocalAmendment, ...]:
    """Return every number that is changed on a site, in the order of its file."""
    found = []
    for id in overrides(site):
        amendment, code, local = amended(site, id)
        source = f"{amendment.authority}, {amendment.reference}, {amendment.date}"
        found.append(LocalAmendment(id, told(code), told(local), source))
    return tuple(found)


def _sentences(those: Sequence[LocalAmendment]) -> tuple[str, ...]:
    texts = (str(one) for one in those)
    return tuple(f"{text[0].upper()}{text[1:]}." for text in texts)


def _where(clause: str, those: Sequence[LocalAmendment]) -> str:
    words = f"local amendment {', '.join(one.id for one in those)}"
    return f"{clause}, {words}" if clause else words


def answer_with(answer: Answer, those: Sequence[LocalAmendment]) -> Answer:
    """Return an answer that names the amendments which made it what it is."""
    if not those:
        return answer
    return replace(
        answer,
        clause=_where(answer.clause, those),
        because=(*answer.because, *_sentences(those)),
    )


def finding_with(finding: Finding, those: Sequence[LocalAmendment]) -> Finding:
    """Return a finding that names the amendments which made it what it is."""
    if not those:
        return finding
    return replace(
        finding,
        clause=_where(finding.clause, those),
        text=" ".join((finding.text, *_sentences(those))),
    )


def silenced(finding: Finding, those: Sequence[LocalAmendment]) -> Finding:
    """Return the note on a finding that the code has and the amendments take away."""
    return Finding(
        RULE,
        Severity.NOTE,
        finding.where,
        "a local amendment takes a finding away",
        f"By the code alone this would be reported: {finding.title} ({finding.clause}). "
        + " ".join(_sentences(those)),
        "Keep the amendment's text with the papers; the authority having jurisdiction decides.",
        _where("", those),
    )


def stated(one: LocalAmendment, places: Sequence[str]) -> Finding:
    """Return the note that an amendment holds, and where it bites.

    Args:
        one: the amendment.
        places: ids of what it changes something about.
    """
    (sentence,) = _sentences([one])
    if places:
        some = ", ".join(places[:6]) + (f" and {len(places) - 6} more" if len(places) > 6 else "")
        sentence += f" It changes something at: {some}."
    else:
        sentence += " It changes nothing here."
    return Finding(
        RULE,
        Severity.NOTE,
        "site",
        "a local amendment holds",
        sentence,
        "Check its text and its date with the authority having jurisdiction.",
        one.source,
    )
