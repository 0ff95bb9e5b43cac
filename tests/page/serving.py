"""A page that is served, and a browser that looks at it."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn
from playwright.sync_api import Browser, Page, Request, Response, expect
from starlette.types import ASGIApp

from bondwright.page.app import create_app
from bondwright.page.desk import Desk
from bondwright.site.reader import load

ROOT = Path(__file__).parents[2]
FARMHOUSE = ROOT / "examples" / "harrow-creek-farmhouse.yaml"
WHOLE_DEMO = ROOT / "examples" / "harrow-creek.yaml"
DESKTOP = (1280, 800)
PHONE = (390, 844)
WAIT_MS = 20_000
_BLOCKED = "Service Worker registration blocked by Playwright"
expect.set_options(timeout=WAIT_MS)


def farmhouse() -> Desk:
    """The demo farmhouse, at work on."""
    return Desk(load(FARMHOUSE), FARMHOUSE.name)


@contextmanager
def served(desk: Desk, at: int = 0) -> Iterator[str]:
    """Serve a working copy on a port of this machine, 0 for a free one; yield its address."""
    with listening(lambda port: create_app(desk, port), at) as address:
        yield address


@contextmanager
def listening(make: Callable[[int], ASGIApp], at: int = 0) -> Iterator[str]:
    """Serve what is made for a port of this machine, 0 for a free one; yield its address."""
    with socket.socket() as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(("127.0.0.1", at))
        door.listen(64)
        port = door.getsockname()[1]
        config = uvicorn.Config(make(port), log_level="error", timeout_graceful_shutdown=1)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{port}/"
        finally:
            server.should_exit = True
            thread.join(10)


@dataclass
class Seen:
    """What a browser asked for and complained about.

    Attributes:
        addresses: of every request.
        weights: bytes of every answer by its address.
        complaints: errors of scripts and of the console.
    """

    addresses: list[str] = field(default_factory=list)
    weights: dict[str, int] = field(default_factory=dict)
    complaints: list[str] = field(default_factory=list)


@contextmanager
def looked_at(
    browser: Browser,
    address: str,
    size: tuple[int, int] = DESKTOP,
    *,
    dark: bool = False,
    scripts: bool = True,
    worker: bool = False,
) -> Iterator[tuple[Page, Seen]]:
    """Open a page in a window of its own; yield it when it is ready, with what was seen.

    Without ``worker`` the page has no service worker, which would hide requests from a test.
    """
    phone = size == PHONE
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme="dark" if dark else "light",
        has_touch=phone,
        is_mobile=phone,
        java_script_enabled=scripts,
        service_workers="allow" if worker else "block",
    )
    context.set_default_timeout(WAIT_MS)
    seen = Seen()

    def asked(request: Request) -> None:
        seen.addresses.append(request.url)

    def answered(response: Response) -> None:
        seen.weights[response.url] = int(response.headers.get("content-length", "0"))

    page = context.new_page()
    page.on("request", asked)
    page.on("response", answered)
    page.on("pageerror", lambda error: seen.complaints.append(str(error)))
    page.on(
        "console",
        lambda said: (
            seen.complaints.append(said.text)
            if said.type in {"error", "warning"} and said.text != _BLOCKED
            else None
        ),
    )
    try:
        page.goto(address)
        if scripts:
            page.wait_for_selector("html[data-ready]", timeout=WAIT_MS)
        yield page, seen
    finally:
        context.close()


def settle(page: Page) -> None:
    """Wait until the picture has come to rest."""
    page.wait_for_function(
        "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => "
        "done(!document.querySelector('.moving')))))"
    )


def search(page: Page, words: str) -> None:
    """Find a thing by words, as a person does, and choose the first."""
    page.click("#find")
    page.fill("#query", words)
    page.keyboard.press("Enter")
    settle(page)
    page.wait_for_timeout(200)


def tap(page: Page, selector: str) -> None:
    """Tap the middle of something drawn in the picture."""
    box = page.locator(selector).first.bounding_box()
    if box is None:
        raise LookupError(f"{selector} is not drawn")
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    if page.evaluate("navigator.maxTouchPoints > 0"):
        page.touchscreen.tap(x, y)
    else:
        page.mouse.click(x, y)


def look(page: Page, selector: str) -> str:
    """Return the state that an element of the picture shows."""
    return page.locator(selector).first.get_attribute("data-look") or ""


def play(page: Page, place: str, kind: str) -> None:
    """Play a fault at a place, chosen as a person does."""
    page.click("#tab-faults")
    page.select_option("#fault-place", place)
    expect(page.locator("#fault-kind")).to_be_visible()
    page.wait_for_function(
        "p => document.querySelector('#fault-kind')?.value.startsWith(p + '|')", arg=place
    )
    page.select_option("#fault-kind", label=kind)
    page.click("#play-fault")
    expect(page.locator("#play h2")).to_contain_text(f"{kind} at {place}")
