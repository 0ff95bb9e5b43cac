"""The served page as a target of the fuzzer: one request a case, to every address there is.

A case is text: method and address in the first line, the body below. The seeds are made from the
server's own description of itself (OpenAPI), with bodies as the page sends them. A case fails
where an answer is an unforeseen error, tells a traceback, or is a refusal that isn't in the one
form of a problem.
"""

from __future__ import annotations

import asyncio
import atexit
import json
import tempfile
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final
from unittest.mock import patch
from urllib.parse import quote, unquote, urlsplit

from bondwright.page.pace import Pace
from bondwright.page.ranker import Ranker
from bondwright.page.tries import Tries
from bondwright.site.reader import load
from bondwright.store.files import SITE

ROOT: Final = Path(__file__).resolve().parents[1]
FARMHOUSE: Final = ROOT / "examples" / "harrow-creek-farmhouse.yaml"
PASSWORD: Final = "four words are enough"
METHODS: Final = ("GET", "POST", "DELETE", "HEAD", "PUT", "OPTIONS")
KNOWN: Final = {
    "form": "page", "number": "0", "kind": "run", "id": "pump house feeder", "table": "runs",
    "state": "", "at": "well pump", "fault": "well pump|line to metal|L1|G", "before": "1",
    "after": "0", "name": "job-1", "job": "", "what": "touch", "electrodes": "",
}  # fmt: skip
BODIES: Final[dict[str, Any]] = {
    "/api/edit": {"action": "put on", "name": "pump house panel", "view": {}},
    "/api/view": {"show": "fault", "fault": "well pump|line to metal|L1|G", "form": "phone"},
    "/api/describe": {
        "changes": [{
            "table": "runs", "was": "pump branch", "id": "pump branch",
            "entry": {"from": "pump house panel", "to": "well pump", "device": "20 A breaker",
                      "length": "50 ft", "wiring": "cable", "lines": "12 AWG Cu",
                      "on": ["L1", "L2"], "neutral": "none"},
        }],
        "view": {},
    },
    "/api/schedule/read": {
        "text": "Ckt,Description,Breaker,Wire\n1,lights,20A,#12\n3,pump,30/2,10 AWG\n",
        "panel": "pump house panel", "length": "40 ft",
    },
    "/api/earth/judge": {
        "kind": "fall of potential", "values": {"current at": "60 m"}, "of": [],
        "readings": [{"distance": "20 m", "reading": "8 ohm"}],
    },
    "/api/hunt": {
        "notes": [{"key": "note-0001", "what": "current", "where": "pump house feeder",
                   "of": "G", "value": "0.7 A"}],
        "forget": ["note-0002"],
    },
    "/house/users": {"name": "dora", "role": "look", "password": PASSWORD, "new": True},
    "/house/jobs": {"name": "barn", "starter": "house", "why": "begun"},
    "/house/login": {"name": "anna", "password": PASSWORD, "code": "000000"},
    "/house/agree": {"to": "ab" * 32},
    "/house/leave": {"password": PASSWORD, "code": "abcd-efgh-jkmn", "forget_name": True},
}  # fmt: skip


class BadAnswerError(AssertionError):
    """An answer that should not be."""


def _example(schema: dict[str, Any], all_: dict[str, Any]) -> Any:
    """Return something that fits a schema."""
    if "$ref" in schema:
        return _example(all_[schema["$ref"].rpartition("/")[2]], all_)
    for key in ("default", "const"):
        if key in schema:
            return schema[key]
    if "enum" in schema:
        return schema["enum"][0]
    if "anyOf" in schema:
        return _example(schema["anyOf"][0], all_)
    match schema.get("type"):
        case "object":
            return {k: _example(v, all_) for k, v in schema.get("properties", {}).items()}
        case "array":
            return [_example(schema.get("items", {}), all_)]
        case "integer" | "number":
            return 1
        case "boolean":
            return True
        case _:
            return "a"


def requests(document: dict[str, Any]) -> Iterator[str]:
    """Yield a request for everything that a server describes."""
    schemas = document.get("components", {}).get("schemas", {})
    for path, methods in document["paths"].items():
        for method, about in methods.items():
            where, query = path, []
            for one in about.get("parameters", []):
                value = quote(KNOWN.get(one["name"], "1"))
                if one["in"] == "path":
                    where = where.replace(f"{{{one['name']}}}", value or "x")
                else:
                    query.append(f"{one['name']}={value}")
            body = ""
            if "requestBody" in about:
                schema = about["requestBody"]["content"]["application/json"]["schema"]
                made = BODIES.get(path) or _example(schema, schemas)
                if path in {"/api/text", "/api/text/check"}:
                    made = {"text": FARMHOUSE.read_text(encoding="utf-8"), "view": {}}
                body = json.dumps(made, indent=1)
            yield f"{method.upper()} {where}{'?' if query else ''}{'&'.join(query)}\n{body}"


async def asked(
    app: Any, method: str, address: str, body: bytes, headers: Mapping[bytes, bytes]
) -> tuple[int, list[tuple[bytes, bytes]], bytes]:
    """Ask a server without a network; return status, headers and body of the answer.

    Args:
        app: the server.
        method: of HTTP.
        address: path and query, as a browser writes them.
        body: what is sent.
        headers: besides the usual ones.
    """
    parts = urlsplit(address)
    usual = {
        b"host": b"localhost", b"content-length": b"%d" % len(body),
        b"content-type": b"application/json",
    }  # fmt: skip
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "scheme": "http", "path": unquote(parts.path), "raw_path": parts.path.encode(),
        "root_path": "", "query_string": parts.query.encode("utf-8", "replace"),
        "headers": list({**usual, **headers}.items()),
        "client": ("127.0.0.1", 1), "server": ("localhost", 80),
    }  # fmt: skip
    told: list[Any] = []
    parts_sent = iter([body])

    async def receive() -> dict[str, Any]:
        for part in parts_sent:
            return {"type": "http.request", "body": part, "more_body": False}
        await asyncio.sleep(3600.0)  # nobody hangs up
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        told.append(message)

    await app(scope, receive, send)
    whole = b"".join(each.get("body", b"") for each in told[1:])
    return told[0]["status"], told[0]["headers"], whole


class Served:
    """A working copy and a store, served; put back after each request."""

    def __init__(self) -> None:
        from bondwright.page.app import create_app
        from bondwright.page.desk import Desk
        from bondwright.page.guard import Names
        from bondwright.page.house import create_house
        from bondwright.page.jobs import Crew
        from bondwright.page.policy import Policy
        from bondwright.store.factor import new_secret
        from bondwright.store.own import agree
        from bondwright.store.schema import USERS
        from bondwright.store.store import Store
        from bondwright.store.users import Role, add_user

        self._folder = tempfile.TemporaryDirectory()
        self.store = Store(f"{self._folder.name}/jobs.sqlite")
        add_user(self.store, "anna", Role.KEEP, PASSWORD)
        agree(self.store, "anna", Policy().mark)
        self._secret = new_secret()
        with self.store.engine.begin() as connection:
            connection.execute(USERS.update().values(factor=self._secret))
        text = FARMHOUSE.read_text(encoding="utf-8")
        self.store.add("farm", {SITE: text.encode()}, who="anna", why="begun")
        self.desk = Desk(load(FARMHOUSE), FARMHOUSE.name, text)
        self._first = self.desk.versions
        self.app = create_app(self.desk, crew=Crew(most=0))
        self.house = create_house(self.store, Names(), users=True)
        self.loop = asyncio.new_event_loop()
        self._log_in()

    cookie = b""

    def _log_in(self) -> None:
        from bondwright.store.factor import code_at, step_of

        with self.store.engine.begin() as connection:
            connection.exec_driver_sql("UPDATE users SET factor_step = NULL")
        words = {**BODIES["/house/login"], "code": code_at(self._secret, step_of(self.store))}
        with patch.object(Tries, "begin"):  # cases tried wrong passwords before
            answer = self.ask("POST", "/house/login", json.dumps(words).encode())
        found = [v for k, v in answer[1] if k == b"set-cookie"]
        self.cookie = found[0].partition(b";")[0]

    def documents(self) -> Iterator[dict[str, Any]]:
        """Yield what the servers say of themselves."""
        from fastapi.openapi.utils import get_openapi

        for app in (self.app, self.house):
            yield get_openapi(title="x", version="1", routes=app.routes)

    def ask(
        self, method: str, address: str, body: bytes
    ) -> tuple[int, list[tuple[bytes, bytes]], bytes]:
        """Ask; return status, headers and body of the answer."""
        inner = not urlsplit(address).path.startswith(("/house", "/login", "/people", "/job"))
        app: Any = self.app if inner else self.house
        headers = {b"origin": b"http://localhost", b"cookie": self.cookie}
        # What takes a process of its own, and being asked too often, are tried elsewhere.
        with patch.object(Ranker, "ask"), patch.object(Pace, "_wait", return_value=0):
            return self.loop.run_until_complete(asked(app, method, address, body, headers))

    def put_back(self) -> None:
        """Undo what a request may have done."""
        self.desk.versions = self._first
        self.desk._drawer = self.desk._drawer_of(self._first.now.site or self.desk.site)
        self.desk._sent.clear()
        with self.store.engine.begin() as connection:
            for words in (
                "DELETE FROM files WHERE job IN (SELECT id FROM jobs WHERE name <> 'farm')",
                "DELETE FROM revisions WHERE job IN (SELECT id FROM jobs WHERE name <> 'farm')",
                "DELETE FROM jobs WHERE name <> 'farm'",
                "DELETE FROM users WHERE name <> 'anna'",
                "UPDATE users SET role = 'keep'",
            ):
                connection.exec_driver_sql(words)
        if b'"in"' not in self.ask("GET", "/house/door", b"")[2]:
            self._log_in()  # a request logged out, or ended the session

    def close(self) -> None:
        """Let go of everything."""
        self.app.state.close()
        self.loop.run_until_complete(self.loop.shutdown_default_executor())
        self.loop.close()
        self.store.close()
        self._folder.cleanup()


@cache
def served() -> Served:
    """Return the one that is tried."""
    made = Served()
    atexit.register(made.close)
    return made


def check(status: int, headers: list[tuple[bytes, bytes]], body: bytes) -> None:
    """Look at an answer.

    Raises:
        BadAnswerError: it should not be.
    """
    if status >= 500 and status not in {503, 507}:
        raise BadAnswerError(f"{status}: {body[:300]!r}")
    if b"Traceback (most" in body:
        raise BadAnswerError("a traceback")
    if status >= 400:
        kind = dict(headers).get(b"content-type", b"")
        told = json.loads(body) if kind.startswith(b"application/json") else {}
        if told.get("format") != "bondwright/problems" or not told["problems"][0]["problem"]:
            raise BadAnswerError(f"{status} in another form: {body[:200]!r}")


def parse(data: bytes) -> tuple[str, str, bytes]:
    """Return method, address and body of a case."""
    first, _, body = data.partition(b"\n")
    words = first.decode("utf-8", "replace").split(" ", 1)
    method = words[0] if words[0] in METHODS else "GET"
    address = words[1] if len(words) > 1 else "/api/site"
    if not address.startswith("/") or address.startswith("//"):
        address = "/" + address.lstrip("/")
    return method, "".join(c if c.isprintable() else "?" for c in address), body
