"""The commands that keep the users of served jobs."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from bondwright.cli import main
from bondwright.store.store import Store
from bondwright.store.users import let_in

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
