"""Everybody's own working copy of each job that they have open."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from threading import Lock
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from bondwright.page.app import create_app
from bondwright.page.desk import Desk
from bondwright.page.guard import refuse
from bondwright.page.job_keeper import JobKeeper
from bondwright.page.who import person_of
from bondwright.site.site_error import SiteError
from bondwright.store.errors import StoreError, UnknownJobError
from bondwright.store.store import Store

MOST: Final = 40
"""Working copies that are open; one with something unsaved is never put away."""


class FullError(RuntimeError):
    """As many jobs are open as may."""


@dataclass(slots=True)
class Copy:
    """One person's working copy of one job."""

    desk: Desk
    keeper: JobKeeper
    app: ASGIApp
    used: float = field(default_factory=time.monotonic)

    def close(self) -> None:
        """End its background work and let go of its files."""
        self.app.state.close()  # type: ignore[attr-defined]  # FastAPI's own place for things
        self.keeper.close()


class Copies:
    """The working copies.

    Args:
        store: where the jobs are.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = Lock()
        self._open: dict[tuple[str, str], Copy] = {}

    def of(self, person: str, job: str) -> Copy:
        """Return somebody's working copy of a job, made of its newest revision.

        Raises:
            FullError: too many are open, each with something unsaved.
            UnknownJobError: there is no such job.
            bondwright.site.site_error.SiteError: its site file is unsound.
        """
        with self._lock:
            found = self._open.get((person, job))
            if found is None:
                self._make_room()
                found = self._open[person, job] = self._made(job)
            found.used = time.monotonic()
            return found

    def _made(self, job: str) -> Copy:
        keeper = JobKeeper(self._store, job)
        try:
            text = keeper.read()
            desk = Desk(keeper.site(text), keeper.where, text, keeper)
        except SiteError:
            keeper.close()
            raise
        return Copy(desk, keeper, create_app(desk, alone=False))

    def _make_room(self) -> None:
        idle = [key for key, copy in self._open.items() if not copy.desk.unsaved]
        if len(self._open) >= MOST:
            if not idle:
                raise FullError(
                    f"{MOST} jobs are open with changes that nobody saved; save some of them first"
                )
            oldest = min(idle, key=lambda key: self._open[key].used)
            self._open.pop(oldest).close()

    def unsaved(self, person: str) -> set[str]:
        """Return the jobs that somebody has changed and not saved."""
        with self._lock:
            return {job for (who, job), c in self._open.items() if who == person and c.desk.unsaved}

    def close(self) -> None:
        """Put all of them away."""
        with self._lock:
            for copy in self._open.values():
                copy.close()
            self._open.clear()


class JobDoor:
    """Leads a request under ``/job/ID/`` to the working copy of whoever asks.

    Args:
        copies: the working copies.
    """

    def __init__(self, copies: Copies) -> None:
        self._copies = copies

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        root = str(scope.get("root_path", ""))
        path = str(scope["path"]).removeprefix(root).lstrip("/")
        job, slash, _ = path.partition("/")
        if not slash:
            where = f"{root}/{quote(job)}/".encode()
            headers = [(b"location", where), (b"content-length", b"0")]
            await send({"type": "http.response.start", "status": 307, "headers": headers})
            await send({"type": "http.response.body", "body": b""})
            return
        try:
            copy = await run_in_threadpool(self._copies.of, person_of(scope).name, job)
        except UnknownJobError:
            await refuse(send, 404, "there is no such job", "look in the list of jobs")
            return
        except (SiteError, StoreError, FullError) as error:
            await refuse(send, 409, f"the job can't be opened: {error}", "")
            return
        await copy.app({**scope, "root_path": f"{root}/{job}"}, receive, send)
