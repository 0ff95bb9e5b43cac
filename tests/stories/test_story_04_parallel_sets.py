"""An engineer sizes jumpers for parallel sets: both answers, and one jumper for each raceway.

Expected (replies in a public discussion, "Sizing a supply side or main bond with parallel
conductors"): 3 x 250 kcmil gives 2/0 copper, 2 x 3/0 gives 2 AWG copper or 1/0 aluminium for one
jumper; one for each raceway follows its own 3/0: 4 AWG copper.
"""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Material
from bondwright.plan.alternatives import ChoiceKind, choices
from bondwright.plan.build import plan
from bondwright.rules.inputs import SupplyConductors
from bondwright.rules.jumpers import parallel_jumpers
from bondwright.site.model import Site
from tests.plan.sites import SHOP, described


@pytest.mark.parametrize(
    ("supply", "metal", "single", "each"),
    [
        # One set alone: 250 kcmil copper, row over 3/0 to 350 kcmil: 2 AWG (table 250.102(C)(1)).
        ("3 x 250 kcmil Cu", Material.CU, "2/0 AWG Cu", "2 AWG Cu"),
        ("2 x 3/0 AWG Cu", Material.CU, "2 AWG Cu", "4 AWG Cu"),
        ("2 x 3/0 AWG Cu", Material.AL, "1/0 AWG Al", "2 AWG Al"),
    ],
)
def test_both_variants(supply: str, metal: Material, single: str, each: str) -> None:
    both = parallel_jumpers(SupplyConductors.parse(supply), material=metal)
    assert (str(both.single.size), str(both.per_raceway.size)) == (single, each)
    assert both.per_raceway.clause.endswith("250.102(C)(2)")
    assert any("its own raceway" in text for text in both.per_raceway.because)


@pytest.mark.parametrize(
    ("lines", "each", "single"),
    [("2 x 3/0 AWG Cu", "2 x 4 AWG Cu", "2 AWG Cu"),
     ("3 x 250 kcmil Cu", "3 x 2 AWG Cu", "2/0 AWG Cu")],
)  # fmt: skip
def test_side_by_side_on_a_site(lines: str, each: str, single: str) -> None:
    made = plan(Site.model_validate(described(SHOP, runs__secondary__lines=lines)))
    (choice,) = [c for c in choices(made, about="secondary") if c.kind is ChoiceKind.PARALLEL]
    planned, other = choice.ways
    assert (planned.planned, other.planned) == (True, False)
    assert each in planned.what
    assert single in other.what
    (row,) = other.rows
    assert row.row == "SSBJ secondary"
    assert each in row.before
    assert single in row.after
    assert row.after.endswith("(holds)")
    # Three lengths of small wire against one of large.
    quantities = [sum(m.quantity or 0 for m in way.material) for way in choice.ways]
    assert quantities[0] == pytest.approx(quantities[1] * int(lines[0]))
