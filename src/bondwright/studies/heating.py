"""How hot many conductors get at once; the same numbers as :mod:`bondwright.safety.withstand`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from bondwright.catalog.safety_data import heating_constants
from bondwright.safety.withstand import melting_c
from bondwright.studies.fault_model import DAMAGE_C

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

MATERIALS: Final = ("Cu", "Al")
"""Metals of wires; an index stands for each."""


@dataclass(frozen=True, slots=True)
class Heating:
    """Constants that turn energy over what is borne into a temperature, per material.

    Attributes:
        start: initial temperature plus the material's constant.
        power: decimal logarithm of the rise that is borne.
        zero: the material's constant.
        melts: degC.
    """

    start: Floats
    power: Floats
    zero: Floats
    melts: Floats

    @classmethod
    def at(cls, initial: float, limit: float = DAMAGE_C) -> Heating:
        """Return the constants for an initial temperature and a limit, degC."""
        constants = heating_constants().icea
        zero = np.array([constants[name][1] for name in MATERIALS])
        final = max(limit, initial + 1e-6)
        power = np.log10((final + zero) / (initial + zero))
        melts = np.array([melting_c(name) for name in MATERIALS])
        return cls(initial + zero, power, zero, melts)

    def temperature(self, part: Floats, material: Integers) -> Floats:
        """Return the temperature after so many times what is borne, degC; infinite if melted."""
        with np.errstate(over="ignore"):
            found = self.start[material] * 10.0 ** (part * self.power[material])
        found = found - self.zero[material]
        return np.where(found >= self.melts[material], np.inf, found)
