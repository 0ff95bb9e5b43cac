"""What is told when somebody's credentials changed, wherever that was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class What(StrEnum):
    """What of somebody's credentials changed, as it goes on after their name."""

    ADDED = "let in"
    ROLE = "role"
    PASSWORD = "password"
    FACTOR = "second factor"
    NO_FACTOR = "second factor taken away"
    SPARE = "spare codes"
    MAIL = "address for notices"
    PLACE = "a new place logged in"
    REMOVED = "let in no more"


@dataclass(frozen=True, slots=True)
class Change:
    """A change of somebody's credentials that is on the disk.

    Attributes:
        name: whose they are.
        what: changed.
        by: who did it.
        at: when.
        mail: where they are told of it by mail, as of before the change; "" for nowhere.
    """

    name: str
    what: What
    by: str
    at: datetime
    mail: str = ""


def tell_nobody(change: Change) -> None:
    """Do nothing with it."""
