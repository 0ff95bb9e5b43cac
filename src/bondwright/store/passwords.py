"""Which passwords are taken: long ones that nobody guesses first."""

from __future__ import annotations

import itertools
import re
from functools import cache
from importlib.resources import files
from typing import Final

from bondwright.store.errors import StoreError

LEAST: Final = 12
"""Characters. NIST SP 800-63B-4, section 3.1.1, asks for 15 where a password is all there is, and
8 beside a second factor (from memory); 12 is ASVS 4.0.3, 2.1.1."""
MOST: Final = 128
"""Characters: ASVS 4.0.3, 2.1.2."""
_FEW: Final = 5


@cache
def common() -> frozenset[str]:
    """Return passwords that many people chose, in small letters."""
    text = files("bondwright.store").joinpath("data/common_passwords.txt").read_text("utf-8")
    return frozenset(line for line in text.splitlines() if line and not line.startswith("#"))


def check_password(password: str, name: str) -> None:
    """Refuse a password that is easily guessed; any characters will do.

    Args:
        password: as typed.
        name: whose it is to be.

    Raises:
        StoreError: it is too short, too long, or guessed first.
    """
    # Spaces in a row count as one of them: they add little.
    if len(re.sub(" +", " ", password)) < LEAST or len(password) > MOST:
        raise StoreError(f"a password has {LEAST} to {MOST} characters; a few words will do")
    if "\x00" in password or any("\ud800" <= c <= "\udfff" for c in password):
        raise StoreError("the password holds something that is no character")
    if why := _guessed(password.casefold(), name.casefold()):
        raise StoreError(f"that password is guessed first: {why}. A few words will do")


def _guessed(password: str, name: str) -> str:
    if password in common():
        return "many people have it, and it stands in lists of such"
    if len(set(password)) < _FEW:
        return f"it has fewer than {_FEW} different characters"
    if any(_repeats(password, k) for k in range(1, len(password) // 2 + 1)):
        return "it says the same again and again"
    steps = [ord(b) - ord(a) for a, b in itertools.pairwise(password)]
    if sum(step in (-1, 0, 1) for step in steps) > 0.8 * len(steps):
        return "it goes up or down a row"
    for word in (name, "bondwright"):
        if len(word) > 2 and word in password and len(password) - len(word) < _FEW:
            return f"it is little more than '{word}'"
    return ""


def _repeats(password: str, length: int) -> bool:
    return password == (password[:length] * (len(password) // length + 1))[: len(password)]
