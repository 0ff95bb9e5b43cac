"""Quantities read and written. Conversion factors from NIST SP 811 (exact where defined)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.units import (
    CIRCULAR_MIL,
    MAX_TEXT,
    Dimension,
    UnitError,
    example,
    parse,
    show,
    unit_names,
)

D = Dimension
READ = [
    # NIST SP 811 appendix B: 1 ft = 0.3048 m, 1 in = 0.0254 m, 1 mi = 5280 ft, all exact.
    ("75 ft", D.LENGTH, 22.86),
    ("75FT", D.LENGTH, 22.86),
    ("75 feet", D.LENGTH, 22.86),
    ("  1,000   ft ", D.LENGTH, 304.8),
    ("6 ft 3 in", D.LENGTH, 75 * 0.0254),
    ("6' 3\"", D.LENGTH, 75 * 0.0254),
    ("6'-3 1/2\"", D.LENGTH, 75.5 * 0.0254),
    ("5/8 in", D.LENGTH, 0.015875),
    ("1-1/4 in", D.LENGTH, 0.03175),
    ("2 1/2 in", D.LENGTH, 0.0635),
    (".5 m", D.LENGTH, 0.5),
    ("-3 m", D.LENGTH, -3.0),
    ("1.5e2 mm", D.LENGTH, 0.15),
    ("1 mi", D.LENGTH, 1609.344),
    ("1 yd", D.LENGTH, 0.9144),
    # NIST SP 811: 1 circular mil = 5.067075e-10 m2.
    ("1 cmil", D.AREA, 5.067075e-10),
    ("250 kcmil", D.AREA, 1.26676875e-4),
    ("250 mcm", D.AREA, 1.26676875e-4),
    ("2 ft2", D.AREA, 0.18580608),
    ("70 mm²", D.AREA, 70e-6),
    ("25 ohm", D.RESISTANCE, 25.0),
    ("25 Ω", D.RESISTANCE, 25.0),
    ("25 \N{OHM SIGN}", D.RESISTANCE, 25.0),
    ("5 mohm", D.RESISTANCE, 5e-3),
    ("5 Mohm", D.RESISTANCE, 5e6),
    ("5 KOHM", D.RESISTANCE, 5e3),
    ("0.308 ohm/kft", D.RESISTANCE_PER_LENGTH, 0.308 / 304.8),
    ("1.15 ohm/km", D.RESISTANCE_PER_LENGTH, 1.15e-3),
    ("1 mS", D.CONDUCTANCE, 1e-3),
    ("25 kA", D.CURRENT, 25e3),
    ("25 ka", D.CURRENT, 25e3),
    ("60 amps", D.CURRENT, 60.0),
    ("5 µA", D.CURRENT, 5e-6),
    ("5 \N{GREEK SMALL LETTER MU}A", D.CURRENT, 5e-6),
    ("12.47 kV", D.VOLTAGE, 12470.0),
    ("5 mV", D.VOLTAGE, 5e-3),
    # NIST SP 811: horsepower (550 ft lbf/s) = 745.6999 W.
    ("1 hp", D.REAL_POWER, 745.6999),
    ("1 MW", D.REAL_POWER, 1e6),
    ("25 kva", D.APPARENT_POWER, 25e3),
    ("2 min", D.TIME, 120.0),
    ("0.1 s", D.TIME, 0.1),
    ("50 ms", D.TIME, 0.05),
    ("100 ohm m", D.RESISTIVITY, 100.0),
    ("100 Ω·m", D.RESISTIVITY, 100.0),
    ("5000 ohm cm", D.RESISTIVITY, 50.0),
    ("75 degC", D.TEMPERATURE, 75.0),
    ("167 degF", D.TEMPERATURE, 75.0),
    ("167 f", D.TEMPERATURE, 75.0),
    ("-40 °F", D.TEMPERATURE, -40.0),
    ("60 Hz", D.FREQUENCY, 60.0),
    ("2.1 %", D.RATIO, 0.021),
    ("1 pu", D.RATIO, 1.0),
]


@pytest.mark.parametrize(("text", "dimension", "value"), READ)
def test_reads(text: str, dimension: Dimension, value: float) -> None:
    assert parse(text, dimension) == pytest.approx(value, rel=2e-7)


REFUSED = [
    ("75", D.LENGTH, "has no unit; write '75 ft' or '75 m'"),
    ("75 ohm", D.LENGTH, "is a resistance, but a length belongs here; use ft, m or in"),
    ("75 furlongs", D.LENGTH, "has the unit 'furlongs', which is not known here"),
    ("", D.LENGTH, "is not a length; write it like '75 ft'"),
    ("ft", D.LENGTH, "is not a length"),
    ("nan", D.CURRENT, "is not a number a building can have"),
    ("-inf", D.CURRENT, "is not a number a building can have"),
    ("inf ft", D.LENGTH, "is not a length"),
    ("1e400 ft", D.LENGTH, "is too large to be real"),
    ("1e308 mi", D.LENGTH, "is too large to be real"),
    ("5/0 in", D.LENGTH, "is not a length"),
    ("1,5 ft", D.LENGTH, "has a comma that parts no thousands; write decimals with a point"),
    ("1 2 ft", D.LENGTH, "has the unit '2 ft'"),
    ("1\N{ARABIC-INDIC DIGIT THREE} ft", D.LENGTH, "has the unit"),
    ("6 ft --3 in", D.LENGTH, "has the unit"),
    # Case must not turn milli into mega: a thousand-million-fold error.
    ("5 MOHM", D.RESISTANCE, "has the unit 'MOHM'"),
    ("5 MA", D.CURRENT, "has the unit 'MA'"),
    ("5 MV", D.VOLTAGE, "has the unit 'MV'"),
    ("5 mw", D.REAL_POWER, "has the unit 'mw'"),
    ("5 mva", D.APPARENT_POWER, "has the unit 'mva'"),
    ("5 Ms", D.TIME, "has the unit 'Ms'"),
    ("-300 degC", D.TEMPERATURE, "is below absolute zero"),
    ("-460 degF", D.TEMPERATURE, "is below absolute zero"),
    ("0x10 ft", D.LENGTH, "has the unit 'x10 ft'"),
]


@pytest.mark.parametrize(("text", "dimension", "message"), REFUSED)
def test_refuses(text: str, dimension: Dimension, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(text, dimension)
    assert message in str(caught.value)
    assert caught.value.text == text


def test_long_text_is_refused_unread_and_cut_in_the_message() -> None:
    with pytest.raises(UnitError, match="too long") as caught:
        parse("9" * 10_000 + " ft", D.LENGTH)
    assert len(caught.value.text) == MAX_TEXT


@given(st.text(max_size=100), st.sampled_from(Dimension))
def test_any_text_gives_a_finite_number_or_a_unit_error(text: str, dimension: Dimension) -> None:
    try:
        value = parse(text, dimension)
    except UnitError:
        return
    assert math.isfinite(value)


@given(
    st.floats(-1e12, 1e12, allow_nan=False),
    st.sampled_from([(d, name) for d in Dimension for name in unit_names(d)]),
)
def test_every_unit_scales_like_its_factor(number: float, unit: tuple[Dimension, str]) -> None:
    dimension, name = unit
    if dimension is D.TEMPERATURE:
        number = abs(number)
    one, zero = parse(f"1 {name}", dimension), parse(f"0 {name}", dimension)
    value = parse(f"{number!r} {name}", dimension)
    assert value == pytest.approx(zero + number * (one - zero), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("dimension", Dimension)
def test_examples_are_readable(dimension: Dimension) -> None:
    assert parse(example(dimension), dimension) > 0


SHOWN = [
    (22.86, D.LENGTH, "75 ft"),
    (12_345.0, D.CURRENT, "12.3 kA"),
    (999.4, D.CURRENT, "999 A"),
    (999.7, D.CURRENT, "1 kA"),
    (0.9999, D.CURRENT, "1 A"),
    (0.005, D.CURRENT, "5 mA"),
    (-5.3, D.CURRENT, "-5.3 A"),
    (0.0, D.CURRENT, "0 A"),
    (480.0, D.VOLTAGE, "480 V"),
    (4160.0, D.VOLTAGE, "4160 V"),
    (12_470.0, D.VOLTAGE, "12.5 kV"),
    (25.0, D.RESISTANCE, "25 ohm"),
    (0.0125, D.RESISTANCE, "12.5 mohm"),
    (1234.0, D.RESISTANCE, "1234 ohm"),
    (2e6, D.RESISTANCE, "2 Mohm"),
    (0.021, D.RATIO, "2.1 %"),
    (0.05, D.TIME, "50 ms"),
    (90.0, D.TIME, "1.5 min"),
    (75.0, D.TEMPERATURE, "75 degC"),
    (100.0, D.RESISTIVITY, "100 ohm m"),
    (0.308 / 304.8, D.RESISTANCE_PER_LENGTH, "0.308 ohm/kft"),
    (math.inf, D.CURRENT, "no limit"),
    (math.nan, D.CURRENT, "not known"),
]


@pytest.mark.parametrize(("value", "dimension", "text"), SHOWN)
def test_shows(value: float, dimension: Dimension, text: str) -> None:
    assert show(value, dimension) == text


def test_shows_metric() -> None:
    assert show(22.86, D.LENGTH, "metric") == "22.9 m"
    assert show(1.15e-3, D.RESISTANCE_PER_LENGTH, "metric") == "1.15 ohm/km"


@given(
    st.floats(1e-4, 1e9), st.sampled_from(Dimension), st.sampled_from(["us", "metric"]),
    st.integers(2, 6),
)  # fmt: skip
def test_what_is_shown_reads_back(
    value: float, dimension: Dimension, system: str, digits: int
) -> None:
    text = show(value, dimension, "us" if system == "us" else "metric", digits)
    assert parse(text, dimension) == pytest.approx(value, rel=0.51 * 10 ** (1 - digits))


def test_circular_mil() -> None:
    assert pytest.approx(5.067075e-10, rel=1e-7) == CIRCULAR_MIL  # NIST SP 811
