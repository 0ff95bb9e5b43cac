"""Names of nodes that lie inside of something, so that one form is kept in one place."""

from __future__ import annotations


def out_of(run: str) -> str:
    """Return the head of the nodes on the load side of the device at a run's start.

    A run and a generator may have one name, and a source has nodes of its own behind it.
    """
    return f"run {run}/out"
