"""Where somebody is told by mail."""

import pytest

from bondwright.store.changes import Change, What
from bondwright.store.errors import StoreError
from bondwright.store.mail import check_mail, mail_of, set_mail
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, change_user

PASSWORD = "four words are enough"


@pytest.mark.parametrize(
    "text",
    ["anna@jobs.example", "a.b+c_d-e@x", "A!#$%&'*/=?^`{|}~@192-0-2-1.example", "x" * 64 + "@y.z"],
)
def test_plain_addresses_are_taken(text: str) -> None:
    """RFC 5321, 4.1.2: a local part as Dot-string, a domain of labels."""
    assert check_mail(text) == text


@pytest.mark.parametrize(
    "text",
    [
        "", "anna", "@x.y", "anna@", "a@b@c", ".a@b.c", "a.@b.c", "a..b@c.d", "a b@c.d", "a@b c",
        "a@-b.c", "a@b-.c", "a@b..c", "a@.b", "a@b.", "a@[192.0.2.1]", '"a b"@c.d', "a(x)@b.c",
        "Anna <a@b.c>", "a@b.c,d@e.f", "a@b.c;d@e.f", "a@b.c\r\nBcc: d@e.f", "a@b.c\n", "\na@b.c",
        "a@b.c\0", "\u00e4@b.c", "a@\u00f6.c", "a@b.c ", "a\\@b.c", "a@b_c.d",
        "x" * 65 + "@y.z", "a@" + "b" * 64 + ".c", "a@" + ".".join(["b" * 60] * 5),
    ],
)  # fmt: skip
def test_anything_else_is_refused(text: str) -> None:
    with pytest.raises(StoreError, match="no address for mail"):
        check_mail(text)


def test_the_address_until_now_and_the_new_one_are_told(store: Store) -> None:
    told: list[Change] = []
    add_user(store, "ben", Role.EDIT, PASSWORD)
    store.told = told.append
    assert mail_of(store, "ben") == ""
    set_mail(store, "ben", "ben@mail.example", by="ben")
    set_mail(store, "ben", "ben@mail.example", by="ben")
    assert mail_of(store, "ben") == "ben@mail.example"
    change_user(store, "ben", password="five words are enough too", by="anna")
    set_mail(store, "ben", "b@other.example", by="ben")
    set_mail(store, "ben", "", by="ben")
    assert mail_of(store, "ben") == ""
    assert [(each.what, each.by, each.mail) for each in told] == [
        (What.MAIL, "ben", "ben@mail.example"),
        (What.PASSWORD, "anna", "ben@mail.example"),
        (What.MAIL, "ben", "ben@mail.example"),
        (What.MAIL, "ben", "b@other.example"),
        (What.MAIL, "ben", "b@other.example"),
    ]


def test_nobody_has_no_address(store: Store) -> None:
    for name in ("dora", "\ud800", "x\0"):
        assert mail_of(store, name) == ""
        with pytest.raises(StoreError, match="there is no user"):
            set_mail(store, name, "dora@mail.example", by="anna")
    add_user(store, "ben", Role.EDIT, PASSWORD)
    with pytest.raises(StoreError, match="no address for mail"):
        set_mail(store, "ben", "ben", by="ben")
    assert mail_of(store, "ben") == ""
