"""Who may do what, where a store is served to others."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from sqlalchemy import Connection, select
from sqlalchemy.exc import IntegrityError

from bondwright.store.changes import Change, What
from bondwright.store.engine import reading, writing
from bondwright.store.errors import StoreError
from bondwright.store.passwords import check_password
from bondwright.store.schema import REVISIONS, USERS
from bondwright.store.store import Store, is_text

_MOST_TRIED: Final = 256
"""Longest password that is tried, characters; some of before are longer than those taken now."""
_COST: Final = {"n": 2**15, "r": 8, "p": 1, "maxmem": 64 * 2**20, "dklen": 32}
"""Of scrypt (RFC 7914): about 0.1 s and 32 MiB for a try."""


LEFT: Final = "someone who left"
"""Stands beside the saves of those who left and took their name along; nobody is called so."""


class Role(StrEnum):
    """What somebody may do, each more than the one before."""

    LOOK = "look"
    EDIT = "edit"
    KEEP = "keep"


@dataclass(frozen=True, slots=True)
class User:
    """Somebody known to the store.

    Attributes:
        name: as typed to get in; it stands beside each change of theirs.
        role: ``look`` reads, ``edit`` changes jobs as well, ``keep`` also keeps the users.
    """

    name: str
    role: Role

    def may(self, role: Role) -> bool:
        """Tell whether this role is enough for what asks for that one."""
        order = list(Role)
        return order.index(self.role) >= order.index(role)


def add_user(store: Store, name: str, role: Role, password: str, *, by: str = "") -> User:
    """Let somebody in from now on.

    Args:
        store: has the users.
        name: theirs.
        role: theirs.
        password: theirs.
        by: who lets them in; they are told.

    Raises:
        StoreError: the name is taken or unfit, or the password too short or too long.
    """
    if not (0 < len(name) <= 80) or not name.isprintable() or name != name.strip():
        raise StoreError("a user's name is 1 to 80 characters that can be printed")
    if name.casefold() == LEFT:
        raise StoreError(
            f"nobody is called '{LEFT}': it stands for those who took their name along"
        )
    at = store.now()
    values = {
        "name": name,
        "role": role.value,
        **hashed(password, name),
        **signed(What.PASSWORD, by, at),
    }
    try:
        with writing(store.engine) as connection:
            connection.execute(USERS.insert().values(values))
    except IntegrityError as error:
        raise StoreError(f"there is a user '{name}' already") from error
    store.told(Change(name, What.ADDED, by, at))
    return User(name, role)


def change_user(
    store: Store,
    name: str,
    *,
    role: Role | None = None,
    password: str | None = None,
    by: str = "",
) -> User:
    """Give somebody another role or password.

    Args:
        store: has the users.
        name: whose.
        role: the new one; None leaves it.
        password: the new one; None leaves it.
        by: who gives them another password; they are told.

    Raises:
        StoreError: there is no such user, the password is unfit, or nobody would be left who
            keeps the users.
    """
    values: dict[str, object] = {}
    at = store.now()
    if role is not None:
        values["role"] = role.value
    if password is not None:
        values |= {**hashed(password, name), **signed(What.PASSWORD, by, at)}
    with writing(store.engine) as connection:
        before = _everybody(connection, name)
        roles = {one: Role(row.role) for one, row in before.items()}
        after = {**roles, name: role or roles[name]}
        if roles[name] is Role.KEEP and Role.KEEP not in after.values():
            raise StoreError(f"'{name}' is the last one who keeps the users")
        if values:
            connection.execute(USERS.update().where(USERS.c.name == name).values(values))
    mail = before[name].mail or ""
    if password is not None:
        store.told(Change(name, What.PASSWORD, by, at, mail))
    if after[name] is not roles[name]:
        store.told(Change(name, What.ROLE, by, at, mail))
    return User(name, after[name])


def remove_user(
    store: Store, name: str, *, by: str = "", forget: bool = False, last: bool = True
) -> None:
    """Let somebody in no more; their changes stay.

    Args:
        store: has the users.
        name: theirs.
        by: who takes them out.
        forget: put :data:`LEFT` in place of their name wherever it stands beside a change. What
            was changed, when and why stays: it is the history of a building's safety.
        last: whether the last of all may go.

    Raises:
        StoreError: there is no such user, or it is the last one who keeps the users.
    """
    with writing(store.engine) as connection:
        before = _everybody(connection, name)
        others = [Role(row.role) for other, row in before.items() if other != name]
        keeps = Role(before[name].role) is Role.KEEP
        if keeps and Role.KEEP not in others and (others or not last):
            raise StoreError(f"'{name}' is the last one who keeps the users")
        connection.execute(USERS.delete().where(USERS.c.name == name))
        if forget:
            connection.execute(REVISIONS.update().where(REVISIONS.c.who == name).values(who=LEFT))
            told = USERS.update().where(USERS.c.changed_by == name)
            connection.execute(told.values(changed_by=LEFT))
    store.told(Change(name, What.REMOVED, by, store.now(), before[name].mail or ""))


def users(store: Store) -> tuple[User, ...]:
    """Return everybody known, by name."""
    with reading(store.engine) as connection:
        rows = connection.execute(select(USERS.c.name, USERS.c.role)).all()
    return tuple(User(row.name, Role(row.role)) for row in sorted(rows, key=lambda row: row.name))


def with_factor(store: Store) -> frozenset[str]:
    """Return the names of those who have a second factor."""
    with reading(store.engine) as connection:
        query = select(USERS.c.name).where(USERS.c.factor.is_not(None))
        return frozenset(connection.execute(query).scalars())


def _everybody(connection: Connection, name: str) -> dict[str, Any]:
    """Return role and address of everybody, somebody among them.

    Raises:
        StoreError: they aren't.
    """
    # Locked until the transaction ends, so that two of them can't each remove the other.
    rows = connection.execute(select(USERS.c.name, USERS.c.role, USERS.c.mail).with_for_update())
    found = {row.name: row for row in rows}
    if name not in found:
        raise StoreError(f"there is no user '{name}'")
    return found


@dataclass(frozen=True, slots=True)
class Known:
    """What there is to know of somebody who is in.

    Attributes:
        user: who they are.
        mark: another one after a new password or second factor.
        factor: whether they have a second factor.
        agreed_to: SHA-256 of the text of what is kept of them that they agreed to, or "".
    """

    user: User
    mark: str
    factor: bool
    agreed_to: str


def known(store: Store, name: str) -> Known | None:
    """Return what there is to know of somebody, or None where nobody has the name."""
    row = _row(store, name)
    if row is None:
        return None
    factor = bytes(row.factor) if row.factor is not None else b""
    mark = hashlib.sha256(bytes(row.secret) + b"/" + factor).hexdigest()
    has = row.factor is not None
    return Known(User(row.name, Role(row.role)), mark, has, row.agreed_to or "")


def _row(store: Store, name: str) -> Any:
    if not is_text(name):
        return None
    with reading(store.engine) as connection:
        return connection.execute(select(USERS).where(USERS.c.name == name)).one_or_none()


def let_in(store: Store, name: str, password: str) -> User | None:
    """Return the user with that name and password, or None.

    A name that isn't known takes as long as a wrong password.
    """
    row = _row(store, name)
    salt = bytes(row.salt) if row is not None else b"-" * 16
    tried = hashlib.scrypt(password[:_MOST_TRIED].encode("utf-8", "replace"), salt=salt, **_COST)
    if (
        row is None
        or len(password) > _MOST_TRIED
        or not hmac.compare_digest(tried, bytes(row.secret))
    ):
        return None
    return User(row.name, Role(row.role))


def credentials_changed(store: Store, name: str) -> Change | None:
    """Return the last change of somebody's credentials, or None where that isn't known."""
    row = _row(store, name)
    if row is None or row.changed is None:
        return None
    what = What(row.changed_what or What.PASSWORD)
    at = datetime.fromisoformat(row.changed)
    return Change(row.name, what, row.changed_by or "", at, row.mail or "")


def signed(what: What, by: str, at: datetime) -> dict[str, object]:
    """Return what is kept of a change of somebody's credentials, for them to be told."""
    when = at.isoformat(timespec="seconds")
    return {"changed": when, "changed_by": by[:200], "changed_what": what.value}


def hashed(password: str, name: str) -> dict[str, object]:
    """Return a new salt and what scrypt makes of a password with it.

    Raises:
        StoreError: it is unfit.
    """
    check_password(password, name)
    salt = secrets.token_bytes(16)
    return {"salt": salt, "secret": hashlib.scrypt(password.encode(), salt=salt, **_COST)}
