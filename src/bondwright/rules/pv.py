"""Photovoltaic arrays: ground-fault protection, equipment grounding, electrodes.

The equipment grounding conductor follows the overcurrent device of the direct-current circuit
or, where it has none, a device as large as its short-circuit current would ask for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bondwright.catalog.device_rating import LARGEST_A, SMALLEST_A, DeviceKind, DeviceRating
from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.pv import pv_data
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import Status
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.direct_current import array_electrode_conductor
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice
from bondwright.site.fields import NoWire
from bondwright.site.model import Array, ArrayGrounded, Describes, Site

RULE = "pv-equipment-ground"


def short_circuit(array: Array) -> float:
    """Return the short-circuit current of all strings together, A."""
    return array.module.short_circuit * array.strings


def open_circuit(array: Array) -> float:
    """Return the open-circuit voltage of a string, V."""
    return array.module.open_circuit * array.in_series


def assumed_rating(short_circuit_a: float) -> float:
    """Return the rating of a device that a short-circuit current would ask for, A."""
    data = pv_data()
    return short_circuit_a * data.device_current_x * data.device_rating_x


def array_ground(
    short_circuit_a: float,
    device: DeviceRating | None = None,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer:
    """Return the least wire-type equipment grounding conductor of an array's dc circuit.

    Table 250.122 by the overcurrent device, or by the rating of one that the short-circuit
    current would ask for where there is none (690.45 with 690.9(B)); at least the size that
    690.45 names. It need not grow where lines were enlarged for voltage drop.

    Args:
        short_circuit_a: of all strings together, A.
        device: the overcurrent device of the circuit, or None.
        material: metal of the conductor.
        rules: name of the rule set.

    Raises:
        CannotTellError: beyond the table.
        UnknownRulesError: no such rule set.
    """
    where = clause(RULE, rules)
    rating = assumed_rating(short_circuit_a)
    if device is None and rating > LARGEST_A:
        problem = (
            f"{short_circuit_a:g} A of short-circuit current asks for a device of {rating:g} A"
        )
        missing = "describe each circuit to a combiner as an array of its own"
        raise CannotTellError(RULE, where, problem, missing)
    assumed = DeviceRating(DeviceKind.FUSE, min(max(rating, SMALLEST_A), LARGEST_A))
    by_table = equipment_ground(ProtectiveDevice(device or assumed), material, rules)
    least = rule_parameter("photovoltaic-egc-minimum", edition(rules))
    because = list(by_table.because)
    data = pv_data()
    if device is None:
        because.insert(
            0,
            f"The circuit has no overcurrent device. One for its short-circuit current of "
            f"{short_circuit_a:g} A would have {assumed.rating_a:g} A "
            f"({data.device_current_x:g} x {data.device_rating_x:g}).",
        )
    size = by_table.size
    # The edition names the least size in copper; the table's least in aluminium is beyond it.
    floor = Conductor(least.size(Material.CU), material)
    if floor.area_cmil > size.area_cmil:
        size = floor
        because.append(f"Never smaller than {floor}.")
    because.append("It need not grow where the lines were made larger for voltage drop.")
    status = Status.least_sure(Status(by_table.status), least.status)
    return replace(
        by_table,
        rule=RULE,
        clause=where,
        size=size,
        because=tuple(because),
        inputs=(("short-circuit current", f"{short_circuit_a:g} A"), *by_table.inputs),
        status=status.value,
    )


def array_findings(site: Site) -> tuple[Finding, ...]:
    """Return what the rules say of a site's arrays beyond the size of their conductors."""
    return tuple(
        finding for name, array in site.arrays.items() for finding in _findings(site, name, array)
    )


def _findings(site: Site, name: str, array: Array) -> Iterator[Finding]:
    rules = site.rules
    missing = array.egc is NoWire.NONE or (
        array.egc is None and site.describes is Describes.AS_FOUND
    )
    if missing:
        yield Finding(
            "pv-metal",
            Severity.DANGER,
            name,
            "array without an equipment grounding conductor",
            f"Nothing joins the frames of {name!r} to the metal at {array.at!r}. One fault can put "
            "the whole voltage of the array on them, and nothing stops it in daylight. A rod at "
            "the array is no cure.",
            "Cover the array or wait for the dark, prove it dead, then run the conductor with its "
            "circuit. Qualified persons only.",
            clause("pv-metal", rules),
        )
    protection = _protection(name, array, rules)
    if protection is not None:
        yield protection
    if array.grounded is ArrayGrounded.SOLID:
        answer = array_electrode_conductor(array.lines, rules)
        yield Finding(
            "pv-electrode",
            Severity.CANNOT_TELL,
            name,
            "solidly grounded array needs an electrode conductor",
            f"A conductor of {name!r} is joined to metal without a fuse or an inverter between. "
            "Then an electrode conductor for direct current belongs there; the description has no "
            f"place for it. {' '.join(answer.because)}",
            f"See that one of {answer.size} or larger runs from that join to the electrodes.",
            answer.clause,
        )
    else:
        yield Finding(
            "pv-electrode",
            Severity.NOTE,
            name,
            "no electrode of its own needed",
            f"The equipment grounding conductor of {name!r}, joined to the grounding of "
            f"{array.at!r}, is its way to the electrodes. A further electrode at the array is "
            "allowed and replaces nothing.",
            "",
            clause("pv-electrode", rules),
        )


def _protection(name: str, array: Array, rules: str) -> Finding | None:
    if array.grounded in (ArrayGrounded.FUSE, ArrayGrounded.INVERTER):
        return None
    year = edition(rules)
    where = clause("pv-fault-protection", rules)
    volts = rule_parameter("array-fault-protection-voltage", year)
    amps = rule_parameter("array-fault-protection-current", year)
    small = (
        not volts.absent
        and not amps.absent
        and open_circuit(array) <= volts.number
        and short_circuit(array) * pv_data().device_current_x <= amps.number
    )
    if small:
        return None
    solid = array.grounded is ArrayGrounded.SOLID
    most = rule_parameter("array-fault-protection-exempt-circuits", year)
    if solid and not array.on_building and array.strings <= most.number:
        return None
    if not solid and array.insulation_alarm is not None:
        return None
    return Finding(
        "pv-fault-protection",
        Severity.FALLS_SHORT if solid else Severity.CANNOT_TELL,
        name,
        "no ground-fault protection of the array",
        f"{name!r} has {open_circuit(array):g} V and {short_circuit(array):g} A. Something has to "
        "find a ground fault on it, stop the inverter and say so. "
        + (
            "A plain join of a conductor to metal does not."
            if solid
            else "The description doesn't say what does."
        ),
        "Ask the inverter's maker for its ground-fault protection."
        if solid
        else "Give 'insulation alarm' if the inverter or a monitor watches the insulation.",
        where,
    )
