"""A PostgreSQL server of one's own, which listens on a socket file only; it may be killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

HOMES: Final = Path("/usr/lib/postgresql")
"""Where Debian keeps its programs, which are on nobody's path."""
_WAIT_S: Final = 60.0


def search_path() -> str:
    """Return the path to look for its programs on, the newest version first."""
    homes = sorted(HOMES.glob("*/bin"), key=lambda p: int(p.parent.name), reverse=True)
    return os.pathsep.join([*(str(home) for home in homes), os.environ.get("PATH", "")])


class Server:
    """A server whose data lie in a folder.

    Args:
        folder: its own; short, for the name of a socket is short.
        programs: folder of ``initdb`` and ``pg_ctl``.

    Attributes:
        address: of its database, as a store takes it.
    """

    def __init__(self, folder: Path, programs: Path) -> None:
        self._folder, self._data = folder, folder / "data"
        # It won't run as root.
        self._user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        self._programs = programs
        self.address = f"postgresql://keeper@/postgres?host={folder}"

    def make(self) -> None:
        """Make an empty database."""
        self._run("initdb", "-U", "keeper", "-A", "trust", "--no-sync", "-E", "UTF8",
                  "--locale", "C")  # fmt: skip

    def start(self) -> None:
        """Start it, and wait until it answers."""
        options = f"-c listen_addresses='' -c unix_socket_directories='{self._folder}'"
        self._run("pg_ctl", "-w", "-l", str(self._folder / "log"), "-o", options, "start")

    def stop(self) -> None:
        """Stop it at once, with whatever it is doing: what it has to bring back, it does later."""
        if (self._data / "postmaster.pid").exists():
            self._run("pg_ctl", "-w", "-m", "immediate", "-t", "20", "stop")

    def kill(self) -> None:
        """End all its processes with SIGKILL."""
        first = int((self._data / "postmaster.pid").read_text().splitlines()[0])
        os.kill(first, signal.SIGSTOP)  # so that it begets no more while they are counted
        all_ = [first, *_children(first)]
        for pid in all_:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        end = time.monotonic() + _WAIT_S
        while any(_state(pid) not in ("", "Z") for pid in all_):
            if time.monotonic() > end:
                raise TimeoutError("the server's processes don't end")
            time.sleep(0.01)
        # Nobody may have buried the first one yet; to the next server it would look alive.
        for lock in (self._data / "postmaster.pid", self._folder / ".s.PGSQL.5432.lock"):
            lock.unlink(missing_ok=True)

    def _run(self, program: str, *words: str) -> None:
        command = [*self._user, str(self._programs / program), "-D", str(self._data), *words]
        done = subprocess.run(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
            timeout=_WAIT_S, cwd=self._folder,
        )  # fmt: skip
        if done.returncode != 0:
            log = (self._folder / "log").read_text()[-600:] if words[-1] == "start" else ""
            raise RuntimeError(f"{program} {words[-1]} failed: {done.stderr.strip()} {log}")


def _children(pid: int) -> list[int]:
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [int(one) for one in found]


def _state(pid: int) -> str:
    """Return the letter of a process's state; "" where there is none."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return ""


@contextmanager
def running(programs: Path) -> Iterator[Server]:
    """Run a server with an empty database in a folder that is taken away afterwards.

    Args:
        programs: folder of ``initdb`` and ``pg_ctl``.
    """
    # pytest's own folders have names too long for a socket.
    folder = Path(tempfile.mkdtemp(prefix="bw-"))
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    server = Server(folder, programs)
    try:
        server.make()
        server.start()
        try:
            yield server
        finally:
            server.stop()
    finally:
        shutil.rmtree(folder)
