"""Make pictures of every view of the page, desktop and phone, light and dark.

Usage: ``python -m scripts.shoot_page [--out DIR] [--only VIEW,...] [--looks desktop-light,...]``;
with ``--docs`` those of the documentation are made anew, in docs/images.

The site is the demo farmhouse. Whoever changes the page looks at them before anybody else does.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.page.serving import DESKTOP, PHONE, farmhouse, looked_at, play, search, served, settle

ROOT = Path(__file__).resolve().parents[1]
IMAGES = ROOT / "docs" / "images"
LOOKS = {
    f"{name}-{'dark' if dark else 'light'}": (size, dark)
    for name, size in (("desktop", DESKTOP), ("phone", PHONE))
    for dark in (False, True)
}


def _place(page: Page) -> None:
    search(page, "pump house panel")


def _tie_off(page: Page) -> None:
    search(page, "main bonding jumper")
    page.click("#bubble >> text=Take it off")
    page.click("#zoom-all")
    page.wait_for_selector("#toast", state="hidden")


def _fault(page: Page) -> None:
    if page.locator("#undo").is_enabled():
        page.click("#undo")
    play(page, "well pump", "L1 to metal")
    page.click("#play >> text=Next")
    page.click("#play >> text=Next")


def _tab(name: str) -> Callable[[Page], None]:
    def open_it(page: Page) -> None:
        page.click(f"#tab-{name}")
        page.wait_for_selector("#told h2")
        page.wait_for_timeout(400)

    return open_it


def _open_neutral(page: Page) -> None:
    _tab("stray")(page)
    page.click("#open-neutral summary")
    page.wait_for_selector("#open-neutral svg")
    page.locator("#open-neutral").scroll_into_view_if_needed()


def _hunt(page: Page) -> None:
    if page.locator("#undo").is_enabled():
        page.click("#undo")
    page.click("#tab-hunt")
    page.click("#hunt-begin")
    page.wait_for_selector(".ask-card", timeout=60_000)
    read_next(page, "0.02", "V")


def _hunted(page: Page) -> None:
    read_next(page, "5", "A")
    page.evaluate("document.querySelector('#told').scrollTo(0, 0)")


def _typing(page: Page) -> None:
    page.fill("#hunt-value", "4.9")


def _causes(page: Page) -> None:
    page.evaluate("document.querySelector('.afield').classList.remove('typing')")
    page.locator(".causes summary").first.click()
    page.evaluate("document.querySelector('#hunt-says').scrollIntoView()")


def read_next(page: Page, number: str, unit: str) -> None:
    """Type a reading that is asked for, and wait for what it says."""
    before = page.locator(".notes li").count()
    page.fill("#hunt-value", number)
    key = page.locator(f'.pad .unit:text-is("{unit}")')
    if key.count():
        key.click()
    page.click("#hunt-keep")
    page.wait_for_function(
        "n => document.querySelectorAll('.notes li').length > n", arg=before, timeout=60_000
    )
    page.wait_for_timeout(1200)


def _story(page: Page) -> None:
    page.click(".story >> text=Joined twice")
    page.wait_for_selector(".learn .question")
    page.click(".option >> text=side by side")


def _told(page: Page) -> None:
    page.click("#learn-next")


def _clears(page: Page) -> None:
    page.click(".learn .to-tables")
    page.click(".story >> text=The rod")
    page.click(".option >> text=A few amperes")
    page.click("#learn-next")


def _jumper(page: Page) -> None:
    if not page.locator(".panel-tables").is_visible():
        page.click("#tab-tables")
    page.click(".tile >> text=Bonding jumper")
    page.get_by_role("button", name="3/0 AWG", exact=True).click()


def _limits(page: Page) -> None:
    page.click(".to-tables")
    page.click(".tile >> text=Loop limits of breakers")


DOCS = {"tie-off": "desktop-light", "typing": "phone-light", "jumper": "phone-light",
        "told": "desktop-dark"}  # fmt: skip
"""Pictures of the documentation."""

VIEWS: dict[str, Callable[[Page], None]] = {
    "start": settle,
    "place": _place,
    "tie-off": _tie_off,
    "fault": _fault,
    "hunt": _hunt,
    "hunted": _hunted,
    "typing": _typing,
    "causes": _causes,
    "tables": _tab("tables"),
    "jumper": _jumper,
    "limits": _limits,
    "describe": _tab("describe"),
    "earth": _tab("earth"),
    "mistakes": _tab("mistakes"),
    "stray": _tab("stray"),
    "open-neutral": _open_neutral,
    "sizes": _tab("sizes"),
    "findings": _tab("findings"),
    "learn": _tab("learn"),
    "story": _story,
    "told": _told,
    "rod": _clears,
}


def main() -> None:
    """Make them."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--out", type=Path, default=ROOT / "out" / "page")
    asked.add_argument("--only", default="")
    asked.add_argument("--looks", default="")
    asked.add_argument("--docs", action="store_true")
    given = asked.parse_args()
    views = [v for v in VIEWS if not given.only or v in given.only.split(",")]
    looks = [v for v in LOOKS if not given.looks or v in given.looks.split(",")]
    given.out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        found = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        for look in looks:
            size, dark = LOOKS[look]
            with (
                served(farmhouse()) as address,
                looked_at(browser, address, size, dark=dark) as (page, seen),
            ):
                for name in views:
                    VIEWS[name](page)
                    page.wait_for_timeout(350)
                    page.screenshot(path=given.out / f"{name}-{look}.png")
                    if given.docs and DOCS.get(name) == look:
                        shutil.copy(given.out / f"{name}-{look}.png", IMAGES / f"page-{name}.png")
                    print(f"{name}-{look}")
                for complaint in seen.complaints:
                    print("complaint:", complaint)
        browser.close()


if __name__ == "__main__":
    main()
