"""Run the commands that a page of docs/ shows, and compare what they print with what it shows.

A page is walked from top to bottom in an empty folder, as a reader would type it:

- `yaml name.yaml`, `csv name.csv`: a block with a name after its language is written to that file;
- `diff name.yaml`: its lines with `-` are replaced in the file by those with `+`;
- `console`: lines after `$ ` are run, and what follows is what they print: the words count, not
  where a line ends, and a line `...` stands for any lines left out;
- `python`: run as it stands, each block of a page after the one before it.

Other blocks are for the eye. `bondwright serve` is started, asked for its page once, and ended.

    python -m scripts.run_docs docs/first-site.md
    python -m scripts.run_docs --print docs/first-site.md    # what each prints, to be copied
"""

from __future__ import annotations

import contextlib
import difflib
import io
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from click.testing import CliRunner

from bondwright.cli import main as bondwright

ROOT: Final = Path(__file__).resolve().parents[1]
WIDTH: Final = "80"
"""Columns of the terminal that the pages show."""

WALKED: Final = (
    "first-site.md", "how-to.md", "physics.md", "why-once.md", "what-it-cannot-know.md",
)  # fmt: skip
"""Pages of docs/ that are walked by a test."""

BLOCK: Final = re.compile(r"^```(?P<info>[^\n]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
COMMENT: Final = re.compile(r"\s+#.*$")


@dataclass(frozen=True, slots=True)
class Block:
    """A block of a page.

    Attributes:
        line: where it begins in the page, from 1.
        language: the first word after its fence.
        name: what follows that word.
        body: what is in it.
    """

    line: int
    language: str
    name: str
    body: str


def blocks(text: str) -> list[Block]:
    """Return the blocks of a page in order."""
    return [
        Block(text[: m.start()].count("\n") + 1, *_info(m["info"]), m["body"])
        for m in BLOCK.finditer(text)
    ]


def _info(info: str) -> tuple[str, str]:
    language, _, name = info.strip().partition(" ")
    return language, name.strip()


def commands(body: str) -> Iterator[tuple[str, str]]:
    """Return each command of a console block with what it is shown to print."""
    parts = re.split(r"^\$ ", body, flags=re.MULTILINE)
    for part in parts[1:]:
        lines = part.splitlines()
        command = lines.pop(0)
        while command.endswith("\\"):
            command = command[:-1].rstrip() + " " + lines.pop(0).strip()
        yield command, "\n".join(lines)


def same(shown: str, printed: str) -> bool:
    """Whether what is printed is what is shown: the same words, whatever the lines.

    A line ``...`` in what is shown stands for any lines left out; nothing shown, for everything.
    """
    if not shown.strip():
        return True
    first, *rest = (part.split() for part in re.split(r"(?m)^\s*\.\.\.\s*$", shown))
    words = printed.split()
    if words[: len(first)] != first:
        return False
    at = len(first)
    if not rest:
        return at == len(words)
    *middle, last = rest
    for part in middle:
        found = [k for k in range(at, len(words) + 1) if words[k : k + len(part)] == part]
        if not found:
            return False
        at = found[0] + len(part)
    return not last or words[max(at, len(words) - len(last)) :] == last


class PageError(AssertionError):
    """What a page shows isn't what happens."""


def _where(page: str, block: Block) -> str:
    return f"{page}, line {block.line}"


def run_page(text: str, page: str, *, printing: bool = False) -> int:
    """Walk a page in the current folder; return the number of commands run.

    Args:
        text: of the page.
        page: its name, for messages.
        printing: print what each command prints, and compare nothing.

    Raises:
        PageError: a command fails, or prints something else than is shown.
    """
    count, names = 0, dict[str, Any]()
    for block in blocks(text):
        match block.language:
            case "yaml" | "csv" | "text" if block.name and " " not in block.name:
                Path(block.name).write_text(block.body, encoding="utf-8")
            case "diff" if block.name:
                _edit(Path(block.name), block, page)
            case "python":
                _python(block, names, page)
                count += 1
            case "console":
                for command, shown in commands(block.body):
                    count += _command(command, shown, _where(page, block), printing=printing)
            case _:
                pass
    return count


def _edit(path: Path, block: Block, page: str) -> None:
    lines = block.body.splitlines()
    old = "\n".join(line[1:] for line in lines if not line.startswith("+"))
    new = "\n".join(line[1:] for line in lines if not line.startswith("-"))
    text = path.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise PageError(f"{_where(page, block)}: {text.count(old)} times in {path}:\n{old}")
    path.write_text(text.replace(old, new), encoding="utf-8")


def _python(block: Block, names: dict[str, Any], page: str) -> None:
    out = io.StringIO()
    try:
        with contextlib.redirect_stdout(out):
            exec(compile(block.body, _where(page, block), "exec"), names)
    except Exception as error:
        raise PageError(f"{_where(page, block)}: {error!r}") from error


def _command(command: str, shown: str, where: str, *, printing: bool) -> int:
    words = shlex.split(COMMENT.sub("", command))
    match words:
        case ["bondwright", "serve", *rest]:
            printed = serve(rest)
        case ["bondwright", *rest]:
            typed = Path(rest[rest.index("<") + 1]).read_bytes() if "<" in rest else None
            runner = CliRunner(env={"COLUMNS": WIDTH})
            done = runner.invoke(bondwright, _before(rest), input=typed)
            printed = done.output
            if done.exception is not None and not isinstance(done.exception, SystemExit):
                raise PageError(f"{where}: {command}\n{done.exception!r}")
            if done.exit_code == 2 and "error" not in shown.lower():
                raise PageError(f"{where}: {command}\n{printed}")
        case ["cat", name]:
            printed = Path(name).read_text(encoding="utf-8")
        case ["ls", folder]:
            printed = "\n".join(sorted(path.name for path in Path(folder).iterdir()))
        case ["cp", source, target]:
            shutil.copyfile(source, target)
            printed = ""
        case _:
            raise PageError(f"{where}: a command that isn't run here: {command}")
    if printing:
        print(f"$ {command}\n{printed}")
    elif not same(shown, printed):
        told = "\n".join(
            difflib.ndiff(shown.strip().splitlines(), [w.rstrip() for w in printed.splitlines()])
        )
        raise PageError(f"{where}: {command}\n{told}")
    return 1


def _before(words: Sequence[str]) -> list[str]:
    return list(words[: words.index("<")]) if "<" in words else list(words)


def serve(words: Sequence[str]) -> str:
    """Start `bondwright serve` on a free port, ask for its page, end it; return what it printed.

    Raises:
        PageError: no page comes.
    """
    command = [sys.executable, "-u", "-m", "bondwright", "serve", *words, "--port", "0"]
    asked = words[words.index("--public") + 1] if "--public" in words else ""
    environment = {**os.environ, "COLUMNS": WIDTH, "PYTHONPATH": str(ROOT / "src")}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    ) as server:
        assert server.stdout is not None  # noqa: S101
        late = threading.Timer(90, server.kill)
        late.start()
        printed = []
        try:
            for line in server.stdout:
                printed.append(line)
                found = re.search(r"http://127\.0\.0\.1:(\d+)", line)
                if found is None:
                    continue
                host = {"Host": asked.partition("://")[2]} if asked else {}
                request = urllib.request.Request(found[0], headers=host)
                with urllib.request.urlopen(request, timeout=30) as answer:
                    if b"<html" not in answer.read(4000):
                        raise PageError(f"{found[0]} answers with no page")
                server.send_signal(signal.SIGINT)
                printed.append(server.stdout.read())
                return "".join(printed).replace(f":{found[1]}", ":8642")
        finally:
            late.cancel()
            server.kill()
    raise PageError(f"serve {' '.join(words)}: no address\n{''.join(printed)}")


@contextlib.contextmanager
def in_an_empty_folder(environment: Mapping[str, str] | None = None) -> Iterator[Path]:
    """Go into an empty folder with the examples in it, and come back."""
    before, kept = Path.cwd(), dict(os.environ)
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "examples", Path(folder) / "examples")
        os.chdir(folder)
        os.environ.update(environment or {}, BONDWRIGHT_STORE=f"{folder}/jobs.sqlite")
        try:
            yield Path(folder)
        finally:
            os.chdir(before)
            os.environ.clear()
            os.environ.update(kept)


def main(names: Sequence[str]) -> int:
    """Walk the pages that are named."""
    printing = "--print" in names
    for name in (name for name in names if name != "--print"):
        text = Path(name).read_text(encoding="utf-8")
        with in_an_empty_folder():
            try:
                print(f"{name}: {run_page(text, name, printing=printing)} commands")
            except PageError as error:
                print(error)
                return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
