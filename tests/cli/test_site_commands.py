"""Commands that take a site file."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from bondwright.site.starters import STARTERS, starter
from tests.cli.running import EXAMPLE, refused, run, said, structure, written
from tests.network.ngspice import node_voltages
from tests.plan.sites import described
from tests.studies.sites import DELTA_SOURCE, SECOND_TIE, UNGROUNDED

# --- help --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "command",
    ["new", "check", "size", "faults", "stray", "papers", "netlist", "quick", "schema"],
)
def test_every_command_has_help(command: str) -> None:
    assert said(command, "--help").startswith(f"Usage: main {command}")
    assert command in said("--help")


def test_help_tells_the_exit_codes_and_the_caution() -> None:
    text = said("--help")
    assert "0 nothing falls short, 1 something does, 2 bad input" in text
    assert "no" in text
    assert "live parts" in text


# --- new ---------------------------------------------------------------------------------------


def test_new_then_check(tmp_path: Path) -> None:
    """What 'new' writes is a good description without danger in it."""
    path = str(tmp_path / "house.yaml")
    assert path in said("new", path)
    result = run("check", path, "--json")
    assert result.exit_code in {0, 1}
    told = json.loads(result.stdout)
    assert not [f for f in told["findings"] if f["severity"] == "danger"]


@pytest.mark.parametrize("kind", STARTERS)
def test_new_begins_from_any_starter(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"{kind}.yaml"
    said("new", str(path), "--kind", kind)
    assert path.read_text("utf-8") == starter(kind)


def test_new_overwrites_nothing_unasked(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text("mine")
    assert "--force" in refused("new", str(path))
    assert path.read_text() == "mine"
    said("new", str(path), "--force")
    assert path.read_text().startswith("#")


def test_a_file_that_can_not_be_written_is_refused_first(tmp_path: Path) -> None:
    nowhere = tmp_path / "nowhere"
    for command in (["new"], ["netlist", EXAMPLE, "-o"]):
        assert f"no folder {nowhere}" in refused(*command, str(nowhere / "house.yaml"))
        assert "is a folder" in refused(*command, str(tmp_path))
    assert "is a folder" in refused("new", "--force", str(tmp_path))


# --- the example -------------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["check", "size", "faults", "stray"])
@pytest.mark.parametrize("rules", ["nec-2017", "nec-2020", "nec-2023"])
def test_structures_have_a_format_and_a_version(command: str, rules: str) -> None:
    told = structure(command, EXAMPLE, "--rules", rules)
    name = {"size": "schedule"}.get(command, command)
    assert told["format"] == f"bondwright/{name}"
    assert told["version"] == 1
    assert "Harrow Creek" in told["site"]
    if "rules" in told:
        assert told["rules"] == rules


@pytest.mark.parametrize("command", ["check", "size", "faults", "stray"])
def test_the_example_holds(command: str) -> None:
    """What a person sees: no traceback, the verdict in words, exit code 0."""
    text = said(command, EXAMPLE)
    assert "holds" in text.lower()
    assert "nan" not in text.lower().split()


def test_check_ends_with_the_caution() -> None:
    assert said("check", EXAMPLE).endswith("decide.")


def test_size_shows_why() -> None:
    text = said("size", EXAMPLE, "--why")
    assert "Table 250.102(C)(1)" in text
    assert "250.122(B)" in text
    assert len(text) > len(said("size", EXAMPLE))


def test_size_as_a_structure() -> None:
    """2/0 Cu service: 4 AWG; 8 AWG Al needed and 2 AWG Al pulled on 40 A: 10 AWG Cu times
    66360 / 16510 = 41720 cmil, 4 AWG Cu (by hand)."""
    rows = {row["id"]: row for row in structure("size", EXAMPLE)["schedule"]}
    assert "4 AWG Cu" in str(rows["MBJ farmhouse panel"])
    assert "4 AWG Cu" in str(rows["EGC pump house feeder"])


def test_faults_at_one_place_of_one_kind() -> None:
    told = structure("faults", EXAMPLE, "--at", "well pump", "--kind", "line to metal")
    assert len(told["faults"]) == 2


def test_a_fault_with_and_without_the_tie() -> None:
    """With the tie it clears; without it nothing opens and the command says so by its code."""
    only = ["--at", "well pump", "--kind", "line to metal"]
    structure("faults", EXAMPLE, *only, code=0)
    for tie in ("farmhouse panel", "main bonding jumper at farmhouse panel"):
        told = structure("faults", EXAMPLE, *only, "--without-tie", tie, code=1)
        assert told["without_tie"] == tie
        assert {fault["verdict"] for fault in told["faults"]} == {"falls short"}
        assert all(fault["cleared"] is False for fault in told["faults"])
    assert "nothing" in said("faults", EXAMPLE, *only, "--story", "--without-tie",
                             "farmhouse panel", code=1).lower()  # fmt: skip


def test_a_second_tie_puts_current_on_metal() -> None:
    structure("stray", EXAMPLE, code=0)
    told = structure("stray", EXAMPLE, "--with-tie-at", "pump house panel", code=1)
    assert told["with_tie_at"] == "pump house panel"
    assert told["objectionable"] is True
    text = said("stray", EXAMPLE, "--with-tie-at", "pump house panel", code=1)
    assert "one too many at pump house panel" in text
    assert "26 %" in text


def test_a_site_that_falls_short(tmp_path: Path) -> None:
    for command in ("check", "size", "stray"):
        run_with = structure(command, written(tmp_path, SECOND_TIE), code=1)
        assert run_with["version"] == 1
    path = written(tmp_path, UNGROUNDED)
    assert structure("check", path, code=1)["findings"]
    assert "×" in said("check", path, code=1)


# --- errors ------------------------------------------------------------------------------------


def test_a_bad_file_names_file_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    text = Path(EXAMPLE).read_text(encoding="utf-8").replace("length: 90 ft", "length: 90 ohm")
    path.write_text(text, encoding="utf-8")
    line = next(k for k, row in enumerate(text.splitlines(), 1) if "90 ohm" in row)
    column = text.splitlines()[line - 1].index("90 ohm") + 1
    for command in ("check", "size", "faults", "stray", "netlist", "papers"):
        words = refused(command, str(path))
        assert f"{path}:{line}:{column}" in words
        assert "90 ohm" in words


def test_several_errors_in_one_go(tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(
        Path(EXAMPLE)
        .read_text(encoding="utf-8")
        .replace("length: 90 ft", "length: 90")
        .replace("to: meter", "to: metre")
        .replace("wiring: overhead", "wirring: overhead")
    )
    result = run("check", str(path))
    errors = [row for row in result.stderr.splitlines() if row.startswith("error: ")]
    assert len(errors) >= 2
    assert f"{len(errors)} errors" in result.stderr
    told = structure("check", str(path), code=2)
    assert told["format"] == "bondwright/problems"
    assert len(told["problems"]) == len(errors)
    assert all(p["line"] > 1 and p["column"] >= 1 for p in told["problems"])


@pytest.mark.parametrize("command", ["check", "size", "faults", "stray", "netlist", "papers"])
def test_a_file_that_is_not_there(command: str, tmp_path: Path) -> None:
    words = refused(command, str(tmp_path / "none.yaml"))
    assert "none.yaml" in words
    assert "no such file" in words


def test_a_folder_and_an_empty_file(tmp_path: Path) -> None:
    assert "is a directory" in refused("check", str(tmp_path))
    empty = tmp_path / "empty.yaml"
    empty.touch()
    assert "empty" in refused("check", str(empty))


def test_unknown_names_get_the_nearest() -> None:
    assert "'well pump'" in refused("faults", EXAMPLE, "--at", "wel pump")
    assert "main bonding jumper" in refused("faults", EXAMPLE, "--without-tie", "screw")
    assert "'meter'" in refused("stray", EXAMPLE, "--with-tie-at", "meters")
    assert "no neutral" in refused("stray", EXAMPLE, "--with-tie-at", "well pump")


def test_an_unknown_edition() -> None:
    assert "nec-2023" in refused("check", EXAMPLE, "--rules", "nec-1999")


# --- names of every sort -----------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["panel [B]", "[red]sub[/red]", "<b>LP & 2</b>", "Süd-Küche", "[/]"]
)
def test_names_are_printed_as_they_are_written(name: str, tmp_path: Path) -> None:
    """A label may hold brackets and signs that a terminal library or a page takes for markup."""
    base = described(SECOND_TIE)
    base["places"][name] = base["places"].pop("panel")
    base["runs"]["feeder"]["to"] = name
    base["runs"]["branch"]["from"] = name
    base["ties"]["wrong screw"]["at"] = name
    path = written(tmp_path, base)
    for command in ("check", "size", "stray"):
        assert name in said(command, path, code=1), command
    assert name in said("faults", path, "--at", name, "--story")
    faults = run("faults", path, "--at", name).stdout
    assert name.split()[0] in faults
    assert "UndefinedTag" not in faults


# --- netlist and schema ------------------------------------------------------------------------


def test_the_netlist_runs(ngspice: Path, tmp_path: Path) -> None:
    """ngspice reads what the command writes; a node's name stands in a comment beside it."""
    text = run("netlist", EXAMPLE).stdout
    voltages = node_voltages(ngspice, text, tmp_path)
    numbers = {}
    for row in text.splitlines():
        if row.startswith("* n") and " = " in row:
            number, _, name = row[2:].partition(" = ")
            numbers[name] = number
    volts = abs(voltages[numbers["pump house panel:L1"]] - voltages[numbers["pump house panel:N"]])
    assert 110 < volts < 122
    assert text.rstrip().endswith(".end")


def test_the_netlist_of_a_fault_without_the_tie(ngspice: Path, tmp_path: Path) -> None:
    """The metal at the fault stands where the study says it does."""
    out = tmp_path / "fault.cir"
    assert str(out) in said("netlist", EXAMPLE, "--no-loads", "--fault", "well pump",
                            "--without-tie", "farmhouse panel", "-o", str(out))  # fmt: skip
    text = out.read_text()
    number = next(
        row[2:].partition(" = ")[0] for row in text.splitlines() if row.endswith("= well pump:G")
    )
    metal = abs(node_voltages(ngspice, text, tmp_path)[number])
    told = structure("faults", EXAMPLE, "--at", "well pump", "--kind", "line to metal",
                     "--without-tie", "farmhouse panel", code=1)  # fmt: skip
    assert str(told).count("live_after") >= 1
    assert any(
        value == pytest.approx(metal, rel=1e-4)
        for key, value in told["faults"][0].items()
        if key.startswith("live_after")
    )


def test_a_netlist_of_a_fault_where_none_can_be() -> None:
    assert "no place" in refused("netlist", EXAMPLE, "--fault", "nowhere")


def test_a_delta_site_runs_through_every_command(tmp_path: Path) -> None:
    path = written(tmp_path, DELTA_SOURCE)
    for command in ("check", "size", "faults", "stray"):
        result = run(command, path)
        assert result.exit_code in {0, 1}, result.output
    assert run("netlist", path).exit_code == 0


def test_the_schema_accepts_the_example() -> None:
    """The JSON Schema is a schema, and the file that ships obeys it."""
    schema = json.loads(said("schema"))
    jsonschema.validators.validator_for(schema).check_schema(schema)
    # YAML 1.1 takes a bare "on" for true; the site reader doesn't, nor do editors (YAML 1.2).
    text = Path(EXAMPLE).read_text(encoding="utf-8").replace("on:", "'on':")
    jsonschema.validate(yaml.safe_load(text), schema)


# --- papers ------------------------------------------------------------------------------------


def test_papers_are_written(tmp_path: Path) -> None:
    out = tmp_path / "papers"
    text = said("papers", EXAMPLE, "--out", str(out))
    kinds = {path.suffix for path in out.iterdir()}
    assert {".pdf", ".html", ".csv", ".json"} <= kinds
    for path in out.iterdir():
        assert path.stat().st_size > 0
        assert path.name in text.replace(" ", "")


def test_new_makes_up_a_building(tmp_path: Path) -> None:
    path = str(tmp_path / "works.yaml")
    assert "40 places" in said("new", path, "--places", "40", "--seed", "2")
    described_places = yaml.safe_load(Path(path).read_text())["places"]
    assert len(described_places) == 40
    assert run("check", path).exit_code in {0, 1}
