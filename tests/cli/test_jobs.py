"""Jobs and comparisons on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import EXAMPLE, refused, run, said, structure

NAME = "Harrow Creek Cidery, farmhouse and pump house"
DESIGNED = ("--who", "Anna", "--why", "as designed")
BUILT = ("--who", "Ben", "--why", "as built")


@pytest.fixture
def kept(tmp_path: Path) -> tuple[str, str]:
    """``--store`` and the file of a store with one job in it."""
    store = str(tmp_path / "jobs.sqlite")
    told = said("jobs", "start", EXAMPLE, *DESIGNED, "--store", store)
    assert told == f"job '{NAME}', revision 1: site.yaml"
    return "--store", store


@pytest.fixture
def built(tmp_path: Path) -> str:
    """The site file as built: with too small a ground wire in the feeder."""
    text = Path(EXAMPLE).read_text(encoding="utf-8")
    assert text.count("lines: 2 AWG Al") == 1
    path = tmp_path / "built.yaml"
    path.write_text(text.replace("lines: 2 AWG Al", "egc: 14 AWG Cu\n    lines: 2 AWG Al"))
    return str(path)


def test_a_job_from_start_to_bundle(kept: tuple[str, str], built: str, tmp_path: Path) -> None:
    told = said("jobs", "save", NAME, built, "--after", "1", *BUILT, *kept)
    assert told == f"job '{NAME}', revision 2: site.yaml"
    history = structure("jobs", "history", NAME, *kept)
    assert history["format"] == "bondwright/job-history"
    assert [(r["number"], r["who"], r["why"]) for r in history["revisions"]] == [
        (1, "Anna", "as designed"),
        (2, "Ben", "as built"),
    ]
    assert structure("jobs", "list", *kept)["jobs"][0]["newest"] == history["revisions"][1]
    assert "Ben as built" in said("jobs", "list", *kept)
    assert "1 " in said("jobs", "history", NAME, *kept)

    said("jobs", "take", NAME, "--revision", "1", "--out", str(tmp_path / "first"), *kept)
    assert (tmp_path / "first" / "site.yaml").read_bytes() == Path(EXAMPLE).read_bytes()
    assert "is there already" in refused(
        "jobs", "take", NAME, "--out", str(tmp_path / "first"), *kept
    )
    said("jobs", "take", NAME, "--out", str(tmp_path / "first"), "--force", *kept)
    assert (tmp_path / "first" / "site.yaml").read_bytes() == Path(built).read_bytes()

    zipped = str(tmp_path / "jobs.zip")
    assert said("jobs", "bundle", "--out", zipped, *kept) == f"wrote {zipped}: 1 job"
    other = ("--store", str(tmp_path / "other.sqlite"))
    assert said("jobs", "restore", zipped, *other) == f"job '{NAME}'"
    assert structure("jobs", "history", NAME, *other) == history


def test_a_late_save_is_refused(kept: tuple[str, str], built: str, tmp_path: Path) -> None:
    said("jobs", "save", NAME, built, "--after", "1", *BUILT, *kept)
    late = tmp_path / "late.yaml"
    late.write_text(Path(EXAMPLE).read_text(encoding="utf-8") + "# a remark\n")
    told = refused("jobs", "save", NAME, str(late), "--after", "1", *DESIGNED, *kept)
    assert "was changed by Ben while you worked on revision 1: revision 2 stands now" in told
    assert len(structure("jobs", "history", NAME, *kept)["revisions"]) == 2


def test_the_same_again_is_no_revision(kept: tuple[str, str]) -> None:
    told = said("jobs", "save", NAME, EXAMPLE, "--after", "1", *DESIGNED, *kept)
    assert told == "nothing differs from revision 1; nothing was written"


def test_files_that_belong_to_it_come_along(tmp_path: Path) -> None:
    text = Path(EXAMPLE).read_text(encoding="utf-8")
    county = "authority: Mill County\nreference: ord. 12\ndate: 2026-01-01\nvalues: {}\n"
    (tmp_path / "county.yaml").write_text(county.replace("{}", "{rod-resistance: 10 ohm}"))
    (tmp_path / "readings.csv").write_text("a,b\n")
    site = tmp_path / "farm.yaml"
    site.write_text(text + "amendments: {county: {file: county.yaml}}\n")
    store = ("--store", str(tmp_path / "jobs.sqlite"))
    told = said("jobs", "start", str(site), "--name", "Farm", "--with",
                str(tmp_path / "readings.csv"), *DESIGNED, *store)  # fmt: skip
    assert told == "job 'Farm', revision 1: site.yaml, county.yaml, readings.csv"
    site.write_text(site.read_text().replace("220 ft", "230 ft"))
    said("jobs", "save", "Farm", str(site), "--after", "1", *BUILT, *store)
    compared = structure("jobs", "compare", "Farm", "1", "2", *store)
    assert compared["described"] == [
        {"path": ["runs", "pump house feeder", "length"], "before": "220 ft", "after": "230 ft"}
    ]
    said("jobs", "take", "Farm", "--out", str(tmp_path / "out"), *store)
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names == ["county.yaml", "readings.csv", "site.yaml"]


def test_what_a_worse_description_brings(built: str) -> None:
    data = structure("compare", EXAMPLE, built, code=1)
    assert data["described"] == [
        {"path": ["runs", "pump house feeder", "egc"], "before": None, "after": "14 AWG Cu"}
    ]
    bonds = {(b["item"], b["what"]): (b["before"], b["after"]) for b in data["bonds"]}
    assert bonds["EGC pump house feeder", "verdict"] == ("holds", "falls short")
    assert bonds["EGC pump house feeder", "size"][1] == "14 AWG Cu"
    assert any(f["where"] == "pump house feeder" for f in data["new"])
    told = said("compare", EXAMPLE, built, code=1)
    assert "runs / pump house feeder / egc: new: 14 AWG Cu" in told
    back = structure("compare", built, EXAMPLE)
    assert (back["gone"], back["new"]) == (data["new"], data["gone"])


def test_the_same_file_twice() -> None:
    assert "neither the description nor what follows from it differs" in said(
        "compare", EXAMPLE, EXAMPLE
    )


def test_bad_input_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = tmp_path / "jobs.sqlite"
    bad = tmp_path / "bad.yaml"
    bad.write_text("site: x\n")
    assert "error" in refused("jobs", "start", str(bad), *DESIGNED, "--store", str(store))
    assert not store.exists()
    assert "there is no store" in refused("jobs", "list", "--store", str(store))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "none"))
    assert "no job has been started yet" in refused("jobs", "list")
    assert list(tmp_path.iterdir()) == [bad]
    (tmp_path / "no.zip").write_text("x")
    assert "no zip file" in refused("jobs", "restore", str(tmp_path / "no.zip"))
    assert run("jobs", "start", EXAMPLE, "--who", "Anna").exit_code == 2
