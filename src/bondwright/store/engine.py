"""Opening the database: SQLite in a file, or PostgreSQL by its address."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import (
    ArgumentError,
    DatabaseError,
    DBAPIError,
    IntegrityError,
    NoSuchModuleError,
    OperationalError,
)
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from bondwright.store.errors import StoreError, UncertainError, UnreachableError
from bondwright.store.schema import is_ready, prepare

_ADDRESS: Final = re.compile(r"[A-Za-z][\w+]*://")
_WAIT: Final = 30
"""Seconds to wait for another process that writes."""
_READS: Final = "bondwright_reads"


def address(text: str) -> URL:
    """Return the address of a store, given as a file or as ``postgresql://user@host/name``.

    Raises:
        StoreError: no such kind of address.
    """
    if not _ADDRESS.match(text):
        return URL.create("sqlite", database=text)
    try:
        url = make_url(text)
    except ArgumentError as error:
        raise StoreError(f"'{text}' is no address of a database") from error
    kind = url.drivername.partition("+")[0]
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite":
        return url.set(drivername="sqlite")
    raise StoreError(
        f"a store can't be kept in '{kind}': give a file, or postgresql://user@host/name"
    )


def connect(text: str, *, create: bool = True) -> Engine:
    """Open a store, making it where there is none.

    Args:
        text: a file, or an address as in :func:`address`.
        create: False refuses to make a new one.

    Returns:
        An engine whose every transaction is written through to the disk before it is acknowledged.

    Raises:
        StoreError: it can't be opened, isn't there, or holds something else.
    """
    url = address(text)
    lite = url.drivername == "sqlite"
    engine = _sqlite(url, text, create=create) if lite else _postgresql(url)
    try:
        with engine.connect().execution_options(**{_READS: True}) as connection, connection.begin():
            ready = is_ready(connection)
        if not ready:  # else nobody who writes is kept waiting by whoever opens it
            with engine.begin() as connection:
                prepare(connection)
    except OperationalError as error:
        engine.dispose()
        raise StoreError(f"the store {shown(url)} can't be opened: {_first_line(error)}") from error
    except DatabaseError as error:
        engine.dispose()
        raise StoreError(f"{shown(url)} is no store: {_first_line(error)}") from error
    except StoreError:
        engine.dispose()
        raise
    return engine


def shown(url: URL) -> str:
    """Return an address as it may be printed: without its password."""
    if url.drivername == "sqlite":
        return str(url.database)
    return url.set(drivername="postgresql").render_as_string(hide_password=True)


def _first_line(error: Exception) -> str:
    told = str(error.orig if isinstance(error, DBAPIError) and error.orig else error).strip()
    return told.splitlines()[0].lower() if told else type(error).__name__


def _lost(engine: Engine) -> tuple[type[Exception], ...]:
    # Where the database goes away while several rows are under way, the driver's own error comes
    # out of its pipeline's end, past the wrapping.
    driver: type[Exception] = engine.dialect.loaded_dbapi.Error
    return DBAPIError, PoolTimeoutError, driver


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that writes nothing; it keeps no writer waiting.

    Raises:
        UnreachableError: the database can't be reached.
    """
    try:
        with engine.connect().execution_options(**{_READS: True}) as connection, connection.begin():
            yield connection
    except _lost(engine) as error:
        raise UnreachableError(f"the store can't be read: {_first_line(error)}") from error


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Open a transaction that writes; when it ends without an error, all of it is on the disk.

    Raises:
        UnreachableError: the database can't be reached or can't write; nothing was written.
        UncertainError: it was lost while it wrote the end of the transaction.
        sqlalchemy.exc.IntegrityError: what is written is there already.
    """
    ended = False
    try:
        with engine.begin() as connection:
            yield connection
            ended = True
    except IntegrityError:
        raise
    except _lost(engine) as error:
        # SQLite runs in this process: where its end fails, the transaction is undone.
        if ended and engine.dialect.name != "sqlite":
            raise UncertainError(
                f"the database was lost while it wrote ({_first_line(error)}): look whether the "
                "change is there before you make it again"
            ) from error
        raise UnreachableError(
            f"nothing was written, for the store can't be written: {_first_line(error)}"
        ) from error


def _postgresql(url: URL) -> Engine:
    try:
        engine = create_engine(url, pool_pre_ping=True)
    except (ModuleNotFoundError, NoSuchModuleError) as error:
        raise StoreError(
            "PostgreSQL needs its driver: install bondwright with its extra 'postgres'"
        ) from error

    # A server may be set to acknowledge what isn't on its disk yet; what we acknowledge must be.
    @event.listens_for(engine, "connect")
    def _connected(connection: Any, record: object) -> None:  # noqa: ARG001
        connection.execute("SET synchronous_commit = on")
        connection.commit()

    return engine


def _sqlite(url: URL, text: str, *, create: bool) -> Engine:
    path = Path(str(url.database or ""))
    if not url.database or url.database == ":memory:":
        raise StoreError("a store is kept in a file: name one")
    if path.is_dir():
        raise StoreError(f"{path} is a folder; name a file in it")
    if not path.exists():
        if not create:
            raise StoreError(f"there is no store {text}")
        if not path.parent.is_dir():
            raise StoreError(f"there is no folder {path.parent}; make it first")
    engine = create_engine(url, connect_args={"timeout": _WAIT})

    # The driver's own handling of transactions starts them late; ours take the write lock at once,
    # so that a number read is still the newest when the next one is written.
    @event.listens_for(engine, "connect")
    def _connected(connection: Any, record: object) -> None:  # noqa: ARG001
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        reads = connection.get_execution_options().get(_READS)
        connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")

    return engine
