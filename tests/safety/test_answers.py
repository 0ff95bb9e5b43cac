"""Every field of an answer, by hand: what was asked, the limit, the condition, the source."""

import math
from typing import Any

import pytest

from bondwright.catalog.sources import CatalogError
from bondwright.safety.outdoor import permissible_touch_verdict
from bondwright.safety.person import BodyPath, Person, SkinState, touch_assessment
from bondwright.safety.touch import (
    Footing,
    TouchVerdict,
    between,
    body_impedance,
    body_verdict,
    touch_verdict,
)
from bondwright.safety.withstand import (
    allowed_i2t,
    required_area_cmil,
    required_area_mm2,
    temperature_after,
    withstand,
    withstand_current,
)
from bondwright.safety.zones import Zone, zone

AWG4 = 41740.0
"""4 AWG, circular mils (ASTM B 258)."""


def told(found: TouchVerdict) -> tuple[float, float, float, str, str]:
    return found.voltage_v, found.time_s, found.limit_v, found.verdict, found.condition


# --- touch voltage ---------------------------------------------------------------------------


def test_an_answer_outdoors_says_what_was_asked() -> None:
    # EN 50522: 117 V for 1 s, 85 V for 10 s and more (from memory)
    found = permissible_touch_verdict(120.0, 1.0)
    condition = "high-voltage installation, bare hand to bare feet"
    assert told(found) == (120.0, 1.0, 117.0, "dangerous", condition)
    assert (found.source.title[:8], found.source.edition) == ("EN 50522", "2010")
    assert told(permissible_touch_verdict(0.0, math.inf)) == (
        0.0,
        math.inf,
        85.0,
        "bearable",
        condition,
    )


@pytest.mark.parametrize(
    ("args", "expected", "source"),
    [
        # IEC TR 61200-413 (from memory): 0.4 s at 100 V dry, 0.3 s at 75 V wet; then 50 V, 25 V
        ((99.0, 0.4, "dry"), (100.0, "bearable", "dry, hands to feet"), "IEC TR 61200-413"),
        ((76.0, 0.3, "wet"), (75.0, "dangerous", "wet, hands to feet"), "IEC TR 61200-413"),
        ((50.0, 5.0, "dry"), (50.0, "bearable", "dry, hands to feet"), "conventional"),
        ((25.1, 9.0, "wet"), (25.0, "dangerous", "wet, hands to feet"), "conventional"),
        # just inside the longest time of the curve it is still the curve that is named
        ((51.0, 4.999, "dry"), (50.0, "dangerous", "dry, hands to feet"), "IEC TR 61200-413"),
    ],
)
def test_an_answer_by_the_conventional_curve(args: Any, expected: Any, source: str) -> None:
    found = touch_verdict(*args)
    assert told(found)[:2] == args[:2]
    assert told(found)[2:] == (pytest.approx(expected[0], rel=1e-3), *expected[1:])
    assert found.source.title.startswith(source)
    if source != "conventional":
        assert f"({args[2]})" in found.source.title or args[2] in found.source.title


@pytest.mark.parametrize(
    ("args", "expected", "source"),
    [
        # IEEE Std 80: (1000 + 1.5 x 1000) 0.116 / sqrt(1) = 290 V; 157 V for 70 kg on metal
        ((290.0, 1.0, 50, Footing(1000)), (290.0, "bearable", "50 kg, hand to feet"), "IEEE"),
        ((158.0, 1.0, 70), (157.0, "dangerous", "70 kg, metal to metal"), "IEEE"),
        # 3 s is the last the formula serves: 116 / sqrt(3)
        ((60.0, 3.0, 50), (66.973, "bearable", "50 kg, metal to metal"), "IEEE"),
        ((60.0, 3.1, 50), (50.0, "dangerous", "50 kg, metal to metal"), "conventional"),
    ],
)
def test_an_answer_by_body_current(args: Any, expected: Any, source: str) -> None:
    found = body_verdict(*args)
    assert told(found)[:2] == args[:2]
    assert told(found)[2:] == (pytest.approx(expected[0], rel=1e-4), *expected[1:])
    assert found.source.title.startswith(source)


def test_nothing_is_no_voltage_to_fear_but_no_number_is_refused() -> None:
    assert touch_verdict(0.0, 0.0).verdict == "bearable"
    assert body_verdict(0.0, 0.0).verdict == "bearable"
    for judge in (touch_verdict, body_verdict):
        with pytest.raises(ValueError, match=r"a voltage of -0\.5 V"):
            judge(-0.5, 1.0)


def test_ground_under_the_feet_needs_a_layer_of_some_thickness() -> None:
    # IEEE Std 80: Cs = 1 - 0.09 (1 - rho/rho_s) / (2 hs + 0.09); 0.1 m unless it is given:
    # 1 - 0.09 x 0.9 / 0.29
    assert Footing(300, 3000).layer_factor == pytest.approx(1 - 0.081 / 0.29)
    # a layer like the soil is none; a layer worse than the soil makes it worse
    assert Footing(300, 300, 0.2).layer_factor == 1.0
    assert Footing(300, 100, 0.2).layer_factor == pytest.approx(1 + 0.18 / 0.49)
    assert Footing(300).feet_ohm == pytest.approx(450.0)
    assert Footing(300, 3000).feet_ohm == pytest.approx(4500 * (1 - 0.081 / 0.29))
    assert Footing(0.5, 0.5, 0.5).feet_ohm == pytest.approx(0.75)
    for bad in ((100, -1.0), (100, 200, 0.0), (math.inf, 100), (100, math.inf), (100, 200, -0.1)):
        with pytest.raises(ValueError, match="in a footing"):
            Footing(*bad)


def test_straight_on_logarithmic_scales() -> None:
    # a decade down for two decades along: 1/sqrt(x)
    rows = [(1.0, 10.0), (100.0, 1.0), (1000.0, 1.0)]
    assert between(4.0, rows) == pytest.approx(5.0)
    assert between(25.0, rows) == pytest.approx(2.0)
    assert between(500.0, rows) == 1.0
    assert (between(0.0, rows), between(1.0, rows)) == (10.0, 10.0)
    assert (between(100.0, rows), between(math.inf, rows)) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("volts", "percentile", "edition", "ohms"),
    [
        # halfway on log scales between rows of the tables: IEC TS 60479-1:2005 at 100 V and 125 V
        # for half of all people (1725, 1550; from memory), 1994 at 220 V and 700 V (1000, 750)
        (math.sqrt(100 * 125), 50, "2005", math.sqrt(1725 * 1550)),
        (math.sqrt(220 * 700), 5, "1994", math.sqrt(1000 * 750)),
        # beyond the table the body without its skin, at its end still the last row
        (1000.0, 95, "1994", 1500.0),
        (1000.1, 95, "1994", 850.0),
        (0.0, 95, "2005", 6100.0),
    ],
)
def test_body_between_rows(volts: float, percentile: Any, edition: Any, ohms: float) -> None:
    assert body_impedance(volts, percentile, edition) == pytest.approx(ohms)


# --- zones and people ------------------------------------------------------------------------


def test_a_zone_says_what_it_was_found_for() -> None:
    # IEC TS 60479-1 (from memory): 100 mA right hand to feet counts as 80 mA; 1 s bears 50 mA
    found = zone(0.1, 1.0, "right hand to feet")
    assert (found.zone, found.current_a, found.time_s) == (Zone.AC_4, 0.1, 1.0)
    assert found.heart_a == pytest.approx(0.08)
    assert not found.can_let_go
    assert [s.title.partition(",")[0] for s in found.sources] == ["IEC TS 60479-1 figure 20"] * 2
    assert ["curves a and b" in s.title for s in found.sources] == [True, False]
    assert "c1" in found.sources[1].title
    # a current of nothing is none, and one that never ends is no fault of the asker
    assert zone(0.0, math.inf).zone is Zone.AC_1
    with pytest.raises(ValueError, match="body current of inf"):
        zone(math.inf, 1.0)


def test_an_answer_about_a_person_by_hand() -> None:
    # 200 V on a stiff source, both hands to feet, wet: 0.5 x 0.75 x 800 ohm would be 300, but the
    # body without its skin has 575 ohm and half of it 287.5 (2005, from memory): 300 ohm it is
    who = Person(BodyPath.BOTH_HANDS_TO_FEET, skin=SkinState.WET)
    found = touch_assessment(200.0, 0j, 0.05, who)
    assert found.current_a == pytest.approx(200 / 300)
    assert (found.open_v, found.time_s) == (200.0, 0.05)
    assert found.touch_v == pytest.approx(200.0)
    assert found.body_v == pytest.approx(200.0)
    assert found.heart_a == pytest.approx(200 / 300)
    # c1 between 0.01 s (500 mA) and 0.1 s (400 mA), straight on log scales
    share = math.log(0.05 / 0.01) / math.log(10)
    assert found.limit_a == pytest.approx(0.5 * 0.8**share)
    assert (found.zone, found.verdict, found.can_let_go) == (Zone.AC_4, "dangerous", False)
    assert found.because.startswith("667 mA for 50 ms, both hands to feet, wet skin: ")
    assert found.because.endswith(Zone.AC_4.words)
    assert [s.title.partition(",")[0] for s in found.sources] == [
        "IEC TS 60479-1 figure 20",
        "IEC TS 60479-1 figure 20",
        "IEC TS 60479-1 table 1",
        "IEC TS 60479-1",
        "IEC 479-1",
    ]


def test_shoes_a_floor_and_a_source_are_added_up() -> None:
    # 1000 V hand to feet: the body bears more than 700 V where 0.75 x 575 = 431.25 ohm holds;
    # with 50 ohm of source and 100 ohm of shoes and 1.5 x 10 ohm of ground: 596.25 ohm in all
    who = Person(shoes_ohm=100.0, footing=Footing(10.0))
    found = touch_assessment(1000.0, 50.0, 0.02, who)
    assert who.series_ohm == pytest.approx(115.0)
    assert found.current_a == pytest.approx(1000 / 596.25)
    assert found.body_v == pytest.approx(1000 * 431.25 / 596.25)
    assert found.touch_v == pytest.approx(1000 * 546.25 / 596.25)
    assert found.open_v == 1000.0


def test_held_longer_than_the_zones_reach() -> None:
    # the figure ends at 10 s; beyond 2 s a hand opens up to 5 mA (from memory). 230 V through
    # 38 kohm are about 6 mA: bearable for 10 s by the figure, not for longer
    assert touch_assessment(230.0, 38_000, 10.0).verdict == "bearable"
    longer = touch_assessment(230.0, 38_000, 10.1)
    assert (longer.verdict, longer.can_let_go, longer.zone) == ("dangerous", False, Zone.AC_3)
    # 4 mA are let go of
    assert touch_assessment(230.0, 57_000, math.inf).verdict == "bearable"


def test_a_path_that_has_no_factor_is_named_with_those_that_have() -> None:
    with pytest.raises(CatalogError) as found:
        zone(0.1, 1.0, "nose to knee")
    assert (found.value.text, found.value.problem) == (
        "nose to knee",
        "no heart-current factor is held",
    )
    assert "'left hand to feet', 'both hands to feet'" in str(found.value)


# --- withstand -------------------------------------------------------------------------------


def test_a_judgement_of_a_conductor_by_hand() -> None:
    # ICEA P-32-382, copper: I2t = A2 x 0.0297 log10((150 + 234) / (75 + 234)) = 4.883e6 A2 s
    allowed = AWG4**2 * 0.0297 * math.log10(384 / 309)
    found = withstand(AWG4, "Cu", 6000.0, 0.1)
    assert (found.verdict, found.basis) == ("holds", "adiabatic")
    assert found.i2t == pytest.approx(3.6e6)
    assert found.allowed_i2t == pytest.approx(allowed)
    # (75 + 234) 10^(I2t / (0.0297 A2)) - 234
    assert found.temperature_c == pytest.approx(309 * 10 ** (3.6e6 / 0.0297 / AWG4**2) - 234)
    assert found.because == "3.6e+06 A2 s is within the 4.883e+06 A2 s it bears up to 150 degC"
    assert [source.title.partition(",")[0] for source in found.sources] == ["ICEA P-32-382"]
    worse = withstand(AWG4, "Cu", 8000.0, 0.1)
    assert worse.because == "6.4e+06 A2 s is over the 4.883e+06 A2 s it bears up to 150 degC"
    assert len(worse.sources) == 1


@pytest.mark.parametrize(
    ("amps", "seconds", "verdict", "words", "sources"),
    [
        (9000.0, 0.025, "cannot tell", "the maker's figure is missing", ["ICEA", "IEC", "a fully"]),
        (500.0, 50.0, "cannot tell", "the current lasts longer than 5 s", ["ICEA", "IEC"]),
        (1200.0, 50.0, "falls short", "it is too hot within 5 s already", ["ICEA", "IEC"]),
        # sqrt(4.883e6 / 5 s) = 988 A: at its own limit the formula still decides
        (989.0, 5.0, "falls short", "4.891e+06 A2 s is over", ["ICEA"]),
        (200.0, 50.0, "holds", "2e+06 A2 s is within", ["ICEA"]),
    ],
)
def test_why_it_can_or_cannot_be_told(
    amps: float, seconds: float, verdict: str, words: str, sources: list[str]
) -> None:
    found = withstand(AWG4, "Cu", amps, seconds)
    assert (found.verdict, found.basis) == (verdict, "adiabatic")
    assert words in found.because
    assert len(found.sources) == len(sources)
    for source, start in zip(found.sources, sources, strict=True):
        assert source.title.startswith(start)


def test_a_makers_energy_of_nothing_is_an_energy() -> None:
    found = withstand(AWG4, "Cu", 9000.0, 0.02, let_through_i2t=0.0)
    assert (found.verdict, found.basis, found.i2t) == ("holds", "let-through", 0.0)
    assert found.temperature_c == pytest.approx(75.0)
    # the least time for which the formula serves is 0.1 s, and there it decides
    assert withstand(AWG4, "Cu", 1.0, 0.1, let_through_i2t=1e9).basis == "adiabatic"


def test_other_temperatures_are_reckoned_with() -> None:
    # aluminium from 90 to 250 degC: A2 x 0.0125 log10(478 / 318)
    allowed = 100_000.0**2 * 0.0125 * math.log10(478 / 318)
    found = withstand(1e5, "Al", 1000.0, 0.5, t_initial_c=90, t_final_c=250)
    assert found.allowed_i2t == pytest.approx(allowed)
    assert found.temperature_c == pytest.approx(318 * 10 ** (5e5 / 0.0125 / 1e10) - 228)
    assert found.because.endswith("it bears up to 250 degC")


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: required_area_mm2(0.0, 1.0, 143), "a current of 0.0 A is"),
        (lambda: required_area_mm2(1.0, 0.0, 143), "a time of 0.0 s is"),
        (lambda: required_area_mm2(1.0, 1.0, -1.0), "a factor of -1.0 A s^0.5/mm2 is"),
        (lambda: required_area_cmil(-1.0, 1.0, "Cu"), "a current of -1.0 A is"),
        (lambda: required_area_cmil(1.0, math.inf, "Cu"), "a time of inf s is"),
        (lambda: withstand_current(1.0, "Cu", 0.0), "a time of 0.0 s is"),
        (lambda: allowed_i2t(0.0, "Cu"), "an area of 0.0 cmil is"),
        (lambda: temperature_after(-1.0, "Cu", 1.0), "an area of -1.0 cmil is"),
        (lambda: withstand(1.0, "Cu", 1.0, 0.0), "1.0 A for 0.0 s is"),
        (lambda: withstand(1.0, "Cu", math.inf, 1.0), "inf A for 1.0 s is"),
    ],
)
def test_what_is_refused_is_named_with_its_unit(call: Any, words: str) -> None:
    with pytest.raises(ValueError) as found:  # noqa: PT011
        call()
    assert words in str(found.value)


@pytest.mark.parametrize("coldest", [-234.0, -235.0])
def test_no_temperature_below_where_copper_would_have_no_resistance(coldest: float) -> None:
    # ICEA's constant of copper is 234 degC
    with pytest.raises(ValueError, match="not possible here"):
        temperature_after(AWG4, "Cu", 1.0, coldest)
    with pytest.raises(ValueError, match="cannot heat"):
        allowed_i2t(AWG4, "Cu", coldest, 150)
    with pytest.raises(ValueError, match="cannot heat"):
        allowed_i2t(AWG4, "Cu", 75, math.inf)
    with pytest.raises(ValueError, match="cannot heat"):
        allowed_i2t(AWG4, "Cu", 75, 75)
