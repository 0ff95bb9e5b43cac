"""Field tests of a description as what the earth layer judges."""

from __future__ import annotations

from bondwright.earth.sounding import (
    PinArray,
    Sounding,
    schlumberger_resistivity,
    wenner_resistivity,
)
from bondwright.site.ground import EarthReading, EarthTest, PinsStood


def sounding_of(test: EarthTest) -> Sounding:
    """Return a four-pin survey as the fit takes it.

    Args:
        test: a survey that passed :mod:`bondwright.site.ground_checks`.

    Raises:
        ValueError: readings that no survey can have.
    """
    pins = PinArray(test.pins.value)
    spacing = tuple(reading.spacing or 0.0 for reading in test.readings)
    rho = tuple(_resistivity(test.pins, reading) for reading in test.readings)
    inner = tuple(reading.inner for reading in test.readings if reading.inner is not None)
    return Sounding(pins, spacing, rho, inner if len(inner) == len(spacing) else ())


def _resistivity(pins: PinsStood, reading: EarthReading) -> float:
    if reading.resistivity is not None:
        return reading.resistivity
    ohms, spacing = reading.resistance or 0.0, reading.spacing or 0.0
    if pins is PinsStood.WENNER:
        return wenner_resistivity(ohms, spacing)
    if reading.inner is None:
        raise ValueError("a resistance by Schlumberger needs 'inner'")
    return schlumberger_resistivity(ohms, spacing, reading.inner)
