"""Stories of a shared water pipe, and of a generator whose neutral is switched or solid."""

from __future__ import annotations

from typing import Final

from bondwright.explain.words import amps, percent, seconds, volts
from bondwright.page.model import Case, day, fault, model, volts_in_fault
from bondwright.page.scenes import Option, Question, Scene, Told, place, run, tie, yes
from bondwright.page.wire import Target
from bondwright.plan.build import plan
from bondwright.studies.defects.alterations import Break

PIPE: Final = Target(kind="metal", id="water pipe")
WATER: Final = Case("water")
_LOST: Final = Break("run service drop", "N")
LOST: Final = Case("water", wrong=(_LOST,))
CUT: Final = Case("water", wrong=(_LOST, Break("run service drop", "metal water pipe")))

STANDBY: Final = "on generator"
BOND: Final = "generator bond"
SOLID_TWO: Final = Case("generator-solid", STANDBY)
SOLID_ONE: Final = Case("generator-solid", STANDBY, off=(BOND,))
SWITCHED_ONE: Final = Case("generator-switched", STANDBY)
SWITCHED_NONE: Final = Case("generator-switched", STANDBY, off=(BOND,))


def water_pipe() -> Told:
    """A shared water pipe."""
    sound, lost, cut = day(WATER), day(LOST), day(CUT)
    pipe, neutral = sound.amps("water pipe", "G"), sound.amps("service drop", "N")
    gap = abs(cut.solution.between("cottage panel:G", "utility:G"))
    return Told(
        (
            Scene(
                "A second way home",
                (
                    "A cottage on a metal water main. The main leads past the neighbours, whose "
                    "neutrals "
                    "are joined to it too, back to the same transformer.",
                    f"{amps(neutral)} goes home on the neutral, and {amps(pipe)} on the water "
                    f"pipe: "
                    f"{percent(pipe / (pipe + neutral))}. Nobody did anything wrong.",
                ),
                WATER,
                points=(PIPE,),
                question=Question(
                    "The neutral of the service drop breaks. What do the people in the cottage "
                    "notice?",
                    (
                        Option(
                            "Lights that burn out, as with any open neutral",
                            "So it would be with rods alone. Here another conductor is there.",
                        ),
                        yes(
                            "Next to nothing",
                            "Yes. The pipe takes over, and hides the fault.",
                        ),
                        Option("The main opens", "No more current flows than before."),
                    ),
                ),
            ),
            Scene(
                "The pipe is the neutral now",
                (
                    f"{amps(lost.amps('water pipe', 'G'))} on the water pipe. L1 to neutral "
                    f"{volts(lost.volts('cottage panel', 'L1', 'N'))}, L2 to neutral "
                    f"{volts(lost.volts('cottage panel', 'L2', 'N'))}: who looks at that?",
                    "It can stay so for years.",
                ),
                LOST,
                points=(PIPE, run("service drop")),
                question=Question(
                    "A plumber comes to cut the pipe and put in a piece of plastic. What should "
                    "he know?",
                    (
                        Option(
                            "Nothing: a water pipe is no electrical conductor",
                            f"This one carries {amps(lost.amps('water pipe', 'G'))}.",
                        ),
                        Option(
                            "That the water has to be off",
                            "That too. The two ends of the cut are the danger.",
                        ),
                        yes(
                            "That the two ends of a cut may stand at a deadly voltage against "
                            "each other",
                            "Yes. A pipe that carries current is opened by nobody: the neutral "
                            "is mended "
                            "first.",
                        ),
                    ),
                ),
            ),
            Scene(
                "The pipe is cut",
                (
                    f"Between the two ends of the pipe there are {volts(gap)}, and a hand on "
                    f"each closes "
                    "the circuit.",
                    f"Now the cottage notices: L1 to neutral "
                    f"{volts(cut.volts('cottage panel', 'L1', 'N'))}, L2 to neutral "
                    f"{volts(cut.volts('cottage panel', 'L2', 'N'))}, and its metal at "
                    f"{volts(cut.metal['cottage panel'])} to the earth.",
                ),
                CUT,
                points=(PIPE, run("service drop"), place("cottage panel")),
            ),
        ),
        (
            "Current on a water pipe may be a share that has always been there, a bad neutral of "
            "one's "
            "own, or a neighbour's. Clamp it, never open it, and let the utility prove the "
            "neutral.",
        ),
    )


def generator() -> Told:
    """A generator with a switched and an unswitched neutral."""
    two, one, none = day(SOLID_TWO), fault(SOLID_ONE, "cooler"), fault(SWITCHED_NONE, "cooler")
    good = fault(SWITCHED_ONE, "cooler")
    metal = two.amps("generator feeder", "G")
    lifted = volts_in_fault(SWITCHED_NONE, "cooler", "cold panel", "N", "G")
    other = volts_in_fault(SWITCHED_NONE, "cooler", "cold panel", "L2", "G")
    return Told(
        (
            Scene(
                "A switch with a solid neutral, a generator with a bond",
                (
                    "A cold room runs on its generator. The transfer switch switches the two "
                    "lines; the "
                    "neutral goes straight through. The generator came with neutral and frame "
                    "joined.",
                ),
                SOLID_TWO,
                points=(place("transfer switch"), place("generator")),
                question=Question(
                    "How often are neutral and metal joined now?",
                    (
                        Option(
                            "Once: only the generator is on",
                            "The lines of the utility are off, its neutral is not: it is still "
                            "there, with "
                            "the main bonding jumper on it.",
                        ),
                        yes(
                            "Twice: at the generator and, through the solid neutral, at the main "
                            "panel",
                            "Yes. A neutral that isn't switched joins the two systems for good.",
                        ),
                        Option(
                            "Not at all",
                            "There is a tie at the generator and one at the main panel.",
                        ),
                    ),
                ),
            ),
            Scene(
                "Two ties at once",
                (
                    f"{amps(metal)} of neutral current runs on metal: from the main bonding "
                    f"jumper over "
                    "the bonding wires to the generator's frame.",
                    "With a solid neutral the generator is no system of its own: its bond has to "
                    "come "
                    "out, and a label there says so.",
                ),
                SOLID_TWO,
                points=(tie(BOND), tie("main bonding jumper"), place("generator")),
                question=Question(
                    "The bond in the generator is taken out, and the neutral stays solid. A line "
                    "touches "
                    "the cooler's frame while the generator runs. What happens?",
                    (
                        yes(
                            "The current comes home over the main panel's jumper, and the "
                            "breaker opens",
                            "Yes: the one tie that is left serves both sources.",
                        ),
                        Option(
                            "Nothing opens: the generator has no tie",
                            "It has one, in the main panel, at the other end of the solid neutral.",
                        ),
                    ),
                ),
            ),
            Scene(
                "Solid neutral, one tie",
                (
                    f"{amps(one.current)} flow by way of the main panel's jumper, and the 20 A "
                    f"breaker "
                    f"opens within {seconds(one.clearing)}.",
                ),
                SOLID_ONE,
                fault="cooler",
                points=(tie("main bonding jumper"),),
                question=Question(
                    "Now the transfer switch is replaced by one that switches the neutral as "
                    "well. The "
                    "bond in the generator is still out. And the same fault?",
                    (
                        Option(
                            "As before",
                            "The jumper in the main panel is cut off: its neutral is switched "
                            "away.",
                        ),
                        Option(
                            "The utility's transformer carries it",
                            "It is switched off, neutral and all.",
                        ),
                        yes(
                            "Nothing opens: on the generator there is no tie at all",
                            "Yes. None is worse than two.",
                        ),
                    ),
                ),
            ),
            Scene(
                "Switched neutral, no tie",
                (
                    f"{amps(none.current)} flow: nothing opens, and nobody knows. The line on "
                    f"the frame "
                    "has become the metal, so that all else stands against it: neutral at "
                    f"{volts(lifted)} and L2 at {volts(other)} to every piece of metal. The next "
                    f"fault, "
                    "on L2, is between lines.",
                ),
                SWITCHED_NONE,
                fault="cooler",
                points=(place("cooler"), place("generator")),
            ),
            Scene(
                "Switched neutral, bond in the generator",
                (
                    f"{amps(good.current)} flow home to the generator's own tie, and the breaker "
                    f"opens "
                    f"within {seconds(good.clearing)}. On the utility the main bonding jumper "
                    f"does it.",
                ),
                SWITCHED_ONE,
                fault="cooler",
                points=(tie(BOND),),
            ),
        ),
        (_counts(),),
    )


def _counts() -> str:
    """Say how often neutral and metal are joined in each arrangement, as the plan counts it."""
    said = []
    for name, word in (("generator-solid", "solid"), ("generator-switched", "switched")):
        site = model(name).site
        for off, with_bond in (("", "with"), (BOND, "without")):
            ties = {id: tie for id, tie in (site.ties or {}).items() if id != off}
            counts = plan(site.model_copy(update={"ties": ties})).tie_counts
            on = next(c.count for c in counts if c.state == STANDBY)
            said.append(f"neutral {word}, {with_bond} the generator's bond: {on}")
    return (
        f"Ties while the generator runs: {'; '.join(said)}. Count them in every state: a solid "
        f"neutral "
        "asks for none at the generator, a switched one for exactly one."
    )
