"""Plans with one tie less or one more, for studies.

Only the ties change. Schedule, findings and tie counts stay those of the plan as it is.
"""

from __future__ import annotations

from dataclasses import replace

from bondwright.plan.defaults import tie_resistance
from bondwright.plan.model import Plan, PlannedTie
from bondwright.plan.parts import label
from bondwright.rules.families import belonging
from bondwright.site.model import TieForm


def without_tie(plan: Plan, tie: str) -> Plan:
    """Return the plan without one of its ties.

    Args:
        plan: the plan.
        tie: id of the tie.

    Raises:
        ValueError: the plan has no such tie.
    """
    if all(known.id != tie for known in plan.ties):
        names = ", ".join(repr(known.id) for known in plan.ties) or "none"
        raise ValueError(f"{tie!r} is no tie of this plan; it has {names}")
    return replace(plan, ties=tuple(known for known in plan.ties if known.id != tie))


def with_tie(plan: Plan, at: str, form: TieForm = TieForm.SCREW) -> Plan:
    """Return the plan with a further tie, of the usual resistance for its form.

    Args:
        plan: the plan.
        at: place or transformer.
        form: how it is made.

    Raises:
        ValueError: no such place, or no neutral reaches it.
    """
    if at not in plan.topology.systems:
        raise ValueError(f"{at!r} is no place of this site")
    if not plan.topology.neutral_at(at):
        raise ValueError(f"no neutral reaches {at!r}, so nothing can be tied to its metal there")
    taken = {known.id for known in plan.ties}
    name = label(f"extra tie at {at}", taken)
    places = {known.id: known.at for known in plan.ties} | {name: at}
    tie = PlannedTie(
        id=name,
        at=at,
        form=form,
        size=None,
        resistance=tie_resistance(form, None, plan.temperature),
        given=False,
        belongs=name in belonging(plan.topology, places),
    )
    return replace(plan, ties=(*plan.ties, tie))
