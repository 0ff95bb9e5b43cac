"""People are told by mail of what happened to their credentials, wherever it was done."""

from __future__ import annotations

from collections.abc import Iterator
from email.message import EmailMessage
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.notices import Mailer, MailError
from bondwright.page.places import MOST_CHANGES, WITHIN_S, Often
from bondwright.store.factor import drop_factor
from bondwright.store.mail import mail_of, set_mail
from bondwright.store.schema import USERS
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, change_user
from tests.entering import SECRET, ready, words

OWN = "http://127.0.0.1:8642"
PASSWORD = "four words are enough"
OTHER = "five words are enough too"


class Box:
    """Where mails arrive, unless it is shut."""

    def __init__(self) -> None:
        self.mails: list[tuple[str, str]] = []
        self.shut = False

    def __call__(self, message: EmailMessage) -> None:
        if self.shut:
            raise MailError("the mail server doesn't take the address", for_good=True)
        self.mails.append((str(message["To"]), message.get_content().partition("\n")[0]))


class Place:
    """A store that is served, with mail."""

    def __init__(self, store: Store) -> None:
        self.store, self.box = store, Box()
        for name, role in (("anna", Role.KEEP), ("ben", Role.EDIT), ("cleo", Role.LOOK)):
            add_user(store, name, role, PASSWORD)
        set_mail(store, "ben", "ben@mail.example", by="ben")
        ready(store)
        self.mailer = Mailer(self.box, "jobs@bond.example", OWN)
        self.house: FastAPI = create_house(store, Names(8642), users=True, mailer=self.mailer)

    def enter(self, name: str, at: str = "192.0.2.1", password: str = PASSWORD) -> TestClient:
        client = TestClient(self.house, base_url=OWN, client=(at, 1000))
        client.headers["origin"] = OWN
        answer = client.post("/house/login", json=words(self.store, name, password))
        assert answer.status_code == 200, answer.text
        return client

    def told(self) -> list[tuple[str, str]]:
        """What was sent, once all of it is."""
        with self.mailer._turn:
            while self.mailer._busy or self.mailer._due():
                assert self.mailer._turn.wait(10)
        found, self.box.mails[:] = list(self.box.mails), []
        return found


@pytest.fixture
def place(tmp_path: Any) -> Iterator[Place]:
    with Store(str(tmp_path / "jobs.sqlite")) as store:
        made = Place(store)
        yield made
        made.mailer.close()


def test_a_log_in_from_a_new_place_is_told_once(place: Place) -> None:
    place.enter("ben")
    ((to, text),) = place.told()
    assert to == "ben@mail.example"
    assert text.startswith("Somebody logged in under your name from 192.0.2.1, ")
    place.enter("ben")
    place.enter("cleo", "192.0.2.9")  # who has no address kept
    assert place.told() == []
    ben = place.enter("ben", "192.0.2.2")
    assert ben.get("/house/you/data").json()["places you logged in from"] == [
        "192.0.2.1", "192.0.2.2",
    ]  # fmt: skip
    assert [text.partition(",")[0] for _, text in place.told()] == [
        "Somebody logged in under your name from 192.0.2.2"
    ]


def test_who_is_not_let_in_is_no_news(place: Place) -> None:
    client = TestClient(place.house, base_url=OWN)
    client.headers["origin"] = OWN
    body = {"name": "ben", "password": "not the one"}
    assert client.post("/house/login", json=body).status_code == 403
    set_mail(place.store, "anna", "anna@mail.example", by="anna")
    place.told()
    body = {"name": "anna", "password": PASSWORD}  # the code is still asked for
    assert client.post("/house/login", json=body).json()["stage"] == "code"
    assert place.told() == []


def test_every_change_of_credentials_is_told(place: Place) -> None:
    """ASVS 4.0.3, 2.2.3: wherever it is done."""
    anna, ben = place.enter("anna"), place.enter("ben")
    place.told()
    body = {"name": "ben", "role": "look", "password": OTHER, "new": False}
    assert anna.post("/house/users", json=body).status_code == 200
    assert [text.partition(",")[0] for _, text in place.told()] == [
        "Your password was set by anna", "What you may do was changed by anna",
    ]  # fmt: skip
    ben = place.enter("ben", password=OTHER)
    sent = {"before": OTHER, "after": PASSWORD}
    assert ben.post("/house/password", json=sent).status_code == 200
    change_user(place.store, "ben", role=Role.EDIT, by="somebody on the server's machine")
    with place.store.engine.begin() as connection:
        connection.execute(USERS.update().where(USERS.c.name == "ben").values(factor=SECRET))
    drop_factor(place.store, "ben", by="anna")
    assert anna.delete("/house/users?name=ben").status_code == 200
    told = place.told()
    assert {to for to, _ in told} == {"ben@mail.example"}
    assert [text.partition(",")[0] for _, text in told] == [
        "Your password was set by ben",
        "What you may do was changed by somebody on the server's machine",
        "Your second factor was taken away by anna",
        "You were taken out of the users by anna",
    ]
    assert place.mailer.places.of("ben") == []
    assert not any(PASSWORD in text or OTHER in text for _, text in told)


def test_one_sets_ones_own_address_with_the_password(place: Place) -> None:
    ben = place.enter("ben")
    place.told()
    assert ben.get("/house/mail").json() == {
        "format": "bondwright/page-mail", "version": 1, "who": "ben", "mail": "ben@mail.example",
        "sends": True, "troubles": [],
    }  # fmt: skip
    body = {"mail": "b@other.example", "password": "not the one"}
    assert ben.post("/house/mail", json=body).status_code == 403
    body["password"] = PASSWORD
    for evil in ("b@other.example\r\nBcc: all@mail.example", "b@x, c@y", "Ben <b@x.y>", "b"):
        answer = ben.post("/house/mail", json={**body, "mail": evil})
        assert answer.status_code == 422
        assert "no address for mail" in answer.json()["problems"][0]["problem"]
    assert place.told() == []
    assert ben.post("/house/mail", json=body).json()["mail"] == "b@other.example"
    assert [to for to, _ in place.told()] == ["ben@mail.example", "b@other.example"]
    assert ben.post("/house/mail", json={**body, "mail": ""}).json()["mail"] == ""
    assert [to for to, _ in place.told()] == ["b@other.example"]
    assert mail_of(place.store, "ben") == ""


def test_nobody_floods_a_strangers_box_with_notices(place: Place) -> None:
    ben = place.enter("ben")
    place.told()
    for k in range(MOST_CHANGES):
        body = {"mail": f"stranger{k}@mail.example", "password": PASSWORD}
        assert ben.post("/house/mail", json=body).status_code == 200
    answer = ben.post("/house/mail", json={"mail": "", "password": PASSWORD})
    assert answer.status_code == 429
    assert 0 < int(answer.headers["retry-after"]) <= WITHIN_S
    assert len(place.told()) == 2 * MOST_CHANGES
    now = [0.0]
    often = Often(lambda: now[0])
    assert [often.wait("ben") for _ in range(MOST_CHANGES + 1)] == [0] * MOST_CHANGES + [3600]
    assert often.wait("anna") == 0
    now[0] = WITHIN_S
    assert often.wait("ben") == 0
    often.wait("anna")
    often.forget("ben")
    assert list(often._times) == ["anna"]


def test_what_could_not_be_sent_is_shown_to_whoever_keeps_the_users(place: Place) -> None:
    anna, ben = place.enter("anna"), place.enter("ben")
    place.told()
    place.box.shut = True
    change_user(place.store, "ben", role=Role.LOOK, by="anna")
    assert place.told() == []
    (trouble,) = place.mailer.troubles
    assert "A notice to ben was not sent, " in trouble
    assert anna.get("/house/mail").json()["troubles"] == [trouble]
    assert trouble in anna.get("/house/jobs").json()["notice"]
    assert ben.get("/house/mail").json()["troubles"] == []
    assert "was not sent" not in ben.get("/house/jobs").json()["notice"]
    assert "mail.example" not in trouble


def test_without_mail_one_is_told_so(tmp_path: Any) -> None:
    with Store(str(tmp_path / "jobs.sqlite")) as store:
        add_user(store, "ben", Role.EDIT, PASSWORD)
        ready(store)
        client = TestClient(create_house(store, Names(8642), users=True), base_url=OWN)
        client.headers["origin"] = OWN
        assert client.post("/house/login", json=words(store, "ben", PASSWORD)).status_code == 200
        assert client.get("/house/mail").json()["sends"] is False
        change_user(store, "ben", password=OTHER, by="anna")
