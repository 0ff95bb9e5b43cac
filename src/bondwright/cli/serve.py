"""The command that opens the page."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from bondwright.cli.common import plain_errors
from bondwright.cli.mail import BY, FROM, mailer
from bondwright.cli.site import RULES

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from bondwright.page.guard import Names
    from bondwright.page.icap import Scanner
    from bondwright.page.listen import Address
    from bondwright.page.notices import Mailer

_DEFAULT = "-"


class Asked(NamedTuple):
    """Who is asked by the server: nobody else is.

    Attributes:
        scanner: looks through what is sent in.
        mailer: tells people by mail.
    """

    scanner: Scanner | None
    mailer: Mailer | None


@click.command(short_help="Open a site, or the jobs, as a page in the browser.")
@click.argument("site", required=False, type=click.Path(path_type=Path))
@click.option(
    "--jobs",
    "where",
    is_flag=False,
    flag_value=_DEFAULT,
    metavar="[FILE|ADDRESS]",
    help="Serve the jobs of a store instead: the usual one, a file, or "
    "postgresql://user@host/name.",
)
@RULES
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8642,
    show_default=True,
    help="Port to listen on; 0 takes a free one.",
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on; one that others reach needs --jobs and users.",
)
@click.option("--users", is_flag=True, help="With --jobs: log in on this machine too.")
@click.option(
    "--public",
    default="",
    metavar="ADDRESS",
    help="With --jobs: address of a proxy before it that others use, as https://jobs.example.",
)
@click.option(
    "--certificate",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="With --jobs: TLS certificate to listen with (PEM).",
)
@click.option(
    "--key",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="Key of the certificate, where its own file doesn't have it.",
)
@click.option("--plain", is_flag=True, help="With --jobs: serve others without TLS all the same.")
@click.option(
    "--policy",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="With --jobs: who answers for what is kept of people, and how long backups are kept "
    "(YAML: answers, backups, more). Everybody reads it and agrees; needed to serve others.",
)
@click.option(
    "--scan-by",
    metavar="HOST:PORT",
    help="With --jobs: scanner (ICAP) that has to let pass whatever is sent in.",
)
@click.option(
    "--mail-by",
    envvar=BY,
    metavar="HOST:PORT",
    help=f"With --jobs: mail server by which people are told that their credentials changed. "
    f"Also {BY}; a name and password for it in BONDWRIGHT_MAIL_USER and _PASSWORD.",
)
@click.option(
    "--mail-from", envvar=FROM, metavar="ADDRESS", help=f"Address of those mails. Also {FROM}."
)
@click.option("--open", "open_", is_flag=True, help="Open the browser as well.")
@plain_errors
def serve(
    site: Path | None, where: str | None, rules: str | None, port: int, host: str, users: bool,
    public: str, certificate: Path | None, key: Path | None, plain: bool, policy: Path | None,
    scan_by: str | None, mail_by: str | None, mail_from: str | None, open_: bool,
) -> None:  # fmt: skip
    """Open the site as a page: see it, change it, watch the current.

    The file is written when you say so in the page, and only if nothing else wrote it meanwhile.
    One that isn't there yet begins from a starter. It listens on this machine only and asks
    nothing of any other.

    With --jobs the jobs of a store are served instead of a file: every save is a revision. Others
    can be let in, each with a name, a password and a role ('bondwright jobs user').
    """
    from bondwright.page.listen import Address, ListenError, check_public, check_tls
    from bondwright.page.policy import PolicyError

    if (site is None) == (where is None):
        raise click.UsageError("name a site file, or --jobs to serve the jobs of a store")
    if where is not None and rules is not None:
        raise click.UsageError("--rules goes with a site file; a job names its own")
    if site is not None and (users or public or certificate or key or plain or policy or scan_by):
        raise click.UsageError(
            "--users, --public, --certificate, --key, --plain, --policy and --scan-by go with "
            "--jobs"
        )
    if key is not None and certificate is None:
        raise click.UsageError("--key goes with --certificate")
    try:
        address = Address(host, port, check_public(public) if public else "", certificate, key)
        if site is not None:
            _serve_file(site, rules, address, open_)
        else:
            check_tls(address, plain=plain)
            asked = Asked(_scanner(scan_by), mailer(mail_by, mail_from, address.public))
            _serve_jobs(str(where), users, address, policy, asked, open_)
    except (ListenError, PolicyError) as error:
        raise click.UsageError(str(error)) from error


def _scanner(where: str | None) -> Scanner | None:
    """Return the scanner, having said so where it doesn't answer."""
    from bondwright.page.icap import ScanError, scanner

    if where is None:
        return None
    try:
        found = scanner(where)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    try:
        found.try_out()
    except ScanError as error:
        click.echo(f"{found.where}: {error}.", err=True)
    return found


def _serve_file(site: Path, rules: str | None, address: Address, open_: bool) -> None:
    from bondwright.page.app import create_app
    from bondwright.page.describe import change_description, entry_answer
    from bondwright.page.desk import Desk
    from bondwright.page.keepers import FileKeeper
    from bondwright.page.listen import check_local
    from bondwright.page.listen import serve as listen
    from bondwright.page.wire_describe import EntryChange

    check_local(address)
    keeper = FileKeeper(site)
    text = keeper.read()
    described = keeper.site(text)
    desk = Desk(described, site.name, text, keeper)
    if keeper.new:
        desk.saved = ""
    if rules is not None and rules != described.rules:
        change = EntryChange(table="", entry={**entry_answer(desk, "", "").entry, "rules": rules})
        change_description(desk, [change])

    def started(at: str, _: str) -> None:
        click.echo(f"{described.site}: {at}")
        if keeper.new:
            click.echo(f"{site} is not there yet: it begins from a starter.")
        click.echo(f"Ctrl-C ends it. {site} is written when you save in the page.")
        if open_:
            click.launch(at)

    listen(lambda names: create_app(desk, names.port), address, started)


def _serve_jobs(
    where: str, wanted: bool, address: Address, policy: Path | None, asked: Asked, open_: bool
) -> None:
    from bondwright.cli.jobs import opened
    from bondwright.page.house import create_house
    from bondwright.page.listen import check_policy, check_users
    from bondwright.page.listen import serve as listen
    from bondwright.page.policy import Policy, read_policy
    from bondwright.store.users import users

    told = read_policy(policy) if policy is not None else Policy()
    with opened(None if where == _DEFAULT else where, create=True) as store:
        needed = check_users(address, len(users(store)), wanted=wanted)
        check_policy(address, given=policy is not None)

        def started(at: str, here: str) -> None:
            number = len(store.jobs())
            click.echo(f"{number} {'job' if number == 1 else 'jobs'}: {at}")
            if at != here:
                click.echo(f"The proxy has to pass on to {here}")
            if needed:
                click.echo(
                    "Everybody logs in with a name and a password, and agrees to what is kept of "
                    "them; whoever keeps the users has a second factor."
                )
            if not address.local and not address.names(0).secure:
                click.echo(
                    "This is not TLS: whoever listens on the network can read passwords. Give a "
                    "--certificate, or put a proxy before it (--public).", err=True,
                )  # fmt: skip
            click.echo("Ctrl-C ends it. A save is on the disk when the page says so.")
            if open_:
                click.launch(at)

        def make(names: Names) -> ASGIApp:
            return create_house(
                store, names, users=needed, policy=told, scanner=asked.scanner, mailer=asked.mailer
            )

        try:
            listen(make, address, started)
        finally:
            if asked.mailer is not None:
                asked.mailer.close()
