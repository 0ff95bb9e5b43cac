"""Local amendments: what may be changed, and that every change is told where it bites."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from bondwright.catalog.amendments import read_override, told
from bondwright.catalog.parameters import in_force, parameter_ids, rule_parameter
from bondwright.catalog.sizes import Material, Size
from bondwright.catalog.sources import Status
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.amendments import local_amendments
from bondwright.rules.answer import Severity
from bondwright.rules.checklist import checklist
from bondwright.rules.electrodes import ServedBy, electrode_conductor
from bondwright.rules.inputs import SupplyConductors
from bondwright.site.model import Site
from bondwright.site.reader import SiteError, load, read
from bondwright.units import UnitError
from tests.plan.sites import SHOP, described, finding, findings, item

SOURCE = "authority: Harrow Creek, reference: ordinance 12, date: 2024-03-01"
TEXT = """
site: Cider store
rules: nec-2023
amendments:
  town: {%s, values: {%s}}
sources:
  utility: {system: 120/240 V, transformer: {rating: 25 kVA, impedance: 2 %%}}
places:
  panel: {kind: service, building: store, main: 200 A breaker}
runs:
  drop: {from: utility, to: panel, length: 60 ft, lines: 2/0 AWG Cu}
electrodes:
  rod: {kind: rod, at: panel, resistance: 18 ohm}
"""


def site(values: str) -> Site:
    return read(TEXT % (SOURCE, values))


def planned(values: str) -> Plan:
    return plan(site(values))


def bare() -> Plan:
    return plan(read(TEXT.replace("amendments:\n  town: {%s, values: {%s}}\n", "") % ()))


# --- reading ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("id", "text", "said"),
    [
        ("rod-resistance", "10 ohm", "10 ohm"),
        ("rod-only-cap", "4 AWG Cu", "4 AWG Cu, 4 AWG Al"),
        ("rod-only-cap", "4 AWG Cu, 2 AWG Al", "4 AWG Cu, 2 AWG Al"),
        ("rod-spacing", "16 ft", "16 ft"),
        ("building-no-rebond-since", "2005", "2005"),
        ("jumper-fraction", "15 %", "15 %"),
        ("egc-increase", "any-increase", "any-increase"),
        ("water-pipe-bond-cap", "none", "none"),
    ],
)
def test_an_override_takes_the_place_of_the_number(id: str, text: str, said: str) -> None:
    code = rule_parameter(id, 2023)
    local = read_override(id, text, 2023).on(code)
    assert told(local) == said
    assert (local.id, local.clause, local.edition) == (code.id, code.clause, code.edition)
    assert local.status is Status.ONE_SOURCE
    assert told(code) != said


def test_an_edition_without_the_rule_takes_its_kind_from_the_others() -> None:
    assert rule_parameter("water-pipe-bond-cap", 2017).absent
    local = read_override("water-pipe-bond-cap", "3/0 AWG Cu", 2017).on(
        rule_parameter("water-pipe-bond-cap", 2017)
    )
    assert not local.absent
    assert local.size(Material.CU) == Size.parse("3/0 AWG")


@pytest.mark.parametrize(
    ("id", "text", "problem", "hint"),
    [
        ("rod-resistence", "10 ohm", "is no parameter", "nearest is 'rod-resistance'"),
        ("rod-resistance", "10 ft", "", ""),
        ("rod-resistance", "10", "", "ohm"),
        ("rod-resistance", "0 ohm", "more than zero", "ohm"),
        ("rod-resistance", "none", "can't be left out", "25 ohm"),
        ("rod-only-cap", "4 AWG", "", ""),
        ("rod-only-cap", "2 x 4 AWG Cu", "one size for each metal", "6 AWG Cu, 4 AWG Al"),
        ("rod-only-cap", "4 AWG Cu, 2 AWG Cu", "one size for each metal", "6 AWG Cu"),
        ("egc-increase", "sometimes", "no form", "any-increase, increase-beyond-correction"),
        ("building-no-rebond-since", "long ago", "plain number", "2008"),
        ("building-no-rebond-since", "-3", "more than zero", ""),
        ("building-no-rebond-since", "inf", "more than zero", ""),
    ],
)
def test_what_is_no_such_thing_is_refused(id: str, text: str, problem: str, hint: str) -> None:
    with pytest.raises(UnitError) as error:
        read_override(id, text, 2023)
    assert problem in error.value.problem
    assert hint in (error.value.hint or "")


@pytest.mark.parametrize("id", parameter_ids())
@pytest.mark.parametrize("year", [2017, 2020, 2023])
def test_every_parameter_can_be_amended_to_what_it_is(id: str, year: int) -> None:
    code = rule_parameter(id, year)
    text = told(code)
    if "kcmil" in text and "1100" in text:
        text = "1000 kcmil Cu, 1750 kcmil Al"  # the table's limits are no sizes that are made
    local = read_override(id, text, year).on(code)
    assert local.absent is code.absent
    assert (local.value is None, local.choice) == (code.value is None, code.choice)
    assert [metal for metal, _ in local.sizes] == [metal for metal, _ in code.sizes]


# --- in force ---------------------------------------------------------------------------------


def test_a_rule_answers_by_what_is_in_force() -> None:
    supply = SupplyConductors.parse("2/0 AWG Cu")
    local = {"rod-only-cap": read_override("rod-only-cap", "8 AWG Cu", 2023)}

    def size() -> str:
        return str(electrode_conductor(supply, ServedBy.ROD).size)

    assert size() == "6 AWG Cu"
    with in_force(local):
        assert size() == "8 AWG Cu"
        with in_force({}):
            assert size() == "6 AWG Cu"
        assert size() == "8 AWG Cu"
        assert rule_parameter("rod-only-cap", 2023, {}).size(Material.CU) == Size.parse("6 AWG")
    assert size() == "6 AWG Cu"


def test_it_ends_with_the_block_whatever_happens() -> None:
    local = {"rod-resistance": read_override("rod-resistance", "5 ohm", 2023)}
    with pytest.raises(ZeroDivisionError), in_force(local):
        assert rule_parameter("rod-resistance", 2023).number == 5 / 0
    assert rule_parameter("rod-resistance", 2023).number == 25


def test_threads_keep_theirs_apart() -> None:
    values = [f"rod-resistance: {ohms} ohm" for ohms in (10, 20)] * 8
    with ThreadPoolExecutor(4) as pool:
        plans = list(pool.map(planned, values))
    for number, made in enumerate(plans):
        assert bool(findings(made, "single-rod")) is (number % 2 == 0)


# --- on a site --------------------------------------------------------------------------------


def test_a_stricter_size_is_told_in_its_row() -> None:
    made = planned("rod-only-cap: 4 AWG Cu")
    answer = item(made, "GEC rod").required
    assert answer is not None
    assert str(answer.size) == "4 AWG Cu"
    assert answer.clause.endswith(", local amendment rod-only-cap")
    assert answer.because[-1] == (
        "Local amendment rod-only-cap: 4 AWG Cu, 4 AWG Al in place of 6 AWG Cu, 4 AWG Al "
        "(Harrow Creek, ordinance 12, 2024-03-01)."
    )
    other = item(made, "MBJ panel").required
    assert other == item(bare(), "MBJ panel").required
    note = finding(made, "local-amendment", "site")
    assert note.severity is Severity.NOTE
    assert note.text.endswith("It changes something at: rod.")
    assert note.clause == "Harrow Creek, ordinance 12, 2024-03-01"


def test_a_stricter_limit_is_told_in_its_finding() -> None:
    assert findings(bare(), "single-rod") == []
    found = finding(planned("rod-resistance: 10 ohm"), "single-rod")
    assert found.severity is Severity.FALLS_SHORT
    assert "more than 10 ohm" in found.text
    assert "Local amendment rod-resistance: 10 ohm in place of 25 ohm" in found.text
    assert found.clause == "NEC 2023 250.53(A)(2), local amendment rod-resistance"


def test_a_milder_limit_leaves_a_note_where_it_takes_a_finding_away() -> None:
    text = (TEXT % (SOURCE, "rod-resistance: 50 ohm")).replace("18 ohm", "40 ohm")
    made = plan(read(text))
    assert findings(made, "single-rod") == []
    note = finding(made, "local-amendment", "rod")
    assert note.severity is Severity.NOTE
    assert "one rod on its own" in note.text
    assert "50 ohm in place of 25 ohm" in note.text


def test_an_amendment_that_changes_nothing_says_so() -> None:
    made = planned("pool-bond-conductor: 6 AWG Cu")
    note = finding(made, "local-amendment")
    assert "It changes nothing here." in note.text
    assert made.schedule == bare().schedule


def test_two_amendments_are_told_apart() -> None:
    made = planned("rod-only-cap: 4 AWG Cu, rod-resistance: 10 ohm")
    row = item(made, "GEC rod").required
    assert row is not None
    assert "rod-resistance" not in row.clause
    assert "rod-only-cap" not in finding(made, "single-rod").text
    assert [one.id for one in local_amendments(made.site)] == ["rod-only-cap", "rod-resistance"]


def test_amendments_that_each_do_the_same_are_both_named() -> None:
    # Either alone takes the requirement away from a 1200 A main on 277 V to ground.
    values = {
        "ground-fault-protection-rating": "2000 A",
        "ground-fault-protection-voltage-to-ground": "300 V",
    }
    amendment = {"authority": "a", "reference": "b", "date": "2024-03-01", "values": values}
    big = described(SHOP, places__main__main="1200 A")
    assert findings(plan(Site.model_validate(big)), "ground-fault-protection")
    made = plan(Site.model_validate({**big, "amendments": {"town": amendment}}))
    assert findings(made, "ground-fault-protection") == []
    note = finding(made, "local-amendment", "main")
    assert all(id in note.text for id in values)


def test_the_checklist_follows_it() -> None:
    plain = checklist(bare())
    changed = checklist(planned("electrode-conductor-unprotected-minimum: 2 AWG Cu"))
    assert {line.id for line in changed} >= {line.id for line in plain}


def test_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "town.yaml").write_text(
        "authority: Harrow Creek\nreference: ordinance 12\ndate: 2024-03-01\n"
        "values:\n  rod-resistance: 10 ohm\n"
    )
    described = TEXT.replace("{%s, values: {%s}}", "{file: town.yaml}") % ()
    (tmp_path / "site.yaml").write_text(described)
    made = plan(load(tmp_path / "site.yaml"))
    assert "10 ohm" in finding(made, "single-rod").text
    with pytest.raises(SiteError, match="found only from a site file on disk"):
        read(described)


@pytest.mark.parametrize(
    ("file", "content", "problem"),
    [
        ("town.yaml", None, "can't be opened"),
        ("../town.yaml", None, "leads out of the folder"),
        ("/town.yaml", None, "leads out of the folder"),
        ("town.yaml", "authority: x\n", "no group of 'values'"),
        ("town.yaml", "- 1\n", "is a list"),
        ("town.yaml", "who: x\nvalues: {rod-resistance: 10 ohm}\n", "'who'"),
        ("town.yaml", "authority: x\nvalues: {rod-resistance: 10 ohm}\n", "has no good"),
        (
            "town.yaml",
            "authority: x\nreference: y\ndate: soon\nvalues: {rod-resistance: 10 ohm}\n",
            "has no good date",
        ),
        ("town.yaml", "a: [\n", "line"),
    ],
)
def test_a_bad_file_is_told_where_it_is_named(
    tmp_path: Path, file: str, content: str | None, problem: str
) -> None:
    if content is not None:
        (tmp_path / "town.yaml").write_text(content)
    described = TEXT.replace("{%s, values: {%s}}", f"{{file: {file}}}") % ()
    (tmp_path / "site.yaml").write_text(described)
    with pytest.raises(SiteError) as error:
        load(tmp_path / "site.yaml")
    (first,) = error.value.problems
    assert problem in first.problem
    assert first.line == 5


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("rod-resistance", "rod-resistence", "is no parameter of the rules"),
        ("10 ohm", "10 ft", "10 ft"),
        ("date: 2024-03-01, ", "", "needs 'authority'"),
        ("date: 2024-03-01", "date: last spring", "can't have"),
        ("values:", "file: town.yaml, values:", "needs 'authority'"),
    ],
)
def test_a_bad_amendment_is_told_with_its_line(old: str, new: str, problem: str) -> None:
    text = (TEXT % (SOURCE, "rod-resistance: 10 ohm")).replace(old, new)
    with pytest.raises(SiteError) as error:
        read(text)
    assert error.value.problems[0].line == 5
    assert problem in str(error.value.problems[0])


def test_one_number_is_amended_once() -> None:
    twice = f"\n  county: {{{SOURCE}, values: {{rod-resistance: 5 ohm}}}}\nsources:"
    text = (TEXT % (SOURCE, "rod-resistance: 10 ohm")).replace("\nsources:", twice)
    with pytest.raises(SiteError, match="is amended by 'town' already"):
        read(text)


def test_a_note_says_what_to_do() -> None:
    text = (TEXT % (SOURCE, "rod-resistance: 50 ohm")).replace("18 ohm", "40 ohm")
    made = plan(read(text))
    for where in ("rod", "site"):
        note = finding(made, "local-amendment", where)
        assert "authority having jurisdiction" in note.cure
        assert note.clause
    assert finding(made, "local-amendment", "rod").clause == "local amendment rod-resistance"
