"""Write docs/outside.md and docs/outside.csv: every value from outside that the tests compare with.

Runs the tests that are marked with `tests.outside.outside`, gathers what they wrote down, and makes
the page and the list of it. Nothing is written if one of them fails.

    python scripts/make_validation.py            # three minutes on two cores, with ngspice
    python scripts/make_validation.py --check    # seconds: are all of these tests on the page
"""

from __future__ import annotations

import ast
import csv
import json
import math
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any, Final

import click

from scripts.make_docs import table
from tests.outside import PROPERTY, STATUSES

ROOT: Final = Path(__file__).resolve().parents[1]
PAGE: Final = ROOT / "docs" / "outside.md"
LIST: Final = ROOT / "docs" / "outside.csv"
COLUMNS: Final = (
    "test", "case", "source", "status", "published", "ours", "unit", "difference", "within",
)  # fmt: skip
FEW: Final = 3
"""So many comparisons of one test stand on the page by themselves; more are told in a line."""

TOPICS: Final = {
    "catalog": "Data of conductors, raceways, metal and soil",
    "rules": "Sizes and limits by the NEC",
    "rules/iec": "Sizes and limits by IEC 60364, BS 7671 and AS/NZS 3000",
    "plan": "Plans",
    "network": "Impedances, sources and transformers",
    "devices": "Breakers, fuses and residual-current devices",
    "safety": "People and conductors under fault current",
    "earth": "The earth",
    "studies": "Studies",
    "cases": "Real cases",
    "cli": "Commands",
    "draw": "Pictures",
    "other programs": "Other programs",
}
"""Headings of the page, by the folder of the tests."""

PROGRAMS: Final = ("ngspice", "pyGIMLi", "scikit-fem", "finite volumes")
"""Sources that are programs, not publications."""

NAMES_A_SOURCE: Final = re.compile(
    r"\b(IEC(?: TS| TR)? \d|IEEE|NEC|BS \d|EN \d|UL \d|ICEA|AS/NZS|CSA|Kersting|Dwight|MIL-HDBK"
    r"|textbook|handbook|ngspice|from memory|one-source|[Cc]onfirmed|common practice)"
)
"""What looks like a source in a test file."""

_WORDS: Final = "looks at words: what is said, not at a number"
_TOLD: Final = (
    "looks at verdicts: what is found, where and how severe; the numbers behind them are compared "
    "in `tests/catalog`, `tests/rules/test_sizes.py` and the tables and sizes of `tests/rules/iec`"
)
_PART: Final = "holds what other tests compare"
_HAND: Final = (
    "sums by hand in the test; the published numbers that they begin with are compared elsewhere "
    "on this page"
)
LEFT_OUT: Final[Mapping[str, str]] = {
    "tests/catalog/reference.py": _PART,
    "tests/iec_sites.py": _PART,
    "tests/conftest.py": "finds the program ngspice",
    "tests/network/ngspice.py": _PART,
    "tests/rules/iec/reference.py": _PART,
    "tests/plan/whole.py": _PART,
    "tests/studies/sites.py": _PART,
    "tests/studies/test_measuring_iec.py": "its limits are those of `test_disconnection.py`",
    "tests/studies/test_protective.py": "its factors and energies are compared in "
    "`tests/rules/iec` and `tests/devices`",
    "tests/test_against_ngspice.py": "three of the random sites; the run of 500 is `python "
    "scripts/against_ngspice.py --sites 500`",
    "tests/cli/test_site_commands.py": "that ngspice reads the netlist; the volts are compared in "
    "`tests/network`",
    "tests/devices/test_device_settings.py": _WORDS,
    "tests/devices/test_electronic.py": "tolerances that are common practice alone, and ours",
    "tests/site/test_earthing.py": _WORDS,
    "tests/test_docs.py": "the documentation itself",
    "tests/test_docs_run.py": "the documentation itself",
    "tests/test_project.py": "the project itself",
    "tests/test_outside.py": "this page itself",
    "tests/devices/test_told.py": _WORDS,
    "tests/safety/test_answers.py": "every field of single answers; the limits are compared in the "
    "other tests of `tests/safety`",
    "tests/second/": "a second, simpler implementation that judges the first; its tables are those "
    "of `tests/reference`",
    "tests/studies/defects/test_catalogue.py": _HAND,
    "tests/studies/defects/test_loops.py": _HAND,
    "tests/studies/test_fault_table.py": "its energies and limits are compared in `tests/devices` "
    "and `tests/safety`",
    "tests/studies/test_earth_tests.py": _HAND,
    "tests/studies/test_lengths.py": _HAND,
    "tests/studies/test_points.py": _HAND,
    "tests/studies/test_single_answers.py": _HAND,
    "tests/studies/test_small_parts.py": _HAND,
    "tests/cli/": "prints what other tests compare",
    "tests/draw/": _WORDS,
    "tests/earth/test_edges.py": _HAND,
    "tests/exchange/": _WORDS,
    "tests/explain/": _WORDS,
    "tests/page/": "shows what other tests compare",
    "tests/papers/": "prints what other tests compare",
    "tests/plan/": _TOLD,
    "tests/rules/": _TOLD,
    "tests/stories/": "whole stories: verdicts and words",
    "tests/studies/hunt/": "prices of defects by common practice: a weight, no number to meet",
}
"""Why a test file that names a source is not on the page; the longest name that fits counts."""


@dataclass(frozen=True, slots=True)
class Row:
    """One comparison.

    Attributes:
        test: File and function.
        case: Which of its cases.
        source: Where the number is from.
        status: How sure it is.
        published: The number from outside.
        ours: Our answer.
        unit: Of both.
        difference: Between them, as a part of the published one; none where it has no size.
        within: What counts as agreement.
    """

    test: str
    case: str
    source: str
    status: str
    published: str
    ours: str
    unit: str
    difference: float | None
    within: str

    @property
    def program(self) -> bool:
        """Whether another program gave the number."""
        return self.source.startswith(PROGRAMS)

    @property
    def topic(self) -> str:
        """Key of `TOPICS`."""
        if self.program:
            return "other programs"
        folder = self.test.removeprefix("tests/").rpartition("/")[0]
        return folder if folder in TOPICS else folder.partition("/")[0]


# --- gathering ---------------------------------------------------------------------------------


def number(value: object) -> str:
    """Return a number as it is shown, and a text as it is."""
    if not isinstance(value, int | float):
        return str(value)
    return f"{value:.5g}"


def gathered(report: Path) -> list[Row]:
    """Return what the tests of a report wrote down, in the order of the tests."""
    found: list[tuple[str, int, Row]] = []
    # Our own report, made a moment ago.
    for one in ET.parse(report).iter("property"):
        if one.get("name") != PROPERTY:
            continue
        said: dict[str, Any] = json.loads(one.get("value", ""))
        gap = said["difference"]
        row = Row(
            test=said["test"],
            case=said["case"],
            source=said["source"],
            status=said["status"],
            published=number(said["published"]),
            ours=number(said["ours"]),
            unit=said["unit"] or "",
            difference=None if gap is None else 0.0 if gap < 1e-9 else float(f"{gap:.2g}"),
            within=said["within"],
        )
        found.append((said["test"].partition("::")[0], said["place"], row))
    found.sort(key=lambda item: item[:2])
    return [row for *_, row in found]


def run(workers: int, folder: Path) -> list[Row]:
    """Run the marked tests and return what they compared.

    Raises:
        ClickException: one of them fails.
    """
    report = folder / "outside.xml"
    command = [
        sys.executable, "-m", "pytest", "-q", "-n", str(workers), "-m", "outside",
        f"--junitxml={report}", "tests",
    ]  # fmt: skip
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode or "skipped" in done.stdout.splitlines()[-1]:
        raise click.ClickException(f"the tests don't all pass:\n{done.stdout[-3000:]}")
    return gathered(report)


# --- the list ----------------------------------------------------------------------------------


def write_list(rows: Sequence[Row], path: Path) -> None:
    """Write every comparison."""
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(COLUMNS)
        for row in rows:
            gap = "" if row.difference is None else f"{row.difference:g}"
            out.writerow(
                [row.test.removeprefix("tests/"), row.case, row.source, row.status, row.published,
                 row.ours, row.unit, gap, row.within]
            )  # fmt: skip


def read_list(path: Path = LIST) -> list[Row]:
    """Return every comparison of the list."""
    with path.open(encoding="utf-8", newline="") as file:
        return [
            Row(
                test="tests/" + one["test"],
                case=one["case"],
                source=one["source"],
                status=one["status"],
                published=one["published"],
                ours=one["ours"],
                unit=one["unit"],
                difference=float(one["difference"]) if one["difference"] else None,
                within=one["within"],
            )
            for one in csv.DictReader(file)
        ]


# --- the page ----------------------------------------------------------------------------------

_HEAD: Final = """# Every value from outside

Each number below comes from outside the project: a published table or example, a reading that
somebody published, or a program that others wrote. A test compares our answer with it each time the
tests run, and this page is made of what those tests compared (`scripts/make_validation.py`); a test
fails where one of them is missing here. [How it is checked](validation.md) says what the words of
the column "How sure" mean, and what rests on memory.

"Apart" is the difference as a part of the published number; "none" is less than 1e-9 of it.

Numbers only: no standard's wording is here, and none is needed to check them. The code adopted
where you work decides, not this list.
"""


_ACRONYMS: Final = re.compile(
    r"\b(iec|nec|bs|en|as nzs|csa|icea|pme|egc|emt|gfci|rcd|mcb|gmr|awg|dc|tn c s|tt|[a-z]\d\d)\b"
)


def percent(part: float | None) -> str:
    """Return a difference in words."""
    if part is None:
        return ""
    if part == 0:
        return "none"
    if part < 1e-6:
        return f"under 1e{math.ceil(math.log10(part)):d}"
    return f"{100 * part:.2g} %"


def _named(test: str) -> str:
    words = test.rpartition("::")[2].removeprefix("test_").replace("_", " ")
    return _ACRONYMS.sub(lambda match: match[0].upper(), words)


def _worst(rows: Sequence[Row]) -> Row:
    return max(rows, key=lambda row: -1.0 if row.difference is None else row.difference)


def _told(rows: Sequence[Row]) -> Iterator[list[str]]:
    """Return the lines of one test and source: each comparison, or many in one."""
    if len(rows) <= FEW:
        for row in rows:
            yield _line(row, f"{_named(row.test)}{f' ({row.case})' if row.case else ''}", "")
        return
    worst = _worst(rows)
    gaps = [row.difference for row in rows if row.difference is not None]
    if not gaps or max(gaps) == 0:
        same = "all agree" if not gaps and any(r.within != "equal" for r in rows) else "all equal"
        line = _line(rows[0], _named(rows[0].test), f"{len(rows)}, {same}; as")
        if same == "all equal":
            line[5] = "none"
    else:
        line = _line(worst, _named(worst.test), f"{len(rows)}; worst")
    yield line


def _line(row: Row, what: str, count: str) -> list[str]:
    unit = f" {row.unit}" if row.unit and re.match(r"[\d.\-]", row.published) else ""
    published = f"{count} {row.published}{unit}".strip()
    return [row.source, row.status, what, published, row.ours, percent(row.difference), row.within]


def _circuits(rows: Sequence[Row]) -> Iterator[list[str]]:
    """Return a line for each comparison with a program that solves circuits."""
    for source, group in groupby(sorted(rows, key=lambda r: r.source), key=lambda r: r.source):
        these = list(group)
        nodes = [int(r.ours.split()[0]) for r in these if r.ours.endswith("nodes")]
        if not nodes:
            continue
        gap = _worst(these).difference or 0.0
        cases = len({(r.test, r.case) for r in these})
        yield [source, str(cases), str(len(these)), str(sum(nodes)), str(max(nodes)),
               percent(gap), these[0].within]  # fmt: skip


def page(rows: Sequence[Row]) -> str:
    """Return the page."""
    counts = Counter(row.status for row in rows if not row.program)
    circuits = [r for r in rows if r.ours.endswith(" nodes")]
    values = [r for r in rows if not r.ours.endswith(" nodes")]
    sources = {row.source for row in rows}
    tests = {row.test for row in rows}
    nodes = sum(int(r.ours.split()[0]) for r in circuits)
    parts = [
        _HEAD,
        f"**{len(values)} values** compared and **{len(circuits)} circuits** of together {nodes} "
        f"nodes, from {len(sources)} sources, by {len(tests)} tests in "
        f"{len({t.partition('::')[0] for t in tests})} files. One value may be compared several "
        "times, in each edition of the rules or for each role of a conductor. Every comparison by "
        "itself: [outside.csv](outside.csv).\n",
        table(
            ("How sure", "Values"),
            [[status, str(counts[status])] for status in STATUSES if counts[status]],
        ),
        "\nTogether with what other programs gave, below. Where a test has more than "
        f"{FEW} comparisons with one source, the line gives their number and the one that lies "
        "farthest apart.\n",
    ]
    for topic, heading in TOPICS.items():
        these = [row for row in values if row.topic == topic]
        if topic == "other programs":
            parts.append(f"## {heading}\n")
            parts.append(
                table(
                    ("Program", "Tests", "Circuits", "Nodes", "Largest", "Farthest apart",
                     "Agreement is"),
                    list(_circuits(circuits)),
                )
            )  # fmt: skip
            parts.append("\nWhat other programs gave as single values:\n")
        elif these:
            parts.append(f"## {heading}\n")
        if not these:
            continue
        lines = [line for group in _gathered(these) for line in _told(group)]
        head = ("Source", "How sure", "What", "Published", "Ours", "Apart", "Agreement is")
        parts.append(table(head, lines))
        parts.append("")
    parts.append("## Left out\n")
    parts.append("Test files that name a source and compare no number with it:\n")
    left = [[f"`{name}`", reason] for name, reason in left_out().items()]
    parts.append(table(("Files", "Why"), left))
    return "\n".join(parts) + "\n"


def _gathered(rows: Sequence[Row]) -> Iterator[list[Row]]:
    """Return rows of one test, source and status together, whatever stands between them."""
    kept: dict[tuple[str, str, str], list[Row]] = {}
    for row in rows:
        kept.setdefault((row.test, row.source, row.status), []).append(row)
    yield from kept.values()


# --- is it fresh -------------------------------------------------------------------------------


@cache
def marked() -> dict[str, list[str]]:
    """Return every marked test function of the test files with the sources it names."""
    found: dict[str, list[str]] = {}
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        where = path.relative_to(ROOT).as_posix()
        for name, node in _functions(ast.parse(path.read_text(encoding="utf-8"))):
            for mark in node.decorator_list:
                if isinstance(mark, ast.Call) and getattr(mark.func, "id", "") == "outside":
                    source = ast.literal_eval(mark.args[0])
                    values = [
                        ast.literal_eval(word.value)
                        for part in ast.walk(node)
                        if isinstance(part, ast.Call)
                        and getattr(part.func, "id", "") in {"published", "between"}
                        for word in part.keywords
                        if word.arg == "source"
                    ]
                    found[f"{where}::{name}"] = [source, *values]
    return found


def _functions(tree: ast.Module | ast.ClassDef) -> Iterator[tuple[str, ast.FunctionDef]]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            yield node.name, node
        elif isinstance(node, ast.ClassDef):
            for name, inner in _functions(node):
                yield f"{node.name}::{name}", inner


@cache
def unmarked() -> list[str]:
    """Return the test files that name a source and compare nothing with it."""
    with_marks = {name.partition("::")[0] for name in marked()}
    return [
        name
        for path in sorted((ROOT / "tests").rglob("*.py"))
        if (name := path.relative_to(ROOT).as_posix()) not in {*with_marks, "tests/outside.py"}
        and NAMES_A_SOURCE.search(path.read_text(encoding="utf-8"))
    ]


def reason(name: str) -> str | None:
    """Return the key of `LEFT_OUT` that tells why a file is not on the page."""
    fits = [key for key in LEFT_OUT if name == key or (key.endswith("/") and name.startswith(key))]
    return max(fits, key=len, default=None)


def left_out() -> dict[str, str]:
    """Return what is left out and why, as far as it is there."""
    used = {reason(name) for name in unmarked()}
    return {key: text for key, text in LEFT_OUT.items() if key in used}


def stale() -> list[str]:
    """Return what is wrong with the page and the list, without running any test."""
    rows = read_list()
    wrong = []
    wanted, there = marked(), {row.test: set[str]() for row in rows}
    for row in rows:
        there[row.test].add(row.source)
    wrong += [f"not in outside.csv: {name}" for name in wanted if name not in there]
    wrong += [f"no such test: {name}" for name in there if name not in wanted]
    wrong += [
        f"another source in outside.csv: {name}"
        for name, sources in wanted.items()
        if name in there and not there[name] <= set(sources)
    ]
    wrong += [f"names a source, says no reason: {n}" for n in unmarked() if reason(n) is None]
    if PAGE.read_text(encoding="utf-8") != page(rows):
        wrong.append("docs/outside.md is not made of docs/outside.csv")
    return wrong


@click.command()
@click.option("--check", is_flag=True, help="Only say what is stale; runs no test.")
@click.option("--workers", default=2, show_default=True, help="Tests that run at a time.")
def main(check: bool, workers: int) -> None:
    """Write docs/outside.md and docs/outside.csv."""
    if not check:
        with tempfile.TemporaryDirectory() as folder:
            rows = run(workers, Path(folder))
        write_list(rows, LIST)
        PAGE.write_text(page(read_list()), encoding="utf-8")
        click.echo(f"{len(rows)} comparisons, {len({r.source for r in rows})} sources")
        return
    wrong = stale()
    for line in wrong:
        click.echo(line)
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
