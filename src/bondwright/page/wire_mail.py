"""What goes over the wire about notices by mail: versioned JSON."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bondwright.page.wire_people import SureRequest


class MailAnswer(BaseModel):
    """Where somebody is told by mail; to whoever keeps the users also what couldn't be sent."""

    model_config = ConfigDict(extra="forbid")

    format: Literal["bondwright/page-mail"] = "bondwright/page-mail"
    version: Literal[1] = 1
    who: str
    mail: str
    sends: bool
    troubles: list[str]


class MailRequest(SureRequest):
    """Another address, or none."""

    mail: str = Field(max_length=300)
