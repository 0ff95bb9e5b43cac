"""YAML's scalars as the 1.2 core schema reads them, and its syntax errors in plain words."""

from __future__ import annotations

import re
from typing import Any, Final

import yaml

from bondwright.site.site_error import SiteProblem, shorten

_WORDS: Final[dict[str, object]] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_INT: Final = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,30})")
_FLOAT: Final = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]{1,4})?")
_LEADING_ZERO: Final = re.compile(r"[-+]?0[0-9]+")
NOT_FINITE: Final = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")


def plain_scalar(text: str) -> object:
    """Return what an unquoted YAML value is: None, a bool, an int, a float or the text itself."""
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in "+-.0123456789" or len(text) > 40:
        return text
    if _INT.fullmatch(text):
        return int(text)
    if _FLOAT.fullmatch(text) and not _LEADING_ZERO.fullmatch(text):
        return float(text)
    return text


_LINE_UP: Final = (
    "lines of one group start in the same column, two spaces further in than its name; "
    "or a quote or bracket above is not closed"
)
# In these the place where the trouble began tells more than the place where it was noticed.
_BEGAN: Final = ("unexpected end of stream", "could not find expected ':'", "expected ',' or")
_SYNTAX: Final = (
    (
        "found unexpected end of stream",
        "opens a quote that is never closed",
        "close it, or remove it",
    ),
    (
        "could not find expected ':'",
        "is no 'key: value' line",
        "put a ':' and a space after the name",
    ),
    (
        "mapping values are not allowed",
        "is a second ':' in one line",
        "put text that holds ': ' in quotes, or start a new line",
    ),
    (
        "block sequence entries are not allowed",
        "is a '-' where no list can start",
        "start the list on a line of its own",
    ),
    ("cannot start any token", "can't start a value", "put the value in quotes"),
    (
        "expected ',' or",
        "opens a bracket that is not closed, or a comma in it is missing",
        "close each '{' with '}' and each '[' with ']'",
    ),
    ("did not find expected '-'", "does not line up with the list above it", _LINE_UP),
    ("expected <block end>", "does not line up with the lines above it", _LINE_UP),
    ("did not find expected key", "does not line up with the lines above it", _LINE_UP),
    ("did not find expected <document start>", "does not belong to what stands above it", _LINE_UP),
    (
        "expected node content",
        "stands where a value is missing",
        "write the value, or put it in quotes",
    ),
    (
        "unknown escape",
        "begins with a backslash escape that is not known",
        "use single quotes, or write '\\\\' for a backslash",
    ),
    (
        "exceeded maximum nesting depth",
        "is nested more than 32 deep",
        "a site file needs no more than five; look for brackets that never close",
    ),
    ("undefined alias", "is an alias ('*')", "write the value out"),
    ("did not find expected alphabetic", "is not a value", "put the value in quotes"),
    ("undefined tag handle", "has a tag ('!')", "remove the tag; text may stand in quotes instead"),
    ("directive", "starts with '%', which means something else", "put the value in quotes"),
    (
        "found unexpected ':'",
        "has no value behind its ':'",
        "write the value, or put the text in quotes",
    ),
)


def syntax_problem(error: yaml.YAMLError, text: str, name: str) -> SiteProblem:
    """Return a syntax error of YAML in plain words, at the place a person would look."""
    said = str(getattr(error, "problem", "") or error)
    mark = getattr(error, "problem_mark", None)
    opened = getattr(error, "context_mark", None)
    if opened is not None and any(sign in said for sign in _BEGAN):
        mark = opened
    lines = re.split(r"\r\n|\r|\n", text)
    line, column = _inside(mark, lines)
    if not lines[line - 1][column - 1 :].strip() and opened is not None:
        # Where the file or a line ends is no place to look at; where it began is.
        line, column = _inside(opened, lines)
    shown = shorten(lines[line - 1][column - 1 :])
    for sign, problem, hint in _SYNTAX:
        if sign in said:
            return SiteProblem(name, line, column, shown, problem, hint)
    hint = "look at the indentation, the quotes and the brackets of this line and the one above"
    return SiteProblem(name, line, column, shown, "can't be read", hint)


def _inside(mark: Any, lines: list[str]) -> tuple[int, int]:
    """Return the line and column of a mark, which may stand one line behind the last."""
    if mark is None:
        return 1, 1
    if mark.line >= len(lines):
        return len(lines), len(lines[-1]) + 1
    return mark.line + 1, min(mark.column, len(lines[mark.line])) + 1
