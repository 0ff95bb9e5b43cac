"""Jobs served to several people: revisions, conflicts, who may do what, who is let in."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from bondwright.page.doors import IDLE_S, LONGEST_S, LOOK_S, MOST_TRIES, Sessions
from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.tries import TRIES_S, TooManyError
from bondwright.site import read
from bondwright.site.starters import starter
from bondwright.store.bundle import unbundle
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, change_user, remove_user, users
from tests.entering import ready, words

OWN = "http://127.0.0.1:8642"
PASSWORD = "four words are enough"
FEEDER = "garage feeder"


class Person:
    """Somebody with a browser of their own."""

    def __init__(self, house: Any, name: str = "", base: str = OWN) -> None:
        self.client = TestClient(house, base_url=base)
        self.client.headers["origin"] = base
        if name:
            self.post("/house/login", words(house.state.store, name, PASSWORD))

    def get(self, path: str, status: int = 200) -> Any:
        answer = self.client.get(path, follow_redirects=False)
        assert answer.status_code == status, answer.text
        return answer.json() if "json" in answer.headers.get("content-type", "") else answer

    def post(self, path: str, body: dict[str, Any] | None = None, status: int = 200) -> Any:
        answer = self.client.post(path, json={"view": {}} if body is None else body)
        assert answer.status_code == status, answer.text
        return answer.json()

    def lengthen(self, job: str, to: str, status: int = 200) -> Any:
        query = {"table": "runs", "id": FEEDER}
        entry = self.client.get(f"/job/{job}/api/entry", params=query).json()["entry"]
        change = {"table": "runs", "was": FEEDER, "entry": {**entry, "length": to}}
        body = {"changes": [change], "view": {}}
        return self.post(f"/job/{job}/api/describe", body, status)

    def save(self, job: str, why: str, status: int = 200) -> Any:
        return self.post(f"/job/{job}/api/save", {"why": why, "view": {}}, status)


@pytest.fixture
def job(store: Store) -> str:
    text = starter("house").encode()
    return store.add("Garage", {SITE: text, "notes.txt": b"dig"}, who="anna", why="begun").job


@pytest.fixture
def house(store: Store) -> Iterator[Any]:
    for name, role in (("anna", Role.KEEP), ("ben", Role.EDIT), ("cleo", Role.LOOK)):
        add_user(store, name, role, PASSWORD)
    ready(store)
    made = create_house(store, Names(8642), users=True)
    made.state.store = store
    with TestClient(made):
        yield made


def test_every_save_is_a_revision_with_who_when_and_why(house: Any, store: Store, job: str) -> None:
    ben = Person(house, "ben")
    ben.lengthen(job, "75 ft")
    assert ben.get("/house/jobs")["jobs"][0]["unsaved"]
    told = ben.save(job, "", 422)
    assert "reason" in told["problems"][0]["problem"]
    kept = ben.save(job, "measured it")
    assert (kept["revision"], kept["unsaved"], kept["who"]) == (2, False, "ben")
    newest = store.find(job).newest
    assert (newest.number, newest.who, newest.why) == (2, "ben", "measured it")
    snapshot = store.read(job)
    assert snapshot.files[SITE] == starter("house").replace("60 ft", "75 ft").encode()
    assert snapshot.files["notes.txt"] == b"dig"
    listed = ben.get(f"/job/{job}/api/revisions")["revisions"]
    assert [(r["number"], r["who"]) for r in listed] == [(1, "anna"), (2, "ben")]


def test_two_people_at_one_job_lose_nothing(house: Any, store: Store, job: str) -> None:
    anna, ben = Person(house, "anna"), Person(house, "ben")
    anna.lengthen(job, "70 ft")
    ben.lengthen(job, "80 ft")
    anna.save(job, "anna's")
    told = ben.save(job, "ben's", 409)
    assert "changed by anna" in told["problems"][0]["problem"]
    assert "anna saved revision 2: anna's" in ben.get(f"/job/{job}/api/kept")["elsewhere"]
    assert [r.who for r in store.revisions(job)] == ["anna", "anna"]
    compared = ben.get(f"/job/{job}/api/compare?before=2")
    assert any("70 ft → 80 ft" in line for part in compared["parts"] for line in part["lines"])
    ben.post(f"/job/{job}/api/take-theirs", {"mine": True, "view": {}})
    ben.save(job, "ben's")
    texts = [store.read(job, n).files[SITE].decode() for n in (1, 2, 3)]
    assert [t.split("garage feeder:")[1].split("length: ")[1][:5] for t in texts] == [
        "60 ft", "70 ft", "80 ft",
    ]  # fmt: skip
    assert anna.get(f"/job/{job}/api/kept")["elsewhere"]
    anna.post(f"/job/{job}/api/take-theirs")
    assert not anna.get(f"/job/{job}/api/kept")["unsaved"]


def test_what_two_people_changed_is_both_in_what_is_saved_last(
    house: Any, store: Store, job: str
) -> None:
    anna, ben = Person(house, "anna"), Person(house, "ben")
    entry = ben.get(f"/job/{job}/api/entry?table=places&id=garage+panel")["entry"]
    noted = {"table": "places", "was": "garage panel", "entry": {**entry, "note": "by the door"}}
    ben.post(f"/job/{job}/api/describe", {"changes": [noted], "view": {}})
    anna.lengthen(job, "70 ft")
    anna.save(job, "anna's")
    ben.save(job, "ben's", 409)
    ben.post(f"/job/{job}/api/take-theirs", {"mine": True, "view": {}})
    ben.save(job, "ben's")
    site = read(store.read(job).files[SITE].decode())
    assert site.runs[FEEDER].length == pytest.approx(70 * 0.3048)
    assert site.places["garage panel"].note == "by the door"


def test_designed_against_built_and_back(house: Any, job: str) -> None:
    ben = Person(house, "ben")
    entry = {"at": "garage panel", "by": "screw"}
    change = {"table": "ties", "id": "as found", "entry": entry}
    ben.post(f"/job/{job}/api/describe", {"changes": [change], "view": {}})
    ben.save(job, "as built")
    compared = ben.get(f"/job/{job}/api/compare?before=1&after=2")
    assert [found["where"] for found in compared["new"]] == ["as found"]
    assert "load side" in compared["new"][0]["title"]
    assert compared["parts"][0]["head"] == "In the description"
    turned = ben.get(f"/job/{job}/api/compare?before=2&after=1")
    assert turned["gone"] == compared["new"]
    ben.get(f"/job/{job}/api/compare?before=1&after=9", 404)
    answer = ben.client.post(f"/job/{job}/api/take-back", params={"number": 1}, json={})
    assert answer.json()["edits"]["unsaved"]
    ben.save(job, "back to the design")
    assert ben.get(f"/job/{job}/api/file?number=3").text == starter("house")


def test_a_looker_tries_out_and_saves_nothing(house: Any, store: Store, job: str) -> None:
    cleo = Person(house, "cleo")
    cleo.post(f"/job/{job}/api/edit", {"action": "put on", "name": "garage panel", "view": {}})
    cleo.lengthen(job, "80 ft")
    assert not cleo.get(f"/job/{job}/api/kept")["may_save"]
    told = cleo.save(job, "mine", 403)
    assert "save nothing" in told["problems"][0]["problem"]
    cleo.post("/house/jobs", {"name": "x", "starter": "house"}, 403)
    cleo.post(f"/house/jobs/{job}/name", {"name": "x"}, 403)
    cleo.post("/house/bundle", {"file": ""}, 403)
    assert len(store.revisions(job)) == 1
    assert [found.name for found in store.jobs()] == ["Garage"]
    ben = Person(house, "ben")
    assert "80 ft" not in ben.get(f"/job/{job}/api/text")["text"].split("garage feeder")[1][:200]
    ben.get("/house/users", 403)
    ben.post(
        "/house/users", {"name": "dora", "role": "keep", "password": PASSWORD, "new": True}, 403
    )
    assert ben.client.delete("/house/users", params={"name": "cleo"}).status_code == 403


def test_a_job_is_started_renamed_bundled_and_brought_back(house: Any, store: Store) -> None:
    ben = Person(house, "ben")
    made = ben.post("/house/jobs", {"name": "", "starter": "shop", "why": "survey"})["jobs"][0]
    assert (made["name"], made["newest"]["who"], made["newest"]["why"]) == (
        "My shop", "ben", "survey",
    )  # fmt: skip
    ben.post("/house/jobs", {"name": "My shop", "starter": "shop"}, 422)
    told = ben.post("/house/jobs", {"name": "bad", "text": "site: x\n"}, 422)
    assert told["problems"][0]["line"] > 0
    ben.post(f"/house/jobs/{made['id']}/name", {"name": "Cooperage"})
    data = ben.client.get("/house/bundle").content
    assert [each.name for each in unbundle(data)] == ["Cooperage"]
    back = ben.post("/house/bundle", {"file": base64.b64encode(data).decode()})
    assert [each["name"] for each in back["jobs"]] == ["Cooperage", "Cooperage (2)"]
    ben.post("/house/bundle", {"file": base64.b64encode(data[:-40]).decode()}, 422)
    assert len(store.jobs()) == 2
    assert ben.get(f"/job/{made['id']}/").text.startswith("<!doctype html>")
    ben.get("/job/nothing/api/site", 404)


@pytest.mark.parametrize(
    "path",
    ["/house/jobs", "/house/users", "/house/bundle", "/job/JOB/api/site", "/job/JOB/api/text"],
)
def test_nobody_gets_anything_without_logging_in(house: Any, job: str, path: str) -> None:
    stranger = Person(house)
    told = stranger.get(path.replace("JOB", job), 401)
    assert told["format"] == "bondwright/problems"
    assert "Garage" not in str(told)


@pytest.mark.parametrize("path", ["/", "/people", "/job/JOB/"])
def test_a_page_leads_to_the_door(house: Any, job: str, path: str) -> None:
    answer = Person(house).get(path.replace("JOB", job), 303)
    assert answer.headers["location"] == f"/login?to={path.replace('JOB', job)}"
    assert Person(house).get("/login").status_code == 200
    assert Person(house).get("/static/js/login.js").status_code == 200
    Person(house).get("/static/%2e%2e/house/jobs", 404)


def test_a_change_by_a_strangers_page_is_refused_though_one_is_in(house: Any, job: str) -> None:
    ben = Person(house, "ben")
    ben.client.headers["origin"] = "http://evil.example"
    ben.save(job, "x", 403)
    ben.post("/house/logout", {}, 403)


@pytest.mark.parametrize(("name", "word"), [("ben", "wrong"), ("nobody", PASSWORD), ("", "")])
def test_a_wrong_name_or_password_is_refused_alike(house: Any, name: str, word: str) -> None:
    stranger = Person(house)
    told = stranger.post("/house/login", {"name": name, "password": word}, 403)
    assert told["problems"][0]["problem"] == "name or password is wrong"
    assert not stranger.client.cookies


@pytest.mark.parametrize(
    ("names", "base", "secure"),
    [
        (Names(8642), OWN, False),
        (Names(8642, public="https://jobs.example"), "https://jobs.example", True),
        (Names(8642, tls=True), "https://127.0.0.1:8642", True),
    ],
)
def test_the_cookie_is_kept_from_scripts_and_other_sites(
    store: Store, names: Names, base: str, secure: bool
) -> None:
    add_user(store, "ben", Role.EDIT, PASSWORD)
    ready(store)
    client = TestClient(create_house(store, names, users=True), base_url=base)
    body = {"name": "ben", "password": PASSWORD}
    answer = client.post("/house/login", json=body, headers={"origin": base})
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "path=/" in cookie
    assert ("; secure" in cookie) is secure
    assert cookie.startswith("__host-") is secure
    assert ("strict-transport-security" in answer.headers) is secure
    assert client.get("/house/jobs").status_code == 200
    client.post("/house/logout", json={}, headers={"origin": base})
    assert client.get("/house/jobs").status_code == 401


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_one_cannot_go_on_trying(store: Store) -> None:
    add_user(store, "ben", Role.EDIT, PASSWORD)
    clock = Clock()
    sessions = Sessions(store, clock)
    for k in range(MOST_TRIES):
        assert sessions.log_in("ben", f"guess {k}", "10.0.0.9") is None
    for address in ("10.0.0.8", "10.0.0.9"):
        with pytest.raises(TooManyError, match="try again in 10 minutes"):
            sessions.log_in("ben", PASSWORD, address)
    clock.now += TRIES_S + 1
    assert sessions.log_in("ben", PASSWORD, "10.0.0.9")


def test_too_many_tries_are_told_over_the_wire(house: Any) -> None:
    stranger = Person(house)
    for _ in range(MOST_TRIES):
        stranger.post("/house/login", {"name": "ben", "password": "guess"}, 403)
    told = stranger.post("/house/login", {"name": "ben", "password": PASSWORD}, 429)
    assert "too many" in told["problems"][0]["problem"]


def test_a_session_ends(store: Store) -> None:
    add_user(store, "anna", Role.KEEP, PASSWORD)
    add_user(store, "ben", Role.EDIT, PASSWORD)
    clock = Clock()
    sessions = Sessions(store, clock)

    def let_in() -> str:
        token = sessions.log_in("ben", PASSWORD, "x")
        assert token is not None
        return token

    assert sessions.user("made up") is None
    token = let_in()
    clock.now += IDLE_S - 1
    assert sessions.user(token) is not None
    clock.now += IDLE_S
    assert sessions.user(token) is None
    token, end = let_in(), clock.now + LONGEST_S
    while clock.now < end - IDLE_S:
        clock.now += IDLE_S / 2
        assert sessions.user(token) is not None
    clock.now = end
    assert sessions.user(token) is None

    token = let_in()
    change_user(store, "ben", role=Role.LOOK)
    clock.now += LOOK_S
    found = sessions.user(token)
    assert found is not None
    assert found.role is Role.LOOK
    change_user(store, "ben", password=PASSWORD + "!")
    clock.now += LOOK_S
    assert sessions.user(token) is None
    token = sessions.log_in("ben", PASSWORD + "!", "x") or ""
    remove_user(store, "ben")
    sessions.look_again()
    assert sessions.user(token) is None


def test_the_users_are_kept_on_the_page(house: Any, store: Store) -> None:
    anna = Person(house, "anna")
    told = anna.post(
        "/house/users", {"name": "dora", "role": "look", "password": "short", "new": True}, 422
    )
    assert "characters" in told["problems"][0]["problem"]
    anna.post("/house/users", {"name": "dora", "role": "look", "password": PASSWORD, "new": True})
    ready(store)
    dora = Person(house, "dora")
    anna.post("/house/users", {"name": "dora", "role": "edit"})
    dora.post("/house/jobs", {"name": "hers", "starter": "service"})
    anna.post("/house/users", {"name": "anna", "role": "look"}, 422)
    assert anna.client.delete("/house/users", params={"name": "anna"}).status_code == 422
    assert anna.client.delete("/house/users", params={"name": "dora"}).status_code == 200
    dora.get("/house/jobs", 401)
    assert {user.name for user in users(store)} == {"anna", "ben", "cleo"}
    assert store.find("hers").newest.who == "dora"


def test_ones_own_password_ends_ones_sessions(house: Any) -> None:
    ben = Person(house, "ben")
    new = "other words are good too"
    ben.post("/house/password", {"before": "wrong", "after": new}, 403)
    ben.post("/house/password", {"before": PASSWORD, "after": new})
    ben.get("/house/jobs", 401)
    ben.post("/house/login", {"name": "ben", "password": PASSWORD}, 403)
    ben.post("/house/login", {"name": "ben", "password": new})
    ben.get("/house/jobs")


def test_on_ones_own_machine_nobody_logs_in(store: Store, job: str) -> None:
    me = Person(create_house(store, Names(8642), users=False))
    told = me.get("/house/jobs")
    assert (told["role"], told["users"]) == ("keep", False)
    me.lengthen(job, "70 ft")
    me.save(job, "mine")
    assert store.find(job).newest.who == told["who"]
    me.get("/house/users", 404)
    me.get("/login", 404)
