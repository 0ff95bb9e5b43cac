"""The papers as PDF, set by typst.

All words reach typst as JSON, never as markup. Fonts come from a package and are embedded; system
fonts are ignored, so pages are the same everywhere. The file is tagged and keeps PDF/UA-1. The
same results, date and paper give the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time
from functools import partial
from importlib.resources import files
from typing import Any, Final

import typst

from bondwright.draw.drawing import Drawing
from bondwright.explain.cautions import SHORT
from bondwright.explain.language import spoken
from bondwright.papers.content import content
from bondwright.papers.glyphs import FAMILY, font_folder, mapped, printable
from bondwright.papers.permit import Cover
from bondwright.papers.pictures import Picture, Pictures
from bondwright.papers.results import Results
from bondwright.papers.sizes import GUTTER, PAPERS, Paper, Size, size, spot
from bondwright.papers.telling import for_this_paper, lettered, told, words

__all__ = [
    "PAPERS", "Paper", "PaperError", "Setting", "ready", "report_pdf", "report_ready", "words",
]  # fmt: skip

Setting = Callable[[], bytes]
"""Sets a paper that is ready: typst's work, which needs nothing of ours and no Python meanwhile."""

LONGEST_TITLE: Final = 70
"""Letters of a title in the running head."""


class PaperError(RuntimeError):
    """The PDF can't be made; the message says why."""


def report_pdf(
    results: Results,
    pictures: Pictures,
    on: date,
    *,
    paper: Paper = "us-letter",
    cover: Cover | None = None,
) -> bytes:
    """Set the report, which is the permit package; see :func:`report_ready`."""
    return report_ready(results, pictures, on, paper=paper, cover=cover)()


def report_ready(
    results: Results,
    pictures: Pictures,
    on: date,
    *,
    paper: Paper = "us-letter",
    cover: Cover | None = None,
) -> Setting:
    """Make the report ready to be set.

    Args:
        results: what was computed.
        pictures: drawn beforehand.
        on: date printed on it, and the time stamp of the file.
        paper: one of :data:`PAPERS`.
        cover: what stands on the cover beside the results.

    Returns:
        What sets it: no thread needs to wait for it but the one that calls it.

    Raises:
        ValueError: another paper.
        PaperError: typst refuses, when it is set.
    """
    sheet = size(paper)
    data = content(results, on, cover)
    inputs: dict[str, bytes] = {}
    data["pictures"] = {
        group: [_picture(inputs, group, n, p, sheet) for n, p in enumerate(drawn)]
        for group, drawn in pictures.groups()
    }
    data["groups"] = [group for group, _ in pictures.groups()]
    return ready("report", data, sheet, on, inputs)


def ready(
    template: str,
    data: Mapping[str, Any],
    sheet: Size,
    on: date,
    inputs: Mapping[str, bytes] | None = None,
) -> Setting:
    """Make one paper ready to be set, in the language spoken now.

    Args:
        template: name of its file of ours, without ending.
        data: its content as plain data, with at least ``title``, ``subtitle`` and ``edition``.
        sheet: what it is set on.
        on: time stamp of the file.
        inputs: further files, by name.

    Returns:
        What sets it; it raises :class:`PaperError` where typst refuses.
    """
    title = str(data["title"])
    language = for_this_paper(data)
    whole = {
        "short_caution": language(SHORT),
        **told(data, language),
        "size": sheet.data,
        "gutter": GUTTER,
        "font": FAMILY,
        "words": words(language.tag),
        "running": title if len(title) <= LONGEST_TITLE else title[: LONGEST_TITLE - 1] + "…",
    }
    given = dict(inputs or {})
    given["data.json"] = json.dumps(mapped(whole, printable), ensure_ascii=False).encode()
    templates = files("bondwright.papers").joinpath("templates")
    for name in ("parts", "base"):
        given[f"{name}.typ"] = templates.joinpath(f"{name}.typ").read_bytes()
    given["main.typ"] = templates.joinpath(f"{template}.typ").read_bytes()
    return partial(_compile, given, on)


def _picture(
    inputs: dict[str, bytes], group: str, number: int, picture: Picture, sheet: Size
) -> dict[str, Any]:
    return picture_data(inputs, f"{group}-{number}.svg", picture.page, picture.caption, sheet)


def picture_data(
    inputs: dict[str, bytes], name: str, drawing: Drawing, caption: str, sheet: Size
) -> dict[str, Any]:
    """Put a drawing among the files of a paper and return where it goes there.

    Args:
        inputs: files of the paper; the drawing's is added.
        name: of its file.
        drawing: the drawing.
        caption: what to look at.
        sheet: what the paper is set on.
    """
    inputs[name] = printable(lettered(drawing.svg, spoken())).encode()
    put = spot(drawing.width_px, drawing.height_px, sheet)
    return {
        "file": name,
        "alt": drawing.alt,
        "caption": caption,
        "width": drawing.width_px,
        "height": drawing.height_px,
        "where": put.where,
        "scale": put.scale,
        "sheet": [put.wide, put.high],
    }


def _compile(inputs: dict[str, bytes], on: date) -> bytes:
    stamp = int(datetime.combine(on, time(), UTC).timestamp())
    try:
        # The stub doesn't know the in-memory form, which maps file names to their bytes.
        made: Any = typst.compile(  # type: ignore[call-overload]
            inputs,
            format="pdf",
            font_paths=[str(font_folder())],
            ignore_system_fonts=True,
            timestamp=stamp,
            pdf_standards=["ua-1"],
        )
    except typst.TypstError as error:
        hints = "; ".join(error.hints)
        message = f"{error.message} ({hints})" if hints else error.message
        raise PaperError(f"the PDF can't be set: {message}") from error
    return bytes(made)
