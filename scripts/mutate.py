"""Mutation testing: spoil the code, see whether a test notices.

mutmut makes the mutants and runs the tests that reach each of them, on a copy of the project in
a temporary folder. Here a fixed number of mutants is drawn from every module, by a seed. What the
tests killed is kept in docs/mutation.json, part by part, and told in docs/mutation.md.

Left out is what says nothing about the code: mutants that change only the wording of a sentence
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
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import click

ROOT: Final = Path(__file__).resolve().parents[1]
PAGE: Final = ROOT / "docs" / "mutation.md"
KEPT: Final = ROOT / "docs" / "mutation.json"
COPIED: Final = ("src", "tests", "examples", "docs", "scripts", "pyproject.toml")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the package that is measured by itself, with the tests meant for it.

    Attributes:
        folders: below src/bondwright.
        tests: what is run, where it reaches a mutant.
        not_run: what of it isn't.
        seen: seeds whose survivors tests were written for; a measurement needs another one.
        afresh: every mutant starts from a process that has run no test, so that nothing
            remembered from an earlier run hides it.
    """

    folders: tuple[str, ...]
    tests: tuple[str, ...]
    not_run: tuple[str, ...] = ()
    seen: tuple[int, ...] = ()
    afresh: bool = True


PARTS: Final[Mapping[str, Part]] = {
    "rules and plan": Part(
        ("rules", "plan", "rules/iec", "plan/iec"),
        (
            "tests/rules",
            "tests/plan",
            "tests/stories",
            "tests/cases/test_code.py",
            "tests/cases/test_states.py",
            "tests/cli/test_quick.py",
        ),
        (
            "tests/plan/test_any_site.py",
            "tests/rules/test_catalogue.py::test_every_rule_is_named_by_a_test",
            "tests/rules/test_catalogue.py::test_every_rule_is_used",
            "tests/rules/test_coverage.py::test_page_is_fresh",
            # It prints: the printer's threads don't live on in a forked worker, which then waits
            # for ever.
            "tests/stories/test_story_03_house_service.py::test_the_printed_tables_say_the_same",
        ),
        seen=(1, 11, 23, 4712),
        afresh=False,
    ),
    "network": Part(
        ("network",),
        ("tests/network", "tests/cases/test_faults.py", "tests/stories/test_story_25_clamp.py"),
        seen=(1, 2027),
    ),
    "devices": Part(("devices",), ("tests/devices",), seen=(1, 2027)),
    "safety": Part(("safety",), ("tests/safety",), seen=(1, 2027)),
    "earth": Part(
        ("earth",),
        (
            "tests/earth",
            "tests/stories/test_story_24_four_pins.py",
            "tests/stories/test_story_25_clamp.py",
        ),
        seen=(),
    ),
    "studies": Part(
        ("studies",),
        (
            "tests/studies/test_*.py",
            "tests/studies/defects/test_loops.py",
            "tests/cases/test_faults.py",
            "tests/stories/test_story_07_generator_and_switch.py",
            "tests/stories/test_story_24_four_pins.py",
            "tests/stories/test_story_25_clamp.py",
            "tests/network/test_motors.py",
        ),
        (
            # Seconds each.
            "tests/studies/test_fault_table.py::test_steel_of_a_building_with_a_common_frame",
            "tests/studies/test_measuring.py::test_every_kind_is_there_once_for_each_thing",
        ),
        seen=(2027, 2028),
    ),
    "studies/hunt": Part(
        ("studies/hunt",),
        ("tests/studies/hunt", "tests/cases/test_hunt_cases.py"),
        (
            "tests/studies/hunt/test_stories.py::test_hidden_ties_are_found_from_six_clamp_readings",
            "tests/studies/hunt/test_stories.py::test_a_proposal_beats_half_splitting",
        ),
        seen=(1, 2027),
    ),
    "studies/defects": Part(
        ("studies/defects",),
        ("tests/studies/defects",),
        # It tries every pair of a building's defects in ngspice, for a minute.
        ("tests/studies/defects/test_sweep.py::test_pairs_equal_ngspice",),
        seen=(2027,),
    ),
    "studies/many, studies/spread": Part(
        ("studies/many", "studies/spread"),
        # Dask's processes and threads don't live on in a forked worker.
        (
            "tests/studies/many/test_kept.py",
            "tests/studies/many/test_work.py",
            "tests/studies/spread",
        ),
        ("tests/studies/spread/test_study.py::test_dask_gives_the_serial_answers",),
        seen=(),
    ),
}
KILLED: Final = frozenset({1, 3})
"""Exit codes of mutmut's workers that count as noticed: a failing test. One that was stopped may
have failed in the end, or have waited for a busy machine, so it doesn't count.
"""
STOPPED: Final = frozenset({24, 36, 152, -24})
NOT_STARTED: Final = 255
"""Exit code where pytest refused its arguments: nothing was tried, so nothing can be told."""


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


def copy_project(folder: Path, modules: Sequence[str], part: Part) -> None:
    """Put a copy of the project into a folder, set up to mutate some modules of a part."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
            shutil.copytree(source, folder / name, ignore=ignored)
        else:
            shutil.copy(source, folder / name)
    arguments = [
        "-p",
        "no:cacheprovider",
        "-x",
        "-q",
        *(f"--deselect={name}" for name in part.not_run),
    ]
    settings = {
        "source_paths": ["src"],
        "only_mutate": [f"src/bondwright/{module}" for module in modules],
        "also_copy": [name for name in COPIED if name not in {"src", "tests", "pyproject.toml"}],
        "pytest_add_cli_args": arguments,
        "pytest_add_cli_args_test_selection": files_of(part),
        "use_git_change_detection": False,
        "timeout_multiplier": 3.0,
        "timeout_constant": 20.0 if part.afresh else 60.0,
        "process_isolation": "forkserver" if part.afresh else "fork",
    }
    lines = [f"{key} = {json.dumps(value)}" for key, value in settings.items()]
    with (folder / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write("\n[tool.mutmut]\n" + "\n".join(lines) + "\n")
    with (folder / "tests" / "conftest.py").open("a", encoding="utf-8") as file:
        file.write(_QUICK_FIRST)


_QUICK_FIRST: Final = '''

def pytest_collection_modifyitems(items):
    """Run quick tests first: most of what is spoiled is noticed by one of them."""
    import json
    from pathlib import Path

    stats = Path("mutmut-stats.json")
    if stats.exists():
        took = json.loads(stats.read_text(encoding="utf-8"))["duration_by_test"]
        items.sort(key=lambda item: took.get(item.nodeid, 0.0))
'''


def files_of(part: Part) -> list[str]:
    """Return the tests of a part, patterns replaced by the files they stand for."""
    found = []
    for name in part.tests:
        files = sorted(ROOT.glob(name))
        found += [path.relative_to(ROOT).as_posix() for path in files]
    return found


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


@dataclass(frozen=True, slots=True)
class Run:
    """One measurement of a part.

    Attributes:
        day: when, as a date.
        seed: by which the mutants were drawn.
        number: how many of every module.
        seen: seeds whose survivors tests had been written for by then.
        scores: of the modules.
    """

    day: str
    seed: int
    number: int
    seen: tuple[int, ...]
    scores: tuple[Score, ...]

    @property
    def tried(self) -> int:
        """How many mutants were drawn."""
        return sum(one.tried for one in self.scores)

    @property
    def killed(self) -> int:
        """How many of them the tests noticed."""
        return sum(one.killed for one in self.scores)


def read_kept(text: str) -> dict[str, Run]:
    """Read the measurements that are kept, by the part's name."""
    found = {}
    for name, run in json.loads(text).items():
        scores = tuple(
            Score(**{**one, "alive": tuple(one["alive"]), "stopped": tuple(one["stopped"])})
            for one in run.pop("scores")
        )
        found[name] = Run(**{**run, "seen": tuple(run["seen"])}, scores=scores)
    return found


def written(runs: Mapping[str, Run]) -> str:
    """Write the measurements to keep them."""
    return json.dumps({name: asdict(run) for name, run in runs.items()}, indent=1) + "\n"


def page(runs: Mapping[str, Run]) -> str:
    """Write the page."""
    known = {name: runs[name] for name in PARTS if name in runs}
    whole = [one for run in known.values() for one in run.scores]
    return "\n".join(
        [
            "# Mutation testing",
            "",
            "A test that nothing can fail proves nothing. Here the code is spoiled on purpose,",
            "one spot at a time (a comparison turned, a number moved, an argument dropped, an",
            "identifier changed), and the tests are run. A spoiled version that a test notices",
            "is killed.",
            "",
            "| Part | Measured | Seed | Mutants | Tried | Killed | Share | Weighted by size |",
            "| --- | --- | --- | --- | --- | --- | --- | --- |",
            *(_line(name, run) for name, run in known.items()),
            f"| all | | | {sum(s.mutants for s in whole)} | {sum(s.tried for s in whole)} | "
            f"{sum(s.killed for s in whole)} | {_share(whole)} | {by_size(whole):.1f} % |",
            "",
            "The mutants are drawn by a seed, as many of a small module as of a large one;",
            "another seed draws others. The last column weighs every module by how many mutants",
            "it has to judge. Tests are written with an eye on what lives, so a part is measured",
            "with a seed that nobody looked at before; each says which had been looked at.",
            "",
            "Mutants come from mutmut. Those that change only the words of a sentence are counted",
            "and left out, and so are those in functions that run only while a data file is read:",
            "that happens once, before a worker starts. Code outside functions, or in functions",
            "with a decorator such as a cache, is not mutated. A mutant that no test reaches",
            "counts as alive, and so does one whose tests ran on until they were stopped. Of each",
            "part only the tests meant for it are run, and of those none that read the source",
            "files, make up sites at random, need Dask or take a minute. Every mutant starts from",
            "a process that has run no test, so that nothing remembered hides it; those of rules",
            "and plan start from one that has.",
            *(line for name, run in known.items() for line in _section(name, run)),
            "",
        ]
    )


def _share(scores: Sequence[Score]) -> str:
    tried, killed = sum(s.tried for s in scores), sum(s.killed for s in scores)
    return f"{100 * killed / tried:.1f} %" if tried else "none tried"


def _line(name: str, run: Run) -> str:
    mutants = sum(s.mutants for s in run.scores)
    return (
        f"| {name} | {run.day} | {run.seed} | {mutants} | {run.tried} | {run.killed} | "
        f"{_share(run.scores)} | {by_size(run.scores):.1f} % |"
    )


def _section(name: str, run: Run) -> list[str]:
    seen = (
        f"Tests had been written with an eye on what lived with "
        f"seed{'s' * (len(run.seen) > 1)} {', '.join(map(str, run.seen))}."
        if run.seen
        else "No tests had been written for what lived with any seed."
    )
    among = ", one of them" if run.seed in run.seen else ""
    rows = [
        f"| `{s.module}` | {s.mutants} | {s.left_out} | {s.tried} | {s.killed} | "
        f"{f'{100 * s.killed / s.tried:.0f} %' if s.tried else ''} |"
        for s in run.scores
    ]
    alive = [f"- `{each.removeprefix('bondwright.')}`" for s in run.scores for each in s.alive]
    stopped = [f"- `{each.removeprefix('bondwright.')}`" for s in run.scores for each in s.stopped]
    return [
        "",
        f"## {name}",
        "",
        f"{run.killed} of {run.tried} were killed: {_share(run.scores)}. {seen}",
        f"The seed of this run is {run.seed}{among}.",
        "",
        "```sh",
        f'python scripts/mutate.py --part "{name}" --number {run.number} --seed {run.seed}',
        "```",
        "",
        "| Module | Mutants | Left out | Tried | Killed | Share |",
        "| --- | --- | --- | --- | --- | --- |",
        *rows,
        *_later(name, run),
        *(["", "Those that lived:", "", *alive] if alive else []),
        *(["", "Of these, tests ran on until they were stopped:", "", *stopped] if stopped else []),
    ]


def _later(name: str, run: Run) -> list[str]:
    """Say which modules have come since a part was measured."""
    measured = {one.module for one in run.scores}
    later = [m for m in modules_of(PARTS[name].folders) if m not in measured]
    said = ", ".join(f"`{m}`" for m in later)
    return ["", f"Came later, and not measured yet: {said}."] if later else []


def modules_of(folders: Sequence[str]) -> tuple[str, ...]:
    """Return the modules of some folders of the package that have functions to mutate."""
    base = ROOT / "src" / "bondwright"
    return tuple(
        path.relative_to(base).as_posix()
        for folder in folders
        for path in sorted((base / folder).glob("*.py"))
        if path.name != "__init__.py"
    )


def part_of(module: str) -> str:
    """Return the name of the part that a module belongs to."""
    folder = module.rpartition("/")[0]
    found = [name for name, part in PARTS.items() if folder in part.folders]
    if not found:
        raise click.ClickException(f"{module} belongs to no part that is measured")
    return found[0]


def measure(
    name: str, modules: Sequence[str], number: int, seed: int, workers: int, *, show: bool
) -> Run:
    """Try mutants of some modules of a part, and say how it went."""
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary) / "copy"
        folder.mkdir()
        copy_project(folder, modules, PARTS[name])
        mutmut(folder, _NONE, workers=workers)
        chosen = frozenset(drawn(folder, modules, number, seed))
        click.echo(f"{len(chosen)} mutants, after {time.monotonic() - begun:.0f} s")
        mutmut(folder, *sorted(chosen), workers=workers)
        # Another try by themselves: a busy machine may have kept them waiting.
        again = [
            each
            for module in modules
            for each, code in results(folder, module).items()
            if code in STOPPED
        ]
        if again:
            mutmut(folder, *sorted(again), workers=workers)
        lost = [
            each
            for module in modules
            for each, code in results(folder, module).items()
            if code == NOT_STARTED
        ]
        if lost:
            raise click.ClickException(f"tests of these could not be started: {', '.join(lost)}")
        scores = tuple(score(folder, module, chosen) for module in modules)
        for one in scores:
            click.echo(f"{one.module}: {one.killed} of {one.tried}")
        if show:
            for each in (each for one in scores for each in one.alive):
                command = [sys.executable, "-m", "mutmut", "show", each]
                told = subprocess.run(command, cwd=folder, capture_output=True, text=True)
                click.echo(told.stdout)
    run = Run(datetime.now(UTC).date().isoformat(), seed, number, PARTS[name].seen, scores)
    click.echo(f"{name}: weighted by size {by_size(scores):.1f} %")
    click.echo(f"killed {run.killed} of {run.tried} in {time.monotonic() - begun:.0f} s")
    return run


@click.command()
@click.argument("modules", nargs=-1)
@click.option("--part", "parts", multiple=True, type=click.Choice(list(PARTS)), help="Of these.")
@click.option("--number", default=15, show_default=True, help="Mutants to draw of each module.")
@click.option("--seed", default=4711, show_default=True, help="Another seed draws other mutants.")
@click.option("--workers", default=2, show_default=True, help="How many to try at a time.")
@click.option("--show", is_flag=True, help="Print each that lived, as a difference.")
@click.option("--write/--no-write", default=True, show_default=True, help="Renew the page.")
def main(
    modules: tuple[str, ...],
    parts: tuple[str, ...],
    number: int,
    seed: int,
    workers: int,
    show: bool,
    write: bool,
) -> None:
    """Try mutants of MODULES (such as rules/ties.py), of whole parts, or of every part.

    The page is renewed for the parts that were measured as a whole.
    """
    single: dict[str, list[str]] = {}
    for module in modules:
        single.setdefault(part_of(module), []).append(module)
    for name, some in single.items():
        measure(name, some, number, seed, workers, show=show)
    for name in parts or (() if modules else tuple(PARTS)):
        run = measure(name, modules_of(PARTS[name].folders), number, seed, workers, show=show)
        if write:
            kept = {**read_kept(KEPT.read_text(encoding="utf-8")), name: run}
            KEPT.write_text(written(kept), encoding="utf-8")
            PAGE.write_text(page(kept), encoding="utf-8")


if __name__ == "__main__":
    main()
