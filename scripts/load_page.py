"""Many people at the served jobs at once: how long they wait, and whether a save is ever lost.

    python -m scripts.load_page --people 50 --jobs 1 --rounds 6
    python -m scripts.load_page --people 200 --jobs 200 --rounds 3

A server of its own is started (``bondwright serve --jobs``, logging in switched on) on a fresh
store. Each person has a session, opens a job as the page does, then looks at a thing, lengthens a
feeder, plays a fault and saves, again and again, with pauses as a person makes them (``--pause``).
Where somebody else saved first they put theirs and their own together, as the page offers. In the
end the store is read: every save that was acknowledged must be there, with its person, its reason
and its length.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import httpx2
from sqlalchemy import select

from bondwright.site.reader import load, read
from bondwright.store.engine import reading, writing
from bondwright.store.files import SITE
from bondwright.store.schema import USERS
from bondwright.store.store import Store
from bondwright.store.users import Role, add_user

ROOT: Final = Path(__file__).resolve().parents[1]
PASSWORD: Final = "four words are enough"
TRIES: Final = 12


@dataclass(slots=True)
class Seen:
    """What was seen.

    Attributes:
        times: of the answers, s, by kind of question.
        refused: how often what was refused, by status.
        saved: acknowledged saves: job, revision, person, reason, length.
        conflicts: saves that somebody else was before.
        wrong: what should not be.
    """

    times: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    refused: Counter[int] = field(default_factory=Counter)
    saved: list[tuple[str, int, str, str, str]] = field(default_factory=list)
    conflicts: int = 0
    wrong: list[str] = field(default_factory=list)


class Person:
    """Somebody with a browser.

    Args:
        name: theirs.
        client: their connection.
        seen: where what is seen is written down.
        luck: decides what they do.
    """

    def __init__(
        self, name: str, client: httpx2.AsyncClient, seen: Seen, luck: random.Random
    ) -> None:
        self.name, self.client, self.seen, self.luck = name, client, seen, luck

    async def ask(
        self,
        kind: str,
        method: str,
        path: str,
        body: Any = None,
        query: dict[str, str] | None = None,
    ) -> Any:
        """Ask; whoever is told to come back later does."""
        for turn in range(TRIES):
            began = time.monotonic()
            answer = await self.client.request(method, path, json=body, params=query)
            took = time.monotonic() - began
            if answer.status_code in {429, 503}:
                self.seen.refused[answer.status_code] += 1
                await asyncio.sleep(int(answer.headers.get("retry-after", "1")) + turn)
                continue
            self.seen.times[kind].append(took)
            if answer.status_code == 409 and kind in {"save", "edit"}:
                return None  # somebody else was first; or it has that length already
            if answer.status_code >= 400:
                self.seen.wrong.append(f"{kind} {path}: {answer.status_code} {answer.text[:200]}")
                return None
            return answer.json() if "json" in answer.headers["content-type"] else answer.text
        self.seen.wrong.append(f"{kind} {path}: refused {TRIES} times")
        return None

    async def _log_in(self) -> None:
        """Log in, and agree to what is kept, as everybody does the first time."""
        words = {"name": self.name, "password": PASSWORD}
        door = await self.ask("log in", "POST", "/house/login", words)
        if door is not None and door["stage"] == "agree":
            text = await self.ask("text", "GET", "/house/kept")
            if text is not None:
                await self.ask("agree", "POST", "/house/agree", {"to": text["mark"]})

    async def come(self, job: str, rounds: int, pause: float) -> None:
        """Log in, open a job, and work at it for some rounds."""
        await asyncio.sleep(self.luck.random() * pause * 2)
        await self._log_in()
        await self.ask("jobs", "GET", "/house/jobs")
        at = f"/job/{job}"
        site = await self.ask("open", "GET", f"{at}/api/site")
        await self.ask("picture", "GET", f"{at}/api/picture")
        await self.ask("look", "POST", f"{at}/api/view", {})
        faults = await self.ask("faults", "GET", f"{at}/api/faults")
        if site is None or faults is None:
            return
        runs = [thing["id"] for thing in site["things"] if thing["kind"] == "run"]
        for turn in range(rounds):
            await self._round(at, job, runs, faults["places"], f"round {turn}", pause)

    async def _round(
        self, at: str, job: str, runs: list[str], places: list[str], why: str, pause: float
    ) -> None:
        async def rest() -> None:
            await asyncio.sleep(pause * self.luck.uniform(0.5, 1.5))

        run = self.luck.choice(runs)
        await self.ask("thing", "POST", f"{at}/api/thing", {}, {"kind": "run", "id": run})
        await rest()
        where = {"table": "runs", "id": run}
        entry = await self.ask("form", "GET", f"{at}/api/entry", None, where)
        if entry is None:
            return
        length = f"{self.luck.randrange(20, 400)} ft"
        change = {"table": "runs", "was": run, "entry": {**entry["entry"], "length": length}}
        edited = await self.ask(
            "edit", "POST", f"{at}/api/describe", {"changes": [change], "view": {}}
        )
        await rest()
        place = {"at": self.luck.choice(places)}
        listed = await self.ask("faults", "GET", f"{at}/api/faults", None, place)
        if listed and listed["choices"]:
            key = self.luck.choice(listed["choices"])["key"]
            await self.ask("fault", "POST", f"{at}/api/view", {"show": "fault", "fault": key})
        await rest()
        if edited is not None:
            await self._save(at, job, f"{why} of {self.name}: {run}", run, length, pause)
        await self.ask("kept", "GET", f"{at}/api/kept")

    async def _save(self, at: str, job: str, why: str, run: str, length: str, pause: float) -> None:
        for _ in range(60):
            kept = await self.ask("save", "POST", f"{at}/api/save", {"why": why, "view": {}})
            if kept is not None:
                saved = (job, kept["revision"], self.name, why, f"{run}|{length}")
                self.seen.saved.append(saved)
                return
            self.seen.conflicts += 1
            await asyncio.sleep(pause * self.luck.uniform(0.5, 1.5))  # they read who was first
            both = {"mine": True, "view": {}}
            answer = await self.ask("take over", "POST", f"{at}/api/take-theirs", both)
            if answer and not answer["edits"]["unsaved"]:
                return  # the other one made the same change
        self.seen.wrong.append(f"{self.name}: a save never came through")


def lost(store: Store, seen: Seen) -> list[str]:
    """Return what was acknowledged and isn't there as it was written."""
    wrong = []
    for job, number, who, why, what in seen.saved:
        run, _, length = what.rpartition("|")
        newest = store.find(job).newest.number
        if number > newest:
            wrong.append(f"{job}: revision {number} of {who} isn't there")
            continue
        snapshot = store.read(job, number)
        if (snapshot.revision.who, snapshot.revision.why) != (who, why):
            wrong.append(f"{job}: revision {number} isn't {who}'s, but {snapshot.revision.who}'s")
        found = read(snapshot.files[SITE].decode()).runs[run].length
        if abs(found - float(length.split()[0]) * 0.3048) > 1e-9:
            wrong.append(f"{job}: revision {number} of {who} has {found} m for {length}")
    if len({(job, number) for job, number, *_ in seen.saved}) != len(seen.saved):
        wrong.append("a revision was acknowledged twice")
    return wrong


def _fill(store: Store, people: int, jobs: int, site: Path) -> list[str]:
    add_user(store, "person 0", Role.EDIT, PASSWORD)
    with reading(store.engine) as connection:
        one = connection.execute(select(USERS)).one()
    with writing(store.engine) as connection:  # one password for all: hashing takes its time
        for k in range(1, people):
            row = {"name": f"person {k}", "role": one.role, "salt": one.salt, "secret": one.secret}
            connection.execute(USERS.insert().values(row))
    files = {SITE: site.read_bytes()}
    return [
        store.add(f"job {k}", files, who="person 0", why="begun").job for k in range(max(1, jobs))
    ]


async def _crowd(address: str, jobs: list[str], given: argparse.Namespace) -> Seen:
    seen = Seen()
    limits = httpx2.Limits(max_connections=4)

    async def one(k: int) -> None:
        headers = {"origin": address.rstrip("/")}
        async with httpx2.AsyncClient(
            base_url=address, headers=headers, timeout=180.0, limits=limits
        ) as client:
            person = Person(f"person {k}", client, seen, random.Random(f"{given.seed} {k}"))
            await person.come(jobs[k % len(jobs)], given.rounds, given.pause)

    done = await asyncio.gather(*(one(k) for k in range(given.people)), return_exceptions=True)
    seen.wrong += [f"{type(one).__name__}: {one}" for one in done if one is not None]
    return seen


def _peak_mib(pid: int) -> float:
    text = Path(f"/proc/{pid}/status").read_text()
    found = re.search(r"VmHWM:\s*(\d+) kB", text)
    return int(found[1]) / 1024 if found else 0.0


def _tell(seen: Seen, wrong: list[str], took: float, peak: float) -> None:
    print(f"{'question':<10} {'number':>7} {'half':>8} {'95 %':>8} {'worst':>8}  s")
    for kind, times in seen.times.items():
        row = sorted(times)
        half, most = row[len(row) // 2], row[min(len(row) - 1, int(len(row) * 0.95))]
        print(f"{kind:<10} {len(row):>7} {half:>8.3f} {most:>8.3f} {row[-1]:>8.3f}")
    every = sum(len(times) for times in seen.times.values())
    print(f"{every} answers in {took:.0f} s; the server's largest memory {peak:.0f} MiB")
    told = ", ".join(f"{n} x {status}" for status, n in sorted(seen.refused.items())) or "none"
    print(f"told to come back later: {told}; somebody else saved first: {seen.conflicts} times")
    print(f"{len(seen.saved)} saves acknowledged")
    for line in (seen.wrong + wrong)[:20]:
        print(line)
    print("SOMETHING WAS WRONG" if seen.wrong or wrong else "no acknowledged save is lost")


def run(given: argparse.Namespace, where: str) -> bool:
    """Let a crowd loose on a server of its own; say whether all was well."""
    with Store(where) as store:
        jobs = _fill(store, given.people, given.jobs, given.site)
    env = {**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT / "src")}
    command = [
        sys.executable,
        "-m",
        "bondwright",
        "serve",
        "--jobs",
        where,
        "--users",
        "--port",
        "0",
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as server:
        try:
            if server.stdout is None:
                raise RuntimeError("the server says nothing")
            address = server.stdout.readline().rpartition(": ")[2].strip()
            began = time.monotonic()
            seen = asyncio.run(_crowd(address, jobs, given))
            took, peak = time.monotonic() - began, _peak_mib(server.pid)
        finally:
            server.send_signal(signal.SIGINT)
            try:
                server.wait(10)
            except subprocess.TimeoutExpired:
                server.kill()
    with Store(where) as store:
        wrong = lost(store, seen)
    _tell(seen, wrong, took, peak)
    return not (seen.wrong or wrong)


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, allow_abbrev=False)
    parser.add_argument("--people", type=int, default=50)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=4)
    parser.add_argument("--pause", type=float, default=2.0, help="seconds, about")
    parser.add_argument("--site", type=Path, default=ROOT / "examples/harrow-creek-farmhouse.yaml")
    parser.add_argument("--store", help="an empty one; a file of its own otherwise")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    print(f"{given.people} people on {given.jobs} jobs of {len(load(given.site).places)} places, "
          f"{given.rounds} rounds")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        where = str(given.store or Path(folder) / "jobs.sqlite")
        return 0 if run(given, where) else 1


if __name__ == "__main__":
    sys.exit(main())
