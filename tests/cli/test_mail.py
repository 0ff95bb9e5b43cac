"""Notices by mail from the server's machine: addresses kept, and changes told."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bondwright.cli import main
from bondwright.store.mail import mail_of
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user
from tests.page.mails import Taken, serving

PASSWORD = "four words are enough"


@pytest.fixture
def where(tmp_path: Path) -> str:
    path = str(tmp_path / "jobs.sqlite")
    with Store(path) as store:
        add_user(store, "anna", Role.KEEP, PASSWORD)
        add_user(store, "ben", Role.EDIT, PASSWORD)
    return path


def run(*words: str, env: dict[str, str] | None = None, typed: str = "") -> Result:
    return CliRunner().invoke(main, list(words), env=env, input=typed)


def test_an_address_is_kept_and_forgotten(where: str) -> None:
    done = run("jobs", "user", "mail", "ben", "ben@mail.example", "--store", where)
    assert (done.exit_code, done.output) == (0, "'ben' is told at ben@mail.example\n")
    with Store(where) as store:
        assert mail_of(store, "ben") == "ben@mail.example"
    done = run("jobs", "user", "mail", "ben", "ben@", "--store", where)
    assert done.exit_code != 0
    assert "no address for mail" in done.output
    done = run("jobs", "user", "mail", "ben", "--store", where)
    assert done.output == "no address of 'ben' is kept\n"
    with Store(where) as store:
        assert mail_of(store, "ben") == ""


def test_what_is_changed_there_is_told_by_mail(where: str) -> None:
    run("jobs", "user", "mail", "ben", "ben@mail.example", "--store", where)
    taken = Taken()
    with serving(taken) as port:
        env = {
            "BONDWRIGHT_MAIL_BY": f"127.0.0.1:{port}", "BONDWRIGHT_MAIL_FROM": "jobs@bond.example",
        }  # fmt: skip
        typed = f"{PASSWORD} indeed\n" * 2
        words = ("jobs", "user", "change", "ben", "--role", "look", "--password", "--store", where)
        done = run(*words, env=env, typed=typed)
        assert done.exit_code == 0, done.output
        done = run("jobs", "user", "remove", "ben", "--store", where, env=env)
        assert done.exit_code == 0, done.output
    told = [message.get_content().partition(",")[0] for _, _, message in taken.mails]
    assert told == [
        "Your password was set by somebody on the server's machine",
        "What you may do was changed by somebody on the server's machine",
        "You were taken out of the users by somebody on the server's machine",
    ]
    assert {to for _, tos, _ in taken.mails for to in tos} == {"ben@mail.example"}


def test_a_mail_that_is_not_sent_is_told_and_the_change_stands(where: str) -> None:
    run("jobs", "user", "mail", "ben", "ben@mail.example", "--store", where)
    taken = Taken()
    taken.answers = ["550 nobody"]
    with serving(taken) as port:
        env = {"BONDWRIGHT_MAIL_BY": f"127.0.0.1:{port}", "BONDWRIGHT_MAIL_FROM": "j@bond.example"}
        done = run("jobs", "user", "change", "ben", "--role", "look", "--store", where, env=env)
    assert done.exit_code == 0
    assert "A notice to ben was not sent, " in done.output
    assert "doesn't take the address" in done.output
    done = run("jobs", "user", "change", "ben", "--role", "edit", "--store", where, env=env)
    assert done.exit_code == 0
    assert "A notice by mail was not sent: the mail server doesn't answer." in done.output
    assert "may look and save" in done.output


@pytest.mark.parametrize(
    ("options", "env", "told"),
    [
        (("--mail-by", "mail.example:587"), {}, "go together"),
        (("--mail-from", "j@bond.example"), {}, "go together"),
        (("--mail-by", "mail.example", "--mail-from", "j@b.c"), {}, "no place of a mail server"),
        (("--mail-by", "a:0", "--mail-from", "j@b.c"), {}, "no place of a mail server"),
        (("--mail-by", "a\r\nb:25", "--mail-from", "j@b.c"), {}, "no place of a mail server"),
        (("--mail-by", "a:25", "--mail-from", "j@b.c\r\nX: y"), {}, "no address for mail"),
        (
            ("--mail-by", "a:25", "--mail-from", "j@b.c"), {"BONDWRIGHT_MAIL_USER": "jobs"},
            "BONDWRIGHT_MAIL_USER and BONDWRIGHT_MAIL_PASSWORD go together",
        ),
    ],
)  # fmt: skip
def test_what_is_no_mail_server_is_said(
    where: str, options: tuple[str, ...], env: dict[str, str], told: str
) -> None:
    done = run("serve", "--jobs", where, *options, env=env)
    assert done.exit_code == 2
    assert told in " ".join(done.output.split())


def test_a_password_is_never_an_option() -> None:
    """Options can be read by everybody on the machine."""
    options = {option for each in main.commands["serve"].params for option in each.opts}
    assert not [option for option in options if "password" in option]
