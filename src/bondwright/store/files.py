"""The files of one revision: which names and sizes are taken."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Final

from bondwright.store.errors import StoreError

SITE: Final = "site.yaml"
"""Name of the site file in every job."""
MAX_FILE: Final = 8 * 1024 * 1024
"""Largest file kept, bytes."""
MAX_FILES: Final = 200
"""Most files in one revision."""
MAX_ALL: Final = 32 * 1024 * 1024
"""Largest revision, bytes."""

_NAME: Final = re.compile(r"[^\W_][\w .()+,-]{0,118}[\w)]|[^\W_]")
_RESERVED: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def digest(data: bytes) -> str:
    """Return the SHA-256 of some bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def check_name(name: str) -> None:
    """Refuse a file name that couldn't be written to a folder of any common system.

    Raises:
        StoreError: it leads elsewhere, is a device's name, is too long, or has odd characters.
    """
    if not _NAME.fullmatch(name) or _RESERVED.fullmatch(name):
        raise StoreError(
            f"{name[:60]!r} can't be the name of a file in a job: use letters, digits, spaces and "
            "'.', '-', '_', '(', ')', starting with a letter or digit, up to 120 in all"
        )


def check_files(files: Mapping[str, bytes]) -> None:
    """Refuse a set of files that can't be a revision.

    Raises:
        StoreError: no site file among them, a bad name, two names that differ by case only, or
            too much.
    """
    if SITE not in files:
        raise StoreError(f"a job needs a file '{SITE}'")
    if len(files) > MAX_FILES:
        raise StoreError(f"{len(files)} files are too many for one job: {MAX_FILES} at most")
    seen: dict[str, str] = {}
    for name, data in files.items():
        check_name(name)
        if (other := seen.setdefault(name.casefold(), name)) != name:
            raise StoreError(f"'{name}' and '{other}' would be one file on some systems")
        if len(data) > MAX_FILE:
            raise StoreError(f"'{name}' is larger than {MAX_FILE // 2**20} MiB")
    if sum(len(data) for data in files.values()) > MAX_ALL:
        raise StoreError(f"the files of the job are larger than {MAX_ALL // 2**20} MiB together")
