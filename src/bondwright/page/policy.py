"""What is kept of people, why and how long: the text that everybody reads and agrees to."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import yaml

from bondwright.page.wire_people import PolicyAnswer, PolicyRow

_MOST: Final = 4000
"""Characters of each thing that whoever serves the jobs says."""
_KEYS: Final = ("answers", "backups", "more")

KEPT: Final = (
    ("Your name", "It is how you log in, and it stands beside what you save.",
     "Until you leave or are taken out."),
    ("A hash of your password (scrypt, with a salt)", "To let you in. Nobody can read your "
     "password from it.", "Until you set another, leave or are taken out."),
    ("Your role, and when, by whom and in what your log-in was last changed",
     "So that you may do what you should, and learn of a change that wasn't yours.",
     "Until you leave or are taken out."),
    ("The secret of your second factor, the last code's time, and hashes of the spare codes, "
     "if you set one up", "To check your codes; each is taken once.",
     "Until you turn it off, leave or are taken out."),
    ("An address for mail, if you give one",
     "To tell you that your log-in was changed, or used from a new place.",
     "Until you take it out, leave or are taken out."),
    ("When you agreed to this text, and its SHA-256", "To ask you again when it changes.",
     "Until you leave or are taken out."),
    ("With each save: your name, the time, your reason and what was changed",
     "It is the history of a building's safety: who stated what, when, and on what ground. "
     "Everybody who is let in sees it.",
     "As long as the job. When you leave you choose whether your name stays beside it; times, "
     "reasons and contents stay."),
    ("In memory: that you are logged in and since when, the addresses you came from last, how "
     "much you asked in the last minutes, your unsaved changes",
     "To know you from one question to the next, to count strangers' wrong tries apart from yours, "
     "and so that nobody takes all turns.",
     "Log-ins 24 hours at most; all of it until you leave, are taken out or the server stops."),
    ("In memory: wrong passwords and codes, with the name and address that they came for and from",
     "So that nobody guesses on; and to tell you how many wrong codes came with your password.",
     "10 minutes; the number of wrong codes until you log in."),
    ("In a log: errors nobody foresaw, with what was asked for, never with what was sent; and that "
     "a mail was not sent", "To mend them.",
     "As long as whoever serves the jobs keeps the log; your name isn't in it."),
    ("In your browser: a cookie that knows you, the theme, lessons done, readings not yet sent",
     "To work.", "Until you log out."),
)  # fmt: skip
"""What, why, how long. A change here asks everybody anew."""

ABOUT: Final = (
    "These jobs describe buildings. Of people only what stands below is kept. It serves to let in "
    "whoever may come in, and to say who changed what, when and why. It goes nowhere else, "
    "but where whoever serves the jobs has set it up: mails to an address that you give, and what "
    "you send in to a scanner that looks through it. Nothing counts or follows you.",
    "On the page Users, under You, you can take along all that is kept of you, and leave. "
    "Bundles and backups that were made before still have your name where it stood.",
)


class PolicyError(ValueError):
    """What whoever serves the jobs says of it can't be read; the text says why."""


@dataclass(frozen=True)
class Policy:
    """What whoever serves the jobs says of it.

    Attributes:
        answers: who answers for what is kept, and how to reach them.
        backups: how long backups are kept, and where.
        more: anything more.
    """

    answers: str = "Whoever runs this machine: only it reaches these pages."
    backups: str = "Backups are made by nothing here; ask whoever runs this machine."
    more: str = ""

    def text(self) -> PolicyAnswer:
        """Return the whole text."""
        return PolicyAnswer(
            about=list(ABOUT),
            rows=[PolicyRow(what=what, why=why, long=long) for what, why, long in KEPT],
            answers=self.answers,
            backups=self.backups,
            more=self.more,
            mark=self.mark,
        )

    @cached_property
    def mark(self) -> str:
        """SHA-256 of the whole text."""
        said = json.dumps([ABOUT, KEPT, self.answers, self.backups, self.more], ensure_ascii=False)
        return hashlib.sha256(said.encode()).hexdigest()


def read_policy(path: Path) -> Policy:
    """Read what whoever serves the jobs says, from a YAML file with ``answers`` and ``backups``.

    Raises:
        PolicyError: it can't be read, or something is missing.
    """
    try:
        found: Any = yaml.safe_load(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, yaml.YAMLError, RecursionError) as error:
        told = " ".join(str(error).split())
        raise PolicyError(f"{path} can't be read: {told[:200]}") from error
    how = (
        f"{path} has to say 'answers: who answers for what is kept of people, and how to reach "
        "them', 'backups: how long backups are kept', and 'more: anything else' if there is"
    )
    if not isinstance(found, dict) or not {"answers", "backups"} <= found.keys() <= {*_KEYS}:
        raise PolicyError(how)
    said = {key: " ".join(str(value).split()) for key, value in found.items()}
    for key, value in found.items():
        if not isinstance(value, str) or not said[key] or len(value) > _MOST:
            raise PolicyError(f"{how}; '{key}' is to be a text of 1 to {_MOST} characters")
    return Policy(**said)
