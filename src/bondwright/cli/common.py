"""Printing, and turning errors into plain words and exit codes."""

from __future__ import annotations

import functools
import json
import math
import os
import sys
from collections.abc import Callable
from contextvars import ContextVar
from pathlib import Path
from typing import Any, Final, TypeVar, cast

import click

HOLDS: Final = 0
FALLS_SHORT: Final = 1
BAD_INPUT: Final = 2

_F = TypeVar("_F", bound=Callable[..., Any])

_VOICE: ContextVar[Callable[[str], str]] = ContextVar("_VOICE", default=str)


def speak(say: Callable[[str], str]) -> None:
    """Have everything that is printed from here on told in the words of a site's readers."""
    _VOICE.set(say)


def said(text: str) -> str:
    """Return a text in the words that :func:`speak` chose; as it is where it chose none."""
    return _VOICE.get()(text)


def print_json(data: object) -> None:
    """Print a structure as JSON; NaN and infinity are refused, never written."""
    voice = _VOICE.get()
    if voice is not str:
        from bondwright.explain.dialect import retold

        data = retold(data, voice)
    click.echo(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def stop(code: int) -> None:
    """Leave with an exit code."""
    sys.exit(code)


def check_writable(path: Path) -> None:
    """Refuse a file that can't be written where it is asked for, before any work is done.

    Raises:
        click.UsageError: its folder isn't there, or the path is a folder itself.
    """
    if path.is_dir():
        raise click.UsageError(f"{path} is a folder; name a file in it")
    if not path.parent.is_dir():
        raise click.UsageError(f"there is no folder {path.parent}; make it first")


def json_option(function: _F) -> _F:
    """Add ``--json``."""
    option: Callable[[_F], _F] = click.option(
        "--json", "as_json", is_flag=True, help="Print a documented structure."
    )
    return option(function)


def plain_errors(function: _F) -> _F:
    """Turn the errors of bad input into one message on stderr and exit code 2.

    With ``--json`` the message is a structure on stdout instead.
    """

    @functools.wraps(function)
    def run(*args: Any, **kwargs: Any) -> Any:
        from bondwright.catalog.sources import CatalogError
        from bondwright.network.solve import SolveError
        from bondwright.rules.inputs import CannotTellError
        from bondwright.site.reader import SiteError
        from bondwright.units import UnitError

        speak(str)
        try:
            return function(*args, **kwargs)
        except SiteError as error:
            _report(
                [_problem_dict(problem) for problem in error.problems],
                [str(problem) for problem in error.problems],
                bool(kwargs.get("as_json")),
            )
            stop(BAD_INPUT)
        except (UnitError, CatalogError) as error:
            _report(
                [{"text": error.text, "problem": error.problem, "hint": error.hint}],
                [str(error)],
                bool(kwargs.get("as_json")),
            )
            stop(BAD_INPUT)
        except CannotTellError as error:
            _report(
                [{"text": "", "problem": error.problem, "hint": error.missing}],
                [str(error)],
                bool(kwargs.get("as_json")),
            )
            stop(FALLS_SHORT)
        except BrokenPipeError:
            # Whoever read the output has had enough; that is no error of ours.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            stop(HOLDS)
        except (OSError, SolveError, ValueError) as error:
            words = _os_words(error) if isinstance(error, OSError) else str(error)
            _report(
                [{"text": "", "problem": words, "hint": None}],
                [words],
                bool(kwargs.get("as_json")),
            )
            stop(BAD_INPUT)

    return cast(_F, run)


def _os_words(error: OSError) -> str:
    name = f"{error.filename}: " if error.filename else ""
    return f"{name}{(error.strerror or str(error)).lower()}"


def _problem_dict(problem: Any) -> dict[str, object]:
    return {
        "file": problem.file,
        "line": problem.line,
        "column": problem.column,
        "text": problem.text,
        "problem": problem.problem,
        "hint": problem.hint,
    }


def _report(structures: list[dict[str, object]], words: list[str], as_json: bool) -> None:
    if as_json:
        print_json({"format": "bondwright/problems", "version": 1, "problems": structures})
        return
    for line in words:
        click.echo(f"error: {line}", err=True)
    if len(words) > 1:
        click.echo(f"{len(words)} errors; nothing was written", err=True)


def echo_caution() -> None:
    """Print the caution that ends every answer."""
    from bondwright.explain.cautions import SHORT

    click.echo()
    echo_text(SHORT, "")


def finite(value: float | None) -> float | None:
    """Return a number as JSON can hold it: what has no end is null."""
    return None if value is None or not math.isfinite(value) else value


def wide() -> int:
    """Return how long a line of text may be: 96 letters, or as many as the terminal has."""
    import shutil

    return min(96, max(20, shutil.get_terminal_size((100, 40)).columns))


def echo_text(text: str, indent: str = "  ") -> None:
    """Print a paragraph, wrapped."""
    import textwrap

    click.echo(
        textwrap.fill(said(text), width=wide(), initial_indent=indent, subsequent_indent=indent)
    )


def echo_because(because: tuple[str, ...]) -> None:
    """Print reasons as an indented list."""
    import textwrap

    for reason in because:
        click.echo(
            textwrap.fill(
                said(reason), width=wide(), initial_indent="  - ", subsequent_indent="    "
            )
        )
