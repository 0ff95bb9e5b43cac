"""Options of the studies in pieces: where they are done, what is kept, and being stopped."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bondwright.cli.common import check_writable, stop

if TYPE_CHECKING:
    from bondwright.studies.many.run import How

STOPPED: Final = 130
"""Exit code of a run that Ctrl-C ended, as shells have it."""

_F = TypeVar("_F", bound=Callable[..., Any])

_OPTIONS: Final = (
    click.option(
        "--workers",
        type=click.IntRange(0, 1024),
        default=0,
        metavar="N",
        help="Processes of this machine that share the work (needs Dask); 0 is this one alone.",
    ),
    click.option(
        "--scheduler",
        default="",
        metavar="ADDRESS",
        help="Share the work on a Dask cluster, such as tcp://10.0.0.5:8786.",
    ),
    click.option(
        "--keep",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Keep what is done in this file, and go on from it if it is there.",
    ),
)


def where_options(function: _F) -> _F:
    """Add ``--workers``, ``--scheduler`` and ``--keep``."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def how_asked(
    site: Path, study: str, workers: int, scheduler: str, keep: Path | None, *, quiet: bool
) -> How:
    """Return how a study is to be done.

    Raises:
        click.UsageError: options that exclude each other, or a file that can't be written.
    """
    from bondwright.studies.many.run import How

    if workers and scheduler:
        raise click.UsageError("--workers and --scheduler exclude each other")
    if keep is not None:
        check_writable(keep)
    return How(workers, scheduler, keep, _progress(quiet), _scrap(site, study))


def _scrap(site: Path, study: str) -> Path:
    """Return a file that isn't there yet, for what a stopped run has done."""
    names = (f"{site.stem}-{study}{n}.kept" for n in ("", *(f"-{k}" for k in range(2, 1000))))
    return next((Path(name) for name in names if not Path(name).exists()), Path("stopped.kept"))


def _progress(quiet: bool) -> Callable[[int, int], None] | None:
    if quiet or not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        click.echo(f"\r{done} of {total} pieces", nl=done == total, err=True)

    return show


@contextmanager
def telling_of_stops() -> Iterator[None]:
    """Say what is left of a run that was stopped, and leave."""
    from bondwright.studies.many.run import StoppedError, WorkerError

    try:
        yield
    except StoppedError as error:
        click.echo(f"\nstopped with {error.done} of {error.count} pieces done", err=True)
        if error.kept is not None:
            click.echo(
                f"they are in {error.kept}; to go on, give the same command with "
                f"--keep {error.kept}",
                err=True,
            )
        stop(STOPPED)
    except WorkerError as error:
        raise click.UsageError(str(error)) from error
