"""In a real browser: an address for notices is given, and what couldn't be sent is shown."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect

from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.notices import Mailer, MailError
from bondwright.store.mail import mail_of, set_mail
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user, change_user
from tests.entering import ready, words
from tests.page.serving import DESKTOP, PHONE, listening, looked_at

PASSWORD = "four words are enough"
NAME = "ben & Søren <b>"


@pytest.mark.parametrize(
    ("size", "dark"), [(DESKTOP, False), (PHONE, True)], ids=["desktop light", "phone dark"]
)
def test_an_address_is_given_and_troubles_are_shown(
    browser: Browser, tmp_path: Path, size: tuple[int, int], dark: bool
) -> None:
    def shut(_: object) -> None:
        raise MailError("the mail server doesn't take the address", for_good=True)

    with Store(str(tmp_path / "jobs.sqlite")) as store:
        for name, role in ((NAME, Role.EDIT), ("anna", Role.KEEP)):
            add_user(store, name, role, PASSWORD)
        ready(store)
        mailer = Mailer(shut, "jobs@bond.example", "https://jobs.example")

        def made(port: int) -> object:
            return create_house(store, Names(port), users=True, mailer=mailer)

        with (
            listening(made) as address,  # type: ignore[arg-type]
            looked_at(browser, address, size, dark=dark) as (page, seen),
        ):

            def enter(name: str) -> None:
                page.goto(f"{address}login")
                given = words(store, name, PASSWORD)
                page.fill("#name", name)
                page.fill("#password", PASSWORD)
                page.get_by_role("button", name="Log in").click()
                if given["code"]:
                    page.locator("input.code").fill(given["code"])
                    page.get_by_role("button", name="Log in").click()
                page.wait_for_url(address)
                page.goto(f"{address}people")

            def sound(name: str) -> None:
                page.wait_for_timeout(60)
                assert Axe().run(page).response["violations"] == []
                wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
                assert page.evaluate(wide) <= 0
                if folder := os.environ.get("SHOTS"):
                    page.screenshot(path=f"{folder}/{name}-{size[0]}.png", full_page=True)

            enter(NAME)
            card = page.locator("#mail")
            expect(card).to_contain_text("No address is kept.")
            card.get_by_role("button", name="Give an address").click()
            sound("mail-form")
            page.fill("#mail-sure", PASSWORD)
            page.fill("#mail-address", "ben@mail.example")
            card.get_by_role("button", name="Keep it").click()
            expect(page.locator("#toast")).to_have_text("Notices go to ben@mail.example")
            expect(page.locator("#mail")).to_contain_text("They go to ben@mail.example.")
            assert mail_of(store, NAME) == "ben@mail.example"
            sound("mail-kept")
            page.get_by_role("button", name="Log out").click()
            page.wait_for_url(f"{address}login*")
            set_mail(store, "anna", "anna@mail.example", by="anna")
            change_user(store, NAME, role=Role.LOOK, by="anna")
            enter("anna")
            expect(page.locator("#mail .troubles li").first).to_contain_text(f"A notice to {NAME}")
            sound("mail-troubles")
        mailer.close()
        assert [c for c in seen.complaints if "422" not in c] == []
