"""The three pages there are, to be examined: of a file, of a store, of one that people log in to.

Each tells what it answers (OpenAPI), is asked without a network, and is put back as it was.
"""

from __future__ import annotations

import asyncio
import json
import logging
import shutil
import tempfile
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Final
from unittest.mock import patch

from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute
from sqlalchemy import select

from bondwright.page.app import create_app
from bondwright.page.copies import JobDoor
from bondwright.page.desk import Desk
from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.jobs import Crew
from bondwright.page.keepers import FileKeeper
from bondwright.page.pace import Pace
from bondwright.page.policy import Policy
from bondwright.page.ranker import Ranker
from bondwright.page.tries import Tries
from bondwright.store.factor import code_at, new_secret, secret_text, step_of
from bondwright.store.files import SITE
from bondwright.store.own import agree
from bondwright.store.schema import METADATA, USERS
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user
from scripts.fuzz_web import FARMHOUSE, PASSWORD, asked

NOBODY: Final = ""
"""Somebody who isn't in."""
PEOPLE: Final = {"anna": Role.KEEP, "ben": Role.EDIT, "cleo": Role.LOOK}
ORIGIN: Final = "http://localhost"
Answer = tuple[int, list[tuple[bytes, bytes]], bytes]


class _Log(logging.Handler):
    """Keeps what is logged."""

    def __init__(self) -> None:
        super().__init__()
        self.told: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep it."""
        self.told.append(self.format(record))


class Page:
    """A page, and who may ask it.

    Attributes:
        people: who asks; :data:`NOBODY` for somebody who isn't in.
        document: what the page says it answers.
        secrets: what no answer may tell.
        guarded: whether one has to log in.
    """

    def __init__(self) -> None:
        self.people: tuple[str, ...] = (NOBODY,)
        self.document: dict[str, Any] = {}
        self.secrets: list[bytes] = []
        self.guarded = False
        self.app: Any = None
        self._folder = Path(tempfile.mkdtemp(prefix="examined-"))
        self.secrets.append(str(self._folder).encode())
        self._loop = asyncio.new_event_loop()
        self._cookies: dict[str, bytes] = {}
        self._patches = ExitStack()
        # What takes a process of its own, and being asked too often, are tried elsewhere.
        self._patches.enter_context(patch.object(Ranker, "ask"))
        self._patches.enter_context(patch.object(Pace, "_wait", return_value=0))
        self._patches.enter_context(patch.object(Tries, "begin"))
        self._log = _Log()
        logging.getLogger("bondwright.page").addHandler(self._log)

    @property
    def logged(self) -> list[str]:
        """What the log was told since this was asked last: only what nobody foresaw."""
        told, self._log.told = self._log.told, []
        return told

    def ask(self, who: str, method: str, address: str, body: bytes, origin: str) -> Answer:
        """Ask; return status, headers and body of the answer."""
        headers: dict[bytes, bytes] = {}
        if origin:
            headers[b"origin"] = origin.encode()
        if who in self._cookies:
            headers[b"cookie"] = self._cookies[who]
        return self._loop.run_until_complete(asked(self.app, method, address, body, headers))

    def put_back(self, address: str) -> None:
        """Undo what a request did that was answered.

        Args:
            address: that was asked.
        """

    def close(self) -> None:
        """Let go of everything."""
        self._patches.close()
        logging.getLogger("bondwright.page").removeHandler(self._log)
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()
        shutil.rmtree(self._folder)


def described(app: Any, under: str = "") -> dict[str, Any]:
    """Return what a server says it answers.

    Args:
        app: the server.
        under: what stands before its addresses.
    """
    routes = [each for each in app.routes if isinstance(each, APIRoute) and each.include_in_schema]
    document = get_openapi(title="bondwright", version="1", routes=routes)
    document["paths"] = {under + path: told for path, told in document["paths"].items()}
    for methods in document["paths"].values():
        for about in methods.values():
            for code, told in about["responses"].items():
                if code != "200":  # the framework puts them under the type of the answer itself
                    told["content"] = {"application/json": next(iter(told["content"].values()))}
    return document


class FilePage(Page):
    """The page of a file."""

    def __init__(self) -> None:
        super().__init__()
        self._path = self._folder / FARMHOUSE.name
        shutil.copy(FARMHOUSE, self._path)
        self._open()
        self.document = described(self.app)

    def _open(self) -> None:
        keeper = FileKeeper(self._path)
        text = keeper.read()
        self._desk = Desk(keeper.site(text), self._path.name, text, keeper)
        self._first, self._saved = self._desk.versions, text
        self.app = create_app(self._desk, crew=Crew(most=0))

    def put_back(self, address: str) -> None:
        """Undo what a request did."""
        if self._path.read_bytes() != FARMHOUSE.read_bytes() or "/hunt" in address:
            self.app.state.close()
            shutil.copy(FARMHOUSE, self._path)
            self._open()
            return
        self._desk.versions, self._desk.saved = self._first, self._saved
        self._desk._drawer = self._desk._drawer_of(self._first.now.site or self._desk.site)
        self._desk._sent.clear()

    def close(self) -> None:
        """Let go of everything."""
        self.app.state.close()
        super().close()


class StorePage(Page):
    """The page of a store with a job in it.

    Args:
        users: whether one has to log in.
    """

    def __init__(self, *, users: bool) -> None:
        super().__init__()
        self.guarded = users
        self._store = Store(f"{self._folder}/jobs.sqlite")
        if users:
            self.people = (*PEOPLE, NOBODY)
            for name, role in PEOPLE.items():
                add_user(self._store, name, role, PASSWORD)
                agree(self._store, name, Policy().mark)
            self._secret = new_secret()
            self.secrets += [self._secret, secret_text(self._secret).encode()]
            with self._store.engine.begin() as connection:
                keeps = USERS.c.role == Role.KEEP.value
                connection.execute(USERS.update().where(keeps).values(factor=self._secret))
        site = {SITE: FARMHOUSE.read_bytes()}
        job = self._store.add("farm", site, who="anna", why="begun").job
        self._rows = self._kept()
        self.app = create_house(self._store, Names(), users=users)
        self._copies = next(
            route.app for route in self.app.routes if isinstance(getattr(route, "app", 0), JobDoor)
        )._copies
        self._copies._crew = Crew(most=0)
        for name in self.people:
            self._let_in(name)
        self.secrets += [PASSWORD.encode(), *(c.partition(b"=")[2] for c in self._cookies.values())]
        inner = described(create_app(Desk(*_farm()), alone=False), f"/job/{job}")
        self.document = described(self.app)
        self.document["paths"] |= inner["paths"]
        self.document["components"]["schemas"] |= inner["components"]["schemas"]

    def _let_in(self, name: str) -> None:
        if name == NOBODY:
            return
        self._cookies.pop(name, None)
        code = code_at(self._secret, step_of(self._store)) if PEOPLE[name] is Role.KEEP else ""
        body = json.dumps({"name": name, "password": PASSWORD, "code": code}).encode()
        status, headers, _ = self.ask(NOBODY, "POST", "/house/login", body, ORIGIN)
        if status != 200:
            raise RuntimeError(f"{name} isn't let in: {status}")
        self._cookies[name] = dict(headers)[b"set-cookie"].partition(b";")[0]

    def _kept(self) -> Mapping[str, list[dict[str, Any]]]:
        with self._store.engine.begin() as connection:
            return {
                table.name: [dict(row._mapping) for row in connection.execute(select(table))]
                for table in METADATA.sorted_tables
            }

    def put_back(self, address: str) -> None:
        """Undo what a request did."""
        with self._store.engine.begin() as connection:
            for table in reversed(METADATA.sorted_tables):
                connection.execute(table.delete())
            for table in METADATA.sorted_tables:
                if rows := self._rows[table.name]:
                    connection.execute(table.insert(), rows)
        self._copies.close()
        if self.guarded and address.startswith("/house/"):
            for name in PEOPLE:
                if b'"in"' not in self.ask(name, "GET", "/house/door", b"", ORIGIN)[2]:
                    self._let_in(name)  # it ended their session

    def close(self) -> None:
        """Let go of everything."""
        self._copies.close()
        self._store.close()
        super().close()


def _farm() -> tuple[Any, str, str]:
    keeper = FileKeeper(FARMHOUSE)
    text = keeper.read()
    return keeper.site(text), FARMHOUSE.name, text


PAGES: Final[dict[str, Callable[[], Page]]] = {
    "file": FilePage,
    "store": lambda: StorePage(users=False),
    "served": lambda: StorePage(users=True),
}
