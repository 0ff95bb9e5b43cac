"""What can go wrong with a store, in words for a person."""

from __future__ import annotations


class StoreError(ValueError):
    """Something the store can't do; nothing was changed, unless it says that this can't be told."""


class UnknownJobError(StoreError):
    """There is no such job, or no such revision of it."""


class ConflictError(StoreError):
    """Somebody else changed the job since it was read.

    Attributes:
        newest: number of the revision that stands now.
        who: who made it.
    """

    def __init__(self, name: str, based_on: int, newest: int, who: str) -> None:
        self.newest = newest
        self.who = who
        super().__init__(
            f"'{name}' was changed by {who} while you worked on revision {based_on}: revision "
            f"{newest} stands now. Nothing of yours was written; compare the two and save again"
        )


class UnreachableError(StoreError):
    """The database can't be reached, or can't write; nothing was changed."""


class UncertainError(StoreError):
    """The database was lost while it wrote: whether the change is there has to be looked up."""


class DamagedError(StoreError):
    """What is read is not what was written."""
