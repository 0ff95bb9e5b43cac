"""Values as YAML text."""

from __future__ import annotations

import re
from typing import Final

from bondwright.site.yaml_syntax import plain_scalar

WIDTH: Final = 100
"""Entries longer than this are written on several lines."""

_BARE: Final = re.compile(
    r"[^\W_](?:[^\x00-\x1f\x7f-\x9f:#,\[\]{}\"\\\u2028\u2029\ufeff]|:(?=[^\s,\[\]{}]))*"
)
_ESCAPED: Final = re.compile('[\x00-\x1f\x7f-\x9f"\\\\\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]')
_SHORT: Final = {"\n": "\\n", "\t": "\\t", '"': '\\"', "\\": "\\\\"}


def scalar(value: object) -> str:
    """Write one value as YAML, quoted where it must be.

    Args:
        value: text, a number, a bool or None.

    Returns:
        Text on one line that means the same in brackets, out of them, and as a key.
    """
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    if (
        _BARE.fullmatch(text)
        and text == text.strip()
        and text.isprintable()
        and plain_scalar(text) == text
        and len(text) < 500
    ):
        return text
    return '"' + _ESCAPED.sub(_escape, text) + '"'


def _escape(match: re.Match[str]) -> str:
    char = match[0]
    return _SHORT.get(char) or (f"\\x{ord(char):02x}" if ord(char) < 256 else f"\\u{ord(char):04x}")


def flow(value: object) -> str:
    """Write a value, its groups and lists in brackets, on one line."""
    if isinstance(value, dict):
        inside = ", ".join(f"{scalar(key)}: {flow(item)}" for key, item in value.items())
        return f"{{{inside}}}"
    if isinstance(value, list):
        return f"[{', '.join(flow(item) for item in value)}]"
    return scalar(value)


def block(key: str, value: object, indent: int) -> str:
    """Write one entry of a group on as many lines as it needs, each ended."""
    pad = " " * indent
    line = f"{pad}{scalar(key)}: {flow(value)}\n"
    top = indent == 0 and isinstance(value, dict) and bool(value)
    if (len(line) <= WIDTH and not top) or not isinstance(value, dict | list) or not value:
        return line
    head = f"{pad}{scalar(key)}:\n"
    if isinstance(value, dict):
        return head + "".join(block(str(name), item, indent + 2) for name, item in value.items())
    return head + "".join(f"{pad}  - {flow(item)}\n" for item in value)
