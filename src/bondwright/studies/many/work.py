"""What a study in pieces is, and how one piece of it is done wherever it is done.

Every piece is done by the same function from the same data, here or on a worker, so that the
answers don't depend on who did which. Its result is a few arrays, packed as bytes without
anything that could run when they are read.
"""

from __future__ import annotations

import hashlib
import io
import pickle
import zlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from bondwright import __version__
from bondwright.site.model import Site

Arrays = Mapping[str, npt.NDArray[Any]]

_OPEN_AT_ONCE: Final = 2


class Work(Protocol):
    """A study in pieces. It is sent to workers, so it is small and can be pickled."""

    @property
    def title(self) -> str:
        """What is studied, in a few words."""

    @property
    def fingerprint(self) -> str:
        """Same for the same question: site, choices, pieces and version of the program."""

    @property
    def count(self) -> int:
        """How many pieces there are."""

    def open(self) -> Callable[[int], Arrays]:
        """Get ready; return what does one piece. Costly, and done once in each process."""


_open: OrderedDict[str, Callable[[int], Arrays]] = OrderedDict()


def opened(work: Work) -> Callable[[int], Arrays]:
    """Return what does the pieces of a study in this process, ready since it was first asked."""
    if work.fingerprint not in _open:
        _open[work.fingerprint] = work.open()
        while len(_open) > _OPEN_AT_ONCE:
            _open.popitem(last=False)
    _open.move_to_end(work.fingerprint)
    return _open[work.fingerprint]


def piece(work: Work, number: int) -> bytes:
    """Do one piece of a study."""
    return packed(opened(work)(number))


def packed(arrays: Arrays) -> bytes:
    """Return arrays as bytes: numpy's own format, compressed."""
    held = io.BytesIO()
    np.savez_compressed(held, allow_pickle=False, **arrays)
    return held.getvalue()


def unpacked(data: bytes) -> dict[str, npt.NDArray[Any]]:
    """Return the arrays in some bytes.

    Raises:
        ValueError: they are not what :func:`packed` made.
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as found:
            return {name: found[name] for name in found.files}
    except Exception as error:
        msg = f"a result that was kept can't be read: {error}"
        raise ValueError(msg) from error


def site_bytes(site: Site) -> bytes:
    """Return a site for sending to workers."""
    return zlib.compress(pickle.dumps(site))


def site_of(data: bytes) -> Site:
    """Return the site that :func:`site_bytes` was given; never for bytes from a file."""
    found = pickle.loads(zlib.decompress(data))
    if not isinstance(found, Site):
        raise TypeError("these bytes are no site")
    return found


def fingerprint_of(site: Site, *choices: object) -> str:
    """Return a hash of a site, of what was chosen about it, and of the program's version.

    Args:
        site: the site.
        choices: what else decides the answer; arrays by their bytes, the rest by its text.
    """
    found = hashlib.sha256(f"bondwright {__version__}\n".encode())
    found.update(site.model_dump_json(by_alias=True).encode())
    for choice in choices:
        if isinstance(choice, np.ndarray):
            found.update(f"\n{choice.dtype} {choice.shape}\n".encode())
            found.update(np.ascontiguousarray(choice).tobytes())
        else:
            found.update(f"\n{choice!r}".encode())
    return found.hexdigest()
