"""Jobs and their revisions."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType, TracebackType
from typing import Final, Self

from sqlalchemy import Connection, func, select
from sqlalchemy.exc import IntegrityError

from bondwright.store.changes import Change, tell_nobody
from bondwright.store.engine import connect, reading, writing
from bondwright.store.errors import ConflictError, DamagedError, StoreError, UnknownJobError
from bondwright.store.files import check_files, digest
from bondwright.store.schema import CONTENTS, FILES, JOBS, REVISIONS

MAX_NAME: Final = 200
MAX_WHY: Final = 2000
MOST_REVISION: Final = 2**31 - 1
"""Largest number that every database has for a revision."""


@dataclass(frozen=True, slots=True)
class Revision:
    """One change of a job.

    Attributes:
        job: id of the job.
        number: 1 for the first.
        at: when it was written, with its time zone.
        who: who made it.
        why: for what reason.
    """

    job: str
    number: int
    at: datetime
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class Job:
    """A job and its newest revision.

    Attributes:
        id: never changes.
        name: what people call it; unique in the store.
        newest: the revision that stands.
    """

    id: str
    name: str
    newest: Revision


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The files of a job at one revision.

    Attributes:
        name: of the job.
        revision: which.
        files: their bytes by name.
    """

    name: str
    revision: Revision
    files: Mapping[str, bytes]


class Store:
    """A store that is open.

    A method that changes something returns only when the change is on the disk; when it raises,
    nothing was changed. Several processes and threads may use one store.

    Attributes:
        told: is called with every change of somebody's credentials that is made through this
            store, after it is on the disk, in the thread that made it. It raises nothing and
            doesn't take long.
    """

    def __init__(
        self,
        where: str,
        *,
        create: bool = True,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        """Open a store.

        Args:
            where: a file, or ``postgresql://user@host/name``.
            create: False refuses to make a new one.
            clock: what time it is.

        Raises:
            StoreError: it can't be opened.
        """
        self.engine = connect(where, create=create)
        self.told: Callable[[Change], None] = tell_nobody
        self._clock = clock

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def now(self) -> datetime:
        """Return what time it is."""
        return self._clock().astimezone(UTC)

    def jobs(self) -> tuple[Job, ...]:
        """Return all jobs by name, each with its newest revision."""
        newest = (
            select(REVISIONS.c.job, func.max(REVISIONS.c.number).label("number"))
            .group_by(REVISIONS.c.job)
            .subquery()
        )
        query = (
            select(JOBS.c.name, REVISIONS)
            .join(newest, newest.c.job == JOBS.c.id)
            .join(
                REVISIONS,
                (REVISIONS.c.job == newest.c.job) & (REVISIONS.c.number == newest.c.number),
            )
        )
        with reading(self.engine) as connection:
            rows = connection.execute(query).all()
        found = [Job(row.job, row.name, _revision(row)) for row in rows]
        return tuple(sorted(found, key=lambda job: (job.name.casefold(), job.name)))

    def find(self, word: str) -> Job:
        """Return the job with a name or an id.

        Raises:
            UnknownJobError: there is none.
        """
        query = select(JOBS).where((JOBS.c.name == word) | (JOBS.c.id == word))
        if is_text(word):
            with reading(self.engine) as connection:
                rows = connection.execute(query.order_by(JOBS.c.name != word)).all()
                if rows:
                    return Job(rows[0].id, rows[0].name, _newest(connection, rows[0].id))
        raise UnknownJobError(f"there is no job {_quoted(word)}")

    def add(self, name: str, files: Mapping[str, bytes], *, who: str, why: str) -> Revision:
        """Start a job.

        Args:
            name: what people call it.
            files: the first revision; one of them is ``site.yaml``.
            who: who does it.
            why: for what reason.

        Raises:
            StoreError: the name is taken or unfit, or the files are.
        """
        return self.add_history(name, [(files, self._clock(), who, why)])

    def add_history(
        self, name: str, history: Iterable[tuple[Mapping[str, bytes], datetime, str, str]]
    ) -> Revision:
        """Start a job with all its revisions, in one go.

        Args:
            name: what people call it.
            history: files, time, who and why of each revision, the oldest first.

        Returns:
            The newest revision.

        Raises:
            StoreError: the name is taken or unfit, something in a revision is, or there is none.
        """
        name = _said(name, "name", MAX_NAME)
        id = uuid.uuid4().hex
        revision = None
        try:
            with writing(self.engine) as connection:
                connection.execute(JOBS.insert().values(id=id, name=name))
                for number, (files, at, who, why) in enumerate(history, 1):
                    revision = _checked(Revision(id, number, at, who, why))
                    _write(connection, revision, files)
                if revision is None:
                    raise StoreError("a job needs a revision")
        except IntegrityError as error:
            raise StoreError(f"there is a job '{name}' already") from error
        return revision

    def save(
        self, job: str, files: Mapping[str, bytes], *, after: int, who: str, why: str
    ) -> Revision:
        """Write the next revision of a job.

        Args:
            job: its name or id.
            files: all files of the new revision; one of them is ``site.yaml``.
            after: number of the revision that these files were made from.
            who: who does it.
            why: for what reason.

        Raises:
            ConflictError: another revision was written since.
            UnknownJobError: there is no such job or no such revision.
            StoreError: the files are unfit.
        """
        found = self.find(job)
        revision = _checked(Revision(found.id, after + 1, self._clock(), who, why))
        try:
            with writing(self.engine) as connection:
                newest = _newest(connection, found.id)
                if after > newest.number or after < 1:
                    raise UnknownJobError(f"'{found.name}' has no revision {after}")
                if after < newest.number:
                    raise ConflictError(found.name, after, newest.number, newest.who)
                _write(connection, revision, files)
        except IntegrityError as error:
            newest = self.find(found.id).newest
            raise ConflictError(found.name, after, newest.number, newest.who) from error
        return revision

    def rename(self, job: str, name: str) -> None:
        """Call a job something else.

        Raises:
            StoreError: the new name is taken or unfit, or there is no such job.
        """
        found, name = self.find(job), _said(name, "name", MAX_NAME)
        try:
            with writing(self.engine) as connection:
                connection.execute(JOBS.update().where(JOBS.c.id == found.id).values(name=name))
        except IntegrityError as error:
            raise StoreError(f"there is a job '{name}' already") from error

    def revisions(self, job: str) -> tuple[Revision, ...]:
        """Return the revisions of a job, the oldest first.

        Raises:
            UnknownJobError: there is no such job.
        """
        found = self.find(job)
        query = select(REVISIONS).where(REVISIONS.c.job == found.id).order_by(REVISIONS.c.number)
        with reading(self.engine) as connection:
            return tuple(_revision(row) for row in connection.execute(query))

    def read(self, job: str, number: int | None = None) -> Snapshot:
        """Return the files of a job.

        Args:
            job: its name or id.
            number: of the revision; None takes the newest.

        Raises:
            UnknownJobError: there is no such job or no such revision.
            DamagedError: a file is not what was written.
        """
        found = self.find(job)
        with reading(self.engine) as connection:
            if number is None:
                revision = _newest(connection, found.id)
            elif abs(number) > MOST_REVISION:
                raise UnknownJobError(f"'{found.name}' has no revision of so large a number")
            else:
                row = connection.execute(
                    select(REVISIONS).where(
                        REVISIONS.c.job == found.id, REVISIONS.c.number == number
                    )
                ).one_or_none()
                if row is None:
                    raise UnknownJobError(f"'{found.name}' has no revision {number}")
                revision = _revision(row)
            rows = connection.execute(
                select(FILES.c.name, FILES.c.digest, CONTENTS.c.data)
                .join(CONTENTS, CONTENTS.c.digest == FILES.c.digest)
                .where(FILES.c.job == found.id, FILES.c.number == revision.number)
                .order_by(FILES.c.name)
            ).all()
        files = {row.name: bytes(row.data) for row in rows}
        for row in rows:
            if digest(files[row.name]) != row.digest:
                raise DamagedError(
                    f"'{row.name}' of '{found.name}', revision {revision.number}, is damaged: what "
                    "is read is not what was written; restore a backup"
                )
        try:
            check_files(files)
        except StoreError as error:
            raise DamagedError(
                f"revision {revision.number} of '{found.name}' is damaged: {error}"
            ) from error
        return Snapshot(found.name, revision, MappingProxyType(files))


def is_text(word: str) -> bool:
    """Tell whether a word can stand in a database: no NUL, no half of a surrogate pair."""
    return "\x00" not in word and not any("\ud800" <= c <= "\udfff" for c in word)


def _quoted(word: str) -> str:
    return f"'{word[:MAX_NAME]}'" if word.isprintable() else ascii(word[:MAX_NAME])


def _said(text: str, what: str, most: int) -> str:
    """Return a line that a person typed, trimmed.

    Raises:
        StoreError: it is empty, too long, or holds control characters.
    """
    text = text.strip()
    if not text:
        raise StoreError(f"the {what} is missing")
    if len(text) > most:
        raise StoreError(f"the {what} is longer than {most} characters")
    if any(not c.isprintable() for c in text.replace("\n", " " if what == "reason" else "\n")):
        raise StoreError(f"the {what} holds a character that can't be printed")
    return text


def _checked(revision: Revision) -> Revision:
    if revision.at.tzinfo is None:
        raise StoreError("the time of a revision needs its time zone")
    return Revision(
        revision.job,
        revision.number,
        revision.at.astimezone(UTC),
        _said(revision.who, "person", MAX_NAME),
        _said(revision.why, "reason", MAX_WHY),
    )


def _revision(row: object) -> Revision:
    fields = {key: getattr(row, key) for key in ("job", "number", "at", "who", "why")}
    return Revision(**{**fields, "at": datetime.fromisoformat(fields["at"])})


def _newest(connection: Connection, job: str) -> Revision:
    query = (
        select(REVISIONS).where(REVISIONS.c.job == job).order_by(REVISIONS.c.number.desc()).limit(1)
    )
    return _revision(connection.execute(query).one())


def _write(connection: Connection, revision: Revision, files: Mapping[str, bytes]) -> None:
    check_files(files)
    connection.execute(
        REVISIONS.insert().values(
            job=revision.job,
            number=revision.number,
            at=revision.at.isoformat(timespec="microseconds"),
            who=revision.who,
            why=revision.why,
        )
    )
    digests = {name: digest(data) for name, data in files.items()}
    wanted = {digests[name]: data for name, data in files.items()}
    for key in sorted(wanted):  # in one order, so that two writers can't wait for each other
        _keep(connection, key, wanted[key])
    connection.execute(
        FILES.insert(),
        [
            {"job": revision.job, "number": revision.number, "name": name, "digest": key}
            for name, key in digests.items()
        ],
    )


def _keep(connection: Connection, key: str, data: bytes) -> None:
    """Write a content once; two writers of the same one don't disturb each other."""
    if connection.dialect.name == "postgresql":
        from sqlalchemy.dialects.postgresql import insert as insert_pg

        connection.execute(
            insert_pg(CONTENTS).values(digest=key, data=data).on_conflict_do_nothing()
        )
    else:
        from sqlalchemy.dialects.sqlite import insert as insert_lite

        connection.execute(
            insert_lite(CONTENTS).values(digest=key, data=data).on_conflict_do_nothing()
        )
