"""Draw the pictures that the README and docs show, from the examples.

Usage: ``python scripts/make_images.py`` (writes into docs/images)
"""

from __future__ import annotations

from pathlib import Path

import typst
from font_source_sans_pro import font_directory

from bondwright.draw.open_neutral import open_neutral_plot
from bondwright.draw.phasors import phasor_picture
from bondwright.draw.ribbon import ribbon_picture
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site.reader import load
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.phasors import phasor_planes
from bondwright.studies.hunt.rank import hunt
from bondwright.studies.hunt.readings import load_readings
from bondwright.studies.open_neutral import study_open_neutral

ROOT = Path(__file__).resolve().parents[1]


EXAMPLES = ROOT / "examples"
IMAGES = ROOT / "docs" / "images"


def main() -> None:
    """Write every picture."""
    IMAGES.mkdir(parents=True, exist_ok=True)
    for name, make in (
        ("farmhouse.png", farmhouse),
        ("hunt-phasors.svg", nine_voltages),
        ("open-neutral.svg", open_neutral),
    ):
        (IMAGES / name).write_bytes(make())
        print(f"wrote docs/images/{name}")


def farmhouse() -> bytes:
    """Return the picture of the demo's farthest fault, with the way of its current."""
    results = study(plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml")))
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
    return png


def nine_voltages() -> bytes:
    """Return the voltages at a transformer without its jumper, with a line on metal, as points."""
    made = plan(load(EXAMPLES / "workshop-transformer.yaml"))
    readings = load_readings(EXAMPLES / "nine-voltages.csv", network_at(made, Moment()))
    return phasor_picture(phasor_planes(hunt(made, readings))).svg.encode()


def open_neutral() -> bytes:
    """Return what metal stands at in a flat whose PEN conductor is open."""
    made = plan(load(EXAMPLES / "flat-over-the-cider-shop.yaml"))
    return open_neutral_plot(study_open_neutral(made)).svg.encode()


if __name__ == "__main__":
    main()
