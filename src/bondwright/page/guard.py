"""From where may be asked, and what a browser may do with the answer.

Also where the page listens on one machine only, a stranger's page in the same browser could reach
it in two ways: by a name of its own that leads here (so the Host is checked), and by sending a
form here (so whatever changes something must come from the page itself).
"""

from __future__ import annotations

import ipaddress
import json
import logging
import secrets
from collections.abc import MutableMapping
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import parse_qsl, urlsplit

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
    "x-frame-options": "DENY",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
PLAIN: Final = (b"content-type", b"text/plain; charset=utf-8")
"""Header of an answer without words."""
MOST_BYTES: Final = 12_000_000
"""Largest request that is read."""
_LOG: Final = logging.getLogger("bondwright.page")
_ONCE: Final = (b"host", b"origin", b"content-length", b"content-type")
_MARK: Final = "bondwright.mark"


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


METHODS: Final = ("GET", "HEAD", "POST", "DELETE")
"""What can be done here."""


def _odd(scope: Scope) -> tuple[int, str, str] | None:
    """Return why a request isn't one that any page of ours makes, or None."""
    if scope["method"] not in METHODS:
        return 405, "that can't be done here", f"there are: {', '.join(METHODS)}"
    names = [name for name, _ in parse_qsl(scope["query_string"].decode("latin-1"), True)]
    if len(set(names)) != len(names):
        return 400, "the address says the same thing twice", "say it once"
    single = [k for k, _ in scope["headers"] if k in _ONCE]
    if len(set(single)) != len(single):
        return 400, "the request says the same thing twice", "say it once"
    return None


class Guard:
    """Refuses what doesn't come from the page itself, and adds the headers to every answer.

    Args:
        app: what is guarded.
        names: that the server goes by.
        private: whether browsers keep no copy of what they are told: others may sit there next.
    """

    def __init__(self, app: ASGIApp, names: Names, *, private: bool = False) -> None:
        self._app, self._names, self._private = app, names, private
        self._headers = {**HEADERS}
        if names.secure:
            self._headers["strict-transport-security"] = "max-age=31536000; includeSubDomains"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        kept = "no-store" if self._private else "no-cache"
        begun = False

        async def guarded(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers[name] = value
                if headers.get("content-type", "").startswith("application/json"):
                    # Opened by itself it is a file to keep, not a page.
                    headers.setdefault("content-disposition", 'attachment; filename="api.json"')
                files = str(scope["path"]).startswith("/static/")
                headers.setdefault("cache-control", "no-cache" if files else kept)
                if headers["cache-control"] == "no-cache" and not files:
                    headers["cache-control"] = kept  # a framework's own word for its streams
            await send(message)

        scope[_MARK] = secrets.token_hex(4)
        refusal = _odd(scope) or self._refusal(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await refuse(guarded, *refusal)
            return
        try:
            await self._app(scope, receive, guarded)
        except Exception as error:  # the last place for what nobody foresaw
            where = (scope["method"], scope["path"], scope[_MARK])
            _LOG.error("%s %s failed (mark %s)", *where, exc_info=error)
            if not begun:
                await refuse(guarded, 500, *unforeseen_words(scope))

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
        length = headers.get("content-length", "0" if method == "DELETE" else "")
        known = len(length) < 12 and length.isascii() and length.isdecimal()
        if not known or int(length) > MOST_BYTES or "transfer-encoding" in headers:
            return 413, "the request is too large, or doesn't say how large it is", "send less"
        kind = headers.get("content-type", "").partition(";")[0].strip().lower()
        if int(length) > 0 and kind != "application/json":
            return 415, "only JSON is understood here", "send it as application/json"
        return None


def unforeseen_words(scope: MutableMapping[str, Any]) -> tuple[str, str]:
    """Return what whoever asked is told where something failed that nobody foresaw.

    Nothing of what went wrong, which is nobody else's business, but a mark by which it is found in
    the server's log.
    """
    mark = scope.get(_MARK, "no mark")
    text = f"something went wrong on the server; its log has it under {mark}"
    return text, "nothing of yours is lost; try it again"


async def refuse(send: Send, status: int, problem: str, hint: str, *, wait: int = 0) -> None:
    """Answer with a problem and nothing else; ``wait`` says after how many s to try again."""
    body = json.dumps(
        {
            "format": "bondwright/problems",
            "version": 1,
            "problems": [{"text": "", "problem": problem, "hint": hint}],
        }
    ).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    headers += [(k.encode(), v.encode()) for k, v in HEADERS.items()]
    headers += [(b"retry-after", b"%d" % wait)] if wait else []
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
