"""What each source gives in normal use: power, and the current in its neutral by order.

Where the neutrals of several sources are joined or grounded, the harmonic voltages of their own
that are alike in all lines (third, ninth and so on) drive a current from one through the lines
of the other and home by neutral or metal. Per line it is, with one machine beside another,

    I = (E_a - E_b) / (Z0_a + Z0_b + Z0 of what joins them),

with all impedances at that order, and three times that in the neutral.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from bondwright.catalog.systems import VoltageSystem
from bondwright.network.build import Network
from bondwright.network.parallel import line_currents, power
from bondwright.network.solve import Solution


@dataclass(frozen=True, slots=True)
class Supply:
    """What a source gives.

    Attributes:
        name: its id.
        power: watts and vars at its terminals.
        amperes: current of each line, A.
        neutral: current that comes back by its neutral, A.
        harmonics: (order, A) of what comes back by its neutral besides.
        rated: its rated current, A; None for a utility.
        beside: the sources it works in parallel with.
    """

    name: str
    power: complex
    amperes: tuple[float, ...]
    neutral: float
    harmonics: tuple[tuple[int, float], ...]
    rated: float | None
    beside: tuple[str, ...]

    @property
    def circulating(self) -> float:
        """Harmonic current in its neutral, all orders together, A rms."""
        return math.hypot(*(amps for _, amps in self.harmonics)) if self.harmonics else 0.0


def supplies(
    network: Network, solution: Solution, at_orders: Mapping[int, Solution]
) -> tuple[Supply, ...]:
    """Return what every source and generator that is on gives, in the order of the description.

    Args:
        network: built with loads.
        solution: of normal use at the system frequency.
        at_orders: solutions by harmonic order.
    """
    site = network.plan.site
    systems: dict[str, VoltageSystem] = {n: s.system for n, s in site.sources.items()}
    systems |= {n: g.system for n, g in site.generators.items()}
    found = []
    for name, system in systems.items():
        if name not in network.state.on:
            continue
        group = next((g for g in network.state.parallel if name in g), ())
        amps = line_currents(solution, name, system)
        own = site.generators.get(name)
        rated = None
        if own is not None:
            rated = own.rating / system.line_to_line / (math.sqrt(3) if system.three_phase else 1)
        found.append(
            Supply(
                name,
                power(solution, name, system),
                tuple(abs(i) for i in amps.tolist()),
                abs(amps.sum()) if system.has_neutral else 0.0,
                tuple(
                    (order, float(abs(line_currents(there, name, system).sum())))
                    for order, there in at_orders.items()
                )
                if system.has_neutral
                else (),
                rated,
                tuple(other for other in group if other != name),
            )
        )
    return tuple(found)
