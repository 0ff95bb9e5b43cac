import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bondwright.store.store import Store
from tests.programs import require_program


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The address of a PostgreSQL server of our own, which listens on a socket file only."""
    homes = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))
    path = os.pathsep.join([*(str(home) for home in reversed(homes)), os.environ["PATH"]])
    initdb = require_program("initdb", package="postgresql", env={**os.environ, "PATH": path})
    # The name of a socket is short, so pytest's own folders won't do; the server won't run as root.
    folder = Path(tempfile.mkdtemp(prefix="bw-"))
    as_root = os.geteuid() == 0
    if as_root:
        shutil.chown(folder, "postgres", "postgres")
    user = ["runuser", "-u", "postgres", "--"] if as_root else []
    control = [*user, str(initdb.parent / "pg_ctl"), "-D", str(folder / "data"), "-w"]

    def run(*command: str) -> None:
        subprocess.run(command, check=True, capture_output=True, timeout=60, cwd=folder)

    try:
        run(*user, str(initdb), "-D", str(folder / "data"), "-U", "keeper", "-A", "trust",
            "--no-sync", "-E", "UTF8", "--locale", "C")  # fmt: skip
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}'"
        run(*control, "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql://keeper@/postgres?host={folder}"
        finally:
            run(*control, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder)


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
