"""Mutation testing of the rules and the plan: spoil the code, see whether a test notices.

mutmut makes the mutants and runs the tests that reach each of them, on a copy of the project in
a temporary folder. Here a fixed number of mutants is drawn from every module, by a seed, and the
share that the tests kill is written to docs/mutation.md.

Left out is what says nothing about the rules: mutants that change only the wording of a sentence
(an explanation, a message), and tests that read the source files or make up sites at random, so
that a run can be repeated.
"""

from __future__ import annotations

import ast
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import click

ROOT: Final = Path(__file__).resolve().parents[1]
PAGE: Final = ROOT / "docs" / "mutation.md"
FOLDERS: Final = ("rules", "plan", "rules/iec", "plan/iec")
COPIED: Final = ("src", "tests", "examples", "docs", "scripts", "pyproject.toml")
TESTS: Final = (
    "tests/rules",
    "tests/plan",
    "tests/stories",
    "tests/cases/test_code.py",
    "tests/cases/test_states.py",
    "tests/cli/test_quick.py",
)
NOT_RUN: Final = (
    "tests/plan/test_any_site.py",
    "tests/rules/test_catalogue.py::test_every_rule_is_named_by_a_test",
    "tests/rules/test_catalogue.py::test_every_rule_is_used",
    "tests/rules/test_coverage.py::test_page_is_fresh",
    # It prints: the printer's threads don't live on in a forked worker, which then waits for ever.
    "tests/stories/test_story_03_house_service.py::test_the_printed_tables_say_the_same",
)
SEEN: Final = (1, 11, 23)
"""Seeds whose survivors tests were written for; a measurement needs another one."""
KILLED: Final = frozenset({1, 3})
"""Exit codes of mutmut's workers that count as noticed: a failing test. One that was stopped may
have failed in the end, or have waited for a busy machine, so it doesn't count.
"""
STOPPED: Final = frozenset({24, 36, 152, 255, -24})


@dataclass(frozen=True, slots=True)
class Score:
    """How one module did.

    Attributes:
        module: path below src/bondwright.
        mutants: how many could be made.
        left_out: how many of them only change a sentence, or run while a data file is read.
        tried: how many were drawn.
        killed: how many of those the tests noticed.
        alive: names of those they didn't.
        stopped: names of those among the alive whose tests ran on until they were stopped.
    """

    module: str
    mutants: int
    left_out: int
    tried: int
    killed: int
    alive: tuple[str, ...]
    stopped: tuple[str, ...] = ()

    @property
    def able(self) -> int:
        """How many can be judged."""
        return self.mutants - self.left_out


def copy_project(folder: Path, modules: Sequence[str]) -> None:
    """Put a copy of the project into a folder, set up to mutate some of its modules."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
            shutil.copytree(source, folder / name, ignore=ignored)
        else:
            shutil.copy(source, folder / name)
    arguments = ["-p", "no:cacheprovider", "-x", "-q", *(f"--deselect={name}" for name in NOT_RUN)]
    settings = {
        "source_paths": ["src"],
        "only_mutate": [f"src/bondwright/{module}" for module in modules],
        "also_copy": [name for name in COPIED if name not in {"src", "tests", "pyproject.toml"}],
        "pytest_add_cli_args": arguments,
        "pytest_add_cli_args_test_selection": list(TESTS),
        "use_git_change_detection": False,
        "timeout_multiplier": 3.0,
        "timeout_constant": 60.0,
    }
    lines = [f"{key} = {json.dumps(value)}" for key, value in settings.items()]
    with (folder / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write("\n[tool.mutmut]\n" + "\n".join(lines) + "\n")


_NO_MATCH: Final = "nothing matches"
_NONE: Final = "none.of.them"
"""A name of no mutant: mutmut makes them all, learns which test reaches which, and tries none."""


def mutmut(folder: Path, *names: str, workers: int) -> None:
    """Run mutmut on the copy."""
    command = [sys.executable, "-m", "mutmut", "run", "--max-children", str(workers), *names]
    # As in the gate: tests that try many cases try the same ones every time.
    env = {**os.environ, "CI": "true"}
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, env=env)
    if done.returncode != 0 and _NO_MATCH not in done.stderr:
        tail = (done.stdout + done.stderr)[-3000:]
        raise click.ClickException(f"mutmut stopped with {done.returncode}:\n{tail}")


def results(folder: Path, module: str) -> Mapping[str, int | None]:
    """Return what became of every mutant of a module; None for those not tried."""
    meta = folder / "mutants" / "src" / "bondwright" / f"{module}.meta"
    if not meta.exists():
        return {}
    codes: dict[str, int | None] = json.loads(meta.read_text("utf-8"))["exit_code_by_key"]
    return codes


def only_wording(folder: Path, module: str) -> frozenset[str]:
    """Return the mutants that differ from the original in the words of a sentence only."""
    text = (folder / "mutants" / "src" / "bondwright" / module).read_text(encoding="utf-8")
    functions = {
        node.name: node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef)
    }
    shapes = {name: _shape(node) for name, node in functions.items() if "__mutmut_" in name}
    return frozenset(
        name
        for name, shape in shapes.items()
        if not name.endswith("_orig") and shape == shapes.get(_original(name))
    )


def read_once(module: str) -> frozenset[str]:
    """Return the private functions that run only while a cached one reads a data file.

    Workers are forked from a process that may have read it already, so their mutants can't be
    judged this way; the tests on the data itself do.
    """
    tree = ast.parse((ROOT / "src" / "bondwright" / module).read_text(encoding="utf-8"))
    functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]
    names = {function.name for function in functions}
    users: dict[str, set[str]] = {name: set() for name in names}
    once = set()
    for function in functions:
        if any("cache" in ast.unparse(each) for each in function.decorator_list):
            once.add(function.name)
        for node in ast.walk(function):
            if isinstance(node, ast.Name) and node.id in names and node.id != function.name:
                users[node.id].add(function.name)
    found: set[str] = set()
    while True:
        private = {n: by for n, by in users.items() if n.startswith("_") and by}
        more = {n for n, by in private.items() if by <= once | found} - once - found
        if not more:
            return frozenset(found)
        found |= more


def able(folder: Path, module: str) -> list[str]:
    """Return the mutants of a module that can be judged, and say something about it."""
    codes = results(folder, module)
    if not codes:
        return []
    left_out = only_wording(folder, module)
    once = read_once(module)
    return [
        name
        for name in sorted(codes)
        if (last := name.rpartition(".")[2]) not in left_out
        and last.removeprefix("x_").partition("__mutmut_")[0] not in once
    ]


def _original(name: str) -> str:
    return name.rpartition("_")[0] + "_orig"


class _Mask(ast.NodeTransformer):
    def visit_Constant(self, node: ast.Constant) -> ast.Constant:
        spaced = isinstance(node.value, str) and " " in node.value
        return ast.Constant("sentence") if spaced else node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.JoinedStr:
        self.generic_visit(node)
        kept = [part for part in node.values if not isinstance(part, ast.Constant)]
        return ast.JoinedStr(kept) if len(kept) < len(node.values) else node


def _shape(node: ast.FunctionDef) -> str:
    masked = _Mask().visit(node)
    masked.name = "f"
    return ast.dump(masked)


def drawn(folder: Path, modules: Sequence[str], number: int, seed: int) -> Iterator[str]:
    """Yield the mutants to try: so many of every module, by the seed and the module's name."""
    for module in modules:
        names = able(folder, module)
        luck = random.Random(f"{seed} {module}")
        yield from sorted(luck.sample(names, min(number, len(names))))


def score(folder: Path, module: str, chosen: frozenset[str]) -> Score:
    """Count what became of the mutants of a module."""
    codes = results(folder, module)
    tried = [name for name in sorted(codes) if name in chosen]
    alive = tuple(name for name in tried if codes[name] not in KILLED)
    stopped = tuple(name for name in alive if codes[name] in STOPPED)
    out = len(codes) - len(able(folder, module))
    return Score(module, len(codes), out, len(tried), len(tried) - len(alive), alive, stopped)


def by_size(scores: Sequence[Score]) -> float:
    """Return the share killed, in percent, every module weighted by how many it has to judge."""
    known = [one for one in scores if one.tried]
    whole = sum(one.able for one in known)
    return 100 * sum(one.able * one.killed / one.tried for one in known) / whole if whole else 0.0


def page(scores: Sequence[Score], command: str, seed: int) -> str:
    """Write the page."""
    tried, killed = sum(s.tried for s in scores), sum(s.killed for s in scores)
    seen, among = ", ".join(map(str, SEEN)), "one" if seed in SEEN else "not one"
    share = f"{100 * killed / tried:.1f} %" if tried else "none tried"
    rows = [
        f"| `{s.module}` | {s.mutants} | {s.left_out} | {s.tried} | {s.killed} | "
        f"{f'{100 * s.killed / s.tried:.0f} %' if s.tried else ''} |"
        for s in scores
    ]
    alive = [f"- `{name.removeprefix('bondwright.')}`" for s in scores for name in s.alive]
    stopped = [f"- `{name.removeprefix('bondwright.')}`" for s in scores for name in s.stopped]
    return "\n".join(
        [
            "# Mutation testing",
            "",
            "A test that nothing can fail proves nothing. Here the code of the rules and of the",
            "plan is spoiled on purpose, one spot at a time (a comparison turned, a number moved,",
            "an argument dropped, an identifier changed), and the tests are run. A spoiled",
            "version that a test notices is killed.",
            "",
            f"In this sample {killed} of {tried} were killed: {share}. As many are drawn of a",
            "small module as of a large one; weighted by size it is",
            f"{by_size(scores):.1f} %. Tests were written with an eye on what lived with the",
            f"seeds {seen}; the seed of this run, {seed}, is {among} of them. It was made with",
            "",
            "```sh",
            command,
            "```",
            "",
            "Mutants come from mutmut. Those that change only the words of a sentence are counted",
            "and left out, and so are those in functions that run only while a data file is read:",
            "that happens once, before a worker starts. Code outside functions, or in functions",
            "with a decorator such as a cache, is not mutated. A mutant that no test reaches",
            "counts as alive. Tests that read the source files or make up sites at random are not",
            "run. The mutants are drawn by a seed: another seed draws others.",
            "",
            "| Module | Mutants | Left out | Tried | Killed | Share |",
            "| --- | --- | --- | --- | --- | --- |",
            *rows,
            f"| all | {sum(s.mutants for s in scores)} | {sum(s.left_out for s in scores)} | "
            f"{tried} | {killed} | {share} |",
            "",
            *(["Those that lived:", "", *alive, ""] if alive else []),
            *(
                ["Of these, tests ran on until they were stopped:", "", *stopped, ""]
                if stopped
                else []
            ),
        ]
    )


def modules_of(folders: Sequence[str]) -> tuple[str, ...]:
    """Return the modules of some folders of the package that have functions to mutate."""
    base = ROOT / "src" / "bondwright"
    return tuple(
        path.relative_to(base).as_posix()
        for folder in folders
        for path in sorted((base / folder).glob("*.py"))
        if path.name != "__init__.py"
    )


@click.command()
@click.argument("modules", nargs=-1)
@click.option("--number", default=15, show_default=True, help="Mutants to draw of each module.")
@click.option("--seed", default=4711, show_default=True, help="Another seed draws other mutants.")
@click.option("--workers", default=2, show_default=True, help="How many to try at a time.")
@click.option("--show", is_flag=True, help="Print each that lived, as a difference.")
@click.option("--write/--no-write", default=True, show_default=True, help="Renew the page.")
def main(
    modules: tuple[str, ...], number: int, seed: int, workers: int, show: bool, write: bool
) -> None:
    """Try mutants of MODULES (such as rules/ties.py); of all of rules and plan without any."""
    chosen_modules = modules or modules_of(FOLDERS)
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary) / "copy"
        folder.mkdir()
        copy_project(folder, chosen_modules)
        mutmut(folder, _NONE, workers=workers)
        chosen = frozenset(drawn(folder, chosen_modules, number, seed))
        click.echo(f"{len(chosen)} mutants, after {time.monotonic() - begun:.0f} s")
        mutmut(folder, *sorted(chosen), workers=workers)
        scores = [score(folder, module, chosen) for module in chosen_modules]
        for one in scores:
            click.echo(f"{one.module}: {one.killed} of {one.tried}")
        if show:
            for name in (name for one in scores for name in one.alive):
                command = [sys.executable, "-m", "mutmut", "show", name]
                told = subprocess.run(command, cwd=folder, capture_output=True, text=True)
                click.echo(told.stdout)
    click.echo(f"weighted by size {by_size(scores):.1f} %")
    total = Counter(tried=sum(s.tried for s in scores), killed=sum(s.killed for s in scores))
    click.echo(f"killed {total['killed']} of {total['tried']} in {time.monotonic() - begun:.0f} s")
    if write:
        words = ["python scripts/mutate.py", *modules, f"--number {number} --seed {seed}"]
        PAGE.write_text(page(scores, " ".join(words), seed), encoding="utf-8")


if __name__ == "__main__":
    main()
