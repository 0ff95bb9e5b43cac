"""Jobs in a real browser: the server killed while it saves, two people, the door."""

from __future__ import annotations

import os
import random
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from bondwright.page.guard import Names
from bondwright.page.house import create_house
from bondwright.site.reader import read
from bondwright.site.starters import starter
from bondwright.store.files import SITE
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user
from tests.entering import code, ready
from tests.page.serving import DESKTOP, PHONE, ROOT, listening, looked_at
from tests.page.test_browser_describe import describe, fill

PASSWORD = "four words are enough"
ROUNDS = 6


@contextmanager
def house_served(store: Store, *, users: bool) -> Iterator[str]:
    """Serve a store on a free port of this machine; yield its address."""
    with listening(lambda port: create_house(store, Names(port), users=users)) as address:
        yield address


@contextmanager
def command_served(where: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """Run the command itself in a process of its own, which may be killed."""
    command = [sys.executable, "-m", "bondwright", "serve", "--jobs", str(where)]
    command += ["--port", str(port)]
    env = {**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT / "src")}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as server:
        try:
            if server.stdout is None:
                raise RuntimeError("the server says nothing")
            assert "http://127.0.0.1:" in server.stdout.readline()
            yield server
        finally:
            server.kill()


def _free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port: int = door.getsockname()[1]
        return port


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(str(tmp_path / "jobs.sqlite")) as opened:
        yield opened


def _lengthen(page: Page, to: str) -> None:
    describe(page)
    page.locator("[data-table=runs] summary").click()
    page.get_by_role("button", name="garage feeder").click()
    fill(page, "length", to)
    page.get_by_role("button", name="Change it").click()
    expect(page.locator("#save")).to_have_text("Save")


def _save(page: Page, why: str) -> None:
    page.click("#save")
    page.fill("#why", why)
    page.locator("dialog[open]").get_by_role("button", name="Save", exact=True).click()


def test_the_server_is_killed_in_the_middle_of_a_save(
    browser: Browser, tmp_path: Path, store: Store
) -> None:
    """Whatever the page said is saved is there; what is there is whole."""
    job = store.add("Garage", {SITE: starter("house").encode()}, who="anna", why="begun").job
    luck, port, acknowledged = random.Random(18), _free_port(), {1: "begun"}
    killed_unheard = 0
    for turn in range(ROUNDS):
        with command_served(tmp_path / "jobs.sqlite", port) as server:
            address = f"http://127.0.0.1:{port}/job/{job}/"
            with looked_at(browser, address) as (page, _):
                _lengthen(page, f"{100 + turn} ft")
                if turn == 0:  # one that is heard of, so that the test can't pass on none
                    _save(page, "turn 0")
                    expect(page.locator("#toast")).to_contain_text("Saved as revision 2")
                    acknowledged[2] = "turn 0"
                    _lengthen(page, "99 ft")
                _save(page, f"turn {turn}, late")
                time.sleep(luck.random() * 0.08)
                server.kill()
                server.wait()
                page.wait_for_timeout(300)
                heard = page.locator("#toast").inner_text()
            newest = store.find(job).newest.number
            if heard.startswith("Saved as revision"):
                acknowledged[int(heard.rsplit(" ", 1)[1])] = f"turn {turn}, late"
            else:
                killed_unheard += 1
            assert max(acknowledged) <= newest <= max(acknowledged) + killed_unheard
    for revision in store.revisions(job):
        text = store.read(job, revision.number).files[SITE].decode()
        assert read(text).runs["garage feeder"].length > 0
        if revision.number in acknowledged:
            assert revision.why == acknowledged[revision.number]
    with (
        command_served(tmp_path / "jobs.sqlite", port),
        looked_at(browser, f"http://127.0.0.1:{port}/job/{job}/") as (page, _),
    ):
        describe(page, "Revisions")
        expect(page.locator(".revisions > li")).to_have_count(store.find(job).newest.number)


def test_two_people_see_of_each_other(browser: Browser, store: Store) -> None:
    job = store.add("Garage", {SITE: starter("house").encode()}, who="anna", why="begun").job
    for name in ("anna", "ben"):
        add_user(store, name, Role.EDIT, PASSWORD)
    ready(store)
    with (
        house_served(store, users=True) as address,
        _in(browser, address, "anna") as anna,
        _in(browser, address, "ben") as ben,
    ):
        for page, to in ((anna, "70 ft"), (ben, "80 ft")):
            page.goto(f"{address}job/{job}/")
            page.wait_for_selector("html[data-ready]")
            _lengthen(page, to)
        _save(anna, "measured")
        expect(anna.locator("#toast")).to_contain_text("Saved as revision 2")
        expect(ben.locator("#toast")).to_contain_text("anna saved revision 2: measured")
        ben.click("#save")
        conflict = ben.locator("dialog[open]")
        expect(conflict).to_contain_text("anna saved revision 2")
        conflict.get_by_role("button", name="Put mine and theirs together").click()
        expect(ben.locator("#toast")).to_contain_text("yours together with theirs")
        _save(ben, "measured again")
        expect(ben.locator("#toast")).to_contain_text("Saved as revision 3")
        describe(ben, "Revisions")
        ben.select_option("#compare-before", "2")
        ben.select_option("#compare-after", "3")
        ben.click("#compare")
        expect(ben.locator("#compared")).to_contain_text("70 ft → 80 ft")
        ben.locator(".revisions > li").last.get_by_role("button").click()
        expect(ben.locator("#world")).to_contain_text("60 ft")
    assert [(r.who, r.why) for r in store.revisions(job)] == [
        ("anna", "begun"), ("anna", "measured"), ("ben", "measured again"),
    ]  # fmt: skip


@contextmanager
def _in(browser: Browser, address: str, name: str) -> Iterator[Page]:
    with looked_at(browser, address) as (page, _):
        page.fill("#name", name)
        page.fill("#password", PASSWORD)
        page.get_by_role("button", name="Log in").click()
        expect(page.locator("#main h2").first).to_contain_text("job")
        yield page


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_the_door_the_jobs_and_the_users(
    browser: Browser, store: Store, size: tuple[int, int], dark: bool
) -> None:
    add_user(store, "anna", Role.KEEP, PASSWORD)
    ready(store)
    found: dict[str, object] = {}

    def axe(page: Page, name: str) -> None:
        page.wait_for_timeout(60)
        for one in Axe().run(page).response["violations"]:
            found[f"{name}: {one['id']}"] = [node["html"][:120] for node in one["nodes"][:3]]

    with (
        house_served(store, users=True) as address,
        looked_at(browser, address, size, dark=dark) as (page, seen),
    ):
        page.fill("#name", "anna")
        page.fill("#password", "a guess at it")
        page.get_by_role("button", name="Log in").click()
        expect(page.locator(".wrong")).to_have_text("name or password is wrong")
        axe(page, "door")
        page.fill("#password", PASSWORD)
        page.get_by_role("button", name="Log in").click()
        page.fill("#code", code(store, "anna"))
        axe(page, "code")
        page.get_by_role("button", name="Log in").click()
        expect(page.locator("#main h2").first).to_have_text("No job yet")
        page.fill("#new-name", "Cooperage")
        page.select_option("#new-starter", "shop")
        page.fill("#new-why", "survey")
        page.click("#start-job")
        page.wait_for_selector("#world .station")
        expect(page.locator("#save")).to_have_text("Saved")
        describe(page, "Revisions")
        page.click("#compare")
        axe(page, "revisions")
        page.goto(address)
        expect(page.locator(".joblist")).to_contain_text("Revision 1: survey")
        page.locator(".joblist summary").first.click()
        axe(page, "jobs")
        page.get_by_role("link", name="Users").click()
        page.fill("#new-name", "ben")
        page.fill("#new-password", PASSWORD)
        page.get_by_role("button", name="Let in").click()
        expect(page.locator(".joblist > li")).to_have_count(2)
        axe(page, "users")
        assert {urlsplit(one).netloc for one in seen.addresses} == {urlsplit(address).netloc}
        assert [said for said in seen.complaints if "403" not in said] == []
        page.get_by_role("button", name="Log out").click()
        page.wait_for_url("**/login")
        expect(page.locator("#password")).to_be_visible()
        assert page.context.cookies() == []
    assert found == {}
