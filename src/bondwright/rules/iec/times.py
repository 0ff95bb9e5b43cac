"""How long a fault may last, and the greatest loop impedance that lets a device keep that time."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.iec_tables import (
    Entry,
    breaker_loop,
    fuse_loop,
    iec_number,
    r1_r2,
)
from bondwright.catalog.iec_tables import disconnection_time as _table
from bondwright.catalog.sources import CatalogError, Source, Status
from bondwright.devices.bands import band
from bondwright.rules.answer import need_words
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set
from bondwright.rules.iec.sizing import Insulation
from bondwright.rules.inputs import CannotTellError

TIME = "iec-disconnection-time"
LOOP = "iec-loop"
PRINTED_U0_V = 230.0
"""Voltage of the printed loop limits."""


@dataclass(frozen=True, slots=True)
class TimeLimit:
    """How long a fault to exposed metal may last.

    Attributes:
        time_s: longest time, s.
        because: the reasons, for a person.
        clause: where the rules say so.
        status: how surely it is known.
    """

    time_s: float
    because: tuple[str, ...]
    clause: str
    status: Status

    def __post_init__(self) -> None:
        need_words(*self.because)


@dataclass(frozen=True, slots=True)
class LoopLimit:
    """The greatest loop impedance with which a device disconnects in time.

    Attributes:
        ohm: the limit, ohm.
        operating_a: current that opens the device within the time for sure, A.
        time_s: the time, s.
        basis: "table" where the limit is a printed one, else "computed".
        because: the reasons, for a person.
        clause: where the rules say so.
        sources: where the numbers come from.
        status: how surely the limit is known.
    """

    ohm: float
    operating_a: float
    time_s: float
    basis: str
    because: tuple[str, ...]
    clause: str
    sources: tuple[Source, ...]
    status: Status

    def __post_init__(self) -> None:
        need_words(*self.because)


def disconnection_time(
    u0_v: float,
    earthing: Earthing,
    rating_a: float,
    rules: str = DEFAULT_RULES,
    *,
    final: bool = True,
    sockets: bool = True,
    current: str = "ac",
    tt_by_overcurrent: bool = False,
) -> TimeLimit:
    """Return how long a fault to exposed metal may last.

    Table 41.1 holds for final circuits up to 63 A with sockets and 32 A with fixed equipment
    only; for distribution circuits and larger final circuits it is 5 s in TN and 1 s in TT.

    Args:
        u0_v: nominal voltage of a line to earth, V.
        earthing: of the supply.
        rating_a: rated current of the circuit's device, A.
        rules: name of the rule set.
        final: whether it is a final circuit.
        sockets: whether it has sockets.
        current: "ac" or "dc".
        tt_by_overcurrent: TT system that overcurrent devices disconnect, with all extraneous
            metal bonded; it may use the times of TN.

    Raises:
        CannotTellError: the table asks for no time at that voltage.
        UnknownFamilyRulesError: no such rule set.
        ValueError: not a voltage or rating.
    """
    where = clause(TIME, rules)
    for value, what in ((u0_v, "voltage"), (rating_a, "rating")):
        if not 0 < value < math.inf:
            raise ValueError(f"a {what} of {value:g} is not possible; give a positive number")
    column = "TN" if tt_by_overcurrent and earthing is Earthing.TT else earthing.column
    most = iec_number("final_circuits", "with_sockets_a" if sockets else "fixed_a")
    kind = "with sockets" if sockets else "with fixed equipment only"
    relaxed = (
        ("A TT system disconnected by overcurrent, with all extraneous metal bonded: as TN.",)
        if column != earthing.column
        else ()
    )
    second = ("In an IT system these are the times of the second fault.",)
    because = relaxed + (second if earthing is Earthing.IT else ())
    try:
        entry = _table(u0_v, column, current)
    except CatalogError as error:
        raise CannotTellError(TIME, where, f"{error.text} {error.problem}", "") from error
    if entry is None:
        raise CannotTellError(
            TIME,
            where,
            f"the table asks for no disconnection time at {u0_v:g} V {current}",
            "disconnection may still be asked for other reasons, such as heat",
        )
    if final and rating_a <= most.value:
        said = f"Final circuit {kind}, {rating_a:g} A: table 41.1, {entry.row}: {entry.value:g} s."
        status = Status.least_sure(entry.status, most.status)
        if column == "TN" and current == "ac" and sockets and rating_a <= 32:
            status = entry.status  # the older texts agree up to 32 A
        return TimeLimit(entry.value, (*because, said), where, status)
    other = iec_number("other_circuits", "tt_s" if column == "TT" else "tn_s")
    what = (
        f"Final circuit of more than {most.value:g} A {kind}" if final else "Distribution circuit"
    )
    return TimeLimit(
        other.value, (*because, f"{what}: {other.value:g} s in {column}."), where, other.status
    )


def loop_limit(
    device: DeviceRating,
    time_s: float,
    u0_v: float = 230.0,
    rules: str = DEFAULT_RULES,
    *,
    cmin: float | None = None,
) -> LoopLimit:
    """Return the greatest loop impedance with which a device disconnects in time.

    ``Zs <= U0 Cmin / Ia`` (411.4.4). Under BS 7671 at 230 V the printed limit stands where the
    tables have one; else Ia is the current at which every device made to its standard has opened.

    Args:
        device: the overcurrent device; its residual element is not counted.
        time_s: time allowed, s.
        u0_v: nominal voltage of a line to earth, V.
        rules: name of the rule set.
        cmin: factor for the least voltage; None takes that of the rule set.

    Raises:
        CannotTellError: no band is held for the device, or it never opens on overcurrent.
        UnknownFamilyRulesError: no such rule set.
        ValueError: not a voltage or time.
    """
    chosen, where = rule_set(rules), clause(LOOP, rules)
    for value, what in ((u0_v, "voltage"), (time_s, "time")):
        if not 0 < value < math.inf:
            raise ValueError(f"a {what} of {value:g} is not possible; give a positive number")
    taken = chosen.cmin.value if cmin is None else cmin
    if not 0 < taken <= 1:
        raise ValueError(f"a factor of {taken:g} is not possible; give one up to 1, such as 0.95")
    printed = _printed(device, time_s)
    if printed is not None and chosen.key == "bs" and u0_v == PRINTED_U0_V and cmin is None:
        operating = u0_v * taken / printed.value
        said = (
            f"{device} for {time_s:g} s: the printed limit is {printed.value:g} ohm "
            f"({u0_v:g} V x {taken:g} / {operating:.4g} A).",
        )
        return LoopLimit(
            printed.value,
            operating,
            time_s,
            "table",
            said,
            where,
            (printed.source,),
            printed.status,
        )
    try:
        found = band(device)
    except CatalogError as error:
        problem = f"{error.text}: {error.problem}"
        missing = error.hint or "give the maker's curve"
        raise CannotTellError(LOOP, where, problem, missing) from error
    operating = found.sure_current(time_s)
    if not math.isfinite(operating):
        missing = "give the overcurrent device ahead of it, or judge it by its residual element"
        problem = f"{device} does not open on overcurrent"
        raise CannotTellError(LOOP, where, problem, missing)
    ohm = u0_v * taken / operating
    said = (
        f"{device} has opened for sure within {time_s:g} s from {operating:.4g} A on; "
        f"{u0_v:g} V x {taken:g} / {operating:.4g} A = {ohm:.4g} ohm.",
    )
    status = Status.least_sure(*(source.status for source in found.sources))
    return LoopLimit(ohm, operating, time_s, "computed", said, where, found.sources, status)


def _printed(device: DeviceRating, time_s: float) -> Entry | None:
    if device.kind is DeviceKind.MCB and device.curve is not None:
        return breaker_loop(device.curve, device.rating_a, time_s)
    if device.kind is DeviceKind.FUSE and device.fuse_class is not None:
        return fuse_loop(device.fuse_class, device.rating_a, time_s)
    return None


def loop_at_end(
    external_ohm: float,
    line_mm2: float,
    protective_mm2: float,
    length_m: float,
    insulation: Insulation | None = Insulation.PVC_70,
) -> float:
    """Return the loop impedance at the end of a circuit, ``Zs = Ze + (R1 + R2) m l`` [ohm].

    Copper conductors of the printed pairs, whose reactance is left out.

    Args:
        external_ohm: Ze, ohm.
        line_mm2: line conductor, mm2.
        protective_mm2: protective conductor, mm2.
        length_m: length of the circuit, m.
        insulation: takes the resistance to full load; None leaves it at 20 degC.

    Raises:
        CatalogError: a pair that is not in the table.
        ValueError: a length or impedance below zero.
    """
    for value, what in ((external_ohm, "an impedance"), (length_m, "a length")):
        if not 0 <= value < math.inf:
            raise ValueError(f"{what} of {value:g} is not possible; give zero or more")
    pair = r1_r2(line_mm2, protective_mm2)
    if pair is None:
        text = f"{line_mm2:g} mm2 with {protective_mm2:g} mm2"
        raise CatalogError(text, "is no pair of the table", "work it out from both resistances")
    hot = iec_number("hot_conductors", insulation.value).value if insulation else 1.0
    return external_ohm + pair.value * hot * length_m
