"""The hunt told: cautions first, then the causes that are left, why, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bondwright.explain.words import amps, listed, volts
from bondwright.plan.model import Plan
from bondwright.studies.hunt.causes import UNLISTED, Cause, Voice
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.next_reading import Proposal
from bondwright.studies.hunt.rank import Ranking
from bondwright.studies.hunt.readings import Reading
from bondwright.units import Dimension, show

HUNT_CAUTIONS: Final = (
    "Danger: do not open a grounding electrode conductor, a neutral, a bonding jumper or a pipe to "
    "find anything out. If its other end is bad, the two open ends stand at full voltage. Clamp "
    "it; lift nothing.",
    "If anyone feels a tingle, switch the installation off at its main and keep people away from "
    "the metal until this is settled. With the main off the neutral is still joined to metal and "
    "to the supply.",
    "No voltage read here is called safe: an open-circuit reading says nothing of the current that "
    "a person would take.",
    "Readings with a cover off are for a qualified person with the protection that goes with it. "
    "The utility's parts, the meter and all that is sealed are the utility's: call them.",
)
"""What is said before anything else."""

HEATER_CAUTION: Final = (
    "Before a heater is plugged in, see that every line reads its usual voltage to neutral. If one "
    "doesn't, the neutral may be open: plug nothing in, for what is left on would get too much."
)
"""What is said with a reading that needs a heater."""

_SPEAKS: Final = 0.7
"""A reading speaks where it makes a cause about twice as likely, or half as likely, as another."""

LEAST: Final = 0.01
"""Causes less likely than this are not told."""


def amount(quantity: Quantity, value: float) -> str:
    """Write a value of a quantity with its unit."""
    match quantity:
        case Quantity.CURRENT | Quantity.NET_CURRENT:
            return amps(value)
        case Quantity.VOLTAGE:
            return volts(value)
        case Quantity.LOAD:
            return show(value, Dimension.REAL_POWER)
        case _:
            return show(value, Dimension.RESISTANCE)


def headline(ranking: Ranking) -> str:
    """Say in one sentence how far the hunt has come."""
    top = ranking.causes[0]
    if not _used(ranking):
        return "There is no reading to judge by: what follows is only how often things are met."
    if ranking.fits_nothing:
        return (
            "These readings fit nothing that this tool knows. Check states, places and meters, "
            "read again what surprises most, and look for what the site file leaves out."
        )
    share = top.probability + sum(ranking.probability(id) for id in top.alike)
    if ranking.stands_out:
        if top.alike:
            count = len(top.alike) + 1
            return (
                f"One of {count} causes that no single reading looked at tells apart stands out "
                f"({share:.0%} together): {top.hypothesis.name}, or what is listed beside it."
            )
        if top.hypothesis.kind == "nothing-wrong":
            return f"Nothing that these readings can show is wrong ({share:.0%})."
        return f"One cause stands out ({share:.0%}): {top.hypothesis.name}."
    count = len(_used(ranking))
    many = f"{count} readings" if count > 1 else "one reading"
    return (
        f"This cannot be decided from {many} yet; the likeliest is "
        f"{top.hypothesis.name} ({top.probability:.0%})."
    )


def _used(ranking: Ranking) -> list[Reading]:
    return [r for r in ranking.readings if r.quantity is not Quantity.LOAD]


def tell_cause(cause: Cause, ranking: Ranking) -> tuple[str, ...]:
    """Tell one cause: how likely, which readings speak for it and against, what it is like."""
    if cause.hypothesis is UNLISTED:
        return (
            f"{cause.probability:.0%}: something that is not in the list of causes. It can't be "
            "ruled out.",
        )
    first = f"{cause.probability:.0%}: {cause.hypothesis.name}"
    if cause.size is not None:
        drives = any(part.drives for part in cause.hypothesis.parts)
        size = volts(cause.size) if drives else show(cause.size, Dimension.RESISTANCE)
        first += f" (about {size} would fit best)"
    said = [first + "."]
    by = {r.number: r for r in ranking.readings}
    loud = sorted(cause.voices, key=lambda v: -abs(v.weight))
    for word, those in (
        ("for", [v for v in loud if v.weight > _SPEAKS]),
        ("against", [v for v in loud if v.weight < -_SPEAKS]),
    ):
        if those:
            heard = "; ".join(_voice(by[v.reading], v) for v in those[:3])
            said.append(f"Speaks {word} it: {heard}.")
    if cause.alike:
        names = {c.id: c.hypothesis.name for c in ranking.causes}
        others = listed([names[id] for id in cause.alike[:6]], "or")
        more = f" (and {len(cause.alike) - 6} more)" if len(cause.alike) > 6 else ""
        said.append(f"No single reading of those looked at tells it from: {others}{more}.")
    if cause.hypothesis.upstream:
        said.append("It lies on the utility's side: call them, and don't open anything of theirs.")
    return tuple(said)


def _voice(reading: Reading, voice: Voice) -> str:
    read = amount(reading.quantity, reading.value)
    expected = amount(reading.quantity, max(voice.expected, 0.0))
    spread = amount(reading.quantity, voice.sigma)
    return f"{reading.text}, read {read} where it would be {expected} give or take {spread}"


def tell_proposal(proposal: Proposal, ranking: Ranking) -> tuple[str, ...]:
    """Tell a reading to take next, and what it would decide."""
    names = {c.id: c.hypothesis.name for c in ranking.causes}
    quantity = proposal.candidate.reading.quantity
    expected = "; ".join(
        f"{amount(quantity, value)} if {names.get(id, id)}"
        for id, value, _ in proposal.expected[:3]
    )
    reading = proposal.candidate.reading
    said = (
        f"{proposal.candidate.how} ({reading.instrument.name}).",
        f"Expect about {expected}.",
    )
    return (*said, HEATER_CAUTION) if reading.moment.test else said


def utility_asks(ranking: Ranking) -> tuple[str, ...]:
    """Say what only the utility may do, where a likely cause lies on its side."""
    likely = [c for c in ranking.causes if c.probability > 0.05 and c.hypothesis.upstream]
    if not likely:
        return ()
    return (
        "Only the utility may do this: measure the service neutral under load ahead of the meter, "
        "and, with the service off, lift its neutral and read the metal to remote earth once more. "
        "That last state finishes the proof of whose current it is. Pulling a meter opens the "
        "lines only; the neutral stays joined.",
    )


def lessons(ranking: Ranking, plan: Plan) -> tuple[str, ...]:
    """Say what these readings can't show, where people are led astray."""
    said = []
    read = _used(ranking)
    coarse = [
        r
        for r in read
        if r.quantity in (Quantity.CURRENT, Quantity.NET_CURRENT) and r.value < 2 * r.sigma
    ]
    if coarse:
        numbers = listed([str(r.number) for r in coarse])
        said.append(
            f"Reading {numbers} is near nothing and within what its clamp resolves: it doesn't "
            "prove that no tie is there."
            if len(coarse) == 1
            else f"Readings {numbers} are near nothing and within what their clamps resolve: they "
            "don't prove that no tie is there."
        )
    if any(r.quantity is Quantity.EARTH_LOOP and r.value < 1 for r in read):
        said.append(
            "An earth tester that reads less than 1 ohm is clamped round a loop of metal: that is "
            "no earth resistance."
        )
    mains_off = [r for r in coarse if r.moment.off]
    if mains_off:
        said.append(
            "No current with the main off says that the current is this site's own and not a "
            "neighbour's. It does not say that the fault is inside: a bad service neutral does the "
            "same."
        )
    phantom = [
        r
        for r in read
        if r.quantity is Quantity.VOLTAGE and r.instrument.phantom and 5 < r.value < 100
    ]
    if phantom and any(
        c.probability > 0.1 and c.hypothesis.kind in ("line-open", "neutral-open", "egc-open")
        for c in ranking.causes
    ):
        numbers = listed([str(r.number) for r in phantom])
        said.append(
            f"Reading {numbers} may be a phantom: a high-impedance meter shows such voltages on a "
            "conductor that is open. Read again with a low-impedance meter or a lamp, and keep "
            "treating the conductor as live."
        )
    if any(r.quantity is Quantity.VOLTAGE and r.of.endswith("earth") for r in read):
        said.append(
            "A voltage between metal and earth from one open-circuit reading is no verdict: read "
            "it also across 500 ohm, and see which source it follows."
        )
    pairs = [r for r in read if r.quantity is Quantity.VOLTAGE and r.of in ("L1-N", "L2-N")]
    if len(pairs) > 1 and any(s.system.lines == ("L1", "L2") for s in plan.site.sources.values()):
        said.append(
            "With a bad neutral one leg rises as the other falls and their sum stays; with a bad "
            "line one leg falls and the other doesn't rise."
        )
    return tuple(said)


def cure_words(cause: Cause) -> str:
    """Say in which order a cause is mended, without taking away a fault path."""
    kind = cause.hypothesis.kind
    if "+" in cause.id:
        return (
            "There are two: mend what leaves metal without a path, or a neutral open, first; then "
            "read everything again. One defect can hide another."
        )
    return {
        "tie-added": "With the power off, prove the bonding path that remains, and only then part "
        "neutral and metal here. Without that path the tie is the only one: run the bonding "
        "conductor first. Read everything again afterwards.",
        "tie-missing": "Treat the metal as unprotected: a ground rod is no substitute. With the "
        "power off, make the bond where the plan has it.",
        "neutral-open": "Switch off what this neutral serves: voltages can rise to the full line "
        "voltage. Mend it with the power off; don't open any pipe or electrode conductor before.",
        "neutral-loose": "A bad neutral gets worse without notice. Have it mended with the power "
        "off; don't open any pipe or electrode conductor before.",
        "outlet-reversed": "The metal is live: switch the circuit off now.",
        "line-leaks": "Switch the circuit off; earth and rods don't clear this.",
        "line-tied": "Ask who made the join and look for its marking before anything is changed: a "
        "grounded corner is a design, and the conductors, devices and poles that go with it are "
        "others. Put it in the description if it is one.",
    }.get(kind, "Prove it dead, look at it, and mend it with the power off; then read again.")


def voices_told(voices: Sequence[Voice], ranking: Ranking) -> list[dict[str, object]]:
    """Return the voices of a cause as data."""
    by = {r.number: r for r in ranking.readings}
    return [
        {
            "reading": v.reading,
            "text": by[v.reading].text,
            "read": by[v.reading].value,
            "expected": v.expected,
            "uncertainty": v.sigma,
            "log_ratio": v.weight,
        }
        for v in voices
    ]
