"""A person in the fault circuit; zones; step voltage; EN 50522."""

import math
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.safety.outdoor import permissible_touch, permissible_touch_verdict, step_limit
from bondwright.safety.person import BodyPath, Person, SkinState, touch_assessment
from bondwright.safety.touch import Footing, body_impedance, fibrillation_current
from bondwright.safety.zones import Zone, let_go_current, zone
from tests.outside import outside, published

REFERENCE: Any = yaml.safe_load(
    (Path(__file__).parents[1] / "reference" / "body_current.yaml").read_text("utf-8")
)

SEEN_V = (50, 100, 220)
"""Rows of the conventional curve that were seen in one source."""

# --- zones -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amps", "seconds", "found"),
    # IEC TS 60479-1 figure 20 (from memory): 0.5 mA felt; let-go 200 mA at 10 ms, 5 mA beyond 2 s;
    # c1 500 mA at 10 ms, 400 mA at 0.1 s, 50 mA at 1 s, 40 mA from 3 s
    [
        (0.0005, 10, Zone.AC_1),
        (0.0006, 10, Zone.AC_2),
        (0.005, 10, Zone.AC_2),
        (0.0051, 10, Zone.AC_3),
        (0.19, 0.01, Zone.AC_2),
        (0.21, 0.01, Zone.AC_3),
        (0.040, math.inf, Zone.AC_3),
        (0.041, math.inf, Zone.AC_4),
        (0.6, 0.01, Zone.AC_4),
        (0.030, 0.3, Zone.AC_3),
    ],
)
@outside("IEC TS 60479-1, figure 20", "memory")
def test_zone(amps: float, seconds: float, found: Zone) -> None:
    assert zone(amps, seconds).zone == published(found)
    assert zone(amps, seconds).can_let_go == (found in (Zone.AC_1, Zone.AC_2))
    assert found.words


@outside("IEC TS 60479-1, heart-current factors", "memory", unit="A")
def test_zone_goes_by_the_path() -> None:
    # 90 mA hand to hand is 36 mA to the heart (factor 0.4, from memory), but the hand cannot open
    across = zone(0.09, math.inf, "left hand to right hand")
    assert (across.zone, across.can_let_go) == (Zone.AC_3, False)
    assert across.heart_a == published(0.036, rel=1e-6)
    assert zone(0.09, math.inf).zone is Zone.AC_4


@settings(deadline=None)
@given(st.floats(0, 2), st.floats(0, 20), st.floats(1, 10))
def test_zones_only_get_worse(amps: float, seconds: float, more: float) -> None:
    assert zone(amps, seconds).zone <= zone(amps * more, seconds).zone
    assert zone(amps, seconds).zone <= zone(amps, seconds * more).zone
    assert let_go_current(seconds) < fibrillation_current(seconds)


@pytest.mark.parametrize(("amps", "seconds"), [(-1.0, 1.0), (math.nan, 1.0), (1.0, -1.0)])
def test_impossible_zone(amps: float, seconds: float) -> None:
    with pytest.raises(ValueError, match="not possible"):
        zone(amps, seconds)


# --- a person --------------------------------------------------------------------------------


@pytest.mark.parametrize("row", REFERENCE["iec_61200_413_dry"]["rows"], ids=lambda r: r[0])
@outside("IEC TR 61200-413, dry", unit="mA")
def test_agrees_with_the_conventional_curve(row: list[float]) -> None:
    # IEC TR 61200-413, dry: 1000 ohm of shoes and floor and the 5 % impedance from both hands to
    # both feet (50, 100, 220 V one-source, others from memory). It is built on the 1994 impedance
    # at the whole voltage; the body bears less than that, so less current flows
    volts, _, milliamps, seconds = row
    who = Person(BodyPath.BOTH_HANDS_TO_FEET, shoes_ohm=1000)
    found = touch_assessment(volts, 0, min(seconds, 5.0), who)
    assert found.current_a * 1e3 == published(
        milliamps, rel=0.13, status="one-source" if volts in SEEN_V else "memory"
    )
    # every point of the conventional curve lies below fibrillation by the other reckoning
    assert found.verdict == "bearable"


@outside("IEC TS 60479-1:2005, table 1", "memory", unit="A")
def test_body_alone() -> None:
    # hand to hand on a stiff source the table itself stands (IEC TS 60479-1:2005, from memory)
    found = touch_assessment(100, 0, 0.1, Person(BodyPath.HAND_TO_HAND))
    assert found.current_a == published(100 / 990, rel=1e-6)
    assert found.touch_v == found.body_v == pytest.approx(100)
    feet = touch_assessment(100, 0, 0.1)
    assert feet.current_a == published(100 / (0.75 * 990), rel=1e-6)


def test_source_impedance_counts() -> None:
    stiff = touch_assessment(120, 0, math.inf)
    weak = touch_assessment(120, 50_000, math.inf)
    assert (stiff.zone, stiff.verdict) == (Zone.AC_4, "dangerous")
    assert (weak.zone, weak.verdict) == (Zone.AC_2, "bearable")
    assert weak.touch_v < 10
    assert weak.open_v == 120
    # by hand: a 1000 ohm reactance and the body in quadrature
    reactive = touch_assessment(100, 1000j, 0.1)
    assert reactive.current_a == pytest.approx(
        100 / math.hypot(1000, reactive.body_v / reactive.current_a)
    )


def test_shoes_and_ground() -> None:
    # IEEE Std 80: two feet on a surface of 3000 ohm m, 1.5 x 3000 ohm
    bare = touch_assessment(230, 1, 0.4)
    shod = touch_assessment(230, 1, 0.4, Person(shoes_ohm=2000))
    gravel = touch_assessment(230, 1, 0.4, Person(footing=Footing(3000)))
    assert bare.current_a > shod.current_a > gravel.current_a
    assert gravel.touch_v - gravel.body_v == pytest.approx(4500 * gravel.current_a)
    assert bare.verdict == "dangerous"
    assert gravel.verdict == "bearable"


@outside("IEC 479-1:1994", "one-source", unit="ohm")
def test_wet_skin() -> None:
    # wet skin 10 to 25 % lower up to 50 V, salt down to half (IEC 479-1:1994, one-source)
    dry, wet, salt = (
        Person(BodyPath.HAND_TO_HAND, skin=skin).impedance(25.0) for skin in SkinState
    )
    assert wet == published(0.75 * dry, rel=1e-6)
    assert salt == published(max(0.5 * dry, 575), rel=1e-6)
    # never less than the body without its skin
    for skin in SkinState:
        assert Person(BodyPath.HAND_TO_HAND, skin=skin).impedance(1000) == 575


def test_what_nothing_opens() -> None:
    # 230 V through 20 kohm: about 11 mA, no fibrillation, but the hand cannot let go
    found = touch_assessment(230, 20_000, math.inf)
    assert found.zone is Zone.AC_3
    assert found.heart_a < found.limit_a
    assert found.verdict == "dangerous"
    assert "nothing opens" in found.because
    assert touch_assessment(230, 20_000, 0.3).verdict == "bearable"


people = st.builds(
    Person,
    st.sampled_from(BodyPath),
    st.sampled_from([5, 50, 95]),
    st.sampled_from(SkinState),
    st.floats(0, 5000),
)


@settings(deadline=None)
@given(
    people,
    st.floats(0, 1000),
    st.floats(1, 5),
    st.complex_numbers(max_magnitude=1e5, allow_nan=False),
)
def test_circuit_is_solved(who: Person, volts: float, more: float, source: complex) -> None:
    source = complex(abs(source.real), source.imag)
    found = touch_assessment(volts, source, 0.2, who)
    total = source + who.series_ohm + who.impedance(found.body_v)
    assert found.current_a * abs(total) == pytest.approx(volts, rel=1e-6, abs=1e-9)
    assert found.body_v <= volts * (1 + 1e-9)
    least = found.current_a * (1 - 1e-9)
    assert touch_assessment(volts * more, source, 0.2, who).current_a >= least
    worst = Person(who.path, 5, SkinState.SALT, who.shoes_ohm)
    assert touch_assessment(volts, source, 0.2, worst).current_a >= least


def test_default_person_is_the_worst_dry_one() -> None:
    assert Person().impedance(50) == pytest.approx(0.75 * body_impedance(50, 5))


@pytest.mark.parametrize(
    ("fields", "match"),
    [
        ({"percentile": 10}, "5, 50 or 95"),
        ({"shoes_ohm": -1.0}, "zero or more"),
        ({"path": BodyPath.HAND_TO_HAND, "footing": Footing(100)}, "leave the footing out"),
    ],
)
def test_impossible_person(fields: Any, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        Person(**fields)


@pytest.mark.parametrize(
    ("volts", "source", "seconds"),
    [(-1.0, 0, 1.0), (math.inf, 0, 1.0), (100.0, -5, 1.0), (100.0, math.nan, 1.0), (1.0, 0, -1.0)],
)
def test_impossible_circuit(volts: float, source: complex, seconds: float) -> None:
    with pytest.raises(ValueError, match="not possible"):
        touch_assessment(volts, source, seconds)


# --- outdoors --------------------------------------------------------------------------------


@pytest.mark.parametrize(("weight", "printed"), [(70, 2686.6), (50, 1985.0)])
@outside("IEEE Std 80, annex B", "memory", unit="V")
def test_step_voltage(weight: Any, printed: float) -> None:
    # IEEE Std 80 annex B: rho 400, rho_s 2500, hs 0.102 m, 0.5 s (from memory; printed with the
    # rounded Cs 0.74, unrounded 0.4 % more)
    assert step_limit(0.5, Footing(400, 2500, 0.102), weight) == published(printed, rel=0.005)


def test_step_voltage_by_hand() -> None:
    assert step_limit(1.0, Footing(100), 50) == pytest.approx((1000 + 600) * 0.116)
    assert step_limit(0.001, Footing(100)) == step_limit(0.03, Footing(100))
    assert step_limit(math.inf, Footing(100)) == step_limit(3.0, Footing(100))


@pytest.mark.parametrize("row", REFERENCE["en_50522"]["rows"], ids=str)
@outside("EN 50522:2010, permissible touch voltage", "memory", unit="V")
def test_en_50522(row: list[float]) -> None:
    # EN 50522:2010 (from memory)
    assert permissible_touch(row[0]) == published(row[1])
    assert permissible_touch_verdict(row[1], row[0]).verdict == "bearable"
    assert permissible_touch_verdict(row[1] * 1.001, row[0]).verdict == "dangerous"


def test_en_50522_ends() -> None:
    assert permissible_touch(math.inf) == 85
    assert permissible_touch(0.0) == 716
    with pytest.raises(ValueError, match="zero or more"):
        permissible_touch(-1)
    with pytest.raises(ValueError, match="magnitude"):
        permissible_touch_verdict(-1, 1)
