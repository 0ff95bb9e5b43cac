"""Checks on the project itself: what it ships, what it must not say, and that its guards work."""

import csv
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
import yaml

import bondwright
from tests.programs import require_program

ROOT = Path(__file__).parents[1]
DATA = ROOT / "src" / "bondwright" / "catalog" / "data"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


# --- What the sources may not say -------------------------------------------------------------


def _files_of_the_project() -> list[Path]:
    """Every file that is, or would be, in version control; without git, every file not hidden."""
    git = ["git", "-C", str(ROOT), "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    try:
        listed = subprocess.run(git, capture_output=True, check=True, text=True).stdout
    except (OSError, subprocess.CalledProcessError):
        ours = ("src", "tests", "docs", "scripts", "examples", ".ci")
        found = [*ROOT.glob("*"), *(path for top in ours for path in (ROOT / top).rglob("*"))]
        return sorted(p for p in set(found) if p.is_file() and "__pycache__" not in p.parts)
    return sorted(ROOT / name for name in listed.split("\0") if name and (ROOT / name).is_file())


FILES = _files_of_the_project()

# Spelled in pieces, so that this file passes its own check.
_TOP_FOLDERS = "|".join(["wo" + "rk", "t" + "mp", "ro" + "ot", "ho" + "me", "Us" + "ers"])
FORBIDDEN = {
    "path on one machine": rf"(?<![\w.~*-])/(?:{_TOP_FOLDERS})(?:/|\b(?=[\s'\"`),:;]|$))",
    "folder outside": r"\bsha" + r"red/|\.lib" + r"rary\b",
    "document outside": r"\bse" + r"ed doc" + r"ument",
    "package host": r"\bpy" + r"pi\.org|\bpython" + r"hosted\.|\bregistry\.n" + r"pm",
    "numbered issue": r"\bissue" + r"s?\s+#?\d",
    "who wrote it": r"\b(?:coding|AI|sub)[ -]?age" + r"nts?\b|\blanguage mo" + r"del\b",
}


@pytest.mark.parametrize(
    ("kind", "planted"),
    [
        ("path on one machine", "see '/wo" + "rk/main/x'"),
        ("path on one machine", "cd /t" + "mp"),
        ("path on one machine", "PATH=/ro" + "ot/bin"),
        ("path on one machine", "file:///ho" + "me/someone/x"),
        ("folder outside", "in ../sha" + "red/x.md"),
        ("folder outside", ".lib" + "rary/x"),
        ("document outside", "as the Se" + "ed document says"),
        ("package host", "https://py" + "pi.org/simple"),
        ("package host", "https://files.python" + "hosted.org/x"),
        ("numbered issue", "see issue" + " 2"),
        ("numbered issue", "Issue" + " #14"),
        ("who wrote it", "a sub" + "agent"),
    ],
)
def test_forbidden_words_are_recognised(kind: str, planted: str) -> None:
    assert re.search(FORBIDDEN[kind], planted, re.IGNORECASE)


@pytest.mark.parametrize(
    "fine",
    ["network/tree.py", "src/work/x", "https://example.org/home/", "#12 AWG", "~/x", "a/tmpl"],
)
def test_ordinary_words_are_left_alone(fine: str) -> None:
    assert [k for k, p in FORBIDDEN.items() if re.search(p, fine, re.IGNORECASE)] == []


def test_no_source_names_a_machine_or_a_workplace() -> None:
    read = 0
    hits = []
    for path in FILES:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # a picture or a font
        read += 1
        name = path.relative_to(ROOT).as_posix()
        for number, line in enumerate([name, *text.splitlines()]):
            hits += [
                f"{name}:{number}: {kind}: {line.strip()[:100]}"
                for kind, pattern in FORBIDDEN.items()
                if re.search(pattern, line, re.IGNORECASE)
            ]
    assert read > 20, "the list of files to read is too short to be true"
    assert hits == []


# --- Links ------------------------------------------------------------------------------------


def _links(page: Path) -> Iterator[str]:
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if not re.match(r"[a-z]+:", target):
            yield target


PAGES = [p for p in FILES if p.suffix == ".md"]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    broken = [t for t in _links(page) if not (page.parent / t.partition("#")[0]).exists()]
    assert broken == []


def test_the_pages_link_to_each_other() -> None:
    names = {p.relative_to(ROOT).as_posix() for p in PAGES}
    assert {"README.md", "CONTRIBUTING.md", "CHANGELOG.md", "docs/index.md"} <= names
    assert len(list(_links(ROOT / "docs" / "index.md"))) >= 4


# --- Data files -------------------------------------------------------------------------------

DATA_FILES = sorted(p for p in DATA.rglob("*") if p.is_file() and p.suffix not in {".py", ".pyc"})
STATUS_WORD = re.compile(r"\b(?:confirmed|one-source|memory|(?:re)?computed|common practice)\b")


def _header(text: str) -> str:
    """The comment lines a data file begins with."""
    lines = []
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            break
        lines.append(line.lstrip("# "))
    return "\n".join(lines)


def _csv_lacks(text: str) -> list[str]:
    """What a table fails to state; "status: per row" moves the status into the rows."""
    header = _header(text)
    lacks = [w for w in ("source", "status") if not re.search(rf"^{w}: \S", header, re.MULTILINE)]
    if not re.search(r"^status: per ", header, re.MULTILINE):
        return lacks if STATUS_WORD.search(header) else [*lacks, "a status word"]
    rows = list(csv.DictReader(line for line in text.splitlines() if line[:1] not in {"", "#"}))
    columns = [name for name in rows[0] if name.startswith("status")] if rows else []
    if not columns:
        lacks.append("a status column")
    return lacks + [
        f"a status word in row {number}, {name}"
        for number, row in enumerate(rows, start=1)
        for name in columns
        if not STATUS_WORD.match(row[name] or "")
    ]


def _yaml_lacks(text: str) -> list[str]:
    """What a fact file fails to state: in its header for all of it, or in each of its blocks."""
    header = _header(text)
    lacks = [] if header.strip() else ["a header"]
    if re.search(r"^source: \S", header, re.MULTILINE) and STATUS_WORD.search(header):
        return lacks
    blocks = yaml.safe_load(text)
    for name, block in blocks.items():
        if not (isinstance(block, dict) and block.get("source")):
            lacks.append(f"{name}: a source")
        elif not STATUS_WORD.search(str(block.get("status", ""))):
            lacks.append(f"{name}: a status word")
    return lacks


LACKS = {".csv": _csv_lacks, ".yaml": _yaml_lacks}


def test_there_are_data_files() -> None:
    assert len(DATA_FILES) >= 5


@pytest.mark.parametrize("path", DATA_FILES, ids=lambda p: p.relative_to(DATA).as_posix())
def test_data_file_names_its_source_and_status(path: Path) -> None:
    assert path.suffix in LACKS, "facts are CSV or YAML, which have comments"
    assert LACKS[path.suffix](path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("suffix", "text", "lacks"),
    [
        (".csv", "# source: a handbook\n# status: confirmed\nsize\n1\n", []),
        (".csv", "# source: a handbook\n# status: per row\nsize,status\n1,memory\n", []),
        (".csv", "# a table\n# status: confirmed\nsize\n1\n", ["source"]),
        (".csv", "# source: a handbook\n# status: fine\nsize\n1\n", ["a status word"]),
        (".csv", "# source: x\n# status: per row\nsize\n1\n", ["a status column"]),
        (
            ".csv",
            "# source: x\n# status: per row\nsize,status\n1,memory\n2,\n",
            ["a status word in row 2, status"],
        ),
        (".csv", "size,source\n1,confirmed\n", ["source", "status", "a status word"]),
        (".yaml", "# source: a handbook\n# status: one-source\nk: 1\n", []),
        (".yaml", "# facts\na: {source: x, status: memory}\n", []),
        (".yaml", "# facts\na: {source: x}\nb: 2\n", ["a: a status word", "b: a source"]),
        (".yaml", "a: {source: x, status: memory}\n", ["a header"]),
    ],
)
def test_a_fact_without_origin_is_noticed(suffix: str, text: str, lacks: list[str]) -> None:
    assert LACKS[suffix](text) == lacks


# --- What is shipped --------------------------------------------------------------------------


def test_package_is_typed() -> None:
    assert (Path(bondwright.__file__).parent / "py.typed").is_file()


def test_licence_is_the_whole_apache_text() -> None:
    # The sections and the appendix of the Apache License 2.0, counted on its published text.
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert PROJECT["project"]["license"] == "Apache-2.0"
    assert re.findall(r"^   (\d)\. ", text, re.MULTILINE) == list("123456789")
    assert "END OF TERMS AND CONDITIONS" in text
    assert "APPENDIX: How to apply the Apache License to your work." in text
    for name in PROJECT["project"]["license-files"]:
        assert (ROOT / name).is_file()


def _canonical(name: str) -> str:
    """A distribution's name as PEP 503 normalises it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_lock_has_every_dependency_with_hashes_and_no_address() -> None:
    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    blocks = re.split(r"\n(?=[A-Za-z0-9])", lock.strip())
    locked = {_canonical(re.split(r"==", block)[0]): block for block in blocks}
    project = PROJECT["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    names = {_canonical(re.split(r"[<>=!~;\[ ]", want)[0]) for want in wanted}
    assert len(names) == len(wanted)
    assert names - locked.keys() == set()
    assert [name for name, block in locked.items() if "--hash=sha256:" not in block] == []
    assert "://" not in lock


SCRIPTS = sorted([ROOT / ".ci" / "run", *(ROOT / "scripts").glob("*.sh")])


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_script_runs_strictly(script: Path) -> None:
    assert os.access(script, os.X_OK)
    assert "\nset -euo pipefail\n" in script.read_text(encoding="utf-8")
    subprocess.run(["bash", "-n", str(script)], check=True)


def _run_system_packages(tmp_path: Path, *present: str, ci: bool) -> tuple[int, str]:
    """Run the script as nobody's machine: only bash's basics, `present`, and no apt-get."""
    for tool in ("bash", "dirname", "cat", "id"):
        real = shutil.which(tool)
        assert real is not None
        (tmp_path / tool).symlink_to(real)
    for name in present:
        (tmp_path / name).write_text("#!/bin/sh\n", encoding="utf-8")
        (tmp_path / name).chmod(0o755)
    done = subprocess.run(
        [str(tmp_path / "bash"), str(ROOT / "scripts" / "system-packages.sh")],
        env={
            "PATH": str(tmp_path),
            "POSTGRESQL_HOMES": str(tmp_path),
            "CI": "true" if ci else "",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def test_present_programs_pass_without_a_word(tmp_path: Path) -> None:
    assert _run_system_packages(tmp_path, "ngspice", "chromium", "initdb", ci=True) == (0, "")


def test_the_server_may_stand_off_the_path(tmp_path: Path) -> None:
    home = tmp_path / "15" / "bin"
    home.mkdir(parents=True)
    (home / "initdb").write_text("#!/bin/sh\n", encoding="utf-8")
    (home / "initdb").chmod(0o755)
    assert _run_system_packages(tmp_path, "ngspice", "chromium", ci=True) == (0, "")


@pytest.mark.parametrize(("ci", "code"), [(False, 0), (True, 1)])
def test_missing_program_is_named_loudly(tmp_path: Path, ci: bool, code: int) -> None:
    got, said = _run_system_packages(tmp_path, "chromium-browser", ci=ci)
    assert got == code
    assert "NOT INSTALLED: ngspice postgresql\n" in said
    assert "SKIPPED" in said


def test_fixture_finds_the_first_program_that_is_there(tmp_path: Path) -> None:
    (tmp_path / "second").write_text("#!/bin/sh\n", encoding="utf-8")
    (tmp_path / "second").chmod(0o755)
    env = {"PATH": str(tmp_path)}
    assert require_program("first", "second", env=env) == tmp_path / "second"


def test_missing_program_skips_at_home_and_fails_in_ci(tmp_path: Path) -> None:
    with pytest.raises(pytest.skip.Exception, match="NGSPICE IS NOT INSTALLED"):
        require_program("ngspice", env={"PATH": str(tmp_path)})
    with pytest.raises(pytest.fail.Exception, match="NGSPICE IS NOT INSTALLED"):
        require_program("ngspice", env={"PATH": str(tmp_path), "CI": "true"})


# --- Changelog --------------------------------------------------------------------------------


def _changelog_check() -> ModuleType:
    path = ROOT / "scripts" / "check_changelog.py"
    spec = importlib.util.spec_from_file_location("check_changelog", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_changelog_check_accepts_this_version() -> None:
    assert _changelog_check().main() == 0


@pytest.mark.parametrize(
    ("version", "found"),
    [("1.2.3", "- News."), ("1.2.0", ""), ("1.2", None), ("1x2.3", None), ("9.9.9", None)],
)
def test_changelog_section(version: str, found: str | None) -> None:
    log = "# Changelog\n\n## [1.2.3] - Unreleased\n\n- News.\n\n## [1.2.0] - 2020-02-03\n"
    assert _changelog_check().section_of(version, log) == found


# --- Start-up ---------------------------------------------------------------------------------

HEAVY = ("numpy", "scipy", "pydantic")


def _loaded_after(code: str) -> set[str]:
    """The top-level modules that a fresh interpreter has loaded after running some code."""
    code += (
        "\nimport sys; print('\\n' + ' '.join({name.partition('.')[0] for name in sys.modules}))"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    done = subprocess.run(
        [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.splitlines()[-1].split())


@pytest.mark.parametrize("name", HEAVY)
def test_heavy_imports_are_seen(name: str) -> None:
    assert name in _loaded_after(f"import {name}")


def test_package_imports_nothing_but_itself() -> None:
    added = _loaded_after("import bondwright") - _loaded_after("pass")
    assert added == {"bondwright"}


def test_help_starts_without_the_heavy_libraries() -> None:
    loaded = _loaded_after(
        "from bondwright.cli import main\n"
        "from click.testing import CliRunner\n"
        "result = CliRunner().invoke(main, ['--help'])\n"
        "assert result.exit_code == 0 and 'Usage' in result.output, result.output"
    )
    assert "click" in loaded
    assert loaded & set(HEAVY) == set()


# --- Import directions ------------------------------------------------------------------------


def _contracts_hold(tmp_path: Path, modules: dict[str, str]) -> bool:
    """Whether the project's contracts hold for a package of these modules."""
    package = tmp_path / "bondwright"
    package.mkdir()
    (package / "__init__.py").touch()
    # The contract that forbids needs its modules to be there.
    named = {"network": "", "devices": "", "safety": ""}
    for name, text in {**named, **modules}.items():
        (package / f"{name}.py").write_text(text, encoding="utf-8")
    config = tmp_path / "pyproject.toml"
    shutil.copy(ROOT / "pyproject.toml", config)
    code = (
        "import sys; from importlinter.cli import lint_imports; "
        "sys.exit(lint_imports(config_filename='pyproject.toml', no_cache=True))"
    )
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Contracts:" in done.stdout, done.stdout + done.stderr
    return done.returncode == 0


@pytest.mark.parametrize(
    ("importer", "imported"),
    [
        ("cli", "papers"),
        ("studies", "devices"),
        ("studies", "network"),
        ("devices", "catalog"),
        ("safety", "units"),
        ("network", "site"),
    ],
)
def test_downward_import_is_allowed(tmp_path: Path, importer: str, imported: str) -> None:
    modules = {importer: f"import bondwright.{imported}\n", imported: ""}
    assert _contracts_hold(tmp_path, modules)


@pytest.mark.parametrize(
    ("importer", "imported"),
    [
        ("units", "catalog"),
        ("rules", "plan"),
        ("network", "devices"),
        ("devices", "network"),
        ("safety", "site"),
        ("safety", "devices"),
        ("earth", "safety"),
        ("draw", "papers"),
    ],
)
def test_upward_or_sideways_import_is_caught(tmp_path: Path, importer: str, imported: str) -> None:
    modules = {importer: f"import bondwright.{imported}\n", imported: ""}
    assert not _contracts_hold(tmp_path, modules)


def test_module_without_a_layer_is_caught(tmp_path: Path) -> None:
    assert not _contracts_hold(tmp_path, {"units": "", "odds_and_ends": ""})
