"""What is kept of somebody: their agreeing to it, and all of it to take along."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from bondwright.store.engine import reading, writing
from bondwright.store.errors import StoreError
from bondwright.store.factor import spare_left
from bondwright.store.schema import JOBS, REVISIONS, USERS
from bondwright.store.store import Store


def agree(store: Store, name: str, to: str) -> None:
    """Keep that somebody agreed to what is kept of them.

    Args:
        store: has the users.
        name: theirs.
        to: SHA-256 of the text that they read.
    """
    at = store.now().isoformat(timespec="seconds")
    with writing(store.engine) as connection:
        connection.execute(
            USERS.update().where(USERS.c.name == name).values(agreed=at, agreed_to=to)
        )


def own_data(store: Store, name: str) -> dict[str, Any]:
    """Return all that the store has of somebody, and no secret of it.

    Raises:
        StoreError: there is no such user.
    """
    with reading(store.engine) as connection:
        row = connection.execute(select(USERS).where(USERS.c.name == name)).one_or_none()
        if row is None:
            raise StoreError(f"there is no user '{name}'")
        saves = connection.execute(
            select(JOBS.c.name, REVISIONS.c.number, REVISIONS.c.at, REVISIONS.c.why)
            .join(REVISIONS, REVISIONS.c.job == JOBS.c.id)
            .where(REVISIONS.c.who == name)
            .order_by(REVISIONS.c.at, JOBS.c.name)
        ).all()
        others = connection.execute(
            select(USERS.c.name, USERS.c.changed, USERS.c.changed_what)
            .where(USERS.c.changed_by == name, USERS.c.name != name)
            .order_by(USERS.c.name)
        ).all()
    return {
        "name": row.name,
        "role": row.role,
        "password": "kept as a hash with a salt, which are not told",
        "second factor": "kept; its secret is not told" if row.factor is not None else None,
        "spare codes left": spare_left(store, name),
        "credentials last changed": {
            "at": row.changed,
            "by": row.changed_by,
            "what": row.changed_what or "password",
        },
        "address for notices": row.mail,
        "agreed": {"at": row.agreed, "to the text with SHA-256": row.agreed_to},
        "saves": [
            {"job": one.name, "revision": one.number, "at": one.at, "why": one.why} for one in saves
        ],
        "credentials of others that you changed last": [
            {"name": one.name, "at": one.changed, "what": one.changed_what or "password"}
            for one in others
        ],
    }
