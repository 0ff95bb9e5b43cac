"""Time bands of fuses: gG by the gates, UL classes and British standards by their points."""

from __future__ import annotations

import math

from bondwright.catalog import device_data
from bondwright.catalog.device_data import FuseGate
from bondwright.catalog.device_fuses import (
    bs_fuse_limits,
    class_fuse_limits,
    energy_limits,
)
from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sources import CatalogError, Source
from bondwright.devices.band import FAR_X, Edge, Point, TimeBand, falling, same_energy, step

_BS_GG = "BS 88-2"


def gg_fuse_band(rating: DeviceRating) -> TimeBand:
    """Return the band of a gG fuse, or of one whose class was not given.

    Args:
        rating: a fuse without a class.

    Returns:
        The band between the gates of IEC 60269-1.

    Raises:
        CatalogError: the rating is outside the table of gates.
    """
    limits = device_data.fuse_limits()
    amps = rating.rating_a
    gate, between = _gate(amps, limits.gates)
    slow_end = (gate.most_0_1_s_a, 0.1)
    slow: list[Point] = [
        (amps * limits.fusing_x.at(amps), limits.conventional_s.at(amps)),
        (gate.most_5_s_a, 5.0),
        slow_end,
        same_energy(slow_end, amps * FAR_X),
    ]
    assumptions = [_below_gate(limits.fastest_s, limits.slowest_s)]
    sources = list(limits.sources)
    melts = passes = None
    if rating.curve is None:
        assumptions.append(
            "The class of the fuse was not given: the gG gates of IEC 60269-1 stand for it. "
            "Other classes differ; read the maker's curve."
        )
    else:
        melts, passes = gg_energies(amps)
        sources.append(energy_limits().gg_source)
    if between is not None:
        assumptions.append(
            f"{amps:g} A is not in the table of gates; its currents are interpolated between "
            f"{between[0]:g} A and {between[1]:g} A on log-log scales."
        )
    return TimeBand(
        quick=_gg_quick(amps, gate),
        slow=Edge(tuple(falling(slow, limits.slowest_s))),
        assumptions=tuple(assumptions),
        sources=tuple(sources),
        melts_i2t=melts,
        passes_i2t=passes,
    )


def gg_energies(amps: float) -> tuple[float | None, float | None]:
    """Return (least melting, greatest let-through) energy of a gG fuse [A2 s].

    Between two ratings of the table the safer neighbour stands for each.

    Args:
        amps: rated current, A.
    """
    rows = energy_limits().gg
    melts = next((row[1] for row in reversed(rows) if row[0] <= amps), None)
    passes = next((row[2] for row in rows if row[0] >= amps), None)
    return melts, passes


def class_fuse_band(rating: DeviceRating) -> TimeBand:
    """Return the band of a fuse of a UL 248 class or of a British standard.

    Args:
        rating: a fuse with a class.

    Returns:
        The band.

    Raises:
        CatalogError: no limits are held for the rating.
    """
    name = str(rating.fuse_class)
    return _bs(rating, name) if name.startswith("BS") else _ul(rating, name)


def threshold_a(rating: DeviceRating) -> float | None:
    """Return the current from which a fuse of a UL class limits the current for sure [A].

    Args:
        rating: any device; None is returned where its class is not of UL 248.
    """
    table = class_fuse_limits().threshold_x.get(rating.fuse_class or "")
    return None if table is None else rating.rating_a * table.at(rating.rating_a)


def _ul(rating: DeviceRating, name: str) -> TimeBand:
    limits, amps = class_fuse_limits(), rating.rating_a
    large = amps > limits.trip_s.rows[-1][0]
    first_x, first_s = limits.large_trip if large else (limits.trip_x, limits.trip_s.at(amps))
    slow: list[Point] = [(amps * first_x, first_s)]
    if not large:
        slow.append((amps * limits.second_x, limits.second_s.at(amps)))
    slow.append(same_energy(slow[-1], amps * limits.constant_energy_to_x))
    slow.append((amps * limits.threshold_x[name].at(amps), limits.half_cycle_s))
    assumptions = [
        f"The fuse keeps the limits of UL 248 for class {name}. From "
        f"{slow[-2][0] / amps:g} times rating to its current-limiting range its slowest time lies "
        "straight on log-log scales, which is slower than most; its maker's curve, where at hand, "
        "goes before this band.",
    ]
    fast: list[Point] = [(amps * x, seconds) for x, seconds in limits.quick]
    if rating.time_delay:
        small = name in limits.small_classes
        delay_x, delay_s = limits.small_delay if small else limits.usual_delay
        delayed = (amps * delay_x, delay_s)
        after = (delayed[0], Edge(tuple(fast)).at(delayed[0]))
        fast = [delayed, after, *(point for point in fast if point[0] > delayed[0])]
    else:
        assumptions.append(
            "It is not said to be time-delay: it may open as quickly as a fast-acting fuse."
        )
    # below the first point it stores less heat, not more
    quick = [same_energy(fast[0], amps * limits.hold_x), *fast]
    quick.append(same_energy(quick[-1], amps * FAR_X))
    used = ["ul_overload", "ul_carry", "ul_quick", "ul_bridge", "ul_threshold"]
    used += ["ul_time_delay"] if rating.time_delay else []
    return TimeBand(
        quick=Edge(tuple(falling(quick, limits.fastest_s))),
        slow=Edge(tuple(slow)),
        assumptions=tuple(assumptions),
        sources=tuple(limits.sources[block] for block in used),
    )


def _bs(rating: DeviceRating, name: str) -> TimeBand:
    limits, amps = bs_fuse_limits(), rating.rating_a
    if amps not in limits.points[name]:
        made = ", ".join(f"{a:g}" for a in limits.points[name])
        raise CatalogError(
            f"{amps:g} A", f"is not in the table of {name} fuses", f"it has {made} A"
        )
    points = limits.points[name][amps]
    sources: tuple[Source, ...] = limits.sources
    assumptions = [f"The slowest times of the {name} fuse are those that BS 7671 takes for it."]
    melts = passes = None
    if name == _BS_GG:
        gg = device_data.fuse_limits()
        gate, _ = _gate(amps, gg.gates)
        first = (amps * gg.fusing_x.at(amps), gg.conventional_s.at(amps))
        end, least = (gate.most_0_1_s_a, 0.1), gg.slowest_s
        quick = _gg_quick(amps, gate)
        assumptions.append(_below_gate(gg.fastest_s, gg.slowest_s))
        melts, passes = gg_energies(amps)
        sources = (*gg.sources, limits.sources[0], energy_limits().gg_source)
    else:
        fusing_x, seconds = limits.overload[name]
        first, end, least = (amps * fusing_x, seconds), points[-1], limits.slowest_s
        quick = step(amps * limits.hold_x, limits.fastest_s)
        assumptions.append(
            f"Nothing is held about how quickly it opens above its rating; beyond {end[0]:.0f} A "
            "the energy (current squared times time) of that point is kept."
        )
    slow = [first, *points, *([end] if end != points[-1] else [])]
    slow.append(same_energy(end, amps * FAR_X))
    return TimeBand(
        quick=quick,
        slow=Edge(tuple(falling(slow, least))),
        assumptions=tuple(assumptions),
        sources=sources,
        melts_i2t=melts,
        passes_i2t=passes,
    )


def _below_gate(fastest_s: float, slowest_s: float) -> str:
    return (
        "Below 0.1 s the energy (current squared times time) of the 0.1 s gate is kept, down to "
        f"{fastest_s:g} s (quick edge) and {slowest_s:g} s (slow edge)."
    )


def _gg_quick(amps: float, gate: FuseGate) -> Edge:
    limits = device_data.fuse_limits()
    end = (gate.least_0_1_s_a, 0.1)
    quick: list[Point] = [
        (amps * limits.non_fusing_x.at(amps), limits.conventional_s.at(amps)),
        (gate.least_10_s_a, 10.0),
        end,
        same_energy(end, amps * FAR_X),
    ]
    return Edge(tuple(falling(quick, limits.fastest_s)))


def _gate(amps: float, gates: tuple[FuseGate, ...]) -> tuple[FuseGate, tuple[float, float] | None]:
    if not gates[0].rating_a <= amps <= gates[-1].rating_a:
        raise CatalogError(
            f"{amps:g} A",
            "is outside the table of gates",
            f"gates are held from {gates[0].rating_a:g} A to {gates[-1].rating_a:g} A",
        )
    above = next(gate for gate in gates if gate.rating_a >= amps)
    if above.rating_a == amps:
        return above, None
    below = gates[gates.index(above) - 1]
    share = math.log(amps / below.rating_a) / math.log(above.rating_a / below.rating_a)

    def between(low: float, high: float) -> float:
        return low * math.exp(share * math.log(high / low))

    gate = FuseGate(
        rating_a=amps,
        least_10_s_a=between(below.least_10_s_a, above.least_10_s_a),
        most_5_s_a=between(below.most_5_s_a, above.most_5_s_a),
        least_0_1_s_a=between(below.least_0_1_s_a, above.least_0_1_s_a),
        most_0_1_s_a=between(below.most_0_1_s_a, above.most_0_1_s_a),
    )
    return gate, (below.rating_a, above.rating_a)
