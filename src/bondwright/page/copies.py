"""Everybody's own working copy of each job that they have open."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from threading import Lock
from typing import Final
from urllib.parse import quote

from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.types import Receive, Scope, Send

from bondwright.page.app import create_app
from bondwright.page.desk import Desk
from bondwright.page.guard import PLAIN, refuse
from bondwright.page.job_keeper import JobKeeper
from bondwright.page.jobs import Crew
from bondwright.page.who import person_of
from bondwright.site.site_error import SiteError
from bondwright.store.errors import StoreError, UnknownJobError, UnreachableError
from bondwright.store.store import Store

AWAKE: Final = 60
"""Working copies whose answers are kept; of the others only what a person did is kept."""
PLACES: Final = 15_000
"""Places that those have together: a large site takes the room of many small ones."""
MOST: Final = 600
"""Working copies that are open, asleep ones among them."""
OF_ONE: Final = 30
"""Of these, those of one person."""


_ONE_AT_A_TIME: Final = Lock()
"""The framework isn't made for servers to be built side by side."""


class FullError(RuntimeError):
    """As many jobs are open as may."""


@dataclass(slots=True)
class Copy:
    """One person's working copy of one job.

    Attributes:
        desk: the description with what was changed about it.
        keeper: the job.
        app: answers for it.
        used: when it was last asked.
        asked: questions that are being answered.
        awake: whether answers are kept.
        dirty: whether something is unsaved, as of the last answer.
    """

    desk: Desk
    keeper: JobKeeper
    app: FastAPI
    used: float = field(default_factory=time.monotonic)
    asked: int = 0
    awake: bool = True
    dirty: bool = False

    @property
    def busy(self) -> bool:
        """Whether somebody waits for it, or something is worked out in the background."""
        return self.asked > 0 or bool(self.app.state.busy())

    @property
    def weight(self) -> int:
        """Places of its site."""
        return len(self.desk.site.places)

    def rest(self) -> None:
        """Forget what can be worked out again."""
        self.awake = False
        self.app.state.rest()

    def close(self) -> None:
        """End its background work and let go of its files."""
        self.app.state.close()
        self.keeper.close()


class Copies:
    """The working copies.

    The longest unused ones make room for others: with nothing unsaved they are put away, with
    something unsaved they sleep, and nothing of it is lost.

    Args:
        store: where the jobs are.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = Lock()
        self._open: dict[tuple[str, str], Copy] = {}
        self._making: dict[tuple[str, str], Lock] = {}
        self._crew = Crew()

    def of(self, person: str, job: str) -> Copy:
        """Return somebody's working copy of a job, made of its newest revision, as being asked.

        Raises:
            FullError: too many are open, each with something unsaved.
            UnknownJobError: there is no such job.
            bondwright.site.site_error.SiteError: its site file is unsound.
        """
        with self._lock:
            if found := self._taken((person, job)):
                return found
        key = (person, self._store.find(job).id)
        with self._lock:
            making = self._making.setdefault(key, Lock())
        # Others are let in meanwhile: to lay a large site out takes a while.
        with making:
            with self._lock:
                if found := self._taken(key):
                    return found
            made = self._made(key)
            try:
                with self._lock:
                    self._make_room(person, made.weight)
                    self._open[key] = made
                    self._making.pop(key, None)
                    made.asked += 1
            except FullError:
                made.close()
                raise
        return made

    def _taken(self, key: tuple[str, str]) -> Copy | None:
        found = self._open.get(key)
        if found is not None:
            found.used, found.awake = time.monotonic(), True
            found.asked += 1
            self._lull(found.weight, found)
        return found

    def done(self, copy: Copy) -> None:
        """Say that a question was answered."""
        # Not to be asked while it works: it would have to be waited for.
        free = copy.desk.lock.acquire(blocking=False)
        if free:
            try:
                copy.dirty = copy.desk.unsaved
            finally:
                copy.desk.lock.release()
        with self._lock:
            copy.asked -= 1

    def _made(self, key: tuple[str, str]) -> Copy:
        person, job = key
        keeper = JobKeeper(self._store, job)
        try:
            text = keeper.read()
            desk = Desk(keeper.site(text), keeper.where, text, keeper)
        except SiteError:
            keeper.close()
            raise
        with _ONE_AT_A_TIME:
            app = create_app(desk, alone=False, crew=self._crew, who=person)
        return Copy(desk, keeper, app)

    def _make_room(self, person: str, places: int) -> None:
        """Put away or lull others, the longest unused first.

        Raises:
            FullError: those that would have to go have something unsaved.
        """
        if sum(who == person for who, _ in self._open) >= OF_ONE:
            self._put_away(f"{person} has {OF_ONE} jobs", person)
        if len(self._open) >= MOST:
            self._put_away(f"{MOST} jobs are")
        self._lull(places)

    def _put_away(self, whose: str, person: str | None = None) -> None:
        for key in self._oldest():
            if person in (None, key[0]) and not self._open[key].dirty:
                self._open.pop(key).close()
                return
        raise FullError(f"{whose} open with changes that nobody saved; save some of them first")

    def _lull(self, places: int, but: Copy | None = None) -> None:
        if self._room(places, but):
            return
        for key in self._oldest():
            copy = self._open[key]
            if copy.awake and copy is not but:
                copy.rest()
                if self._room(places, but):
                    return

    def _oldest(self) -> list[tuple[str, str]]:
        """Return the keys of those that may go, the longest unused first."""
        free = [key for key, copy in self._open.items() if not copy.busy]
        return sorted(free, key=lambda key: self._open[key].used)

    def _room(self, places: int, but: Copy | None = None) -> bool:
        awake = [copy for copy in self._open.values() if copy.awake and copy is not but]
        return len(awake) < AWAKE and sum(copy.weight for copy in awake) + places <= PLACES

    def unsaved(self, person: str) -> set[str]:
        """Return the jobs that somebody has changed and not saved."""
        with self._lock:
            return {job for (who, job), copy in self._open.items() if who == person and copy.dirty}

    def drop(self, person: str) -> None:
        """Put away those of somebody who is let in no more, with what they didn't save."""
        with self._lock:
            for key in [key for key in self._open if key[0] == person]:
                self._open.pop(key).close()

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
            headers = [(b"location", where), (b"content-length", b"0"), PLAIN]
            await send({"type": "http.response.start", "status": 307, "headers": headers})
            await send({"type": "http.response.body", "body": b""})
            return
        try:
            copy = await run_in_threadpool(self._copies.of, person_of(scope).name, job)
        except UnknownJobError:
            await refuse(send, 404, "there is no such job", "look in the list of jobs")
            return
        except (UnreachableError, FullError) as error:
            text = f"the job can't be opened: {error}"
            await refuse(send, 503, text, "try again in a while", wait=5)
            return
        except (SiteError, StoreError) as error:
            await refuse(send, 409, f"the job can't be opened: {error}", "")
            return
        try:
            await copy.app({**scope, "root_path": f"{root}/{job}"}, receive, send)
        finally:
            self._copies.done(copy)
