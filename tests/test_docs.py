"""The pages say what the code does: made parts are fresh, examples run, numbers are those computed.

``python scripts/make_docs.py`` renews the made parts.
"""

from __future__ import annotations

import ast
import inspect
import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest
import yaml
from click.testing import CliRunner, Result
from pydantic import TypeAdapter

from bondwright.cli import main
from bondwright.explain.cautions import CAUTIONS
from bondwright.network.build import Network, build
from bondwright.papers import package, work_papers
from bondwright.papers.data import FORMAT, VERSION
from bondwright.papers.data import schema as results_schema
from bondwright.plan.build import plan
from bondwright.rules.editions import catalogue
from bondwright.rules.iec.ruleset import catalogue as iec_catalogue
from bondwright.site import Site, SiteError, load, read
from bondwright.site.shape import Shape
from bondwright.studies.faults import Fault, FaultKind, FaultResult, study_fault
from bondwright.studies.whatif import tie_added
from scripts import make_api, make_docs, run_docs
from tests.network import test_ngspice

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
README = ROOT / "README.md"
PAGES = [README, *sorted(DOCS.glob("*.md"))]
DEMO = ROOT / "examples" / "harrow-creek-farmhouse.yaml"


def _text(page: str) -> str:
    return (DOCS / page).read_text(encoding="utf-8")


def _run(*arguments: str) -> Result:
    return CliRunner(env={"COLUMNS": "100"}).invoke(main, [str(word) for word in arguments])


# --- made parts -------------------------------------------------------------------------------


@pytest.mark.parametrize("page", sorted(DOCS.glob("*.md")), ids=lambda p: p.name)
def test_page_is_fresh(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert make_docs.renewed(text) == text, "stale: run python scripts/make_docs.py"


def test_every_made_part_stands_on_one_page() -> None:
    found = [part for page in PAGES for part in make_docs.parts_in(page.read_text("utf-8"))]
    assert sorted(found) == sorted(make_docs.PARTS)


def test_a_stale_part_is_noticed() -> None:
    text = _text("site-file.md")
    old = text.replace("| `soil` |", "| `ground` |")
    assert old != text
    assert make_docs.renewed(old) == text


def test_check_names_stale_pages_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(make_docs, "DOCS", tmp_path)
    page = tmp_path / "cautions.md"
    stale = "# Cautions\n\n<!-- made: cautions -->\n1. Relax.\n<!-- end: cautions -->\n"
    page.write_text(stale, encoding="utf-8")
    assert make_docs.main(["--check"]) == 1
    assert page.read_text(encoding="utf-8") == stale
    assert capsys.readouterr().out == "stale: docs/cautions.md\n"
    assert make_docs.main([]) == 0
    assert CAUTIONS[0] in page.read_text(encoding="utf-8")
    assert make_docs.main(["--check"]) == 0


def test_cautions_page_has_every_caution_in_order() -> None:
    listed = re.findall(r"^\d+\. (.+)$", _text("cautions.md"), re.MULTILINE)
    assert listed == list(CAUTIONS)


# --- the site file ----------------------------------------------------------------------------

MODELS = make_docs.models()


def _documented(name: str) -> list[str]:
    part = re.search(
        rf"<!-- made: keys of {name} -->\n(.*?)<!-- end", _text("site-file.md"), re.DOTALL
    )
    assert part is not None, f"no table for {name}"
    return re.findall(r"^\| `([^`]+)` \|", part[1], re.MULTILINE)


def test_every_model_of_the_site_file_has_a_section() -> None:
    assert set(make_docs.SECTIONS) == set(MODELS)


@pytest.mark.parametrize("name", MODELS)
def test_keys_documented_are_the_keys_of_the_model(name: str) -> None:
    written = [info.alias or key for key, info in MODELS[name].model.model_fields.items()]  # type: ignore[union-attr]
    assert _documented(name) == written


def _key(name: str, key: str) -> tuple[Shape, Any]:
    shape = MODELS[name]
    assert shape.model is not None
    found = [i for k, i in shape.model.model_fields.items() if (i.alias or k) == key]
    assert found, f"{name} has no key {key!r}"
    return shape, found[0]


@pytest.mark.parametrize(("name", "key"), make_docs.left_out())
def test_what_is_said_of_leaving_out_a_key_is_of_one_that_can_be(name: str, key: str) -> None:
    _, info = _key(name, key)
    assert info.get_default() is None


@pytest.mark.parametrize(("name", "key"), make_docs.EXAMPLES)
def test_example_of_a_key_is_a_value_for_it(name: str, key: str) -> None:
    _, info = _key(name, key)
    kind: Any = TypeAdapter(info.rebuild_annotation())
    kind.validate_python(make_docs.EXAMPLES[name, key], context={"from_file": True})


BLOCK = re.compile(r"^```(?P<info>[^\n]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
EXAMPLES = [
    (f"{page.name}:{page.read_text('utf-8')[: match.start()].count(chr(10)) + 1}", match["body"])
    for page in PAGES
    for match in BLOCK.finditer(page.read_text(encoding="utf-8"))
    if match["info"] == "yaml"
]
FULL = [(where, body) for where, body in EXAMPLES if re.search(r"^site:", body, re.MULTILINE)]
BASE = next(body for where, body in FULL if where.startswith("site-file.md"))
"""The house that the fragments of the pages are parts of."""
FRAGMENTS = [(where, body) for where, body in EXAMPLES if (where, body) not in FULL]


def test_examples_are_found() -> None:
    assert len(FULL) >= 1
    assert len(FRAGMENTS) >= 6


@pytest.mark.parametrize(("where", "body"), FULL)
def test_full_example_is_a_good_file(where: str, body: str) -> None:
    assert plan(read(body, where)).findings == ()


def _merged(base: str, fragment: str) -> str:
    """Put a fragment's entries into a good file, in place of those with the same ids."""
    whole: Any = yaml.compose(base, yaml.SafeLoader)
    part: Any = yaml.compose(fragment, yaml.SafeLoader)
    tables = {key.value: value for key, value in whole.value}
    for key, value in part.value:
        if key.value not in tables:
            whole.value.append((key, value))
            continue
        new = {entry.value for entry, _ in value.value}
        table = tables[key.value]
        table.value = [pair for pair in table.value if pair[0].value not in new] + value.value
    text = yaml.serialize(whole, Dumper=yaml.SafeDumper)
    assert isinstance(text, str)
    return text


@pytest.mark.parametrize(("where", "body"), FRAGMENTS)
def test_fragment_fits_into_a_good_file(where: str, body: str) -> None:
    site = read(_merged(BASE, body), where)
    for table, entries in yaml.load(body, yaml.BaseLoader).items():
        found = getattr(site, table.replace(" ", "_"))
        assert set(entries) <= set(found if isinstance(found, dict) else found.model_dump())
    plan(site)


def test_a_bad_fragment_is_noticed() -> None:
    with pytest.raises(SiteError, match="egc"):
        read(_merged(BASE, "runs:\n  shed feeder: {egd: raceway}\n"))


def test_the_errors_shown_are_the_errors_given() -> None:
    text = _text("site-file.md")
    (wrong,) = (m for m in BLOCK.finditer(text) if m["info"] == "yaml wrong")
    shown = next(m for m in BLOCK.finditer(text, wrong.end()) if m["info"] == "text")
    with pytest.raises(SiteError) as error:
        read(wrong["body"], "shed.yaml")
    assert "\n".join(str(problem) for problem in error.value.problems) == shown["body"].strip()


def test_plan_adds_ties_and_as_found_does_not() -> None:
    """As docs/site-file.md says: left out, empty, or listing others."""
    text = BASE
    others = "\nties:\n  meter bond: {at: meter, by: bus}\n"
    for given in ("", "\nties: {}\n", others):
        ties = plan(read(text + given)).ties
        assert {tie.at for tie in ties} == {"meter", "main panel"}
    found = text.replace("describes: plan", "describes: as found")
    assert plan(read(found)).ties == ()
    assert {tie.at for tie in plan(read(found + others)).ties} == {"meter"}


# --- the Python interface ----------------------------------------------------------------------


def test_the_python_interface_is_fresh() -> None:
    assert make_api.main(["--check"]) == 0, "stale: run python scripts/make_api.py"


def test_every_layer_is_told() -> None:
    folders = {
        path.stem
        for path in (ROOT / "src" / "bondwright").iterdir()
        if not path.name.startswith("_") and (path.is_dir() or path.suffix == ".py")
    }
    assert set(make_api.LAYERS) == folders - {"cli", "page"}


# --- the rules --------------------------------------------------------------------------------


def test_every_rule_says_what_is_done_about_it() -> None:
    assert set(make_docs.DOES) == set(catalogue())


def _finding_ids() -> Iterator[str]:
    """The rule named by every finding that any module makes, where it is named on the spot."""
    for path in (ROOT / "src" / "bondwright").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            if node.func.id == "Finding" and node.args and isinstance(node.args[0], ast.Constant):
                yield str(node.args[0].value)


def test_every_finding_is_on_the_page() -> None:
    made = set(_finding_ids())
    assert len(made) > 25
    known = set(catalogue()) | set(iec_catalogue()) | set(make_docs.STUDY_FINDINGS)
    assert made <= known
    assert set(make_docs.STUDY_FINDINGS) <= made
    assert not set(make_docs.STUDY_FINDINGS) & set(catalogue())


# --- validation -------------------------------------------------------------------------------


def test_the_number_of_networks_compared_with_ngspice() -> None:
    marks = test_ngspice.test_meshed_networks_with_double_ties.pytestmark  # type: ignore[attr-defined]
    (mark,) = (mark for mark in marks if mark.name == "parametrize")
    seeds = mark.args[1]
    assert f"**ngspice.** {len(seeds)} random meshed networks" in _text("validation.md")
    assert test_ngspice.AGREE == 1e-6


# --- the commands -----------------------------------------------------------------------------


def _formats() -> dict[str, tuple[int, list[str]]]:
    rows = re.findall(
        r"^\| `(bondwright/\w+)` \| (\d+) \| .*? \| (.+) \|$", _text("commands.md"), re.MULTILINE
    )
    return {
        name: (int(version), re.findall(r"`(\w+)`", keys.partition(":")[0]))
        for name, version, keys in rows
    }


def test_every_format_in_the_code_is_documented() -> None:
    source = "".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "src" / "bondwright").rglob("*.py")
    )
    assert set(re.findall(r'"(bondwright/\w+)"', source)) == set(_formats())


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("bondwright/check", ["check", str(DEMO)]),
        ("bondwright/schedule", ["size", str(DEMO)]),
        ("bondwright/choices", ["choices", str(DEMO), "--about", "EGC pump branch"]),
        ("bondwright/words", ["words", "cpc"]),
        ("bondwright/faults", ["faults", str(DEMO), "--at", "well pump"]),
        ("bondwright/stray", ["stray", str(DEMO)]),
        ("bondwright/problems", ["check", "no such file.yaml"]),
    ],
)
def test_keys_of_a_structure(name: str, arguments: list[str]) -> None:
    said = json.loads(_run(*arguments, "--json").stdout)
    version, keys = _formats()[name]
    assert (said.pop("format"), said.pop("version")) == (name, version)
    assert list(said) == keys


def test_keys_of_the_results() -> None:
    version, keys = _formats()[FORMAT]
    assert version == VERSION
    assert ["format", "version", *keys] == results_schema()["required"]


def test_quick_prints_three_keys() -> None:
    said = json.loads(_run("quick", "egc", "--breaker", "60 A", "--json").stdout)
    assert list(said) == ["answer", "because", "rules"]


def test_the_papers_are_the_files_listed() -> None:
    section = _text("commands.md").partition("## Files that papers writes")[2]
    listed = re.findall(r"^\| `([\w.]+)` \|", section.partition("## JSON")[0], re.MULTILINE)
    source = inspect.getsource(package) + inspect.getsource(work_papers)
    made = re.findall(r'yield \(?\s*"([\w.]+\.\w+)"', source)
    assert listed == made


@pytest.mark.parametrize(
    ("code", "arguments"),
    [
        (0, ["quick", "jumper", "--supply", "3/0 AWG Cu"]),
        (0, ["size", str(DEMO)]),
        (1, ["quick", "jumper", "--supply", "4 x 1000 kcmil Cu", "--material", "Al"]),
        (1, ["stray", str(DEMO), "--with-tie-at", "pump house panel"]),
        (2, ["quick", "egc", "--breaker", "60 ft"]),
        (2, ["check", "no such file.yaml"]),
    ],
)
def test_exit_codes(code: int, arguments: list[str]) -> None:
    assert _run(*arguments).exit_code == code


# --- links ------------------------------------------------------------------------------------


def _slug(heading: str) -> str:
    plain = re.sub(r"[^\w\- ]", "", heading.lower())
    return plain.strip().replace(" ", "-")


def _anchors(page: Path) -> set[str]:
    text = BLOCK.sub("", page.read_text(encoding="utf-8"))
    return {_slug(heading) for heading in re.findall(r"^#+ (.+)$", text, re.MULTILINE)}


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page: Path) -> None:
    text = BLOCK.sub("", page.read_text(encoding="utf-8"))
    broken = []
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        path, _, anchor = target.partition("#")
        to = (page.parent / path).resolve() if path else page
        if not to.exists() or (anchor and anchor not in _anchors(to)):
            broken.append(target)
    assert broken == []


def test_index_links_every_page() -> None:
    linked = set(re.findall(r"\]\(([\w-]+\.md)\)", _text("index.md")))
    assert linked == {page.name for page in DOCS.glob("*.md")} - {"index.md"}


# --- the front page ---------------------------------------------------------------------------

CONSOLE = [
    match["body"]
    for page in PAGES
    if page.name not in run_docs.WALKED  # those are walked by tests/test_docs_run.py
    for match in BLOCK.finditer(page.read_text(encoding="utf-8"))
    if match["info"] == "console"
]


def test_console_examples_are_found() -> None:
    assert len(CONSOLE) >= 1


@pytest.mark.parametrize("body", CONSOLE)
def test_console_example_prints_what_is_shown(body: str) -> None:
    command, _, shown = body.partition("\n")
    program, *arguments = shlex.split(command.removeprefix("$ "))
    assert program == "bondwright"
    assert _run(*arguments).output.strip() == shown.strip()


def _shell_lines() -> list[str]:
    blocks = BLOCK.finditer(README.read_text(encoding="utf-8"))
    lines = [line for m in blocks if m["info"] == "sh" for line in m["body"].splitlines()]
    return [line.partition("#")[0].strip() for line in lines if line.startswith("bondwright ")]


def test_commands_of_the_front_page_exist(tmp_path: Path) -> None:
    """They run in the order shown; papers and page apart (tested where they are made)."""
    lines = _shell_lines()
    assert len(lines) >= 5
    house = tmp_path / "house.yaml"
    for line in lines:
        name, *rest = shlex.split(line)[1:]
        assert name in main.commands
        if name not in {"papers", "serve"}:
            arguments = [str(house) if word == "house.yaml" else word for word in rest]
            assert _run(name, *arguments).exit_code in {0, 1}, line


@pytest.fixture(scope="module")
def demo() -> Site:
    return load(DEMO)


@pytest.fixture(scope="module")
def quiet(demo: Site) -> Network:
    return build(plan(demo), loads=False)


def _pump(network: Network, without: str | None = None) -> FaultResult:
    off = [] if without is None else [network.solver.open_switch(f"tie {without}")]
    fault = Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G")
    return study_fault(network, fault, off)


def _story() -> dict[str, float]:
    """The numbers that the front page tells of the demo."""
    text = " ".join(README.read_text(encoding="utf-8").split())
    number = r"([\d.]+)"
    match = re.search(
        rf"well pump, {number} feet .*?drives {number} A .*? {number} A breaker opens within "
        rf"{number} ms.*?fault drives {number} A .*?stands at {number} V.*?, {number} A of "
        "neutral current runs",
        text,
    )
    assert match is not None, "the front page tells the demo in other words; adapt this test"
    names = ("feet", "current", "breaker", "ms", "without", "volts", "stray")
    return dict(zip(names, map(float, match.groups()), strict=True))


def test_the_demo_on_the_front_page_is_what_is_computed(quiet: Network, demo: Site) -> None:
    story, whole = _story(), _pump(quiet)
    length = sum(demo.runs[run].length for run in quiet.plan.topology.upstream("well pump"))
    length -= demo.runs["service drop"].length + demo.runs["service entrance"].length
    assert length / 0.3048 == pytest.approx(story["feet"], abs=0.5)
    assert whole.current == pytest.approx(story["current"], abs=0.51)
    assert whole.openings[0].rating == f"{story['breaker']:g} A breaker"
    assert whole.clearing * 1e3 == pytest.approx(story["ms"], abs=0.5)
    (tie,) = (t.id for t in quiet.plan.ties if t.at == "farmhouse panel")
    bare = _pump(quiet, tie)
    assert not bare.openings
    assert bare.current == pytest.approx(story["without"], abs=0.051)
    assert bare.live_after == pytest.approx(story["volts"], abs=0.51)


def test_the_second_tie_on_the_front_page_is_what_is_computed(demo: Site) -> None:
    added = tie_added(build(plan(demo)), "pump house panel").after
    on_ground = [c for c in added.currents if c.flow.id == "pump house feeder"]
    assert len(on_ground) == 1
    assert on_ground[0].flow.amperes == pytest.approx(_story()["stray"], abs=0.051)


def test_the_demo_file_is_as_long_as_said() -> None:
    said = re.search(r"has (\d+) lines", README.read_text(encoding="utf-8"))
    assert said is not None
    lines = len(DEMO.read_text(encoding="utf-8").splitlines())
    assert abs(lines - int(said[1])) < 10


def test_every_property_that_is_named_is_tried() -> None:
    page = (DOCS / "properties.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(test_\w+)`", page))
    assert len(named) > 30
    tests = ROOT / "tests"
    there = {
        name
        for path in tests.rglob("test_*.py")
        for name in re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.M)
    }
    assert named <= there
    anywhere = {
        name
        for path in tests.rglob("test_anywhere_*.py")
        for name in re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.M)
    }
    # One of them tries the test's own sum.
    assert anywhere - named == {"test_the_sum_of_our_own_finds_what_is_lost"}


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_every_command_that_is_named_is_there(page: Path) -> None:
    for said in re.findall(r"(?<!`)`bondwright((?: [a-z][a-z-]+)+)", page.read_text("utf-8")):
        here: click.Command = main
        for word in said.split():
            if not isinstance(here, click.Group):
                break
            found = here.get_command(click.Context(here), word)
            assert found is not None, f"bondwright{said}"
            here = found


def test_every_script_that_is_named_is_there() -> None:
    for script in re.findall(r"(?:scripts|benchmarks)[./]\w+", _text("tried.md")):
        assert (ROOT / script.replace(".", "/")).with_suffix(".py").is_file(), script
