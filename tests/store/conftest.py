import os
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bondwright.store.store import Store
from scripts.postgres_server import running, search_path
from tests.programs import require_program


@pytest.fixture(scope="session")
def postgres_programs() -> Path:
    """The folder of PostgreSQL's programs."""
    env = {**os.environ, "PATH": search_path()}
    return require_program("initdb", package="postgresql", env=env).parent


@pytest.fixture(scope="session")
def postgres(postgres_programs: Path) -> Iterator[str]:
    """The address of a PostgreSQL server of our own, which listens on a socket file only."""
    with running(postgres_programs) as server:
        yield server.address


@pytest.fixture
def fresh(postgres: str) -> Callable[[], str]:
    """Makes the address of a new, empty corner of the database."""
    import psycopg

    def make() -> str:
        name = f"t{uuid.uuid4().hex}"
        with psycopg.connect(postgres, autocommit=True) as connection:
            connection.execute(f"CREATE SCHEMA {name}")
        return f"{postgres}&options=-csearch_path%3D{name}"

    return make


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a new store may be made, in a database of either kind."""
    if request.param == "sqlite":
        return str(tmp_path / "jobs.sqlite")
    make: Callable[[], str] = request.getfixturevalue("fresh")
    return make()


@pytest.fixture
def store(where: str) -> Iterator[Store]:
    with Store(where) as opened:
        yield opened
