"""A defect hunted to its place on a phone, the line dropped and the page reloaded in the middle."""

from __future__ import annotations

import json
import random
import re
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from bondwright.page import offline
from bondwright.page.app import FONT
from bondwright.plan.build import plan
from bondwright.site.reader import load
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.staged import everything
from bondwright.units import Dimension, show
from scripts.made_up import Truth, possible
from tests.page.serving import DESKTOP, FARMHOUSE, PHONE, farmhouse, looked_at, search, served

SIZES = pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
SECOND_TIE = "tie-added/pump house panel"
MOST_READINGS = 8
LONG_MS = 120_000
"""The first ranking starts a process of its own, which takes its time on a machine that is busy."""
UNITS = {
    "current": Dimension.CURRENT,
    "net current": Dimension.CURRENT,
    "voltage": Dimension.VOLTAGE,
    "resistance": Dimension.RESISTANCE,
    "loop": Dimension.RESISTANCE,
    "earth loop": Dimension.RESISTANCE,
}


class Somebody:
    """A person with meters in a building that has a second tie, which the page doesn't see."""

    def __init__(self, defect: str = SECOND_TIE) -> None:
        made = plan(load(FARMHOUSE))
        network = network_at(made, Moment())
        wrong = next(one for one in possible(network) if one.id == defect)
        self.truth = Truth(made, (wrong,), (0.004,), 1.0, random.Random(6))
        self.known = {
            (str(r.quantity), r.where, r.of, r.state): r
            for r in (c.reading for c in everything(network, made))
        }

    def reads(self, ask: dict[str, Any]) -> tuple[str, str]:
        """Take the reading that is asked for: the number, and the unit of the keys it fits."""
        reading = self.known[ask["what"], ask["where"], ask["of"], ask["state"]]
        value = self.truth.read(reading, 1).value
        number, _, unit = show(value, UNITS[ask["what"]]).partition(" ")
        if unit in ask["units"]:
            return number.replace(",", ""), unit
        return f"{value:.6f}", ask["units"][0]


def book(page: Page) -> dict[str, Any]:
    """What the browser keeps of the hunt."""
    text = page.evaluate(
        "localStorage[Object.keys(localStorage).find((k) => k.startsWith('bondwright-hunt '))]"
    )
    found: dict[str, Any] = json.loads(text)
    return found


def the_ask(page: Page) -> dict[str, Any]:
    """The reading that the page asks for, found by the words it shows."""
    said = page.locator("#hunt-ask").inner_text().removeprefix("Next: ")
    asks = book(page)["answer"]["result"]["asks"]
    found: dict[str, Any] = next(a for a in asks if a["title"].lower() == said.lower())
    return found


def take(page: Page, somebody: Somebody) -> None:
    """Take the reading that is asked for and type it as a person does."""
    ask = the_ask(page)
    number, unit = somebody.reads(ask)
    field = page.locator("#hunt-value")
    if page.evaluate("matchMedia('(pointer: coarse)').matches"):
        field.tap()
        for sign in number:
            name = "point" if sign == "." else sign
            page.get_by_role("button", name=name, exact=True).tap()
        page.locator(f'.pad .unit:text-is("{unit}")').tap()
        page.locator("#hunt-keep").tap()
    else:
        field.fill(number)
        page.locator(f'.pad .unit:text-is("{unit}")').click()
        field.press("Enter")


def settle_hunt(page: Page, readings: int) -> None:
    """Wait until so many readings are ranked."""
    page.wait_for_function(
        """n => {
          const name = Object.keys(localStorage).find((k) => k.startsWith('bondwright-hunt '));
          let book = {};
          try { book = JSON.parse(localStorage[name] ?? '{}'); } catch { return false; }
          return book.answer?.status === 'ready' && book.answer.result.readings === n
            && book.notes.every((one) => one.sent);
        }""",
        arg=readings,
        timeout=LONG_MS,
    )


def begin(page: Page) -> None:
    """Open the hunt and read the cautions."""
    page.click("#tab-hunt")
    expect(page.locator("#told")).to_contain_text("lift nothing")
    page.click("#hunt-begin")
    settle_hunt(page, 0)


@SIZES
def test_a_defect_is_hunted_to_its_place_through_a_dropped_line_and_a_reload(
    browser: Browser, size: tuple[int, int]
) -> None:
    desk, somebody = farmhouse(), Somebody()
    with ExitStack() as line:
        address = line.enter_context(served(desk))
        port = int(address.rstrip("/").rpartition(":")[2])
        with looked_at(browser, address, size, worker=True) as (page, _):
            page.wait_for_selector("html[data-kept]")
            begin(page)
            take(page, somebody)
            settle_hunt(page, 1)
            line.close()  # the server is gone
            take(page, somebody)
            status = page.locator(".afield .line[role=status]")
            expect(status).to_contain_text("No line to the server. 1 entry waits")
            expect(page.locator(".notes")).to_contain_text("waits")
            page.reload()  # and so is the page
            page.wait_for_selector("html[data-ready]")
            page.click("#tab-hunt")
            expect(status).to_contain_text("1 entry waits")
            assert page.locator(".notes li").count() == 2
            take(page, somebody)
            expect(status).to_contain_text("2 entries wait")
            with served(desk, port):
                # The server has forgotten everything: also what it had is sent again, once.
                settle_hunt(page, 3)
                taken = 3
                while "short" not in (page.locator(".sofar").get_attribute("class") or ""):
                    assert taken < MOST_READINGS, book(page)["answer"]["result"]["headline"]
                    take(page, somebody)
                    taken += 1
                    settle_hunt(page, taken)
                expect(page.locator(".sofar")).to_contain_text(
                    "Neutral tied to metal at pump house panel as well"
                )
                expect(page.locator("#hunt-says")).to_contain_text("Cure:")
                rows = page.locator(".notes li")
                assert rows.count() == taken
                keys = [one["key"] for one in book(page)["notes"]]
                assert len(set(keys)) == taken
                assert all(one["time"] and one["meter"] for one in book(page)["notes"])
                page.locator(".causes summary").first.click()
                page.locator(".causes >> text=Show it in the picture").first.click()
                panel = page.locator('#world .pointed[data-id="pump house panel"]')
                expect(panel).to_be_visible()
                if size == PHONE:
                    page.click("#tab-hunt")
                with page.expect_download() as saved:
                    page.click("text=Save as CSV")
                text = saved.value.path().read_text()
                assert text.count("\n") == taken + 1


def test_the_picture_points_at_where_to_read(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address, PHONE) as (page, seen):
        begin(page)
        target = the_ask(page)["target"]
        pointed = page.locator(f'#world [data-id="{target["id"]}"].pointed').first
        expect(pointed).to_be_attached()
        box, view = pointed.bounding_box(), page.locator("#view").bounding_box()
        assert box is not None
        assert view is not None
        assert box["y"] < view["y"] + view["height"]
        assert seen.complaints == []


def test_what_cannot_be_reached_is_put_aside_and_slips_are_said(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address) as (page, _):
        begin(page)
        first = the_ask(page)["title"]
        page.fill("#hunt-value", "about four")
        page.click("#hunt-keep")
        expect(page.locator("#hunt-wrong")).to_contain_text("Type the number")
        page.click("text=Can't get at it")
        assert the_ask(page)["title"] != first
        page.reload()
        page.wait_for_selector("html[data-ready]")
        page.click("#tab-hunt")
        assert the_ask(page)["title"] != first


def test_a_reading_of_ones_own_is_entered_mended_and_removed(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address) as (page, _):
        begin(page)
        page.click("text=A reading of your own")
        page.select_option("#own-what", "voltage")
        page.fill("#own-where", "pump house panl")
        page.fill("#own-value", "0.02 V")
        page.click("#own-keep")
        expect(page.locator("#own-where-wrong")).to_contain_text("did you mean 'pump house panel'")
        page.fill("#own-where", "pump house panel")
        page.select_option("#own-of", "N-G")
        page.fill("#own-value", "0,02")
        page.click("#own-keep")
        settle_hunt(page, 1)
        expect(page.locator(".notes li")).to_contain_text("0.02 V")
        page.click(".notes li button.icon")
        settle_hunt(page, 0)
        expect(page.locator(".afield")).to_contain_text("Readings (0)")
        page.click("#toast >> text=Undo")
        settle_hunt(page, 1)


def test_a_tap_on_a_phone_has_room_for_a_glove(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address, PHONE) as (page, _):
        begin(page)
        page.locator("#hunt-value").tap()
        for one in page.locator(".pad button, .big button").all():
            box = one.bounding_box()
            assert box is not None
            assert box["height"] >= 52
            assert box["width"] >= 60
        last = page.locator("#hunt-keep").bounding_box()
        assert last is not None
        assert last["y"] + last["height"] <= PHONE[1], (
            "the keys are on the screen without scrolling"
        )


@SIZES
def test_tables_answer_in_three_taps_with_the_server_gone_and_the_page_reloaded(
    browser: Browser, size: tuple[int, int]
) -> None:
    with ExitStack() as line:
        address = line.enter_context(served(farmhouse()))
        with looked_at(browser, address, size, worker=True) as (page, _):
            page.wait_for_selector("html[data-kept]")
            line.close()
            page.reload()
            page.wait_for_selector("html[data-ready]")
            page.click("#tab-tables")  # one
            page.click(".tile >> text=Bonding jumper")  # two
            page.get_by_role("button", name="3/0 AWG", exact=True).click()  # three
            expect(page.locator(".sun .huge")).to_have_text("4 AWG Cu")
            expect(page.locator(".sun")).to_contain_text("NEC 2023 250.28(D)")
            page.click(".to-tables")
            page.click(".tile >> text=Ground wire (EGC)")
            page.get_by_role("button", name="60 A", exact=True).click()
            expect(page.locator(".sun .huge")).to_have_text("10 AWG Cu")
            page.click(".to-tables")
            page.click(".tile >> text=Loop limits of breakers")
            expect(page.locator(".sun-sheet")).to_contain_text("7.28")
            expect(page.locator("#title")).to_contain_text("farmhouse")


def test_answers_are_as_dark_on_light_as_can_be(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address, PHONE) as (page, _):
        page.click("#tab-tables")
        page.click(".tile >> text=Electrode conductor")
        page.get_by_role("button", name="3/0 AWG", exact=True).click()
        look = page.locator(".sun .huge").evaluate(
            "e => [getComputedStyle(e).color, getComputedStyle(e.parentElement).backgroundColor,"
            " parseFloat(getComputedStyle(e).fontSize)]"
        )
        assert look[:2] == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]
        assert look[2] >= 40


def test_a_new_version_replaces_the_old_one_whole(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = farmhouse()
    with ExitStack() as line:
        address = line.enter_context(served(desk))
        port = int(address.rstrip("/").rpartition(":")[2])
        with looked_at(browser, address, worker=True) as (page, _):
            page.wait_for_selector("html[data-kept]")
            before = page.evaluate("caches.keys()")
            line.close()
            files = offline.shell(FONT)[1]
            monkeypatch.setattr(offline, "shell", lambda _: ("another-version", files))
            with served(desk, port):
                page.reload()
                page.wait_for_selector("html[data-ready]")
                expect(page.locator("#toast")).to_contain_text("A newer page is here")
                page.click("#toast >> text=Load it")
                page.wait_for_selector("html[data-kept]")
                after = page.evaluate("caches.keys()")
            assert "bondwright-shell-another-version" not in before
            assert [name for name in after if name.startswith("bondwright-shell-")] == [
                "bondwright-shell-another-version"
            ]
            page.reload()  # with the server gone the new one stands by itself
            page.wait_for_selector("html[data-ready]")


@SIZES
def test_a_story_is_answered_and_the_picture_moves_with_it(
    browser: Browser, size: tuple[int, int]
) -> None:
    with served(farmhouse()) as address, looked_at(browser, address, size) as (page, seen):
        page.click("#tab-learn")
        page.click(".story >> text=Not joined")
        expect(page.locator("#title")).to_have_text("Model: Gate house and shed")
        jumper = page.locator('#world [data-kind="tie"][data-id="main bonding jumper"]')
        expect(jumper).to_have_attribute("data-look", re.compile("off|missing"))
        expect(page.locator("#learn-next")).to_be_disabled()
        page.click(".option >> text=The 100 A main")
        expect(page.locator(".option.wrong-one")).to_contain_text("The 100 A main")
        expect(page.locator(".option.right")).to_contain_text("Nothing")
        page.click("#learn-next")
        expect(page.locator(".learn")).to_contain_text("5.27 A flow through the rods")
        expect(page.locator("#headline")).to_contain_text("falls short")
        press = page.locator('#world [data-kind="place"][data-id="press"]')
        expect(press).to_have_attribute("data-look", "live")
        page.click("#learn-next")
        expect(page.locator(".learn")).to_contain_text("Right at once: 0 of 1")
        page.click("text=More stories")
        expect(page.locator("#title")).to_contain_text("farmhouse")
        expect(page.locator(".story").nth(1)).to_contain_text("✓")
        expect(page.locator('#world [data-id="well pump"]').first).to_be_attached()
        assert seen.complaints == []


def test_leaving_a_story_by_another_tab_gives_the_picture_back(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address) as (page, _):
        page.click("#tab-learn")
        page.click(".story >> text=A generator")
        expect(page.locator("#title")).to_contain_text("Model: Cold room")
        page.click("#tab-stray")
        expect(page.locator("#title")).to_contain_text("farmhouse")
        expect(page.locator('#world [data-id="well pump"]').first).to_be_attached()
        expect(page.locator("#headline")).to_contain_text("Normal use")


def test_a_changed_copy_is_told_from_the_file_that_is_hunted_on(browser: Browser) -> None:
    with served(farmhouse()) as address, looked_at(browser, address) as (page, _):
        search(page, "pump house panel")
        page.click("#told >> text=Put a tie on here")
        expect(page.locator("#headline")).to_contain_text("falls short")
        begin(page)
        said = page.get_by_text("The hunt is of the site as its file has it")
        expect(said).to_be_visible()
        page.click("#told >> text=Back to the file")
        expect(said).to_be_hidden()
        expect(page.locator("#headline")).to_contain_text("holds")


def test_readings_that_a_browser_kept_are_sent_and_odd_ones_left(browser: Browser) -> None:
    """As an older page wrote them down; what is no book of readings is begun anew."""
    kept = (Path(__file__).parent / "samples" / "readings-in-browser-1.json").read_text()
    put = """text => {
      const name = Object.keys(localStorage).find((k) => k.startsWith('bondwright-hunt '));
      localStorage.setItem(name, text);
    }"""
    with served(farmhouse()) as address, looked_at(browser, address) as (page, _):
        begin(page)
        page.evaluate(put, kept)
        page.reload()
        page.wait_for_selector("html[data-ready]")
        page.click("#tab-hunt")
        settle_hunt(page, 1)
        expect(page.locator(".notes li")).to_contain_text("0.02 V")
        for odd in ("no JSON", '{"notes": 7}'):
            page.evaluate(put, odd)
            page.reload()
            page.wait_for_selector("html[data-ready]")
            page.click("#tab-hunt")
            settle_hunt(page, 1)  # the server has them
