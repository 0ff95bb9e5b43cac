"""Notices by mail, handed over to a mail server of another make (aiosmtpd)."""

from __future__ import annotations

import logging
import socket
import ssl
import subprocess
import threading
import time
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.smtp import AuthResult, LoginPassword

from bondwright.page import notices
from bondwright.page.notices import TRIES_S, Mailer, MailError, Post
from bondwright.page.places import Places
from bondwright.store.changes import Change, What
from tests.page.mails import Taken, serving
from tests.programs import require_program

AT = datetime(2026, 11, 26, 0, 20, tzinfo=UTC)
FROM = "jobs@bond.example"
CHANGE = Change("ben", What.PASSWORD, "anna", AT, "ben@mail.example")


@pytest.fixture(scope="module")
def pem(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate and its key for ``localhost``, signed by itself."""
    path = tmp_path_factory.mktemp("tls") / "box.pem"
    command: list[str | Path] = [
        require_program("openssl"), "req", "-x509", "-newkey", "ec", "-pkeyopt",
        "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2", "-subj", "/CN=localhost",
        "-addext", "subjectAltName=DNS:localhost", "-keyout", path,
        "-out", path.with_suffix(".crt"),
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True)
    return path


def server_tls(pem: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem.with_suffix(".crt"), pem)
    return context


def trusting(pem: Path) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(pem.with_suffix(".crt")))


def sent(post: Post, *changes: Change, place: str = "https://jobs.example") -> Mailer:
    mailer = Mailer(post.send, FROM, place)
    for change in changes:
        mailer.tell(change)
    mailer.close(10)
    return mailer


@pytest.mark.parametrize("what", What)
def test_who_is_told_of_what_and_nothing_else(what: What) -> None:
    taken = Taken()
    with serving(taken) as port:
        sent(Post("127.0.0.1", port, FROM), Change("ben", what, "anna", AT, "ben@mail.example"))
    ((sender, to, message),) = taken.mails
    assert (sender, to) == (FROM, ["ben@mail.example"])
    assert message["From"] == FROM
    assert message["To"] == "ben@mail.example"
    assert message["Subject"].startswith("bondwright: you")
    assert message["Auto-Submitted"] == "auto-generated"
    assert message["Date"] == "Thu, 26 Nov 2026 00:20:00 +0000"
    assert message["Message-ID"].endswith("@bond.example>")
    text = message.get_content()
    assert "anna, 2026-11-26 00:20 UTC" in text
    assert "Name: ben" in text
    assert "Server: https://jobs.example" in text
    assert "If you know nothing of it, tell whoever keeps the users." in text
    assert message.get_content_type() == "text/plain"


def test_without_an_address_nothing_is_sent() -> None:
    posted: list[EmailMessage] = []
    mailer = Mailer(posted.append, FROM, "here")
    mailer.tell(Change("ben", What.PASSWORD, "anna", AT))
    assert mailer.close(5) == 0
    assert posted == []
    assert mailer.troubles == ()


EVIL = (
    "ben@mail.example\r\nBcc: all@mail.example", "ben@mail.example\nX: y", "a@b.c, d@e.f",
    "ben@mail.example\r\n\r\nhello", "ben@mail.example>\r\nRCPT TO:<d@e.f", "\r\n.\r\n",
    "ben@mail.example\0", "ben@mail.example\u2028Bcc: d@e.f",
)  # fmt: skip


@pytest.mark.parametrize("evil", EVIL)
def test_no_address_and_no_name_says_anything_to_the_mail_server(evil: str) -> None:
    taken = Taken()
    with serving(taken) as port:
        post = Post("127.0.0.1", port, FROM)
        mailer = sent(
            post,
            Change("ben", What.PASSWORD, "anna", AT, evil),
            Change(evil, What.PASSWORD, evil, AT, "ben@mail.example"),
            place=evil,
        )
    ((_, to, message),) = taken.mails
    assert to == ["ben@mail.example"]
    assert set(message.keys()) == {
        "From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted", "Content-Type",
        "Content-Transfer-Encoding", "MIME-Version",
    }  # fmt: skip
    assert len(message.get_content().splitlines()) == 7
    assert mailer.troubles[0].endswith(": the address kept is none.")


def test_mail_is_spoken_encrypted_and_with_a_password_where_there_is_one(
    pem: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken = Taken()

    def checked(server: Any, session: Any, _: Any, __: str, given: LoginPassword) -> AuthResult:
        del server
        pair = given.login.decode(), given.password.decode()
        taken.logins.append((*pair, session.ssl is not None))
        return AuthResult(success=pair == ("jobs", "their secret"), handled=False)

    more = {"authenticator": checked, "auth_required": True, "tls_context": server_tls(pem)}
    with serving(taken, **more, require_starttls=True) as port:
        good = Post("localhost", port, FROM, "jobs", "their secret", trusting(pem))
        sent(good, CHANGE)
        assert len(taken.mails) == 1
        assert taken.logins == [("jobs", "their secret", True)]
        wrong = Post("localhost", port, FROM, "jobs", "another", trusting(pem))
        with pytest.raises(MailError, match="doesn't take our name and password"):
            wrong.send(EmailMessage())
        with pytest.raises(MailError, match="certificate is no good"):  # nobody signed it
            Post("localhost", port, FROM, "jobs", "their secret").send(EmailMessage())
        with pytest.raises(MailError, match="certificate is no good"):  # it is another's
            Post("127.0.0.1", port, FROM, "j", "s", trusting(pem)).send(EmailMessage())
    assert "their secret" not in repr(good)
    with serving(taken) as port, pytest.raises(MailError, match="speaks no TLS"):
        Post("127.0.0.1", port, FROM, "jobs", "their secret").send(EmailMessage())
    monkeypatch.setattr(notices, "is_local", lambda _: False)
    with serving(taken) as port, pytest.raises(MailError, match="speaks no TLS"):
        Post("127.0.0.1", port, FROM).send(EmailMessage())


def test_on_its_port_tls_comes_first(pem: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    taken = Taken()
    tls = server_tls(pem)
    with socket.create_server(("127.0.0.1", 0)) as door:
        port = int(door.getsockname()[1])
        monkeypatch.setattr(notices, "_TLS", port)

        def answer() -> None:
            line = tls.wrap_socket(door.accept()[0], server_side=True)
            with line, line.makefile("rwb", buffering=0) as file:
                file.write(b"220 here\r\n")
                for said in iter(file.readline, b""):
                    taken.answers.append(said.decode().strip())
                    file.write(b"354 go on\r\n" if said == b"DATA\r\n" else b"250 OK\r\n")
                    if said == b"DATA\r\n":
                        while file.readline() != b".\r\n":
                            pass
                        file.write(b"250 taken\r\n")

        thread = threading.Thread(target=answer, daemon=True)
        thread.start()
        sent(Post("localhost", port, FROM, context=trusting(pem)), CHANGE)
        thread.join(5)
    assert "rcpt TO:<ben@mail.example>" in taken.answers
    assert taken.answers[0] == "ehlo bond.example"


class Refusing:
    """Takes no mail until it does."""

    def __init__(self, *errors: MailError) -> None:
        self.errors = list(errors)
        self.tried: list[EmailMessage] = []

    def __call__(self, message: EmailMessage) -> None:
        self.tried.append(message)
        if self.errors:
            raise self.errors.pop(0)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(notices, "TRIES_S", tuple(0.0 for _ in TRIES_S))


@pytest.mark.usefixtures("quick")
def test_what_is_not_taken_is_tried_again() -> None:
    post = Refusing(*[MailError("the mail server doesn't answer")] * (len(TRIES_S) - 1))
    mailer = Mailer(post, FROM, "here")
    mailer.tell(CHANGE)
    assert mailer.close(10) == 0
    assert len(post.tried) == len(TRIES_S)
    assert mailer.troubles == ()


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize(
    ("error", "tries"),
    [
        (MailError("the mail server doesn't answer"), len(TRIES_S)),
        (MailError("the mail server doesn't take the address", for_good=True), 1),
        (KeyError("a bug with ben@mail.example"), 1),
    ],
)
def test_what_is_never_taken_is_told_to_whoever_keeps_the_users(
    error: MailError, tries: int, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    post = Refusing(*[error] * 20)
    mailer = Mailer(post, FROM, "here")
    mailer.tell(CHANGE)
    mailer.close(10)
    assert len(post.tried) == tries
    (told,) = mailer.troubles
    assert told.startswith("A notice to ben was not sent, ")
    assert ("foresaw" in told) if isinstance(error, KeyError) else (str(error) in told)
    assert "was not sent" in caplog.text
    for private in ("ben", "mail.example", "anna", "password"):
        assert private not in caplog.text


def test_a_server_that_is_away_holds_nobody_up(caplog: pytest.LogCaptureFixture) -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:  # takes a call and says nothing
        mailer = Mailer(Post("127.0.0.1", silent.getsockname()[1], FROM).send, FROM, "here")
        began = time.monotonic()
        for _ in range(20):
            mailer.tell(CHANGE)
        assert time.monotonic() - began < notices.LINE_S / 4
        assert mailer.close(0.1) == 20
    assert "notices by mail that were not sent before the end: 20" in caplog.text
    assert "mail.example" not in caplog.text


@pytest.mark.parametrize(
    ("answer", "told", "for_good"),
    [
        ("550 no such user", "doesn't take the address", True),
        ("450 try later", "doesn't take the address", False),
        ("421 going down", "the mail server", False),
    ],
)
def test_why_it_is_not_taken(answer: str, told: str, for_good: bool) -> None:
    taken = Taken()
    taken.answers = [answer]
    message = EmailMessage()
    message["To"] = "ben@mail.example"
    with serving(taken) as port, pytest.raises(MailError, match=told) as found:
        Post("127.0.0.1", port, FROM).send(message)
    assert found.value.for_good is for_good
    assert taken.mails == []


def test_nobody_floods_the_mail_server(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(notices, "_MOST", 3)
    going = threading.Event()

    def waits(_: EmailMessage) -> None:
        going.wait(10)

    mailer = Mailer(waits, FROM, "here")
    for _ in range(10):
        mailer.tell(CHANGE)
    assert any("too many mails are waiting" in each for each in mailer.troubles)
    going.set()
    assert mailer.close(10) == 0


def test_a_place_is_new_once_and_a_household_is_one_place() -> None:
    places = Places()
    assert places.is_new("ben", "192.0.2.7")
    assert not places.is_new("ben", "192.0.2.7")
    assert not places.is_new("ben", "::ffff:192.0.2.7")
    assert places.is_new("anna", "192.0.2.7")
    assert places.is_new("ben", "192.0.2.8")
    assert places.is_new("ben", "2001:db8:1:2::3")
    assert not places.is_new("ben", "2001:db8:1:2:ffff::9")
    assert places.is_new("ben", "2001:db8:1:3::3")
    assert places.is_new("ben", "testclient")
    for number in range(30):
        places.is_new("ben", f"198.51.100.{number}")
    assert places.is_new("ben", "192.0.2.7")
