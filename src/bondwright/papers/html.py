"""The report as one HTML file that opens without network, scripts or anything beside it."""

from __future__ import annotations

from datetime import date
from functools import cache
from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from bondwright.draw.drawing import Drawing
from bondwright.explain.language import Language
from bondwright.papers.content import content
from bondwright.papers.glyphs import mapped, visible
from bondwright.papers.permit import Cover
from bondwright.papers.pictures import Pictures
from bondwright.papers.results import Results
from bondwright.papers.telling import for_this_paper, lettered, told, words


def report_html(results: Results, pictures: Pictures, on: date, cover: Cover | None = None) -> str:
    """Write the report as a page.

    Args:
        results: what was computed.
        pictures: drawn beforehand.
        on: date printed on it.
        cover: what stands on the cover beside the results.

    Returns:
        The whole file as text; UTF-8 is declared in it.
    """
    whole = content(results, on, cover)
    language = for_this_paper(whole)
    data = mapped({**told(whole, language), "w": words(language.tag)}, visible)
    # In the template "stray" is the table; the study goes by another name.
    data["stray_study"] = data.pop("stray")
    data["pictures"] = {
        group: [
            {
                "caption": visible(language(picture.caption)),
                "page": _inline(picture.page, language),
                "phone": _inline(picture.phone, language),
            }
            for picture in drawn
        ]
        for group, drawn in pictures.groups()
    }
    data["css"] = Markup(_template("report.css"))  # our own file, not input
    text = _environment().get_template("report.html.j2").render(data)
    return text.lstrip()


def _template(name: str) -> str:
    folder = files("bondwright.papers").joinpath("templates")
    return folder.joinpath(name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _inline(drawing: Drawing, language: Language) -> Markup:
    """Return a picture for use inside a page.

    The drawing layer escapes every text it puts into a picture, and gives ids as it was told.
    """
    _, opening, rest = lettered(drawing.svg, language).partition("<svg")
    return Markup(visible(opening + rest))
