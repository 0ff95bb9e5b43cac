"""What is sent in is looked through: by ourselves, and by a scanner (ICAP, RFC 3507)."""

from __future__ import annotations

import base64
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from bondwright.exchange.sheets import workbook
from bondwright.page import icap
from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.icap import ObjectsError, ScanError, Scanner, scanner
from bondwright.site.starters import starter
from bondwright.store.bundle import bundle
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user
from tests.entering import ready
from tests.page.scanners import Asked, scanning, test_string

OWN = "http://127.0.0.1:8642"
PASSWORD = "four words are enough"
HOUSE = starter("house")
PANEL = "house panel"
NOTED = HOUSE + f"# {test_string().decode()}\n"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store(str(tmp_path_factory.mktemp("store") / "jobs.sqlite")) as opened:
        add_user(opened, "ben", Role.EDIT, PASSWORD)
        ready(opened)
        opened.add("Garage", {SITE: HOUSE.encode()}, who="ben", why="begun")
        yield opened


@pytest.fixture(scope="module")
def asked() -> Iterator[Asked]:
    with scanning() as running:
        yield running


def ben(store: Store, looks: Scanner | None) -> TestClient:
    house = create_house(store, Names(8642), users=True, scanner=looks)
    client = TestClient(house, base_url=OWN)
    client.headers["origin"] = OWN
    body = {"name": "ben", "password": PASSWORD}
    assert client.post("/house/login", json=body).status_code == 200
    return client


@pytest.fixture(scope="module")
def watched(store: Store, asked: Asked) -> TestClient:
    return ben(store, Scanner("127.0.0.1", asked.port))


@pytest.fixture(scope="module")
def alone(store: Store) -> TestClient:
    return ben(store, None)


def problem(answer: object) -> tuple[int, str]:
    told = answer.json()["problems"][0]["problem"]  # type: ignore[attr-defined]
    return answer.status_code, told  # type: ignore[attr-defined]


def in_64(data: bytes) -> str:
    return base64.b64encode(data).decode()


def bundled(tmp_path: Path, name: str, data: bytes) -> bytes:
    with Store(str(tmp_path / "other.sqlite")) as other:
        other.add("Barn", {SITE: HOUSE.encode(), name: data}, who="ben", why="begun")
        return bundle(other)


# --- by ourselves -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("tool.exe", b"MZ\x90", "'tool.exe' is not taken in: only .yaml"),
        ("readings.csv", b"MZ\x90", "'readings.csv' is not taken in: it is no text but a program"),
        ("plan.yaml", b"PK\x03\x04", "no text but an archive"),
        ("notes.txt", b"a\0b", "no text: line 1 holds U+0000"),
    ],
)
def test_a_bundle_with_something_else_in_it_is_refused(
    store: Store, alone: TestClient, tmp_path: Path, name: str, data: bytes, told: str
) -> None:
    before = store.jobs()
    body = {"file": in_64(bundled(tmp_path, name, data))}
    status, text = problem(alone.post("/house/bundle", json=body))
    assert status == 422
    assert told in text
    assert store.jobs() == before


def test_a_bundle_with_a_stowaway_is_refused(store: Store, alone: TestClient) -> None:
    out = io.BytesIO(bundle(store))
    with zipfile.ZipFile(out, "a") as file:
        file.writestr("tool.exe", b"MZ")
    before = store.jobs()
    answer = alone.post("/house/bundle", json={"file": in_64(out.getvalue())})
    told = "'the bundle' is not taken in: its part 'tool.exe' belongs to no job"
    assert problem(answer) == (422, told)
    hidden = in_64(b"MZ" + bundle(store))
    answer = alone.post("/house/bundle", json={"file": hidden})
    assert problem(answer)[1].endswith("something stands between the parts of the zip file")
    assert store.jobs() == before


def test_a_schedule_with_macros_is_refused(store: Store, alone: TestClient) -> None:
    out = io.BytesIO(workbook([("LP", [["Ckt", "Breaker"], ["1", "20 A"]])]))
    good = in_64(out.getvalue())
    with zipfile.ZipFile(out, "a") as file:
        file.writestr("xl/vbaProject.bin", b"macros")
    job = store.find("Garage").id
    body = {"panel": PANEL, "file": in_64(out.getvalue()), "name": "a.xlsx", "view": {}}
    for what in ("read", "add"):
        at = f"/job/{job}/api/schedule/{what}"
        status, text = problem(alone.post(at, json=body))
        assert status == 422
        assert text.startswith("'a.xlsx' is not taken in: it holds macros")
        answer = alone.post(at, json={**body, "file": "", "text": "Ckt,Breaker\n1,\x07\n"})
        assert problem(answer) == (
            422, "'the table' is not taken in: it is no text: line 2 holds U+0007",
        )  # fmt: skip
    answer = alone.post(f"/job/{job}/api/schedule/read", json={**body, "file": good})
    assert answer.status_code == 200
    status, text = problem(
        alone.post(f"/job/{job}/api/schedule/read", json={**body, "file": good, "name": "a.csv"})
    )
    assert (status, text) == (422, "'a.csv' is not taken in: it is no text but an archive")


# --- by a scanner -------------------------------------------------------------------------------


def test_a_bundle_the_scanner_objects_to_is_not_kept(
    store: Store, watched: TestClient, asked: Asked, tmp_path: Path
) -> None:
    before = store.jobs()
    body = {"file": in_64(bundled(tmp_path, "notes.txt", test_string()))}
    answer = watched.post("/house/bundle", json=body)
    told = "'notes.txt' is not taken in: the scanner objects to it (EICAR-Test)"
    assert problem(answer) == (422, told)
    assert store.jobs() == before
    assert ("/notes.txt", test_string()) in asked.files


def test_whatever_is_taken_in_went_to_the_scanner(
    store: Store, watched: TestClient, asked: Asked
) -> None:
    job = store.find("Garage").id
    at = f"/job/{job}/api"
    view: dict[str, str] = {}
    objected = "is not taken in: the scanner objects to it (EICAR-Test)"
    table = f"Ckt,Description,Breaker\n1,{test_string().decode()},20 A\n"
    schedule = {"panel": PANEL, "name": "a.csv", "view": view}
    in_file = {**schedule, "file": in_64(table.encode())}
    for path, body, name in (
        ("/house/jobs", {"name": "Shed", "text": NOTED}, SITE),
        (f"{at}/text", {"text": NOTED, "view": view}, SITE),
        (f"{at}/schedule/read", in_file, "a.csv"),
        (f"{at}/schedule/add", in_file, "a.csv"),
        (f"{at}/schedule/read", {**schedule, "text": table}, "table.txt"),
    ):
        seen = len(asked.files)
        assert problem(watched.post(path, json=body)) == (422, f"'{name}' {objected}")
        assert len(asked.files) == seen + 1
    changed = HOUSE + "# looked at\n"
    answer = watched.post(f"{at}/text", json={"text": changed, "view": view})
    assert answer.status_code == 200, answer.text
    seen = len(asked.files)
    answer = watched.post(f"{at}/save", json={"why": "noted", "view": view})
    assert answer.status_code == 200, answer.text
    assert asked.files[seen:] == [("/site.yaml", changed.encode())]
    assert store.read(job).files[SITE] == changed.encode()
    answer = watched.post("/house/bundle", json={"file": in_64(bundle(store, [job]))})
    assert answer.status_code == 200
    assert [body for _, body in asked.files[seen + 1 :]] == [HOUSE.encode(), changed.encode()]


def test_what_was_put_in_by_forms_is_looked_through_when_it_is_saved(
    store: Store, watched: TestClient, asked: Asked
) -> None:
    job = store.find("Garage")
    at = f"/job/{job.id}/api"
    entry = watched.get(f"{at}/entry?table=&id=").json()["entry"]
    entry["note"] = "typed into a form"
    change = {"changes": [{"table": "", "entry": entry}], "view": {}}
    assert watched.post(f"{at}/describe", json=change).status_code == 200
    asked.way = "500"
    status, text = problem(watched.post(f"{at}/save", json={"why": "noted", "view": {}}))
    asked.way = "204"
    assert (status, text.partition(",")[0]) == (503, "the scanner answers 500")
    assert store.find("Garage").newest == job.newest
    assert watched.post(f"{at}/save", json={"why": "noted", "view": {}}).status_code == 200
    assert b"typed into a form" in asked.files[-1][1]
    assert asked.files[-1][1] == store.read(job.id).files[SITE]


def test_without_the_scanner_nothing_is_taken_in(store: Store) -> None:
    with scanning() as gone:
        pass
    client = ben(store, Scanner("127.0.0.1", gone.port))
    job, before = store.find("Garage"), store.jobs()
    at = f"/job/{job.id}/api"
    view: dict[str, str] = {}
    told = (
        "the scanner does not answer, and nothing is taken in that it hasn't looked through",
        "the scanner did not answer a moment ago, and nothing is taken in that it hasn't looked "
        "through",
    )
    for path, body in (
        ("/house/bundle", {"file": in_64(bundle(store))}),
        ("/house/jobs", {"name": "Shed", "text": HOUSE}),
        (f"{at}/text", {"text": HOUSE + "#\n", "view": view}),
        (f"{at}/schedule/read", {"panel": "x", "text": "Ckt,Breaker\n", "view": view}),
        (f"{at}/save", {"why": "x", "view": view}),
    ):
        status, text = problem(client.post(path, json=body))
        assert (status, text in told) == (503, True), text
    assert store.jobs() == before
    assert client.get(f"{at}/site").status_code == 200  # what is there can be read all the same
    answer = client.post("/house/jobs", json={"name": "From ours", "starter": "house"})
    assert answer.status_code == 200


# --- as the standard has it ---------------------------------------------------------------------


def test_the_request_is_that_of_the_standard(asked: Asked) -> None:
    """RFC 3507, 4.8.2 and 4.4.1: the test's scanner reads it by the letter."""
    asked.heads.clear()
    Scanner("127.0.0.1", asked.port, "look/here").look("a b\r\nX: y.txt", b"x" * 200_000)
    first, *rest = asked.heads[0].split("\r\n")
    assert first == f"REQMOD icap://127.0.0.1:{asked.port}/look/here ICAP/1.0"
    assert {f"Host: 127.0.0.1:{asked.port}", "Allow: 204"} <= set(rest)
    assert asked.files[-1] == ("/a%20b%0D%0AX%3A%20y.txt", b"x" * 200_000)
    Scanner("127.0.0.1", asked.port).look("empty.txt", b"")
    assert asked.files[-1] == ("/empty.txt", b"")


def test_the_same_given_back_lets_pass_and_anything_else_objects() -> None:
    """RFC 3507, 4.6: who may not answer 204 gives the request back."""
    with scanning("back") as running:
        Scanner("127.0.0.1", running.port).look("a.txt", b"site: barn\n")
    with scanning("changed") as running, pytest.raises(ObjectsError, match="scanner objects"):
        Scanner("127.0.0.1", running.port).look("a.txt", b"site: barn\n")


def test_a_scanner_may_answer_while_it_is_being_told() -> None:
    """More than the lines hold in both directions: whoever only sends would wait for ever."""
    with scanning("eager") as running:
        Scanner("127.0.0.1", running.port).look("large.txt", b"x" * 8_000_000)
        assert len(running.files[0][1]) == 8_000_000


@pytest.mark.parametrize("way", ["500", "odd", "broken", "minus", "endless", "empty", "slow"])
def test_an_answer_that_is_none_lets_nothing_pass(
    way: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(icap, "WHOLE_S", 0.3)
    with scanning(way) as running, pytest.raises(ScanError, match="nothing is taken in"):
        Scanner("127.0.0.1", running.port).look("a.txt", b"text")


def test_one_that_is_away_is_left_alone_for_a_while_and_then_asked_again() -> None:
    now = [100.0]
    with scanning() as running:
        looks = Scanner("127.0.0.1", running.port, clock=lambda: now[0])
        looks.try_out()
    for told in ("does not answer", "did not answer a moment ago"):
        with pytest.raises(ScanError, match=told):
            looks.try_out()
    with scanning() as running:
        looks.port = running.port
        with pytest.raises(ScanError, match="a moment ago"):
            looks.try_out()
        now[0] += icap.REST_S
        looks.try_out()
        assert len(running.files) == 1


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("127.0.0.1:1344", ("127.0.0.1", 1344, "reqmod")),
        ("scan.example", ("scan.example", 1344, "reqmod")),
        ("[::1]:1345/avscan", ("[::1]", 1345, "avscan")),
        ("10.0.0.9:1/a/b-c.d", ("10.0.0.9", 1, "a/b-c.d")),
    ],
)
def test_where_a_scanner_is(text: str, found: tuple[str, int, str]) -> None:
    made = scanner(text)
    assert (made.host, made.port, made.service) == found


@pytest.mark.parametrize("text", ["", ":1", "a:0", "a:65536", "a b:1", "icap://a:1", "a:1/\r\nX"])
def test_what_is_no_place_of_a_scanner(text: str) -> None:
    with pytest.raises(ValueError, match="is no place of a scanner"):
        scanner(text)
