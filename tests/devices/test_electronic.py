"""Electronic trip units: the elements by their settings (tolerances are common practice)."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.devices.band import TimeBand
from bondwright.devices.bands import band

FULL = (
    "1200 A electronic breaker, long 0.9 12 s, short 4 kA 0.2 s, instantaneous 10 kA, "
    "ground fault 800 A 0.3 s"
)


def of(text: str) -> TimeBand:
    return band(DeviceRating.parse(text))


def test_long_time_is_constant_energy() -> None:
    # pickup 1080 A, 12 s at 6480 A would be I2t = 12 x 6480^2; at 3000 A: 56 s, -20/+20 %
    found = of("1200 A electronic breaker, long 0.9 12 s")
    at_3000 = 12 * (6480 / 3000) ** 2
    assert found.fastest(3000) == pytest.approx(0.8 * at_3000)
    assert found.slowest(3000) == pytest.approx(1.2 * at_3000)
    assert found.fastest(1.05 * 1080 * 0.999) == math.inf
    assert not found.operates_for_sure(1.2 * 1080 * 0.999)
    assert found.operates_for_sure(1.2 * 1080 * 1.001)
    # nothing else is set: it stays on the long-time line
    assert found.slowest(20000) == pytest.approx(1.2 * 12 * (6480 / 20000) ** 2)
    assert any("taken to be off" in line for line in found.assumptions)


def test_short_and_instantaneous() -> None:
    found = of(FULL)
    assert found.fastest(3599) > 1  # 4 kA less 10 %
    assert found.fastest(3601) == pytest.approx(0.8 * 0.2)
    assert found.slowest(4400) == pytest.approx(1.2 * 0.2 + 0.06)
    assert found.slowest(4399) > 1
    assert found.fastest(9001) == pytest.approx(0.008)
    assert found.slowest(11000) == pytest.approx(0.05)
    assert found.slowest(10999) == pytest.approx(0.30)


def test_no_setting_is_not_relied_on() -> None:
    found = of("1200 A electronic breaker")
    assert found.slowest(12000) == pytest.approx(1.2 * 24 * 0.6**2)
    assert found.fastest(1801) == pytest.approx(0.008)
    assert any("No settings were given" in line for line in found.assumptions)


def test_ground_fault_is_not_in_the_phase_band() -> None:
    assert of(FULL).slowest(900) == math.inf


@settings(deadline=None)
@given(
    st.floats(100, 5000),
    st.none() | st.floats(0.4, 1),
    st.none() | st.floats(0.5, 30),
    st.none() | st.tuples(st.floats(1.5, 12), st.none() | st.floats(0, 0.5)),
    st.none() | st.floats(1.3, 20),
    st.floats(0.1, 100),
)
def test_any_settings_make_a_band(
    amps: float,
    pickup: float | None,
    delay: float | None,
    short: tuple[float, float | None] | None,
    instantaneous: float | None,
    times: float,
) -> None:
    found = band(
        DeviceRating(
            DeviceKind.ELECTRONIC,
            amps,
            long_pickup=pickup,
            long_delay_s=delay,
            short_pickup_a=short and short[0] * amps,
            short_delay_s=short[1] if short else None,
            instantaneous_a=instantaneous and instantaneous * amps,
        )
    )
    assert found.fastest(times * amps) <= found.slowest(times * amps)
    assert found.slowest(times * amps * 2) <= found.slowest(times * amps)
    assert found.fastest(amps * (pickup or 1) * 1.0) == math.inf
