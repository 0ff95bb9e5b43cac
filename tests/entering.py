"""Users who may come in: they agreed, and those who keep the users have a second factor."""

from __future__ import annotations

from typing import Any

from bondwright.page.policy import Policy
from bondwright.store.factor import code_at, has_factor, step_of
from bondwright.store.own import agree
from bondwright.store.schema import USERS
from bondwright.store.store import Store
from bondwright.store.users import Role, users

SECRET = b"12345678901234567890"


def ready(store: Store, policy: Policy | None = None) -> None:
    """Have everybody agree to what is kept, and whoever keeps the users set up a second factor."""
    for one in users(store):
        agree(store, one.name, (policy or Policy()).mark)
        if one.role is Role.KEEP:
            with store.engine.begin() as connection:  # not by set_factor: the notice would be of it
                connection.execute(
                    USERS.update().where(USERS.c.name == one.name).values(factor=SECRET)
                )


def code(store: Store, name: str) -> str:
    """Return a code of somebody's second factor as if none had been used yet; "" without one."""
    if not has_factor(store, name):
        return ""
    with store.engine.begin() as connection:
        connection.execute(USERS.update().where(USERS.c.name == name).values(factor_step=None))
    return code_at(SECRET, step_of(store))


def words(store: Store, name: str, password: str) -> dict[str, Any]:
    """Return what somebody sends to log in."""
    return {"name": name, "password": password, "code": code(store, name)}
