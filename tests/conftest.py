from pathlib import Path

import pytest

from tests.programs import require_program


@pytest.fixture(scope="session")
def ngspice() -> Path:
    """The ngspice executable: a circuit solver that we didn't write."""
    return require_program("ngspice")


@pytest.fixture(scope="session")
def chromium() -> Path:
    """The Chromium executable: shows a page as a reader sees it."""
    return require_program("chromium", "chromium-browser")
