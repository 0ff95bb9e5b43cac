"""The command that writes the papers."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bondwright.cli.common import FALLS_SHORT, HOLDS, plain_errors, stop
from bondwright.cli.site import RULES, SITE, read_plan
from bondwright.papers.formats import FORMATS, USUAL

if TYPE_CHECKING:
    from bondwright.papers.sizes import Paper
    from bondwright.units import UnitSystem


@click.command(short_help="Write PDF, HTML, tables, data and netlist.")
@SITE
@RULES
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("papers"), show_default=True,
    help="Folder to write into.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["us-letter", "a4", "tabloid", "a3", "arch-d"]),
    default="us-letter", show_default=True, help="Sheet size of the PDFs.",
)  # fmt: skip
@click.option(
    "--units", type=click.Choice(["us", "metric"]),
    help="Units of lengths; without it those of the rules.",
)  # fmt: skip
@click.option(
    "--only", "formats", multiple=True, type=click.Choice(FORMATS),
    help="Write this paper only; may be repeated.",
)  # fmt: skip
@click.option(
    "--language", type=click.Choice(["en", "es"]), default="en", show_default=True,
    help="Language of papers and tables; JSON, Parquet and netlist stay in English.",
)  # fmt: skip
@click.option("--job", default="", metavar="TEXT", help="Name or number of the job, for the cover.")
@click.option("--revision", default="", metavar="TEXT", help="Revision, for the cover.")
@click.option(
    "--prices",
    type=click.Path(path_type=Path),
    help="Price list for the material: CSV with the columns item, unit and price.",
)
@click.option(
    "--waste", default="10 %", show_default=True, metavar="TEXT",
    help="Allowance on lengths of wire.",
)  # fmt: skip
@click.option(
    "--labels", "stock", type=click.Choice(["letter-10", "letter-6", "a4-10", "roll-4x2"]),
    default="letter-10", show_default=True, help="Label stock.",
)  # fmt: skip
@plain_errors
def papers(
    site: Path,
    rules: str | None,
    out: Path,
    paper: Paper,
    units: UnitSystem | None,
    formats: tuple[str, ...],
    language: str,
    job: str,
    revision: str,
    prices: Path | None,
    waste: str,
    stock: str,
) -> None:
    """Write the package.

    The report, which is the permit package (PDF, HTML); installation checklist, labels, material
    list, test sheets and a page for the owner; drawings, tables, JSON and the netlist.
    """
    from bondwright.cli.choices import read_price_list
    from bondwright.explain.language import Language, labels_of, speaking
    from bondwright.papers.package import write_papers
    from bondwright.papers.permit import Cover
    from bondwright.papers.results import study
    from bondwright.papers.work_papers import Wishes
    from bondwright.units import Dimension, parse
    from bondwright.units import units as units_wanted

    def tell(what: str, done: int, of: int) -> None:
        if sys.stderr.isatty():
            click.echo(f"\r\x1b[K{what} {done}/{of}", nl=False, err=True)

    try:
        with units_wanted(units):
            allowed = parse(waste, Dimension.RATIO)
            listed = None if prices is None else read_price_list(prices)
            results = study(read_plan(site, rules), tell)
            cover = Cover.of(site.name, site.read_bytes(), job, revision)
            wishes = Wishes(cover, listed, allowed, stock)
            labels = labels_of(results.plan.site)
            with speaking(Language(language, labels)) as told:
                written = write_papers(
                    results,
                    out,
                    paper=paper,
                    formats=formats or USUAL,
                    wishes=wishes,
                    progress=tell,
                )
    except KeyboardInterrupt:
        click.echo("\nstopped; nothing half-written is left behind", err=True)
        sys.exit(130)
    finally:
        if sys.stderr.isatty():
            click.echo("\r\x1b[K", nl=False, err=True)
    click.echo(f"{results.summary.mark} {results.summary.headline}")
    for path in written:
        click.echo(f"  {path}")
    if told.lacking:
        click.echo(f"  {len(told.lacking)} texts stand in English: no words for them yet", err=True)
    stop(FALLS_SHORT if results.summary.verdict.value == "falls short" else HOLDS)
