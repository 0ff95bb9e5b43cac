import os
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests.outside import in_order, written_down
from tests.programs import require_program

# A gate must say the same of the same tree twice; chance is for the desk.
settings.register_profile("gate", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("gate")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    in_order(items)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, None, None]:
    """What is compared with values from outside is written into the report of the test."""
    with written_down(item):
        yield


@pytest.fixture(scope="session")
def ngspice() -> Path:
    """The ngspice executable: a circuit solver that we didn't write."""
    return require_program("ngspice")


@pytest.fixture(scope="session")
def chromium() -> Path:
    """The Chromium executable: shows a page as a reader sees it."""
    return require_program("chromium", "chromium-browser")


@pytest.fixture(scope="session")
def dask_scheduler() -> Iterator[str]:
    """Address of a Dask scheduler with two workers on this machine."""
    pytest.importorskip("distributed")
    from bondwright.studies.many.run import How, quietly

    with quietly(How(workers=2)) as client:
        yield str(client.scheduler_info()["address"])
