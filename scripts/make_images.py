"""Draw the pictures that the README and the pages show.

Usage: ``python -m scripts.make_images`` (writes into docs/images)
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import typst
from font_source_sans_pro import font_directory

from bondwright.draw.drawing import Drawing
from bondwright.draw.open_neutral import open_neutral_plot
from bondwright.draw.phasors import phasor_picture
from bondwright.draw.ribbon import ribbon_picture
from bondwright.network.build import build
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site.reader import load, read
from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.phasors import phasor_planes
from bondwright.studies.hunt.rank import hunt
from bondwright.studies.hunt.readings import load_readings
from bondwright.studies.open_neutral import study_open_neutral
from bondwright.studies.stray import study_stray
from scripts.run_docs import Block, blocks, in_an_empty_folder, run_page

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
EXAMPLES = ROOT / "examples"


def descriptions(page: str, name: str) -> list[str]:
    """Return what a file of a page is at first, and after each edit that the page shows."""
    found: list[str] = []
    with in_an_empty_folder():
        for block in blocks((DOCS / page).read_text(encoding="utf-8")):
            if block.name == name and block.language in {"yaml", "diff"}:
                run_page(_again(block), page)
                found.append(Path(name).read_text(encoding="utf-8"))
    return found


def _again(block: Block) -> str:
    return f"```{block.language} {block.name}\n{block.body}```\n"


def fault_picture(text: str, place: str) -> Drawing:
    """Return the picture of a line on the metal of a place, with the way of its current."""
    made = plan(read(text))
    fault = Fault(place, FaultKind.LINE_TO_METAL, "L1", "G")
    result = study_fault(build(made, loads=False), fault)
    return ribbon_picture(made, flows=result.flows, fault=result, width="page")


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Return every picture with the name of its file."""
    results = study(plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml")))
    yield "farmhouse", ribbon_picture(results.plan, fault=results.telling, width="page")
    whole, none, twice = descriptions("why-once.md", "once.yaml")
    yield "why-once-whole", fault_picture(whole, "shed panel")
    yield "why-once-none", fault_picture(none, "shed panel")
    doubled = plan(read(twice))
    flows = study_stray(build(doubled)).flows
    yield "why-once-twice", ribbon_picture(doubled, flows=flows, width="page")
    with in_an_empty_folder():
        run_page("```console\n$ bondwright new house.yaml\n```\n", "first-site.md")
        page = (DOCS / "first-site.md").read_text(encoding="utf-8")
        edits = [block for block in blocks(page) if block.language == "diff"]
        for block in edits[:4]:
            run_page(_again(block), "first-site.md")
        yield "first-site", ribbon_picture(plan(load(Path("house.yaml"))), width="page")


def plots() -> Iterator[tuple[str, Drawing]]:
    """Return every plot with the name of its file."""
    shop = plan(load(EXAMPLES / "workshop-transformer.yaml"))
    readings = load_readings(EXAMPLES / "nine-voltages.csv", network_at(shop, Moment()))
    yield "hunt-phasors", phasor_picture(phasor_planes(hunt(shop, readings)))
    flat = plan(load(EXAMPLES / "flat-over-the-cider-shop.yaml"))
    yield "open-neutral", open_neutral_plot(study_open_neutral(flat))


def png(drawing: Drawing) -> bytes:
    """Return a picture as PNG.

    Raises:
        TypeError: it came out as several pages.
    """
    page = (
        f"#set page(width: {drawing.width_px}pt, height: {drawing.height_px}pt, margin: 0pt)\n"
        '#image("picture.svg", width: 100%)\n'
    )
    made = typst.compile(
        {"main.typ": page.encode(), "picture.svg": drawing.svg.encode()},
        format="png",
        ppi=110,
        font_paths=[font_directory],
        ignore_system_fonts=True,
    )
    if not isinstance(made, bytes):
        message = "the picture came out as several pages"
        raise TypeError(message)
    return made


def main() -> None:
    """Write every picture."""
    made = [(f"{name}.png", png(drawing)) for name, drawing in pictures()]
    made += [(f"{name}.svg", drawing.svg.encode()) for name, drawing in plots()]
    for name, data in made:
        target = DOCS / "images" / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        print(f"wrote {target.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
