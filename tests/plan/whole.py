"""What holds of every plan, whatever stands in the file.

No number is checked here: that each part of a plan is whole, speaks in sentences and points at
what it speaks of.
"""

from __future__ import annotations

import dataclasses
import re
from functools import cache
from typing import Any, get_type_hints

from pydantic import ConfigDict, TypeAdapter

from bondwright.catalog.sizes import Conductor
from bondwright.catalog.sources import Status
from bondwright.plan.model import Plan, Purpose, ScheduleItem
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.editions import EDITIONS, catalogue
from bondwright.rules.ties import where_ties_belong
from bondwright.site.model import ArrayGrounded, Describes

FORMS = {"wire", "screw", "strap", "bus", "raceway", "none"}
SENTENCE = re.compile(r"[.?!]$")


def check(result: Plan) -> None:
    """Everything below."""
    parts_are_what_they_say(result)
    findings_can_be_acted_on(result)
    rows_stand_by_themselves(result)
    things_are_those_described(result)


@cache
def _adapter(hint: Any) -> TypeAdapter[Any]:
    if dataclasses.is_dataclass(hint) or hasattr(hint, "model_fields"):
        return TypeAdapter(hint)
    return TypeAdapter(hint, config=ConfigDict(arbitrary_types_allowed=True))


def well_typed(thing: Any, but: str = "") -> None:
    """Every field of a result, but one, holds what it is said to hold."""
    hints = get_type_hints(type(thing))
    for field in dataclasses.fields(thing):
        if field.name == but:
            continue
        value = getattr(thing, field.name)
        _adapter(hints[field.name]).validate_python(value, strict=True)


def ids(result: Plan) -> set[str]:
    site = result.site
    named = {name for table in type(site).model_fields if isinstance(getattr(site, table), dict)
             for name in getattr(site, table)}  # fmt: skip
    return named | {tie.id for tie in result.ties} | {"site"} | set(_buildings(result))


def _buildings(result: Plan) -> list[str]:
    site = result.site
    tables = (site.places, site.transformers, site.generators, site.inverters, site.transfers)
    return [node.building for table in tables for node in table.values() if node.building]


def whole(text: str, names: set[str]) -> None:
    """A text is made of sentences; one may begin with a label as the person wrote it."""
    assert text == text.strip()
    labelled = any(text.startswith(name) for name in names)
    assert labelled or text[0].isupper() or text[0] in "'0123456789", text
    assert SENTENCE.search(text), text
    assert "  " not in text
    assert "None" not in text
    assert "XX" not in text


def parts_are_what_they_say(result: Plan) -> None:
    for part in (*result.schedule, *result.findings, *result.ties, *result.assumptions,
                 *result.runs.values(), *result.electrodes.values(), *result.tie_counts,
                 *result.arrays.values()):  # fmt: skip
        well_typed(part)
    for placement in where_ties_belong(result.topology).values():
        well_typed(placement)
        assert placement.why
        assert placement.origin in placement.members


def findings_can_be_acted_on(result: Plan) -> None:
    year = EDITIONS[result.site.rules]
    for finding in result.findings:
        _finding(finding, year, ids(result))


def _finding(finding: Finding, year: int, known: set[str]) -> None:
    assert finding.rule in catalogue()
    assert finding.where in known, finding
    whole(finding.text, known)
    assert finding.title
    assert finding.title == finding.title.strip()
    if finding.severity is not Severity.NOTE:
        assert finding.cure, finding
    if finding.cure:
        whole(finding.cure, known)
    _clause(finding.rule, finding.clause, year)


def _clause(rule: str, text: str, year: int) -> None:
    """The clause is of that edition, and of an article that the rule stands in."""
    where = catalogue()[rule].clauses[year]
    articles = set(re.findall(r"(\d+)\.\d", where))
    assert text.startswith(f"NEC {year} "), (rule, text)
    assert set(re.findall(r"(\d+)\.\d", text)) <= articles, (rule, text)
    assert articles or where in text, (rule, text)


def rows_stand_by_themselves(result: Plan) -> None:
    known = ids(result)
    assert len({item.id for item in result.schedule}) == len(result.schedule)
    for item in result.schedule:
        assert item.about in known, item
        assert item.from_ in known, item
        assert item.form in FORMS, item
        if item.form == "wire" and item.chosen is not None:
            _judged(item)
            told = _told(result, item)
            tie = item.about in (result.site.ties or {})
            assert item.given is (told is not None or tie), item
            assert told in (None, item.chosen), item
        if item.chosen is None and item.required is not None:
            assert item.form != "wire" or item.verdict is Verdict.CANNOT_TELL, item
        if item.verdict is not Verdict.HOLDS:
            assert item.remark, item
        assert item.remark == item.remark.strip()
        assert not item.remark.startswith((";", ","))
        if item.required is not None:
            _answer(item.required, result)


def _judged(item: ScheduleItem) -> None:
    """The verdict on a wire is what its area and number say."""
    if item.required is None:
        return
    need, have = item.required.size, item.chosen
    assert have is not None
    assert have.material is need.material, item
    # In parallel raceways each has to be large enough; else they may add up.
    area = have.area_cmil if need.sets > 1 else have.total_area_cmil
    enough = area >= need.area_cmil * 0.999999
    if not enough:
        assert item.verdict is Verdict.FALLS_SHORT, item
    elif have.sets < need.sets:
        assert item.verdict is Verdict.CANNOT_TELL, item
    elif item.verdict is Verdict.FALLS_SHORT:
        assert "finding" in item.remark, item  # something else is wrong with it
    elif item.verdict is Verdict.CANNOT_TELL:
        assert "above 1000 V" in item.remark, item  # these rules don't reach so high
    else:
        assert item.verdict is Verdict.HOLDS, item


def _told(result: Plan, item: ScheduleItem) -> Conductor | None:
    """The conductor of a row, as the description has it."""
    site, about = result.site, item.about
    told: object = None
    match item.purpose:
        case Purpose.DC_JUMPER:
            told = site.direct_current[about].jumper
        case Purpose.ELECTRODE_CONDUCTOR if about in site.direct_current:
            told = site.direct_current[about].conductor
        case Purpose.EQUIPMENT_GROUND:
            told = (site.arrays if about in site.arrays else site.runs)[about].egc
        case Purpose.SUPPLY_SIDE_JUMPER if about in site.runs:
            run = site.runs[about]
            told = run.ssbj if run.ssbj is not None else run.egc
        case Purpose.BUSHING_JUMPER:
            told = site.runs[about].bushing_jumper
        case Purpose.EQUIPOTENTIAL:
            told = site.areas[about].bond
        case Purpose.ELECTRODE_CONDUCTOR if about in site.electrodes:
            told = site.electrodes[about].conductor
        case _ if about in (site.ties or {}):
            told = (site.ties or {})[about].size
    return told if isinstance(told, Conductor) else None


def _answer(answer: Answer, result: Plan) -> None:
    well_typed(answer)
    assert answer.rule in catalogue(), answer
    assert answer.rules == result.site.rules
    _clause(answer.rule, answer.clause, EDITIONS[result.site.rules])
    Status(answer.status)
    assert answer.inputs
    for sentence in answer.because:
        whole(sentence, ids(result))
    if answer.rule != "impedance-grounding-conductor":
        assert str(answer.size.size) in " ".join(answer.because), answer


def things_are_those_described(result: Plan) -> None:
    site = result.site
    assert set(result.runs) == set(site.runs)
    assert {name: run.length for name, run in result.runs.items()} == {
        name: run.length for name, run in site.runs.items()
    }
    assert {n: (e.at, e.kind) for n, e in result.electrodes.items()} == {
        n: (e.at, e.kind) for n, e in site.electrodes.items()
    }
    assert {n: a.at for n, a in result.arrays.items()} == {n: a.at for n, a in site.arrays.items()}
    for array in result.arrays.values():
        fused, solid = ArrayGrounded.FUSE, ArrayGrounded.SOLID
        assert (array.ground_fuse is not None) is (array.grounded is fused), array
        assert (array.monitor is not None) is (array.grounded is ArrayGrounded.INVERTER), array
        assert (array.pole is not None) is (array.grounded in {fused, solid}), array
        assert 0 < array.work_voltage < array.open_circuit, array
        assert 0 < array.work_current < array.short_circuit, array
    for assumption in result.assumptions:
        assert assumption.where in ids(result), assumption
        assert assumption.text == assumption.text.strip()
        assert not re.search(r"None|XX|  ", assumption.text), assumption
    given = {tie.id: tie for tie in result.ties if tie.given}
    assert given.keys() <= (site.ties or {}).keys()
    if site.describes is Describes.AS_FOUND:
        assert given.keys() == {tie.id for tie in result.ties}
    for name, tie in given.items():
        described = (site.ties or {})[name]
        assert (tie.at, tie.form, tie.line) == (described.at, described.by, described.line)
        assert described.resistance in (None, tie.resistance)
