"""Starting the server: on this machine, or on a network where everybody has to log in."""

from __future__ import annotations

import gc
import ipaddress
import socket
import ssl
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

import uvicorn
from starlette.types import ASGIApp

from bondwright.page.guard import LOCAL, Names

ANYWHERE: Final = ("0.0.0.0", "::")  # what a person asks for, not a default
_HOW: Final = (
    "To serve others, keep the site as a job ('bondwright jobs start SITE'), make a user "
    "('bondwright jobs user add NAME --role keep') and serve the jobs: 'bondwright serve --jobs'. "
    "To reach a file's page from another machine, forward the port over SSH"
)


CIPHERS: Final = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""Of TLS 1.2: with forward secrecy and authenticated encryption only; TLS 1.3 has no others."""
_MOST_LINES: Final = 1000
"""Connections at the same time; more are told that the server is busy."""


class ListenError(ValueError):
    """The server can't listen there; the text says why and what would do."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where the server listens, and how it is reached.

    Attributes:
        host: name or number of this machine.
        port: 0 takes a free one.
        public: address of a proxy before it, as ``https://jobs.example``, or "".
        certificate: file with a TLS certificate, or None.
        key: file with its key; None where the certificate's file has it.
    """

    host: str = "127.0.0.1"
    port: int = 8642
    public: str = ""
    certificate: Path | None = None
    key: Path | None = None

    @property
    def local(self) -> bool:
        """Whether only this machine can reach it."""
        return is_local(self.host) and not self.public

    def names(self, port: int) -> Names:
        """Return the names that a server goes by which listens on a port."""
        own = () if is_local(self.host) or self.host in ANYWHERE else (_shown(self.host),)
        return Names(
            port,
            (*LOCAL, *own),
            numbers=self.host in ANYWHERE,
            public=self.public,
            tls=self.certificate is not None,
        )


def is_local(host: str) -> bool:
    """Tell whether an address is this machine's own, which no other can reach."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def check_local(address: Address) -> None:
    """Refuse an address that others reach, where nobody has to log in.

    Raises:
        ListenError: others reach it.
    """
    if not address.local:
        where = address.public or address.host
        raise ListenError(
            f"a file's page doesn't listen on {where!r}: whoever reaches it could read and change "
            f"the site. {_HOW}"
        )


def check_users(address: Address, number: int, *, wanted: bool) -> bool:
    """Return whether everybody has to log in.

    Args:
        address: to listen on.
        number: of users in the store.
        wanted: whether logging in is asked for on this machine too.

    Raises:
        ListenError: they would have to, and there is nobody who could.
    """
    needed = wanted or not address.local
    if needed and number == 0:
        where = address.public or address.host
        raise ListenError(
            f"the jobs aren't served on {where!r} without a user who has a password: whoever "
            "reaches it could read and change them. Make one: 'bondwright jobs user add NAME "
            "--role keep'"
        )
    return needed


def check_tls(address: Address, *, plain: bool) -> None:
    """Refuse an address that others reach without TLS, unless it is asked for.

    Raises:
        ListenError: passwords would go over the network as they are typed.
    """
    safe = address.certificate is not None or address.public.startswith("https://")
    if not (address.local or safe or plain):
        raise ListenError(
            f"without TLS whoever listens on the way to {address.public or address.host!r} reads "
            "the passwords. Give a --certificate, or tell the address of a proxy that has one "
            "(--public https://jobs.example), or --plain where the network is all your own"
        )


def check_policy(address: Address, *, given: bool) -> None:
    """Refuse an address that others reach, where nobody says what becomes of what is kept of them.

    Raises:
        ListenError: they couldn't be told who answers for it.
    """
    if not address.local and not given:
        raise ListenError(
            f"those who log in on {address.public or address.host!r} have to be told who answers "
            "for what is kept of them, and how long backups are kept. Give a --policy file with "
            "'answers: NAME, how to reach them' and 'backups: how long they are kept'"
        )


def check_public(text: str) -> str:
    """Return the address of a proxy as an origin.

    Raises:
        ListenError: it is no such address.
    """
    parts = urlsplit(text)
    if parts.scheme not in ("http", "https") or not parts.netloc or parts.path.strip("/"):
        raise ListenError(f"{text!r} is no address of a server; write it like https://jobs.example")
    return f"{parts.scheme}://{parts.netloc}"


def _shown(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def serve(
    make: Callable[[Names], ASGIApp], address: Address, started: Callable[[str, str], None]
) -> None:
    """Listen until the keyboard breaks it off.

    Args:
        make: makes the server for the names that it goes by.
        address: where to listen.
        started: called with the page's address when it can be opened.

    Raises:
        ListenError: the port is taken, the address isn't this machine's, or the certificate is
            no good.
    """
    name = "127.0.0.1" if address.host == "localhost" else address.host
    family = socket.AF_INET6 if ":" in name else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((name, address.port))
        except OSError as error:
            raise ListenError(
                f"{name}, port {address.port}, can't be used ({error.strerror or error}); give "
                "another with --port, or 0 for any"
            ) from error
        taken = door.getsockname()[1]
        names = address.names(taken)
        config = uvicorn.Config(
            make(names),
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_keep_alive=75,
            ssl_ciphers=CIPHERS,
            # Only a proxy that was announced may say from where somebody asks.
            proxy_headers=bool(address.public),
            forwarded_allow_ips="127.0.0.1,::1",
            limit_concurrency=_MOST_LINES,
            timeout_graceful_shutdown=2,
            ssl_certfile=address.certificate,
            ssl_keyfile=address.key,
        )
        try:
            config.load()
        except OSError as error:  # what the certificate is read with raises one of these as well
            raise ListenError(f"the certificate can't be used: {error}") from error
        if config.ssl is not None:
            config.ssl.minimum_version = ssl.TLSVersion.TLSv1_2
        door.listen(128)
        scheme = "https" if names.tls else "http"
        shown = "127.0.0.1" if name in ANYWHERE else _shown(name)
        here = f"{scheme}://{shown}:{taken}/"
        started(address.public or here, here)
        # A plan is tens of thousands of objects: looking through all of them for circles in the
        # middle of an answer takes longer than the answer.
        gc.collect()
        gc.freeze()
        gc.set_threshold(200_000, 20, 50)
        with suppress(KeyboardInterrupt):  # which is how a person ends it
            uvicorn.Server(config).run(sockets=[door])
