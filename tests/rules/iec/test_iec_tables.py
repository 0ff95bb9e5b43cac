"""Every row of the family's tables against the transcription of the published ones."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.iec_tables import (
    as_nzs_earth,
    breaker_loop,
    csa_bonding,
    disconnection_time,
    electrode_minima,
    fuse_loop,
    iec_number,
    k_factor,
    next_metric_size,
    pme_bonding,
    protective_area,
    r1_r2,
)
from bondwright.catalog.sizes import metric_sizes
from bondwright.catalog.sources import CatalogError, Status
from bondwright.safety.withstand import k_factor as k_by_formula
from tests.catalog.reference import size_name
from tests.outside import outside, published, sureness
from tests.rules.iec.reference import FACTORS, FACTS, rows

# --- table 41.1 -----------------------------------------------------------------------------

TIMES = FACTS["table_41_1_disconnection_times_s"]
TOPS = (120, 230, 400, 1000)


@pytest.mark.parametrize("earthing", ["TN", "TT"])
@pytest.mark.parametrize("current", ["ac", "dc"])
@pytest.mark.parametrize("column", range(4))
@outside("IEC 60364-4-41, table 41.1", unit="s")
def test_table_41_1(earthing: str, current: str, column: int) -> None:
    # IEC 60364-4-41 table 41.1; TN ac confirmed, the rest one-source.
    expected = TIMES[f"{earthing}_{current}"][column]
    just_above = (50, *TOPS)[column] + 0.5
    for volts in (just_above, TOPS[column]):
        found = disconnection_time(volts, earthing, current)
        sure = (earthing, current) == ("TN", "ac")
        if expected is not None:
            assert found is not None
            assert found.value == published(expected, status="confirmed" if sure else "one-source")
        assert (found is None) == (expected is None)
        if found is not None:
            assert found.status is (Status.CONFIRMED if sure else Status.ONE_SOURCE)


def test_table_41_1_asks_for_nothing_up_to_50_v() -> None:
    assert disconnection_time(50, "TN") is None
    with pytest.raises(CatalogError, match="IT ac"):
        disconnection_time(230, "IT")
    with pytest.raises(CatalogError, match="voltage"):
        disconnection_time(-230, "TN")


# --- protective conductors ------------------------------------------------------------------


def _expected_54_7(line: float) -> float:
    for row in FACTS["table_54_7_protective_conductor"]["rule"]:
        if line <= row.get("S_max", math.inf):
            return float({"S": line, "S/2": line / 2}.get(row["Sp"], row["Sp"]))
    raise AssertionError(line)


@pytest.mark.parametrize("size", metric_sizes(), ids=str)
@outside("IEC 60364-5-54, table 54.2", "confirmed", unit="mm2")
def test_table_54_2(size: Any) -> None:
    # IEC 60364-5-54 table 54.2 = BS 7671 table 54.7, confirmed.
    found = protective_area(size.area_mm2)
    assert found.value == published(_expected_54_7(round(size.area_mm2, 9)), rel=1e-6)
    assert found.status is Status.CONFIRMED


@pytest.mark.parametrize("row", rows("asnzs3000_table5_1.csv"), ids=lambda r: r["active_mm2"])
@outside("AS/NZS 3000, table 5.1", "confirmed", unit="mm2")
def test_as_nzs_table_5_1(row: dict[str, str]) -> None:
    # AS/NZS 3000 table 5.1, confirmed.
    for metal in ("Cu", "Al"):
        cell = row[f"earth_with_{metal.lower()}_active"]
        found = as_nzs_earth(float(row["active_mm2"]), metal)
        if cell:
            assert found is not None
            assert found.value == published(float(cell))
            assert found.status is Status.CONFIRMED
            assert found.source.note.startswith(row["note"])
        else:
            assert found is None


@outside("AS/NZS 3000, table 5.1", "confirmed", unit="mm2")
def test_as_nzs_beyond_its_table() -> None:
    # Above 630 mm2 at least 25 % of the active, confirmed.
    found = as_nzs_earth(800, "Cu")
    assert found is not None
    assert found.value == published(200)
    with pytest.raises(CatalogError, match="steel"):
        as_nzs_earth(10, "steel")


@pytest.mark.parametrize("row", rows("csa_table16.csv"), ids=lambda r: r["ocpd_a_max"])
@outside("CSA C22.1, table 16", "memory")
def test_csa_table_16_is_flagged_as_memory(row: dict[str, str]) -> None:
    # CSA C22.1 table 16, memory: only that the transcription is what ships, with its doubt.
    for metal in ("Cu", "Al"):
        size, source = csa_bonding(float(row["ocpd_a_max"]), metal)
        assert size.name == published(size_name(row[metal.lower()]))
        assert source.status is Status.MEMORY
        assert "from memory" in source.note


def test_csa_table_16_ends() -> None:
    assert csa_bonding(800, "Cu")[0].name == "1/0 AWG"
    assert csa_bonding(801, "Cu")[0].name == "2/0 AWG"
    with pytest.raises(CatalogError, match="beyond"):
        csa_bonding(6001, "Cu")
    with pytest.raises(CatalogError, match="steel"):
        csa_bonding(100, "steel")


@pytest.mark.parametrize("row", FACTS["table_54_8_pme_main_bonding"]["rows"], ids=str)
@outside("BS 7671, table 54.8", "confirmed", unit="mm2")
def test_table_54_8(row: list[float | None]) -> None:
    # BS 7671 table 54.8, confirmed.
    top, expected = row
    assert pme_bonding(top or 400).value == published(expected)
    if top is not None:
        assert pme_bonding(top + 0.1).value > (expected or 0)


# --- factor k -------------------------------------------------------------------------------

INSULATIONS = {"pvc70": "PVC 70", "pvc90": "PVC 90", "xlpe90": "XLPE 90"}
LAID = {
    "separate": "protective_table_54_2_not_in_cable_not_bunched",
    "in cable": "protective_table_54_3_in_cable_or_bunched",
    "sheath": "protective_table_54_4_sheath_or_armour",
    "steel conduit": "protective_table_54_5_steel_conduit_trunking",
}
PRINTED = [
    (laid, metal, INSULATIONS[name], str(value))
    for laid, table in LAID.items()
    for metal, cells in FACTORS[table].items()
    if metal != "status"
    for name, value in cells.items()
]
BARE = {
    "bare visible": "visible_restricted_area",
    "bare": "normal",
    "bare fire risk": "fire_risk",
}


@pytest.mark.parametrize(("laid", "metal", "insulation", "printed"), PRINTED)
@outside("BS 7671, tables 54.2 to 54.5", unit="A s^0.5/mm2")
def test_k_tables_54_2_to_54_5(laid: str, metal: str, insulation: str, printed: str) -> None:
    # BS 7671 tables 54.2 to 54.5; status as in the file, from confirmed to memory.
    small, _, large = printed.partition("/")
    assert k_factor(laid, metal, insulation, 300).k == published(
        float(small), status=k_factor(laid, metal, insulation).source.status.value
    )
    assert k_factor(laid, metal, insulation, 301).k == published(
        float(large or small), status=k_factor(laid, metal, insulation).source.status.value
    )
    assert k_factor(laid, metal, insulation).table in ("54.2", "54.3", "54.4", "54.5")


@pytest.mark.parametrize("laid", BARE)
@pytest.mark.parametrize("metal", ["Cu", "Al", "steel"])
@outside("BS 7671, table 54.6", "memory", unit="A s^0.5/mm2")
def test_k_table_54_6(laid: str, metal: str) -> None:
    # BS 7671 table 54.6, memory.
    found = k_factor(laid, metal, "none")
    assert found.k == published(FACTORS["protective_table_54_6_bare"][BARE[laid]][metal])
    assert found.source.status is Status.MEMORY


@pytest.mark.parametrize(
    ("metal", "insulation", "index"),
    [
        ("Cu", "PVC 70", 0),
        ("Cu", "PVC 90", 1),
        ("Cu", "XLPE 90", 2),
        ("Al", "PVC 70", 6),
        ("Al", "XLPE 90", 7),
    ],
)
@outside("BS 7671, table 43.1", unit="A s^0.5/mm2")
def test_k_table_43_1(metal: str, insulation: str, index: int) -> None:
    # BS 7671 table 43.1; 115, 143, 76 and 94 confirmed.
    row = FACTORS["live_conductors_table_43_1"][index]
    small, _, large = str(row["k"]).partition("/")
    assert row["conductor"] == metal
    assert k_factor("line", metal, insulation).k == published(
        float(small), status=k_factor("line", metal, insulation).source.status.value
    )
    assert k_factor("line", metal, insulation, 400).k == published(
        float(large or small), status=k_factor("line", metal, insulation).source.status.value
    )


@pytest.mark.parametrize(("laid", "metal", "insulation", "printed"), PRINTED)
@outside("IEC 60364-5-54, annex A, formula of k", "computed", unit="A s^0.5/mm2")
def test_printed_k_against_the_formula(
    laid: str, metal: str, insulation: str, printed: str
) -> None:
    # IEC 60364-5-54 annex A gives the formula. Sheaths and conduits round more coarsely.
    tolerance = 0.02 if laid in ("sheath", "steel conduit") else 0.012
    for area in (0.0, 400.0):
        found = k_factor(laid, metal, insulation, area)
        formula = k_by_formula(metal, found.initial_c, found.final_c)
        assert found.k == published(formula, rel=tolerance), printed


def test_unknown_k_names_what_there_is() -> None:
    with pytest.raises(CatalogError, match="given are Al PVC 70"):
        k_factor("sheath", "Cu", "PVC 70")


# --- loops ----------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("bs7671_max_zs_breakers.csv"), ids=lambda r: r["in_a"])
@outside("BS 7671, table 41.3", unit="ohm")
def test_table_41_3(row: dict[str, str]) -> None:
    # BS 7671 table 41.3, confirmed but for the 3 A row.
    amps = float(row["in_a"])
    cells = [("B", 0.4, "b_0_4s"), ("B", 5, "b_0_4s"), ("C", 0.4, "c_0_4s"), ("C", 5, "c_0_4s")]
    for curve, time, name in [*cells, ("D", 0.4, "d_0_4s"), ("D", 5, "d_5s")]:
        found = breaker_loop(curve, amps, time)
        assert (found is None) == (not row[name])
        if found is not None:
            assert found.status.value == row["status"]
            assert found.value == published(float(row[name]), status=row["status"])
            # The printed value is U0 Cmin over the multiple of the rating, rounded.
            multiple = {"B": 5, "C": 10, "D": 20 if time < 1 else 10}[curve]
            assert found.value == published(
                218.5 / (multiple * amps),
                abs=0.0051,
                status="computed",
                source="IEC 60364-4-41, loop by the multiple of the rating",
            )
    assert breaker_loop("B", amps, 1.0) is None


@pytest.mark.parametrize(
    "row", rows("bs7671_max_zs_fuses.csv"), ids=lambda r: f"{r['standard']} {r['in_a']}"
)
@outside("BS 7671, tables 41.2 and 41.4", unit="ohm")
def test_tables_41_2_and_41_4(row: dict[str, str]) -> None:
    # BS 7671 tables 41.2 and 41.4; BS 88-2 from 6 A to 32 A at 0.4 s confirmed, else one-source.
    name = row["standard"].removesuffix(" gG")
    name = name if name.startswith("BS ") else f"BS {name[2:]}"
    for time, column in ((0.4, "zs_0_4s"), (5, "zs_5s")):
        found = fuse_loop(name, float(row["in_a"]), time)
        assert (found is None) == (not row[column])
        if found is not None:
            status = sureness(row["status"], f"{time:g} s")
            assert found.value == published(float(row[column]), status=status)
            sure = row["status"].startswith("confirmed") and time == 0.4
            assert found.status is (Status.CONFIRMED if sure else Status.ONE_SOURCE)


@pytest.mark.parametrize(
    "row", rows("r1_r2_table.csv"), ids=lambda r: f"{r['line_mm2']} {r['cpc_mm2']}"
)
@outside("guide to BS 7671, table I1", "confirmed", unit="ohm/m")
def test_r1_r2(row: dict[str, str]) -> None:
    # Guide to BS 7671, table I1, confirmed; also the sum of the IEC 60228 maxima.
    found = r1_r2(float(row["line_mm2"]), float(row["cpc_mm2"]))
    assert found is not None
    assert found.value == published(float(row["r1_plus_r2"]) / 1000, rel=1e-6)
    listed = [r for r in rows("iec60228_resistance.csv") if r["cu_plain_cl2"]]
    resistance = {float(r["mm2"]): float(r["cu_plain_cl2"]) for r in listed}
    total = resistance[float(row["line_mm2"])] + resistance[float(row["cpc_mm2"])]
    assert found.value == published(
        total / 1000, rel=1e-9, status="confirmed", source="IEC 60228, maxima"
    )


# --- single numbers and sizes ---------------------------------------------------------------

NUMBERS = [
    (("touch_limit", "ac"), 50),
    (("touch_limit", "special_ac"), 25),
    (("touch_limit", "dc"), 120),
    (("cmin", "bs"), 0.95),
    (("cmin", "iec"), 1.0),
    (("site_test", "part"), 0.8),
    (("stable_electrode", "most_ohm"), 200),
    (("hot_conductors", "PVC 70"), FACTS["r1_r2_temperature_factors"]["pvc_70"]),
    (("hot_conductors", "XLPE 90"), FACTS["r1_r2_temperature_factors"]["xlpe_90"]),
    (("main_bonding", "least", "Cu"), FACTS["main_bonding"]["bs7671_544_1_1_non_pme"]["min_cu"]),
    (("main_bonding", "most_cu"), FACTS["main_bonding"]["bs7671_544_1_1_non_pme"]["max_cu"]),
    (("main_bonding", "least", "Al"), 16),
    (("main_bonding", "least", "steel"), 50),
    (("separate_conductor", "protected", "Cu"), 2.5),
    (("separate_conductor", "unprotected", "Cu"), 4),
    (("separate_conductor", "unprotected", "Al"), 16),
    (("supplementary", "protected", "Cu"), 2.5),
    (("supplementary", "unprotected", "Cu"), 4),
    (("supplementary", "unprotected", "Al"), 16),
    (("buried_earthing", "corrosion_protected", "Cu"), 16),
    (("buried_earthing", "corrosion_protected", "steel"), 16),
    (("buried_earthing", "bare", "Cu"), 25),
    (("buried_earthing", "bare", "steel"), 50),
    (("other_circuits", "tn_s"), 5),
    (("other_circuits", "tt_s"), 1),
    (("final_circuits", "with_sockets_a"), 63),
    (("final_circuits", "fixed_a"), 32),
    # Not in the transcription; IEC 60364-5-54 543.4.1, from memory.
    (("pen", "least", "Cu"), 10),
    (("pen", "least", "Al"), 16),
]


@pytest.mark.parametrize(("way", "expected"), NUMBERS)
@outside("IEC 60364-4-41 and 5-54, BS 7671")
def test_single_numbers(way: tuple[str, ...], expected: float) -> None:
    # IEC 60364-4-41 and 60364-5-54, BS 7671; status with each block.
    assert iec_number(*way).value == published(expected, status=iec_number(*way).status.value)


def test_missing_number_is_an_error() -> None:
    with pytest.raises(CatalogError, match="no such block"):
        iec_number("touch")
    with pytest.raises(CatalogError, match="no number"):
        iec_number("touch_limit", "hz")
    with pytest.raises(CatalogError, match="no number"):
        iec_number("touch_limit", "source")


def test_electrode_minima_are_memory() -> None:
    found = electrode_minima()
    assert len(found) >= 10
    assert {one.source.status for one in found} == {Status.MEMORY}
    assert all(one.diameter_mm or one.area_mm2 for one in found)
    assert {one.where for one in found} == {"soil", "concrete"}


@given(st.floats(0.1, 1200))
def test_next_metric_size_never_rounds_down(area: float) -> None:
    size = next_metric_size(area)
    assert size.area_mm2 >= area * (1 - 1e-9)
    smaller = [one for one in metric_sizes() if one < size]
    assert not smaller or smaller[-1].area_mm2 < area


def test_next_metric_size_ends() -> None:
    assert next_metric_size(47.5).name == "50 mm2"
    assert next_metric_size(1, 10).name == "10 mm2"
    with pytest.raises(CatalogError, match="1200 mm2"):
        next_metric_size(1201)
    with pytest.raises(CatalogError, match="area"):
        next_metric_size(math.nan)


@given(st.floats(0.5, 1200), st.floats(0.5, 1200))
def test_protective_area_grows_with_the_line(a: float, b: float) -> None:
    low, high = sorted((a, b))
    # Between 16 and 35 mm2 the table stays at 16 mm2; it never falls where the line grows.
    assert protective_area(low).value <= protective_area(high).value * (1 + 1e-9)


@given(st.floats(50.1, 1000), st.floats(50.1, 1000), st.sampled_from(["TN", "TT"]))
def test_higher_voltage_asks_a_shorter_time(a: float, b: float, earthing: str) -> None:
    low, high = (disconnection_time(volts, earthing) for volts in sorted((a, b)))
    assert low is not None
    assert high is not None
    assert low.value >= high.value
