"""The command that opens the page."""

from __future__ import annotations

from pathlib import Path

import click

from bondwright.cli.common import plain_errors
from bondwright.cli.site import RULES, SITE


@click.command(short_help="Open the site as a page in the browser.")
@SITE
@RULES
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8642, show_default=True,
    help="Port to listen on; 0 takes a free one.",
)  # fmt: skip
@click.option(
    "--host", default="127.0.0.1", show_default=True,
    help="Address to listen on: this machine only.",
)  # fmt: skip
@click.option("--open", "open_", is_flag=True, help="Open the browser as well.")
@plain_errors
def serve(site: Path, rules: str | None, port: int, host: str, open_: bool) -> None:
    """Open the site as a page: see it, change it, watch the current.

    The page works on a copy in memory: the site file is read once and never written. It listens
    on this machine only and asks nothing of any other.
    """
    from bondwright.page.desk import Desk
    from bondwright.page.listen import ListenError, check_address
    from bondwright.page.listen import serve as listen
    from bondwright.site.reader import load

    try:
        check_address(host)
    except ListenError as error:
        raise click.UsageError(str(error)) from error
    described = load(site)
    if rules is not None:
        described = described.model_copy(update={"rules": rules})
    desk = Desk(described, site.name)

    def started(address: str) -> None:
        click.echo(f"{described.site}: {address}")
        click.echo("Ctrl-C ends it. The site file is not written.")
        if open_:
            click.launch(address)

    try:
        listen(desk, host, port, started)
    except ListenError as error:
        raise click.UsageError(str(error)) from error
