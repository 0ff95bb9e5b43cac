"""The commands that keep the users of served jobs."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bondwright.cli import main
from bondwright.cli.mail import telling
from bondwright.store.changes import Change, What
from bondwright.store.errors import StoreError
from bondwright.store.factor import code_at, has_factor, set_factor, step_of
from bondwright.store.store import Store
from bondwright.store.users import LEFT, Role, add_user, credentials_changed, let_in
from tests.entering import SECRET

PASSWORD = "four words are enough"


@pytest.fixture
def where(tmp_path: Path) -> str:
    return str(tmp_path / "jobs.sqlite")


def run(where: str, *words: str, typed: str = "") -> Result:
    return CliRunner().invoke(main, ["jobs", "user", *words, "--store", where], input=typed)


def test_users_are_added_changed_and_removed(where: str) -> None:
    made = run(where, "add", "anna", "--role", "keep", typed=f"{PASSWORD}\n")
    assert made.exit_code == 0, made.output
    assert PASSWORD not in made.output
    run(where, "add", "ben", "--role", "look", typed=f"{PASSWORD}\n")
    listed = run(where, "list").output
    assert "anna" in listed
    assert "keep the users" in listed
    changed = run(where, "change", "ben", "--role", "edit", "--password", typed=f"{PASSWORD}!\n")
    assert changed.exit_code == 0, changed.output
    with Store(where) as store:
        assert let_in(store, "ben", PASSWORD) is None
        found = let_in(store, "ben", f"{PASSWORD}!")
        assert found is not None
        assert found.role.value == "edit"
    assert run(where, "remove", "ben").exit_code == 0
    assert "ben" not in run(where, "list").output


@pytest.mark.parametrize(
    ("words", "typed", "told"),
    [
        (["add", "anna", "--role", "keep"], "short\n", "12 to 128 characters"),
        (["add", "anna"], "", "--role"),
        (["change", "anna"], "", "say what changes"),
        (["change", "nobody", "--role", "look"], "", "no user 'nobody'"),
        (["remove", "nobody"], "", "no user 'nobody'"),
    ],
)
def test_what_cannot_be_is_told(where: str, words: list[str], typed: str, told: str) -> None:
    Store(where).close()
    result = run(where, *words, typed=typed)
    assert result.exit_code == 2
    assert told in result.output


def test_a_second_factor_is_taken_away_where_the_server_is(where: str) -> None:
    """The way out where the only one who keeps the users lost phone and spare codes."""
    run(where, "add", "anna", "--role", "keep", typed=f"{PASSWORD}\n")
    run(where, "add", "ben", "--role", "edit", typed=f"{PASSWORD}\n")
    assert "needed, not set up yet" in run(where, "list").output
    with Store(where) as store:
        set_factor(store, "anna", SECRET, code_at(SECRET, step_of(store)))
        assert has_factor(store, "anna")
    listed = [line.split() for line in run(where, "list").output.splitlines()]
    assert {"yes", "no"} <= {line[-1] for line in listed if line}
    done = run(where, "change", "anna", "--no-factor")
    assert done.exit_code == 0, done.output
    assert "second factor is taken away" in done.output
    with Store(where) as store:
        assert not has_factor(store, "anna")
        told = credentials_changed(store, "anna")
        assert told is not None
        assert (told.what, told.by) == (What.NO_FACTOR, "somebody on the server's machine")


def test_a_name_is_taken_out_of_the_history_where_it_is_asked_for(where: str) -> None:
    run(where, "add", "ben", "--role", "edit", typed=f"{PASSWORD}\n")
    with Store(where) as store:
        store.add("Barn", {"site.yaml": b"site: barn\n"}, who="ben", why="begun")
    assert run(where, "remove", "ben", "--forget-name").exit_code == 0
    with Store(where) as store:
        assert [(one.who, one.why) for one in store.revisions("Barn")] == [(LEFT, "begun")]


def test_what_was_changed_before_something_failed_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []

    class Sends:
        troubles = ()

        def tell(self, change: Change) -> None:
            done.append(change.what)

        def close(self, patience: float) -> int:
            done.append("sent" if patience > 0 else "given up")
            return 0

    monkeypatch.setattr("bondwright.cli.mail.mailer", lambda *_: Sends())

    def change() -> None:
        with telling(Store(str(tmp_path / "jobs.sqlite"))) as store:
            add_user(store, "anna", Role.EDIT, "four other words")
            raise StoreError("the rest can't be done")

    with pytest.raises(StoreError, match="the rest"):
        change()
    assert done == [What.ADDED, "sent"]
