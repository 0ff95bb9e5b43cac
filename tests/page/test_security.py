"""What docs/security.md says of the served page, each point tried: see the table there."""

from __future__ import annotations

import ast
import logging
import re
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from pydantic import BaseModel

from bondwright.page import house as housing
from bondwright.page import (
    wire,
    wire_describe,
    wire_earth,
    wire_field,
    wire_mail,
    wire_people,
)
from bondwright.page.app import create_app
from bondwright.page.doors import (
    MOST_ASKED,
    MOST_OF_ADDRESS,
    MOST_TRIES,
    OPEN,
    Sessions,
)
from bondwright.page.guard import METHODS, Guard, Names
from bondwright.page.house import create_house
from bondwright.page.listen import Address, ListenError, check_tls, serve
from bondwright.page.tries import TRIES_S, TooManyError
from bondwright.site.starters import starter
from bondwright.store.errors import UnreachableError
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, change_user, let_in
from tests.entering import ready, words
from tests.page.serving import ROOT, farmhouse
from tests.programs import require_program

OWN = "http://127.0.0.1:8642"
PASSWORD = "four words are enough"
SOURCE = ROOT / "src" / "bondwright"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store(str(tmp_path_factory.mktemp("store") / "jobs.sqlite")) as opened:
        for name, role in (("anna", Role.KEEP), ("ben", Role.EDIT), ("cleo", Role.LOOK)):
            add_user(opened, name, role, PASSWORD)
        files = {SITE: starter("house").encode()}
        opened.add("Garage", files, who="anna", why="begun")
        ready(opened)
        yield opened


@pytest.fixture(scope="module")
def house(store: Store) -> Iterator[FastAPI]:
    made = create_house(store, Names(8642), users=True)
    made.state.store = store
    with TestClient(made):
        yield made


@pytest.fixture(scope="module")
def job(store: Store) -> str:
    return store.find("Garage").id


@pytest.fixture(scope="module")
def ben(house: FastAPI) -> TestClient:
    return entered(house, "ben")


def entered(house: FastAPI, name: str) -> TestClient:
    """Somebody with a browser of their own, who is in."""
    client = TestClient(house, base_url=OWN, follow_redirects=False)
    client.headers["origin"] = OWN
    if name:
        answer = client.post("/house/login", json=words(house.state.store, name, PASSWORD))
        assert answer.status_code == 200, answer.text
    return client


def routes() -> list[tuple[str, str]]:
    """Method and path of everything that is answered, of the house and of a job in it."""
    found = []
    with TestClient(create_app(farmhouse(), 8642)) as _:
        inner = create_app(farmhouse(), alone=False)
    for app, root in ((_house_app(), ""), (inner, "/job/JOB")):
        for route in _routes_of(app):
            found += [(method, root + re.sub(r"\{\w+\}", "x", route.path))
                      for method in sorted(route.methods or ())]  # fmt: skip
    return sorted(set(found))


def _routes_of(app: FastAPI) -> list[APIRoute]:
    return [route for route in app.routes if isinstance(route, APIRoute)]


def _house_app() -> FastAPI:
    import tempfile

    with tempfile.TemporaryDirectory() as folder, Store(f"{folder}/x.sqlite") as store:
        return create_house(store, Names(8642), users=True)


ROUTES = routes()


def test_there_is_something_to_try() -> None:
    assert len(ROUTES) > 45
    assert ("POST", "/job/JOB/api/save") in ROUTES
    assert ("DELETE", "/house/users") in ROUTES


# --- the door ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("method", "path"), ROUTES)
def test_every_address_wants_a_session(house: FastAPI, job: str, method: str, path: str) -> None:
    """Asked of the server itself, by somebody who never logged in."""
    if path in OPEN:
        return
    client = TestClient(house, base_url=OWN, follow_redirects=False)
    body: dict[str, str] | None = None if method in {"GET", "HEAD"} else {}
    answer = client.request(method, path.replace("JOB", job), json=body, headers={"origin": OWN})
    assert answer.status_code in {303, 401}
    assert "Garage" not in answer.text


@pytest.mark.parametrize(("method", "path"), [r for r in ROUTES if r[0] in {"POST", "DELETE"}])
@pytest.mark.parametrize("origin", [None, "http://evil.example", "null"])
def test_every_change_has_to_come_from_the_page(
    ben: TestClient, job: str, method: str, path: str, origin: str | None
) -> None:
    headers = {"origin": origin} if origin else {}
    del ben.headers["origin"]
    try:
        answer = ben.request(method, path.replace("JOB", job), json={}, headers=headers)
    finally:
        ben.headers["origin"] = OWN
    assert answer.status_code == 403
    assert "has to come from the page itself" in answer.text


def test_logging_in_makes_a_new_token_and_ends_the_old_one(house: FastAPI) -> None:
    client = entered(house, "ben")
    first = client.cookies["bondwright"]
    assert client.post("/house/login", json={"name": "ben", "password": PASSWORD}).is_success
    second = client.cookies["bondwright"]
    assert first != second
    client.cookies.clear()
    old, new = ({"cookie": f"bondwright={token}"} for token in (first, second))
    assert client.get("/house/jobs", headers=old).status_code == 401
    assert client.get("/house/jobs", headers=new).status_code == 200


def test_a_token_that_was_brought_along_is_not_taken(house: FastAPI) -> None:
    client = entered(house, "")
    brought = {"cookie": "bondwright=chosen-by-somebody-else"}
    assert client.get("/house/jobs", headers=brought).status_code == 401
    body = {"name": "ben", "password": PASSWORD}
    assert client.post("/house/login", json=body, headers=brought).is_success
    assert client.cookies["bondwright"] != "chosen-by-somebody-else"
    client.cookies.clear()
    assert client.get("/house/jobs", headers=brought).status_code == 401


def test_tokens_can_not_be_guessed(store: Store) -> None:
    sessions = Sessions(store)
    tokens = {sessions.log_in("ben", PASSWORD, "x") for _ in range(3)}
    assert len(tokens) == 3
    for token in tokens:
        assert token is not None
        assert len(token) >= 43  # 256 bits in base64


def test_tokens_and_passwords_are_in_no_address(house: FastAPI) -> None:
    named = [p.name for app in (_house_app(), create_app(farmhouse(), alone=False))
             for route in _routes_of(app) for p in route.dependant.query_params]  # fmt: skip
    assert named
    assert not {"token", "password", "session", "key"} & set(named)
    client = entered(house, "ben")
    answer = client.post("/house/login", json={"name": "ben", "password": PASSWORD})
    assert client.cookies["bondwright"] not in answer.text
    assert "location" not in answer.headers


def test_nothing_is_left_in_the_browser_after_logging_out(house: FastAPI, job: str) -> None:
    client = entered(house, "ben")
    for path in ("/", "/house/jobs", f"/job/{job}/", f"/job/{job}/api/text", "/people"):
        answer = client.get(path)
        assert answer.is_success
        assert answer.headers["cache-control"] == "no-store", path
    answer = client.post("/house/logout", json={})
    assert answer.headers["clear-site-data"] == '"cache", "storage"'
    assert client.get(f"/job/{job}/api/text").status_code == 401
    assert client.get("/worker.js").status_code == 303  # no copy is kept for without a line


def test_what_is_kept_in_the_browser_is_no_secret() -> None:
    """Themes, lessons done and readings not yet sent; no name, no password, no token."""
    scripts = {p.name: p.read_text("utf-8") for p in (SOURCE / "page/static/js").glob("*.js")}
    keeping = {name for name, text in scripts.items() if "Storage" in text}
    assert keeping == {"theme.js", "lessons.js", "notes.js", "field.js", "house.js"}
    assert not any("document.cookie" in text for text in scripts.values())


def test_wrong_passwords_are_few_for_one_name() -> None:
    an_hour = 3600 / TRIES_S
    assert 2 * MOST_TRIES * an_hour <= 100


def test_many_tries_at_once_are_no_way_round(store: Store) -> None:
    sessions = Sessions(store)
    told: list[str] = []

    def one() -> None:
        try:
            told.append(str(sessions.log_in("cleo", "a guess at it", "10.1.1.1")))
        except TooManyError:
            told.append("too many")

    threads = [threading.Thread(target=one) for _ in range(MOST_TRIES + 6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told.count("too many") == 6
    assert told.count("None") == MOST_TRIES


def test_a_stranger_does_not_shut_out_whose_name_it_is(store: Store) -> None:
    sessions = Sessions(store)
    assert sessions.log_in("cleo", PASSWORD, "10.2.2.2")
    for k in range(MOST_TRIES):
        assert sessions.log_in("cleo", f"guess number {k}", "10.9.9.9") is None
    with pytest.raises(TooManyError):
        sessions.log_in("cleo", PASSWORD, "10.9.9.9")
    assert sessions.log_in("cleo", PASSWORD, "10.2.2.2")


def test_one_address_does_not_try_many_names(store: Store) -> None:
    sessions = Sessions(store)
    for k in range(MOST_OF_ADDRESS):
        assert sessions.log_in(f"nobody {k}", "a guess at it", "10.9.9.9") is None
    with pytest.raises(TooManyError):
        sessions.log_in("ben", PASSWORD, "10.9.9.9")


def test_a_stranger_sends_little(house: FastAPI) -> None:
    client = entered(house, "")
    body = {"name": "ben", "password": "x" * (MOST_ASKED + 1)}
    assert client.post("/house/login", json=body).status_code == 413
    assert client.post("/house/login", json={"name": "\x00", "password": "\x00"}).status_code == 403


def test_a_damaged_secret_lets_nobody_in(tmp_path: Path) -> None:
    with Store(str(tmp_path / "jobs.sqlite")) as store:
        add_user(store, "anna", Role.KEEP, PASSWORD)
        for secret in (b"", b"\x00" * 32):
            with store.engine.begin() as connection:
                connection.exec_driver_sql("UPDATE users SET secret = ?", (secret,))
            assert let_in(store, "anna", PASSWORD) is None
            assert let_in(store, "anna", "") is None


def test_a_password_is_changed_with_the_one_until_now_and_one_is_told(
    tmp_path: Path,
) -> None:
    with Store(str(tmp_path / "jobs.sqlite")) as store:
        add_user(store, "anna", Role.EDIT, PASSWORD, by="somebody")
        ready(store)
        house = create_house(store, Names(8642), users=True)
        house.state.store = store
        anna = entered(house, "anna")
        assert "was set by somebody" in anna.get("/house/jobs").json()["notice"]
        new = {"before": "a guess at it", "after": "four other words"}
        assert anna.post("/house/password", json=new).status_code == 403
        for weak in ("123456789012", "short", "bondwright123"):
            told = anna.post("/house/password", json={"before": PASSWORD, "after": weak})
            assert told.status_code == 422
            assert weak not in told.text
        assert anna.get("/house/jobs").is_success
        change_user(store, "anna", password="four other words", by="ben")
        again = TestClient(create_house(store, Names(8642), users=True), base_url=OWN)
        body = {"name": "anna", "password": "four other words"}
        assert again.post("/house/login", json=body, headers={"origin": OWN}).is_success
        assert "was set by ben" in again.get("/house/jobs").json()["notice"]


def test_passwords_can_be_pasted_kept_and_looked_at() -> None:
    for name, kinds in (("login.js", ["current"]), ("users.js", ["current", "new"])):
        text = (SOURCE / "page/static/js" / name).read_text("utf-8")
        assert "paste" not in text
        for kind in kinds:
            assert f'autocomplete: "{kind}-password"' in text
        assert "secret(" in text.lower()
        assert "pattern" not in text
    assert "newSecret(" in (SOURCE / "page/static/js/users.js").read_text("utf-8")


def test_only_name_password_and_code_let_in() -> None:
    assert set(wire_describe.LoginRequest.model_fields) == {"name", "password", "code"}
    assert set(wire_describe.UserInfo.model_fields) == {"name", "role", "factor"}


# --- what may be asked -------------------------------------------------------------------------


def test_a_looker_gets_no_further_by_saying_so(house: FastAPI, job: str) -> None:
    cleo = entered(house, "cleo")
    for headers in ({"x-role": "keep"}, {"cookie": "role=keep"}, {"x-forwarded-user": "anna"}):
        answer = cleo.post("/house/jobs", json={"name": "x", "starter": "house"}, headers=headers)
        assert answer.status_code in {401, 403}
    extra = {"name": "x", "starter": "house", "who": "anna", "role": "keep"}
    assert cleo.post("/house/jobs", json=extra).status_code == 422
    assert cleo.get("/house/users").status_code == 403
    assert cleo.post(f"/job/{job}/api/save", json={"why": "x", "view": {}}).status_code == 403


@pytest.mark.parametrize(
    "module", [wire, wire_describe, wire_earth, wire_field, wire_mail, wire_people]
)
def test_a_key_that_is_not_asked_for_is_refused(module: Any) -> None:
    models = [m for m in vars(module).values() if isinstance(m, type) and issubclass(m, BaseModel)]
    assert models
    for model in models:
        if model is not BaseModel:
            assert model.model_config.get("extra") == "forbid", model


def test_every_text_that_is_sent_in_has_an_end() -> None:
    """Strings of requests are as long as they are let be, down to the last list."""
    asked: list[type[BaseModel]] = [
        wire.ViewRequest, wire.EditRequest, wire.JobRequest, wire_describe.DescribeRequest,
        wire_describe.TextRequest, wire_describe.ScheduleRequest, wire_describe.SaveRequest,
        wire_describe.NewJobRequest, wire_describe.RenameRequest, wire_describe.LoginRequest,
        wire_describe.UserRequest, wire_describe.PasswordRequest, wire_people.AgreeRequest,
        wire_people.SureRequest, wire_people.LeaveRequest, wire_people.CodeRequest,
    ]  # fmt: skip
    for model in asked:
        for name, about in model.model_json_schema()["properties"].items():
            kinds = about.get("anyOf", [about])
            for kind in kinds:
                if kind.get("type") == "string" and not {"enum", "const"} & kind.keys():
                    assert "maxLength" in kind, f"{model.__name__}.{name}"


@pytest.mark.parametrize("method", ["PUT", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND"])
def test_nothing_else_can_be_done(ben: TestClient, job: str, method: str) -> None:
    assert method not in METHODS
    for path in ("/house/jobs", f"/job/{job}/api/text", "/static/page.css", "/nothing"):
        answer = ben.request(method, path)
        assert answer.status_code == 405
        assert "access-control-allow-origin" not in answer.headers


def test_the_same_thing_twice_is_refused(ben: TestClient, job: str) -> None:
    assert ben.get(f"/job/{job}/api/file?number=0&number=1").status_code == 400
    assert ben.get(f"/job/{job}/api/entry?table=runs&table=").status_code == 400
    headers = [("origin", OWN), ("origin", "http://evil.example")]
    answer = ben.post(f"/job/{job}/api/edit", json={}, headers=headers)
    assert answer.status_code in {400, 403}


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "", "text/xml"]
)
def test_only_json_is_read(ben: TestClient, job: str, kind: str) -> None:
    answer = ben.post(f"/job/{job}/api/edit", content=b"{}", headers={"content-type": kind})
    assert answer.status_code == 415


@pytest.mark.parametrize(
    "body", [b"{", b"[]", b"null", b'{"view": 1}', b"{}" * 2, b"\xff\xfe", b"[" * 100_000, b"NaN"]
)
def test_what_is_no_question_is_refused_in_words(ben: TestClient, job: str, body: bytes) -> None:
    headers = {"content-type": "application/json"}
    answer = ben.post(f"/job/{job}/api/describe", content=body, headers=headers)
    assert answer.status_code in {400, 422}
    assert answer.json()["format"] == "bondwright/problems"


def test_a_file_of_the_server_is_not_read(ben: TestClient, job: str) -> None:
    """A site file may name a file beside it, and no other."""
    secret = ROOT / "pyproject.toml"
    for name in (str(secret), "../../../../../../etc/passwd", "/etc/passwd", "//host/x.yaml",
                 "http://127.0.0.1:8642/house/users", "file:///etc/passwd"):  # fmt: skip
        text = starter("house") + f"\namendments:\n  local:\n    file: {name}\n"
        answer = ben.post(f"/job/{job}/api/text/check", json={"text": text, "view": {}})
        assert answer.is_success
        (problem,) = answer.json()["problems"][:1]
        assert "root:" not in answer.text
        assert "build-system" not in answer.text
        assert problem["problem"]


@pytest.mark.parametrize(
    "path",
    ["/static/../house.py", "/static/%2e%2e/%2e%2e/store/users.py", "/static/", "/static/js",
     "/static/js/", "/static/.git/config", "/static//etc/passwd", "/static/js/%00", "/docs",
     "/redoc", "/openapi.json", "/job/JOB/openapi.json", "/job/JOB/docs", "/job/..%2f..%2f/x"],
)  # fmt: skip
def test_nothing_beside_the_page_is_given(ben: TestClient, job: str, path: str) -> None:
    answer = ben.get(path.replace("JOB", job))
    assert answer.status_code in {404, 405}
    assert "bondwright/problems" in answer.text or answer.status_code == 404


def test_only_files_of_a_page_are_served() -> None:
    kinds = {p.suffix for p in (SOURCE / "page/static").rglob("*") if p.is_file()}
    assert kinds <= {".html", ".css", ".js", ".svg", ".ts"}


def test_what_is_handed_out_is_never_a_page(ben: TestClient) -> None:
    bad = "<script>alert(1)</script>"
    name = ben.post("/house/jobs", json={"name": bad, "starter": "service"}).json()["jobs"]
    made = next(one["id"] for one in name if one["name"] == bad)
    for path in (f"/job/{made}/api/file", "/house/bundle", f"/job/{made}/api/hunt/readings.csv",
                 f"/job/{made}/api/text", f"/job/{made}/api/site"):  # fmt: skip
        answer = ben.get(path)
        assert answer.is_success
        assert answer.headers["content-disposition"].startswith("attachment")
        assert "html" not in answer.headers["content-type"]
        assert bad not in answer.headers["content-disposition"]
        assert answer.headers["x-content-type-options"] == "nosniff"


# --- answers -----------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/login", "/house/jobs", "/job/JOB/", "/job/JOB/api/site",
                                  "/job/JOB", "/static/page.css", "/static/js/main.js", "/nothing",
                                  "/house/bundle", "/static/mark.svg", "/font.otf"])  # fmt: skip
@pytest.mark.parametrize("in_", [True, False])
def test_every_answer_has_its_headers(
    house: FastAPI, ben: TestClient, job: str, path: str, in_: bool
) -> None:
    answer = (ben if in_ else entered(house, "")).get(path.replace("JOB", job))
    headers = answer.headers
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-frame-options"] == "DENY"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    kind = headers["content-type"]
    if kind.startswith(("text/", "application/xml")):
        assert "charset=utf-8" in kind.lower()
    if kind.startswith("application/json"):
        assert headers["content-disposition"].startswith("attachment")
    assert "access-control-allow-origin" not in headers
    assert "x-powered-by" not in headers
    assert "server" not in headers


def test_browsers_keep_no_copy_of_what_is_told_bit_by_bit() -> None:
    """The framework marks its streams ``no-cache``, which lets a browser keep them."""

    async def streams(_: Any, __: Any, send: Any) -> None:
        headers = [(b"content-type", b"text/event-stream"), (b"cache-control", b"no-cache")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": b""})

    client = TestClient(Guard(streams, Names(8642), private=True), base_url=OWN)
    assert client.get("/job/x/api/jobs/job-1/events").headers["cache-control"] == "no-store"
    assert client.get("/static/js/api.js").headers["cache-control"] == "no-cache"


@pytest.mark.parametrize("number", [2**31, 2**63, 10**30, -1])
def test_no_revision_has_so_large_a_number(ben: TestClient, job: str, number: int) -> None:
    at = f"/job/{job}/api"
    view: dict[str, str] = {}
    for answer in (
        ben.get(f"{at}/file?number={number}"),
        ben.get(f"{at}/compare?before={number}"),
        ben.get(f"{at}/compare?before=1&after={number}"),
        ben.post(f"{at}/take-back?number={number}", json=view),
    ):
        assert answer.status_code == 422
        assert "should be" in answer.json()["problems"][0]["problem"]


def test_browsers_are_told_to_stay_with_tls(store: Store) -> None:
    base = "https://127.0.0.1:8642"
    client = TestClient(create_house(store, Names(8642, tls=True), users=True), base_url=base)
    for path in ("/login", "/house/jobs", "/nothing"):
        told = client.get(path, follow_redirects=False).headers["strict-transport-security"]
        assert "includeSubDomains" in told
        assert int(re.findall(r"max-age=(\d+)", told)[0]) >= 15_724_800


def test_what_nobody_foresaw_is_told_without_what_it_was(
    house: FastAPI, ben: TestClient, job: str, monkeypatch: Any, caplog: Any
) -> None:
    def fails(*_: Any, **__: Any) -> None:
        raise RuntimeError("the secret of line 17")

    monkeypatch.setattr(housing, "need", fails)
    monkeypatch.setattr("bondwright.page.asked.stray_answer", fails)
    body = {"name": PASSWORD, "starter": "house"}
    client = TestClient(house, base_url=OWN, raise_server_exceptions=False)
    client.headers["origin"], client.cookies = OWN, ben.cookies
    caplog.set_level(logging.ERROR, "bondwright.page")
    for answer in (client.post("/house/jobs", json=body), client.get(f"/job/{job}/api/stray")):
        assert answer.status_code == 500
        told = answer.json()["problems"][0]["problem"]
        mark = told.rsplit(" ", 1)[1]
        assert re.fullmatch(r"[0-9a-f]{8}", mark)
        assert mark in caplog.text
        assert "secret of line 17" not in answer.text
        assert "Traceback" not in answer.text
        assert answer.headers["x-content-type-options"] == "nosniff"
    assert "secret of line 17" in caplog.text
    assert PASSWORD not in caplog.text
    assert ben.cookies["bondwright"] not in caplog.text


def test_a_store_that_is_away_lets_nobody_in(house: FastAPI, job: str, monkeypatch: Any) -> None:
    client = entered(house, "ben")

    def away(*_: Any) -> None:
        raise UnreachableError("the store can't be read: gone")

    monkeypatch.setattr("bondwright.page.doors.known", away)
    monkeypatch.setattr("bondwright.page.doors.LOOK_S", -1.0)
    answer = client.get(f"/job/{job}/api/text")
    assert answer.status_code == 503
    assert "site:" not in answer.text
    body = {"name": "ben", "password": PASSWORD}
    assert client.post("/house/login", json=body).status_code == 503


# --- the line ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("address", "refused"),
    [
        (Address(), False),
        (Address("0.0.0.0"), True),
        (Address("192.168.1.4"), True),
        (Address(public="http://jobs.example"), True),
        (Address(public="https://jobs.example"), False),
        (Address("0.0.0.0", certificate=Path("c.pem")), False),
    ],
)
def test_others_are_served_over_tls_only(address: Address, refused: bool) -> None:
    if refused:
        with pytest.raises(ListenError, match="reads the passwords"):
            check_tls(address, plain=False)
    else:
        check_tls(address, plain=False)
    check_tls(address, plain=True)


def test_old_tls_and_weak_ciphers_are_not_spoken(tmp_path: Path) -> None:
    openssl = require_program("openssl")
    pem = tmp_path / "box.pem"
    subprocess.run(
        [openssl, "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
         "-nodes", "-days", "2", "-subj", "/CN=localhost", "-keyout", pem,
         "-out", pem.with_suffix(".crt")],
        check=True, capture_output=True,
    )  # fmt: skip
    found: list[str] = []
    with Store(str(tmp_path / "jobs.sqlite")) as store:
        add_user(store, "anna", Role.KEEP, PASSWORD)
        address = Address(port=0, certificate=pem.with_suffix(".crt"), key=pem)
        thread = threading.Thread(
            target=serve,
            args=(
                lambda names: create_house(store, names, users=True),
                address,
                lambda shown, _: found.append(shown),
            ),
            daemon=True,
        )
        thread.start()
        while not found:
            assert thread.is_alive()
            time.sleep(0.02)
        port = int(found[0].rstrip("/").rpartition(":")[2])

        def spoken(*options: str) -> str:
            command = [str(openssl), "s_client", "-connect", f"127.0.0.1:{port}", *options]
            done = subprocess.run(command, input="", capture_output=True, text=True, timeout=30)
            match = re.search(r"Cipher is (\S+)", done.stdout)
            return match[1] if match else "(NONE)"

        assert spoken("-tls1_3").startswith("TLS_")
        assert re.match(r"ECDHE-.*(GCM|CHACHA20)", spoken("-tls1_2"))
        for old in ("-tls1", "-tls1_1"):
            assert spoken(old, "-cipher", "ALL:@SECLEVEL=0") == "(NONE)"
        for weak in ("AES128-SHA", "ECDHE-ECDSA-AES128-SHA", "ECDHE-ECDSA-AES256-SHA384", "NULL"):
            assert spoken("-tls1_2", "-cipher", f"{weak}:@SECLEVEL=0") == "(NONE)"


# --- the code ----------------------------------------------------------------------------------


def _imports(path: Path) -> set[str]:
    tree = ast.parse(path.read_text("utf-8"))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add(str(node.module))
    return found


ASKS = {
    "listen.py": {"socket", "ssl"},  # it answers
    "icap.py": {"socket", "selectors"},  # the scanner of the command line
    "notices.py": {"smtplib", "ssl"},  # the mail server of the command line
}
"""What speaks to others, and by what."""


def test_the_server_asks_only_who_is_on_its_command_line_and_runs_no_other_program() -> None:
    for path in [*(SOURCE / "page").rglob("*.py"), *(SOURCE / "store").rglob("*.py")]:
        bad = {"subprocess", "urllib.request", "http.client", "httpx2", "requests", "ftplib",
               "smtplib", "socket", "ssl", "selectors", "pickle",
               "shelve", "marshal", "pty", "telnetlib", "ldap"}  # fmt: skip
        assert not _imports(path) & bad - ASKS.get(path.name, set()), path


def test_no_text_is_run_as_code() -> None:
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in {"eval", "exec", "compile", "__import__"}, path
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                named = (node.value.id, node.attr)
                assert named not in {("os", "system"), ("os", "popen"), ("yaml", "unsafe_load")}
    for path in (SOURCE / "page/static").rglob("*.js"):
        text = path.read_text("utf-8")
        assert not re.search(
            r"\beval\(|new Function\(|document\.write|set(Timeout|Interval)\(\"", text
        )


def test_readers_of_yaml_and_xml_are_the_careful_ones() -> None:
    for path in SOURCE.rglob("*.py"):
        text = path.read_text("utf-8")
        for call in re.findall(r"yaml\.load\([^\n]*", text):
            assert "Loader=" in call
            assert "loader" in call.lower()
        assert not re.search(r"yaml\.(Full|Unsafe)?Loader\b", text)
    for path in SOURCE.rglob("*.py"):
        if "xml.etree" in path.read_text("utf-8"):
            assert path.name in {"dxf.py"}, f"{path} reads XML: whose?"


def test_scripts_come_from_the_page_itself_only() -> None:
    for path in (SOURCE / "page/static").rglob("*"):
        if path.suffix in {".html", ".css", ".js"}:
            found = re.findall(
                r"""(?:src|href|url|import)\s*[=(]?\s*["'](https?:)?//""", path.read_text("utf-8")
            )
            assert found == [], path


@pytest.mark.parametrize("file", ["\x80", "not base 64", "PK", "UEsDBAoAAAAAA", "\U0001f50c"])
def test_a_file_that_did_not_arrive_whole_is_told(ben: TestClient, job: str, file: str) -> None:
    """Found by schemathesis: characters beyond ASCII fell through."""
    body = {"file": file, "panel": "panel", "view": {}}
    assert ben.post(f"/job/{job}/api/schedule/read", json=body).status_code == 422
    assert ben.post("/house/bundle", json={"file": file}).status_code == 422
