"""Broken building models, each read by a child first, for the library may end the process on it.

A helper that has the library loaded forks a child for each case: a hundred a second instead of one.
What the child survives is read once more here, where the fuzzer sees the code that it reaches; what
the library breaks down on is given to the product, which has to say so in words.
"""

from __future__ import annotations

import json
import os
import resource
import select
import signal
import subprocess
import sys
import tempfile
import time
import weakref
from collections.abc import Callable
from pathlib import Path
from typing import Final

import yaml

from bondwright.exchange.ifc import library
from bondwright.exchange.ifc_read import FromIfc, IfcError, read_here, read_ifc

ROOT: Final = Path(__file__).resolve().parents[1]
BROKE_DOWN: Final = "broke down"
_READ: Final = 100
"""Exit code of a child that read its file, or refused it with our own error."""
_RAISED: Final = 101


def foreign(ours: str) -> str:
    """Return a model of ours as another program would write it: without what we carry along."""
    gone = ("IFCPROPERTYS",)
    lines = [line for line in ours.splitlines() if not any(kind in line for kind in gone)]
    kept = {line.partition("=")[0].strip() for line in lines}
    return "\n".join(
        line
        for line in lines
        if "IFCRELDEFINESBYPROPERTIES" not in line or line.rpartition(",")[2].rstrip(");") in kept
    )


def check(read: Callable[[Path], FromIfc], path: Path) -> None:
    """Read a file: our own error that names it, or a text that is YAML.

    Raises:
        AssertionError: the error doesn't say where, or what was read can't be written down.
    """
    try:
        found = read(path)
    except IfcError as error:
        if path.name not in str(error):
            raise AssertionError(f"doesn't say where: {error}") from error
        return
    json.dumps({"text": found.text, "doubts": found.doubts})
    try:
        said = yaml.load(found.text, yaml.CSafeLoader)
    except yaml.YAMLError as error:
        raise AssertionError(f"the draft is no YAML: {error}") from error
    if not isinstance(said, dict) or "site" not in said:
        raise AssertionError("the draft has no site")


class Helper:
    """A process that has the library loaded and forks a child for each file.

    Args:
        longest_s: a child that takes longer is ended, s.
        most_mib: most memory of a child, MiB.
    """

    def __init__(self, longest_s: float, most_mib: float) -> None:
        path = os.pathsep.join([str(ROOT / "src"), str(ROOT)])
        self._process = subprocess.Popen(
            [sys.executable, "-m", "scripts.fuzz_ifc", f"{longest_s}", f"{most_mib}"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8", cwd=ROOT,
            env={**os.environ, "PYTHONPATH": path, "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        weakref.finalize(self, _end, self._process)

    def ask(self, path: Path) -> str:
        """Have a child read a file.

        Returns:
            "" where it read or refused it properly, `BROKE_DOWN`, or what is wrong.
        """
        questions, answers = self._process.stdin, self._process.stdout
        if questions is None or answers is None:
            raise AssertionError("the helper has no pipes")
        questions.write(f"{path}\n")
        questions.flush()
        return str(json.loads(answers.readline()))


def _end(process: subprocess.Popen[str]) -> None:
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            pipe.close()
    process.wait()


def _serve(longest_s: float, most_mib: float) -> None:
    """Fork a child for each path that is asked about, until nobody asks any more."""
    library()
    while path := sys.stdin.readline().rstrip("\n"):
        sys.stdout.write(json.dumps(_one(Path(path), longest_s, most_mib)) + "\n")
        sys.stdout.flush()


def _one(path: Path, longest_s: float, most_mib: float) -> str:
    problem, ours = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(problem)
        _child(path, ours, most_mib)
    os.close(ours)
    # The pipe closes when the child ends, whichever way.
    told, until, late = b"", time.monotonic() + longest_s, False
    while True:
        ready, _, _ = select.select([problem], [], [], max(until - time.monotonic(), 0))
        if not ready:
            os.kill(child, signal.SIGKILL)
            late = True
            break
        part = os.read(problem, 65536)
        if not part:
            break
        told += part
    os.close(problem)
    _, status, _ = os.wait4(child, 0)
    if late:
        return f"not read within {longest_s:g} s"
    code = os.waitstatus_to_exitcode(status)
    if code == _READ:
        return ""
    return told.decode("utf-8", "replace") if code == _RAISED else BROKE_DOWN


def _child(path: Path, problem: int, most_mib: float) -> None:
    code = _RAISED
    try:
        nothing = os.open(os.devnull, os.O_RDWR)
        for number in (0, 1, 2):
            os.dup2(nothing, number)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        check(read_here, path)
        used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        code = _READ
        if used > most_mib:
            code = _RAISED
            os.write(problem, f"{used:.0f} MiB".encode())
    except BaseException as error:
        os.write(problem, f"{type(error).__name__}: {error}"[:60000].encode("utf-8", "replace"))
    finally:
        os._exit(code)


def reader(longest_s: float, most_mib: float) -> Callable[[bytes], None]:
    """Return what tries one case, and raises AssertionError where it fails."""
    helper = Helper(longest_s, most_mib)

    def try_(data: bytes) -> None:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "fuzz.ifc"
            path.write_bytes(data)
            told = helper.ask(path)
            if told == BROKE_DOWN:
                check(read_ifc, path)
            elif told:
                raise AssertionError(told)
            else:
                check(read_here, path)

    return try_


if __name__ == "__main__":
    _serve(float(sys.argv[1]), float(sys.argv[2]))
