"""Mutation testing: spoil the code, see whether a test notices.

mutmut makes the mutants, on a copy of the project in a temporary folder. Here a fixed number of
them is drawn from every module, by a seed, and for each the tests are run that reach the statement
it spoils (scripts/spoiled.py does that). What they killed is kept in docs/mutation.json, part by
part, and told in docs/mutation.md.

Left out is what says nothing about the code: mutants that change only the wording of a sentence
(an explanation, a message), and tests that read the source files or make up sites at random, so
that a run can be repeated.
"""

from __future__ import annotations

import ast
import contextlib
import difflib
import hashlib
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import click

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from scripts import spoiled

ROOT: Final = Path(__file__).resolve().parents[1]
PAGE: Final = ROOT / "docs" / "mutation.md"
KEPT: Final = ROOT / "docs" / "mutation.json"
COPY: Final = "mutants"
KEEPS: Final = re.compile(
    r"^@(functools\.)?(lru_)?cache\b|scope=\"(module|session)\"", re.MULTILINE
)
"""What a file of tests has that keeps an answer from one test to the next."""
COPIED: Final = ("src", "tests", "examples", "docs", "scripts", "pyproject.toml")


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the package that is measured by itself, with the tests meant for it.

    Attributes:
        folders: below src/bondwright.
        tests: what is run, where it reaches a mutant.
        not_run: what of it isn't.
        seen: seeds whose survivors tests were written for; a measurement needs another one.
    """

    folders: tuple[str, ...]
    tests: tuple[str, ...]
    not_run: tuple[str, ...] = ()
    seen: tuple[int, ...] = ()


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
            # It prints: the printer's threads don't live on in a forked process, which then waits
            # for ever.
            "tests/stories/test_story_03_house_service.py::test_the_printed_tables_say_the_same",
        ),
        seen=(1, 11, 23, 4712),
    ),
    "network": Part(
        ("network",),
        ("tests/network", "tests/cases/test_faults.py", "tests/stories/test_story_25_clamp.py"),
        seen=(1, 2027, 3001),
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
        seen=(3001, 4001, 11, 4002),
    ),
    "studies": Part(
        ("studies",),
        (
            "tests/studies/test_*.py",
            "tests/studies/defects/test_loops.py",
            "tests/cases/test_faults.py",
            "tests/cases/test_neutral_on_metal.py",
            "tests/stories/test_story_07_generator_and_switch.py",
            "tests/stories/test_story_22_open_supply_neutral.py",
            "tests/stories/test_story_24_four_pins.py",
            "tests/stories/test_story_25_clamp.py",
            "tests/network/test_motors.py",
        ),
        (
            # Seconds each.
            "tests/studies/test_extremes.py",
            "tests/studies/test_faults.py::"
            "test_openings_are_in_order_and_no_quick_edge_is_slower_than_the_slow_one",
            "tests/studies/test_measuring.py::test_no_dead_test_is_asked_live",
            "tests/studies/test_fault_table.py::test_steel_of_a_building_with_a_common_frame",
            "tests/studies/test_measuring.py::test_every_kind_is_there_once_for_each_thing",
        ),
        seen=(2027, 2028, 3001, 3002, 11, 12, 4001),
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
        # Dask's processes and threads don't live on in a forked process.
        (
            "tests/studies/many/test_kept.py",
            "tests/studies/many/test_work.py",
            "tests/studies/spread",
        ),
        ("tests/studies/spread/test_study.py::test_dask_gives_the_serial_answers",),
        seen=(),
    ),
}
BY_MUTMUT: Final[Mapping[str, int]] = {
    "rules and plan": 4712,
    "studies/defects": 2027,
    "studies/many, studies/spread": 2027,
}
"""Seeds of measurements that were made before scripts/spoiled.py was there, by the part's name."""
KILLED: Final = frozenset({1})
"""Exit codes that count as noticed: a failing test. One that was stopped may have failed in the
end, or have waited for a busy machine, so it doesn't count.
"""
STOPPED: Final = frozenset({spoiled.STOPPED})


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
    """Put a copy of the project into a folder, and spoil some modules of it.

    What an earlier run left there is used again where a module hasn't changed.
    """
    copy = folder / COPY
    for name in COPIED:
        source = ROOT / name
        if name == "src":
            made = {(copy / "src" / "bondwright" / module).resolve() for module in modules}
            _renew(source, copy / name, made)
        elif source.is_dir():
            shutil.rmtree(copy / name, ignore_errors=True)
            ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
            shutil.copytree(source, copy / name, ignore=ignored)
        else:
            shutil.copy(source, copy / name)
    for module in modules:
        _spoil(copy, module)


def _renew(source: Path, target: Path, kept: Container[Path]) -> None:
    for path in sorted(source.rglob("*")):
        if path.is_file() and path.suffix != ".pyc":
            there = target / path.relative_to(source)
            there.parent.mkdir(parents=True, exist_ok=True)
            if there.resolve() not in kept:
                shutil.copy2(path, there)


def _spoil(copy: Path, module: str) -> None:
    """Write a module with all its mutants, and a list of them beside it."""
    text = (ROOT / "src" / "bondwright" / module).read_text(encoding="utf-8")
    target = copy / "src" / "bondwright" / module
    meta = target.with_name(f"{target.name}.meta")
    known = _hash(text)
    if meta.exists() and json.loads(meta.read_text("utf-8"))["source"] == known:
        return
    from mutmut.mutation.file_mutation import mutate_file_contents

    made = mutate_file_contents(module, text)
    target.write_text(made.code, encoding="utf-8")
    dotted = "bondwright." + module.removesuffix(".py").replace("/", ".")
    codes = dict.fromkeys(f"{dotted}.{name}" for name in made.mutant_names)
    meta.write_text(json.dumps({"source": known, "exit_code_by_key": codes}), encoding="utf-8")


def _hash(*texts: str) -> str:
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()


def files_of(part: Part) -> list[str]:
    """Return the tests of a part, patterns replaced by the files they stand for."""
    found = []
    for name in part.tests:
        files = sorted(ROOT.glob(name))
        found += [path.relative_to(ROOT).as_posix() for path in files]
    return found


@dataclass(frozen=True, slots=True)
class Reached:
    """What the tests of a part do on code that isn't spoiled.

    Attributes:
        took: seconds, by the test's name.
        lines: tests that reach a line of a module, by its number, by the module's path below
            src/bondwright.
    """

    took: Mapping[str, float]
    lines: Mapping[str, Mapping[int, frozenset[str]]]


def learn(folder: Path, modules: Sequence[str], part: Part) -> Reached:
    """Run the tests of a part once, and see which of them reaches which line.

    Tests in files that haven't changed since an earlier run aren't run again, as long as nothing
    else has changed either.
    """
    copy = folder / COPY
    base = copy / "src" / "bondwright"
    files = sorted({name.partition("::")[0] for name in files_of(part)})
    tests = [path for name in files for path in _tests_in(copy / name)]
    own = {path.relative_to(copy).as_posix(): _hash(path.read_text("utf-8")) for path in tests}
    rest = [
        path
        for name in ("src", "tests", "examples")
        for path in sorted((copy / name).rglob("*"))
        if path.is_file() and path.suffix not in {".pyc", ".meta"} and path not in set(tests)
    ]
    key = _hash(*(f"{path} {hashlib.sha256(path.read_bytes()).hexdigest()}" for path in rest))
    kept = folder / "learnt.json"
    before = json.loads(kept.read_text("utf-8")) if kept.exists() else {}
    if before.get("key") != key:
        before = {"own": {}, "took": {}, "lines": {}}
    same = {name for name, known in own.items() if before["own"].get(name) == known}

    def still(test: str) -> bool:
        return test.partition("::")[0] in same

    took = {test: each for test, each in before["took"].items() if still(test)}
    lines: dict[str, dict[str, list[str]]] = {
        module: {line: [t for t in found if still(t)] for line, found in known.items()}
        for module, known in before["lines"].items()
    }
    fresh = [name for name in own if name not in same]
    if fresh:
        _write(folder / spoiled.TASKS, [str(base / module) for module in modules])
        _pytest(folder, "learn", part, fresh)
        said = json.loads((folder / spoiled.REACHED).read_text("utf-8"))
        took |= said["took"]
        for module in modules:
            for line, found in said["lines"].get(str(base / module), {}).items():
                lines.setdefault(module, {}).setdefault(line, []).extend(found)
    _write(kept, {"key": key, "own": own, "took": took, "lines": lines})
    return Reached(
        took,
        {
            module: {int(line): frozenset(found) for line, found in known.items()}
            for module, known in lines.items()
        },
    )


def _tests_in(path: Path) -> list[Path]:
    return sorted(path.rglob("test_*.py")) if path.is_dir() else [path]


def _write(path: Path, what: object) -> None:
    path.write_text(json.dumps(what), encoding="utf-8")


def _pytest(folder: Path, way: str, part: Part, files: Sequence[str], workers: int = 1) -> None:
    """Run pytest on the copy."""
    command = [sys.executable, "-m", "pytest", "-p", "scripts.spoiled", "-p", "no:cacheprovider"]
    command += ["-x", "-q", "-n0", "--capture=sys", f"--rootdir={folder / COPY}"]
    command += [f"--deselect={name}" for name in part.not_run]
    env = {
        **os.environ,
        # As in the gate: tests that try many cases try the same ones every time.
        "CI": "true",
        "PYTHONPATH": "src",
        spoiled.WAY: way,
        spoiled.FOLDER: str(folder),
        spoiled.WORKERS: str(workers),
    }
    done = subprocess.run(
        [*command, *files], cwd=folder / COPY, capture_output=True, text=True, env=env
    )
    if done.returncode not in ({0} if way == "learn" else {0, 5}):
        tail = (done.stdout + done.stderr)[-3000:]
        raise click.ClickException(f"pytest stopped with {done.returncode}:\n{tail}")


def attempt(folder: Path, part: Part, names: Sequence[str], reached: Reached, workers: int) -> None:
    """Run, for each of some mutants, the tests that reach what is spoiled; quick ones first."""
    tasks = []
    for name, tests in reaching(folder, names, reached).items():
        ordered = sorted(tests, key=lambda test: (reached.took[test], test))
        seconds = 3.0 * (20.0 + sum(reached.took[test] for test in ordered))
        tasks.append((name, ordered, seconds))
    tasks.sort(key=lambda task: task[2])
    _write(folder / spoiled.TASKS, tasks)
    for old in [*folder.glob(f"{spoiled.KILLER}*"), folder / spoiled.PROGRESS]:
        old.unlink(missing_ok=True)
    files = sorted({name.partition("::")[0] for _, tests, _ in tasks for name in tests})
    _pytest(folder, "try", part, files, workers)
    became = json.loads((folder / spoiled.BECAME).read_text("utf-8"))
    for meta in (folder / COPY / "src" / "bondwright").rglob("*.meta"):
        told = json.loads(meta.read_text("utf-8"))
        codes = told["exit_code_by_key"]
        codes |= {name: code for name, code in became.items() if name in codes}
        _write(meta, told)


def reaching(folder: Path, names: Sequence[str], reached: Reached) -> Mapping[str, frozenset[str]]:
    """Return the tests that reach the statement that each of some mutants spoils.

    Where a file's tests keep answers for each other, only the first of them was seen to reach
    what the answer took: there all of them count.
    """
    together: dict[str, set[str]] = {}
    for test in reached.took:
        together.setdefault(test.partition("::")[0], set()).add(test)
    for file in list(together):
        if not KEEPS.search((folder / COPY / file).read_text(encoding="utf-8")):
            del together[file]
    found = {}
    trees: dict[str, dict[str, ast.FunctionDef]] = {}
    for name in names:
        dotted, _, last = name.rpartition(".")
        module = dotted.removeprefix("bondwright.").replace(".", "/") + ".py"
        if module not in trees:
            trees[module] = _functions(folder, module)
        original = trees[module][_original(last)]
        places = changed(original, trees[module][last]) or [original]
        lines = reached.lines.get(module, {})
        tests = {
            test
            for place in places
            for line in range(place.lineno, (place.end_lineno or place.lineno) + 1)
            for test in lines.get(line, ())
        }
        for file in {test.partition("::")[0] for test in tests}:
            tests |= together.get(file, set())
        found[name] = frozenset(tests)
    return found


def changed(original: ast.stmt, other: ast.stmt) -> list[ast.stmt]:
    """Return the smallest statements of one that are different in the other.

    Where the head of a statement with a body differs (a condition, what a loop goes over), that is
    the whole statement.
    """
    pairs: list[tuple[ast.stmt, ast.stmt]] = []
    for field in original._fields:
        a, b = getattr(original, field, None), getattr(other, field, None)
        if field == "name":
            continue
        if isinstance(a, list) and a and all(isinstance(each, ast.stmt) for each in a):
            if not isinstance(b, list) or len(a) != len(b):
                return [original]
            pairs += zip(a, b, strict=True)
        elif _told(a) != _told(b):
            return [original]
    return [
        place
        for a, b in pairs
        if ast.dump(a) != ast.dump(b)
        for place in (changed(a, b) if type(a) is type(b) else [a])
    ]


def _told(part: object) -> str:
    if isinstance(part, list):
        return " ".join(_told(each) for each in part)
    return ast.dump(part) if isinstance(part, ast.AST) else repr(part)


def results(folder: Path, module: str) -> Mapping[str, int | None]:
    """Return what became of every mutant of a module; None for those not tried."""
    meta = folder / COPY / "src" / "bondwright" / f"{module}.meta"
    if not meta.exists():
        return {}
    codes: dict[str, int | None] = json.loads(meta.read_text("utf-8"))["exit_code_by_key"]
    return codes


def only_wording(folder: Path, module: str) -> frozenset[str]:
    """Return the mutants that differ from the original in the words of a sentence only."""
    functions = _functions(folder, module)
    shapes = {name: _shape(node) for name, node in functions.items() if "__mutmut_" in name}
    return frozenset(
        name
        for name, shape in shapes.items()
        if not name.endswith("_orig") and shape == shapes.get(_original(name))
    )


def _functions(folder: Path, module: str) -> dict[str, ast.FunctionDef]:
    text = (folder / COPY / "src" / "bondwright" / module).read_text(encoding="utf-8")
    found = (node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef))
    return {node.name: node for node in found}


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
            "part only the tests meant for it are run, of those only the ones that reach the",
            "statement that is spoiled, and none that read the source files, make up sites at",
            "random, need Dask or take a minute. Every mutant starts from a process that has run",
            "no test, so that nothing remembered hides it. A test that killed one is run once",
            "more by itself on the original, where it has to pass.",
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


_PLAIN: Final = (
    "mutmut itself ran the tests then: all that reach the function, and no second look at a killer."
)
_BY_MUTMUT: Final = dict.fromkeys(PARTS, _PLAIN) | {
    "rules and plan": f"{_PLAIN}\nIts mutants started from a process that had run tests."
}


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
        *([_BY_MUTMUT[name]] if run.seed == BY_MUTMUT.get(name) else []),
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


def shown(folder: Path, name: str) -> str:
    """Show a mutant, as the difference to its original."""
    dotted, _, last = name.rpartition(".")
    module = dotted.removeprefix("bondwright.").replace(".", "/") + ".py"
    functions = _functions(folder, module)
    before, after = (ast.unparse(functions[each]) for each in (_original(last), last))
    told = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=4)
    return "\n".join([f"# {name}", *list(told)[2:], ""])


def measure(
    name: str,
    modules: Sequence[str],
    number: int,
    seed: int,
    workers: int,
    *,
    show: bool,
    keep: Path | None = None,
) -> Run:
    """Try mutants of some modules of a part, and say how it went."""
    begun = time.monotonic()
    with contextlib.ExitStack() as stack:
        if keep is None:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        else:
            folder = keep / name.replace("/", "-").replace(" ", "-")
            folder.mkdir(parents=True, exist_ok=True)
        part = PARTS[name]
        copy_project(folder, modules)
        click.echo(f"spoiled after {time.monotonic() - begun:.0f} s")
        reached = learn(folder, modules, part)
        chosen = frozenset(drawn(folder, modules, number, seed))
        click.echo(f"{len(chosen)} mutants, after {time.monotonic() - begun:.0f} s")
        attempt(folder, part, sorted(chosen), reached, workers)
        # Another try by themselves: a busy machine may have kept them waiting.
        again = [
            each
            for module in modules
            for each, code in results(folder, module).items()
            if each in chosen and code in STOPPED
        ]
        if again:
            attempt(folder, part, sorted(again), reached, workers)
        lost = [
            each
            for module in modules
            for each, code in results(folder, module).items()
            if each in chosen and code == spoiled.NOT_RUN
        ]
        if lost:
            raise click.ClickException(f"tests of these could not be started: {', '.join(lost)}")
        scores = tuple(score(folder, module, chosen) for module in modules)
        for one in scores:
            click.echo(f"{one.module}: {one.killed} of {one.tried}")
        if show:
            for each in (each for one in scores for each in one.alive):
                click.echo(shown(folder, each))
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
@click.option(
    "--keep",
    type=click.Path(file_okay=False, path_type=Path),
    help="Keep the spoiled copy in this folder, and use what is there: quicker the next time.",
)
@click.option("--write/--no-write", default=True, show_default=True, help="Renew the page.")
def main(
    modules: tuple[str, ...],
    parts: tuple[str, ...],
    number: int,
    seed: int,
    workers: int,
    show: bool,
    keep: Path | None,
    write: bool,
) -> None:
    """Try mutants of MODULES (such as rules/ties.py), of whole parts, or of every part.

    The page is renewed for the parts that were measured as a whole.
    """
    single: dict[str, list[str]] = {}
    for module in modules:
        single.setdefault(part_of(module), []).append(module)
    for name, some in single.items():
        measure(name, some, number, seed, workers, show=show, keep=keep)
    for name in parts or (() if modules else tuple(PARTS)):
        run = measure(
            name, modules_of(PARTS[name].folders), number, seed, workers, show=show, keep=keep
        )
        if write:
            kept = {**read_kept(KEPT.read_text(encoding="utf-8")), name: run}
            KEPT.write_text(written(kept), encoding="utf-8")
            PAGE.write_text(page(kept), encoding="utf-8")


if __name__ == "__main__":
    main()
