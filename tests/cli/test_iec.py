"""IEC 60364 at the command line: every command on every example, in its readers' words.

Numbers: table 54.2 and the factor k = 115 (confirmed), loop limits of B32 with and without the
factor 0.95 of national rules (confirmed), 50 V over the residual current (from memory).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.running import refused, said, structure
from tests.explain.test_dialect import FOREIGN
from tests.iec_sites import COOPERAGE, FLAT, HALL, NAMES, path_of

COMMANDS = [
    ["check"],
    ["size", "--why"],
    ["faults"],
    ["faults", "--story", "--lengths"],
    ["stray"],
    ["defects", "--story", "--top", "9"],
    ["choices"],
]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_commands_speak_the_dialect(name: str, command: list[str]) -> None:
    printed = said(command[0], str(path_of(name)), *command[1:])
    found = [line for line in printed.splitlines() if FOREIGN.search(line)]
    assert found == []


@pytest.mark.parametrize("name", NAMES)
def test_check_holds(name: str) -> None:
    printed = said("check", str(path_of(name)))
    assert "Holds as described" in printed
    assert "disconnected in the time of IEC 60364-4-41" in printed


@pytest.mark.parametrize("command", ["check", "size", "faults", "stray"])
def test_structures_speak_it_too(command: str) -> None:
    found = structure(command, str(path_of(FLAT)), "--json")
    assert not FOREIGN.search(json.dumps(found, ensure_ascii=False))


def test_the_heat_of_the_fault_settles_the_schedule() -> None:
    rows = {row["id"]: row for row in structure("size", str(path_of(FLAT)), "--json")["schedule"]}
    row = rows["PE cooker circuit"]
    assert (row["verdict"], row["clause"]) == ("holds", "IEC 60364-5-54 543.1.2")
    assert "bears the heat" in row["remark"]


def test_second_faults_of_an_it_system() -> None:
    printed = said("faults", str(path_of(HALL)), "--kind", "second line to metal")
    assert "C10 of pump" in printed
    assert "falls short" not in printed


def test_other_rules_than_the_file_was_written_for() -> None:
    assert "'earthing' belongs to the rules of IEC 60364" in refused(
        "check", str(path_of(COOPERAGE)), "--rules", "nec-2023"
    )
    assert "needs the earthing arrangement" in refused(
        "check", str(path_of(COOPERAGE).with_name("harrow-creek.yaml")), "--rules", "iec-60364-2017"
    )


@pytest.mark.parametrize("name", NAMES)
def test_the_test_sheet_speaks_it(name: str, tmp_path: Path) -> None:
    said("testing", "sheet", str(path_of(name)), "--out", str(tmp_path / "sheet.csv"))
    assert not FOREIGN.search((tmp_path / "sheet.csv").read_text("utf-8"))


def test_words_of_one_command_do_not_reach_the_next() -> None:

    assert "authority having jurisdiction" in said("quick", "egc", "--breaker", "60 A")


# --- quick ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "size"),
    [("2.5 mm2 Cu", "2.5 mm2 Cu"), ("25 mm2 Cu", "16 mm2 Cu"), ("95 mm2 Cu", "50 mm2 Cu")],
)
def test_protective_by_the_line(line: str, size: str) -> None:
    assert structure("quick", "protective", "--line", line, "--json")["answer"]["size"] == size


def test_protective_by_heat() -> None:

    asked = ["quick", "protective", "--current", "1 kA", "--time", "0.4 s"]
    assert structure(*asked, "--json")["answer"]["size"] == "6 mm2 Cu"
    assert "5.5 mm2" in said(*asked)
    let = ["--current", "3 kA", "--time", "10 ms", "--let-through", "18000"]
    # sqrt(18000) / 115 = 1.17 mm2
    assert structure("quick", "protective", *let, "--json")["answer"]["size"] == "1.5 mm2 Cu"
    assert "both --current and --time" in refused("quick", "protective", "--current", "1 kA")
    assert "name the line" in refused("quick", "protective")


@pytest.mark.parametrize(
    ("asked", "key", "ohm", "seconds"),
    [
        (["--device", "B32"], "loop_ohm", 1.4375, 0.4),
        (["--device", "B32", "--factor", "0.95"], "loop_ohm", 1.366, 0.4),
        (["--device", "C16", "--voltage", "120 V"], "loop_ohm", 0.75, 0.8),
        (["--device", "80 A gG fuse", "--circuit", "distribution"], "loop_ohm", 0.5412, 5.0),
        (["--device", "40 A RCD 30 mA", "--earthing", "TT"], "electrode_ohm", 1666.7, 0.2),
        (["--device", "63 A RCD 100 mA", "--earthing", "TT", "--circuit", "distribution"],
         "electrode_ohm", 500, 1.0),
    ],
)  # fmt: skip
def test_loop(asked: list[str], key: str, ohm: float, seconds: float) -> None:
    found = structure("quick", "loop", *asked, "--json")["answer"]
    assert found[key] == pytest.approx(ohm, rel=1e-3)
    assert found["time_s"] == seconds


def test_tt_needs_a_residual_device() -> None:
    assert "residual-current device" in refused(
        "quick", "loop", "--device", "B16", "--earthing", "TT"
    )
