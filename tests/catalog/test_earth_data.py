import pytest

from bondwright.catalog.earth_data import (
    earth_data,
    instrument,
    resistivity_at,
    typical_soil,
    typical_soils,
)
from bondwright.catalog.sources import CatalogError
from tests.earth.reference import electrodes
from tests.outside import outside, published

SOILS = electrodes()["soil_resistivity_ohm_m"]


@pytest.mark.parametrize("row", SOILS["rows"], ids=lambda row: str(row[0]))
@outside("NBS Technical Report 108", "confirmed", unit="ohm m")
def test_soils_of_the_bureau(row: list[object]) -> None:
    # NBS Technical Report 108 (confirmed)
    mine = [s for s in typical_soils() if s.average == row[1]]
    assert len(mine) == 1
    assert (mine[0].least, mine[0].most) == published((row[2], row[3]))
    assert mine[0].source.status == "confirmed"


@pytest.mark.parametrize("name", SOILS["other_table"]["rows"])
@outside("general earthing guides", "one-source", unit="ohm m")
def test_soils_of_guides(name: str) -> None:
    # general earthing guides (one-source)
    given = SOILS["other_table"]["rows"][name]
    low, high = given if isinstance(given, list) else (given, given)
    soil = typical_soil(name)
    assert (soil.least, soil.most) == published((low, high))
    assert soil.average is None


@outside("IEEE Std 142, factors of several rods", "memory")
def test_several_rods() -> None:
    # IEEE Std 142 (from memory)
    assert dict(earth_data().rod_factors) == published(electrodes()["multiple_rods"]["F"])


def test_tables_run_one_way() -> None:
    data = earth_data()
    for column in (1, 2):
        rho = [row[column] for row in data.moisture]
        assert rho == sorted(rho, reverse=True)
    assert [row[2] for row in data.temperature] == sorted(row[2] for row in data.temperature)
    tops = [top for top, _ in data.clamp]
    assert tops == sorted(tops)
    assert data.concrete["least"] < data.concrete["usual"] < data.concrete["most"]
    assert data.seasons["wet"].factor < 1 < data.seasons["dry"].factor


def test_moisture_between_rows() -> None:
    assert resistivity_at(0.10) == pytest.approx(185)
    assert resistivity_at(0.10, "top soil") == pytest.approx(530)
    assert 105 < resistivity_at(0.12) < 185
    with pytest.raises(ValueError, match="outside the table"):
        resistivity_at(0.5)


def test_unknown_names() -> None:
    with pytest.raises(CatalogError, match="is no soil held here"):
        typical_soil("moon dust")
    with pytest.raises(CatalogError, match="is no instrument"):
        instrument("wet finger")
