"""A conductor that no table knows is refused where it stands, not deep in the circuit."""

from __future__ import annotations

import pytest

from bondwright.catalog.conductors import resistance_dc
from bondwright.catalog.sizes import Material, Size, metric_sizes, standard_sizes
from bondwright.site.reader import SiteError, read
from bondwright.units import UnitError

SITE = """site: wires
sources:
  utility: {system: 120/240 V, available: {current: 5 kA}}
places:
  panel: {kind: service, main: 60 A breaker}
runs:
  service: {from: utility, to: panel, length: 50 ft, lines: 2 AWG Cu}
electrodes:
  rod: {kind: rod, at: panel, resistance: 20 ohm, conductor: WIRE}
"""


@pytest.mark.parametrize("material", Material)
@pytest.mark.parametrize("size", [*standard_sizes(), *metric_sizes()], ids=str)
def test_a_size_is_read_where_a_table_has_its_resistance(size: Size, material: Material) -> None:
    text = SITE.replace("WIRE", f"{size} {material.value}")
    if problem := _problem(size, material):
        with pytest.raises(SiteError, match="9:") as caught:
            read(text)
        assert problem in str(caught.value)
    else:
        read(text)


def _problem(size: Size, material: Material) -> str:
    try:
        resistance_dc(size, material)
    except UnitError as error:
        return error.problem
    return ""
