"""Building models: valid by the library's own check, and the description comes back whole."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid
import ifcopenshell.validate
import pytest
from click.testing import CliRunner

from bondwright.cli import main
from bondwright.exchange.ifc import site_ifc
from bondwright.exchange.ifc_read import IfcError, read_ifc
from bondwright.site.reader import load, read
from tests.explain.sites import NASTY

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda p: p.stem)
def test_a_description_comes_back_whole(path: Path, tmp_path: Path) -> None:
    described = load(path)
    file = tmp_path / "site.ifc"
    file.write_text(site_ifc(described), encoding="utf-8")
    found = read_ifc(file)
    assert found.whole
    assert not found.doubts
    assert read(found.text) == described


def test_odd_labels_come_back(tmp_path: Path) -> None:
    file = tmp_path / "site.ifc"
    file.write_text(site_ifc(read(NASTY)), encoding="utf-8")
    assert read(read_ifc(file).text) == read(NASTY)


# The library leaves the file of its rules open.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.parametrize("name", ["harrow-creek", "sun-house"])
def test_the_library_finds_nothing_wrong(name: str, tmp_path: Path) -> None:
    """Types, cardinalities, inverse attributes and the schema's own rules (EXPRESS WHERE)."""
    file = tmp_path / "site.ifc"
    file.write_text(site_ifc(load(EXAMPLES / f"{name}.yaml")), encoding="utf-8")
    heard: Any = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(file), heard, express_rules=True)
    wrong = [s for s in heard.statements if s.get("level") != "Information"]
    assert wrong == []


def test_elements_are_of_their_kind_and_connected() -> None:
    described = load(EXAMPLES / "harrow-creek.yaml")
    model = ifcopenshell.file.from_string(site_ifc(described))
    boards = {b.Name for b in model.by_type("IfcElectricDistributionBoard")}
    assert {"hall switchboard", "hall panel", "farmhouse disconnect"} <= boards
    assert {b.Name for b in model.by_type("IfcBuilding")} >= {"bottling hall", "farmhouse"}
    cables = {c.Name: c for c in model.by_type("IfcCableSegment")}
    assert set(described.runs) <= set(cables)
    assert len(model.by_type("IfcRelConnectsPorts")) == 2 * len(described.runs)


def test_the_same_text_each_time() -> None:
    described = load(EXAMPLES / "sun-house.yaml")
    assert site_ifc(described) == site_ifc(described)


def foreign() -> str:
    """A model by somebody else: a board, a transformer, a cable between, one that ends in air."""
    model = ifcopenshell.file(schema="IFC4")

    def root(kind: str, **attributes: object) -> ifcopenshell.entity_instance:
        return model.create_entity(kind, GlobalId=ifcopenshell.guid.new(), **attributes)

    root("IfcProject", Name="Press hall")
    unit = root("IfcTransformer", Name="T1", PredefinedType="VOLTAGE")
    board = root("IfcElectricDistributionBoard", Name="DB 1", PredefinedType="DISTRIBUTIONBOARD")
    cable = root("IfcCableSegment", Name="C1", PredefinedType="CABLESEGMENT")
    root("IfcCableSegment", Name="C2", PredefinedType="CABLESEGMENT")
    port = [root("IfcDistributionPort", Name=n) for n in ("t", "c in", "c out", "b")]
    port[1].FlowDirection, port[2].FlowDirection = "SINK", "SOURCE"
    root("IfcRelNests", RelatingObject=unit, RelatedObjects=[port[0]])
    root("IfcRelNests", RelatingObject=cable, RelatedObjects=[port[1], port[2]])
    root("IfcRelNests", RelatingObject=board, RelatedObjects=[port[3]])
    root("IfcRelConnectsPorts", RelatingPort=port[0], RelatedPort=port[1])
    root("IfcRelConnectsPorts", RelatingPort=port[2], RelatedPort=port[3])
    quantity = model.create_entity("IfcQuantityLength", Name="Length", LengthValue=12.5)
    sums = root("IfcElementQuantity", Name="Qto", Quantities=[quantity])
    root("IfcRelDefinesByProperties", RelatedObjects=[cable], RelatingPropertyDefinition=sums)
    text: str = model.to_string()
    return text


def test_a_strange_model_gives_a_draft_and_says_what_is_missing(tmp_path: Path) -> None:
    file, out = tmp_path / "hall.ifc", tmp_path / "hall.yaml"
    file.write_text(foreign(), encoding="utf-8")
    found = read_ifc(file)
    assert not found.whole
    assert "from: T1" in found.text
    assert "to: DB 1" in found.text
    assert "12.5 m" in found.text
    told = dict(found.doubts)
    assert "two are needed" in told["C2"]
    assert "T1" in told
    ran = CliRunner().invoke(main, ["ifc", "read", str(file), "--out", str(out)])
    assert ran.exit_code == 2
    assert "a draft" in ran.output
    assert "C2" in ran.output


def test_what_is_no_model_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "x.ifc"
    file.write_text("site: x", encoding="utf-8")
    with pytest.raises(IfcError, match="no IFC file"):
        read_ifc(file)
    file.write_text("ISO-10303-21;\nHEADER;\nrubbish", encoding="utf-8")
    with pytest.raises(IfcError, match="can't be read"):
        read_ifc(file)


def test_a_model_that_contradicts_itself_is_refused(tmp_path: Path) -> None:
    """Its property sets are gone, and the relations to them are still there."""
    path = tmp_path / "broken.ifc"
    whole = site_ifc(load(EXAMPLES / "three-building-farm.yaml"))
    left = [line for line in whole.splitlines() if "=IFCELEMENTQUANTITY(" not in line]
    path.write_text("\n".join(line for line in left if "=IFCPROPERTYSET(" not in line))
    with pytest.raises(IfcError, match=r"broken\.ifc contradicts itself"):
        read_ifc(path)


def test_a_library_that_breaks_down_takes_nobody_along(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "any.ifc"
    path.write_text(site_ifc(load(EXAMPLES / "three-building-farm.yaml")))
    monkeypatch.setattr(sys, "executable", shutil.which("false"))
    with pytest.raises(IfcError, match=r"any\.ifc can't be read as IFC: the library"):
        read_ifc(path)
