"""The report as one PDF, set by typst.

All words reach typst as JSON, never as markup. Fonts come from a package and are embedded; system
fonts are ignored, so pages are the same everywhere. The file is tagged and keeps PDF/UA-1. The
same results, date and paper give the same bytes.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time
from importlib.resources import files
from typing import Any, Final, Literal

import typst

from bondwright.papers.content import content
from bondwright.papers.glyphs import FAMILY, font_folder, mapped, printable
from bondwright.papers.pictures import Pictures
from bondwright.papers.results import Results

Paper = Literal["us-letter", "a4"]
PAPERS: Final[tuple[Paper, ...]] = ("us-letter", "a4")
_ROOM: Final = {
    "us-letter": {"width": 504, "height": 610},
    "a4": {"width": 487, "height": 660},
}
"""Room for a picture within the margins, pt."""


class PaperError(RuntimeError):
    """The PDF can't be made; the message says why."""


def report_pdf(
    results: Results, pictures: Pictures, on: date, *, paper: Paper = "us-letter"
) -> bytes:
    """Set the report.

    Args:
        results: what was computed.
        pictures: drawn beforehand.
        on: date printed on it, and the time stamp of the file.
        paper: "us-letter" or "a4".

    Returns:
        The PDF file.

    Raises:
        ValueError: another paper.
        PaperError: typst refuses.
    """
    if paper not in PAPERS:
        raise ValueError(f"no paper {paper!r} is known; give 'us-letter' or 'a4'")
    data = content(results, on)
    inputs: dict[str, bytes] = {}
    data["pictures"] = {
        group: [_picture(inputs, group, n, p) for n, p in enumerate(drawn)]
        for group, drawn in pictures.groups()
    }
    data["groups"] = [group for group, _ in pictures.groups()]
    data["room"] = _ROOM[paper]
    data["paper"], data["font"] = paper, FAMILY
    title = str(data["title"])
    data["running"] = title if len(title) <= 70 else title[:69] + "…"
    data["edition"] = next(value for name, value in data["facts"] if name == "Rules")
    inputs["report.json"] = json.dumps(mapped(data, printable), ensure_ascii=False).encode()
    templates = files("bondwright.papers").joinpath("templates")
    inputs["parts.typ"] = templates.joinpath("parts.typ").read_bytes()
    inputs["main.typ"] = templates.joinpath("report.typ").read_bytes()
    return _compile(inputs, on)


def _picture(inputs: dict[str, bytes], group: str, number: int, picture: Any) -> dict[str, Any]:
    name = f"{group}-{number}.svg"
    inputs[name] = printable(picture.page.svg).encode()
    return {
        "file": name,
        "alt": picture.page.alt,
        "caption": picture.caption,
        "width": picture.page.width_px,
        "height": picture.page.height_px,
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
