"""The folder of papers: whole or not at all, and the same bytes each time."""

from __future__ import annotations

import socket
from datetime import date
from pathlib import Path

import pytest

from bondwright.papers.formats import FORMATS, USUAL
from bondwright.papers.package import report_date, write_papers
from bondwright.papers.results import study
from tests.explain.sites import FARM, SMALL, planned, studied

DAY = date(2026, 3, 2)
ALL = {
    "report.pdf",
    "report.html",
    "schedule.csv",
    "faults.csv",
    "stray.csv",
    "available.csv",
    "findings.csv",
    "electrodes.csv",
    "results.json",
    "netlist.cir",
    "picture.svg",
    "checklist.pdf",
    "checklist.csv",
    "labels.pdf",
    "labels.csv",
    "material.pdf",
    "material.csv",
    "tests.pdf",
    "tests.csv",
    "tests.xlsx",
    "owner.pdf",
    "picture.dxf",
}


def test_all_papers_are_written(tmp_path: Path) -> None:
    files = write_papers(studied(FARM), tmp_path / "new" / "folder", on=DAY)
    assert {f.name for f in files} == ALL
    assert {f.name for f in (tmp_path / "new" / "folder").iterdir()} == ALL
    assert all(f.stat().st_size > 100 for f in files)
    assert files[0].read_bytes().startswith(b"%PDF-")
    netlist = next(f for f in files if f.suffix == ".cir").read_text(encoding="utf-8")
    assert netlist.rstrip().endswith(".end")


def test_papers_are_the_same_each_time(tmp_path: Path) -> None:
    """From the plan on, so that no time, order or address gets into a file."""
    one = write_papers(study(planned(FARM)), tmp_path / "1", on=DAY)
    other = write_papers(study(planned(FARM)), tmp_path / "2", on=DAY)
    for a, b in zip(one, other, strict=True):
        assert a.read_bytes() == b.read_bytes(), a.name


def test_no_network_is_needed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError((args, kwargs))

    monkeypatch.setattr(socket, "socket", refuse)
    write_papers(studied(SMALL), tmp_path, on=DAY)


@pytest.mark.parametrize("at", [0, 3, 8])
def test_an_interruption_leaves_what_was_there(tmp_path: Path, at: int) -> None:
    before = {"report.pdf": b"old", "notes.txt": b"mine"}
    for name, data in before.items():
        (tmp_path / name).write_bytes(data)

    def interrupt(what: str, done: int, of: int) -> None:
        if done == at:
            raise KeyboardInterrupt(what, of)

    with pytest.raises(KeyboardInterrupt):
        write_papers(studied(SMALL), tmp_path, on=DAY, progress=interrupt)
    assert {f.name: f.read_bytes() for f in tmp_path.iterdir()} == before


def test_an_interruption_leaves_no_empty_folder(tmp_path: Path) -> None:
    def interrupt(what: str, done: int, of: int) -> None:
        raise KeyboardInterrupt(what, done, of)

    with pytest.raises(KeyboardInterrupt):
        write_papers(studied(SMALL), tmp_path / "a" / "b", on=DAY, progress=interrupt)
    assert list(tmp_path.iterdir()) == []


def test_a_study_can_be_interrupted() -> None:
    def interrupt(what: str, done: int, of: int) -> None:
        if what == "following faults" and done < of:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study(planned(FARM), interrupt)


def test_progress_ends_full() -> None:
    seen: list[tuple[str, int, int]] = []
    study(planned(SMALL), lambda *told: seen.append(told))
    last = {what: (done, of) for what, done, of in seen}
    assert all(done == of for done, of in last.values())
    assert "following faults" in last


def test_some_formats_only(tmp_path: Path) -> None:
    files = write_papers(studied(SMALL), tmp_path, formats=["json", "csv"], on=DAY)
    assert {f.suffix for f in files} == {".json", ".csv"}


@pytest.mark.parametrize("formats", [["docx"], []])
def test_an_unknown_format_is_refused(tmp_path: Path, formats: list[str]) -> None:
    with pytest.raises(ValueError, match="give some of"):
        write_papers(studied(SMALL), tmp_path, formats=formats)
    wanted = {"pdf", "html", "csv", "json", "netlist", "picture", "checklist", "labels"}
    wanted |= {"material", "tests", "owner", "dxf", "parquet", "ifc"}
    assert set(FORMATS) == wanted
    assert set(FORMATS) - set(USUAL) == {"parquet", "ifc"}  # those that need an extra


def test_an_unknown_paper_is_refused_before_work(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no paper 'foolscap'"):
        write_papers(studied(SMALL), tmp_path / "x", paper="foolscap")  # type: ignore[arg-type]
    assert not (tmp_path / "x").exists()


def test_the_date_comes_from_the_caller_or_the_environment(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """SOURCE_DATE_EPOCH as in the specification of reproducible-builds.org."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1000000000")
    assert report_date() == date(2001, 9, 9)
    assert report_date(DAY) == DAY
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")
    with pytest.raises(ValueError, match="whole number of seconds"):
        report_date()
