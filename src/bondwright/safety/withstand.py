"""Short-circuit withstand of conductors: how much current for how long, how hot after it.

All heat is taken to stay in the metal (the adiabatic formula). That is sound up to about 5 s;
for longer it asks too much, because heat leaves meanwhile. Below 0.1 s the first cycles of a
fault may be lopsided and carry more energy, and a current-limiting device lets through less:
there the energy let through (``i2t``, A2 s) is what counts, where it is known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from bondwright.catalog.safety_data import heating_constants
from bondwright.catalog.sources import CatalogError, Source
from bondwright.units import Dimension, show

Verdict = Literal["holds", "falls short", "cannot tell"]
Basis = Literal["adiabatic", "let-through"]

INSULATED_INITIAL_C: Final = 75.0
"""Usual temperature of a conductor before the fault, degC."""
INSULATED_FINAL_C: Final = 150.0
"""Usual limit of thermoplastic insulation in a short circuit, degC."""


def allowed_i2t(
    area_cmil: float,
    material: str,
    t_initial_c: float = INSULATED_INITIAL_C,
    t_final_c: float = INSULATED_FINAL_C,
) -> float:
    """Return the energy I2 t a conductor bears [A2 s].

    ``I^2 t = A^2 C log10((T2 + K) / (T1 + K))``, ICEA P-32-382.

    Args:
        area_cmil: cross-section, circular mils.
        material: the metal, "Cu" or "Al" (:class:`bondwright.catalog.sizes.Material` is one).
        t_initial_c: temperature before, degC.
        t_final_c: temperature that must not be exceeded, degC.

    Returns:
        Energy per ohm, A2 s.

    Raises:
        ValueError: an area that is not positive, or temperatures that do not rise.
        CatalogError: no constants are held for the metal.
    """
    _positive(area_cmil, "an area", "cmil")
    c, k = _constants(heating_constants().icea, material)
    return area_cmil**2 * c * math.log10(_rise(t_initial_c, t_final_c, k))


def withstand_current(
    area_cmil: float,
    material: str,
    time_s: float,
    t_initial_c: float = INSULATED_INITIAL_C,
    t_final_c: float = INSULATED_FINAL_C,
) -> float:
    """Return the steady r.m.s. current [A] a conductor bears for a time.

    Args:
        area_cmil: cross-section, circular mils.
        material: the metal, "Cu" or "Al".
        time_s: duration, s. Meant for 0.1 s to 5 s (see the module).
        t_initial_c: temperature before, degC.
        t_final_c: temperature that must not be exceeded, degC.

    Returns:
        Current, A.

    Raises:
        ValueError: a number that is not positive, or temperatures that do not rise.
        CatalogError: no constants are held for the metal.
    """
    _positive(time_s, "a time", "s")
    return math.sqrt(allowed_i2t(area_cmil, material, t_initial_c, t_final_c) / time_s)


def required_area_cmil(
    current_a: float,
    time_s: float,
    material: str,
    t_initial_c: float = INSULATED_INITIAL_C,
    t_final_c: float = INSULATED_FINAL_C,
) -> float:
    """Return the least cross-section [circular mils] that bears a current for a time.

    Args:
        current_a: steady r.m.s. current, A.
        time_s: duration, s. Meant for 0.1 s to 5 s (see the module).
        material: the metal, "Cu" or "Al".
        t_initial_c: temperature before, degC.
        t_final_c: temperature that must not be exceeded, degC.

    Returns:
        Area, circular mils.

    Raises:
        ValueError: a number that is not positive, or temperatures that do not rise.
        CatalogError: no constants are held for the metal.
    """
    _positive(current_a, "a current", "A")
    _positive(time_s, "a time", "s")
    one = allowed_i2t(1.0, material, t_initial_c, t_final_c)
    return current_a * math.sqrt(time_s / one)


def temperature_after(
    area_cmil: float, material: str, i2t: float, t_initial_c: float = INSULATED_INITIAL_C
) -> float:
    """Return how hot a conductor is after an energy I2 t [degC].

    Above the melting point (:func:`melting_c`) the number only says that it has melted.

    Args:
        area_cmil: cross-section, circular mils.
        material: the metal, "Cu" or "Al".
        i2t: energy, A2 s; zero and infinity are allowed.
        t_initial_c: temperature before, degC.

    Returns:
        Temperature, degC; infinity where the energy is beyond reckoning.

    Raises:
        ValueError: an area that is not positive, a negative energy, or a temperature too low.
        CatalogError: no constants are held for the metal.
    """
    _positive(area_cmil, "an area", "cmil")
    if not i2t >= 0:
        raise ValueError(f"an energy of {i2t} A2 s is not possible; give zero or more")
    c, k = _constants(heating_constants().icea, material)
    if not -k < t_initial_c < math.inf:
        raise ValueError(f"a temperature of {t_initial_c} degC is not possible here")
    power = i2t / area_cmil / area_cmil / c
    try:
        return float((t_initial_c + k) * 10.0**power - k)
    except OverflowError:
        return math.inf


def melting_c(material: str) -> float:
    """Return the melting temperature of "Cu" or "Al" [degC].

    Raises:
        CatalogError: it is not held for the metal.
    """
    melting = heating_constants().melting_c
    if material not in melting:
        raise _unknown(material, melting)
    return melting[material]


def k_factor(material: str, t_initial_c: float, t_final_c: float) -> float:
    """Return the factor k of a conductor [A s^0.5/mm2].

    ``k = const sqrt(ln((beta + Tf) / (beta + Ti)))``, IEC 60364-5-54 annex A.

    Args:
        material: "Cu", "Al", "steel" or "lead".
        t_initial_c: temperature before, degC.
        t_final_c: temperature that must not be exceeded, degC.

    Returns:
        Factor k, A s^0.5/mm2.

    Raises:
        ValueError: temperatures that do not rise.
        CatalogError: no constants are held for the metal.
    """
    constant, beta = _constants(heating_constants().k, material)
    return constant * math.sqrt(math.log(_rise(t_initial_c, t_final_c, beta)))


def required_area_mm2(current_a: float, time_s: float, k: float) -> float:
    """Return the least cross-section ``S = I sqrt(t) / k`` [mm2], IEC 60364-5-54 543.1.2.

    Args:
        current_a: steady r.m.s. current, A.
        time_s: duration, s. Meant for 0.1 s to 5 s (see the module).
        k: factor k, A s^0.5/mm2, from :func:`k_factor` or a table.

    Returns:
        Area, mm2.

    Raises:
        ValueError: a number that is not positive.
    """
    _positive(current_a, "a current", "A")
    _positive(time_s, "a time", "s")
    _positive(k, "a factor", "A s^0.5/mm2")
    return current_a * math.sqrt(time_s) / k


@dataclass(frozen=True, slots=True)
class Withstand:
    """Whether a conductor bears a fault.

    Attributes:
        verdict: "holds", "falls short" or "cannot tell".
        basis: "let-through" where the device's own energy was given, else "adiabatic".
        i2t: energy reckoned with [A2 s].
        allowed_i2t: energy it bears [A2 s].
        temperature_c: how hot it gets with that energy, no heat lost [degC].
        because: the reason, in a sentence for people.
        sources: where the constants come from.
    """

    verdict: Verdict
    basis: Basis
    i2t: float
    allowed_i2t: float
    temperature_c: float
    because: str
    sources: tuple[Source, ...]


def withstand(
    area_cmil: float,
    material: str,
    current_a: float,
    time_s: float,
    *,
    let_through_i2t: float | None = None,
    t_initial_c: float = INSULATED_INITIAL_C,
    t_final_c: float = INSULATED_FINAL_C,
) -> Withstand:
    """Judge whether a conductor bears a fault until it is cleared.

    Between 0.1 s and 5 s the formula decides. Below 0.1 s the energy let through decides; if it
    is not known, only a conductor that bears the most lopsided current holds for sure. Above 5 s
    a conductor that already exceeds its limit in 5 s falls short and one that bears the whole
    time holds; between the two nothing can be said.

    Args:
        area_cmil: cross-section, circular mils.
        material: the metal, "Cu" or "Al".
        current_a: symmetrical r.m.s. fault current through it, A.
        time_s: time until cleared, s; infinity if nothing opens.
        let_through_i2t: energy the device lets through at this current, A2 s, from its maker;
            used below 0.1 s only.
        t_initial_c: temperature before, degC.
        t_final_c: temperature that must not be exceeded, degC.

    Returns:
        The judgement with its numbers.

    Raises:
        ValueError: an impossible number.
        CatalogError: no constants are held for the metal.
    """
    data = heating_constants()
    if not 0 <= current_a < math.inf or not time_s > 0:
        raise ValueError(f"{current_a} A for {time_s} s is not possible; give magnitudes")
    if let_through_i2t is not None and not let_through_i2t >= 0:
        raise ValueError(f"an energy of {let_through_i2t} A2 s is not possible")
    allowed = allowed_i2t(area_cmil, material, t_initial_c, t_final_c)
    i2t = current_a**2 * time_s if current_a else 0.0
    basis: Basis = "adiabatic"
    short = time_s < data.let_through_below_s
    if short and let_through_i2t is not None:
        basis, i2t = "let-through", let_through_i2t
    verdict: Verdict = "holds" if i2t <= allowed else "falls short"
    because = _limit_words(i2t, allowed, t_final_c)
    blocks = ["circular_mils"]
    if short and let_through_i2t is None and i2t * data.most_asymmetry > allowed:
        verdict = "cannot tell"
        because = (
            f"cleared in {show(time_s, Dimension.TIME)}: below "
            f"{show(data.let_through_below_s, Dimension.TIME)} the energy the device lets through "
            "decides; the maker's figure is missing"
        )
        blocks += ["reach", "asymmetry"]
    elif time_s > data.longest_s and i2t > allowed:
        blocks.append("reach")
        if current_a**2 * data.longest_s <= allowed:
            verdict = "cannot tell"
            because = (
                f"the current lasts longer than {show(data.longest_s, Dimension.TIME)}, for which "
                "the formula asks too much; compare it with the current the conductor carries "
                "all the time"
            )
        else:
            because = f"it is too hot within {show(data.longest_s, Dimension.TIME)} already"
    return Withstand(
        verdict=verdict,
        basis=basis,
        i2t=i2t,
        allowed_i2t=allowed,
        temperature_c=temperature_after(area_cmil, material, i2t, t_initial_c),
        because=because,
        sources=tuple(data.sources[name] for name in blocks),
    )


def _limit_words(i2t: float, allowed: float, t_final_c: float) -> str:
    word = "within" if i2t <= allowed else "over"
    return f"{i2t:.4g} A2 s is {word} the {allowed:.4g} A2 s it bears up to {t_final_c:g} degC"


def _constants(table: Mapping[str, tuple[float, float]], material: str) -> tuple[float, float]:
    if material not in table:
        raise _unknown(material, table)
    return table[material]


def _unknown(material: str, table: Mapping[str, object]) -> CatalogError:
    names = " or ".join(repr(str(name)) for name in table)
    return CatalogError(str(material), "no heating constants are held for it", f"give {names}")


def _rise(t_initial_c: float, t_final_c: float, zero_c: float) -> float:
    if not -zero_c < t_initial_c < t_final_c < math.inf:
        raise ValueError(
            f"a conductor cannot heat from {t_initial_c} degC to {t_final_c} degC; "
            "the final temperature must be the higher"
        )
    return (t_final_c + zero_c) / (t_initial_c + zero_c)


def _positive(value: float, what: str, unit: str) -> None:
    if not 0 < value < math.inf:
        raise ValueError(f"{what} of {value} {unit} is not possible; give a positive number")
