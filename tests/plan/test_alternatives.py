"""Where the code leaves a choice: each way planned, nothing that a person fixed changed.

That the code leaves these choices is common practice: a metal raceway as grounding conductor
(NEC 250.118), the system bonding jumper at the source or the first disconnect (250.30(A)(1)), one
jumper or one for each raceway (250.102(C)(2)), a second rod or proof of 25 ohm (250.53(A)(2)).
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from bondwright.plan.alternatives import Choice, ChoiceKind, choices
from bondwright.plan.cost import Price, PriceError, cost, material, read_prices
from bondwright.plan.model import Plan
from tests.plan.sites import HOUSE, SHOP, SHOP_FOUND, Described, described, planned

EMT = {"kind": "emt", "size": "1-1/4 in"}


def made(base: Described, **changes: object) -> Plan:
    return planned(base, **changes)


def choice(result: Plan, kind: ChoiceKind, about: str) -> Choice:
    (found,) = [c for c in choices(result, about=about) if c.kind is kind]
    return found


def what(found: Choice) -> list[str]:
    return [way.what for way in found.ways]


def test_wire_or_raceway_as_ground() -> None:
    found = choice(made(SHOP, runs__primary__raceway=EMT), ChoiceKind.GROUND, "primary")
    assert what(found) == ["wire 6 AWG Cu", "the 1-1/4 in emt raceway alone"]
    assert found.clause == "NEC 2020 250.118"
    assert found.fixed == ""
    (row,) = found.ways[1].rows
    assert row.row == "EGC primary"
    assert row.before == "main to T1: 6 AWG Cu wire (holds)"
    assert row.after == "main to T1: raceway (holds)"
    assert [(m.item, m.quantity) for m in found.ways[1].material] == [
        ("bonding bushing 1-1/4 in", 2)
    ]
    assert found.ways[1].findings == ()


def test_plastic_leaves_no_choice() -> None:
    result = made(SHOP, runs__primary__raceway={"kind": "pvc", "size": "2 in"})
    assert choices(result, about="primary") == ()


@pytest.mark.parametrize("egc", ["6 AWG Cu", "raceway", "none"])
def test_what_the_person_fixed_is_named_and_kept(egc: str) -> None:
    result = made(SHOP, runs__primary__raceway=EMT, runs__primary__egc=egc)
    found = choice(result, ChoiceKind.GROUND, "primary")
    assert found.fixed == f"egc: {egc}"
    (way,) = found.ways
    assert way.planned
    assert way.plan is result
    assert way.rows == ()


def test_wire_or_raceway_as_supply_side_jumper() -> None:
    raceway = {"kind": "emt", "size": "3 in"}
    found = choice(made(SHOP, runs__secondary__raceway=raceway), ChoiceKind.JUMPER, "secondary")
    assert what(found) == ["wire 2 AWG Cu", "the 3 in emt raceway alone"]
    assert found.ways[1].plan.runs["secondary"].metal is None
    fixed = made(SHOP, runs__secondary__raceway=raceway, runs__secondary__ssbj="2 AWG Cu")
    kept = choice(fixed, ChoiceKind.JUMPER, "secondary")
    assert (kept.fixed, len(kept.ways)) == ("ssbj: 2 AWG Cu", 1)


def test_tie_at_the_transformer_or_at_the_first_disconnect() -> None:
    result = made(SHOP)
    found = choice(result, ChoiceKind.TIE, "T1")
    assert what(found) == ["at T1", "at LP"]
    moved = found.ways[1].plan
    there = [tie.at for tie in moved.ties if moved.topology.systems[tie.at].origin == "T1"]
    assert there == ["LP"]
    assert "the neutral of 'secondary' is the fault path as well, at least 2 AWG Cu" in (
        found.ways[1].remark
    )
    changed = {row.row: row for row in found.ways[1].rows}
    assert changed["GEC T1"].before.startswith("T1 to ")
    assert changed["GEC T1"].after.startswith("LP to ")
    assert found.ways[1].findings == ()
    assert moved.runs["secondary"].metal == result.runs["secondary"].metal


def test_a_small_neutral_tells_against_the_tie_at_the_disconnect() -> None:
    found = choice(made(SHOP, runs__secondary__neutral="6 AWG Cu"), ChoiceKind.TIE, "T1")
    assert [f.rule for f in found.ways[1].findings] == ["grounded-conductor"]


def test_a_tie_that_is_given_stays() -> None:
    ties = {"strap": {"at": "T1", "by": "strap"}}
    found = choice(made(SHOP, ties=ties), ChoiceKind.TIE, "T1")
    assert (found.fixed, what(found)) == ("tie 'strap'", ["at T1"])


@pytest.mark.parametrize(
    ("row", "copper", "aluminium"),
    [
        # NEC tables 250.102(C)(1), 250.66 and 250.122; supply 500 kcmil, 350 kcmil, 125 A, 20 A.
        ("MBJ main", "1/0 AWG Cu", "3/0 AWG Al"),
        ("GEC steel", "1/0 AWG Cu", "3/0 AWG Al"),
        ("SBJ T1", "2 AWG Cu", "1/0 AWG Al"),
        ("SSBJ secondary", "2 AWG Cu", "1/0 AWG Al"),
        ("EGC primary", "6 AWG Cu", "4 AWG Al"),
        ("EGC branch", "12 AWG Cu", "10 AWG Al"),
    ],
)
def test_copper_or_aluminium(row: str, copper: str, aluminium: str) -> None:
    found = choice(made(SHOP), ChoiceKind.METAL, row)
    assert what(found) == [copper, aluminium]
    assert "marked for aluminium" in found.ways[1].remark
    assert ("250.64(A)" in found.ways[1].remark) is row.startswith("GEC")
    assert any(aluminium in change.after and "(holds)" in change.after
               for change in found.ways[1].rows)  # fmt: skip


def test_a_size_that_is_given_keeps_its_metal() -> None:
    found = choice(made(SHOP, runs__branch__egc="12 AWG Cu"), ChoiceKind.METAL, "EGC branch")
    assert (found.fixed, what(found)) == ("12 AWG Cu", ["12 AWG Cu"])


def test_a_second_rod_or_proof() -> None:
    base = described(HOUSE, electrodes__house_rods__count=1)
    found = choice(made(base), ChoiceKind.ROD, "house rods")
    proof, second = found.ways
    assert found.clause == "NEC 2020 250.53(A)(2)"
    assert proof.what == "one rod, proven to have 25 ohm or less"
    assert proof.open
    assert "proves nothing" in proof.remark
    assert "never by opening the electrode conductor of a live system" in proof.remark
    assert second.what == "a second rod, 6 ft away"
    assert not second.open
    assert {(m.item, m.quantity) for m in second.material if m.unit == "each"} == {
        ("ground rod 8 ft", 2), ("ground rod clamp", 2)
    }  # fmt: skip
    assert not [f for f in second.plan.findings
                if (f.rule, f.where) == ("single-rod", "house rods")]  # fmt: skip


def test_a_rod_that_was_measured_too_high_closes_that_way() -> None:
    base = described(HOUSE, electrodes__house_rods__count=1,
                     electrodes__house_rods__resistance="60 ohm")  # fmt: skip
    found = choice(made(base), ChoiceKind.ROD, "house rods")
    assert "60 ohm is given, so this way is closed" in found.ways[0].remark


def test_two_rods_leave_no_such_choice() -> None:
    assert choices(made(HOUSE), about="house rods") == ()


def test_as_found_there_is_nothing_to_choose() -> None:
    assert choices(made(SHOP_FOUND)) == ()


def test_the_plan_itself_is_never_changed() -> None:
    result = made(SHOP, runs__primary__raceway=EMT)
    before = (result.site.model_dump(), result.schedule, result.ties)
    every = choices(result)
    assert (result.site.model_dump(), result.schedule, result.ties) == before
    assert all(c.ways[0].planned and c.ways[0].plan is result for c in every)
    assert {c.kind for c in every} == {ChoiceKind.GROUND, ChoiceKind.TIE, ChoiceKind.METAL}


def test_cost_stands_beside_each_way() -> None:
    prices = read_prices(
        "item,unit,price\n6 AWG Cu wire,ft,1.00\nbonding bushing 1-1/4 in,each,9\n"
    )
    result = made(SHOP, runs__primary__raceway=EMT)
    (found,) = [c for c in choices(result, prices, "primary") if c.kind is ChoiceKind.GROUND]
    totals = [way.cost.total for way in found.ways if way.cost is not None]
    assert totals == [Decimal("30.00"), Decimal("18.00")]
    assert choice(result, ChoiceKind.GROUND, "primary").ways[0].cost is None


# --- prices -----------------------------------------------------------------------------------


def test_what_has_no_price_is_named_and_not_counted() -> None:
    lines = material(made(SHOP))
    spent = cost(lines, read_prices("item,unit,price\n6 AWG Cu wire,each,1\n12 AWG Cu wire,m,1\n"))
    assert spent.total == Decimal("15.24")  # 50 ft
    assert "6 AWG Cu wire" in spent.missing  # priced by the piece
    assert "2 AWG Cu wire" in spent.missing
    assert spent.unmeasured == ("GEC T1",)
    assert not spent.whole
    assert cost((), {}).whole


@pytest.mark.parametrize(
    ("unit", "per"), [("ft", 0.3048), ("100 ft", 30.48), ("m", 1.0), ("each", 1.0)]
)
def test_units_of_a_price(unit: str, per: float) -> None:
    found = read_prices(f"# ours\nitem,unit,price\nx,{unit},2.5\n")["x"]
    assert found == Price("x", found.per, "each" if unit == "each" else "m", Decimal("2.5"))
    assert found.per == pytest.approx(per)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "first line must be item,unit,price"),
        ("what,unit,price\nx,ft,1\n", "first line must be"),
        ("item,unit,price\nx,ft,cheap\n", "'cheap' is no price"),
        ("item,unit,price\nx,ft,-1\n", "zero or more"),
        ("item,unit,price\nx,ft,NaN\n", "zero or more"),
        ("item,unit,price\nx,kg,1\n", "'kg' is no unit"),
        ("item,unit,price\nx,0 ft,1\n", "no length to pay for"),
        ("item,unit,price\nx,ft,1\nx,ft,2\n", "line 3: 'x' has a price already"),
        ("item,unit,price\n,ft,1\n", "needs an item"),
        ("item,unit,price\nx,ft,1,2\n", "nothing more"),
        ("item,unit,price\nx\n", "is no price"),
        ('item,unit,price\n"x"y,ft,1\n', "price list"),
    ],
)
def test_a_bad_price_list_is_refused(text: str, problem: str) -> None:
    with pytest.raises(PriceError, match=problem):
        read_prices(text)


def test_a_generators_tie_is_no_choice_of_a_transformer() -> None:
    generator = {"system": "208Y/120 V", "rating": "60 kVA"}
    result = made(
        SHOP,
        generators={"G1": generator},
        places__standby={"kind": "panel", "main": "100 A"},
        runs__spare={"from": "G1", "to": "standby", "length": "20 ft", "lines": "1 AWG Cu"},
    )
    ties = [c.about for c in choices(result) if c.kind is ChoiceKind.TIE]
    assert ties == ["T1"]


def test_wire_between_rods_is_bought_for_the_gaps() -> None:
    rods = {"rods": {"kind": "rod", "at": "house", "count": 3, "spacing": "10 ft"}}
    lines = [line for line in material(made(HOUSE, electrodes=rods)) if line.row == "GEC rods"]
    gaps = [line for line in lines if line.remark == "from one to the next"]
    assert [round((line.quantity or 0) / 0.3048, 6) for line in gaps] == [20]
    assert gaps[0].item == "6 AWG Cu wire"
    assert ("ground rod clamp", 3) in {(line.item, line.quantity) for line in lines}
