"""Small site files to start from."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from types import MappingProxyType
from typing import Final

STARTERS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "house": "A house with a feeder to a garage, 120/240 V",
        "service": "One service and nothing behind it, 120/240 V",
        "shop": "A shop on three phases with a transformer, 480Y/277 V and 208Y/120 V",
        "iec-house": "A house on a TN-C-S supply, 230/400 V, by IEC 60364",
    }
)
"""Each starter's name with what it describes."""


def starter(name: str) -> str:
    """Return the text of a starter.

    Raises:
        KeyError: there is none of that name.
    """
    if name not in STARTERS:
        raise KeyError(f"there is no starter {name!r}; there are {', '.join(STARTERS)}")
    found = files("bondwright.site.starters").joinpath(f"{name}.yaml")
    return found.read_text(encoding="utf-8")
