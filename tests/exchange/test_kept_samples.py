"""Files of every form that is kept and given back are still read, and mean what they meant."""

from __future__ import annotations

import sqlite3
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest

from bondwright.cli.earth_files import Column, EarthFileError, read_columns
from bondwright.exchange.circuits import Use, read_schedule
from bondwright.exchange.ifc_read import read_here
from bondwright.exchange.sheets import SheetError, read_sheets, read_text
from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.plan.cost import Price, PriceError, read_prices
from bondwright.site.reader import load, read
from bondwright.site.site_error import SiteError
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.readings import Reading, read_readings
from bondwright.studies.many.kept import Kept, KeptError
from bondwright.studies.many.work import unpacked
from bondwright.units import Dimension
from tests.cli.running import refused, structure
from tests.studies.many.works import Squares

TESTS = Path(__file__).parents[1]
HERE = Path(__file__).parent / "samples"
SITE = TESTS / "site" / "samples" / "form-1.yaml"


@cache
def network() -> Network:
    return build(plan(load(SITE)))


def text_of(name: str) -> str:
    return (HERE / name).read_text(encoding="utf-8")


def with_column(text: str, head: int) -> str:
    """Return a table with a column more, whose heading is in a line."""
    lines = text.splitlines()
    more = ["" if k < head else ",moon" if k == head else ",full" for k in range(len(lines))]
    return "".join(f"{line}{end}\n" for line, end in zip(lines, more, strict=True))


def readings(name: str) -> tuple[Reading, ...]:
    return read_readings(text_of(name), network(), name, yaml=name.endswith("yaml"))


@pytest.mark.parametrize("name", ["readings-1.csv", "readings-1.yaml"])
def test_readings(name: str) -> None:
    current, net, volts, ohms = readings(name)
    assert [r.quantity for r in (current, net, volts, ohms)] == [
        Quantity.CURRENT, Quantity.NET_CURRENT, Quantity.VOLTAGE, Quantity.RESISTANCE
    ]  # fmt: skip
    assert (current.value, current.over) == (0.7, False)
    assert (net.value, net.over) == (0.3, True)
    # 2 % and 0.1 A are limits of a rectangle: its deviation is that over the root of 3.
    assert net.sigma == pytest.approx(0.106 / 3**0.5)
    assert volts.value == 0.8
    assert volts.moment.test is not None
    assert not volts.moment.loads
    assert (ohms.value, ohms.over, ohms.moment.power) == (2000, True, False)


def test_readings_of_a_newer_form_are_refused() -> None:
    with pytest.raises(SiteError, match=r"new\.csv:2:.*'moon' is no column; known: what, where"):
        read_readings(with_column(text_of("readings-1.csv"), 1), network(), "new.csv")
    newer = text_of("readings-1.yaml").replace("note:", "moon: full, note:")
    with pytest.raises(SiteError, match="'moon' is no column"):
        read_readings(newer, network(), "new.yaml", yaml=True)


@pytest.mark.parametrize("name", ["test-sheet-1.csv", "test-sheet-1.xlsx"])
def test_a_filled_test_sheet(name: str) -> None:
    found = structure("testing", "judge", str(SITE), str(HERE / name), code=1)
    each = {r["id"]: r for r in found["readings"]}
    assert {key: r["verdict"] for key, r in each.items()} == {
        "continuity: GEC house rods": "holds",
        "tie: main bonding jumper at farmhouse panel": "falls short",
        "loop: well pump": "holds",
        "net current: pump house feeder": "cannot tell",
    }
    rods = each["continuity: GEC house rods"]
    assert rods["value"] == pytest.approx(9.1e-3)
    assert (rods["by"], rods["date"], rods["serial"]) == ("Anna", "2026-11-20", "LO-7")
    assert each["loop: well pump"]["value"] == pytest.approx(0.35)
    assert found["problems"] == []


def test_a_test_sheet_without_its_columns_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    path.write_text(text_of("test-sheet-1.csv").replace(",id\n", ",mark\n"), encoding="utf-8")
    told = refused("testing", "judge", str(SITE), str(path))
    assert "id" in told, told


@pytest.mark.parametrize("name", ["panel-1.csv", "panel-1.xlsx"])
def test_a_panel_schedule(name: str) -> None:
    schedule = read_schedule(read_sheets(HERE / name)[0])
    (circuit,) = schedule.circuits
    assert circuit.use is Use.CIRCUIT
    assert (circuit.description, circuit.poles, circuit.power) == ("pump house panel", 2, 1700)
    assert circuit.device is not None
    assert circuit.device.amps == 40
    assert circuit.wire is not None
    assert (circuit.wire.size, circuit.wire.count) == ("2 AWG Al", 3)
    assert circuit.length == pytest.approx(67.056)
    assert schedule.doubts == ()


def test_a_table_that_is_no_schedule_is_refused() -> None:
    with pytest.raises(SheetError, match="moon"):
        read_schedule(read_text("moon,tide\nfull,high\n", "moon.csv"))


def test_a_price_list() -> None:
    assert read_prices(text_of("prices-1.csv")) == {
        "4 AWG Cu bare": Price("4 AWG Cu bare", 30.48, "m", Decimal("85.50")),
        "ground rod": Price("ground rod", 1, "each", Decimal(19)),
        "6 AWG Cu bare": Price("6 AWG Cu bare", 1, "m", Decimal("2.40")),
    }
    with pytest.raises(PriceError, match="line 2: the first line must be item,unit,price"):
        read_prices(with_column(text_of("prices-1.csv"), 1))


def test_field_tests(tmp_path: Path) -> None:
    fall = structure(
        "earth", "judge", "fall", str(HERE / "fall-1.csv"), "--far", "60 m", "--goal", "25 ohm"
    )
    assert fall["value"] == pytest.approx(4.2, abs=0.02)
    assert fall["verdict"] == "holds"
    known = [Column("spacing", Dimension.LENGTH), Column("resistance", Dimension.RESISTANCE)]
    survey = read_columns(HERE / "survey-1.csv", known)
    assert survey["spacing"] == (1, 2, 4, 8, 16)
    assert survey["resistance"] == (24, 10.5, 4.1, 1.5, 0.62)
    newer = tmp_path / "survey.csv"
    newer.write_text(with_column(text_of("survey-1.csv"), 0), encoding="utf-8")
    with pytest.raises(EarthFileError, match="moon"):
        read_columns(newer, known)


def test_a_building_model(tmp_path: Path) -> None:
    found = read_here(HERE / "model-1.ifc")
    assert found.whole
    assert read(found.text) == load(SITE)
    # A newer tool's key is carried along, and the reader of site files names it.
    newer = tmp_path / "newer.ifc"
    text = text_of("model-1.ifc")
    assert '{"kind": "service"' in text
    newer.write_text(text.replace('{"kind": "service"', '{"moon": "full", "kind": "service"'))
    with pytest.raises(SiteError, match="moon"):
        read(read_here(newer).text)


def database(path: Path, text: str) -> Path:
    base = sqlite3.connect(path)
    base.executescript(text)
    base.close()
    return path


def test_kept_pieces(tmp_path: Path) -> None:
    path = database(tmp_path / "run.kept", text_of("kept-1.sql"))
    with Kept(path, Squares(3)) as kept:
        found = {number: unpacked(data)["square"].tolist() for number, data in kept.pieces()}
    assert found == {0: [0], 1: [1], 2: [4]}
    newer = text_of("kept-1.sql").replace("('version','1')", "('version','2')")
    path = database(tmp_path / "newer.kept", newer)
    before = path.read_bytes()
    with pytest.raises(KeptError, match="of version 2; this bondwright reads 1"):
        Kept(path, Squares(3))
    assert path.read_bytes() == before


def test_every_sample_is_read_here() -> None:
    here = Path(__file__).read_text(encoding="utf-8")
    for path in HERE.iterdir():
        assert path.name == "README.md" or f'"{path.name}"' in here, path.name
