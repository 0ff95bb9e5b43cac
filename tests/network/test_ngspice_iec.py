"""The examples of every earthing arrangement against ngspice: whole, faulted, broken, isolated."""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.network.build import build
from tests.iec_sites import HALL, NAMES, plan_of
from tests.network.test_ngspice_sites import compare
from tests.outside import outside


@pytest.mark.parametrize("loads", [True, False], ids=["loads on", "loads off"])
@pytest.mark.parametrize("name", NAMES)
@outside("ngspice, IEC earthing arrangements", "computed", unit="V")
def test_every_arrangement(ngspice: Path, tmp_path: Path, name: str, *, loads: bool) -> None:
    compare(ngspice, tmp_path, build(plan_of(name), loads=loads))


@outside("ngspice, IEC earthing arrangements", "computed", unit="V")
def test_an_isolated_neutral(ngspice: Path, tmp_path: Path) -> None:
    changes = {"sources__hall transformer__system": "400Y/230 V"}
    compare(ngspice, tmp_path, build(plan_of(HALL, **changes), loads=False))
