"""From where people log in, and how often they change where they are told: in memory only."""

from __future__ import annotations

import ipaddress
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from threading import Lock
from typing import Final

_PLACES: Final = 20
"""Places of one person that are known; the one not used for longest is forgotten."""
_MOST_PEOPLE: Final = 2000
MOST_CHANGES: Final = 6
"""Changes of one person's address within :data:`WITHIN_S`."""
WITHIN_S: Final = 3600.0


class Often:
    """Counts how often people change where they are told: a stranger may get those mails.

    Args:
        clock: seconds that only go up.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, Lock()
        self._times: dict[str, deque[float]] = {}

    def wait(self, name: str) -> int:
        """Count a change; return the seconds until there may be one, 0 for now."""
        now = self._clock()
        with self._lock:
            if len(self._times) > 1000:
                self._times = {k: t for k, t in self._times.items() if t[-1] > now - WITHIN_S}
            times = self._times.setdefault(name, deque(maxlen=MOST_CHANGES))
            if len(times) == MOST_CHANGES and times[0] > now - WITHIN_S:
                return max(1, round(times[0] + WITHIN_S - now))
            times.append(now)
        return 0

    def forget(self, name: str) -> None:
        """Keep nothing of somebody who is let in no more."""
        with self._lock:
            self._times.pop(name, None)


class Places:
    """From where people log in; an address that wasn't used before is a new place.

    Kept in memory only: the first log-in after the server was started is one as well.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._known: OrderedDict[str, OrderedDict[str, None]] = OrderedDict()

    def is_new(self, name: str, address: str) -> bool:
        """Tell whether somebody was never in from there, and remember it.

        Args:
            name: who is let in.
            address: from where; of IPv6 the network counts (/64), which is one household.
        """
        place = _network(address)
        with self._lock:
            known = self._known.setdefault(name, OrderedDict())
            self._known.move_to_end(name)
            new = place not in known
            known[place] = None
            known.move_to_end(place)
            if len(known) > _PLACES:
                known.popitem(last=False)
            if len(self._known) > _MOST_PEOPLE:
                self._known.popitem(last=False)
        return new

    def of(self, name: str) -> list[str]:
        """Return the places of somebody, the one used last at the end."""
        with self._lock:
            return list(self._known.get(name, ()))

    def forget(self, name: str) -> None:
        """Keep nothing of somebody who is let in no more."""
        with self._lock:
            self._known.pop(name, None)


def _network(address: str) -> str:
    try:
        number = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(number, ipaddress.IPv6Address):
        if number.ipv4_mapped is not None:
            return str(number.ipv4_mapped)
        return str(ipaddress.ip_network((number, 64), strict=False))
    return str(number)
