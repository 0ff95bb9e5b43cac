"""The cautions that go with everything this tool says. All papers and the command line use them."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Electricity kills. This is a calculation about a description. It knows nothing that the "
    "description leaves out, and it doesn't replace a survey, a test or a qualified person.",
    "The code adopted where the building stands, and the authority having jurisdiction, decide. "
    "Have a licensed person review everything here before anything is built from it or changed.",
    "All work is done with the power off, locked out, and proved dead with a tester that was "
    "proved just before and just after. A voltage that is computed small is no leave to touch "
    "anything.",
    "Danger: don't open a grounding electrode conductor, a neutral, a bonding jumper, or a water "
    "or gas pipe that may carry current. The two open ends can stand at full voltage. Measure "
    "with a clamp; lift nothing.",
    "Take no tie out before the path that remains has been proved from end to end with the power "
    "off. Where a tie is the only fault path, the new path comes first.",
    "The earth is not a fault path. A ground rod is no cure for a missing equipment grounding "
    "conductor or bonding jumper: it lets a few amperes through and the metal stays live.",
    "The utility's parts, the meter and everything sealed are the utility's work. Call them; "
    "don't open anything of theirs.",
    "Times are the limits that a device standard allows. The maker's own curve goes before them. "
    "A worn, painted or loose joint can be worse than anything computed here: test it.",
)
"""In the order they are to be read."""

SHORT: Final = (
    "A calculation about a description, not a test. Work with the power off and proved dead. The "
    "local code, the authority having jurisdiction and a licensed person decide."
)
"""The caution in two lines, for a page foot or a terminal."""

NOT_FOR_CONSTRUCTION: Final = "Not for construction until reviewed by a licensed person"
"""What every paper is until somebody signs it."""
