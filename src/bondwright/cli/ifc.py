"""Commands about building models."""

from __future__ import annotations

from pathlib import Path

import click

from bondwright.cli.common import BAD_INPUT, HOLDS, check_writable, plain_errors, stop
from bondwright.cli.site import SITE


@click.group(short_help="Building models (IFC), in and out.")
def ifc() -> None:
    """Building models (IFC, ISO 16739-1), in and out. Needs the extra 'ifc'."""


@ifc.command(short_help="Write the electrical parts of a site as IFC.")
@SITE
@click.option("--out", type=click.Path(path_type=Path), required=True, help="File to write.")
@plain_errors
def write(site: Path, out: Path) -> None:
    """Write the electrical parts of a site as IFC; 'read' gives the whole description back."""
    from bondwright.exchange.ifc import MissingIfcError, site_ifc
    from bondwright.site.reader import load
    from bondwright.site.writer import save

    check_writable(out)
    described = load(site)
    try:
        save(out, site_ifc(described))
    except MissingIfcError as error:
        raise click.UsageError(str(error)) from error
    click.echo(f"wrote {out}")


@ifc.command(short_help="Read a site file out of a building model.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, help="The site file to write."
)
@plain_errors
def read(file: Path, out: Path) -> None:
    """Read a site file out of a building model.

    A file of 'ifc write' gives its description back. Of any other the boards, meters, outlets,
    equipment, transformers and generators are taken, and the cables between them; what is
    missing is listed, and the site file is a draft. Exit code 2 then.
    """
    from bondwright.exchange.ifc import MissingIfcError
    from bondwright.exchange.ifc_read import IfcError, read_ifc
    from bondwright.site.writer import save

    check_writable(out)
    try:
        found = read_ifc(file)
    except (IfcError, MissingIfcError) as error:
        raise click.UsageError(str(error)) from error
    save(out, found.text)
    click.echo(f"wrote {out}" + ("" if found.whole else ", a draft"))
    for what, problem in found.doubts:
        click.echo(f"  {what}: {problem}")
    stop(HOLDS if found.whole else BAD_INPUT)
