"""At the door and about oneself: agreeing, the second factor, taking one's data along, leaving."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from bondwright.page.doors import BEFORE_AGREEING, MOST_TRIES, OPEN, Sessions, WrongCodeError
from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.policy import KEPT, Policy, PolicyError, read_policy
from bondwright.page.tries import TooManyError
from bondwright.site.starters import starter
from bondwright.store import users as keeping_users
from bondwright.store.changes import Change, What
from bondwright.store.factor import code_at, set_factor, step_of
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import LEFT, Role, add_user, users
from tests.entering import SECRET, code, ready, words
from tests.page.test_security import ROUTES

OWN = "http://127.0.0.1:8642"
PASSWORD = "four words are enough"
TEXT = Policy(answers="Anna, the office", backups="90 days, on a disk in the office")


class Browser(TestClient):
    """Somebody with a browser of their own."""

    def __init__(self, house: FastAPI) -> None:
        super().__init__(house, base_url=OWN, follow_redirects=False)
        self.headers["origin"] = OWN

    def say(self, path: str, status: int = 200, **body: Any) -> Any:
        """Post something; return what is answered."""
        answer = self.post(path, json=body)
        assert answer.status_code == status, answer.text
        return answer.json()

    def told(self, path: str, status: int = 200) -> Any:
        """Get something; return what is answered."""
        answer = self.get(path)
        assert answer.status_code == status, answer.text
        return answer.json()

    def agree(self) -> Any:
        """Agree to what is kept."""
        return self.say("/house/agree", to=self.told("/house/kept")["mark"])


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash passwords at a lower cost: what it is has tests of its own."""
    monkeypatch.setitem(keeping_users._COST, "n", 2**8)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(str(tmp_path / "jobs.sqlite")) as opened:
        add_user(opened, "anna", Role.KEEP, PASSWORD)
        yield opened


@pytest.fixture
def house(store: Store) -> FastAPI:
    return create_house(store, Names(8642), users=True, policy=TEXT)


def garage(store: Store, who: str) -> str:
    return store.add("Garage", {SITE: starter("house").encode()}, who=who, why="begun").job


# --- agreeing ----------------------------------------------------------------------------------


def test_nothing_is_served_before_one_has_agreed(house: FastAPI, store: Store) -> None:
    """Asked of the server itself, by somebody who is let in and has not agreed."""
    job = garage(store, "anna")
    anna = Browser(house)
    assert anna.say("/house/login", name="anna", password=PASSWORD)["stage"] == "agree"
    tried = 0
    for method, path in ROUTES:
        if path in {*OPEN, *BEFORE_AGREEING}:
            continue
        body: dict[str, str] | None = None if method in {"GET", "HEAD"} else {}
        answer = anna.request(method, path.replace("JOB", job), json=body)
        assert answer.status_code in {303, 403}, path
        assert "Garage" not in answer.text
        tried += 1
    assert tried > 40
    assert anna.told("/house/door") == {
        "format": "bondwright/page-in", "version": 1, "who": "anna", "stage": "agree",
    }  # fmt: skip
    assert "have not agreed" in anna.told("/house/jobs", 403)["problems"][0]["problem"]


def test_one_agrees_to_the_text_of_today_and_that_is_kept(house: FastAPI, store: Store) -> None:
    anna = Browser(house)
    anna.say("/house/login", name="anna", password=PASSWORD)
    anna.say("/house/agree", 409, to="ab" * 32)
    assert anna.told("/house/door")["stage"] == "agree"
    assert anna.agree()["stage"] == "factor"
    assert anna.told("/house/jobs")["who"] == "anna"
    told = anna.told("/house/you/data")["agreed"]
    assert told["to the text with SHA-256"] == TEXT.mark
    assert re.match(r"\d{4}-\d\d-\d\dT", told["at"])
    again = Browser(house)
    assert again.say("/house/login", name="anna", password=PASSWORD)["stage"] == "factor"
    # Another text, and everybody is asked anew.
    other = Policy(TEXT.answers, "30 days")
    assert other.mark != TEXT.mark
    asked = Browser(create_house(store, Names(8642), users=True, policy=other))
    assert asked.say("/house/login", name="anna", password=PASSWORD)["stage"] == "agree"
    asked.told("/house/jobs", 403)
    asked.say("/house/agree", 409, to=TEXT.mark)


def test_who_declines_is_out(house: FastAPI) -> None:
    anna = Browser(house)
    anna.say("/house/login", name="anna", password=PASSWORD)
    anna.say("/house/logout")
    assert anna.told("/house/door")["stage"] == "out"
    anna.told("/house/jobs", 401)


def test_what_is_kept_can_be_read_before_logging_in(house: FastAPI) -> None:
    stranger = Browser(house)
    assert stranger.get("/kept").status_code == 200
    told = stranger.told("/house/kept")
    assert (told["answers"], told["backups"]) == (TEXT.answers, TEXT.backups)
    assert len(told["rows"]) == len(KEPT)
    assert all(row["what"] and row["why"] and row["long"] for row in told["rows"])


def test_every_column_kept_of_people_is_in_the_text() -> None:
    """A new column has to be told of."""
    from bondwright.store.schema import REVISIONS, USERS

    said = " ".join(" ".join(row) for row in KEPT).lower()
    words = {
        "name": "your name", "role": "your role", "salt": "salt", "secret": "hash of your password",
        "changed": "when, by whom", "changed_by": "by whom", "changed_what": "in what",
        "factor": "secret of your second factor", "factor_step": "last code's time",
        "spare": "hashes of the spare codes", "agreed": "when you agreed",
        "agreed_to": "its sha-256", "mail": "an address for mail",
        "who": "with each save: your name",
        "at": "the time", "why": "your reason",
    }  # fmt: skip
    for column in (*USERS.columns, *REVISIONS.columns):
        if column.name not in {"job", "number"}:
            assert words[column.name] in said, column.name


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("answers: Anna, the office\n", "has to say"),
        ("answers: Anna\nbackups: 90 days\nelse: x\n", "has to say"),
        ("answers: [Anna]\nbackups: 90 days\n", "'answers' is to be a text"),
        ("answers: Anna\nbackups: ''\n", "'backups' is to be a text"),
        ("answers: Anna\nbackups: 90\n", "'backups' is to be a text"),
        (f"answers: Anna\nbackups: {'x' * 5000}\n", "'backups' is to be a text"),
        ("answers: !!python/name:os.system x\nbackups: y\n", "can't be read"),
        ("- a\n", "has to say"),
        ("a: [", "can't be read"),
    ],
)
def test_a_policy_that_says_too_little_is_refused(tmp_path: Path, text: str, problem: str) -> None:
    path = tmp_path / "policy.yaml"
    path.write_text(text)
    with pytest.raises(PolicyError, match=problem):
        read_policy(path)


def test_a_policy_is_read_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "policy.yaml"
    path.write_text("answers: Anna,\n  the office\nbackups: 90 days\nmore: Ask us.\n")
    assert read_policy(path) == Policy("Anna, the office", "90 days", "Ask us.")
    with pytest.raises(PolicyError, match="can't be read"):
        read_policy(tmp_path / "none.yaml")


# --- the second factor -------------------------------------------------------------------------


def test_the_users_are_kept_with_a_second_factor_only(house: FastAPI, store: Store) -> None:
    add_user(store, "ben", Role.EDIT, PASSWORD)
    heard: list[Change] = []
    store.told = heard.append
    anna = Browser(house)
    anna.say("/house/login", name="anna", password=PASSWORD)
    anna.agree()
    # Without it: what whoever saves may do, and nothing of the keeping.
    told = anna.told("/house/jobs")
    assert (told["role"], told["wants_factor"]) == ("edit", True)
    anna.told("/house/users", 403)
    new: dict[str, Any] = {"name": "dora", "role": "keep", "password": PASSWORD, "new": True}
    anna.say("/house/users", 403, **new)
    anna.say("/house/users", 403, name="ben", role="keep")
    assert anna.delete("/house/users", params={"name": "ben"}).status_code == 403
    anna.say("/house/jobs", name="hers", starter="service")
    # Led through setting it up.
    anna.say("/house/factor/confirm", 422, code="000000")
    assert anna.get("/house/factor.svg").status_code == 404
    anna.say("/house/factor", 403, password="a guess at it")
    secret = anna.say("/house/factor", password=PASSWORD)["secret"]
    app = _app(secret)
    anna.say("/house/factor/confirm", 422, code="000000")
    before = anna.cookies["bondwright"]
    elsewhere = Browser(house)
    elsewhere.say("/house/login", name="anna", password=PASSWORD)
    codes = anna.say("/house/factor/confirm", code=app(store, 0))["codes"]
    assert len(codes) == 10
    # It is one's own session that goes on, with a new token; all others end.
    assert anna.cookies["bondwright"] != before
    elsewhere.told("/house/jobs", 401)
    assert anna.told("/house/door")["stage"] == "in"
    assert [one["name"] for one in anna.told("/house/users")["users"]] == ["anna", "ben"]
    assert [(one.name, one.what, one.by) for one in heard] == [("anna", What.FACTOR, "anna")]
    assert "second factor was set up by anna" in anna.told("/house/jobs")["notice"]
    # From now on the password alone lets nobody in, and the secret is told no more.
    assert anna.get("/house/factor.svg").status_code == 404
    again = Browser(house)
    assert again.say("/house/login", name="anna", password=PASSWORD)["stage"] == "code"
    assert not again.cookies
    again.told("/house/users", 401)
    again.say("/house/login", 403, name="anna", password=PASSWORD, code=app(store, 0))  # was used
    again.say("/house/login", name="anna", password=PASSWORD, code=app(store, 1))
    assert again.told("/house/door")["stage"] == "in"
    spare = Browser(house)
    for status in (200, 403):
        spare.say("/house/login", status, name="anna", password=PASSWORD, code=codes[0])
    assert spare.told("/house/you")["spare_left"] == 9


def _app(secret: str) -> Any:
    import pyotp

    shown = pyotp.TOTP(secret)

    def code(store: Store, later: int) -> str:
        return str(shown.at(int(store.now().timestamp()), counter_offset=later))

    return code


def test_the_picture_of_the_secret_is_only_a_picture(house: FastAPI) -> None:
    """That an app can read it is tried in test_browser_own.py."""
    anna = Browser(house)
    anna.say("/house/login", name="anna", password=PASSWORD)
    anna.agree()
    secret = anna.say("/house/factor", password=PASSWORD)["secret"]
    answer = anna.get("/house/factor.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["cache-control"] == "no-store"
    root = ElementTree.fromstring(answer.content)
    assert {each.tag.rpartition("}")[2] for each in root.iter()} <= {"svg", "g", "path"}
    assert secret not in answer.text


def test_before_the_password_is_right_nothing_tells_of_a_factor(
    house: FastAPI, store: Store
) -> None:
    add_user(store, "ben", Role.EDIT, PASSWORD)
    ready(store, TEXT)
    stranger = Browser(house)
    said = set()
    for name in ("anna", "ben", "nobody"):
        for given in ("", "000000", code(store, "anna")):
            answer = stranger.post(
                "/house/login", json={"name": name, "password": "a guess at it", "code": given}
            )
            said.add((answer.status_code, answer.text))
    assert len(said) == 1
    # And a code that came with a wrong password isn't used up.
    stranger.say("/house/login", name="anna", password=PASSWORD, code=code(store, "anna"))


def test_wrong_codes_count_as_wrong_passwords_do(store: Store) -> None:
    ready(store)
    sessions = Sessions(store)
    for k in range(MOST_TRIES):
        if k % 2:
            assert sessions.log_in("anna", f"guess {k} at it", "10.0.0.9") is None
        else:
            with pytest.raises(WrongCodeError):
                sessions.log_in("anna", PASSWORD, "10.0.0.9", "000000")
    with pytest.raises(TooManyError):
        sessions.log_in("anna", PASSWORD, "10.0.0.9", code(store, "anna"))
    with pytest.raises(TooManyError):
        sessions.log_in("anna", PASSWORD, "10.0.0.9")


def test_one_is_told_of_wrong_codes_beside_the_right_password(house: FastAPI, store: Store) -> None:
    ready(store, TEXT)
    thief, anna = Browser(house), Browser(house)
    for _ in range(3):
        thief.say("/house/login", 403, name="anna", password=PASSWORD, code="000000")
    anna.say("/house/login", **words(store, "anna", PASSWORD))
    assert "3 wrong codes came with your right password" in anna.told("/house/jobs")["notice"]


def test_renewing_and_turning_off_ask_for_password_and_code(house: FastAPI, store: Store) -> None:
    ready(store, TEXT)
    anna = Browser(house)
    anna.say("/house/login", **words(store, "anna", PASSWORD))
    for path in ("/house/factor", "/house/factor/off", "/house/factor/spare"):
        anna.say(path, 403, password="a guess at it", code=code(store, "anna"))
        assert "asked for" in str(anna.say(path, 403, password=PASSWORD))
        anna.say(path, 403, password=PASSWORD, code="000000")
    anna.say("/house/password", 403, before=PASSWORD, after="four other words")
    sure: dict[str, Any] = {"password": PASSWORD}
    spare = anna.say("/house/factor/spare", **sure, code=code(store, "anna"))["codes"]
    app = _app(anna.say("/house/factor", **sure, code=spare[0])["secret"])
    assert anna.told("/house/door")["stage"] == "in"  # the old one holds until the new one does
    anna.say("/house/factor/confirm", code=app(store, 0))
    anna.say("/house/factor/off", 403, **sure, code=spare[1])  # of the one before
    assert anna.say("/house/factor/off", **sure, code=app(store, 1))["stage"] == "factor"
    anna.told("/house/users", 403)


def test_whoever_keeps_the_users_takes_anothers_factor_away(house: FastAPI, store: Store) -> None:
    add_user(store, "ben", Role.KEEP, PASSWORD)
    ready(store, TEXT)
    anna, ben = Browser(house), Browser(house)
    for name, one in (("anna", anna), ("ben", ben)):
        one.say("/house/login", **words(store, name, PASSWORD))
    told = anna.told("/house/users")["users"]
    assert [(one["name"], one["factor"]) for one in told] == [("anna", True), ("ben", True)]
    anna.say("/house/users", 422, name="anna", no_factor=True)
    told = anna.say("/house/users", name="ben", no_factor=True)["users"]
    assert [(one["name"], one["factor"]) for one in told] == [("anna", True), ("ben", False)]
    ben.told("/house/jobs", 401)
    assert ben.say("/house/login", name="ben", password=PASSWORD)["stage"] == "factor"
    assert "second factor was taken away by anna" in ben.told("/house/jobs")["notice"]
    ben.told("/house/users", 403)


def test_somebody_else_may_set_one_up_and_gets_the_role_with_it(
    house: FastAPI, store: Store
) -> None:
    add_user(store, "ben", Role.LOOK, PASSWORD)
    ready(store, TEXT)
    ben = Browser(house)
    assert ben.say("/house/login", name="ben", password=PASSWORD)["stage"] == "in"
    app = _app(ben.say("/house/factor", password=PASSWORD)["secret"])
    ben.say("/house/factor/confirm", code=app(store, 0))
    assert ben.told("/house/you") == {
        "format": "bondwright/page-you", "version": 1, "who": "ben", "role": "look",
        "factor": True, "spare_left": 10, "agreed": ben.told("/house/you")["agreed"],
    }  # fmt: skip
    ben.told("/house/users", 403)
    anna = Browser(house)
    anna.say("/house/login", **words(store, "anna", PASSWORD))
    anna.say("/house/users", name="ben", role="keep")
    ben.told("/house/users")  # the role came, and the factor was there


def test_spare_codes_and_secrets_are_in_that_one_answer_only(
    house: FastAPI, store: Store, caplog: Any
) -> None:
    anna = Browser(house)
    anna.say("/house/login", name="anna", password=PASSWORD)
    anna.agree()
    secret = anna.say("/house/factor", password=PASSWORD)["secret"]
    codes = anna.say("/house/factor/confirm", code=_app(secret)(store, 0))["codes"]
    for path in ("/house/you", "/house/you/data", "/house/jobs", "/house/users", "/house/door"):
        text = anna.get(path).text
        assert not any(one in text for one in (secret, *codes))
        assert anna.get(path).headers["cache-control"] == "no-store"
    assert not any(one in caplog.text for one in (secret, *codes))


# --- one's own data ----------------------------------------------------------------------------


def test_one_takes_ones_data_along(house: FastAPI, store: Store) -> None:
    ready(store, TEXT)
    job = garage(store, "anna")
    anna = Browser(house)
    anna.say("/house/login", **words(store, "anna", PASSWORD))
    anna.say(f"/job/{job}/api/edit", action="put on", name="garage panel", view={})
    answer = anna.get("/house/you/data")
    assert answer.headers["content-disposition"] == 'attachment; filename="own-data.json"'
    data = json.loads(answer.content)
    assert (data["format"], data["version"], data["name"]) == ("bondwright/own-data", 1, "anna")
    assert [one["job"] for one in data["saves"]] == ["Garage"]
    assert data["jobs with changes of yours that aren't saved"] == []
    assert data["log-ins that are open"] == 1
    assert data["address you came from last"] == "testclient"
    assert data["wrong tries with your name in the last ten minutes"] == 0
    Browser(house).say("/house/login", 403, name="anna", password="a guess at it")
    data = anna.told("/house/you/data")
    assert data["wrong tries with your name in the last ten minutes"] == 1


@pytest.mark.parametrize("forget", [False, True])
def test_one_leaves_with_ones_name_or_without(house: FastAPI, store: Store, forget: bool) -> None:
    add_user(store, "ben", Role.EDIT, PASSWORD)
    ready(store, TEXT)
    job = garage(store, "ben")
    heard: list[Change] = []
    store.told = heard.append
    ben, elsewhere = Browser(house), Browser(house)
    for one in (ben, elsewhere):
        one.say("/house/login", name="ben", password=PASSWORD)
        one.told(f"/job/{job}/api/kept")
    ben.say("/house/leave", 403, password="a guess at it")
    answer = ben.post("/house/leave", json={"password": PASSWORD, "forget_name": forget})
    assert answer.is_success
    assert answer.headers["clear-site-data"] == '"cache", "storage"'
    for one in (ben, elsewhere):
        one.told("/house/jobs", 401)
    ben.say("/house/login", 403, name="ben", password=PASSWORD)
    assert [one.name for one in users(store)] == ["anna"]
    (revision,) = store.revisions("Garage")
    assert (revision.who, revision.why) == (LEFT if forget else "ben", "begun")
    assert store.read("Garage").files[SITE] == starter("house").encode()
    assert [(one.name, one.what, one.by) for one in heard] == [("ben", What.REMOVED, "ben")]


def test_the_last_one_who_keeps_the_users_does_not_leave(house: FastAPI, store: Store) -> None:
    ready(store, TEXT)
    anna = Browser(house)
    anna.say("/house/login", **words(store, "anna", PASSWORD))
    told = anna.say("/house/leave", 422, password=PASSWORD, code=code(store, "anna"))
    assert "last one who keeps the users" in told["problems"][0]["problem"]
    anna.told("/house/jobs")
    assert set_factor(store, "anna", SECRET, code_at(SECRET, step_of(store)))


def test_who_comes_after_finds_nothing_of_who_had_the_name(house: FastAPI, store: Store) -> None:
    add_user(store, "ben", Role.EDIT, PASSWORD)
    ready(store, TEXT)
    job = garage(store, "anna")
    for _ in range(2):
        ben = Browser(house)
        ben.say("/house/login", name="ben", password=PASSWORD)
        kept = ben.told(f"/job/{job}/api/kept")
        assert not kept["unsaved"]
        entry = ben.get(f"/job/{job}/api/entry", params={"table": "runs", "id": "garage feeder"})
        longer = {**entry.json()["entry"], "length": "75 ft"}
        change = {"table": "runs", "was": "garage feeder", "entry": longer}
        ben.say(f"/job/{job}/api/describe", changes=[change], view={})
        assert ben.told(f"/job/{job}/api/kept")["unsaved"]
        ben.say("/house/leave", password=PASSWORD, forget_name=True)
        add_user(store, "ben", Role.EDIT, PASSWORD)
        ready(store, TEXT)
