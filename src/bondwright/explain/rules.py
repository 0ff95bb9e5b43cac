"""Why a jumper or conductor is there, told for an apprentice, and the sum behind its size."""

from __future__ import annotations

from typing import Final

from bondwright.explain.dialect import purpose_why, purpose_word
from bondwright.explain.story import Story
from bondwright.plan.model import Plan, Purpose, ScheduleItem
from bondwright.rules.iec.ruleset import is_iec

WHY: Final = {
    Purpose.MAIN_BONDING_JUMPER: "It joins the neutral to the metal at the service disconnect. "
    "When a line touches metal, the current comes home over it and a breaker opens; without it "
    "all metal stays live.",
    Purpose.SYSTEM_BONDING_JUMPER: "It joins the neutral that a transformer, generator or "
    "inverter makes to the metal there. When a line of that system touches metal, the current "
    "comes home over it; without it nothing opens.",
    Purpose.SUPPLY_SIDE_JUMPER: "It joins metal boxes ahead of the first overcurrent device. "
    "Nothing on site cuts a fault short there, so it has to bear it as long as the supply lasts.",
    Purpose.ELECTRODE_CONDUCTOR: "It joins the system to the metal in the earth, which holds its "
    "voltages down when lightning or a higher voltage strikes. It is not what opens a breaker.",
    Purpose.EQUIPMENT_GROUND: "It runs with the circuit and joins the metal at its end to the "
    "source. When a line touches that metal, it brings the current back until the device opens.",
    Purpose.IMPEDANCE_CONDUCTOR: "It leads from the neutral to the resistor that lets only a few "
    "amperes through a first fault. It carries no more than that.",
    Purpose.METAL_BOND: "It joins pipe, steel or duct to the grounding of the building. If a line "
    "touches that metal anywhere, the current finds the way back to the source.",
    Purpose.BUSHING_JUMPER: "It leads around the knock-out at the end of a metal raceway. Without "
    "it fault current goes through a ring that hangs by two tabs, or through a loose locknut.",
    Purpose.EQUIPOTENTIAL: "It makes all metal that a wet person or an animal can touch stand at "
    "one voltage. It does not open a breaker, and a ground rod does nothing of the kind.",
    Purpose.NEUTRAL_BOND: "Ahead of the service disconnect the neutral bonds the metal boxes. When "
    "a line touches one, the current goes home over the neutral; no other metal brings it there.",
    Purpose.DC_JUMPER: "It joins the grounded conductor of a direct-current system to the metal at "
    "its source. When the other conductor touches metal, the current comes home over it.",
}
"""What each kind of conductor is for, and what happens without it."""


def tell_requirement(item: ScheduleItem, rules: str = "nec") -> Story:
    """Tell a row of the schedule: what it is for, the sum behind its size, and how it stands.

    Args:
        item: the row.
        rules: name of the rule set, for whose readers it is told.

    Returns:
        The story. The sum names the inputs, the row of the table and the result.
    """
    need = item.required
    sentences = [purpose_why(item.purpose) if is_iec(rules) else WHY[item.purpose]]
    if need is not None:
        sentences += need.because
        sentences.append(f"So at least {need.size} is asked ({need.clause}).")
    else:
        sentences.append("The code asks for no size of its own here.")
    sentences.append(_stands(item))
    title = f"{purpose_word(item.purpose, rules)}, {item.from_} to {item.to}"
    return Story(title, tuple(sentences), item.verdict)


def _stands(item: ScheduleItem) -> str:
    what = str(item.chosen) if item.chosen is not None else item.form
    by = "given" if item.given else "designed"
    if what == "none":
        return f"There is none: {item.verdict.value}."
    return f"Here it is {what}, {by}: {item.verdict.value}."


def tell_requirements(plan: Plan) -> tuple[Story, ...]:
    """Tell every row of a plan's schedule, in its order."""
    return tuple(tell_requirement(item, plan.site.rules) for item in plan.schedule)
