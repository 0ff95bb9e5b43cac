"""The same file under the rules of another country: never judged by a jurisdiction nobody named.

The Canadian rules (public thread on a metal garage: bond with the feeder, no second electrode
joined to the neutral) are not encoded as a family here. So the test is the other half of the
story: a site under rules that are not known is refused in words, and the rules that judged stand
beside every answer.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.plan.build import plan
from bondwright.rules.editions import UnknownRulesError, edition
from bondwright.rules.electrodes import electrode_conductor
from bondwright.rules.inputs import SupplyConductors
from bondwright.site.reader import SiteError, read
from tests.cli.running import refused, structure

GARAGE = """
site: Metal garage
rules: {rules}
sources:
  utility: {{system: 120/240 V, transformer: {{rating: 25 kVA, impedance: 2 %}}}}
places:
  house: {{kind: service, building: house, main: 200 A breaker}}
  garage: {{kind: panel, building: garage, main: 100 A breaker}}
runs:
  drop: {{from: utility, to: house, length: 60 ft, lines: 2/0 AWG Cu}}
  feeder: {{from: house, to: garage, length: 50 ft, device: 100 A, lines: 3 AWG Cu}}
electrodes:
  rods: {{kind: rod, at: house, count: 2}}
"""


@pytest.mark.parametrize("rules", ["cec-2021", "csa-c22.1-2021", "canada", "nec-2014", "NEC-2023"])
def test_unknown_rules_are_refused_with_those_known(rules: str, tmp_path: Path) -> None:
    with pytest.raises(SiteError) as error:
        read(GARAGE.format(rules=rules))
    (problem,) = error.value.problems
    assert problem.line == 3
    assert "is not one of the words known here" in problem.problem
    assert "nec-2023" in problem.hint
    path = tmp_path / "garage.yaml"
    path.write_text(GARAGE.format(rules=rules))
    assert "nec-2023" in refused("size", str(path))


def test_rules_ask_for_a_known_set_as_well() -> None:
    with pytest.raises(UnknownRulesError, match="no rule set known here"):
        edition("cec-2021")
    with pytest.raises(UnknownRulesError):
        electrode_conductor(SupplyConductors.parse("2/0 AWG Cu"), rules="cec-2021")


def test_under_the_us_rules_the_garage_needs_an_electrode() -> None:
    found = plan(read(GARAGE.format(rules="nec-2023")))
    (finding,) = [f for f in found.findings if f.rule == "building-electrode"]
    assert finding.where == "garage"
    assert finding.clause.startswith("NEC 2023")


def test_the_rules_stand_beside_every_answer(tmp_path: Path) -> None:
    path = tmp_path / "garage.yaml"
    path.write_text(GARAGE.format(rules="nec-2020"))
    told = structure("size", str(path), code=1)
    assert told["rules"] == "nec-2020"
    assert all(row["clause"].startswith("NEC 2020") for row in told["schedule"] if row["clause"])
