"""What goes over the wire at the door and about oneself: versioned JSON."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Stage = Literal["out", "code", "agree", "factor", "in"]
"""How far somebody is in: not; the code of their second factor is asked for; they haven't agreed
to what is kept; they keep the users and have no second factor (and may save until then); wholly."""


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class InAnswer(_Wire):
    """Who is in, and how far."""

    format: Literal["bondwright/page-in"] = "bondwright/page-in"
    version: Literal[1] = 1
    who: str = ""
    stage: Stage = "out"


class PolicyRow(_Wire):
    """Something that is kept of people: what, why and how long."""

    what: str
    why: str
    long: str


class PolicyAnswer(_Wire):
    """All that is kept of people, who answers for it, and the mark of this text."""

    format: Literal["bondwright/page-kept-of-people"] = "bondwright/page-kept-of-people"
    version: Literal[1] = 1
    about: list[str]
    rows: list[PolicyRow]
    answers: str
    backups: str
    more: str
    mark: str


class AgreeRequest(_Wire):
    """Somebody agrees to the text with that mark."""

    to: str = Field(max_length=64)


class YouAnswer(_Wire):
    """Oneself."""

    format: Literal["bondwright/page-you"] = "bondwright/page-you"
    version: Literal[1] = 1
    who: str
    role: Literal["look", "edit", "keep"]
    factor: bool
    spare_left: int
    agreed: str


class SureRequest(_Wire):
    """It is oneself: the password, and a code where one has a second factor."""

    password: str = Field(max_length=256)
    code: str = Field(default="", max_length=40)


class LeaveRequest(SureRequest):
    """Somebody leaves, with their name beside what they saved or without."""

    forget_name: bool = False


class CodeRequest(_Wire):
    """The code that an app shows."""

    code: str = Field(max_length=40)


class FactorAnswer(_Wire):
    """The secret for an app, told this once; ``picture`` is where its QR code is.

    ``address`` opens an app on the same machine.
    """

    format: Literal["bondwright/page-factor"] = "bondwright/page-factor"
    version: Literal[1] = 1
    secret: str
    address: str
    picture: str


class SpareAnswer(_Wire):
    """Spare codes, which are told this once."""

    format: Literal["bondwright/page-spare"] = "bondwright/page-spare"
    version: Literal[1] = 1
    codes: list[str]
