"""How metal raceways end: 250.92(B), 250.97, and the jumpers of their bushings.

Expected verdicts: the rule facts of 250.92(B) (confirmed: plain locknuts alone never bond ahead of
the service disconnect; jumpers go around concentric knock-outs) and 250.97 (confirmed; the list of
fittings from memory). Sizes: tables 250.102(C)(1) and 250.122 (confirmed).
"""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from bondwright.catalog.sizes import Material
from bondwright.catalog.systems import VoltageSystem
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.rules.raceway_ends import (
    end_over_250,
    highest_to_ground,
    load_side_jumper,
    service_end,
)
from bondwright.site.model import Fitting, Knockouts
from tests.plan.sites import SHOP, SHOP_FOUND, described, finding, findings, item, planned, rules_of

HOLDS, SHORT, TELL = Verdict.HOLDS, Verdict.FALLS_SHORT, Verdict.CANNOT_TELL
CLEAN, RINGS, LISTED = Knockouts.CLEAN, Knockouts.CONCENTRIC, Knockouts.LISTED
RMC = {"kind": "rmc", "size": "3 in"}
EMT = {"kind": "emt", "size": "1 in"}

# fitting, verdict with: knock-outs not said, clean, concentric, in a listed box
SERVICE = [
    (None, TELL, TELL, TELL, TELL),
    (Fitting.BONDING_BUSHING, HOLDS, HOLDS, HOLDS, HOLDS),
    (Fitting.THREADED_HUB, HOLDS, HOLDS, SHORT, SHORT),
    (Fitting.BONDING_LOCKNUT, TELL, HOLDS, SHORT, SHORT),
    (Fitting.THREADLESS, TELL, HOLDS, SHORT, SHORT),
    (Fitting.TWO_LOCKNUTS, SHORT, SHORT, SHORT, SHORT),
    (Fitting.LOCKNUTS, SHORT, SHORT, SHORT, SHORT),
]
OVER_250 = [
    (None, TELL, TELL, TELL, TELL),
    (Fitting.BONDING_BUSHING, HOLDS, HOLDS, HOLDS, HOLDS),
    (Fitting.THREADED_HUB, HOLDS, HOLDS, SHORT, HOLDS),
    (Fitting.BONDING_LOCKNUT, TELL, HOLDS, SHORT, HOLDS),
    (Fitting.THREADLESS, TELL, HOLDS, SHORT, HOLDS),
    (Fitting.TWO_LOCKNUTS, TELL, HOLDS, SHORT, HOLDS),
    (Fitting.LOCKNUTS, SHORT, SHORT, SHORT, SHORT),
]
HOLES = (None, CLEAN, RINGS, LISTED)


@pytest.mark.parametrize("row", SERVICE, ids=lambda row: str(row[0]))
def test_service_raceway_bond_by_its_end(row: Any) -> None:
    fitting, *verdicts = row
    for hole, verdict in zip(HOLES, verdicts, strict=True):
        assert service_end(fitting, hole)[0] is verdict, hole


@pytest.mark.parametrize("row", OVER_250, ids=lambda row: str(row[0]))
def test_high_voltage_raceway_bond_by_its_end(row: Any) -> None:
    fitting, *verdicts = row
    for hole, verdict in zip(HOLES, verdicts, strict=True):
        assert end_over_250(fitting, hole)[0] is verdict, hole


def test_what_will_do_ahead_of_the_service_will_do_behind_it() -> None:
    """250.97 takes the methods of 250.92(B) but the neutral, and more."""
    for fitting, hole in product(Fitting, HOLES):
        if service_end(fitting, hole)[0] is HOLDS:
            assert end_over_250(fitting, hole)[0] is HOLDS
        if end_over_250(fitting, hole)[0] is SHORT:
            assert service_end(fitting, hole)[0] is SHORT


@pytest.mark.parametrize("function", [service_end, end_over_250])
def test_every_reason_is_a_sentence(function: Any) -> None:
    for fitting, hole in product((None, *Fitting), HOLES):
        reason = function(fitting, hole)[1]
        assert reason[0].isupper()
        assert reason.endswith(".")


@pytest.mark.parametrize(
    ("system", "volts"),
    [("480Y/277 V", 277), ("120/240 V", 120), ("480 V delta", 480), ("120/240 V delta", 208)],
)
def test_highest_to_ground(system: str, volts: float) -> None:
    """A delta whose corner may be grounded counts with the voltage between lines."""
    assert highest_to_ground(VoltageSystem.parse(system)) == pytest.approx(volts, abs=0.2)


# --- in a site --------------------------------------------------------------------------------


def test_locknuts_on_a_service_raceway_fall_short_with_the_size_of_the_cure() -> None:
    result = planned(SHOP, runs__service__raceway=RMC, runs__service__fittings="locknuts")
    found = finding(result, "service-raceway-bond")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "service")
    assert found.clause == "NEC 2020 250.92(B)"
    # Table 250.102(C)(1): 500 kcmil Cu -> 1/0 AWG Cu.
    assert "1/0 AWG Cu" in found.cure
    assert "off and proved dead" in found.cure
    assert "utility" in found.cure


def test_an_unsaid_end_is_asked_by_the_checklist_only() -> None:
    result = planned(SHOP, runs__service__raceway=RMC, runs__primary__raceway=EMT)
    assert not {"service-raceway-bond", "high-voltage-raceway-bond"} & rules_of(result)
    said = planned(SHOP, runs__service__raceway=RMC, runs__service__knockouts="concentric")
    assert "service-raceway-bond" not in rules_of(said)


def test_concentric_rings_above_250_v_fall_short_and_below_do_not() -> None:
    ends = {"fittings": "threadless connector", "knockouts": "concentric", "raceway": EMT}
    high = planned(SHOP, **{f"runs__primary__{key}": value for key, value in ends.items()})
    found = finding(high, "high-voltage-raceway-bond")
    assert (found.where, found.clause) == ("primary", "NEC 2020 250.97")
    assert "277 V to ground" in found.text
    # Table 250.122: 125 A -> 6 AWG Cu.
    assert "6 AWG Cu" in found.cure
    low = planned(SHOP, **{f"runs__branch__{key}": value for key, value in ends.items()})
    assert "high-voltage-raceway-bond" not in rules_of(low)


def test_a_raceway_that_does_not_bond_is_no_ground_in_the_schedule() -> None:
    bad = planned(
        SHOP,
        runs__primary__egc="raceway",
        runs__primary__raceway=EMT,
        runs__primary__fittings="locknuts",
    )
    assert item(bad, "EGC primary").verdict is Verdict.FALLS_SHORT
    good = planned(
        SHOP,
        runs__primary__egc="raceway",
        runs__primary__raceway=EMT,
        runs__primary__fittings="two locknuts",
        runs__primary__knockouts="clean",
    )
    assert item(good, "EGC primary").verdict is Verdict.HOLDS


# --- jumpers of bushings ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("device", "copper", "aluminium"),
    [("20 A", "12 AWG", "10 AWG"), ("125 A", "6 AWG", "4 AWG"), ("400 A", "3 AWG", "1 AWG"),
     ("1200 A", "3/0 AWG", "250 kcmil")],
)  # fmt: skip
def test_load_side_bonding_jumper_is_that_of_table_250_122(
    device: str, copper: str, aluminium: str
) -> None:
    for material, size in ((Material.CU, copper), (Material.AL, aluminium)):
        answer = load_side_jumper(ProtectiveDevice.parse(device), material, "nec-2017")
        assert (answer.rule, str(answer.size.size)) == ("load-side-bonding-jumper", size)
        assert answer.clause == "NEC 2017 250.102(D)"
        assert answer.status == "one-source"


def test_load_side_bonding_jumper_is_refused_conductors() -> None:
    with pytest.raises(TypeError, match="follow the overcurrent device"):
        load_side_jumper(SupplyConductors.parse("500 kcmil Cu"))  # type: ignore[arg-type]


def _bushing(run: str, raceway: Any, **more: Any) -> dict[str, Any]:
    more |= {"fittings": "bonding bushing", "raceway": raceway}
    return {f"runs__{run}__{key}": value for key, value in more.items()}


def test_bushing_jumper_follows_the_supply_ahead_and_the_device_behind() -> None:
    result = planned(SHOP, **_bushing("service", RMC), **_bushing("primary", EMT))
    ahead, behind = item(result, "bushing service"), item(result, "bushing primary")
    assert ahead.required is not None
    assert behind.required is not None
    assert (ahead.required.rule, str(ahead.chosen)) == ("supply-side-bonding-jumper", "1/0 AWG Cu")
    assert (behind.required.rule, str(behind.chosen)) == ("load-side-bonding-jumper", "6 AWG Cu")
    assert (ahead.verdict, behind.verdict) == (HOLDS, HOLDS)


@pytest.mark.parametrize(
    ("sets", "size"),
    # Table 250.102(C)(1): 250 kcmil -> 2 AWG; 2 x 250 = 500 kcmil -> 1/0 AWG.
    [("apart", "2 AWG Cu"), ("together", "1/0 AWG Cu")],
)
def test_bushing_jumper_of_parallel_raceways_follows_the_lines_inside(sets: str, size: str) -> None:
    result = planned(
        SHOP, **_bushing("service", RMC, lines="2 x 250 kcmil Cu"), runs__service__sets=sets
    )
    assert str(item(result, "bushing service").chosen) == size


def test_bushing_jumper_that_is_too_small_falls_short() -> None:
    result = planned(SHOP, **_bushing("service", RMC, **{"bushing jumper": "4 AWG Cu"}))
    assert item(result, "bushing service").verdict is SHORT
    assert finding(result, "supply-side-bonding-jumper").where == "service"


def test_bushing_jumper_as_found_without_a_size_is_not_known() -> None:
    result = planned(SHOP_FOUND, **_bushing("primary", EMT))
    row = item(result, "bushing primary")
    assert (row.verdict, row.chosen) == (TELL, None)
    assert finding(result, "load-side-bonding-jumper").severity is Severity.CANNOT_TELL
    # The run's own conductor is not taken for the jumper.
    assert item(result, "EGC primary").verdict is HOLDS


def test_bushing_jumper_of_another_metal_above_the_table_is_not_guessed() -> None:
    result = planned(
        SHOP,
        **_bushing("service", RMC, lines="4 x 500 kcmil Cu", **{"bushing jumper": "500 kcmil Al"}),
        runs__service__sets="together",
    )
    assert item(result, "bushing service").required is None
    assert findings(result, "supply-side-bonding-jumper")


def test_a_jumper_needs_a_device_to_follow() -> None:
    base = described(SHOP, **_bushing("branch", EMT))
    del base["runs"]["branch"]["device"]
    del base["places"]["LP"]["main"]
    base["places"]["LP"]["kind"] = "disconnect"
    row = item(planned(base), "bushing branch")
    assert (row.required, row.verdict) == (None, TELL)


def test_no_answer_is_said_so() -> None:
    with pytest.raises(CannotTellError):
        load_side_jumper(ProtectiveDevice.parse("7000 A"))
