import itertools
import math
from functools import cache
from pathlib import Path
from typing import Any, Literal

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.safety_data import body_data
from bondwright.catalog.sources import CatalogError
from bondwright.safety.touch import (
    Footing,
    Skin,
    body_current,
    body_impedance,
    body_limit,
    body_verdict,
    fibrillation_current,
    heart_equivalent,
    touch_limit,
    touch_verdict,
)
from tests.outside import outside, published

REFERENCE = Path(__file__).parents[1] / "reference"


@cache
def reference() -> Any:
    return yaml.safe_load((REFERENCE / "body_current.yaml").read_text("utf-8"))


def rows(block: str) -> list[list[float]]:
    found: list[list[float]] = reference()[block]["rows"]
    return found


SEEN = {("dry", 50), ("dry", 100), ("dry", 220)}
"""Rows that were seen in one source."""

# --- conventional limits ---------------------------------------------------------------------


# IEC TR 61200-413 (dry: 50, 100, 220 V one-source; the rest and wet from memory)
@pytest.mark.parametrize(
    ("skin", "row"),
    [(skin, row) for skin in ("dry", "wet") for row in rows(f"iec_61200_413_{skin}")],
)
@outside("IEC TR 61200-413", unit="V")
def test_conventional_rows(skin: Literal["dry", "wet"], row: list[float]) -> None:
    volts, _, _, seconds = row
    assert touch_limit(seconds, skin) == published(
        volts, status="one-source" if (skin, volts) in SEEN else "memory"
    )
    assert touch_verdict(volts, seconds, skin).verdict == "bearable"
    assert touch_verdict(volts * 1.001, seconds, skin).verdict == "dangerous"


@pytest.mark.parametrize(("skin", "volts"), [(Skin.DRY, 50), (Skin.WET, 25)])
@outside("IEC TR 61200-413, conventional limits", "one-source", unit="V")
def test_nothing_opens(skin: Skin, volts: float) -> None:
    # conventional touch voltage limits 50 V and 25 V (one-source)
    assert touch_limit(math.inf, skin) == published(volts)
    found = touch_verdict(volts + 0.1, math.inf, skin)
    assert (found.verdict, found.limit_v) == ("dangerous", volts)
    assert "long" in str(found.source) or "conventional" in str(found.source)
    assert touch_verdict(volts, math.inf, skin).verdict == "bearable"


def test_between_rows_is_straight_on_log_scales() -> None:
    # halfway between the rows 0.33 s (125 V) and 0.18 s (220 V)
    middle = math.sqrt(0.33 * 0.18)
    assert touch_limit(middle) == pytest.approx(math.sqrt(125 * 220))
    assert touch_limit(0.001) == 500
    assert touch_limit(0.001, "wet") == 280


@settings(deadline=None)
@given(st.floats(0, 100), st.floats(1, 10), st.sampled_from(["dry", "wet"]))
def test_longer_is_never_better(time: float, more: float, skin: Literal["dry", "wet"]) -> None:
    assert touch_limit(time * more, skin) <= touch_limit(time, skin)
    assert touch_limit(time, "wet") <= touch_limit(time, "dry")
    for weight, footing in itertools.product((50, 70), (None, Footing(100, 3000))):
        assert body_limit(time * more, weight, footing) <= body_limit(time, weight, footing)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("volts", "seconds", "skin", "match"),
    [
        (-1.0, 1.0, "dry", "magnitude"),
        (math.nan, 1.0, "dry", "magnitude"),
        (50.0, -1.0, "dry", "zero or more"),
        (50.0, math.nan, "dry", "zero or more"),
        (50.0, 1.0, "damp", "'dry' or 'wet'"),
    ],
)
def test_impossible(volts: float, seconds: float, skin: Any, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        touch_verdict(volts, seconds, skin)


# --- IEEE Std 80 -----------------------------------------------------------------------------


@outside("IEEE Std 80, annex B", "memory")
def test_surface_layer_factor() -> None:
    # IEEE Std 80 annex B: rho 400, rho_s 2500, hs 0.102 m: Cs 0.74 printed (from memory)
    footing = Footing(400, 2500, 0.102)
    assert footing.layer_factor == pytest.approx(0.7429, abs=5e-5)
    assert round(footing.layer_factor, 2) == published(0.74)
    # printed with the rounded Cs: touch 838.2 V (70 kg); unrounded it is 840.5 V
    assert body_limit(0.5, 70, footing) == pytest.approx(840.5, abs=0.05)
    assert body_limit(0.5, 70, footing) == published(838.2, rel=0.005, unit="V")
    assert body_limit(0.5, 50, footing) == published(619.3, rel=0.005, unit="V")


@outside("IEEE Std 80, touch voltage without layer", "one-source", unit="V")
def test_touch_without_layer_contrast() -> None:
    # rho_s 3000, Cs 1, 1 s, 50 kg: 638 V (IEEE Std 80, one-source touch form)
    assert body_limit(1.0, 50, Footing(3000)) == published(638.0, rel=1e-9)


@pytest.mark.parametrize(("weight", "volts"), [(50, 116.0), (70, 157.0)])
@outside("IEEE Std 80, metal to metal", "memory", unit="V")
def test_metal_to_metal(weight: Literal[50, 70], volts: float) -> None:
    # IEEE Std 80: 116 / sqrt(t) and 157 / sqrt(t) (70 kg from memory)
    assert body_limit(1.0, weight) == published(volts, rel=1e-6)
    assert body_limit(0.25, weight) == published(2 * volts, rel=1e-6)
    assert body_verdict(volts, 1.0, weight).verdict == "bearable"
    assert body_verdict(volts * 1.001, 1.0, weight).verdict == "dangerous"


def test_outside_the_formula() -> None:
    # the formula serves from 0.03 s to 3 s
    assert body_limit(0.001) == body_limit(0.03)
    assert body_limit(3.0) == pytest.approx(116 / math.sqrt(3))
    assert body_limit(3.01) == body_limit(math.inf) == 50
    assert body_verdict(51, math.inf, footing=Footing(1e5)).verdict == "dangerous"


def test_impossible_person_and_ground() -> None:
    with pytest.raises(ValueError, match="60 kg"):
        body_limit(1.0, 60)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="positive number"):
        Footing(0)
    with pytest.raises(ValueError, match="positive number"):
        Footing(100, math.nan)


# --- body current ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("edition", "row"),
    [(edition, row) for edition in ("1994", "2005") for row in rows(f"impedance_{edition}")],
)
@outside("IEC 479-1:1994 and IEC TS 60479-1:2005, table 1", unit="ohm")
def test_impedance_rows(edition: Literal["1994", "2005"], row: list[float]) -> None:
    # IEC 479-1:1994 (one-source) and IEC TS 60479-1:2005 (from memory), table 1
    assert [body_impedance(row[0], p, edition) for p in (5, 50, 95)] == published(
        row[1:], status="one-source" if edition == "1994" else "memory"
    )
    assert body_current(row[0], 50, edition) == row[0] / row[2]


@outside("IEC 479-1:1994, asymptotes", "one-source", unit="ohm")
def test_impedance_ends() -> None:
    # asymptotes, 1994 table (one-source)
    assert [body_impedance(5000, p, "1994") for p in (5, 50, 95)] == published([650, 750, 850])
    assert body_impedance(1.0, 5, "1994") == 1750
    assert body_current(0.0) == 0


# IEC TR 61200-413 builds its curves on the 5 % impedance of 1994: half of it (both hands, both
# feet) with 1000 ohm dry or 200 ohm wet (from memory). Above 100 V the wet curve takes less than
# the impedance of dry contacts, so it is left out there.
@pytest.mark.parametrize(
    ("fixed", "row"),
    [(1000, row) for row in rows("iec_61200_413_dry")]
    + [(200, row) for row in rows("iec_61200_413_wet") if row[0] < 100],
)
@outside("IEC TR 61200-413", "memory", unit="ohm, mA")
def test_impedance_agrees_with_the_touch_curves(fixed: float, row: list[float]) -> None:
    volts, ohms, milliamps, _ = row
    built = fixed + body_impedance(volts, 5, "1994") / 2
    assert built == published(ohms, rel=0.04)
    assert volts / built * 1000 == published(milliamps, rel=0.04)


@settings(deadline=None)
@given(
    st.floats(1, 3000),
    st.floats(1, 3),
    st.sampled_from([5, 50, 95]),
    st.sampled_from(["1994", "2005"]),
)
def test_more_volts_more_current(volts: float, more: float, percentile: Any, edition: Any) -> None:
    assert body_current(volts * more, percentile, edition) >= body_current(
        volts, percentile, edition
    ) * (1 - 1e-12)
    assert body_current(volts, 5, edition) >= body_current(volts, 95, edition)


@pytest.mark.parametrize(
    ("args", "match"),
    [
        ((-1.0,), "magnitude"),
        ((math.inf,), "magnitude"),
        ((100.0, 10), "5, 50 or 95"),
        ((100.0, 5, "2018"), "1994 or 2005"),
    ],
)
def test_impossible_body(args: Any, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        body_impedance(*args)


@pytest.mark.parametrize(("seconds", "amps"), [(0.01, 0.5), (0.1, 0.4), (1, 0.05), (3, 0.04)])
@outside("IEC TS 60479-1:2005, figure 20, curve c1", "memory", unit="A")
def test_fibrillation_threshold(seconds: float, amps: float) -> None:
    # IEC TS 60479-1:2005 figure 20, curve c1 (from memory; allow 10 %)
    assert fibrillation_current(seconds) == published(amps, rel=0.1)


@settings(deadline=None)
@given(st.floats(0, 100), st.floats(1, 10))
def test_fibrillation_falls(time: float, more: float) -> None:
    assert fibrillation_current(time * more) <= fibrillation_current(time)
    assert fibrillation_current(math.inf) == 0.04


def test_dalziel_and_c1_are_of_one_mind() -> None:
    # two independent sources of the same danger: Dalziel's current of 50 kg, which harms one in
    # two hundred, lies above c1, below which no harm is expected
    for time in (0.5, 1.0, 2.0, 3.0):
        assert body_limit(time) / 1000 > fibrillation_current(time)


@pytest.mark.parametrize(
    ("path", "factor"),
    # IEC TS 60479-1, heart-current factors (from memory)
    [
        ("left hand to feet", 1.0),
        ("both hands to feet", 1.0),
        ("left hand to right hand", 0.4),
        ("right hand to feet", 0.8),
        ("back to right hand", 0.3),
        ("back to left hand", 0.7),
        ("chest to right hand", 1.3),
        ("chest to left hand", 1.5),
        ("seat to hands", 0.7),
        ("left foot to right foot", 0.04),
    ],
)
@outside("IEC TS 60479-1, heart-current factors", "memory", unit="A")
def test_heart_factor(path: str, factor: float) -> None:
    assert heart_equivalent(0.1, path) == published(0.1 * factor, rel=1e-6)
    assert len(body_data().heart_factor) == 10


def test_unknown_path() -> None:
    with pytest.raises(CatalogError, match="left hand to feet"):
        heart_equivalent(0.1, "nose to knee")
