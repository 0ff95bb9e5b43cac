import hashlib

import pytest
from sqlalchemy import text

from bondwright.store.changes import Change, What
from bondwright.store.errors import StoreError
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, change_user, let_in, remove_user, users

WORDS = "a few words will do"


def test_who_has_the_password_gets_in(store: Store) -> None:
    anna = add_user(store, "anna", Role.KEEP, WORDS)
    assert let_in(store, "anna", WORDS) == anna
    for name, password in (("anna", WORDS + "x"), ("anna", ""), ("ben", WORDS), ("Anna", WORDS)):
        assert let_in(store, name, password) is None
    long = "a word " * 18 + "x!"
    assert len(long) == 128
    change_user(store, "anna", password=long)
    assert let_in(store, "anna", WORDS) is None
    assert let_in(store, "anna", long) == anna
    assert let_in(store, "anna", long + "y") is None


def test_no_password_is_kept(store: Store) -> None:
    add_user(store, "anna", Role.KEEP, WORDS)
    add_user(store, "ben", Role.LOOK, WORDS)
    with store.engine.begin() as connection:
        rows = connection.execute(text("SELECT salt, secret FROM users")).all()
    assert len({bytes(row.salt) for row in rows}) == 2
    assert len({bytes(row.secret) for row in rows}) == 2
    for row in rows:
        assert WORDS.encode() not in bytes(row.salt) + bytes(row.secret)


def test_scrypt_is_that_of_the_standard() -> None:
    # RFC 7914, section 12, second vector.
    made = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, dklen=64)
    assert made.hex().startswith("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162")


@pytest.mark.parametrize(
    ("role", "may"),
    [
        (Role.LOOK, [True, False, False]),
        (Role.EDIT, [True, True, False]),
        (Role.KEEP, [True, True, True]),
    ],
)
def test_roles(store: Store, role: Role, may: list[bool]) -> None:
    user = add_user(store, "anna", role, WORDS)
    assert [user.may(each) for each in (Role.LOOK, Role.EDIT, Role.KEEP)] == may


def test_somebody_always_keeps_the_users(store: Store) -> None:
    add_user(store, "anna", Role.KEEP, WORDS)
    add_user(store, "ben", Role.EDIT, WORDS)
    for wrong in (
        lambda: change_user(store, "anna", role=Role.LOOK),
        lambda: remove_user(store, "anna"),
    ):
        with pytest.raises(StoreError, match="'anna' is the last one who keeps the users"):
            wrong()
    change_user(store, "ben", role=Role.KEEP)
    remove_user(store, "anna")
    assert [(u.name, u.role) for u in users(store)] == [("ben", Role.KEEP)]
    assert let_in(store, "anna", WORDS) is None
    remove_user(store, "ben")  # the last of all may go: nobody is locked out of anything
    assert users(store) == ()


@pytest.mark.parametrize(
    ("name", "password", "problem"),
    [
        ("", WORDS, "a user's name is"),
        (" anna", WORDS, "a user's name is"),
        ("an\nna", WORDS, "a user's name is"),
        ("x" * 81, WORDS, "a user's name is"),
        ("ben", "short", "a password has 12 to 128 characters"),
        ("ben", "x" * 129, "a password has 12 to 128 characters"),
        ("anna", WORDS, "there is a user 'anna' already"),
    ],
)
def test_unfit_users(store: Store, name: str, password: str, problem: str) -> None:
    add_user(store, "anna", Role.KEEP, WORDS)
    with pytest.raises(StoreError, match=problem):
        add_user(store, name, Role.LOOK, password)
    assert [user.name for user in users(store)] == ["anna"]


def test_users_that_are_not_there(store: Store) -> None:
    for wrong in (
        lambda: change_user(store, "ben", role=Role.LOOK),
        lambda: remove_user(store, "ben"),
    ):
        with pytest.raises(StoreError, match="there is no user 'ben'"):
            wrong()


def test_every_change_of_credentials_is_told_in_one_place(store: Store) -> None:
    heard: list[Change] = []
    store.told = heard.append
    add_user(store, "anna", Role.KEEP, WORDS, by="somebody")
    add_user(store, "ben", Role.EDIT, WORDS, by="anna")
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE users SET mail = 'ben@jobs.example' WHERE name = 'ben'"))
    change_user(store, "ben", password=WORDS + "!", by="ben")
    change_user(store, "ben", role=Role.EDIT, by="anna")  # as it was: nothing to tell
    change_user(store, "ben", role=Role.LOOK, by="anna")
    remove_user(store, "ben", by="anna")
    told = [(one.name, one.what, one.by, one.mail) for one in heard]
    assert told == [
        ("anna", What.ADDED, "somebody", ""),
        ("ben", What.ADDED, "anna", ""),
        ("ben", What.PASSWORD, "ben", "ben@jobs.example"),
        ("ben", What.ROLE, "anna", "ben@jobs.example"),
        ("ben", What.REMOVED, "anna", "ben@jobs.example"),
    ]
    assert all(one.at.tzinfo is not None for one in heard)


def test_nothing_is_told_of_what_was_not_done(store: Store) -> None:
    add_user(store, "anna", Role.KEEP, WORDS)
    heard: list[Change] = []
    store.told = heard.append
    for wrong in (
        lambda: change_user(store, "anna", role=Role.LOOK),
        lambda: change_user(store, "anna", password="short"),
        lambda: remove_user(store, "ben"),
        lambda: add_user(store, "anna", Role.LOOK, WORDS),
    ):
        with pytest.raises(StoreError):
            wrong()
    assert heard == []
