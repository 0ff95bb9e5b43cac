"""Current on metal in normal use, told: where, how much, whose fault, and the cure in order."""

from __future__ import annotations

from bondwright.explain.remaining import cure_for, path_without
from bondwright.explain.story import Story
from bondwright.explain.words import amps, capital, counted, flow_name, listed, percent, volts
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.studies.stray import NOISE_A, Nature, StrayCurrent, StrayStudy
from bondwright.studies.supplies import Supply
from bondwright.units import Dimension, show

NATURE_WORDS = {
    Nature.OBJECTIONABLE: "neutral current on metal: a tie where none belongs",
    Nature.SUPPLY_SIDE: "normal ahead of the service disconnect",
    Nature.EARTH_SHARE: "small share through the earth; normal",
    Nature.INDUCED: "small loop current",
}
"""What sort of current it is, for a table."""


def tell_stray(study: StrayStudy, plan: Plan) -> Story:
    """Tell normal use: is metal quiet, and if it isn't, which tie is to blame.

    Args:
        study: the study.
        plan: the plan it was made on.
    """
    wrong = [c for c in study.currents if c.nature is Nature.OBJECTIONABLE]
    sentences = [
        f"With the loads on, the largest neutral current on the site is {amps(study.neutral)}."
        if study.neutral > 0
        else "No load draws neutral current, so this says nothing about ties: describe the loads."
    ]
    if not wrong:
        rest = len(study.currents)
        sentences.append(
            "No neutral current runs on metal where it shouldn't."
            + (
                f" {capital(counted(rest, 'small or normal current'))} is listed."
                if rest == 1
                else ""
            )
            + (f" {rest} small or normal currents are listed." if rest > 1 else "")
        )
        quiet = Verdict.HOLDS if study.neutral > 0 else Verdict.CANNOT_TELL
        return Story("Current on metal in normal use", tuple(sentences), quiet)
    sentences += [tell_current(c, plan) for c in wrong[:3]]
    if len(wrong) > 3:
        sentences.append(f"{len(wrong) - 3} more paths are in the table.")
    for tie in dict.fromkeys(c.causes[0] for c in wrong if c.causes):
        sentences.append(cure(plan, tie))
    return Story("Neutral current runs on metal", tuple(sentences), Verdict.FALLS_SHORT)


SHARED_HEAD = ("source", "gives", "lines carry", "its neutral carries", "and of harmonics")
"""Head of the table that :func:`shared_rows` fills."""

CIRCULATING = 0.1
"""Harmonic current in the neutral of a source in parallel, in part of its rated current, from
which on it is worth a finding (common practice: a generator's neutral is watched for it)."""


def shared_rows(study: StrayStudy) -> list[tuple[str, ...]]:
    """Return a row for each source that works in parallel with another one."""
    return [
        (
            supply.name,
            f"{show(supply.power.real, Dimension.REAL_POWER)}, {_vars(supply.power)}",
            listed([amps(i) for i in supply.amperes]),
            amps(supply.neutral),
            listed([f"{amps(i)} of order {order}" for order, i in supply.harmonics]) or "–",
        )
        for supply in study.supplies
        if supply.beside
    ]


def _vars(power: complex) -> str:
    if abs(power.imag) < 1e-3 * abs(power):
        return "no reactive power"
    said = show(abs(power.imag), Dimension.APPARENT_POWER).replace("VA", "var")
    return f"{said} {'inductive' if power.imag > 0 else 'capacitive'}"


def with_orders(current: StrayCurrent) -> str:
    """Say a current on metal with its harmonics, for a table."""
    told = [f"{amps(i)} of order {order}" for order, i in current.harmonics if i >= NOISE_A]
    return listed([amps(current.flow.amperes), *told])


def tell_shared(supply: Supply) -> str:
    """Tell what harmonic current goes round between the neutrals of sources in parallel."""
    order, most = max(supply.harmonics, key=lambda pair: pair[1])
    of = f" ({percent(most / supply.rated)} of its rated current)" if supply.rated else ""
    return (
        f"{amps(most)} of order {order} comes back by the neutral of {supply.name}{of} while it "
        f"works beside {listed(supply.beside)}: harmonic voltages that are alike in all three "
        "lines drive it round through the neutrals that are joined or grounded."
    )


def tell_current(current: StrayCurrent, plan: Plan) -> str:
    """Tell one current on metal in one or two sentences."""
    said = (
        f"{capital(flow_name(plan, current.flow))} carries {amps(current.flow.amperes)}, "
        f"{percent(current.share)} of the neutral current: "
    )
    third = dict(current.harmonics).get(3, 0.0)
    if third >= NOISE_A:
        said = said.removesuffix(": ") + f", and {amps(third)} of third harmonic: "
    match current.nature:
        case Nature.OBJECTIONABLE:
            one = len(current.causes) == 1
            if current.together:
                said += f"the ties {listed(current.causes)} put it there together."
            elif one:
                said += f"the tie {listed(current.causes)} puts it there."
            else:
                said += f"the ties {listed(current.causes)} have part in it, the first the most."
            if current.without is not None:
                gone = "them" if current.together else "that tie" if one else "the first"
                said += f" Without {gone} it is {amps(current.without)}."
        case Nature.SUPPLY_SIDE:
            said += (
                "ahead of the service disconnect neutral and metal are joined at both ends, "
                "and sharing is normal there."
            )
        case Nature.EARTH_SHARE:
            said += "the part that takes the earth instead of the neutral, which is normal."
        case Nature.INDUCED:
            said += "a loop of metal beside the wires, with no tie to blame."
    return said


def cure(plan: Plan, tie: str) -> str:
    """Say how to mend a tie that puts current on metal, with the path that remains.

    The plan's own finding on the tie goes first, for it knows the order of the work. A tie whose
    removal would leave no metal path is never said to be taken out.
    """
    at = next((t.at for t in plan.ties if t.id == tie), None)
    if at is None:
        return ""
    finding = cure_for(plan, tie)
    if finding is not None:
        return f"Cure: {finding.cure}"
    path = path_without(plan, tie, at)
    if not path:
        return f"Cure: {keep_for_now(tie, at)}"
    return (
        f"Cure: with the power off, prove the path that remains: the bonding metal of "
        f"{listed(path)}, from {at} home. Only then take {tie} out and keep neutral and metal "
        f"apart at {at}. Look again afterwards: one tie can hide another."
    )


def keep_for_now(tie: str, at: str) -> str:
    """Say why a tie must stay until a wire of its own leads home."""
    return (
        f"don't take {tie} out yet. Without it no bonding conductor of its own leads home from "
        f"{at}; pipes and frames can be cut or replaced by plastic. Run an equipment grounding "
        "conductor with the line conductors first, prove it with the power off, and only then "
        f"take {tie} out. A ground rod is no substitute."
    )


def tell_neutral_to_metal(study: StrayStudy) -> str:
    """Say where the voltage between neutral and metal is highest, or "" if there is none."""
    if not study.neutral_to_metal:
        return ""
    worst = max(study.neutral_to_metal, key=lambda name: study.neutral_to_metal[name])
    high = study.neutral_to_metal[worst]
    if high < 0.01:
        return ""
    return (
        f"Between neutral and metal the most is {volts(high)}, at {worst}: the drop along the "
        "neutral, which is as it should be where they are kept apart."
    )
