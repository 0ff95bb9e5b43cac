"""What runs inside pytest while the code is spoiled on purpose; scripts/mutate.py starts it.

Two ways, by the environment. "learn" runs every test once, on code that isn't spoiled, and writes
down which lines each of them reaches and how long it takes. "try" runs none at first: for every
mutant it forks a process, in which the tests meant for it are run until one fails. So every mutant
starts from a process that has imported the tests and run none.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, NoReturn

import pytest

WAY: Final = "BONDWRIGHT_SPOILED_WAY"
FOLDER: Final = "BONDWRIGHT_SPOILED_FOLDER"
WORKERS: Final = "BONDWRIGHT_SPOILED_WORKERS"
MUTANT: Final = "MUTANT_UNDER_TEST"
"""Where mutmut's wrappers look for the mutant to run instead of the original."""
TASKS: Final = "tasks.json"
REACHED: Final = "reached.json"
BECAME: Final = "became.json"
PROGRESS: Final = "progress.txt"
"""Exit code and name of every mutant that was tried, in a line as it ends."""
STOPPED: Final = -signal.SIGXCPU
"""Exit code of a mutant whose tests ran on until they were stopped."""
NO_TESTS: Final = 33
NOT_RUN: Final = 255
"""Exit code where a test could not even be run: nothing can be told from it."""
KILLER: Final = "killer-"


class Learner:
    """Writes down which lines of the mutated modules every test reaches."""

    def __init__(self, folder: Path) -> None:
        """Get ready.

        Args:
            folder: with the names of the mutated files in `tasks.json`, for the answer.
        """
        self._folder = folder
        self._files: list[str] = json.loads((folder / TASKS).read_text(encoding="utf-8"))
        self._took: dict[str, float] = {}
        import coverage

        self._coverage = coverage.Coverage(
            data_file=None, include=self._files, config_file=False, messages=False
        )

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Note what one test reaches, its fixtures included."""
        begun = time.perf_counter()
        self._coverage.start()
        self._coverage.switch_context(item.nodeid)
        result = yield
        self._coverage.stop()
        self._took[item.nodeid] = time.perf_counter() - begun
        return result

    def pytest_sessionfinish(self) -> None:
        """Write it all down."""
        data = self._coverage.get_data()
        measured = {os.path.realpath(each): each for each in data.measured_files()}
        lines = {
            file: {
                line: [each for each in contexts if each]
                for line, contexts in data.contexts_by_lineno(
                    measured[os.path.realpath(file)]
                ).items()
            }
            for file in self._files
            if os.path.realpath(file) in measured
        }
        told = json.dumps({"took": self._took, "lines": lines})
        (self._folder / REACHED).write_text(told, encoding="utf-8")


class Trier:
    """Runs the tests meant for every mutant, each in a process of its own."""

    def __init__(self, folder: Path, workers: int) -> None:
        """Get ready.

        Args:
            folder: with the tasks: mutant, tests in the order to run them, seconds to wait.
            workers: how many to try at a time.
        """
        self._folder = folder
        self._workers = workers
        self._running: dict[int, tuple[str, float]] = {}
        self._became: dict[str, int] = {}

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try one mutant after the other, instead of running the tests."""
        items = {item.nodeid: item for item in session.items}
        tasks = json.loads((self._folder / TASKS).read_text(encoding="utf-8"))
        gc.collect()
        gc.freeze()  # what is there stays: no process needs to look through it again
        for mutant, tests, seconds in tasks:
            if not tests:
                self._became[mutant] = NO_TESTS
                continue
            while len(self._running) >= self._workers:
                self._wait()
            chosen = [items[name] for name in tests]
            pid = os.fork()
            if pid == 0:
                _try(session, mutant, chosen, self._folder)
            self._running[pid] = (mutant, time.monotonic() + seconds)
        while self._running:
            self._wait()
        self._check(session, items)
        (self._folder / BECAME).write_text(json.dumps(self._became), encoding="utf-8")
        return True

    def _check(self, session: pytest.Session, items: Mapping[str, pytest.Item]) -> None:
        """Run every test that killed a mutant by itself, on the original: it has to pass."""
        said = {each.read_text(encoding="utf-8") for each in self._folder.glob(f"{KILLER}*")}
        for name in sorted(said):
            pid = os.fork()
            if pid == 0:
                _try(session, "", [items[name]], self._folder)
            if os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]):
                raise pytest.UsageError(f"{name} fails by itself, with nothing spoiled")

    def _wait(self) -> None:
        """Look after the processes for a moment: note what ended, stop what takes too long."""
        for pid, (mutant, until) in list(self._running.items()):
            ended, status = os.waitpid(pid, os.WNOHANG)
            if ended:
                self._note(pid, mutant, os.waitstatus_to_exitcode(status))
            elif time.monotonic() > until:
                os.killpg(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
                self._note(pid, mutant, STOPPED)
        time.sleep(0.01)

    def _note(self, pid: int, mutant: str, code: int) -> None:
        """Keep what became of a mutant, and tell whoever watches the folder."""
        self._became[mutant] = code
        del self._running[pid]
        with (self._folder / PROGRESS).open("a", encoding="utf-8") as file:
            file.write(f"{code} {mutant}\n")


def _try(
    session: pytest.Session, mutant: str, chosen: Sequence[pytest.Item], folder: Path
) -> NoReturn:
    """Run tests in a new process until one fails, and end it: 1 where one did, 0 where none."""
    code = NOT_RUN
    try:
        os.setpgid(0, 0)
        silent = os.open(os.devnull, os.O_RDWR)
        for each in (0, 1, 2):
            os.dup2(silent, each)
        os.environ[MUTANT] = mutant
        for item, after in zip(chosen, [*chosen[1:], None], strict=True):
            session.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            if session.testsfailed:
                (folder / f"{KILLER}{os.getpid()}").write_text(item.nodeid, encoding="utf-8")
                code = 1
                break
        else:
            code = 0
    finally:
        os._exit(code)


def pytest_configure(config: pytest.Config) -> None:
    """Join in, the way the environment says."""
    folder = Path(os.environ[FOLDER])
    os.environ[MUTANT] = ""
    if os.environ[WAY] == "learn":
        config.pluginmanager.register(Learner(folder), "bondwright-learner")
    else:
        config.pluginmanager.register(Trier(folder, int(os.environ[WORKERS])), "bondwright-trier")
