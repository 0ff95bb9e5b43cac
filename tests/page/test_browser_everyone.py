"""axe finds nothing to complain about, light and dark, at the desk and on the phone."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.page.serving import DESKTOP, PHONE, farmhouse, looked_at, play, search, served, settle


def _place(page: Page) -> None:
    search(page, "pump house panel")


def _tie_off(page: Page) -> None:
    search(page, "main bonding jumper")
    page.click("#bubble >> text=Take it off")
    page.wait_for_selector("#toast:not([hidden])")


def _fault(page: Page) -> None:
    play(page, "well pump", "L1 to metal")
    page.click("#tab-faults")
    page.wait_for_selector("#told .plot")
    page.locator("#told .figure summary").first.click()


def _tab(name: str) -> Callable[[Page], None]:
    def open_it(page: Page) -> None:
        page.click(f"#tab-{name}")
        page.wait_for_selector("#told h2")

    return open_it


def _menu(page: Page) -> None:
    page.click("#more")


def _searching(page: Page) -> None:
    page.click("#find")
    page.fill("#query", "pump")


VIEWS: dict[str, Callable[[Page], None]] = {
    "start": settle,
    "place": _place,
    "tie off": _tie_off,
    "fault": _fault,
    "stray": _tab("stray"),
    "mistakes": _tab("mistakes"),
    "sizes": _tab("sizes"),
    "findings": _tab("findings"),
    "search": _searching,
    "menu": _menu,
}


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_axe_reports_no_violation(browser: Browser, size: tuple[int, int], dark: bool) -> None:
    with served(farmhouse()) as address, looked_at(browser, address, size, dark=dark) as (page, _):
        found = {}
        for name, open_it in VIEWS.items():
            open_it(page)
            page.wait_for_timeout(60)
            for one in Axe().run(page).response["violations"]:
                nodes = [node["html"][:120] for node in one["nodes"][:3]]
                found[f"{name}: {one['id']}"] = (one["help"], nodes)
            page.keyboard.press("Escape")
        assert found == {}


def test_axe_sees_a_violation_where_there_is_one(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address) as (page, _):
        page.evaluate("document.querySelector('#find').removeAttribute('aria-label')")
        page.evaluate("document.querySelector('#find').removeAttribute('title')")
        found = {one["id"] for one in Axe().run(page).response["violations"]}
        assert "button-name" in found
