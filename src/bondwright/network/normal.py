"""Normal use of a network: loads at their voltages, steel at its currents, harmonics by order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bondwright.network.build import Network, build
from bondwright.network.loads import Settled, harmonic_injections, orders, settle
from bondwright.network.parallel import own_harmonics, own_orders
from bondwright.network.raceways import settled
from bondwright.network.solve import Change, Injection, Solution


def normal_use(network: Network, changes: Sequence[Change] = ()) -> Settled:
    """Solve normal use at the system frequency.

    Args:
        network: built with loads.
        changes: what is different about the circuit.

    Returns:
        The solution with constant-current and constant-power loads settled, and every steel
        raceway at the current it carries.
    """

    def solve(drawn: Sequence[Injection]) -> Solution:
        return settled(network, changes, drawn)[0]

    return settle(network.loads, solve)


@dataclass(frozen=True, slots=True, eq=False)
class Harmonics:
    """The circuit at each harmonic order that a load or generator makes.

    Attributes:
        base: the network at the system frequency.
        networks: by order, built at that order.
    """

    base: Network
    networks: Mapping[int, Network]

    def solve(
        self, fundamental: Solution, changes_of: Mapping[int, Sequence[Change]] | None = None
    ) -> dict[int, Solution]:
        """Return the solution of every order.

        Args:
            fundamental: solution at the system frequency; it gives the angles.
            changes_of: changes by order, made by each order's own solver.
        """
        found = {}
        for order, network in self.networks.items():
            drawn = harmonic_injections(network.loads, fundamental, order)
            # Angles of machines are those they are synchronised to at the system frequency.
            site, on = network.plan.site, network.state.on
            drawn += own_harmonics(self.base.circuit, site, on, order)
            changes = (changes_of or {}).get(order, ())
            found[order] = network.solver.solve(changes, drawn, dead=True)
        return found


def harmonics(network: Network) -> Harmonics:
    """Build the circuit at every harmonic order that a load or generator of a network makes."""
    every = {*orders(network.loads), *own_orders(network.plan.site, network.state.on)}
    at = {order: build(network.plan, state=network.state, order=order) for order in sorted(every)}
    return Harmonics(network, at)
