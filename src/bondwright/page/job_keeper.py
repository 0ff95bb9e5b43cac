"""A job of the store as what a working copy is kept in."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from bondwright.page.keepers import ChangedElsewhereError, Theirs, site_of
from bondwright.site.model import Site
from bondwright.site.text_file import decode
from bondwright.store.errors import ConflictError
from bondwright.store.files import SITE
from bondwright.store.store import Revision, Snapshot, Store


class JobKeeper:
    """A job; every save is a revision of it.

    Args:
        store: where it is.
        job: its id.

    Raises:
        bondwright.store.errors.StoreError: there is no such job.
    """

    kind = "job"

    def __init__(self, store: Store, job: str) -> None:
        self.store, self.job = store, job
        self._base = store.read(job)
        self._folder = tempfile.TemporaryDirectory(prefix="bondwright-")
        self._lay_out(self._base)

    def _lay_out(self, found: Snapshot) -> None:
        for name, data in found.files.items():
            if name != SITE:
                Path(self._folder.name, name).write_bytes(data)

    @property
    def where(self) -> str:
        """Name of the job."""
        return self._base.name

    @property
    def revision(self) -> int:
        """Number of the revision that the working copy was made from."""
        return self._base.revision.number

    def site(self, text: str) -> Site:
        """Read a text as this job's, with the files beside it."""
        return site_of(text, SITE, Path(self._folder.name))

    def elsewhere(self) -> str:
        """Say who saved a revision since."""
        newest = self.store.find(self.job).newest
        if newest.number == self.revision:
            return ""
        return f"{newest.who} saved revision {newest.number}: {newest.why}"

    def save(self, text: str, who: str, why: str) -> None:
        """Write the next revision."""
        files = {**self._base.files, SITE: text.encode()}
        try:
            revision = self.store.save(self.job, files, after=self.revision, who=who, why=why)
        except ConflictError as error:
            raise ChangedElsewhereError(str(error).partition(";")[0]) from error
        self._base = Snapshot(self._base.name, revision, files)

    def take(self, sound: Callable[[str], object] = str) -> Theirs:
        """Return the newest revision."""
        found = self.store.read(self.job)
        self._lay_out(found)
        text = self.text_of(found)
        sound(text)
        self._base = found
        return Theirs(text, found.revision.who)

    def read(self) -> str:
        """Return the text to begin with."""
        return self.text_of(self._base)

    def revisions(self) -> tuple[Revision, ...]:
        """Return every revision, the oldest first."""
        return self.store.revisions(self.job)

    def older(self, number: int) -> str:
        """Return the site file of a revision."""
        return self.text_of(self.store.read(self.job, number))

    @staticmethod
    def text_of(found: Snapshot) -> str:
        """Return the site file of a snapshot."""
        return decode(found.files[SITE], SITE)

    def close(self) -> None:
        """Let go of the files beside the site file."""
        self._folder.cleanup()
