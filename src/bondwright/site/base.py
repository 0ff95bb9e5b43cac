"""What every part of the description's model stands on."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints

Id = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$"),
]
Text = Annotated[str, StringConstraints(max_length=2000)]


class Described(BaseModel):
    """A part of the description: no key that isn't known, nothing changed afterwards."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, validate_by_name=True, validate_by_alias=True
    )
