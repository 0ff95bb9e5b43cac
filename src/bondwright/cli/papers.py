"""The command that writes the papers."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import click

from bondwright.cli.common import FALLS_SHORT, HOLDS, plain_errors, stop
from bondwright.cli.site import RULES, SITE, read_plan


@click.command(short_help="Write PDF, HTML, tables, data and netlist.")
@SITE
@RULES
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("papers"), show_default=True,
    help="Folder to write into.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["us-letter", "a4"]), default="us-letter", show_default=True,
    help="Sheet size of the PDF.",
)  # fmt: skip
@plain_errors
def papers(site: Path, rules: str | None, out: Path, paper: Literal["us-letter", "a4"]) -> None:
    """Write the package: PDF, HTML, picture, CSV tables, JSON and the netlist."""
    from bondwright.papers.package import write_papers
    from bondwright.papers.results import study

    def tell(what: str, done: int, of: int) -> None:
        if sys.stderr.isatty():
            click.echo(f"\r\x1b[K{what} {done}/{of}", nl=False, err=True)

    try:
        results = study(read_plan(site, rules), tell)
        written = write_papers(results, out, paper=paper, progress=tell)
    except KeyboardInterrupt:
        click.echo("\nstopped; nothing half-written is left behind", err=True)
        sys.exit(130)
    finally:
        if sys.stderr.isatty():
            click.echo("\r\x1b[K", nl=False, err=True)
    click.echo(f"{results.summary.mark} {results.summary.headline}")
    for path in written:
        click.echo(f"  {path}")
    stop(FALLS_SHORT if results.summary.verdict.value == "falls short" else HOLDS)
