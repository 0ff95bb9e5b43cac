"""Measures the page in a real browser: an edit to the updated picture, and panning.

Run it with ``make bench``, or alone: ``python -m benchmarks.page``. The server is the command
itself, in a process of its own; times are taken in the browser, from the press of a button to the
frame after the one in which the picture changed.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from benchmarks.figure import Figure

EDITED = 300
PANNED = 5000
EDITS = 40
FRAMES = 180
WAIT_MS = 180_000

_PRESS = """
async (selector) => {
  const root = document.documentElement;
  const before = root.dataset.shown;
  const start = performance.now();
  document.querySelector(selector).click();
  await new Promise((done) => {
    const watch = new MutationObserver(() => {
      if (root.dataset.shown !== before) { watch.disconnect(); done(); }
    });
    watch.observe(root, { attributes: true });
  });
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return performance.now() - start;
}
"""

_PAN = """
async (frames) => {
  const view = document.querySelector('#view');
  const box = view.getBoundingClientRect();
  let x = box.left + box.width / 2, y = box.top + box.height / 2;
  const send = (type) => view.dispatchEvent(new PointerEvent(type, {
    pointerId: 7, clientX: x, clientY: y, button: 0, bubbles: true, isPrimary: true,
  }));
  view.setPointerCapture = () => {};
  send('pointerdown');
  const times = [];
  let last = performance.now();
  for (let k = 0; k < frames; k += 1) {
    x += 9 * Math.sign(Math.sin(k / 30));
    y += 5 * Math.sign(Math.cos(k / 45));
    send('pointermove');
    await new Promise((done) => requestAnimationFrame(done));
    const now = performance.now();
    times.push(now - last);
    last = now;
  }
  send('pointerup');
  return times.slice(5);
}
"""


def _write_site(folder: Path, places: int) -> Path:
    from bondwright.site.generator import large_site
    from bondwright.site.writer import dump

    path = folder / f"{places}.yaml"
    path.write_text(dump(large_site(places)), encoding="utf-8")
    return path


@contextmanager
def _serving(site: Path) -> Iterator[str]:
    command = [sys.executable, "-m", "bondwright", "serve", str(site), "--port", "0"]
    env = {**os.environ, "PYTHONUNBUFFERED": "1", "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as server:
        try:
            if server.stdout is None:
                raise RuntimeError("the server says nothing")
            yield server.stdout.readline().rpartition(" ")[2].strip()
        finally:
            server.terminate()


@contextmanager
def _opened(browser: Any, address: str) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.set_default_timeout(WAIT_MS)
    try:
        page.goto(address)
        page.wait_for_selector("html[data-ready]")
        yield page
    finally:
        page.close()


def _choose(page: Any, name: str) -> None:
    page.click("#find")
    page.fill("#query", name)
    page.keyboard.press("Enter")
    page.wait_for_selector("#told .actions button.main")
    page.wait_for_timeout(400)


def _edits(page: Any, places: list[str], *, near: bool) -> list[float]:
    times = []
    for name in places:
        _choose(page, name)
        if not near:
            page.click("#zoom-all")
            page.wait_for_timeout(400)
        before = page.locator("#headline").inner_text()
        times.append(page.evaluate(_PRESS, "#told .actions button.main"))
        if page.locator("#headline").inner_text() == before:
            raise RuntimeError(f"a tie at {name} changed nothing")
        page.wait_for_timeout(250)
        times.append(page.evaluate(_PRESS, "#undo"))
        page.wait_for_timeout(250)
    return [float(one) for one in times]


def _high(times: list[float]) -> float:
    """Return the value that 95 of a hundred don't exceed."""
    return statistics.quantiles(times, n=20)[-1]


def page_figures(folder: Path) -> Iterator[Figure]:
    """Measure the page; nothing where no browser is installed."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        sys.stderr.write("Chromium is not installed: the page isn't measured\n")
        return
    from playwright.sync_api import sync_playwright

    from bondwright.draw.live import can_be_tied
    from bondwright.plan.build import plan
    from bondwright.site.reader import load

    site = _write_site(folder, EDITED)
    made = plan(load(site))
    tied = {tie.at for tie in made.ties}
    free = [n for n in made.site.places if can_be_tied(made, n) and n not in tied]
    chosen = free[:: max(1, len(free) // (EDITS // 2))][: EDITS // 2]
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        with _serving(site) as address, _opened(browser, address) as page:
            near = _edits(page, chosen, near=True)
            yield Figure(f"{EDITED} places: edit to picture, 95 %", _high(near), "ms", 150)
            yield Figure("the same, half", statistics.median(near), "ms", 150)
            far = _edits(page, chosen[: len(chosen) // 2], near=False)
            yield Figure("the same, all of it in sight, 95 %", _high(far), "ms", 150)
        start = time.perf_counter()
        with (
            _serving(_write_site(folder, PANNED)) as address,
            _opened(browser, address) as page,
        ):
            took = time.perf_counter() - start
            yield Figure(f"{PANNED} places: from the command to the picture", took, "s", 20)
            page.wait_for_timeout(1500)
            frames = page.evaluate(_PAN, FRAMES)
            yield Figure(
                f"{PANNED} places: pan, all in sight",
                1000 / _high(frames),
                "frames/s",
                30,
                more=True,
            )
            _choose_near(page)
            frames = page.evaluate(_PAN, FRAMES)
            yield Figure(
                f"{PANNED} places: pan, near", 1000 / _high(frames), "frames/s", 30, more=True
            )
        browser.close()


def _choose_near(page: Any) -> None:
    page.click("#find")
    page.fill("#query", "panel")
    page.keyboard.press("Enter")
    page.wait_for_timeout(2500)


def main() -> None:
    """Print every figure."""
    with tempfile.TemporaryDirectory() as name:
        for figure in page_figures(Path(name)):
            sys.stdout.write(f"{figure}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
