"""Limits for conductors and for people, read from ``data/safety/*.yaml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from bondwright.catalog._data import load_yaml, read_text
from bondwright.catalog.device_data import source_of
from bondwright.catalog.sources import Source

Row = tuple[float, float]


@dataclass(frozen=True, slots=True)
class HeatingConstants:
    """Constants of short-circuit heating, by metal ("Cu", "Al", "steel", "lead").

    Attributes:
        icea: (C, K [degC]) of the form in circular mils.
        k: (constant [A s^0.5/mm2], beta [degC]) of the form in mm2.
        melting_c: melting temperature [degC].
        longest_s: time up to which the formula serves [s].
        let_through_below_s: time below which the energy let through counts [s].
        most_asymmetry: greatest ratio of the energy of an offset current to the symmetrical one.
        sources: where the numbers come from, by block.
    """

    icea: Mapping[str, Row]
    k: Mapping[str, Row]
    melting_c: Mapping[str, float]
    longest_s: float
    let_through_below_s: float
    most_asymmetry: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True)
class ImpedanceTable:
    """Total body impedance, hand to hand.

    Attributes:
        rows: (voltage [V], (5 %, 50 %, 95 % impedance [ohm])), voltages rising.
        asymptote_ohm: the three impedances far above the last voltage [ohm].
        source: where the numbers come from.
    """

    rows: tuple[tuple[float, tuple[float, float, float]], ...]
    asymptote_ohm: tuple[float, float, float]
    source: Source


@dataclass(frozen=True, slots=True)
class BodyData:
    """Touch voltage and body current.

    Attributes:
        touch_dry: (voltage [V], longest time [s]), voltages rising.
        touch_wet: the same on wet skin.
        long_time_v: voltage borne without limit of time [V], by "dry" and "wet".
        k_a_s05: body constant [A s^0.5] by weight [kg].
        body_ohm: body resistance [ohm] that goes with ``k_a_s05``.
        foot_factor: resistance of two feet over surface resistivity, ohm per ohm m.
        cs_depth_m: depth constant of the surface layer factor [m].
        shortest_s: least time of the body constant [s].
        longest_s: greatest time of the body constant [s].
        impedance: body impedance tables by edition.
        c1: (time [s], current [A]) of the fibrillation threshold, times rising.
        heart_factor: heart-current factor by path.
        sources: where the numbers come from, by block.
    """

    touch_dry: tuple[Row, ...]
    touch_wet: tuple[Row, ...]
    long_time_v: Mapping[str, float]
    k_a_s05: Mapping[int, float]
    body_ohm: float
    foot_factor: float
    cs_depth_m: float
    shortest_s: float
    longest_s: float
    impedance: Mapping[str, ImpedanceTable]
    c1: tuple[Row, ...]
    heart_factor: Mapping[str, float]
    sources: Mapping[str, Source]


def _read(name: str) -> dict[str, Any]:
    data: dict[str, Any] = load_yaml(read_text(f"safety/{name}"))
    return data


def _sources(data: Mapping[str, Any]) -> Mapping[str, Source]:
    return MappingProxyType({name: source_of(block) for name, block in data.items()})


def _rows(rows: list[list[float]]) -> tuple[Row, ...]:
    return tuple((float(a), float(b)) for a, b in rows)


@cache
def heating_constants() -> HeatingConstants:
    """Return the constants of short-circuit heating (``conductor_heating.yaml``)."""
    data = _read("conductor_heating.yaml")
    icea = {
        metal: (float(row["C"]), float(row["K"]))
        for metal, row in data["circular_mils"]["metals"].items()
    }
    k = {
        metal: (float(row["const"]), float(row["beta"]))
        for metal, row in data["k_factor"]["metals"].items()
    }
    melting = {metal: float(value) for metal, value in data["melting"]["metals"].items()}
    return HeatingConstants(
        icea=MappingProxyType(icea),
        k=MappingProxyType(k),
        melting_c=MappingProxyType(melting),
        longest_s=float(data["reach"]["longest_s"]),
        let_through_below_s=float(data["reach"]["let_through_below_s"]),
        most_asymmetry=float(data["asymmetry"]["most_times"]),
        sources=_sources(data),
    )


def _impedance(block: Mapping[str, Any]) -> ImpedanceTable:
    rows = tuple(
        (float(volts), (float(low), float(middle), float(high)))
        for volts, low, middle, high in block["rows_v_ohm_5_50_95"]
    )
    low, middle, high = (float(value) for value in block["asymptote_ohm"])
    return ImpedanceTable(rows, (low, middle, high), source_of(block))


@cache
def body_data() -> BodyData:
    """Return the limits for people (``body.yaml``)."""
    data = _read("body.yaml")
    ieee, long_time = data["ieee_80"], data["long_time"]
    return BodyData(
        touch_dry=_rows(data["touch_dry"]["rows_v_s"]),
        touch_wet=_rows(data["touch_wet"]["rows_v_s"]),
        long_time_v=MappingProxyType(
            {"dry": float(long_time["dry_v"]), "wet": float(long_time["wet_v"])}
        ),
        k_a_s05=MappingProxyType({int(kg): float(k) for kg, k in ieee["k_a_s05"].items()}),
        body_ohm=float(ieee["body_ohm"]),
        foot_factor=float(ieee["foot_factor"]),
        cs_depth_m=float(ieee["cs_depth_m"]),
        shortest_s=float(ieee["shortest_s"]),
        longest_s=float(ieee["longest_s"]),
        impedance=MappingProxyType(
            {edition: _impedance(data[f"impedance_{edition}"]) for edition in ("1994", "2005")}
        ),
        c1=_rows(data["fibrillation_c1"]["rows_s_a"]),
        heart_factor=MappingProxyType(
            {path: float(value) for path, value in data["heart_factor"]["paths"].items()}
        ),
        sources=_sources(data),
    )
