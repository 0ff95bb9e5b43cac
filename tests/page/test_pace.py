"""What one person, or a crowd, may ask of a server: nobody is let fall, and nobody takes all."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from starlette.types import Message, Receive, Scope, Send

from bondwright.page import copies as copying
from bondwright.page import pace as pacing
from bondwright.page.copies import Copies, FullError
from bondwright.page.desk import Desk
from bondwright.page.jobs import BusyError, Crew
from bondwright.page.keeping import save
from bondwright.page.pace import BUNDLES, CHANGES, FILES, LONG, LOOKS, Pace, kind_of
from bondwright.page.versions import READ
from bondwright.page.who import KEY
from bondwright.site.reader import read
from bondwright.site.starters import starter
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, User

HOUSE = starter("house")
ANNA = User("anna", Role.EDIT)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(str(tmp_path / "jobs.sqlite")) as opened:
        yield opened


# --- questions ---------------------------------------------------------------------------------


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def alone(run: Callable[[], Coroutine[None, None, None]]) -> None:
    """Run it in a thread of its own: a browser of other tests may hold a loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(run())).result()


class Asked:
    """What is behind: answers when it is let go on."""

    def __init__(self) -> None:
        self.go = asyncio.Event()
        self.now = self.most = 0

    async def __call__(self, _: Scope, __: Receive, send: Send) -> None:
        self.now += 1
        self.most = max(self.most, self.now)
        await self.go.wait()
        self.now -= 1
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})


async def ask(pace: Pace, who: str, path: str = "/job/x/api/view", method: str = "POST") -> Any:
    """Ask; return the status and the headers of the answer."""
    told: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        told.append(message)

    scope = {"type": "http", "method": method, "path": path, "headers": []}
    await pace({**scope, KEY: User(who, Role.EDIT)}, receive, send)
    return told[0]["status"], dict(told[0]["headers"])


def test_what_a_question_counts_as() -> None:
    assert kind_of("POST", "/house/bundle") is BUNDLES
    assert kind_of("GET", "/house/bundle") is BUNDLES
    assert kind_of("POST", "/job/x/api/jobs") is LONG
    assert kind_of("GET", "/job/x/api/jobs/job-1") is LOOKS
    assert kind_of("POST", "/job/x/api/text/check") is FILES
    assert kind_of("POST", "/house/jobs") is FILES
    assert kind_of("DELETE", "/house/users") is CHANGES


@pytest.mark.parametrize(
    ("rate", "path", "method"),
    [
        (BUNDLES, "/house/bundle", "GET"),
        (LONG, "/job/x/api/jobs", "POST"),
        (FILES, "/job/x/api/text", "POST"),
        (CHANGES, "/job/x/api/edit", "POST"),
        (LOOKS, "/job/x/api/site", "GET"),
    ],
)
def test_whoever_asks_too_often_is_told_when_to_come_back(
    rate: pacing.Rate, path: str, method: str
) -> None:
    async def run() -> None:
        clock, behind = Clock(), Asked()
        behind.go.set()
        pace = Pace(behind, clock)
        for _ in range(rate.most):
            assert (await ask(pace, "anna", path, method))[0] == 200
        status, headers = await ask(pace, "anna", path, method)
        assert status == 429
        assert (await ask(pace, "ben", path, method))[0] == 200  # nobody else is held up by it
        clock.now += int(headers[b"retry-after"])
        assert (await ask(pace, "anna", path, method))[0] == 200

    alone(run)


def test_one_person_does_not_take_all_turns() -> None:
    async def run() -> None:
        behind = Asked()
        pace = Pace(behind)
        anna = [asyncio.create_task(ask(pace, "anna")) for _ in range(pacing.WAITING)]
        await asyncio.sleep(0)
        await asyncio.sleep(0.01)
        assert behind.now == pacing.OF_ONE
        assert (await ask(pace, "anna"))[0] == 429
        ben = asyncio.create_task(ask(pace, "ben"))
        await asyncio.sleep(0.01)
        assert behind.now == pacing.OF_ONE + 1 <= pacing.AT_ONCE
        behind.go.set()
        assert {status for status, _ in await asyncio.gather(*anna, ben)} == {200}
        assert behind.most <= pacing.AT_ONCE

    alone(run)


def test_a_crowd_waits_in_turn_and_is_told_when_it_is_too_long(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pacing, "PATIENCE_S", 0.05)

    async def run() -> None:
        behind = Asked()
        pace = Pace(behind)
        crowd = [asyncio.create_task(ask(pace, f"person {k}")) for k in range(20)]
        await asyncio.sleep(0.2)
        assert behind.most == pacing.AT_ONCE
        behind.go.set()
        told = await asyncio.gather(*crowd)
        assert [status for status, _ in told].count(503) == 20 - pacing.AT_ONCE
        assert all(b"retry-after" in headers for status, headers in told if status == 503)
        assert (await ask(pace, "late"))[0] == 200

    alone(run)


def test_a_slow_line_holds_up_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pacing, "BODY_S", 0.05)

    async def run() -> None:
        behind = Asked()
        behind.go.set()
        pace = Pace(behind)
        told: list[Message] = []

        async def dribble() -> Message:
            await asyncio.sleep(0.02)
            return {"type": "http.request", "body": b"x", "more_body": True}

        async def send(message: Message) -> None:
            told.append(message)

        scope = {"type": "http", "method": "POST", "path": "/job/x/api/text", "headers": []}
        await pace({**scope, KEY: ANNA}, dribble, send)
        assert told[0]["status"] == 408
        assert behind.most == 0

    alone(run)


def test_reports_of_work_are_few_and_take_no_turn() -> None:
    async def run() -> None:
        behind = Asked()
        pace = Pace(behind)
        path = "/job/x/api/jobs/job-1/events"
        streams = [asyncio.create_task(ask(pace, "anna", path, "GET")) for _ in range(9)]
        await asyncio.sleep(0.01)
        assert behind.now == pacing.STREAMS
        behind.go.set()
        statuses = [status for status, _ in await asyncio.gather(*streams)]
        assert statuses.count(429) == 1
        assert (await ask(pace, "anna"))[0] == 200

    alone(run)


def test_the_background_is_shared() -> None:
    crew = Crew(most=3, of_one=2)
    crew.join("anna")
    crew.join("anna")
    with pytest.raises(BusyError, match="2 jobs are running already"):
        crew.join("anna")
    crew.join("ben")
    with pytest.raises(BusyError, match="the server works on 3 long studies"):
        crew.join("cleo")
    crew.leave("anna")
    crew.join("cleo")


# --- working copies ----------------------------------------------------------------------------


def test_a_copy_asleep_keeps_what_a_person_did(store: Store, monkeypatch: Any) -> None:
    monkeypatch.setattr(copying, "AWAKE", 2)
    job = store.add("Garage", {SITE: HOUSE.encode()}, who="anna", why="begun").job
    copies = Copies(store)
    names = [f"person {k}" for k in range(6)]
    for k, name in enumerate(names):
        copy = copies.of(name, job)
        text = HOUSE.replace("60 ft", f"{70 + k} ft")
        copy.desk.describe(read(text), text, "lengthened")
        copies.done(copy)
        assert copies.unsaved(name) == {job}
    for k, name in enumerate(names):
        copy = copies.of(name, job)
        assert f"{70 + k} ft" in copy.desk.text
        assert copy.desk.base.site.runs["garage feeder"].length == pytest.approx((70 + k) * 0.3048)
        copy.desk.go(back=True)
        assert "60 ft" in copy.desk.text
        copy.desk.go(back=False)
        copies.done(copy)
    assert sum(copy.awake for copy in copies._open.values()) <= 2
    copies.close()


def test_large_sites_take_the_room_of_many(store: Store, monkeypatch: Any) -> None:
    job = store.add("Garage", {SITE: HOUSE.encode()}, who="anna", why="begun").job
    copies = Copies(store)
    monkeypatch.setattr(copying, "PLACES", 2 * len(read(HOUSE).places))
    for k in range(5):
        copies.done(copies.of(f"person {k}", job))
    assert sum(copy.awake for copy in copies._open.values()) == 2
    copies.close()


def test_what_is_unsaved_is_never_put_away(store: Store, monkeypatch: Any) -> None:
    monkeypatch.setattr(copying, "OF_ONE", 2)
    jobs = [
        store.add(f"Garage {k}", {SITE: HOUSE.encode()}, who="anna", why="begun").job
        for k in range(4)
    ]
    copies = Copies(store)
    for job in jobs[:3]:
        copies.done(copies.of("anna", job))
    assert set(copies._open) == {("anna", job) for job in jobs[1:3]}
    for job in jobs[1:3]:
        copy = copies.of("anna", job)
        text = HOUSE.replace("60 ft", "70 ft")
        copy.desk.describe(read(text), text, "lengthened")
        copies.done(copy)
    with pytest.raises(FullError, match="anna has 2 jobs open with changes"):
        copies.of("anna", jobs[3])
    copies.done(copies.of("ben", jobs[3]))  # which is nothing to others
    copy = copies.of("anna", jobs[1])
    save(copy.desk, ANNA, "done")
    copies.done(copy)
    copies.done(copies.of("anna", jobs[3]))
    assert ("anna", jobs[1]) not in copies._open
    copies.close()


def test_a_copy_that_works_is_left_alone(store: Store, monkeypatch: Any) -> None:
    monkeypatch.setattr(copying, "MOST", 1)
    job = store.add("Garage", {SITE: HOUSE.encode()}, who="anna", why="begun").job
    copies = Copies(store)
    copy = copies.of("anna", job)
    with pytest.raises(FullError):
        copies.of("ben", job)
    copies.done(copy)
    copies.done(copies.of("ben", job))
    copies.close()


def test_what_was_done_long_ago_takes_the_room_of_its_text_only() -> None:
    desk = Desk(read(HOUSE), "house.yaml", HOUSE)
    texts = [HOUSE]
    for k in range(3 * READ):
        texts.append(HOUSE.replace("60 ft", f"{61 + k} ft"))
        desk.describe(read(texts[-1]), texts[-1], f"to {61 + k} ft")
    gc.collect()
    assert sum(version.site is not None for version in desk.versions.done) == READ
    for text in reversed(texts[:-1]):
        desk.go(back=True)
        assert desk.text == text
        assert desk.site == read(text)
    for text in texts[1:]:
        desk.go(back=False)
        assert desk.text == text
        assert desk.site == read(text)
