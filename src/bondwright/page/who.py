"""Who asks: everybody may do everything on a machine of their own, else what their role allows."""

from __future__ import annotations

import getpass
from collections.abc import MutableMapping
from functools import cache
from typing import Any, Final

from bondwright.store.users import Role, User

KEY: Final = "bondwright.user"
"""Under this the doors leave who asks, in the scope of a request."""


@cache
def _account() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "somebody on this machine"


def person_of(scope: MutableMapping[str, Any]) -> User:
    """Return who asks; without users it is whose account the server runs under."""
    found = scope.get(KEY)
    return found if isinstance(found, User) else User(_account(), Role.KEEP)
