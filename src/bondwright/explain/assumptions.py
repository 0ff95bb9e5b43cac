"""Everything that was taken for granted: by the plan, by the circuit, by the devices."""

from __future__ import annotations

from collections.abc import Iterator

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.bands import band
from bondwright.devices.curves import curves_of
from bondwright.explain.pv import array_assumptions
from bondwright.explain.words import device_rating
from bondwright.network.build import NODE_CAPACITANCE, Network
from bondwright.network.inverters import inverter_assumptions
from bondwright.network.motors import motor_assumptions, motor_models
from bondwright.network.parallel import parallel_assumptions
from bondwright.network.runs import (
    METAL_DISTANCE,
    METAL_RADIUS,
    SET_DISTANCE,
    STEEL_PERMEABILITY,
)
from bondwright.network.sources import (
    HALF_R,
    HALF_X,
    SOURCE_ELECTRODE,
    generator_assumptions,
)
from bondwright.network.windings import transformer_assumptions
from bondwright.plan.model import Assumption, Plan
from bondwright.rules.families import unit_system
from bondwright.rules.iec.ruleset import is_iec
from bondwright.site.states import states
from bondwright.studies.fault_model import damage_c
from bondwright.studies.faults import CLEARED_A, LONGEST_S
from bondwright.studies.whatif import ADDED_TIE_OHM
from bondwright.units import Dimension, show


def assumptions(plan: Plan, network: Network) -> tuple[Assumption, ...]:
    """Return every assumption behind the papers, each said once.

    Args:
        plan: the plan; what it assumed comes first.
        network: its circuit; only what it really uses is listed.
    """
    every = (
        *plan.assumptions,
        *_circuit(plan),
        *_machines(plan),
        *array_assumptions(plan),
        *_devices(plan, network),
        *_studies(plan),
    )
    return tuple(dict.fromkeys(every))


def _circuit(plan: Plan) -> Iterator[Assumption]:
    runs = tuple(plan.runs.values())
    system = unit_system(plan.site.rules)
    for name, source in plan.site.sources.items():
        if source.electrode is None:
            yield Assumption(
                name,
                f"The utility's own grounding reaches the earth through {SOURCE_ELECTRODE:g} ohm.",
            )
    yield Assumption(
        "circuit",
        f"Line voltages are nominal, at {show(plan.frequency, Dimension.FREQUENCY)}; conductors "
        f"are at {show(plan.temperature, Dimension.TEMPERATURE)}; the soil under the runs has "
        f"{show(plan.soil, Dimension.RESISTIVITY)}.",
    )
    yield Assumption(
        "circuit",
        f"Every terminal has {NODE_CAPACITANCE * 1e9:g} nF to the earth; metal that is joined to "
        "nothing floats on that.",
    )
    if any("120/240" in str(s.system) for s in plan.site.sources.values()) or any(
        "120/240" in str(t.secondary) for t in plan.site.transformers.values()
    ):
        yield Assumption(
            "circuit",
            f"A half winding of a centre-tapped transformer has {HALF_R:g} of the full winding's "
            f"resistance and {HALF_X:g} of its reactance, in ohms (handbook practice, from "
            "memory), unless a line-to-neutral fault current is given.",
        )
    if any(run.lines.sets > 1 for run in runs):
        yield Assumption(
            "circuit", f"Parallel sets lie {show(SET_DISTANCE, Dimension.LENGTH, system)} apart."
        )
    if any(r.raceway is not None and r.raceway.kind.is_magnetic for r in runs):
        yield Assumption(
            "circuit",
            "Steel raceway is a round wall of low-carbon steel whose permeability follows the "
            "current in it and inside it (fundamental only, no hysteresis); its couplings are "
            "tight. In normal use, where currents are small, its relative permeability is "
            f"{STEEL_PERMEABILITY:g}.",
        )
    if plan.site.metal:
        yield Assumption(
            "circuit",
            f"Pipes and frames lie {show(METAL_DISTANCE, Dimension.LENGTH, system)} from the run "
            "that goes the same way, and count as round metal of "
            f"{METAL_RADIUS * 1e3:g} mm radius.",
        )


def _devices(plan: Plan, network: Network) -> Iterator[Assumption]:
    ratings: dict[str, list[str]] = {}
    for device in network.devices.values():
        for text in _band_assumptions(plan, device.rating):
            named = ratings.setdefault(text, [])
            rating = device_rating(str(device.rating))
            if rating not in named:
                named.append(rating)
    for text, named in ratings.items():
        yield Assumption(named[0] if len(named) == 1 else "breakers and fuses", text)


def _band_assumptions(plan: Plan, rating: DeviceRating) -> tuple[str, ...]:
    try:
        return band(rating, curves_of(plan.curves)).assumptions
    except CatalogError as error:
        return (f"When it opens is not known: {error.problem}.",)


def _machines(plan: Plan) -> Iterator[Assumption]:
    site, fed = plan.site, plan.topology.fed_by
    for name, generator in site.generators.items():
        for text in generator_assumptions(generator):
            yield Assumption(name, text)
    for name, text in motor_assumptions(motor_models(plan.topology), plan.frequency).items():
        yield Assumption(name, text)
    groups = [group for state in states(site) for group in state.parallel]
    for name, texts in parallel_assumptions(site, groups).items():
        for text in dict.fromkeys(texts):
            yield Assumption(name, text)
    for name, inverter in site.inverters.items():
        for text in inverter_assumptions(inverter, forming=name not in fed):
            yield Assumption(name, text)
    for name, unit in site.transformers.items():
        arrives = name in fed and plan.runs[fed[name]].neutral is not None
        for text in transformer_assumptions(unit, neutral_arrives=arrives):
            yield Assumption(name, text)


def _studies(plan: Plan) -> Iterator[Assumption]:
    iec = is_iec(plan.site.rules)
    yield Assumption(
        "faults",
        "Faults are bolted (no arc, no contact resistance) and loads are off, but for motors that "
        "the description marks as such ('motor') in the first cycles.",
    )
    yield Assumption(
        "faults",
        f"A fault is over when less than {CLEARED_A:g} A flows. "
        + (
            "To exposed metal it has to be disconnected in the time of IEC 60364-4-41; any other "
            f"clears well within {LONGEST_S:g} s."
            if iec
            else f"It clears well within {LONGEST_S:g} s (IEC 60364-4-41, for distribution "
            "circuits; the NEC names no time)."
        ),
    )
    yield Assumption(
        "faults",
        f"Conductors may reach {damage_c(plan):g} degC (thermoplastic insulation, "
        f"{'IEC 60364-5-54' if iec else 'ICEA P-32-382'}); all heat stays in the metal.",
    )
    yield Assumption(
        "stray current",
        f"Loads are constant impedances. A tie added for the question has "
        f"{ADDED_TIE_OHM * 1e3:g} mohm (a screw; common practice).",
    )
