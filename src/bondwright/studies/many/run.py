"""Doing a study in pieces: here, by processes of this machine, or on a Dask cluster.

Dask is an extra (``pip install 'bondwright[dask]'``) and loaded only when it is asked for.
Where a worker dies, the scheduler gives its pieces to another; results that had arrived are not
lost with it, because they are kept here.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from bondwright import __version__
from bondwright.studies.many.kept import Kept
from bondwright.studies.many.work import Work, piece

if TYPE_CHECKING:
    from distributed import Client

Progress = Callable[[int, int], None]

AHEAD: Final = 3
"""Pieces handed out for each thread of a worker: one it does, the others on their way."""

CONNECT_S: Final = 15
"""How long a scheduler may take to answer, s."""


@dataclass(frozen=True, slots=True)
class How:
    """Where the pieces of a study are done, and where they are kept.

    Attributes:
        workers: processes of this machine; 0 does everything in this one.
        scheduler: address of a Dask scheduler to use instead, "" for none.
        keep: file to keep finished pieces in and to go on from; None for none.
        progress: told (pieces done, pieces in all).
        scrap: where pieces go if there is no ``keep`` and the run is stopped; None for nowhere.
    """

    workers: int = 0
    scheduler: str = ""
    keep: Path | None = None
    progress: Progress | None = None
    scrap: Path | None = None


HERE: Final = How()


class StoppedError(Exception):
    """A run that was interrupted before it was done.

    Attributes:
        done: pieces done.
        count: pieces in all.
        kept: file that they are in, or None.
    """

    def __init__(self, done: int, count: int, kept: Path | None) -> None:
        self.done, self.count, self.kept = done, count, kept
        super().__init__(f"stopped with {done} of {count} pieces done")


class WorkerError(RuntimeError):
    """Something is wrong with the workers, not with the question."""


def run(work: Work, how: How = HERE) -> dict[int, bytes]:
    """Do every piece of a study that isn't kept already.

    Args:
        work: the study.
        how: where, and what is done about being stopped.

    Returns:
        The packed result of every piece by its number, in order.

    Raises:
        StoppedError: Ctrl-C was pressed; what is done is in ``how.keep`` or ``how.scrap``.
        WorkerError: there is no Dask, its scheduler does not answer, a worker runs another
            version, or a piece has killed several workers.
        bondwright.studies.many.kept.KeptError: the file to keep pieces in can't be used.
    """
    done: dict[int, bytes] = {}
    kept = Kept(how.keep, work) if how.keep is not None else None
    try:
        if kept is not None:
            done.update((k, data) for k, data in kept.pieces() if 0 <= k < work.count)
        todo = [k for k in range(work.count) if k not in done]
        if how.progress is not None:
            how.progress(len(done), work.count)
        for number, data in _each(work, todo, how):
            if kept is not None:
                kept.put(number, data)
            done[number] = data
            if how.progress is not None:
                how.progress(len(done), work.count)
    except KeyboardInterrupt:
        where = how.keep
        if kept is None and how.scrap is not None and done:
            where = how.scrap
            with Kept(where, work) as scrap:
                for number, data in done.items():
                    scrap.put(number, data)
        raise StoppedError(len(done), work.count, where) from None
    finally:
        if kept is not None:
            kept.close()
    return dict(sorted(done.items()))


def _each(work: Work, todo: list[int], how: How) -> Iterator[tuple[int, bytes]]:
    if not todo:
        return
    if how.scheduler or how.workers > 0:
        with _client(how) as client:
            yield from _on_dask(client, work, todo)
        return
    for number in todo:
        yield number, piece(work, number)


def _on_dask(client: Client, work: Work, todo: list[int]) -> Iterator[tuple[int, bytes]]:
    """Yield pieces as they are done; few are handed out at once, so that stopping is quick."""
    from distributed import as_completed
    from distributed.scheduler import KilledWorker

    _same_version(client)
    # A task, not data put on a worker: if that worker dies the scheduler makes it anew.
    handed = client.submit(_itself, work, key=f"work-{work.fingerprint}")
    number_of: dict[Any, int] = {}
    waiting = list(reversed(todo))
    threads = sum(client.nthreads().values())
    arriving = as_completed()

    def hand_out(count: int) -> None:
        for _ in range(min(count, len(waiting))):
            number = waiting.pop()
            key = f"piece-{work.fingerprint}-{number}"
            future = client.submit(piece, handed, number, key=key)
            number_of[future] = number
            arriving.add(future)

    hand_out(AHEAD * max(threads, 1))
    try:
        for future in arriving:
            number = number_of.pop(future)
            error = future.exception()
            if isinstance(error, KilledWorker):
                raise WorkerError(
                    f"piece {number} has killed {error.allowed_failures + 1} workers one after "
                    "the other; they may lack memory"
                )
            if error is not None:
                raise error
            data = future.result()
            # Let go first: a worker that still holds results has less room for new ones.
            del future
            hand_out(1 + max(0, AHEAD * sum(client.nthreads().values()) - len(number_of) - 1))
            yield number, data
    finally:
        client.cancel([*number_of, handed])


def _itself(work: Work) -> Work:
    return work


def _version() -> str:
    return __version__


def _same_version(client: Client) -> None:
    for address, found in client.run(_version).items():
        if found != __version__:
            raise WorkerError(f"worker {address} runs bondwright {found}, this is {__version__}")


@contextmanager
def _client(how: How) -> Iterator[Client]:
    """Connect to a scheduler, or start workers on this machine."""
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError as error:
        raise WorkerError(
            "workers need Dask, which is not installed; install it with "
            "pip install 'bondwright[dask]', or leave --workers and --scheduler out"
        ) from error
    quiet = {"distributed.admin.log-format": "%(message)s", "distributed.comm.retry.count": 2}
    with dask.config.set(quiet):
        if how.scheduler:
            try:
                client = Client(how.scheduler, timeout=CONNECT_S)
            except (OSError, TimeoutError, ValueError) as error:
                raise WorkerError(f"no scheduler answers at {how.scheduler}") from error
            with client:
                yield client
            return
        try:
            with _deaf_children():
                cluster = LocalCluster(
                    n_workers=how.workers,
                    threads_per_worker=1,
                    processes=True,
                    dashboard_address="127.0.0.1:0",  # None means port 8787 on every address
                    host="127.0.0.1",
                    silence_logs=50,
                )
        except (RuntimeError, OSError, TimeoutError) as error:
            raise WorkerError(
                "a worker of this machine died while it was starting; try again, with fewer "
                "workers if memory is short"
            ) from error
        with cluster, Client(cluster, timeout=CONNECT_S) as client:
            yield client


@contextmanager
def _deaf_children() -> Iterator[None]:
    """Start processes that don't hear Ctrl-C: this one does, and tells them what to do."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def quietly(how: How) -> AbstractContextManager[Client]:
    """Return the client that a run would use, for tests and benchmarks of workers."""
    return _client(how)
