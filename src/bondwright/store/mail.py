"""Where somebody is told by mail that their credentials changed."""

from __future__ import annotations

import re
from typing import Final

from sqlalchemy import select

from bondwright.store.changes import Change, What
from bondwright.store.engine import reading, writing
from bondwright.store.errors import StoreError
from bondwright.store.schema import USERS
from bondwright.store.store import Store, is_text

_MOST: Final = 254
"""Longest address (RFC 5321, 4.5.3.1.3, without the angle brackets), characters."""
_LABEL: Final = r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
_ATOM: Final = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
_ADDRESS: Final = re.compile(
    rf"(?=[^@]{{1,64}}@){_ATOM}(?:\.{_ATOM})*@{_LABEL}(?:\.{_LABEL})*", re.ASCII
)


def check_mail(text: str) -> str:
    """Return an address as it is kept.

    Only the plain form is taken (RFC 5321, Dot-string and Domain), so that none can say anything
    else to a mail server: no quotes, comments, spaces, line ends or characters beyond ASCII.

    Raises:
        StoreError: it is none.
    """
    if len(text) > _MOST or not _ADDRESS.fullmatch(text):
        raise StoreError(
            "that is no address for mail as it is taken here; write it like anna@jobs.example"
        )
    return text


def set_mail(store: Store, name: str, address: str, *, by: str) -> None:
    """Keep where somebody is told; the address until now and the new one are told of it.

    Args:
        store: has the users.
        name: whose.
        address: the new one; "" for nowhere.
        by: who sets it.

    Raises:
        StoreError: there is no such user, or that is no address.
    """
    if address:
        check_mail(address)
    with writing(store.engine) as connection:
        query = select(USERS.c.mail).where(USERS.c.name == name).with_for_update()
        row = connection.execute(query).one_or_none() if is_text(name) else None
        if row is None:
            raise StoreError(f"there is no user '{name}'")
        before = row.mail or ""
        if address != before:
            connection.execute(
                USERS.update().where(USERS.c.name == name).values(mail=address or None)
            )
    if address != before:
        at = store.now()
        for each in filter(None, (before, address)):
            store.told(Change(name, What.MAIL, by, at, each))


def mail_of(store: Store, name: str) -> str:
    """Return where somebody is told, or ""."""
    if not is_text(name):
        return ""
    with reading(store.engine) as connection:
        row = connection.execute(select(USERS.c.mail).where(USERS.c.name == name)).one_or_none()
    return (row.mail or "") if row is not None else ""
