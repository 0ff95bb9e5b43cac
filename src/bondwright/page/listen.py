"""Starting the server on this machine."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable
from contextlib import suppress

import uvicorn

from bondwright.page.app import create_app
from bondwright.page.desk import Desk


class ListenError(ValueError):
    """The server can't listen there; the text says why and what would do."""


def check_address(host: str) -> str:
    """Return the address to listen on.

    Raises:
        ListenError: it is not this machine alone.
    """
    name = "127.0.0.1" if host == "localhost" else host
    try:
        local = ipaddress.ip_address(name).is_loopback
    except ValueError:
        local = False
    if not local:
        raise ListenError(
            f"the page doesn't listen on {host!r}: whoever reaches it could read and change the "
            "site, and there are no users and passwords yet. It listens on 127.0.0.1 only; to "
            "reach it from another machine, forward the port over SSH"
        )
    return name


def serve(desk: Desk, host: str, port: int, started: Callable[[str], None]) -> None:
    """Listen until the keyboard breaks it off.

    Args:
        desk: the working copy.
        host: 127.0.0.1, ::1 or localhost.
        port: to listen on; 0 takes a free one.
        started: called with the page's address when it can be opened.

    Raises:
        ListenError: another address is asked for, or the port is taken.
    """
    name = check_address(host)
    family = socket.AF_INET6 if ":" in name else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((name, port))
        except OSError as error:
            raise ListenError(
                f"port {port} can't be used ({error.strerror}); give another with --port, or 0 "
                "for any"
            ) from error
        taken = door.getsockname()[1]
        shown = f"[{name}]" if ":" in name else name
        config = uvicorn.Config(
            create_app(desk, taken),
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=2,
        )
        door.listen(128)
        started(f"http://{shown}:{taken}/")
        with suppress(KeyboardInterrupt):  # which is how a person ends it
            uvicorn.Server(config).run(sockets=[door])
