"""In a real browser: agreeing, a second factor that a phone's camera can read, and leaving."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pyotp
import pytest
import zxingcpp
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.page.policy import Policy
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import LEFT, Role, add_user, users
from tests.page.serving import DESKTOP, PHONE, listening, looked_at

PASSWORD = "four words are enough"
NAME = "anna & Søren <b>"
TEXT = Policy("Anna, the office, 555 0100", "90 days, on a disk in the office", "Ask us anything.")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(str(tmp_path / "jobs.sqlite")) as opened:
        add_user(opened, NAME, Role.KEEP, PASSWORD)
        add_user(opened, "ben", Role.EDIT, PASSWORD)
        opened.add("Barn", {SITE: b"site: barn\n"}, who="ben", why="begun")
        yield opened


def _type_in(page: Page, name: str) -> None:
    page.fill("#name", name)
    page.fill("#password", PASSWORD)
    page.get_by_role("button", name="Log in").click()


@pytest.mark.parametrize(
    ("size", "dark"), [(DESKTOP, True), (PHONE, False)], ids=["desktop dark", "phone light"]
)
def test_the_first_time_of_whoever_keeps_the_users(
    browser: Browser, store: Store, size: tuple[int, int], dark: bool
) -> None:
    found: dict[str, object] = {}

    def axe(page: Page, name: str) -> None:
        page.wait_for_timeout(60)
        for one in Axe().run(page).response["violations"]:
            found[f"{name}: {one['id']}"] = [node["html"][:120] for node in one["nodes"][:3]]
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(wide) <= 0, name

    def made(port: int) -> object:
        return create_house(store, Names(port), users=True, policy=TEXT)

    with (
        listening(made) as address,  # type: ignore[arg-type]
        looked_at(browser, address, size, dark=dark) as (page, seen),
    ):
        page.get_by_role("link", name="What is kept of you").click()
        expect(page.locator(".policy")).to_contain_text("555 0100")
        axe(page, "kept")
        page.get_by_role("link", name="Log in").click()
        _type_in(page, NAME)
        expect(page.locator("h2")).to_have_text("What is kept of you")
        axe(page, "agree")
        page.goto(address)  # there is no way round
        expect(page.locator("h2")).to_have_text("What is kept of you")
        page.get_by_role("button", name="I don't agree").click()
        _type_in(page, NAME)
        page.get_by_role("button", name="I agree").click()
        expect(page.locator("h2")).to_have_text("You keep the users")
        axe(page, "wants a factor")
        page.get_by_role("button", name="Set it up").click()
        picture = page.locator("img.qr")
        expect(picture).to_be_visible()
        picture.evaluate("image => image.decode()")
        axe(page, "scan")
        # What a phone's camera reads, by a reader that is not ours.
        (read,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture.screenshot())))
        app = pyotp.parse_uri(read.text)
        assert isinstance(app, pyotp.TOTP)
        assert (app.name, app.issuer) == (NAME, "bondwright")
        assert page.locator("#factor-secret").inner_text().replace(" ", "") == app.secret
        assert page.locator("#factor-app").get_attribute("href") == read.text
        page.fill("#factor-new-code", "000000")
        page.get_by_role("button", name="Turn it on").click()
        expect(page.locator("#toast")).to_contain_text("that is not the code of this secret")
        page.fill("#factor-new-code", app.now())
        page.get_by_role("button", name="Turn it on").click()
        expect(page.locator(".spare > li")).to_have_count(10)
        spare = page.locator(".spare > li").all_inner_texts()
        axe(page, "spare codes")
        with page.expect_download() as taken:
            page.get_by_role("link", name="Save as a file").click()
        assert Path(taken.value.path()).read_text("utf-8").splitlines()[1:] == spare
        page.get_by_role("button", name="I have them").click()
        expect(page.locator("#notice")).to_contain_text("second factor was set up by anna")
        page.get_by_role("link", name="Users").click()
        expect(page.locator(".joblist > li")).to_have_count(2)
        expect(page.locator(".joblist > li").first).to_contain_text("second factor")
        axe(page, "users and you")
        page.get_by_role("button", name="New spare codes").click()
        page.fill("#spare-sure", PASSWORD)
        page.fill("#spare-code", spare[0])
        page.get_by_role("button", name="Make new ones").click()
        expect(page.locator(".spare > li")).to_have_count(10)
        fresh = page.locator(".spare > li").all_inner_texts()
        page.get_by_role("button", name="I have them").click()
        page.get_by_role("button", name="Turn it off").click()
        page.fill("#off-sure", PASSWORD)
        page.fill("#off-code", fresh[0])
        axe(page, "turn it off")
        page.locator("form").get_by_role("button", name="Turn it off").click()
        expect(page.locator("#toast")).to_have_text("Your second factor is off")
        expect(page.locator(".joblist")).to_have_count(0)  # the users are out of reach again
        page.goto(address)
        expect(page.locator("#wants-factor")).to_be_visible()
        axe(page, "jobs without a factor")
        assert {urlsplit(one).netloc for one in seen.addresses} <= {urlsplit(address).netloc, ""}
        assert [said for said in seen.complaints if "403" not in said and "422" not in said] == []
    assert found == {}


def test_one_takes_ones_data_along_and_leaves(browser: Browser, store: Store) -> None:
    def made(port: int) -> object:
        return create_house(store, Names(port), users=True, policy=TEXT)

    with (
        listening(made) as address,  # type: ignore[arg-type]
        looked_at(browser, f"{address}people", PHONE) as (page, seen),
    ):
        _type_in(page, "ben")
        page.get_by_role("button", name="I agree").click()
        expect(page.locator("#you-head")).to_be_visible()
        with page.expect_download() as taken:
            page.get_by_role("link", name="Take it along").click()
        data = json.loads(Path(taken.value.path()).read_text("utf-8"))
        assert data["name"] == "ben"
        assert [one["job"] for one in data["saves"]] == ["Barn"]
        page.get_by_role("button", name="Leave", exact=True).click()
        page.fill("#leave-sure", PASSWORD)
        page.get_by_label("in place of my name").check()
        assert Axe().run(page).response["violations"] == []
        page.get_by_role("button", name="Leave for good").click()
        expect(page.locator("#name")).to_be_visible()
        assert page.context.cookies() == []
        assert [said for said in seen.complaints if "403" not in said] == []
    assert [one.name for one in users(store)] == [NAME]
    assert [one.who for one in store.revisions("Barn")] == [LEFT]
