"""Material of electrodes and bonds, and ways that are left open, piece by piece."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.plan.alternatives import ChoiceKind, choices
from bondwright.plan.cost import MaterialLine, material, totals
from bondwright.plan.ways import open_choices
from tests.plan import whole
from tests.plan.sites import HOUSE, SHOP, described, item, planned

EMT = {"kind": "emt", "size": "1-1/4 in"}
FOOT = 0.3048


def _pieces(electrode: dict[str, Any]) -> dict[str, float | None]:
    result = planned(HOUSE, electrodes={"e": {"at": "house", **electrode}})
    lines = [line for line in material(result) if line.about == "e"]
    assert {line.row for line in lines} == {"GEC e"}
    for line in lines:
        whole.well_typed(line)
    return {f"{line.item}, {line.unit}": line.quantity for line in lines}


@pytest.mark.parametrize(
    ("electrode", "pieces"),
    [
        # The conductor is assumed to be 20 ft long.
        ({"kind": "rod", "count": 3, "spacing": "8 ft", "lead": "10 ft"},
         {"6 AWG Cu wire, m": 16 * FOOT, "ground rod 8 ft, each": 3, "ground rod clamp, each": 3}),
        ({"kind": "rod", "length": "10 ft"},
         {"6 AWG Cu wire, m": 20 * FOOT, "ground rod 10 ft, each": 1, "ground rod clamp, each": 1}),
        ({"kind": "plate", "count": 2, "spacing": "6 ft"},
         {"6 AWG Cu wire, m": 6 * FOOT, "ground plate, each": 2, "ground plate clamp, each": 2}),
        ({"kind": "water pipe"},
         {"4 AWG Cu wire, m": 20 * FOOT, "water pipe ground clamp, each": 1}),
        ({"kind": "concrete"},
         {"4 AWG Cu wire, m": 20 * FOOT, "reinforcing bar clamp, each": 1}),
        ({"kind": "steel"},
         {"4 AWG Cu wire, m": 20 * FOOT, "steel beam connection, each": 1}),
        ({"kind": "ring"},
         {"4 AWG Cu wire, m": 20 * FOOT, "exothermic or irreversible tap, each": 1}),
    ],
    ids=lambda part: str(part.get("kind", "")) if isinstance(part, dict) else "",
)  # fmt: skip
def test_pieces_of_an_electrode(electrode: dict[str, Any], pieces: dict[str, float]) -> None:
    # The wire between comes last and stands for the lead's line in this table.
    assert _pieces(electrode) == pytest.approx(pieces)


def test_totals_leave_out_what_is_not_measured() -> None:
    wire = MaterialLine("a", "a", "6 AWG Cu wire", 2.0, "m")
    lines = [wire, MaterialLine("b", "b", "6 AWG Cu wire", None, "m"),
             MaterialLine("c", "c", "6 AWG Cu wire", 0.0, "m"),
             MaterialLine("a", "a", "6 AWG Cu wire", 3.0, "m"),
             MaterialLine("d", "d", "6 AWG Cu wire", 1, "each")]  # fmt: skip
    assert totals(lines) == (
        ("6 AWG Cu wire", "each", 1, ("d",)),
        ("6 AWG Cu wire", "m", 5.0, ("a", "c")),
    )


def test_a_bond_of_pipe_has_its_clamp_and_no_length() -> None:
    pipe = {"kind": "water pipe", "from": "house", "to": "shed", "length": "50 ft",
            "resistance": "5 mohm"}  # fmt: skip
    result = planned(HOUSE, metal__pipe=pipe)
    row = item(result, "BJ pipe")
    assert (row.form, str(row.chosen), row.from_, row.to) == ("wire", "4 AWG Cu", "house", "pipe")
    lines = {line.item: line for line in material(result) if line.about == "pipe"}
    assert lines["4 AWG Cu wire"].quantity is None
    assert lines["4 AWG Cu wire"].remark == "its length is not described"
    assert lines["bonding clamp for pipe or steel"].quantity == 1


def test_bushings_are_bought_for_every_raceway() -> None:
    result = planned(
        HOUSE,
        places__shed__main="400 A",
        runs__feeder__lines="2 x 3/0 AWG Cu",
        runs__feeder__device="400 A",
        runs__feeder__raceway=EMT,
        runs__feeder__egc="raceway",
    )
    (line,) = [line for line in material(result) if line.about == "feeder"]
    assert (line.item, line.quantity) == ("bonding bushing 1-1/4 in", 4)


# --- ways -------------------------------------------------------------------------------------

SITES: dict[str, Any] = {
    "shop": SHOP,
    "raceway": described(SHOP, runs__primary__raceway=EMT,
                         runs__secondary__raceway={"kind": "emt", "size": "3 in"}),
    "parallel": described(SHOP, runs__secondary__lines="2 x 3/0 AWG Cu"),
    "one rod": described(HOUSE, electrodes__house_rods__count=1),
    "plate": described(HOUSE, electrodes={"p": {"kind": "plate", "at": "house"}}),
}  # fmt: skip


@pytest.mark.parametrize("name", SITES)
def test_every_way_is_a_whole_plan(name: str) -> None:
    result = planned(SITES[name])
    year = "NEC 2020 "
    for choice in choices(result):
        whole.well_typed(choice, but="ways")
        assert choice.clause.startswith(year)
        assert choice.ways[0].planned
        assert not choice.ways[0].rows
        assert not choice.ways[0].findings
        assert len({way.what for way in choice.ways}) == len(choice.ways)
        for way in choice.ways:
            whole.well_typed(way, but="plan")
            whole.check(way.plan)
            assert way.planned is (way.plan is result)
            assert way.planned or way.rows or choice.kind is ChoiceKind.ROD
            assert not any(word in f"{way.what} {way.remark}" for word in ("None", "XX"))
            for line in way.material:
                whole.well_typed(line)
            for change in way.rows:
                assert change.before != change.after


@pytest.mark.parametrize(
    ("name", "kind", "about", "clause"),
    [
        ("raceway", ChoiceKind.GROUND, "primary", "NEC 2020 250.118"),
        ("raceway", ChoiceKind.JUMPER, "secondary", "NEC 2020 250.30(A)(2)"),
        ("parallel", ChoiceKind.PARALLEL, "secondary", "NEC 2020 250.102(C)(2)"),
        ("shop", ChoiceKind.TIE, "T1", "NEC 2020 250.30(A)(1)"),
        ("shop", ChoiceKind.METAL, "EGC branch", "NEC 2020 250.122(A)"),
        ("one rod", ChoiceKind.ROD, "house rods", "NEC 2020 250.53(A)(2)"),
        ("plate", ChoiceKind.ROD, "p", "NEC 2020 250.53(A)(2)"),
    ],
)
def test_where_the_code_leaves_the_choice(
    name: str, kind: ChoiceKind, about: str, clause: str
) -> None:
    found = [(c[2]) for c in open_choices(planned(SITES[name])) if c[:2] == (kind, about)]
    assert found == [clause]


def test_parallel_jumpers_each_or_one_for_all() -> None:
    """250.102(C)(2): 3/0 AWG -> 4 AWG in each; 335,600 cmil -> 2 AWG for all."""
    (found,) = [c for c in choices(planned(SITES["parallel"]), about="secondary")
                if c.kind is ChoiceKind.PARALLEL]  # fmt: skip
    assert [way.what for way in found.ways] == [
        "one for each of the 2 raceways: 2 x 4 AWG Cu", "one for all raceways: 2 AWG Cu",
    ]  # fmt: skip
    assert "at most 6 ft long (250.102(E))" in found.ways[1].remark
    assert str(found.ways[1].plan.runs["secondary"].metal) == "2 AWG Cu"
    said = described(SITES["parallel"], runs__secondary__ssbj="2 AWG Cu")
    (fixed,) = [c for c in choices(planned(said), about="secondary")
                if c.kind is ChoiceKind.PARALLEL]  # fmt: skip
    assert (fixed.fixed, fixed.ways[0].what) == ("ssbj: 2 AWG Cu", "wire 2 AWG Cu")


def test_the_tie_at_the_source_or_at_the_disconnect_and_what_it_means() -> None:
    (found,) = [c for c in choices(planned(SHOP), about="T1") if c.kind is ChoiceKind.TIE]
    assert "the neutral to the first disconnect carries load only" in found.ways[0].remark
    assert found.ways[1].remark.startswith("the neutral of 'secondary' is the fault path as well")
    at_panel = planned(described(SHOP, ties={"t": {"at": "LP", "by": "strap"}}))
    (kept,) = [c for c in choices(at_panel, about="T1") if c.kind is ChoiceKind.TIE]
    assert kept.fixed == "tie 't'"


def test_the_second_rod_stands_as_far_as_asked() -> None:
    """250.53(A)(3): at least 6 ft."""
    (found,) = [c for c in choices(planned(SITES["one rod"]), about="house rods")
                if c.kind is ChoiceKind.ROD]  # fmt: skip
    second = found.ways[1]
    assert second.what == "a second rod, 6 ft away"
    rods = second.plan.site.electrodes["house rods"]
    assert rods.count == 2
    assert rods.spacing == pytest.approx(6 * FOOT)
    assert second.plan.electrodes["house rods"].resistance < (
        found.ways[0].plan.electrodes["house rods"].resistance
    )
