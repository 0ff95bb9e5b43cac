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


def _hunt(page: Page) -> None:
    page.click("#tab-hunt")
    page.wait_for_selector("#hunt-begin")


def _hunting(page: Page) -> None:
    page.click("#hunt-begin")
    # The first ranking starts a process of its own, which takes its time on a machine that is busy.
    page.wait_for_selector("#hunt-value", timeout=120_000)
    page.fill("#hunt-value", "0.2")
    page.click("#hunt-keep")
    page.wait_for_selector(".notes li")
    page.wait_for_selector("#hunt-value", timeout=120_000)
    page.focus("#hunt-value")
    page.evaluate("for (const one of document.querySelectorAll('#told details')) one.open = true")
    page.wait_for_selector("#own-keep", state="attached")


def _answer(page: Page) -> None:
    page.click(".tile >> text=Electrode conductor")
    page.get_by_role("button", name="3/0 AWG", exact=True).click()


def _open_neutral(page: Page) -> None:
    _tab("stray")(page)
    page.click("#open-neutral summary")
    page.wait_for_selector("#open-neutral svg")


def _story(page: Page) -> None:
    page.click(".story >> text=The rod")
    page.locator(".option").first.click()


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
    "open neutral": _open_neutral,
    "findings": _tab("findings"),
    "hunt": _hunt,
    "hunting": _hunting,
    "tables": _tab("tables"),
    "answer": _answer,
    "learn": _tab("learn"),
    "story": _story,
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
