"""Jobs as one file: to hand over, to keep as a backup, to move to another store.

A zip file with ``jobs.json`` (format ``bondwright/jobs``) and the contents of all files, each once,
named by its SHA-256.
"""

from __future__ import annotations

import io
import json
import struct
import zipfile
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from bondwright.store.errors import StoreError
from bondwright.store.files import MAX_FILE, check_files, digest
from bondwright.store.store import Snapshot, Store

FORMAT: Final = "bondwright/jobs"
VERSION: Final = 1
MAX_BUNDLE: Final = 256 * 1024 * 1024
"""Most bytes of all contents together."""
MAX_INDEX: Final = 64 * 1024 * 1024
_EPOCH: Final = (1980, 1, 1, 0, 0, 0)
_INDEX: Final = "jobs.json"

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Bundled:
    """A job read out of a bundle, not yet in any store.

    Attributes:
        name: of the job.
        history: files, time, who and why of each revision, the oldest first.
    """

    name: str
    history: tuple[tuple[Mapping[str, bytes], datetime, str, str], ...]


def _silent(what: str, done: int, of: int) -> None:
    pass


def bundle(store: Store, jobs: Sequence[str] | None = None, progress: Progress = _silent) -> bytes:
    """Return jobs with all their revisions as the bytes of a bundle.

    The same jobs give the same bytes.

    Args:
        store: where they are.
        jobs: their names or ids; None takes all.
        progress: called with what is done.

    Raises:
        UnknownJobError: there is no such job.
        DamagedError: a file in the store is damaged.
    """
    found = store.jobs() if jobs is None else [store.find(job) for job in jobs]
    contents: dict[str, bytes] = {}
    entries = []
    for done, job in enumerate(found):
        progress("reading jobs", done, len(found))
        revisions = []
        for number in range(1, job.newest.number + 1):
            snapshot = store.read(job.id, number)
            contents.update((digest(data), data) for data in snapshot.files.values())
            revisions.append(_entry(snapshot))
        entries.append({"name": job.name, "revisions": revisions})
    index = {"format": FORMAT, "version": VERSION, "jobs": entries}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        text = json.dumps(index, indent=1, ensure_ascii=False)
        file.writestr(zipfile.ZipInfo(_INDEX, _EPOCH), text, zipfile.ZIP_DEFLATED)
        for key in sorted(contents):
            info = zipfile.ZipInfo(f"contents/{key}", _EPOCH)
            file.writestr(info, contents[key], zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def _entry(snapshot: Snapshot) -> dict[str, object]:
    revision = snapshot.revision
    return {
        "number": revision.number,
        "at": revision.at.isoformat(),
        "who": revision.who,
        "why": revision.why,
        "files": {name: digest(data) for name, data in snapshot.files.items()},
    }


def unbundle(data: bytes) -> tuple[Bundled, ...]:
    """Read the jobs in a bundle, checking every byte before anything is kept.

    Raises:
        StoreError: it is no bundle, is damaged, or is larger unpacked than a store takes.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as file:
            index = _read_index(file)
            reader = _Contents(file)
            return tuple(_job(entry, reader) for entry in index)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError,
            UnicodeDecodeError, OSError, struct.error) as error:  # fmt: skip
        raise StoreError("this is no bundle of jobs: it is no zip file, or a broken one") from error


class _Contents:
    """Reads each content once, and no more of them than a bundle may hold."""

    def __init__(self, file: zipfile.ZipFile) -> None:
        self._file = file
        self._read: dict[str, bytes] = {}
        self._room = MAX_BUNDLE

    def __getitem__(self, key: str) -> bytes:
        if key not in self._read:
            data = _member(self._file, f"contents/{key}", min(MAX_FILE, self._room))
            if digest(data) != key:
                raise StoreError(f"the bundle is damaged: content {key[:12]} isn't what it was")
            self._room -= len(data)
            self._read[key] = data
        return self._read[key]


def _member(file: zipfile.ZipFile, name: str, most: int) -> bytes:
    try:
        with file.open(name) as member:
            data = member.read(most + 1)
    except KeyError as error:
        raise StoreError(f"the bundle is incomplete: it has no '{name[:80]}'") from error
    if len(data) > most:
        raise StoreError(f"the bundle holds more than a store takes: '{name[:80]}' is too large")
    return data


def _read_index(file: zipfile.ZipFile) -> list[Any]:
    try:
        index = json.loads(_member(file, _INDEX, MAX_INDEX))
    except (ValueError, RecursionError) as error:
        if isinstance(error, StoreError):
            raise
        raise StoreError(f"the bundle is damaged: its '{_INDEX}' can't be read") from error
    if not isinstance(index, dict) or index.get("format") != FORMAT:
        raise StoreError("this zip file is no bundle of jobs")
    if index.get("version") != VERSION:
        raise StoreError(
            f"the bundle is of version {str(index.get('version'))[:20]}; this bondwright reads "
            f"{VERSION}"
        )
    jobs = index.get("jobs")
    if not isinstance(jobs, list):
        raise StoreError("the bundle is damaged: it lists no jobs")
    return jobs


def _job(entry: Any, contents: _Contents) -> Bundled:
    try:
        name = entry["name"]
        history = []
        for place, revision in enumerate(entry["revisions"], 1):
            if revision["number"] != place:
                raise StoreError(f"the bundle is damaged: revision {place} of a job is missing")
            files = {str(file): contents[str(key)] for file, key in revision["files"].items()}
            check_files(files)
            at = datetime.fromisoformat(revision["at"])
            history.append((files, at, str(revision["who"]), str(revision["why"])))
    except (KeyError, TypeError, AttributeError) as error:
        raise StoreError("the bundle is damaged: a job in it is incomplete") from error
    except ValueError as error:
        if isinstance(error, StoreError):
            raise
        raise StoreError("the bundle is damaged: a revision has no time") from error
    if not isinstance(name, str) or not history:
        raise StoreError("the bundle is damaged: a job in it has no name or no revision")
    return Bundled(name, tuple(history))


def restore(store: Store, jobs: Sequence[Bundled], progress: Progress = _silent) -> tuple[str, ...]:
    """Put the jobs of a bundle into a store; one whose name is taken gets a number behind it.

    Returns:
        The names they have there.

    Raises:
        StoreError: one of them is unfit; those before it are in the store.
    """
    names = []
    for done, job in enumerate(jobs):
        progress("writing jobs", done, len(jobs))
        taken = {each.name for each in store.jobs()}
        name, number = job.name, 2
        while name in taken:
            name, number = f"{job.name} ({number})", number + 1
        store.add_history(name, job.history)
        names.append(name)
    return tuple(names)
