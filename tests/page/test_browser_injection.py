"""In a real browser: nothing that anybody named or wrote runs, anywhere on the page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Dialog, Page, expect

from bondwright.page.desk import Desk
from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.site.reader import read
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user
from tests.entering import code, ready
from tests.hostile import SCRIPTS, hostile
from tests.page.serving import DESKTOP, Seen, listening, looked_at, search, served, settle

PASSWORD = "four words are enough"
BAD = SCRIPTS[1]


def _nothing_ran(page: Page, seen: Seen) -> None:
    assert page.evaluate("window.hit") is None
    made = "document.querySelectorAll('img[onerror],svg[onload],img[src=x],#world script').length"
    assert page.evaluate(made) == 0
    assert [said for said in seen.complaints if "403" not in said and "422" not in said] == []


def test_no_name_on_the_page_runs(browser: Browser) -> None:
    text = hostile(SCRIPTS)
    site = read(text)
    with served(Desk(site, BAD, text)) as address, looked_at(browser, address) as (page, seen):
        _nothing_ran(page, seen)
        assert page.locator("#world").text_content()
        for name in [next(iter(site.places)), next(iter(site.runs)), next(iter(site.electrodes))]:
            search(page, name)
        for tab in ("faults", "stray", "sizes", "earth", "findings", "describe", "look"):
            button = page.locator(f"#tab-{tab}")
            if button.count():
                button.click()
                page.wait_for_timeout(250)
                settle(page)
        page.click("#tab-describe")
        for summary in page.locator("#told summary, #panel summary").all()[:8]:
            if summary.is_visible():
                summary.click()
        page.wait_for_timeout(200)
        _nothing_ran(page, seen)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(str(tmp_path / "jobs.sqlite")) as opened:
        yield opened


def test_no_name_of_a_job_a_person_or_a_reason_runs(browser: Browser, store: Store) -> None:
    add_user(store, BAD, Role.KEEP, PASSWORD, by=SCRIPTS[0])
    add_user(store, SCRIPTS[2], Role.EDIT, PASSWORD)
    ready(store)
    files = {SITE: hostile(SCRIPTS).encode()}
    job = store.add(SCRIPTS[0], files, who=SCRIPTS[2], why=SCRIPTS[5]).job
    with (
        listening(lambda port: create_house(store, Names(port), users=True)) as address,
        looked_at(browser, f"{address}login?to=//evil.example/", DESKTOP) as (page, seen),
    ):
        page.fill("#name", BAD)
        page.fill("#password", "a guess at it")
        page.get_by_role("button", name="Log in").click()
        expect(page.locator(".wrong")).to_be_visible()
        page.get_by_role("button", name="Show").click()
        assert page.locator("#password").get_attribute("type") == "text"
        page.fill("#password", PASSWORD)
        page.get_by_role("button", name="Log in").click()
        page.fill("#code", code(store, BAD))
        page.get_by_role("button", name="Log in").click()
        expect(page.locator("#notice")).to_contain_text(SCRIPTS[0])
        assert page.url == address  # and not where the address of the door said
        expect(page.locator(".joblist")).to_contain_text(SCRIPTS[0])
        expect(page.locator(".joblist")).to_contain_text(SCRIPTS[5])
        _nothing_ran(page, seen)
        page.goto(f"{address}people")
        expect(page.locator(".joblist")).to_contain_text(BAD)
        page.fill("#own-after", "short")
        expect(page.locator("#own-after-strength")).to_have_text("too short")
        page.fill("#own-after", "aaaaaaaaaaaaaaaa")
        expect(page.locator("#own-after-strength")).to_have_text("weak")
        page.fill("#own-after", "a few words of mine")
        expect(page.locator("#own-after-strength")).to_have_text("good")
        _nothing_ran(page, seen)
        # Readings that wait to be sent aren't lost by logging out unasked.
        kept = '{"notes": [{"key": "note-0001", "sent": false}], "forget": []}'
        page.evaluate(f"localStorage.setItem('bondwright-hunt x', '{kept}')")
        asked: list[str] = []

        def refuse(dialog: Dialog) -> None:
            asked.append(dialog.message)
            dialog.dismiss()

        page.once("dialog", refuse)
        page.get_by_role("button", name="Log out").click()
        assert "in this browser only: 1" in asked[0]
        page.goto(f"{address}job/{job}/")
        page.wait_for_selector("html[data-ready]")
        page.click("#tab-describe")
        page.get_by_role("button", name="Revisions").click()
        expect(page.locator(".revisions")).to_contain_text(SCRIPTS[5])
        _nothing_ran(page, seen)
