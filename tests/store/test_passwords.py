"""Passwords that are guessed first are refused; any other of some length is taken."""

from __future__ import annotations

import pytest

from bondwright.store.errors import StoreError
from bondwright.store.passwords import LEAST, MOST, check_password, common


@pytest.mark.parametrize(
    "password",
    [
        "four words are enough", "x" * 3 + "y9 q" * 3 + "zu", "        a word   or two",
        "p\u00e4sse \u00fcber alles \U0001f50c", "a" * 40 + "word by word, all over the place, one",
        "correct horse battery",
        "\u03bb\u03ad\u03be\u03b5\u03b9\u03c2 \u03c3\u03c4\u03b7\u03bd \u03b1\u03b2",
        "Zebra7!Zebra8!Q", "ab cd ef gh ij " * 8 + "klmnopqr",
    ],
)  # fmt: skip
def test_any_characters_will_do(password: str) -> None:
    check_password(password, "anna")


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("short", "12 to 128"),
        ("a word      x", "12 to 128"),
        ("x1 y" * 33, "12 to 128"),
        ("123456789012", "guessed first"),
        ("PASSWORD1234", "guessed first"),
        ("qwerty123456", "guessed first"),
        ("aaaaaaaaaaaaaa", "different characters"),
        ("go home, " * 4, "again and again"),
        ("winterwinter", "again and again|guessed first"),
        ("lmnopqrstuvwxyz", "up or down a row"),
        ("annalena-annalena", "little more than|guessed first"),
        ("bondwright123", "little more than 'bondwright'"),
        ("words with \x00 in", "no character"),
        ("words with \ud800 in", "no character"),
    ],
)
def test_what_is_guessed_first_is_refused(password: str, why: str) -> None:
    with pytest.raises(StoreError, match=why):
        check_password(password, "annalena-anna")


def test_all_of_the_list_are_refused() -> None:
    assert len(common()) > 300
    for password in common():
        assert len(password) >= LEAST
        with pytest.raises(StoreError):
            check_password(password.upper()[:MOST], "anna")
