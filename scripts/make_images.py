"""Draw the picture that the README shows, from the demo site.

Usage: ``python scripts/make_images.py`` (writes docs/images/farmhouse.png)
"""

from __future__ import annotations

from pathlib import Path

import typst
from font_source_sans_pro import font_directory

from bondwright.draw.ribbon import ribbon_picture
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site.reader import load

ROOT = Path(__file__).resolve().parents[1]


def main() -> None:
    """Write the picture of the demo's farthest fault, with the way of its current."""
    results = study(plan(load(ROOT / "examples" / "harrow-creek-farmhouse.yaml")))
    drawing = ribbon_picture(results.plan, fault=results.telling, width="page")
    page = (
        f"#set page(width: {drawing.width_px}pt, height: {drawing.height_px}pt, margin: 0pt)\n"
        '#image("picture.svg", width: 100%)\n'
    )
    png = typst.compile(
        {"main.typ": page.encode(), "picture.svg": drawing.svg.encode()},
        format="png",
        ppi=110,
        font_paths=[font_directory],
        ignore_system_fonts=True,
    )
    if not isinstance(png, bytes):
        message = "the picture came out as several pages"
        raise TypeError(message)
    target = ROOT / "docs" / "images" / "farmhouse.png"
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(png)
    print(f"wrote {target.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
