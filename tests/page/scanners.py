"""A small scanner for tests: ICAP by RFC 3507, on a port of this machine."""

from __future__ import annotations

import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

CLEAN = b'ICAP/1.0 204 No Content\r\nISTag: "t"\r\n\r\n'


def test_string() -> bytes:
    """The EICAR test string, made here so that no scanner trips over this file."""
    head = "X5O!P%@AP[4" + chr(92) + "PZX54(P^)7CC)7}$"
    return (head + "EICAR-" + "STANDARD-ANTI" + "VIRUS-TEST-FILE!$H+H*").encode()


test_string.__test__ = False  # type: ignore[attr-defined]  # no test, whatever its name


@dataclass
class Asked:
    """What a scanner was asked, and how it answers.

    Attributes:
        port: it listens on.
        files: it was given: the address of each, and its bytes.
        heads: of the requests.
        way: how it answers.
    """

    port: int = 0
    files: list[tuple[str, bytes]] = field(default_factory=list)
    heads: list[str] = field(default_factory=list)
    way: str = "204"


def _read(line: socket.socket, *, eager: bool) -> tuple[str, str, bytes]:
    """Head of ICAP, head of HTTP, and body of a request; each by the letter of RFC 3507.

    An eager one gives all of it back while it is still being told.
    """
    file = line.makefile("rb")
    head = b""
    while not head.endswith(b"\r\n\r\n"):
        head += file.readline()
    told = re.search(rb"Encapsulated: req-hdr=0, req-body=(\d+)\r\n", head)
    assert told, head
    inner = file.read(int(told[1]))
    assert inner.endswith(b"\r\n\r\n"), inner
    back = line.sendall if eager else bytes
    back(b"ICAP/1.0 200 OK\r\nEncapsulated: req-hdr=0, req-body=%d\r\n\r\n%b" % (len(inner), inner))
    body = b""
    while True:
        size = file.readline()
        back(size)
        left = int(size, 16)
        while left:
            part = file.read1(min(left, 2**16))
            body += part
            left -= len(part)
            back(part)
        end = file.readline()
        assert end == b"\r\n"
        back(end)
        if int(size, 16) == 0:
            return head.decode(), inner.decode(), body


def _answer(asked: Asked, inner: str, body: bytes) -> bytes:
    if test_string() in body:
        page = b"HTTP/1.1 403 Forbidden\r\nContent-Length: 0\r\n\r\n"
        return (
            b"ICAP/1.0 200 OK\r\nX-Infection-Found: Type=0; Resolution=2; Threat=EICAR-Test;\r\n"
            b"Encapsulated: res-hdr=0, null-body=%d\r\n\r\n" % len(page)
        ) + page
    if asked.way in {"back", "changed"}:
        given = body if asked.way == "back" else body + b"!"
        chunks = b"".join(b"%x\r\n%b\r\n" % (len(p), p) for p in (given[:7], given[7:]) if p)
        head = inner.encode()
        told = b"Encapsulated: req-hdr=0, req-body=%d" % len(head)
        return b"ICAP/1.0 200 OK\r\n%b\r\n\r\n%b%b0\r\n\r\n" % (told, head, chunks)
    return {
        "204": CLEAN,
        "500": b"ICAP/1.0 500 Server error\r\n\r\n",
        "odd": b"HTTP/1.1 204 No Content\r\n\r\n",
        "broken": b"ICAP/1.0 20",
        "minus": b"ICAP/1.0 200 OK\r\nEncapsulated: req-body=0\r\n\r\n-5\r\nx",
        "endless": b"ICAP/1.0 204 x\r\n" + b"X-A: b\r\n" * 20_000,
        "empty": b"",
    }[asked.way]


@contextmanager
def scanning(way: str = "204") -> Iterator[Asked]:
    """Run a scanner."""
    asked = Asked(way=way)
    door = socket.create_server(("127.0.0.1", 0))
    door.settimeout(0.05)
    asked.port = door.getsockname()[1]
    over = threading.Event()

    def serve() -> None:
        while not over.is_set():
            try:
                line, _ = door.accept()
            except TimeoutError:
                continue
            with line:
                line.settimeout(5)
                head, inner, body = _read(line, eager=asked.way == "eager")
                asked.heads.append(head)
                asked.files.append((inner.split(" ")[1], body))
                if asked.way == "slow":
                    for _ in range(100):
                        time.sleep(0.01)
                        try:
                            line.sendall(b"I")
                        except OSError:
                            break
                elif asked.way != "eager":
                    line.sendall(_answer(asked, inner, body))

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield asked
    finally:
        over.set()
        thread.join(5)
        door.close()
