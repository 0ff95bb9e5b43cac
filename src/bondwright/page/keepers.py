"""Where a working copy comes from and is kept: a file on disk, or a job with its revisions.

Nothing is written over what somebody else wrote meanwhile, unless a person has seen it and says
so.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Protocol

from bondwright.site import reader
from bondwright.site.model import Site
from bondwright.site.site_error import SiteError
from bondwright.site.source_text import parse
from bondwright.site.starters import starter
from bondwright.site.text_file import decode, read_bytes
from bondwright.site.writer import save, split


class ChangedElsewhereError(ValueError):
    """Somebody else wrote since it was read; nothing was written."""


@dataclass(frozen=True, slots=True)
class Theirs:
    """What stands now where the working copy came from.

    Attributes:
        text: the site file.
        who: wrote it, where that is known.
    """

    text: str
    who: str


class Keeper(Protocol):
    """Keeps a site file."""

    @property
    def kind(self) -> str:
        """``file`` or ``job``."""

    @property
    def where(self) -> str:
        """Name of the file or the job."""

    @property
    def revision(self) -> int:
        """Number of the revision that the working copy was made from; 0 for a file."""

    def site(self, text: str) -> Site:
        """Read a text as this file's.

        Raises:
            bondwright.site.site_error.SiteError: it describes no site.
        """

    def elsewhere(self) -> str:
        """Say who wrote since; "" where nobody did."""

    def save(self, text: str, who: str, why: str) -> None:
        """Write a text for good.

        Raises:
            ChangedElsewhereError: somebody else wrote since it was read.
        """

    def take(self, sound: Callable[[str], object] = str) -> Theirs:
        """Return what stands now; what is saved next was made from that.

        Args:
            sound: reads the text; what it raises leaves everything as it was.
        """


class FileKeeper:
    """A site file on disk; one that isn't there yet begins from a starter.

    Args:
        path: of the file.

    Raises:
        bondwright.site.site_error.SiteError: it can't be read.
    """

    kind = "file"
    revision = 0

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = Lock()
        self._base: str | None = None
        self._seen: tuple[int, int] | None = None
        self.new = not path.exists()

    @property
    def where(self) -> str:
        """Name of the file."""
        return self._path.name

    def site(self, text: str) -> Site:
        """Read a text as this file's: what it names is looked for beside it."""
        return site_of(text, self._path.name, self._path.parent)

    def read(self) -> str:
        """Return the text to begin with."""
        return starter("house") if self.new else self.take().text

    def elsewhere(self) -> str:
        """Say whether the file is another one than was read; only a changed one is read again."""
        with self._lock:
            stamp = _stamp(self._path)
            if stamp == self._seen:
                return ""
            if _digest(self._path) == self._base:
                self._seen = stamp
                return ""
        if stamp is None:
            return f"{self.where} is no longer there"
        return f"{self.where} was written by something else since it was read"

    def save(self, text: str, who: str, why: str) -> None:
        """Write the file whole or not at all."""
        del who, why
        with self._lock, _alone(self._path):
            if _digest(self._path) != self._base:
                said = "was written by something else" if self._path.exists() else "is gone"
                raise ChangedElsewhereError(
                    f"{self.where} {said} since it was read here. Nothing was written"
                )
            save(self._path, text)
            self.new = False
            self._base = hashlib.sha256(text.encode()).hexdigest()
            self._seen = _stamp(self._path)

    def take(self, sound: Callable[[str], object] = str) -> Theirs:
        """Return the file as it stands."""
        with self._lock:
            if not self._path.exists():
                self._base = self._seen = None
                return Theirs("", "")
            stamp = _stamp(self._path)
            data = read_bytes(self._path)
            text = decode(data, str(self._path))
            sound(text)
            self._base, self._seen = hashlib.sha256(data).hexdigest(), stamp
            return Theirs(text, "")


def site_of(text: str, name: str, folder: Path) -> Site:
    """Read a text as a site file of a name in a folder.

    Raises:
        bondwright.site.site_error.SiteError: it describes no site.
    """
    try:
        return reader.validate(split(text), folder)  # which an edit split a moment ago
    except SiteError:
        return reader.validate(parse(text, name), folder)


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def _digest(path: Path) -> str | None:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Keep another server that writes the same file waiting, where the system can."""
    if sys.platform == "win32" or not path.exists():
        yield
        return
    import fcntl

    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
