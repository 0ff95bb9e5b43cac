"""How an outbuilding may be earthed: with its feeder, or by an earth of its own."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.catalog.device_rating import DeviceRating
from bondwright.rules.answer import Finding, Severity, Verdict, need_words
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.electrode_loops import judge_tt
from bondwright.rules.iec.loops import Loop, judge_loop
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause

RULE = "iec-outbuilding"


@dataclass(frozen=True, slots=True)
class EarthingOption:
    """One way to earth an outbuilding.

    Attributes:
        title: a few words.
        verdict: whether it may be done; cannot tell where somebody has to decide or look.
        because: the reasons, for a person.
        findings: what has to be known with it.
    """

    title: str
    verdict: Verdict
    because: tuple[str, ...]
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        need_words(*self.because)


def outbuilding_options(
    where: str,
    earthing: Earthing,
    loop: Loop,
    feeder_device: DeviceRating,
    rules: str = DEFAULT_RULES,
    *,
    u0_v: float = 230.0,
    metal_between: bool | None = None,
    electrode_ohm: float | None = None,
    own_device: DeviceRating | None = None,
) -> tuple[EarthingOption, ...]:
    """Return the ways to earth an outbuilding, each judged.

    Args:
        where: id of the outbuilding's board.
        earthing: of the supply.
        loop: fault loop at the outbuilding with the protective conductor of its feeder.
        feeder_device: device ahead of the feeder.
        rules: name of the rule set.
        u0_v: nominal voltage of a line to earth, V.
        metal_between: whether pipe, armour or steel joins the two buildings; None if not known.
        electrode_ohm: of an electrode at the outbuilding, ohm; None if not measured.
        own_device: the outbuilding's device with a residual element.

    Raises:
        CannotTellError: no disconnection time is asked at that voltage.
        UnknownFamilyRulesError: no such rule set.
        ValueError: an IT system.
    """
    if earthing is Earthing.IT:
        raise ValueError("an IT system is extended as an IT system; nothing is to be chosen")
    found = []
    if earthing.is_tn:
        found.append(_with_feeder(where, earthing, loop, feeder_device, rules, u0_v, metal_between))
    if earthing is Earthing.MEN:
        found.append(_separate_men(where, rules, metal_between))
    else:
        found.append(_electrode(where, rules, u0_v, metal_between, electrode_ohm, own_device))
    return tuple(found)


def _with_feeder(
    where: str,
    earthing: Earthing,
    loop: Loop,
    device: DeviceRating,
    rules: str,
    u0_v: float,
    metal_between: bool | None,
) -> EarthingOption:
    judged = judge_loop(where, loop, device, earthing, rules, u0_v=u0_v, final=False)
    said = [
        "The protective conductor comes with the feeder; no electrode and no join of neutral and "
        "earth at the outbuilding.",
        *judged.because,
    ]
    findings = list(judged.findings)
    if earthing is not Earthing.MEN and metal_between is not False:
        findings.append(
            Finding(
                RULE,
                Severity.CANNOT_TELL if metal_between is None else Severity.NOTE,
                where,
                "main protective bonding at the outbuilding",
                "Where pipes, steel or other extraneous metal come into the outbuilding, main "
                "protective bonding goes with the supply's earth, of the size asked at the origin.",
                "Look for extraneous metal there.",
                clause(RULE, rules),
            )
        )
    return EarthingOption(
        "protective conductor with the feeder", judged.disconnection, tuple(said), tuple(findings)
    )


def _separate_men(where: str, rules: str, metal_between: bool | None) -> EarthingOption:
    finding = Finding(
        RULE,
        Severity.CANNOT_TELL,
        where,
        "a separate MEN installation",
        "An electrode with a MEN link makes the outbuilding a separate MEN installation: "
        "main-earthing work, which has to be inspected. No earth core may join both ends then, or "
        "neutral current flows in it.",
        "Ask the inspector first; the earth core of the feeder is simpler.",
        clause(RULE, rules),
    )
    verdict = Verdict.FALLS_SHORT if metal_between else Verdict.CANNOT_TELL
    said = ["An electrode and a MEN link at the outbuilding; the feeder's neutral is a PEN."]
    if metal_between:
        said.append("Metal joins the buildings and would carry neutral current.")
    return EarthingOption("separate MEN installation", verdict, tuple(said), (finding,))


def _electrode(
    where: str,
    rules: str,
    u0_v: float,
    metal_between: bool | None,
    electrode_ohm: float | None,
    own_device: DeviceRating | None,
) -> EarthingOption:
    title = "electrode of its own with a residual-current device (TT)"
    said = ["The feeder's protective conductor ends insulated at the outbuilding."]
    if metal_between:
        said.append("Metal joins the buildings, so that the two earths can't be kept apart.")
        return EarthingOption(title, Verdict.FALLS_SHORT, tuple(said), ())
    if electrode_ohm is None or own_device is None:
        said.append("Measure the electrode, and say which residual-current device there will be.")
        return EarthingOption(title, Verdict.CANNOT_TELL, tuple(said), ())
    judged = judge_tt(where, electrode_ohm, own_device, rules, u0_v=u0_v, final=False)
    verdict = judged.disconnection
    if metal_between is None and verdict is Verdict.HOLDS:
        verdict = Verdict.CANNOT_TELL
        said.append("Look first whether any metal joins the two buildings.")
    return EarthingOption(title, verdict, (*said, *judged.because), judged.findings)
