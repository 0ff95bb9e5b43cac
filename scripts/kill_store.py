"""Kill a process that writes to a store, again and again, and look what is left.

    python scripts/kill_store.py --times 200 [--store FILE|ADDRESS] [--seed N]

Each time a process saves one revision after another and says so after each; it is killed with
SIGKILL at a random moment. Then every revision it had acknowledged must be there, and every
revision that is there must be whole.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import bondwright
from bondwright.store.store import Store

WRITER = """
import random, sys
from bondwright.store.store import Store
where, job, seed = sys.argv[1:]
luck = random.Random(seed)
with Store(where, create=False) as store:
    after = store.find(job).newest.number
    while True:
        files = {"site.yaml": f"revision {after + 1}".encode(),
                 "large.bin": luck.randbytes(luck.randrange(1, 400_000))}
        after = store.save(job, files, after=after, who="writer", why="next").number
        print(after, flush=True)
"""


@dataclass(frozen=True)
class Outcome:
    """What was seen: kills, revisions acknowledged, and what was wrong (nothing, one hopes)."""

    kills: int
    acknowledged: int
    wrong: tuple[str, ...]


def run(where: str, times: int, seed: int) -> Outcome:
    """Kill so many writers of a store, and check it after each."""
    luck = random.Random(seed)
    env = {**os.environ, "PYTHONPATH": str(Path(bondwright.__file__).parents[1])}
    with Store(where) as store:
        job = f"kill {seed}"
        first = {"site.yaml": b"revision 1", "large.bin": b""}
        store.add(job, first, who="writer", why="first")
        acknowledged, checked, wrong = 1, 0, []
        for kill in range(times):
            command = [sys.executable, "-c", WRITER, where, job, f"{seed} {kill}"]
            with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as writer:
                if writer.stdout is None:
                    raise RuntimeError("no pipe to the writer")
                heard = [writer.stdout.readline()]
                time.sleep(luck.random() * 0.25)
                writer.kill()
                heard += writer.stdout.readlines()
            said = [int(line) for line in heard if line.endswith("\n")]
            if not said:
                raise RuntimeError("the writer never wrote")
            acknowledged = said[-1]
            newest = store.find(job).newest.number
            if not acknowledged <= newest <= acknowledged + 1:
                wrong.append(f"kill {kill}: {acknowledged} acknowledged, {newest} there")
            for number in range(checked + 1, newest + 1):
                files = store.read(job, number).files
                if files["site.yaml"] != f"revision {number}".encode() or len(files) != 2:
                    wrong.append(f"kill {kill}: revision {number} is not whole")
            checked = newest
    return Outcome(times, acknowledged, tuple(wrong))


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, allow_abbrev=False)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--store", help="a file or an address; a file of its own otherwise")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        where = given.store or str(Path(folder) / "jobs.sqlite")
        outcome = run(where, given.times, given.seed)
    print(f"{outcome.kills} kills, {outcome.acknowledged} revisions acknowledged")
    for line in outcome.wrong:
        print(line)
    print("something was lost or half-written" if outcome.wrong else "nothing lost or half-written")
    return 1 if outcome.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
