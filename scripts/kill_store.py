"""Kill what writes to a store, again and again, and look what is left.

    python -m scripts.kill_store --times 200 --seed 1            # on SQLite and on PostgreSQL
    python -m scripts.kill_store --times 200 --store ADDRESS     # on a store of one's own

Each time two people save one revision after another of the same job, each in a process of their
own, and say so after each. At a random moment they are killed with SIGKILL; on the PostgreSQL
server that the script starts for itself, every third time (``--server-every``) it is the server
that is stopped at once or killed with all its processes, and the people have to be told so
properly. Then every revision that was acknowledged must be there as its writer wrote it, and every
revision that is there must be whole.

A process that is killed is no power cut: what the system had been given, it still writes.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import bondwright
from bondwright.store.store import Store
from scripts.postgres_server import Server, running, search_path

WRITER: Final = """
import random, sys
from bondwright.store.errors import ConflictError, StoreError
from bondwright.store.store import Store
where, job, name, seed = sys.argv[1:]
luck = random.Random(seed)
try:
    with Store(where, create=False) as store:
        after = store.find(job).newest.number
        print("ready", flush=True)
        sys.stdin.readline()
        while True:
            files = {"site.yaml": f"revision {after + 1} by {name}".encode(),
                     "large.bin": luck.randbytes(luck.randrange(1, 400_000))}
            try:
                after = store.save(job, files, after=after, who=name, why="next").number
            except ConflictError as error:
                after = error.newest
                continue
            print(after, flush=True)
except StoreError as error:
    print(f"told: {error}", flush=True)
"""
NAMES: Final = ("anna", "ben")
EVERY: Final = 3


@dataclass(frozen=True)
class Outcome:
    """What was seen: kills, revisions acknowledged, and what was wrong (nothing, one hopes).

    Attributes:
        kills: how often something was killed.
        of_server: how many of them were of the database's server.
        acknowledged: revisions whose writer was told that they are kept.
        unheard: revisions that are there and whole, whose writer was killed before it could say so.
        wrong: what should not be.
    """

    kills: int
    of_server: int
    acknowledged: int
    unheard: int
    wrong: tuple[str, ...]


def run(
    where: str, times: int, seed: int, server: Server | None = None, every: int = EVERY
) -> Outcome:
    """Kill so many pairs of writers of a store, and check it after each.

    Args:
        where: the store.
        times: how often.
        seed: of what happens when.
        server: its PostgreSQL server, which is killed as well, or None.
        every: so many kills the server's turn comes.
    """
    luck = random.Random(seed)
    job = f"kill {seed}"
    first = {"site.yaml": b"revision 1 by anna", "large.bin": b""}
    with Store(where) as store:
        store.add(job, first, who="anna", why="first")
    acknowledged, checked, of_server = {1: "anna"}, 0, 0
    wrong: list[str] = []
    for kill in range(times):
        ends_server = server is not None and kill % every == every - 1
        of_server += ends_server
        heard = _one_round(where, job, f"{seed} {kill}", luck, server if ends_server else None)
        for name, (said, errors) in heard.items():
            for line in said:
                if line.isdecimal():
                    if int(line) in acknowledged:
                        wrong.append(f"kill {kill}: revision {line} was acknowledged twice")
                    acknowledged[int(line)] = name
                elif not line.startswith(("ready", "told: ")):
                    wrong.append(f"kill {kill}: {name} said {line!r}")
            if "Traceback" in errors:
                wrong.append(f"kill {kill}: {name} fell over: {errors[-4000:]}")
            if ends_server and not (said and said[-1].startswith("told: ")):
                wrong.append(f"kill {kill}: {name} was not told that the server is gone")
        with Store(where, create=False) as store:
            wrong += [f"kill {kill}: {line}" for line in _look(store, job, acknowledged, checked)]
            checked = store.find(job).newest.number
    return Outcome(times, of_server, len(acknowledged), checked - len(acknowledged), tuple(wrong))


def _one_round(
    where: str, job: str, seed: str, luck: random.Random, server: Server | None
) -> dict[str, tuple[list[str], str]]:
    """Let two write and end them; return what each said on its ways out."""
    env = {**os.environ, "PYTHONPATH": str(Path(bondwright.__file__).parents[1])}
    with tempfile.TemporaryDirectory() as folder:
        # Into files, not pipes: what was said is then there however its speaker ended.
        heard = {name: Path(folder, f"{name}.out") for name in NAMES}
        errors = {name: Path(folder, f"{name}.err") for name in NAMES}
        writers = {}
        for name in NAMES:
            with heard[name].open("w") as out, errors[name].open("w") as err:
                command = [sys.executable, "-c", WRITER, where, job, name, f"{seed} {name}"]
                writers[name] = subprocess.Popen(
                    command, stdin=subprocess.PIPE, stdout=out, stderr=err, text=True, env=env
                )
        try:
            for name in NAMES:
                _until_heard(heard[name], writers[name])
            for writer in writers.values():
                if writer.stdin is not None:
                    writer.stdin.write("go\n")
                    writer.stdin.close()
            time.sleep(0.02 + luck.random() * 0.25)
            if server is None:
                for name in luck.sample(NAMES, 2):
                    writers[name].kill()
                    time.sleep(luck.random() * 0.02)
            elif luck.random() < 0.5:
                server.stop()
            else:
                server.kill()
            for writer in writers.values():
                writer.wait(timeout=60)
        finally:
            for writer in writers.values():
                writer.kill()
                writer.wait()
            if server is not None:
                server.start()
        return {name: (_whole(heard[name]), errors[name].read_text()) for name in NAMES}


def _whole(file: Path) -> list[str]:
    """Return the lines that are whole."""
    lines = file.read_text().splitlines(keepends=True)
    return [line.strip() for line in lines if line.endswith("\n")]


def _until_heard(file: Path, writer: subprocess.Popen[str]) -> None:
    end = time.monotonic() + 60
    while not _whole(file):
        if time.monotonic() > end or writer.poll() is not None:
            errors = file.with_suffix(".err").read_text()[-300:]
            raise RuntimeError(f"the writer never began: {errors}")
        time.sleep(0.01)


def _look(store: Store, job: str, acknowledged: dict[int, str], checked: int) -> list[str]:
    """Return what is wrong with the revisions after those that were looked at before."""
    newest = store.find(job).newest.number
    wrong = [
        f"revision {number} was acknowledged to {name} and isn't there"
        for number, name in acknowledged.items()
        if number > newest
    ]
    for revision in store.revisions(job)[checked:]:
        number, files = revision.number, store.read(job, revision.number).files
        text = f"revision {number} by {revision.who}".encode()
        if files.get("site.yaml") != text or len(files) != 2:
            wrong.append(f"revision {number} is not whole")
        if acknowledged.get(number, revision.who) != revision.who:
            wrong.append(f"revision {number} was acknowledged to {acknowledged[number]}")
    if [each.number for each in store.revisions(job)] != list(range(1, newest + 1)):
        wrong.append("a revision in between is missing")
    return wrong


def _told(kind: str, outcome: Outcome) -> bool:
    print(
        f"{kind}: {outcome.kills} kills ({outcome.of_server} of them of the server), "
        f"{outcome.acknowledged} revisions acknowledged, {outcome.unheard} more there and whole"
    )
    for line in outcome.wrong:
        print(line)
    print("something was lost or half-written" if outcome.wrong else "nothing lost or half-written")
    return not outcome.wrong


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, allow_abbrev=False)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--store", help="a file or an address; without it, both kinds in turn")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--server-every", type=int, default=EVERY, help="so many kills the server's turn comes"
    )
    given = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # leaves no server and no writer behind
    if given.store:
        return 0 if _told(given.store, run(given.store, given.times, given.seed)) else 1
    with tempfile.TemporaryDirectory() as folder:
        where = str(Path(folder) / "jobs.sqlite")
        good = _told("SQLite", run(where, given.times, given.seed))
    found = shutil.which("initdb", path=search_path())
    if found is None:
        print("PostgreSQL: not tried, for its programs aren't here (Debian: postgresql)")
        return 1
    with running(Path(found).resolve().parent) as server:
        outcome = run(server.address, given.times, given.seed, server, given.server_every)
        good = _told("PostgreSQL", outcome) and good
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
