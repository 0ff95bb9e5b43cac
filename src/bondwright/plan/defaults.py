"""What is taken where the description is silent; every use becomes an assumption."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from bondwright.catalog._data import load_yaml
from bondwright.catalog.conductors import resistance_dc
from bondwright.catalog.sizes import Conductor
from bondwright.earth.rods import rods_in_line_resistance
from bondwright.plan.model import Assumption
from bondwright.site.ground import Buried, ElectrodeKind
from bondwright.site.model import TieForm
from bondwright.units import INCH, Dimension, UnitSystem, parse, show, wanted_units


@dataclass(frozen=True, slots=True)
class Defaults:
    """The defaults, in SI units.

    Attributes:
        soil: resistivity, ohm m.
        frequency: Hz.
        temperature: of conductors, degC.
        tie: resistance of a join by its form, ohm; of a wire that of its two ends.
        tie_wire_length: m.
        tie_wire: a tie's wire where nothing asks for a size.
        lead: length of an electrode conductor, m.
        auxiliary: conductor of an electrode where nothing asks for a size.
        rod_length: m.
        rod_diameter: m.
        rod_spacing: m.
        electrode_soil: resistivity that ``electrode`` is for, ohm m.
        electrode: typical resistance to earth by kind, ohm.
        geometry: measures of an electrode that is described in part, by kind and key, m.
        ring_wire: conductor of a ring that doesn't say its own.
    """

    soil: float
    frequency: float
    temperature: float
    tie: Mapping[TieForm, float]
    tie_wire_length: float
    tie_wire: Conductor
    lead: float
    auxiliary: Conductor
    rod_length: float
    rod_diameter: float
    rod_spacing: float
    electrode_soil: float
    electrode: Mapping[ElectrodeKind, float]
    geometry: Mapping[ElectrodeKind, Mapping[str, float]]
    ring_wire: Conductor


@cache
def defaults(name: str = "defaults") -> Defaults:
    """Return the defaults that ship with the package.

    Args:
        name: of the data file; each family of rules has its own.
    """
    text = files("bondwright.plan").joinpath("data", f"{name}.yaml").read_text(encoding="utf-8")
    raw: dict[str, Any] = load_yaml(text)
    rod, electrode = raw["rod"], dict(raw["electrode"])
    electrode_soil = parse(electrode.pop("soil"), Dimension.RESISTIVITY)
    return Defaults(
        soil=parse(raw["soil"], Dimension.RESISTIVITY),
        frequency=parse(raw["frequency"], Dimension.FREQUENCY),
        temperature=parse(raw["conductor temperature"], Dimension.TEMPERATURE),
        tie=MappingProxyType(
            {TieForm(form): parse(r, Dimension.RESISTANCE) for form, r in raw["tie"].items()}
        ),
        tie_wire_length=parse(raw["tie wire length"], Dimension.LENGTH),
        tie_wire=Conductor.parse(raw["tie wire"]),
        lead=parse(raw["electrode lead"], Dimension.LENGTH),
        auxiliary=Conductor.parse(raw["auxiliary conductor"]),
        rod_length=parse(rod["length"], Dimension.LENGTH),
        rod_diameter=parse(rod["diameter"], Dimension.LENGTH),
        rod_spacing=parse(rod["spacing"], Dimension.LENGTH),
        electrode_soil=electrode_soil,
        electrode=MappingProxyType(
            {ElectrodeKind(kind): parse(r, Dimension.RESISTANCE) for kind, r in electrode.items()}
        ),
        geometry=MappingProxyType(
            {
                ElectrodeKind(kind): MappingProxyType(
                    {key: parse(text, Dimension.LENGTH) for key, text in measures.items()}
                )
                for kind, measures in raw["geometry"].items()
            }
        ),
        ring_wire=Conductor.parse(raw["ring wire"]),
    )


def tie_resistance(form: TieForm, wire: Conductor | None, temperature: float) -> float:
    """Return the resistance of a join, ohm.

    Args:
        form: how it is made.
        wire: its conductor, for a wire.
        temperature: of the conductor, degC.
    """
    taken = defaults()
    join = taken.tie[form]
    if form is not TieForm.WIRE:
        return join
    conductor = wire or taken.tie_wire
    per_metre = resistance_dc(conductor.size, conductor.material, temperature) / conductor.sets
    return join + per_metre * taken.tie_wire_length


def electrode_resistance(electrode: Buried, soil: float, taken: Defaults | None = None) -> float:
    """Return the resistance of an electrode to remote earth, ohm.

    Rods by the closed form of :mod:`bondwright.earth.rods`; other kinds a typical value, in
    proportion to the soil's resistivity.

    Args:
        electrode: as described.
        soil: resistivity, ohm m.
        taken: defaults for what it doesn't say; None takes those of the NEC.
    """
    taken = taken or defaults()
    if electrode.kind is ElectrodeKind.ROD:
        return rods_in_line_resistance(
            soil,
            electrode.length or taken.rod_length,
            electrode.diameter or taken.rod_diameter,
            electrode.count,
            electrode.spacing or taken.rod_spacing,
        ).resistance_ohm
    return taken.electrode[electrode.kind] * soil / taken.electrode_soil


def thickness(metres: float, system: UnitSystem | None = None) -> str:
    """Write how thick a rod is as people call it: `5/8 in`, or `16 mm`."""
    if (system or wanted_units()) == "metric":
        return f"{1000 * metres:.3g} mm"
    sixteenths = Fraction(round(16 * metres / INCH), 16)
    if abs(sixteenths * INCH - metres) > 0.005 * metres:
        return f"{metres / INCH:.3g} in"
    whole, part = divmod(sixteenths, 1)
    return "-".join(str(p) for p in (whole, part) if p) + " in"


def electrode_assumption(
    name: str,
    electrode: Buried,
    soil: float,
    ohms: float,
    taken: Defaults | None = None,
    system: UnitSystem | None = None,
) -> Assumption:
    """Return what to say of an electrode resistance that was worked out or assumed."""
    taken = taken or defaults()
    value, earth = show(ohms, Dimension.RESISTANCE), show(soil, Dimension.RESISTIVITY)
    if electrode.kind is not ElectrodeKind.ROD:
        text = (
            f"resistance to earth {value} in soil of {earth}: typical, common practice; measure it"
        )
        return Assumption(name, text)
    length = electrode.length or taken.rod_length
    diameter = electrode.diameter or taken.rod_diameter
    text = (
        f"resistance to earth {value}, worked out for {electrode.count} rod"
        f"{'s' if electrode.count > 1 else ''} of {show(length, Dimension.LENGTH, system)} by "
        f"{thickness(diameter, system)}"
    )
    if electrode.count > 1:
        spacing = electrode.spacing or taken.rod_spacing
        text += f", {show(spacing, Dimension.LENGTH, system)} apart in a line"
    return Assumption(name, f"{text}, in soil of {earth}; measure it")
