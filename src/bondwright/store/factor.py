"""A second factor: codes by the time (RFC 6238) from an app, and spare ones for when it is lost."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import secrets
from typing import Any, Final

import pyotp
from sqlalchemy import select

from bondwright.store.changes import Change, What
from bondwright.store.engine import reading, writing
from bondwright.store.errors import StoreError
from bondwright.store.schema import USERS
from bondwright.store.store import Store
from bondwright.store.users import known, signed

STEP_S: Final = 30
"""A code is for so long, s (RFC 6238, section 5.2)."""
DRIFT: Final = 1
"""Steps that a clock may be early or late (RFC 6238, section 5.2 and 6)."""
DIGITS: Final = 6
SPARE: Final = 10
"""Spare codes that are made at a time."""
_SECRET: Final = 20
"""Bytes of a secret: the length that RFC 4226, section 4, recommends."""
_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of spare codes: none that looks like another."""
_SPARE_LENGTH: Final = 12
"""Letters of a spare code: 59 bits."""
_SALT: Final = 16
_COST: Final = {"n": 2**12, "r": 8, "p": 1, "dklen": 32}
"""Of scrypt for spare codes, which are random: nobody tries words for them."""


def new_secret() -> bytes:
    """Return a secret for an app."""
    return secrets.token_bytes(_SECRET)


def secret_text(secret: bytes) -> str:
    """Return a secret as it is typed into an app."""
    return base64.b32encode(secret).decode("ascii")


def app_address(secret: bytes, name: str) -> str:
    """Return what an app reads from a picture.

    Args:
        secret: of the factor.
        name: whose it is; shown by the app.
    """
    made: str = pyotp.TOTP(secret_text(secret)).provisioning_uri(
        name=name, issuer_name="bondwright"
    )
    return made


def code_at(secret: bytes, step: int) -> str:
    """Return the code of a step (RFC 4226 with the step as counter, RFC 6238)."""
    made: str = pyotp.HOTP(secret_text(secret), digits=DIGITS).at(step)
    return made


def step_of(store: Store) -> int:
    """Return the step that it is."""
    return int(store.now().timestamp()) // STEP_S


def has_factor(store: Store, name: str) -> bool:
    """Tell whether somebody has a second factor."""
    with reading(store.engine) as connection:
        query = select(USERS.c.factor).where(USERS.c.name == name)
        return connection.execute(query).scalar_one_or_none() is not None


def spare_left(store: Store, name: str) -> int:
    """Return how many spare codes somebody has left."""
    with reading(store.engine) as connection:
        kept = connection.execute(select(USERS.c.spare).where(USERS.c.name == name)).scalar()
    return len(_read(kept)[1])


def check_code(store: Store, name: str, code: str) -> bool:
    """Tell whether a code is somebody's, and use it up.

    Args:
        store: has the users.
        name: whose it should be.
        code: of the app, or a spare one.
    """
    typed = _plain(code)
    with writing(store.engine) as connection:
        # Locked until the transaction ends, so that a code that comes twice at once is taken once.
        query = select(USERS).where(USERS.c.name == name).with_for_update()
        row = connection.execute(query).one_or_none()
        if row is None or row.factor is None:
            return False
        step = _step(bytes(row.factor), typed, step_of(store), row.factor_step)
        used: dict[str, object]
        if step is not None:
            used = {"factor_step": step}
        elif (left := _without(row.spare, typed)) is not None:
            used = {"spare": left}
        else:
            return False
        connection.execute(USERS.update().where(USERS.c.name == name).values(used))
    return True


def set_factor(store: Store, name: str, secret: bytes, code: str) -> tuple[str, ...]:
    """Give somebody a second factor that they set up, in place of any that they had.

    Args:
        store: has the users.
        name: theirs.
        secret: that their app was given.
        code: that the app shows.

    Returns:
        Spare codes, each of which can be used once. They are kept as hashes only.

    Raises:
        StoreError: the code is not that of the secret, or there is no such user.
    """
    at = store.now()
    step = _step(secret, _plain(code), step_of(store), None)
    if step is None:
        raise StoreError(
            "that is not the code of this secret: type the one that the app shows now, and see "
            "that the phone's clock is right"
        )
    codes, kept = _new_spare()
    values = {"factor": secret, "factor_step": step, "spare": kept}
    mail = _change(store, name, {**values, **signed(What.FACTOR, name, at)})
    store.told(Change(name, What.FACTOR, name, at, mail))
    return codes


def drop_factor(store: Store, name: str, *, by: str) -> None:
    """Take somebody's second factor away, with its spare codes.

    Args:
        store: has the users.
        name: theirs.
        by: who does it; they are told.

    Raises:
        StoreError: there is no such user, or they have none.
    """
    if not has_factor(store, name) and known(store, name) is not None:
        raise StoreError(f"'{name}' has no second factor")
    at = store.now()
    values = {"factor": None, "factor_step": None, "spare": None}
    mail = _change(store, name, {**values, **signed(What.NO_FACTOR, by, at)})
    store.told(Change(name, What.NO_FACTOR, by, at, mail))


def renew_spare(store: Store, name: str) -> tuple[str, ...]:
    """Make somebody new spare codes; those until now are worth nothing.

    Raises:
        StoreError: there is no such user.
    """
    at = store.now()
    codes, kept = _new_spare()
    mail = _change(store, name, {"spare": kept, **signed(What.SPARE, name, at)})
    store.told(Change(name, What.SPARE, name, at, mail))
    return codes


def _change(store: Store, name: str, values: dict[str, Any]) -> str:
    """Write it; return the address that somebody is told at."""
    with writing(store.engine) as connection:
        query = select(USERS.c.mail).where(USERS.c.name == name).with_for_update()
        row = connection.execute(query).one_or_none()
        if row is None:
            raise StoreError(f"there is no user '{name}'")
        connection.execute(USERS.update().where(USERS.c.name == name).values(values))
    return row.mail or ""


def _plain(code: str) -> str:
    return "".join(c for c in code.lower() if not c.isspace() and c != "-")


def _step(secret: bytes, typed: str, now: int, used: int | None) -> int | None:
    """Return the step that a code is of, if it may be used now, or None."""
    found = None
    if len(secret) < _SECRET:
        return None  # damaged: codes of what is left could be guessed
    for step in range(now - DRIFT, now + DRIFT + 1):
        right = hmac.compare_digest(
            code_at(secret, step).encode(), typed.encode("utf-8", "replace")
        )
        if right and (used is None or step > used):
            found = step
    return found


def _new_spare() -> tuple[tuple[str, ...], str]:
    """Return spare codes as they are shown, and as they are kept: their salt, then the hashes."""
    plain = ["".join(secrets.choice(_LETTERS) for _ in range(_SPARE_LENGTH)) for _ in range(SPARE)]
    salt = secrets.token_bytes(_SALT)
    kept = [salt.hex(), *(_hash(code, salt) for code in plain)]
    return tuple(f"{c[:4]}-{c[4:8]}-{c[8:]}" for c in plain), json.dumps(kept)


def _hash(code: str, salt: bytes) -> str:
    return hashlib.scrypt(code.encode("utf-8", "replace"), salt=salt, **_COST).hex()


def _read(kept: str | None) -> tuple[str, list[str]]:
    """Return the salt and the hashes of spare codes; none where they are damaged."""
    try:
        salt, *codes = json.loads(kept) if kept else [""]
        if len(bytes.fromhex(salt)) == _SALT and all(bytes.fromhex(code) for code in codes):
            return salt, codes
    except (ValueError, TypeError):
        pass
    return "", []


def _without(kept: str | None, typed: str) -> str | None:
    """Return the spare codes without the one that was typed, or None if it is none of them."""
    salt, codes = _read(kept)
    if not codes or len(typed) != _SPARE_LENGTH:
        return None
    tried = _hash(typed, bytes.fromhex(salt))
    left = [code for code in codes if not hmac.compare_digest(code, tried)]
    return json.dumps([salt, *left]) if len(left) < len(codes) else None
