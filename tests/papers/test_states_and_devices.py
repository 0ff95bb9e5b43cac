"""Ways the site is run and protective devices in the report and in the data."""

from __future__ import annotations

import functools
from pathlib import Path

import jsonschema

from bondwright.papers.data import results_data, schema
from bondwright.papers.results import Results, study
from bondwright.papers.tables_more import more_tables
from bondwright.plan.build import plan
from bondwright.rules.answer import Severity
from bondwright.site.reader import load, read

CABIN = """
site: cabin
sources:
  utility: {system: 120/240 V, available: {current: 18 kA, x/r: 2}}
generators:
  generator: {system: 120/240 V, rating: 12 kVA}
transfers:
  switch: {normal: feeder, standby: generator feeder, neutral: %s}
places:
  disconnect: {kind: service, main: "100 A breaker, interrupts 10 kA"}
  panel: {kind: panel, loads: [{on: L1-N, power: 1 kW}]}
runs:
  drop: {from: utility, to: disconnect, length: 5 ft, lines: 2 AWG Cu}
  feeder: {from: disconnect, to: switch, length: 20 ft, lines: 2 AWG Cu}
  generator feeder:
    {from: generator, to: switch, device: 50 A breaker, length: 30 ft, lines: 6 AWG Cu}
  panel feeder: {from: switch, to: panel, length: 10 ft, lines: 2 AWG Cu}
ties:
  main bonding jumper: {at: disconnect, by: screw}
%s
"""


@functools.cache
def cabin(neutral: str, ties: str = "") -> Results:
    """Return the studies of a cabin with a generator behind a transfer switch."""
    return study(plan(read(CABIN % (neutral, ties))))


def test_every_state_has_a_row_with_its_joins() -> None:
    """A solid neutral: the service's tie serves the generator too; one join in each state."""
    (states, _) = more_tables(cabin("solid"))
    assert [row["cells"][0] for row in states["rows"]] == ["normal", "on generator"]
    assert [row["cells"][2] for row in states["rows"]] == ["utility: 1", "generator: 1"]


def test_a_second_join_shows_in_the_state_where_it_is() -> None:
    """Solid neutral and a bonded generator: two joins on the generator (falls short)."""
    results = cabin("solid", "  generator bond: {at: generator, by: strap}")
    (states, _) = more_tables(results)
    assert states["rows"][1]["badge"]["word"] == "falls short"
    assert "generator: 2" in states["rows"][1]["cells"][2]


def test_a_device_that_cannot_interrupt_is_a_danger() -> None:
    """18 kA at the terminals of a 10 kA breaker (five feet of wire take little off)."""
    results = cabin("solid")
    (finding,) = (f for f in results.findings if f.rule == "interrupting-rating")
    assert finding.severity is Severity.DANGER
    (_, devices) = more_tables(results)
    main = next(row for row in devices["rows"] if "disconnect" in row["cells"][0])
    assert main["badge"]["word"] == "falls short"


def test_a_site_that_is_run_one_way_has_no_table_of_states() -> None:
    """The farmhouse: devices only."""
    farm = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"
    results = study(plan(load(farm)))
    assert [table["id"] for table in more_tables(results)] == ["devices"]
    assert not [f for f in results.findings if f.rule == "interrupting-rating"]


def test_the_data_follow_their_schema() -> None:
    """States and devices by the published structure."""
    data = results_data(cabin("solid"))
    jsonschema.validate(data, schema())
    assert [state["id"] for state in data["states"]] == ["normal", "on generator"]
    assert data["devices"][0]["verdict"] in {"falls short", "cannot tell", "holds"}
