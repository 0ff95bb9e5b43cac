"""Notices by mail, for commands that change somebody's credentials."""

from __future__ import annotations

import logging
import os
import re
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from bondwright.page.notices import Mailer
    from bondwright.store.store import Store

BY: Final = "BONDWRIGHT_MAIL_BY"
FROM: Final = "BONDWRIGHT_MAIL_FROM"
_USER: Final = "BONDWRIGHT_MAIL_USER"
_PASSWORD: Final = "BONDWRIGHT_MAIL_PASSWORD"
_WHERE: Final = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[\w.-]+):(\d{1,5})", re.ASCII)
_PATIENCE_S: Final = 20.0


def mailer(by: str | None, sender: str | None, place: str = "") -> Mailer | None:
    """Return what sends notices, or None where no mail server is named.

    Args:
        by: ``HOST:PORT`` of the mail server.
        sender: address that mails come from.
        place: what the server is called; "" takes this machine's name.

    Raises:
        click.UsageError: only one of them is given, or one is unfit.
    """
    from bondwright.page.notices import Mailer, Post
    from bondwright.store.errors import StoreError
    from bondwright.store.mail import check_mail

    if not by and not sender:
        return None
    if not by or not sender:
        raise click.UsageError("--mail-by and --mail-from go together")
    found = _WHERE.fullmatch(by)
    port = int(found[2]) if found else 0
    if found is None or not 0 < port < 65536:
        raise click.UsageError(
            f"{by!r} is no place of a mail server; write it like mail.example:587"
        )
    try:
        check_mail(sender)
    except StoreError as error:
        raise click.UsageError(f"--mail-from: {error}") from error
    user, password = os.environ.get(_USER, ""), os.environ.get(_PASSWORD, "")
    if bool(user) != bool(password):
        raise click.UsageError(f"{_USER} and {_PASSWORD} go together")
    post = Post(found[1].strip("[]"), port, sender, user, password)
    return Mailer(post.send, sender, place or socket.gethostname())


@contextmanager
def telling(store: Store) -> Iterator[Store]:
    """Tell by mail whose credentials are changed in this store, where the environment says how.

    Args:
        store: is closed at the end, when the mails went out or it is told that they didn't.
    """
    found = mailer(os.environ.get(BY), os.environ.get(FROM))
    logging.getLogger("bondwright.page").addHandler(logging.NullHandler())  # it is told below
    try:
        with store:
            if found is not None:
                store.told = found.tell
            yield store
    finally:  # what was changed before something failed is changed all the same
        if found is not None:
            unsent = found.close(_PATIENCE_S)
            for trouble in found.troubles:
                click.echo(trouble, err=True)
            if unsent:
                click.echo(
                    "A notice by mail was not sent: the mail server doesn't answer.", err=True
                )
