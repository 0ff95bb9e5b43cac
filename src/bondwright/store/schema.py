"""The tables, and how an older store becomes one of today."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from sqlalchemy import (
    Column,
    Connection,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    inspect,
    select,
)

from bondwright.store.errors import StoreError

VERSION: Final = 3
"""Of the tables below. A change of them is a new version and a step in :data:`STEPS`."""

METADATA: Final = MetaData()

ABOUT: Final = Table(
    "bondwright_store",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("version", Integer, nullable=False),
)
JOBS: Final = Table(
    "jobs",
    METADATA,
    Column("id", String(32), primary_key=True),
    Column("name", String(200), nullable=False, unique=True),
)
REVISIONS: Final = Table(
    "revisions",
    METADATA,
    Column("job", String(32), ForeignKey("jobs.id"), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("at", String(32), nullable=False),
    Column("who", String(200), nullable=False),
    Column("why", String(2000), nullable=False),
)
CONTENTS: Final = Table(
    "contents",
    METADATA,
    Column("digest", String(64), primary_key=True),
    Column("data", LargeBinary, nullable=False),
)
FILES: Final = Table(
    "files",
    METADATA,
    Column("job", String(32), primary_key=True),
    Column("number", Integer, primary_key=True),
    Column("name", String(120), primary_key=True),
    Column("digest", String(64), ForeignKey("contents.digest"), nullable=False),
    ForeignKeyConstraint(["job", "number"], ["revisions.job", "revisions.number"]),
)
USERS: Final = Table(
    "users",
    METADATA,
    Column("name", String(80), primary_key=True),
    Column("role", String(20), nullable=False),
    Column("salt", LargeBinary, nullable=False),
    Column("secret", LargeBinary, nullable=False),
    Column("changed", String(32)),
    Column("changed_by", String(200)),
    Column("factor", LargeBinary),
    Column("factor_step", Integer),
    Column("spare", String(2000)),
    Column("mail", String(254)),
    Column("agreed", String(32)),
    Column("agreed_to", String(64)),
    Column("changed_what", String(40)),
)


def _say_who_changed_a_password(connection: Connection) -> None:
    connection.exec_driver_sql("ALTER TABLE users ADD COLUMN changed VARCHAR(32)")
    connection.exec_driver_sql("ALTER TABLE users ADD COLUMN changed_by VARCHAR(200)")


def _keep_a_second_factor_and_consent(connection: Connection) -> None:
    for column, kind in (
        ("factor", LargeBinary()),
        ("factor_step", Integer()),
        ("spare", String(2000)),
        ("mail", String(254)),
        ("agreed", String(32)),
        ("agreed_to", String(64)),
        ("changed_what", String(40)),
    ):
        words = kind.compile(dialect=connection.dialect)
        connection.exec_driver_sql(f"ALTER TABLE users ADD COLUMN {column} {words}")


STEPS: Final[Mapping[int, Callable[[Connection], None]]] = {
    1: _say_who_changed_a_password,
    2: _keep_a_second_factor_and_consent,
}
"""For each older version, what turns its tables into those of the next."""


def is_ready(connection: Connection) -> bool:
    """Tell whether the tables are there and up to date; nothing is written."""
    if not inspect(connection).has_table(ABOUT.name):
        return False
    return bool(connection.execute(select(ABOUT.c.version)).scalar_one_or_none() == VERSION)


def prepare(connection: Connection) -> None:
    """Make the tables where there are none, and bring older ones up to date.

    Runs inside the caller's transaction: it happens whole or not at all.

    Raises:
        StoreError: the database holds something else, or was made by a newer version of the tool.
    """
    present = set(inspect(connection).get_table_names())
    if ABOUT.name not in present:
        taken = sorted(present & set(METADATA.tables))
        if taken:
            raise StoreError(
                f"this database holds a table '{taken[0]}' that is none of ours; name another one"
            )
        METADATA.create_all(connection)
        connection.execute(ABOUT.insert().values(id=1, version=VERSION))
        return
    # Locked, so that two that open an older store don't both bring it up to date.
    version = connection.execute(select(ABOUT.c.version).with_for_update()).scalar_one_or_none()
    if version is None:
        raise StoreError("this store is incomplete: its version is missing; restore a backup")
    if version > VERSION:
        raise StoreError(
            f"this store was written by a newer bondwright (version {version} of its tables, this "
            f"one knows {VERSION}); install that one"
        )
    for step in range(version, VERSION):
        STEPS[step](connection)
    if version < VERSION:
        connection.execute(ABOUT.update().values(version=VERSION))
