"""Who may ask, and what a browser may do with the answer.

The page listens on this machine only. Two ways remain by which a stranger's page, open in the
same browser, could reach it: by a name of its own that leads here (so the Host is checked), and
by sending a form here (so whatever changes something must come from the page itself).
"""

from __future__ import annotations

import json
from typing import Final

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
MOST_BYTES: Final = 1_000_000
"""Largest request that is read."""


class Guard:
    """Refuses what doesn't come from the page itself, and adds the headers to every answer.

    Args:
        app: what is guarded.
        port: that the server listens on; None takes any (a test's client).
    """

    def __init__(self, app: ASGIApp, port: int | None = None) -> None:
        self._app = app
        self._hosts = {name if port is None else f"{name}:{port}" for name in LOCAL}
        if port == 80:
            self._hosts |= set(LOCAL)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await _refuse(send, *refusal)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-cache")
            await send(message)

        await self._app(scope, receive, guarded)

    def _refusal(self, method: str, headers: Headers) -> tuple[int, str, str] | None:
        host = headers.get("host", "")
        if host not in self._hosts:
            hint = f"open the page under one of: {', '.join(sorted(self._hosts))}"
            return 421, "this server doesn't go by that name", hint
        if method in {"GET", "HEAD"}:
            return None
        if headers.get("origin") != f"http://{host}":
            return 403, "a change has to come from the page itself", "open the page and use it"
        length = headers.get("content-length", "")
        if method != "DELETE" and not (length.isdecimal() and int(length) <= MOST_BYTES):
            return 413, "the request is too large, or doesn't say how large it is", "send less"
        return None


async def _refuse(send: Send, status: int, problem: str, hint: str) -> None:
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
