"""Stories of one house and its shed: joined once, not at all, twice; a rod; a neutral that is gone.

The words stand here; every number in them is computed when the story is opened.
"""

from __future__ import annotations

from typing import Final

from bondwright.explain.words import amps, percent, seconds, volts
from bondwright.page.model import Case, day, fault
from bondwright.page.scenes import Option, Question, Scene, Told, place, run, tie, yes
from bondwright.studies.defects.alterations import Break, Join

BOND: Final = "main bonding jumper"
SOUND: Final = Case("house")
UNTIED: Final = Case("house", off=(BOND,))
TWICE: Final = Case("house", on=("shed panel",))
NO_WIRE: Final = Case("house", wrong=(Break("run shed feeder", "metal"),))
THREE_RODS_OHM: Final = 5.0
MORE_RODS: Final = Case(
    "house", wrong=(*NO_WIRE.wrong, Join("shed panel:G", "earth", THREE_RODS_OHM))
)
NO_NEUTRAL: Final = Case("house", wrong=(Break("run service drop", "N"),))


def once() -> Told:
    """Why neutral and metal are joined once."""
    use, hit = day(SOUND), fault(SOUND, "press")
    neutral = use.amps("service drop", "N")
    return Told(
        (
            Scene(
                "A normal day",
                (
                    "A gate house and its shed. Black and red are the lines, white is the "
                    "neutral, "
                    "green all the metal that is bonded together.",
                    f"{amps(neutral)} of the loads goes home on the neutral of the service drop. "
                    f"On "
                    f"the metal: {amps(use.amps('shed feeder', 'G'))}, as good as nothing.",
                    "Neutral and metal are joined in one place, the main bonding jumper in the "
                    "house "
                    "panel. It carries next to nothing all day.",
                ),
                SOUND,
                points=(tie(BOND),),
                question=Question(
                    "Line L1 comes loose in the press and touches its frame. Which way does the "
                    "current take home?",
                    (
                        Option(
                            "Through the shed's rod and the earth",
                            "The earth is a poor conductor: two rods of 25 ohm let a few amperes "
                            "through at 120 V. Look what the wire does.",
                        ),
                        yes(
                            "On the bonding wires to the house panel, over the jumper, home on "
                            "the "
                            "neutral",
                            "Yes. Metal all the way, and the jumper is the bridge to the neutral.",
                        ),
                        Option(
                            "Nowhere: the frame is not connected to anything",
                            "The frame is bonded, and the bonding wire leads to the panel.",
                        ),
                    ),
                ),
            ),
            Scene(
                "A line touches the frame of the press",
                (
                    f"{amps(hit.current)} flow: out on the line, home on the bonding wires, over "
                    f"the "
                    "jumper, and on the neutral to the transformer.",
                    f"That is many times what the 20 A breaker of the branch bears, so it opens "
                    f"within "
                    f"{seconds(hit.clearing)}. Meanwhile the frame stands at "
                    f"{volts(hit.touch['press'])}, and then at nothing.",
                ),
                SOUND,
                fault="press",
                points=(tie(BOND), place("press")),
            ),
        ),
        (
            "The jumper turns a fault into a short circuit, and a short circuit into a breaker "
            "that "
            "opens. Joined once, metal has a way home in a fault and carries nothing otherwise.",
        ),
    )


def never() -> Told:
    """What happens when they are not joined."""
    use, hit, sound = day(UNTIED), fault(UNTIED, "press"), fault(SOUND, "press")
    return Told(
        (
            Scene(
                "The jumper was never put in",
                (
                    "The same house. The green screw is still in its bag.",
                    f"Everything works. The lights burn, {amps(use.amps('service drop', 'N'))} "
                    f"goes "
                    "home on the neutral, no meter reads anything strange on metal.",
                ),
                UNTIED,
                points=(place("house panel"),),
                question=Question(
                    "Line L1 touches the frame of the press, as before. What opens?",
                    (
                        Option(
                            "The 20 A breaker, a little later",
                            f"With the jumper {amps(sound.current)} flowed. Without it the way "
                            f"home "
                            "leads through rods and soil.",
                        ),
                        Option(
                            "The 100 A main",
                            "The main needs far more current than the branch breaker does.",
                        ),
                        yes(
                            "Nothing",
                            "Yes. There is no metal way back to the neutral, and the earth lets "
                            "too "
                            "little through.",
                        ),
                    ),
                ),
            ),
            Scene(
                "The same fault, and nobody opens",
                (
                    f"{amps(hit.current)} flow through the rods and the soil: less than a kettle "
                    f"takes. "
                    "The breaker can't tell it from a load.",
                    f"The frame stands at {volts(hit.live_after)} to the earth, and so does all "
                    f"the "
                    f"metal that is bonded to it: the house panel at "
                    f"{volts(hit.touch['house panel'])}. "
                    "It stays so until somebody touches it, or switches off.",
                ),
                UNTIED,
                fault="press",
                points=(place("press"), place("house panel")),
            ),
        ),
        (
            "A missing tie shows nothing on a normal day and is deadly on the day of a fault. "
            "That is "
            "why it is looked for, and not waited for.",
        ),
    )


def twice() -> Told:
    """What happens when they are joined twice."""
    use, hit, sound = day(TWICE), fault(TWICE, "press"), fault(SOUND, "press")
    metal, neutral = use.amps("shed feeder", "G"), use.amps("shed feeder", "N")
    return Told(
        (
            Scene(
                "Somebody puts a screw into the shed panel too",
                (
                    "“More bonding can't hurt”, and the shed panel came with a green screw.",
                    "That joins neutral and metal at both ends of the feeder.",
                ),
                SOUND,
                points=(place("shed panel"),),
                question=Question(
                    "What carries the shed's neutral current home now?",
                    (
                        Option(
                            "The neutral, as before: current stays on its conductor",
                            "Current takes every way there is, each by its impedance. It knows "
                            "no names.",
                        ),
                        yes(
                            "Neutral and bonding wire side by side",
                            "Yes. They are joined at both ends, so they share.",
                        ),
                        Option(
                            "The rods and the earth",
                            "A little, but 25 ohm against a tenth of an ohm of copper: next to "
                            "nothing.",
                        ),
                    ),
                ),
            ),
            Scene(
                "Neutral current on metal, all day long",
                (
                    f"{amps(metal)} of the {amps(metal + neutral)} runs on the bonding wire of "
                    f"the "
                    f"feeder, {percent(metal / (metal + neutral))} of it; {amps(neutral)} is "
                    f"left on "
                    "the neutral.",
                    f"The shed's metal stands at {volts(use.metal['shed panel'])} all day: people "
                    "feel nothing, cattle may, and a loose joint in that wire is a spark.",
                    f"No breaker minds, and a fault still clears ({amps(hit.current)} instead of "
                    f"{amps(sound.current)}). A clamp round the whole feeder shows nothing "
                    f"either: "
                    "what is missing on the neutral is on the metal beside it.",
                ),
                TWICE,
                points=(run("shed feeder"), tie(BOND), place("shed panel")),
                question=Question(
                    "The two ties hide each other well. How would you find the second one?",
                    (
                        Option(
                            "Lift the bonding wire and see whether the current stops",
                            "Never. The two open ends may stand at full voltage, and the shed "
                            "would have "
                            "no fault path while it is off.",
                        ),
                        yes(
                            "Clamp lines and neutral of the feeder together, loads on",
                            "Yes: what does not come home on the neutral shows, and nothing is "
                            "lifted.",
                        ),
                        Option(
                            "Measure the voltage from neutral to metal in the shed: it will be "
                            "high",
                            "It will be nearly nothing, because they are joined right there.",
                        ),
                    ),
                ),
            ),
            Scene(
                "What the clamp reads",
                (
                    f"Round lines and neutral of the feeder: {amps(metal)}. On a sound feeder it "
                    f"reads "
                    "nothing, since what goes out comes back.",
                    "With the power off and proved dead, and the bonding wire proved from end to "
                    "end, "
                    "the screw in the shed comes out.",
                ),
                TWICE,
                points=(run("shed feeder"),),
            ),
        ),
        (
            "One tie too many makes every piece of metal between the two a neutral. Once at the "
            "service, and nowhere after it.",
        ),
    )


def rod() -> Told:
    """Why the rod does not clear a fault."""
    poor, better, sound = fault(NO_WIRE, "press"), fault(MORE_RODS, "press"), fault(SOUND, "press")
    return Told(
        (
            Scene(
                "The bonding wire of the feeder is broken",
                (
                    "A spade went through the feeder's bonding wire. The shed has a rod of its "
                    "own: "
                    "25 ohm to the earth.",
                    "Everything works.",
                ),
                NO_WIRE,
                points=(run("shed feeder"),),
                question=Question(
                    "Line L1 touches the frame of the press. 120 V, and a rod in the ground. "
                    "What now?",
                    (
                        Option(
                            "The rod takes the fault current, the breaker opens",
                            "120 V through a rod of 25 ohm, and back through the house's and the "
                            "utility's electrodes: work it out.",
                        ),
                        yes(
                            "A few amperes flow, and the shed's metal stays live",
                            "Yes. Ohm's law has no exception for green wire and rods.",
                        ),
                        Option(
                            "The rod holds the metal near zero volts",
                            "Most of the voltage drops where most of the resistance is: at that "
                            "rod.",
                        ),
                    ),
                ),
            ),
            Scene(
                "The rod lets little through",
                (
                    f"{amps(poor.current)} flow, and nothing opens: the breaker of 20 A would "
                    f"carry that "
                    "for ever.",
                    f"The metal of the shed stands at {volts(poor.live_after)} to the earth "
                    f"around it.",
                ),
                NO_WIRE,
                fault="press",
                points=(place("press"), place("shed panel")),
                question=Question(
                    f"Three more rods are driven at the shed: {THREE_RODS_OHM:g} ohm side by "
                    f"side. Better?",
                    (
                        Option(
                            "Yes, now the breaker opens",
                            f"From {amps(poor.current)} to {amps(better.current)}: look at the "
                            f"breaker.",
                        ),
                        yes(
                            "More current, less voltage, and still nothing opens",
                            "Yes: a better electrode, and no fault path.",
                        ),
                        Option(
                            "No change at all",
                            "The current does grow; it is far from what opens a breaker.",
                        ),
                    ),
                ),
            ),
            Scene(
                "Better rods, same danger",
                (
                    f"{amps(better.current)} flow and {volts(better.live_after)} stay on the "
                    f"metal; "
                    f"nothing opens. The house's metal now stands at "
                    f"{volts(better.touch['house panel'])} as well: the fault lifts the neutral "
                    f"of the "
                    "whole site, and with it everything that is bonded.",
                    f"With the wire whole it was {amps(sound.current)} and over within "
                    f"{seconds(sound.clearing)}.",
                ),
                MORE_RODS,
                fault="press",
                points=(place("press"), place("house panel")),
            ),
        ),
        (
            "The earth is not a fault path. Rods are for lightning and for holding the system "
            "near the "
            "earth's potential; no number of them replaces the bonding wire.",
        ),
    )


def open_neutral() -> Told:
    """An open neutral."""
    sound, gone = day(SOUND), day(NO_NEUTRAL)
    low, high = (gone.volts("house panel", line, "N") for line in ("L1", "L2"))
    heavy, light = sorted((low, high))
    return Told(
        (
            Scene(
                "Two legs share one neutral",
                (
                    f"L1 to neutral {volts(sound.volts('house panel', 'L1', 'N'))}, L2 to neutral "
                    f"{volts(sound.volts('house panel', 'L2', 'N'))}. The kitchen and the heater "
                    f"hang on "
                    "L1, a few lights on L2.",
                    f"The neutral of the service drop carries the difference: "
                    f"{amps(sound.amps('service drop', 'N'))}.",
                ),
                SOUND,
                points=(run("service drop"),),
                question=Question(
                    "The neutral of the service drop corrodes through. What do the two legs read?",
                    (
                        Option(
                            "Both fall: part of the way home is missing",
                            "The two lines still feed the loads, one after the other. What they "
                            "share "
                            "is 240 V.",
                        ),
                        yes(
                            "The loaded leg falls, the other rises; together still 240 V",
                            "Yes: the loads are in series between the lines and divide the "
                            "voltage.",
                        ),
                        Option(
                            "Nothing changes: the rods are the neutral now",
                            "A little goes through the rods, and they are far too poor to hold "
                            "the middle.",
                        ),
                    ),
                ),
            ),
            Scene(
                "The see-saw",
                (
                    f"L1 to neutral {volts(low)}, L2 to neutral {volts(high)}: together "
                    f"{volts(low + high)}. The lights on the light leg burn out, the heater on "
                    f"the heavy "
                    "one barely warms.",
                    f"{amps(gone.amps('house rod', 'G'))} goes home through the house's rod, and "
                    f"all "
                    f"bonded metal stands at {volts(gone.metal['house panel'])} to the earth, "
                    f"with no "
                    "fault anywhere. No breaker opens.",
                ),
                NO_NEUTRAL,
                points=(run("service drop"), place("house panel")),
                question=Question(
                    f"You find {volts(heavy)} and {volts(light)} at the panel. What is the first "
                    f"thing "
                    "to do?",
                    (
                        Option(
                            "Tighten the neutral in the meter base",
                            "Not yours to open: the meter and what is ahead of it are the "
                            "utility's, and "
                            "all of it is live.",
                        ),
                        yes(
                            "Switch the main off, keep people away from the metal, call the "
                            "utility",
                            "Yes. With the main off the loads no longer push the metal up.",
                        ),
                        Option(
                            "Drive another rod",
                            "It changes the voltages a little and mends nothing.",
                        ),
                    ),
                ),
            ),
        ),
        (
            "One leg up and the other down, their sum unchanged, is a neutral. One leg down and "
            "the "
            "other unmoved is a line. It is a danger of fire and of shock at once.",
        ),
    )
