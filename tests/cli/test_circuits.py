"""Panel schedules on the command line."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from bondwright.cli import main
from tests.cli.running import EXAMPLE, refused, run, said
from tests.exchange.schedules import LIST, phases

PANEL = "pump house panel"


def test_a_schedule_is_read_added_and_written(tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text(LIST, encoding="utf-8")
    told = said("circuits", "read", str(listed), code=2)
    assert "1,3 Well pump 20 A 2" in told
    assert "- A6: 7 | Mystery | banana | #12 ('banana' is no device with its amperes)" in told
    assert "not circuits: - A17: Note: all THHN" in told
    new = tmp_path / "new.yaml"
    told = said("circuits", "add", EXAMPLE, PANEL, str(listed), "--metal", "Cu", "--out",
                str(new), code=2)  # fmt: skip
    assert f"wrote {new}: 6 circuits added to {PANEL} well pump 2 freezer" in told
    assert "left out: - A6: 7 | Mystery" in told
    assert run("check", str(new)).exit_code in (0, 1)
    book = tmp_path / "out.xlsx"
    assert said("circuits", "table", str(new), PANEL, "--out", str(book)) == (
        f"wrote {book}: 7 circuits"
    )
    again = said("circuits", "read", str(book))
    assert "4,6 range 50 A breaker 2" in again
    assert "in doubt" not in again


def test_a_pasted_schedule() -> None:
    pasted = "ckt\tload\tbreaker\n1\tLamp\t20\n"
    result = CliRunner().invoke(main, ["circuits", "read", "-"], input=pasted)
    assert result.exit_code == 0
    assert "Lamp" in result.stdout


def test_what_is_wrong_is_said(tmp_path: Path) -> None:
    phases(tmp_path / "lp.xlsx")
    book = str(tmp_path / "lp.xlsx")
    assert "has several sheets: --sheet LP-2 or notes" in refused("circuits", "read", book)
    assert "has no sheet 'x'" in refused("circuits", "read", book, "--sheet", "x")
    assert "Unit heater" in said("circuits", "read", book, "--sheet", "LP-2", code=2)
    plain = tmp_path / "plain.csv"
    plain.write_text("a,b\n1,2\n")
    assert "no row names the columns" in refused("circuits", "read", str(plain))
    out = tmp_path / "new.yaml"
    assert "there is no place 'shed'" in refused(
        "circuits", "add", EXAMPLE, "shed", book, "--sheet", "LP-2", "--out", str(out)
    )
    assert not out.exists()
    assert "name the file '.csv' or '.xlsx'" in refused(
        "circuits", "table", EXAMPLE, PANEL, "--out", str(tmp_path / "x.ods")
    )
