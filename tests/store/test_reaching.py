"""A database that goes away is told, in our own words, and nothing is left in doubt unsaid."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Connection, event

from bondwright.store.bundle import bundle, restore, unbundle
from bondwright.store.engine import reading, writing
from bondwright.store.errors import (
    ConflictError,
    UncertainError,
    UnknownJobError,
    UnreachableError,
)
from bondwright.store.schema import JOBS
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, known, let_in
from scripts.postgres_server import running

FILES = {"site.yaml": b"site: barn\n"}
MORE = {"site.yaml": b"site: barn, built\n", "readings.csv": b"a,b\r\n"}


def test_a_server_that_is_gone_is_told_and_found_again(postgres_programs: Path) -> None:
    with running(postgres_programs) as server, Store(server.address) as store:
        store.add("Barn", FILES, who="Anna", why="first")
        server.stop()
        with pytest.raises(UnreachableError, match="the store can't be read"):
            store.read("Barn")
        with pytest.raises(UnreachableError, match="nothing was written"):
            store.add("Hall", FILES, who="Anna", why="first")
        server.start()
        store.save("Barn", MORE, after=1, who="Anna", why="second")
        assert [job.name for job in store.jobs()] == ["Barn"]


def test_a_server_that_goes_at_the_very_end_leaves_it_open(postgres_programs: Path) -> None:
    """Only a look can tell whether the change is there, and that is said."""
    with running(postgres_programs) as server, Store(server.address) as store:
        store.add("Barn", FILES, who="Anna", why="first")

        def goes(connection: Connection) -> None:
            if "bondwright_reads" not in connection.get_execution_options():
                server.stop()

        event.listen(store.engine, "commit", goes)
        with pytest.raises(UncertainError, match="look whether the change is there"):
            store.save("Barn", MORE, after=1, who="Anna", why="second")
        event.remove(store.engine, "commit", goes)
        server.start()
        assert store.find("Barn").newest.number == 1


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    path = tmp_path / "jobs.sqlite"
    with Store(str(path)) as store:
        store.add("Barn", FILES, who="Anna", why="first")
        with store.engine.begin() as connection:
            room = connection.exec_driver_sql("PRAGMA page_count").scalar_one()

        @event.listens_for(store.engine, "begin")
        def full(connection: Connection) -> None:
            connection.exec_driver_sql(f"PRAGMA max_page_count = {room}")

        with pytest.raises(UnreachableError, match=r"nothing was written.*full"):
            store.add("Hall", {"site.yaml": bytes(1_000_000)}, who="Anna", why="first")
        assert [job.name for job in store.jobs()] == ["Barn"]


def test_a_reader_keeps_no_writer_waiting(tmp_path: Path) -> None:
    path = str(tmp_path / "jobs.sqlite")
    with Store(path) as store:
        store.add("Barn", FILES, who="Anna", why="first")
        writer = sqlite3.connect(path, isolation_level=None)
        writer.execute("BEGIN IMMEDIATE")
        assert store.read("Barn").files == FILES  # while somebody else writes
        assert store.find("Barn").newest.number == 1
        writer.execute("ROLLBACK")
        writer.close()


@pytest.mark.parametrize("word", ["\x00", "Barn\x00", "\ud800", "x" * 10_000, "'; DROP TABLE jobs"])
def test_a_word_that_no_database_takes_is_no_job_and_no_user(where: str, word: str) -> None:
    with Store(where) as store:
        store.add("Barn", FILES, who="Anna", why="first")
        with pytest.raises(UnknownJobError):
            store.find(word)
        assert known(store, word) is None
        assert let_in(store, word, "whatever it may be") is None
        assert [job.name for job in store.jobs()] == ["Barn"]


def test_whoever_saves_second_is_told_who_was_first(where: str) -> None:
    """Two people, two connections, one revision: neither is lost, the second saves again."""
    with Store(where) as anna, Store(where) as ben:
        anna.add("Barn", FILES, who="Anna", why="first")
        seen = ben.read("Barn").revision.number
        anna.save("Barn", MORE, after=1, who="Anna", why="hers")
        with pytest.raises(ConflictError, match="changed by Anna") as told:
            ben.save("Barn", FILES, after=seen, who="Ben", why="his")
        assert (told.value.newest, told.value.who) == (2, "Anna")
        ben.save("Barn", FILES, after=told.value.newest, who="Ben", why="his")
        assert [r.who for r in anna.revisions("Barn")] == ["Anna", "Anna", "Ben"]
        assert anna.read("Barn", 2).files == MORE


@pytest.mark.parametrize("names", [None, ["Barn"]], ids=["the whole store", "one job"])
@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
@pytest.mark.parametrize("of", ["sqlite", "postgresql"])
def test_a_backup_is_restored_in_a_store_of_either_kind(
    tmp_path: Path, fresh: Callable[[], str], of: str, to: str, names: list[str] | None
) -> None:
    first = str(tmp_path / "first.sqlite") if of == "sqlite" else fresh()
    second = str(tmp_path / "second.sqlite") if to == "sqlite" else fresh()
    with Store(first) as old, Store(second) as new:
        add_user(old, "anna", Role.KEEP, "four words are enough")
        old.add("Barn", FILES, who="Anna", why="designed \u03a9")
        old.save("Barn", MORE, after=1, who="Ben", why="built")
        old.add("Hall", FILES, who="Anna", why="another")
        data = bundle(old, names)
        assert restore(new, unbundle(data)) == tuple(names or ("Barn", "Hall"))
        for name in names or ("Barn", "Hall"):
            told = [(r.number, r.at, r.who, r.why) for r in old.revisions(name)]
            assert [(r.number, r.at, r.who, r.why) for r in new.revisions(name)] == told
            for number, *_ in told:
                assert new.read(name, number).files == old.read(name, number).files
        assert bundle(new, names) == data


def test_the_drivers_own_error_is_told_in_our_words_too(where: str) -> None:
    """A driver that falls over itself, as at the end of a pipeline, says so past the wrapping."""
    with Store(where) as store:
        store.add("Barn", FILES, who="Anna", why="first")
        driver = store.engine.dialect.loaded_dbapi

        def write() -> None:
            with writing(store.engine) as connection:
                connection.execute(JOBS.insert().values(id="1", name="Hall"))
                raise driver.OperationalError("cannot exit pipeline mode while busy")

        with pytest.raises(UnreachableError, match=r"nothing was written, .* exit pipeline mode"):
            write()
        with pytest.raises(UnreachableError, match="gone"), reading(store.engine):
            raise driver.OperationalError("gone")
        assert [job.name for job in store.jobs()] == ["Barn"]
