"""The same study in every way a site is run."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from bondwright.network.build import Network, build
from bondwright.plan.model import Plan
from bondwright.site.states import OperatingState, states

Answer = TypeVar("Answer")


def study_states(
    plan: Plan,
    study: Callable[[Network], Answer],
    chosen: Iterable[OperatingState] | None = None,
    *,
    loads: bool = False,
) -> dict[str, Answer]:
    """Make a study in several operating states.

    Args:
        plan: the plan.
        study: takes a network (:func:`bondwright.studies.faults.study_faults`, say).
        chosen: the states; None means all the site has.
        loads: whether loads are connected.

    Returns:
        The answers by the state's name, in order.

    Raises:
        bondwright.network.solve.SolveError: a state's circuit contradicts itself.
    """
    those = states(plan.site) if chosen is None else chosen
    return {state.id: study(build(plan, loads=loads, state=state)) for state in those}
