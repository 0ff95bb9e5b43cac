"""What the makers of a plan share: the context they work in and the pieces they hand back."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, field, replace

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.ground import Said
from bondwright.plan.model import Assumption, PlannedGround, ScheduleItem
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.inputs import CannotTellError, SupplyConductors, area_text
from bondwright.site.fields import NoWire
from bondwright.site.model import Describes, Site
from bondwright.site.topology import Topology


@dataclass(frozen=True, slots=True)
class Context:
    """What every part of a plan needs to know.

    Attributes:
        site: the description.
        tree: its supply tree.
        ground: what stands in the ground.
        said: what is to be said of each electrode in it.
        frequency: Hz.
        temperature: of the conductors, degC.
    """

    site: Site
    tree: Topology
    ground: PlannedGround
    said: Mapping[str, Said]
    frequency: float
    temperature: float

    @property
    def rules(self) -> str:
        """Name of the rule set."""
        return self.site.rules

    @property
    def designing(self) -> bool:
        """Whether what is missing is to be designed."""
        return self.site.describes is Describes.PLAN


@dataclass(slots=True)
class Part:
    """What one part of the plan adds."""

    items: list[ScheduleItem] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)

    def assume(self, where: str, text: str) -> None:
        """Note a default that was taken."""
        self.assumptions.append(Assumption(where, text))

    def add(self, other: Part) -> None:
        """Take over what another part adds."""
        self.items += other.items
        self.findings += other.findings
        self.assumptions += other.assumptions


def checked(given: Conductor, required: Answer) -> tuple[Verdict, str]:
    """Return whether a conductor is as large as asked, and by how much it isn't.

    Args:
        given: what stands or is described.
        required: what is asked, in the same metal; so many sets where one belongs in each of
            several parallel raceways.
    """
    need = required.size
    have = given.area_cmil if need.sets > 1 else given.total_area_cmil
    if have < need.area_cmil * (1 - 1e-9):
        short = 1 - have / need.area_cmil
        return Verdict.FALLS_SHORT, (
            f"{given} where {need} is asked: {area_text(have)} of "
            f"{area_text(need.area_cmil)}, {100 * short:.0f} % too small; replace it with {need}"
        )
    if given.sets < need.sets:
        return Verdict.CANNOT_TELL, (
            f"one in each of {need.sets} parallel raceways is asked; if that is meant, write "
            f"'{need.sets} x {given.size} {given.material.value}'"
        )
    return Verdict.HOLDS, f"{need} is asked"


def short_finding(item: ScheduleItem, answer: Answer, word: str = "") -> Finding:
    """Return the finding that goes with a conductor that falls short or can't be judged.

    Args:
        item: its row.
        answer: what is asked.
        word: what a family calls it, where not by the purpose's own name.
    """
    falls = item.verdict is Verdict.FALLS_SHORT
    remark = item.remark[:1].upper() + item.remark[1:]
    return Finding(
        answer.rule,
        Severity.FALLS_SHORT if falls else Severity.CANNOT_TELL,
        item.about,
        f"{word or item.purpose.value} {'too small' if falls else 'not known well enough'}",
        f"{remark}. {' '.join(answer.because)}",
        f"Use {answer.size} or larger, with the supply off."
        if falls
        else f"Find out what is there; {answer.size} or larger is asked.",
        answer.clause,
    )


def in_schedule_only(
    ctx: Context,
    item: ScheduleItem,
    said: Conductor | NoWire | None,
    answer: Answer,
    part: Part,
) -> None:
    """Put a conductor that the computed circuit lacks into the schedule, and judge it.

    Args:
        ctx: the context.
        item: its row, with what is described as chosen; verdict and remark are set here.
        said: what the description says of it.
        answer: what is asked.
        part: what it goes into.
    """
    item = replace(item, required=answer)
    if said is NoWire.NONE:
        remark = f"none; {answer.size} is asked"
        part.items.append(
            replace(item, form="none", given=True, verdict=Verdict.FALLS_SHORT, remark=remark)
        )
        return
    if isinstance(said, Conductor):
        verdict, remark = checked(said, answer)
        item = replace(item, verdict=verdict, remark=remark)
    elif ctx.designing:
        remark = "as designed; in this schedule only, not in the computed circuit"
        item = replace(item, chosen=answer.size, verdict=Verdict.HOLDS, remark=remark)
    else:
        item = replace(item, remark=f"its size is not described; {answer.size} is asked")
    part.items.append(item)
    if item.verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))


def say_ground(ctx: Context, name: str, part: Part, rule: str, cure: str, clause: str) -> None:
    """Take over what is assumed of an electrode, and say where its shape can't be worked out.

    Args:
        ctx: the context.
        name: id of the electrode.
        part: what it goes into.
        rule: id of the rule that such a finding stands under.
        cure: what to do.
        clause: where the rule stands.
    """
    said = ctx.said[name]
    for text in said.assumed:
        part.assume(name, text)
    if said.failed:
        # No formula holds for what is described (a rod as thick as it is long, say).
        part.findings.append(
            Finding(
                rule,
                Severity.CANNOT_TELL,
                name,
                "electrode that can't be computed",
                f"{said.failed[:1].upper()}{said.failed[1:]}. One of the usual size is taken "
                "instead.",
                cure,
                clause,
            )
        )


def cannot_tell(error: CannotTellError, where: str) -> Finding:
    """Return the finding for a rule that can't be answered."""
    problem = error.problem[:1].upper() + error.problem[1:]
    missing = error.missing[:1].upper() + error.missing[1:]
    return Finding(
        error.rule,
        Severity.CANNOT_TELL,
        where,
        "no size by rule",
        f"{problem}.",
        f"{missing}." if missing else "Have it sized by a qualified person: no rule here gives it.",
        error.clause,
    )


def in_either_metal(
    make: Callable[[Material], Answer], supply: SupplyConductors, given: Conductor | None
) -> Answer:
    """Return a size in the given conductor's metal, else copper, else the supply's metal.

    Raises:
        CannotTellError: in none of them.
    """
    if given is not None:
        return make(given.material)
    try:
        return make(Material.CU)
    except CannotTellError:
        return make(supply.material)


def label(text: str, taken: Container[str]) -> str:
    """Return a label that isn't taken yet."""
    if text not in taken:
        return text
    number = 2
    while (numbered := f"{text} ({number})") in taken:
        number += 1
    return numbered
