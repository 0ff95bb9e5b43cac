"""Files of kept pieces: whole or not there, and only for their own question."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from bondwright.studies.many.kept import Kept, KeptError
from bondwright.studies.many.run import How, StoppedError, run
from bondwright.studies.many.work import packed, unpacked
from tests.studies.many.works import Squares


def values(pieces: dict[int, bytes]) -> list[int]:
    return [int(unpacked(data)["square"][0]) for data in pieces.values()]


def stopping_after(count: int) -> How:
    def progress(done: int, total: int) -> None:
        assert total == 9
        if done == count:
            raise KeyboardInterrupt

    return How(progress=progress)


def test_stopped_and_gone_on_with(tmp_path: Path) -> None:
    folder = tmp_path / "done"
    folder.mkdir()
    work, file = Squares(9, str(folder)), tmp_path / "run.kept"
    how = stopping_after(4)
    with pytest.raises(StoppedError) as stopped:
        run(work, How(keep=file, progress=how.progress))
    assert (stopped.value.done, stopped.value.count, stopped.value.kept) == (4, 9, file)
    assert values(run(work, How(keep=file))) == [k * k for k in range(9)]
    assert {p.name: p.read_text() for p in folder.iterdir()} == {str(k): "x" for k in range(9)}
    # Asked once more nothing is done again at all.
    assert values(run(work, How(keep=file))) == [k * k for k in range(9)]
    assert (folder / "0").read_text() == "x"


def test_stopped_without_a_file_what_is_done_is_put_in_one(tmp_path: Path) -> None:
    scrap = tmp_path / "scrap.kept"
    with pytest.raises(StoppedError) as stopped:
        run(Squares(9), How(progress=stopping_after(3).progress, scrap=scrap))
    assert stopped.value.kept == scrap
    with Kept(scrap, Squares(9)) as kept:
        assert [number for number, _ in kept.pieces()] == [0, 1, 2]


def test_a_run_that_is_killed(tmp_path: Path) -> None:
    """By SIGKILL, which nobody can answer: what was done is in the file."""
    folder, file = tmp_path / "done", tmp_path / "run.kept"
    folder.mkdir()
    code = (
        "import sys, time; from pathlib import Path\n"
        "from bondwright.studies.many.run import How, run\n"
        "from tests.studies.many.works import Squares\n"
        "def told(done, total):\n"
        "    print(done, flush=True)\n"
        "    time.sleep(60 if done == 4 else 0)\n"
        f"run(Squares(9, {str(folder)!r}), How(keep=Path({str(file)!r}), progress=told))\n"
    )
    root = Path(__file__).parents[3]
    search = os.pathsep.join([str(root / "src"), str(root)])
    with subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": search},
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.strip() == b"4":
                break
        process.kill()
    assert values(run(Squares(9, str(folder)), How(keep=file))) == [k * k for k in range(9)]
    assert {p.name: p.read_text() for p in folder.iterdir()} == {str(k): "x" for k in range(9)}


def test_files_that_are_not_for_this_question(tmp_path: Path) -> None:
    file = tmp_path / "run.kept"
    run(Squares(3), How(keep=file))
    with pytest.raises(KeptError, match="another question"):
        run(Squares(4), How(keep=file))
    text = tmp_path / "site.yaml"
    text.write_text("site: not a database, but long enough to be looked at\n" * 40)
    with pytest.raises(KeptError, match="not a file of kept pieces"):
        run(Squares(3), How(keep=text))
    assert text.read_text().startswith("site: not")
    other = tmp_path / "other.db"
    with sqlite3.connect(other) as base:
        base.execute("CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT)")
        base.execute("INSERT INTO about VALUES ('format', 'something else')")
    base.close()
    with pytest.raises(KeptError, match="not a file of kept pieces"):
        run(Squares(3), How(keep=other))


def test_two_runs_on_one_file(tmp_path: Path) -> None:
    file = tmp_path / "run.kept"
    with Kept(file, Squares(3)), pytest.raises(KeptError, match="another run"):
        Kept(file, Squares(3))


def test_a_spoilt_piece_is_done_anew(tmp_path: Path) -> None:
    file = tmp_path / "run.kept"
    run(Squares(3), How(keep=file))
    base = sqlite3.connect(file)
    with base:
        base.execute("UPDATE piece SET data = x'00' WHERE number = 1")
    base.close()
    assert values(run(Squares(3), How(keep=file))) == [0, 1, 4]


def test_results_hold_nothing_that_runs() -> None:
    with pytest.raises(ValueError, match="can't be read"):
        unpacked(b"not arrays")
    import numpy as np

    with pytest.raises(ValueError, match=r"[Oo]bject arrays"):
        packed({"a": np.array([object()])})
