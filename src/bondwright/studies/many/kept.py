"""Pieces of a study that are done, kept in a file, so that nothing is lost when it is stopped.

The file is an SQLite database with two tables: ``about`` says which question it belongs to,
``piece`` holds the results by number. A piece is in it whole or not at all, whatever happens to
the program or the machine meanwhile (SQLite's rollback journal; every piece is a transaction).
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from types import TracebackType
from typing import Final

from bondwright.studies.many.work import Work

FORMAT: Final = "bondwright/kept"
VERSION: Final = 1


class KeptError(ValueError):
    """A file of kept pieces that can't be used."""


class Kept:
    """A file of kept pieces, opened for one study; made if it isn't there.

    Args:
        path: where it is.
        work: the study.

    Raises:
        KeptError: the file is something else, belongs to another question, or another run is
            at work on it.
    """

    def __init__(self, path: Path, work: Work) -> None:
        self.path = path
        try:
            self._base = sqlite3.connect(path, timeout=1.0, isolation_level=None)
            self._base.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._base.execute("PRAGMA synchronous = FULL")
            self._base.execute("BEGIN EXCLUSIVE")
            self._begin(work)
            self._base.execute("COMMIT")
        except sqlite3.Error as error:
            self.close()
            raise KeptError(f"{path}: {_words(error)}") from error
        except KeptError:
            self.close()
            raise

    def _begin(self, work: Work) -> None:
        base = self._base
        base.execute("CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT)")
        base.execute(
            "CREATE TABLE IF NOT EXISTS piece "
            "(number INTEGER PRIMARY KEY, crc INTEGER NOT NULL, data BLOB NOT NULL)"
        )
        about = {
            "format": FORMAT,
            "version": str(VERSION),
            "title": work.title,
            "fingerprint": work.fingerprint,
            "pieces": str(work.count),
        }
        there = dict(base.execute("SELECT key, value FROM about").fetchall())
        if not there:
            base.executemany("INSERT INTO about VALUES (?, ?)", about.items())
        elif there.get("format") != FORMAT:
            raise KeptError(f"{self.path} is not a file of kept pieces; name another one")
        elif there.get("version") != about["version"]:
            raise KeptError(
                f"{self.path} holds kept pieces of version {str(there.get('version'))[:20]}; this "
                f"bondwright reads {VERSION}. Name another file"
            )
        elif there.get("fingerprint") != work.fingerprint:
            raise KeptError(
                f"{self.path} belongs to another question ({there.get('title')}): the site, the "
                "options or the program have changed since. Name another file, or remove this one"
            )

    def __enter__(self) -> Kept:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        if hasattr(self, "_base"):
            self._base.close()

    def put(self, number: int, data: bytes) -> None:
        """Keep one piece."""
        self._base.execute(
            "INSERT OR REPLACE INTO piece VALUES (?, ?, ?)", (number, zlib.crc32(data), data)
        )

    def pieces(self) -> Iterator[tuple[int, bytes]]:
        """Yield the pieces that are there and sound; the others are forgotten."""
        with closing(self._base.execute("SELECT number, crc, data FROM piece")) as rows:
            bad = []
            for number, crc, data in rows:
                if zlib.crc32(data) == crc:
                    yield number, data
                else:
                    bad.append((number,))
        self._base.executemany("DELETE FROM piece WHERE number = ?", bad)


def _words(error: sqlite3.Error) -> str:
    text = str(error)
    if "locked" in text:
        return "another run is at work on it"
    if "not a database" in text:
        return "is not a file of kept pieces; name another one"
    return text
