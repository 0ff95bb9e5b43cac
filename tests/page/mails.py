"""A mail server for tests, of another make (aiosmtpd)."""

from __future__ import annotations

import email
import email.policy
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller


class Taken:
    """What a mail server took, and how it answers."""

    def __init__(self) -> None:
        self.mails: list[tuple[str, list[str], EmailMessage]] = []
        self.answers: list[str] = []
        self.logins: list[tuple[str, str, bool]] = []

    async def handle_RCPT(  # noqa: N802
        self, _: Any, __: Any, envelope: Any, address: str, ___: Any
    ) -> str:
        """Take an address, or answer what it is to be answered."""
        answer = self.answers.pop(0) if self.answers else "250 OK"
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, _: Any, __: Any, envelope: Any) -> str:  # noqa: N802
        """Take a mail."""
        message = email.message_from_bytes(envelope.content, policy=email.policy.SMTP)
        assert isinstance(message, EmailMessage)
        self.mails.append((envelope.mail_from, envelope.rcpt_tos, message))
        return "250 taken"


@contextmanager
def serving(taken: Taken, **more: Any) -> Iterator[int]:
    """Run a mail server; yield its port."""
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port = int(door.getsockname()[1])
    running = Controller(taken, hostname="127.0.0.1", port=port, **more)
    running.start()
    try:
        yield port
    finally:
        running.stop()
