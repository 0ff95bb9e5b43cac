"""An estimator takes off a 75 kVA transformer: every item traces to a row and a mark, and back.

Sizes as in the case of a 75 kVA transformer with 350 kcmil to a 200 A panel (public thread,
"Please help me understand transformer and panel grounding/bonding"): 2 AWG copper.
The prices are made up for the test.
"""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from bondwright.plan.build import plan
from bondwright.plan.cost import cost, material, read_prices, totals
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.units import FOOT
from tests.plan.sites import SHOP, described

STEEL = {"steel at T1": {"kind": "steel", "at": "T1", "lead": "12 ft"},
         "steel": {"kind": "steel", "at": "main", "lead": "30 ft"}}  # fmt: skip
PRICES = """# made up
item,unit,price
2 AWG Cu wire,ft,2.00
1/0 AWG Cu wire,ft,3.00
6 AWG Cu wire,ft,1.00
12 AWG Cu wire,100 ft,25.00
lug 2 AWG Cu,each,4.50
lug 1/0 AWG Cu,each,6.00
steel beam connection,each,11.00
"""


def made(**changes: object) -> Plan:
    return plan(Site.model_validate(described(SHOP, electrodes=STEEL, **changes)))


def marks(result: Plan) -> set[str]:
    """Ids that the picture shows: runs, ties, electrodes, metal."""
    site = result.site
    return {*site.runs, *(tie.id for tie in result.ties), *site.electrodes, *site.metal}


def test_every_item_traces_to_a_row_and_a_mark() -> None:
    result = made()
    rows = {item.id: item for item in result.schedule}
    for line in material(result):
        assert line.row in rows
        assert line.about == rows[line.row].about
        assert line.about in marks(result)


def test_every_row_with_a_conductor_has_its_items() -> None:
    result = made()
    listed = {line.row for line in material(result)}
    assert listed == {item.id for item in result.schedule if item.form in {"wire", "raceway"}}


def test_the_wire_is_what_the_rows_and_lengths_say() -> None:
    found = {(line.row, line.item): line for line in material(made())}
    feet = {key: (line.quantity or 0) / FOOT for key, line in found.items() if line.unit == "m"}
    assert feet == pytest.approx(
        {
            ("MBJ main", "1/0 AWG Cu wire"): 1,
            ("GEC steel", "1/0 AWG Cu wire"): 30,
            ("EGC primary", "6 AWG Cu wire"): 30,
            ("SBJ T1", "2 AWG Cu wire"): 1,
            ("GEC steel at T1", "2 AWG Cu wire"): 12,
            ("SSBJ secondary", "2 AWG Cu wire"): 10,
            ("EGC branch", "12 AWG Cu wire"): 50,
        }
    )
    assert found["SBJ T1", "2 AWG Cu wire"].remark == "length assumed"
    assert found["GEC steel", "1/0 AWG Cu wire"].remark == ""


def test_totals_name_every_item_once_with_its_rows() -> None:
    lines = material(made())
    summed = totals(lines)
    assert Counter(item for item, *_ in summed).most_common(1)[0][1] == 1
    (two,) = [entry for entry in summed if entry[0] == "2 AWG Cu wire"]
    assert two[2] / FOOT == pytest.approx(23)
    assert two[3] == ("SBJ T1", "GEC steel at T1", "SSBJ secondary")


def test_the_cost_is_the_sum_by_hand() -> None:
    spent = cost(material(made()), read_prices(PRICES))
    wire = Decimal("2.00") * 23 + Decimal("3.00") * 31 + Decimal("1.00") * 30 + Decimal("12.50")
    pieces = 2 * Decimal("4.50") + 2 * Decimal("6.00") + 2 * Decimal("11.00")
    assert spent.whole
    assert spent.total == wire + pieces


def test_a_length_changes_the_cost_once() -> None:
    prices = read_prices(PRICES)
    before = cost(material(made()), prices).total
    after = cost(material(made(runs__secondary__length="25 ft")), prices).total
    assert after - before == Decimal("30.00")  # 15 ft more of one wire at 2.00


def test_as_found_what_is_there_is_not_bought() -> None:
    egc = {"runs__primary__egc": "6 AWG Cu", "describes": "as found", "ties": {}}
    rows = {line.row for line in material(made(**egc))}
    assert "EGC primary" not in rows
