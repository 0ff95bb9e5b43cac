"""Sites for the tests of words and papers, as a person would write them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.reader import read

FARM = (Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml").read_text(
    encoding="utf-8"
)

BARN = """
site: "Old barn, Harrow Creek Cidery"
rules: nec-2023
describes: as found
sources:
  utility: {system: 120/240 V, transformer: {rating: 15 kVA, impedance: 2 %}}
places:
  house: {kind: service, main: 100 A breaker, building: house, loads: [{on: L1-N, power: 2 kW}]}
  barn: {kind: panel, building: barn, loads: [{on: L1-N, power: 1.8 kW}]}
  cooler: {kind: equipment, building: barn, loads: [{on: L1-N, power: 0.9 kW}]}
runs:
  drop: {from: utility, to: house, length: 80 ft, lines: 2 AWG Al, neutral: 2 AWG Al,
    wiring: overhead}
  barn feeder: {from: house, to: barn, device: 60 A breaker, length: 150 ft, lines: 6 AWG Cu,
    neutral: 6 AWG Cu, egc: EGC, wiring: direct buried}
  cooler branch: {from: barn, to: cooler, device: 20 A/1p breaker, length: 60 ft,
    lines: 12 AWG Cu, on: [L1], egc: 12 AWG Cu, wiring: cable}
ties:
  house screw: {at: house, by: screw}
  barn screw: {at: barn, by: screw}
electrodes:
  barn rod: {kind: rod, at: barn, length: 8 ft, diameter: 5/8 in}
metal:
  water line: {kind: water pipe, from: house, to: barn, length: 140 ft,
    resistance/length: 0.07 ohm/kft}
"""
BARN_WITH_EGC = BARN.replace("EGC", "10 AWG Cu")
BARN_WITH_PIPE_ONLY = BARN.replace("EGC", "none")

SMALL = """
site: Gate, Harrow Creek Cidery
sources:
  utility: {system: 120/240 V, transformer: {rating: 10 kVA, impedance: 2 %}}
places:
  gate house: {kind: service, main: 60 A breaker}
runs:
  drop: {from: utility, to: gate house, length: 60 ft, lines: 4 AWG Cu, neutral: 4 AWG Cu}
"""

NASTY_IDS = (
    "<script>alert(1)</script>",
    '#panic("x") $x$ *b* _i_ @ref `raw`',
    '=HYPERLINK("http://x.example","y")',
    "pump 😀 \u202egnp.exe house",
    "W" * 80,
)
"""Labels that would do harm where text is taken for markup, code or a formula."""

NASTY = f"""
site: '{NASTY_IDS[0]} & "Harrow" #read("/etc/hosts")'
note: '{{{{ 7*7 }}}} <b>bold</b>'
sources:
  utility: {{system: 120/240 V, transformer: {{rating: 10 kVA, impedance: 2 %}}}}
places:
  '{NASTY_IDS[0]}': {{kind: service, main: 60 A breaker, loads: [{{on: L1-N, power: 1 kW}}]}}
  '{NASTY_IDS[1]}': {{kind: panel, loads: [{{on: L1-N, power: 1 kW}}]}}
  '{NASTY_IDS[4]}': {{kind: panel}}
runs:
  drop: {{from: utility, to: '{NASTY_IDS[0]}', length: 60 ft, lines: 4 AWG Cu, neutral: 4 AWG Cu}}
  '{NASTY_IDS[2]}': {{from: '{NASTY_IDS[0]}', to: '{NASTY_IDS[1]}', device: 30 A breaker,
    length: 60 ft, lines: 10 AWG Cu, neutral: 10 AWG Cu}}
  "{NASTY_IDS[3]}": {{from: '{NASTY_IDS[1]}', to: '{NASTY_IDS[4]}', device: 20 A breaker,
    length: 90 ft, lines: 12 AWG Cu, neutral: 12 AWG Cu}}
electrodes:
  '{NASTY_IDS[2]}': {{kind: rod, at: '{NASTY_IDS[0]}', length: 8 ft, diameter: 5/8 in}}
"""


def row_of_panels(count: int) -> str:
    """Return a site with a service and ``count`` panels in a row of branches."""
    lines = [
        "site: Long shed, Harrow Creek Cidery",
        "sources:",
        "  utility: {system: 208Y/120 V, transformer: {rating: 150 kVA, impedance: 2 %}}",
        "places:",
        "  service: {kind: service, main: 400 A breaker}",
    ]
    lines += [
        f"  panel {n}: {{kind: panel, loads: [{{on: L{n % 3 + 1}-N, power: 0.6 kW}}]}}"
        for n in range(1, count + 1)
    ]
    lines += [
        "runs:",
        "  entrance: {from: utility, to: service, length: 40 ft, lines: 500 kcmil Cu}",
    ]
    lines += [
        f"  feeder {n}: {{from: service, to: panel {n}, device: 60 A breaker, "
        f"length: {30 + 5 * n} ft, lines: 6 AWG Cu, neutral: 6 AWG Cu}}"
        for n in range(1, count + 1)
    ]
    return "\n".join(lines) + "\n"


@cache
def planned(text: str) -> Plan:
    """Return the plan of a site file."""
    return plan(read(text))


@cache
def studied(text: str) -> Results:
    """Return every study of a site file."""
    return study(planned(text))
