"""The jumper and conductor schedule as rows of text."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.explain.dialect import Say, purpose_short, purpose_word, speaker
from bondwright.explain.words import MARKS
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.rules.answer import Verdict


@dataclass(frozen=True, slots=True)
class ScheduleRow:
    """One row.

    Attributes:
        id: of the item.
        purpose: in words.
        short: its abbreviation (MBJ, SBJ, SSBJ, GEC, EGC; PE, EC, MB).
        from_: where it starts.
        to: where it ends.
        required: least size, or "no size asked".
        chosen: what stands or is designed.
        origin: "given" or "designed".
        clause: where the code asks for it.
        why: the sums and reasons, in order.
        inputs: what went in.
        status: how well the table row is confirmed.
        verdict: whether it holds.
        mark: beside the verdict's word.
        remark: by how much it falls short, or what to know.
    """

    id: str
    purpose: str
    short: str
    from_: str
    to: str
    required: str
    chosen: str
    origin: str
    clause: str
    why: tuple[str, ...]
    inputs: tuple[tuple[str, str], ...]
    status: str
    verdict: Verdict
    mark: str
    remark: str


def schedule_rows(plan: Plan) -> tuple[ScheduleRow, ...]:
    """Return the schedule of a plan in walking order."""
    say, rules = speaker(plan.site), plan.site.rules
    return tuple(_row(item, rules, say) for item in plan.schedule)


def _row(item: ScheduleItem, rules: str, say: Say) -> ScheduleRow:
    need = item.required
    return ScheduleRow(
        id=item.id,
        purpose=purpose_word(item.purpose, rules),
        short=purpose_short(item.purpose, rules),
        from_=item.from_,
        to=item.to,
        required=str(need.size) if need is not None else "no size asked",
        chosen=_chosen(item),
        origin="given" if item.given else "designed",
        clause=need.clause if need is not None else "",
        why=need.because if need is not None else (),
        inputs=need.inputs if need is not None else (),
        status=str(need.status) if need is not None else "",
        verdict=item.verdict,
        mark=MARKS[item.verdict],
        remark=say(item.remark),
    )


def _chosen(item: ScheduleItem) -> str:
    if item.chosen is None:
        return {"none": "nothing", "raceway": "the metal raceway"}.get(item.form, item.form)
    if item.form in {"wire", ""}:
        return str(item.chosen)
    return f"{item.chosen} ({item.form})"
