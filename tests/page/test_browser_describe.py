"""A site described in a real browser: built up from nothing, as text, by a panel schedule."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from bondwright.page.desk import Desk
from bondwright.page.keepers import FileKeeper
from bondwright.site.reader import load
from bondwright.site.starters import starter
from tests.page.serving import DESKTOP, FARMHOUSE, PHONE, looked_at, search, served

SIZES = pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
SCHEDULE = (
    "Circuit\tDescription\tBreaker\tPoles\tWire\tLength (ft)\n"
    "1\tBench lights\t20\t1\t12 Cu\t45\n"
    "2/4\tCompressor\t30\t2\t10 Cu\t70\n"
    "3\tOdd one\t2O\t1\t12 Cu\t30\n"
    "5\tSpare\t20\t1\t\t\n"
)


@contextmanager
def file_served(path: Path) -> Iterator[tuple[str, Desk]]:
    """Serve a file as the command does; yield its address and working copy."""
    keeper = FileKeeper(path)
    text = keeper.read()
    desk = Desk(keeper.site(text), path.name, text, keeper)
    if keeper.new:
        desk.saved = ""
    with served(desk) as address:
        yield address, desk


def describe(page: Page, view: str = "Lists") -> None:
    """Open the tab and one of its views."""
    tab = page.locator("#tab-describe")
    if tab.get_attribute("aria-selected") != "true" or not page.locator("#told").is_visible():
        tab.click()
    page.locator(".switch").get_by_role("button", name=view, exact=True).click()
    expect(page.locator(".switch [aria-pressed=true]")).to_have_text(view)


def fill(page: Page, key: str, text: str, within: str = "form.entry > .form") -> None:
    """Fill in a field, or choose in one."""
    field = page.locator(f'{within} [data-key="{key}"]').first
    box = field.locator("input, select").first
    if box.evaluate("node => node.tagName") == "SELECT":
        box.select_option(text)
    else:
        box.fill(text)


def add_place(page: Page, name: str, kind: str, run: dict[str, str], load: str = "") -> None:
    """Add a place with the run that feeds it."""
    describe(page)
    page.get_by_role("button", name="Add a place").click()
    page.fill("#entry-name", name)
    fill(page, "kind", kind)
    if load:
        page.locator('[data-key="loads"]').get_by_role("button", name="Add one").click()
        fill(page, "on", "L1-N", '[data-key="loads"]')
        fill(page, "power", load, '[data-key="loads"]')
    for key, text in run.items():
        fill(page, key, text, '[data-run="0"]')
    page.get_by_role("button", name="Add it").click()
    expect(page.locator("#toast")).to_contain_text(f"{name} added")


@SIZES
def test_a_small_shop_is_built_from_nothing(
    browser: Browser, tmp_path: Path, size: tuple[int, int]
) -> None:
    path = tmp_path / "shop.yaml"
    with (
        file_served(path) as (address, _),
        looked_at(browser, address, size) as (page, seen),
    ):
        describe(page)
        expect(page.locator("#told")).to_contain_text("shop.yaml is not there yet")
        page.select_option("#starter", "service")
        page.click("#begin")
        expect(page.locator("#world .station")).to_have_count(2)
        page.get_by_role("button", name="Name, rules, soil").click()
        fill(page, "site", "Cooperage of Harrow Creek Cidery")
        fill(page, "soil", "100 ohm m")
        page.get_by_role("button", name="Change it").click()
        expect(page.locator("#title")).to_have_text("Cooperage of Harrow Creek Cidery")

        branch = {"from": "service panel", "device": "60 A breaker", "length": "8o ft",
                  "lines": "6 AWG Cu", "neutral": "6 AWG Cu"}  # fmt: skip
        describe(page)
        page.get_by_role("button", name="Add a place").click()
        page.fill("#entry-name", "shop panel")
        fill(page, "kind", "panel")
        for key, text in branch.items():
            fill(page, key, text, '[data-run="0"]')
        page.get_by_role("button", name="Add it").click()
        wrong = page.locator('[data-run="0"] [data-key="length"] .wrong').first
        expect(wrong).to_be_visible()
        expect(wrong).to_contain_text("8o ft")
        box = page.locator('[data-run="0"] [data-key="length"] input').first
        expect(box).to_have_attribute("aria-invalid", "true")
        expect(page.locator("#world .station")).to_have_count(2)
        box.fill("80 ft")
        page.get_by_role("button", name="Add it").click()
        expect(page.locator("#world .station")).to_have_count(3)

        run = {"from": "shop panel", "device": "20 A breaker", "length": "30 ft",
               "lines": "12 AWG Cu", "neutral": "12 AWG Cu"}  # fmt: skip
        add_place(page, "lathe", "equipment", {**run}, load="1.5 kW")
        expect(page.locator("#world .station")).to_have_count(4)
        # 120 V over 9.6 ohm of lathe and 0.2 ohm of wire there and back (NEC chapter 9, table 8).
        expect(page.locator("#headline")).to_contain_text("largest neutral current is 12.2 A")

        assert not path.exists()
        page.click("#save")
        expect(page.locator("#save")).to_have_text("Saved")
        described = load(path)
        assert set(described.places) == {"service panel", "shop panel", "lathe"}
        assert described.runs["lathe branch"].from_ == "shop panel"
        assert path.read_text("utf-8").startswith("# One service, to build a site up from.")
        assert [said for said in seen.complaints if "422" not in said] == []


@SIZES
def test_a_schedule_is_pasted_and_undone(
    browser: Browser, tmp_path: Path, size: tuple[int, int]
) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(starter("house"), "utf-8")
    with file_served(path) as (address, desk), looked_at(browser, address, size) as (page, _):
        stations = page.locator("#world .station")
        expect(stations).to_have_count(4)
        describe(page, "Panel schedule")
        page.select_option("#schedule-panel", "garage panel")
        page.fill("#schedule-text", SCHEDULE)
        page.click("#schedule-read")
        found = page.locator("#schedule-found")
        expect(found.locator(".doubts").first).to_contain_text("2O")
        expect(found).to_contain_text("3 rows understood")
        page.click("#schedule-add")
        expect(stations).to_have_count(6)
        assert set(desk.site.places) >= {"bench lights", "compressor"}
        page.click("#undo")
        expect(page.locator("#toast")).to_contain_text("Undone: 2 circuits added to garage panel")
        expect(stations).to_have_count(4)
        page.click("#redo")
        expect(stations).to_have_count(6)


def test_undo_takes_back_ties_and_words_in_turn(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(starter("house"), "utf-8")
    with file_served(path) as (address, _), looked_at(browser, address) as (page, _):
        slot = '[data-kind="slot"][data-id="garage panel"]'
        search(page, "garage panel")
        page.get_by_role("button", name="Put a tie on here").first.click()
        expect(page.locator("#headline")).to_contain_text("A tie stands where none belongs")
        search(page, "garage panel")
        page.get_by_role("button", name="Change it").click()
        fill(page, "building", "barn")
        page.get_by_role("button", name="Change it").click()
        expect(page.locator("#toast")).to_contain_text("Changed")
        expect(page.locator("#headline")).to_contain_text("A tie stands where none belongs")
        page.click("#undo")
        expect(page.locator("#toast")).to_contain_text("building garage to barn")
        expect(page.locator("#headline")).to_contain_text("A tie stands where none belongs")
        page.click("#undo")
        expect(page.locator("#headline")).to_contain_text("Normal use")
        expect(page.locator(slot)).to_have_attribute("data-look", "free")
        page.click("#redo")
        expect(page.locator("#headline")).to_contain_text("A tie stands where none belongs")


@SIZES
def test_text_and_forms_are_one(browser: Browser, tmp_path: Path, size: tuple[int, int]) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(starter("house"), "utf-8")
    with file_served(path) as (address, desk), looked_at(browser, address, size) as (page, _):
        describe(page, "As text")
        text = page.locator("#site-text")
        expect(text).to_have_value(starter("house"))
        text.fill(starter("house").replace("length: 60 ft", "length: 60 fet"))
        problem = page.locator(".problems li")
        expect(problem).to_contain_text(re.compile(r"line 52, column 13.*60 fet"))
        page.click("#take-text")
        expect(page.locator("#toast")).to_contain_text("60 fet")
        assert desk.text == starter("house")
        problem.locator("button").click()
        chosen = "t => t.value.slice(t.selectionStart, t.selectionEnd)"
        assert text.evaluate(chosen) == "60 fet"
        page.keyboard.type("66 ft")
        page.keyboard.press("Control+Enter")
        expect(page.locator("#toast")).to_contain_text("Taken over")
        expect(page.locator("#world")).to_contain_text("66 ft")
        describe(page)
        page.locator("[data-table=runs] summary").click()
        page.get_by_role("button", name="garage feeder").click()
        box = page.locator('[data-key="length"] input').first
        expect(box).to_have_value("66 ft")
        box.fill("70 ft")
        page.get_by_role("button", name="Change it").click()
        describe(page, "As text")
        expect(text).to_have_value(starter("house").replace("length: 60 ft", "length: 70 ft"))


def test_the_page_follows_the_file_on_disk(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(starter("house"), "utf-8")
    with file_served(path) as (address, _), looked_at(browser, address) as (page, _):
        path.write_text(starter("house").replace("length: 60 ft", "length: 61 ft"), "utf-8")
        expect(page.locator("#world")).to_contain_text("61 ft")
        search(page, "garage panel")
        page.get_by_role("button", name="Change it").click()
        fill(page, "building", "barn")
        page.get_by_role("button", name="Change it").click()
        expect(page.locator("#save")).to_be_enabled()
        theirs = starter("house").replace("length: 60 ft", "length: 62 ft")
        path.write_text(theirs, "utf-8")
        page.click("#save")
        conflict = page.locator("dialog[open]")
        expect(conflict).to_contain_text("written by something else")
        assert path.read_text("utf-8") == theirs
        conflict.get_by_role("button", name="Look at theirs").click()
        expect(page.locator("#world")).to_contain_text("62 ft")
        expect(page.locator("#save")).to_have_text("Saved")
        page.click("#undo")
        expect(page.locator("#save")).to_have_text("Save")


def test_keys_alone_describe_a_place(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(starter("house"), "utf-8")
    with file_served(path) as (address, desk), looked_at(browser, address) as (page, _):
        page.keyboard.press("/")
        page.keyboard.type("garage panel")
        page.keyboard.press("Enter")
        page.get_by_role("button", name="Add something it feeds").press("Enter")
        page.locator("#entry-name").press_sequentially("freezer")
        for key, text in {
            "device": "20 A breaker",
            "length": "20 ft",
            "lines": "12 AWG Cu",
        }.items():
            page.locator(f'[data-run="0"] [data-key="{key}"] input').first.press_sequentially(text)
        page.locator("#entry-name").press("Enter")
        expect(page.locator("#toast")).to_contain_text("freezer added")
        assert desk.site.runs["freezer branch"].from_ == "garage panel"
        page.keyboard.press("Control+s")
        expect(page.locator("#save")).to_have_text("Saved")
        assert "freezer" in path.read_text("utf-8")


def _form(page: Page) -> None:
    describe(page)
    page.get_by_role("button", name="farmhouse panel").first.click()
    page.locator(".more summary").first.click()


def _wrong(page: Page) -> None:
    _form(page)
    fill(page, "main", "a big one")
    page.get_by_role("button", name="Change it").click()
    expect(page.locator(".wrong:not([hidden])").first).to_be_visible()


def _new(page: Page) -> None:
    describe(page)
    page.get_by_role("button", name="Add a place").click()


def _bad_text(page: Page) -> None:
    describe(page, "As text")
    page.locator("#site-text").fill("site: x\nplaces: 3\n")
    expect(page.locator(".problems li").first).to_be_visible()


def _schedule(page: Page) -> None:
    describe(page, "Panel schedule")
    page.fill("#schedule-text", SCHEDULE)
    page.click("#schedule-read")
    expect(page.locator("#schedule-found table")).to_be_visible()


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_axe_reports_no_violation(
    browser: Browser, tmp_path: Path, size: tuple[int, int], dark: bool
) -> None:
    path = tmp_path / "farmhouse.yaml"
    path.write_bytes(FARMHOUSE.read_bytes())
    with (
        file_served(path) as (address, _),
        looked_at(browser, address, size, dark=dark) as (page, _),
    ):
        found = {}
        for open_it in (describe, _form, _wrong, _new, _schedule, _bad_text):
            open_it(page)
            page.wait_for_timeout(60)
            for one in Axe().run(page).response["violations"]:
                nodes = [node["html"][:120] for node in one["nodes"][:3]]
                found[f"{open_it.__name__}: {one['id']}"] = (one["help"], nodes)
        assert found == {}
