"""The earth in a real browser: the plan tapped, the ground in a fault, a test typed in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from bondwright.page.desk import Desk
from bondwright.site.reader import load
from tests.page.serving import DESKTOP, PHONE, looked_at, served, tap

BARN = Path(__file__).parents[1] / "cases" / "earth-press-barn.yaml"
SIZES = pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
LONG_MS = 120_000
"""A job starts a process of its own, which takes its time on a machine that is busy."""


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(Desk(load(BARN), BARN.name)) as found:
        yield found


def part(page: Page, name: str) -> None:
    """Open a part of the earth, as a person does."""
    if not page.locator("#earth-part").count():
        page.click("#tab-earth")
    page.click(f"[data-part={name}]")
    expect(page.locator(f"[data-part={name}]")).to_have_attribute("aria-pressed", "true")


def work_out(page: Page) -> None:
    part(page, "surface")
    page.wait_for_selector("#earth-map svg, #earth-part .lead")
    if not page.locator("#earth-map svg").count():
        page.click("text=Work out the ground")
    page.wait_for_selector("#earth-map svg", timeout=LONG_MS)


@SIZES
def test_a_tap_on_the_plan_tells_the_electrode(
    browser: Browser, address: str, size: tuple[int, int]
) -> None:
    with looked_at(browser, address, size) as (page, seen):
        part(page, "electrodes")
        page.locator("#earth-plan").scroll_into_view_if_needed()
        tap(page, '#earth-plan [data-kind="electrode"][data-id="footing"]')
        told = page.locator("#electrode-told")
        expect(told.locator("h3").first).to_have_text("footing")
        expect(told).to_contain_text("cottage rod")
        told.locator("summary").first.click()
        expect(told.locator("details[open] .reasons")).to_be_visible()
        expect(page.locator('#earth-plan [data-id="footing"]')).to_have_class(re.compile("chosen"))
        page.click('[data-electrode="well"]')
        expect(told.locator("h3").first).to_have_text("well")
        expect(told).to_contain_text("4.2 ohm")
        told.locator("text=Show it in the picture").click()
        expect(page.locator("#told h2").first).to_have_text("well")
        assert seen.complaints == []


@SIZES
def test_the_ground_in_a_fault_with_numbers_and_limits(
    browser: Browser, address: str, size: tuple[int, int]
) -> None:
    with looked_at(browser, address, size) as (page, seen):
        work_out(page)
        told = page.locator("#earth-part")
        expect(told).to_contain_text("Into the earth")
        expect(told).to_contain_text("Touch at yard light")
        expect(told).to_contain_text("Carried away along water line")
        expect(page.locator("#earth-map svg")).to_contain_text("touch voltage:")
        before = page.locator("#earth-map svg").inner_html()
        page.select_option("#earth-shade", "step")
        expect(page.locator("#earth-map svg")).to_contain_text("step voltage:")
        expect(page.locator("#earth-map svg")).to_contain_text("worst:")
        assert page.locator("#earth-map svg").inner_html() != before
        page.locator("#earth-part summary", has_text="Touch at yard light").first.click()
        expect(told.locator("details[open] .reasons").first).to_contain_text("IEEE Std 80")
        page.locator("#earth-map >> text=Larger").click()
        expect(page.locator("#menu .plot.earth-large svg")).to_be_visible()
        page.keyboard.press("Escape")
        expect(page.locator("#menu")).to_be_hidden()
        assert seen.complaints == []


def test_long_work_can_be_cancelled(browser: Browser) -> None:
    desk = Desk(load(BARN), BARN.name)
    with served(desk) as own, looked_at(browser, own) as (page, _):
        part(page, "surface")
        page.click("text=Work out the ground")
        page.click("text=Cancel")
        expect(page.locator("[data-job=ground]")).to_contain_text("Cancelled")
        assert page.locator("#earth-map").count() == 0


@SIZES
def test_soundings_with_their_curve_and_what_is_off(
    browser: Browser, address: str, size: tuple[int, int]
) -> None:
    rows = [(0.5, 95.3), (1, 47.0), (2, 21.5), (4, 7.42), (8, 1.72), (16, 0.541)]
    with looked_at(browser, address, size) as (page, seen):
        part(page, "tests")
        page.select_option("#test-kind", "survey")
        for number, (spacing, ohms) in enumerate(rows, start=1):
            page.fill(
                f".earth-typed tbody tr:nth-child({number}) td:nth-child(1) input", str(spacing)
            )
            page.fill(f".earth-typed tbody tr:nth-child({number}) td:nth-child(3) input", str(ohms))
        page.click("#test-judge")
        result = page.locator("#test-result")
        expect(result).to_contain_text("Layer 2 has 5")
        expect(result.locator("svg circle")).to_have_count(len(rows))
        expect(result.locator("svg")).to_contain_text("off")
        expect(result.locator("tbody tr")).to_have_count(len(rows))
        assert seen.complaints == []


@SIZES
def test_a_test_typed_in_is_judged_and_a_slip_is_said(
    browser: Browser, address: str, size: tuple[int, int]
) -> None:
    with looked_at(browser, address, size) as (page, seen):
        part(page, "tests")
        page.select_option("#test-kind", "clamp")
        page.fill("#test-goal", "25")
        page.fill(".earth-typed input", "twenty")
        page.click("#test-judge")
        expect(page.locator("#test-result [role=alert]")).to_contain_text("twenty")
        page.fill(".earth-typed input", "24,6")
        page.keyboard.press("Enter")
        result = page.locator("#test-result")
        expect(result).to_contain_text("Not proven under 25 ohm")
        result.locator("summary", has_text="For the site file").click()
        expect(result.locator("pre")).to_contain_text("kind: clamp")
        # what was typed is there when one comes back
        page.click("[data-part=soil]")
        page.click("[data-part=tests]")
        expect(page.locator(".earth-typed input")).to_have_value("24,6")
        page.select_option("#test-kind", "fall of potential")
        page.click("text=One more reading")
        expect(page.locator(".earth-typed tbody tr")).to_have_count(6)
        assert [text for text in seen.complaints if "422" not in text] == []


def test_the_keyboard_reaches_the_electrodes(browser: Browser, address: str) -> None:
    with looked_at(browser, address) as (page, _):
        page.click("#tab-sizes")
        page.keyboard.press("ArrowRight")
        expect(page.locator("#tab-earth")).to_be_focused()
        page.wait_for_selector("#earth-part .earth-rows")
        reached = []
        for _ in range(14):
            page.keyboard.press("Tab")
            now = page.evaluate("document.activeElement.dataset.electrode ?? ''")
            if now:
                reached.append(now)
            if now == "footing":
                page.keyboard.press("Enter")
                break
        assert reached == ["rods", "footing"]
        expect(page.locator("#electrode-told h3").first).to_have_text("footing")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@SIZES
def test_axe_reports_no_violation(
    browser: Browser, address: str, size: tuple[int, int], dark: bool
) -> None:
    with looked_at(browser, address, size, dark=dark) as (page, _):
        found = {}
        for name in ("electrodes", "surface", "soil", "tests"):
            if name == "surface":
                work_out(page)
            part(page, name)
            if name == "electrodes":
                page.click('[data-electrode="rods"]')
            page.wait_for_timeout(150)
            for one in Axe().run(page).response["violations"]:
                nodes = [node["html"][:120] for node in one["nodes"][:3]]
                found[f"{name}: {one['id']}"] = (one["help"], nodes)
        assert found == {}
