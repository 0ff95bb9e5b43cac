"""How often one may try a password."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from threading import Lock
from typing import Final

TRIES_S: Final = 600.0
"""Wrong tries count for so long, s."""


class TooManyError(PermissionError):
    """Too many wrong passwords.

    Attributes:
        wait: seconds until one may try again.
    """

    def __init__(self, wait: float) -> None:
        self.wait = max(1, round(wait))
        super().__init__(
            f"too many wrong passwords; try again in {self.wait} s"
            if self.wait < 90
            else f"too many wrong passwords; try again in {round(self.wait / 60)} minutes"
        )


class Tries:
    """Counts wrong passwords.

    A try is counted when it begins, so that many at once are no way round.

    Args:
        clock: seconds that only go up.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._began: dict[str, deque[float]] = {}

    def begin(self, keys: Mapping[str, int]) -> None:
        """Count a try, or refuse it where there were too many.

        Args:
            keys: what it counts for, and how many may count for that.

        Raises:
            TooManyError: there were.
        """
        now = self._clock()
        with self._lock:
            recent = {key: self._recent(key, now) for key in keys}
            for key, most in keys.items():
                if len(recent[key]) >= most:
                    raise TooManyError(recent[key][0] + TRIES_S - now)
            for times in recent.values():
                times.append(now)
            if len(self._began) > 10_000:
                for key in [k for k, t in self._began.items() if not t or t[-1] < now - TRIES_S]:
                    del self._began[key]

    def right(self, keys: Iterable[str]) -> None:
        """Take the last try back: its password was right."""
        with self._lock:
            for key in keys:
                if times := self._began.get(key):
                    times.pop()

    def count(self, keys: Iterable[str]) -> int:
        """Return how many tries count for any of some keys now."""
        now = self._clock()
        with self._lock:
            return sum(len(self._recent(key, now)) for key in keys if key in self._began)

    def _recent(self, key: str, now: float) -> deque[float]:
        times = self._began.setdefault(key, deque())
        while times and times[0] <= now - TRIES_S:
            times.popleft()
        return times
