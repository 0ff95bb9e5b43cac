"""A scanner elsewhere is asked what it thinks of a file: ICAP, RFC 3507, requests to be modified.

The file goes to it as the body of an HTTP request. "204 No Content" lets it pass; so does the same
request given back unchanged. Whatever else comes back is an objection, or no answer; then the file
is not taken in.
"""

from __future__ import annotations

import re
import selectors
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock
from typing import Final
from urllib.parse import quote

CONNECT_S: Final = 3.0
WHOLE_S: Final = 15.0
"""A scanner has so long for a file, s."""
REST_S: Final = 3.0
"""One that didn't answer isn't asked again for so long, s: nobody waits for it in vain."""
_MOST_BACK: Final = 16 * 2**20
_MOST_HEAD: Final = 64 * 1024
_PORT: Final = 1344
_FIRST: Final = re.compile(rb"ICAP/1\.0 [1-5]\d\d(?!\d)")
_SIZE: Final = re.compile(rb"[0-9A-Fa-f]{1,8}")
_WHERE: Final = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[\w.-]+)(?::(\d{1,5}))?(?:/([\w./-]*))?", re.ASCII)


class ScanError(RuntimeError):
    """The scanner can't be asked; nothing is taken in."""


class ObjectsError(ValueError):
    """The scanner objects to a file; it isn't taken in."""


@dataclass(slots=True)
class Scanner:
    """A scanner.

    Args:
        host: name or number of its machine.
        port: that it listens on.
        service: its name there.
        clock: seconds that only go up.
    """

    host: str
    port: int = _PORT
    service: str = "reqmod"
    clock: Callable[[], float] = time.monotonic
    _lock: Lock = field(default_factory=Lock)
    _away: float = -REST_S

    @property
    def where(self) -> str:
        """Where it is, for a person."""
        return f"{self.host}:{self.port}"

    def look(self, name: str, data: bytes) -> None:
        """Have it look through a file.

        Args:
            name: of the file.
            data: all of it.

        Raises:
            ObjectsError: it objects.
            ScanError: it can't be reached, takes too long, or answers what can't be understood.
        """
        with self._lock:
            if self.clock() - self._away < REST_S:
                raise ScanError(self._told("did not answer a moment ago"))
        answer, head = self._asked(_request(self, name, data))
        status = int(answer.split(None, 2)[1])
        found = _field(head, "x-infection-found")
        if status == 204 and not found:
            return
        if status == 200 or (status == 204 and found):
            if not found and _unchanged(head, data):
                return
            threat = re.search(r"Threat=([^;]*)", found)
            what = "".join(c for c in (threat[1] if threat else "") if c.isprintable())[:80]
            raise ObjectsError(f"'{name}' is not taken in: the scanner objects to it"
                               + (f" ({what.strip()})" if what.strip() else ""))  # fmt: skip
        raise ScanError(self._told(f"answers {status}"))

    def try_out(self) -> None:
        """Find out whether it is there.

        Raises:
            ScanError: it isn't.
        """
        self.look("nothing.txt", b"nothing\n")

    def _told(self, what: str) -> str:
        return f"the scanner {what}, and nothing is taken in that it hasn't looked through"

    def _asked(self, request: bytes) -> tuple[str, bytes]:
        until = self.clock() + WHOLE_S
        host = self.host.strip("[]")
        try:
            with socket.create_connection((host, self.port), CONNECT_S) as line:
                line.setblocking(False)
                return self._talk(line, memoryview(request), until)
        except (OSError, ValueError) as error:
            with self._lock:
                self._away = self.clock()
            raise ScanError(self._told("does not answer")) from error

    def _talk(self, line: socket.socket, left: memoryview, until: float) -> tuple[str, bytes]:
        """Send a request; return the first line of the answer and all that follows it.

        A scanner may answer while it is still being told: both go on at the same time.

        Raises:
            ValueError: the answer is none.
            TimeoutError: it takes too long.
        """
        got = bytearray()
        with selectors.DefaultSelector() as either:
            either.register(line, selectors.EVENT_READ | selectors.EVENT_WRITE)
            while not _whole(got):
                ready = either.select(max(0.0, until - self.clock()))
                if not ready:
                    raise TimeoutError("the scanner takes too long")
                if left and ready[0][1] & selectors.EVENT_WRITE:
                    left = left[line.send(left) :]
                    if not left:
                        either.modify(line, selectors.EVENT_READ)
                if ready[0][1] & selectors.EVENT_READ:
                    more = line.recv(2**16)
                    if not more:
                        raise ValueError("an answer that breaks off")
                    got += more
        first, _, rest = bytes(got).partition(b"\r\n")
        return first.decode("latin-1"), rest


def scanner(text: str) -> Scanner:
    """Return the scanner at ``HOST:PORT``, or ``HOST:PORT/SERVICE``.

    Raises:
        ValueError: that is no such place.
    """
    found = _WHERE.fullmatch(text)
    port = int(found[2] or _PORT) if found else 0
    if found is None or not 0 < port < 65536:
        raise ValueError(f"{text!r} is no place of a scanner; write it like 127.0.0.1:1344")
    return Scanner(found[1], port, found[3] or "reqmod")


def _request(scan: Scanner, name: str, data: bytes) -> bytes:
    at = f"{scan.host}:{scan.port}"
    inner = (
        f"POST /{quote(name)} HTTP/1.1\r\nHost: bondwright.invalid\r\n"
        f"Content-Type: application/octet-stream\r\nContent-Length: {len(data)}\r\n\r\n"
    ).encode()
    head = (
        f"REQMOD icap://{at}/{scan.service} ICAP/1.0\r\nHost: {at}\r\nAllow: 204\r\n"
        f"Connection: close\r\nEncapsulated: req-hdr=0, req-body={len(inner)}\r\n\r\n"
    ).encode()
    body = b"%x\r\n%b\r\n" % (len(data), data) if data else b""
    return head + inner + body + b"0\r\n\r\n"


def _field(head: bytes, name: str) -> str:
    for line in head.partition(b"\r\n\r\n")[0].split(b"\r\n"):
        key, _, value = line.partition(b":")
        if key.strip().lower() == name.encode():
            return value.strip().decode("latin-1")
    return ""


def _parts(head: bytes) -> dict[str, int]:
    """Return what an answer holds, and where each begins behind its head."""
    told = _field(head, "encapsulated")
    found = dict(re.findall(r"([a-z-]+)\s*=\s*(\d{1,9})", told))
    return {name: int(at) for name, at in found.items()}


def _whole(got: bytearray) -> bool:
    """Tell whether all of an answer is there.

    Raises:
        ValueError: it is none, or too long.
    """
    if got and not b"ICAP/1.0 ".startswith(got[:9]) and not _FIRST.match(got):
        raise ValueError("no ICAP")
    end = got.find(b"\r\n\r\n")
    if len(got) > (_MOST_HEAD if end < 0 else _MOST_BACK):
        raise ValueError("too long an answer")
    if end < 0 or not got.endswith(b"\r\n"):
        return False
    head, body = bytes(got[: end + 4]), bytes(got[end + 4 :])
    parts = _parts(head)
    for name, at in parts.items():
        if name.endswith("-body") and name != "null-body":
            return len(body) >= at and _chunks(body[at:]) is not None
    return len(body) >= parts.get("null-body", 0)


def _chunks(data: bytes) -> bytes | None:
    """Return what a body in chunks says, or None where it isn't all there.

    Raises:
        ValueError: it is no such body.
    """
    made: list[bytes] = []
    at = 0
    while True:
        end = data.find(b"\r\n", at)
        if end < 0:
            return None
        told = data[at:end].partition(b";")[0].strip()
        if not _SIZE.fullmatch(told):
            raise ValueError("no body in chunks")
        size = int(told, 16)
        at = end + 2
        if size == 0:
            return b"".join(made)
        if len(data) < at + size + 2:
            return None
        made.append(data[at : at + size])
        at += size + 2


def _unchanged(rest: bytes, data: bytes) -> bool:
    """Tell whether an answer gives the request back as it was."""
    head, _, body = rest.partition(b"\r\n\r\n")
    parts = _parts(head)
    if "req-hdr" not in parts:
        return False
    if "req-body" not in parts:
        return not data
    return _chunks(body[parts["req-body"] :]) == data
