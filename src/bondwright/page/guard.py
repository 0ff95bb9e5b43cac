"""From where may be asked, and what a browser may do with the answer.

Also where the page listens on one machine only, a stranger's page in the same browser could reach
it in two ways: by a name of its own that leads here (so the Host is checked), and by sending a
form here (so whatever changes something must come from the page itself).
"""

from __future__ import annotations

import ipaddress
import json
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOCAL: Final = ("127.0.0.1", "localhost", "[::1]")
"""Names under which this machine reaches itself."""

POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
"""What a page may load and run: its own files, and nothing written into it."""

HEADERS: Final = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
MOST_BYTES: Final = 12_000_000
"""Largest request that is read."""


@dataclass(frozen=True, slots=True)
class Names:
    """The names that the server goes by.

    Attributes:
        port: that it listens on; None takes none (a test's client).
        hosts: names or numbers, as they stand in an address.
        numbers: whether any number of this machine will do: no stranger's page has a number for
            its name, so none can pass for it.
        public: the address under which a proxy before it is reached, or "".
        tls: whether it speaks TLS itself.
    """

    port: int | None = None
    hosts: tuple[str, ...] = LOCAL
    numbers: bool = False
    public: str = ""
    tls: bool = False

    @property
    def secure(self) -> bool:
        """Whether browsers reach it by TLS."""
        return self.tls or self.public.startswith("https://")

    def origin(self, host: str) -> str | None:
        """Return the origin of a page that is reached under a Host, or None where it is not ours.

        Args:
            host: as a browser sends it.
        """
        if self.public and host == urlsplit(self.public).netloc:
            return self.public
        scheme = "https" if self.tls else "http"
        name, _, port = host.rpartition(":") if not host.endswith("]") else (host, "", "")
        usual = 443 if self.tls else 80
        if self.port is None or (self.port == usual and host in self.hosts):
            name = host
        elif port != str(self.port):
            return None
        if name in self.hosts or (self.numbers and _is_number(name)):
            return f"{scheme}://{host}"
        return None

    def told(self) -> str:
        """Return the names for a person."""
        end = "" if self.port is None else f":{self.port}"
        known = [f"{name}{end}" for name in self.hosts]
        return ", ".join([*([self.public] if self.public else []), *known])


def _is_number(name: str) -> bool:
    try:
        ipaddress.ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True


class Guard:
    """Refuses what doesn't come from the page itself, and adds the headers to every answer.

    Args:
        app: what is guarded.
        names: that the server goes by.
    """

    def __init__(self, app: ASGIApp, names: Names) -> None:
        self._app, self._names = app, names
        self._headers = {**HEADERS}
        if names.secure:
            self._headers["strict-transport-security"] = "max-age=31536000"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await refuse(send, *refusal)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-cache")
            await send(message)

        await self._app(scope, receive, guarded)

    def _refusal(self, method: str, headers: Headers) -> tuple[int, str, str] | None:
        host = headers.get("host", "")
        origin = self._names.origin(host)
        if origin is None:
            hint = f"open the page under one of: {self._names.told()}"
            return 421, "this server doesn't go by that name", hint
        if method in {"GET", "HEAD"}:
            return None
        if headers.get("origin") != origin:
            return 403, "a change has to come from the page itself", "open the page and use it"
        length = headers.get("content-length", "")
        if method != "DELETE" and not (length.isdecimal() and int(length) <= MOST_BYTES):
            return 413, "the request is too large, or doesn't say how large it is", "send less"
        return None


async def refuse(send: Send, status: int, problem: str, hint: str) -> None:
    """Answer with a problem and nothing else."""
    body = json.dumps(
        {
            "format": "bondwright/problems",
            "version": 1,
            "problems": [{"text": "", "problem": problem, "hint": hint}],
        }
    ).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    headers += [(k.encode(), v.encode()) for k, v in HEADERS.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
