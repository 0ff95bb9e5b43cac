from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright


@pytest.fixture(scope="session")
def browser(chromium: Path) -> Iterator[Browser]:
    """Debian's Chromium, driven."""
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield made
        made.close()
