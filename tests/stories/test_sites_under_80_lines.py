"""Four buildings of the made-up farm, each described in under 80 lines, planned and read through.

A large steel building, a farm with three buildings, a shop with a 480-to-208 V transformer, a house
with sun, battery and generator. Sizes by hand from tables 250.66, 250.102(C)(1) and 250.122
(tests/reference); which ties, bonds and lines belong is common practice.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.checklist import checklist
from bondwright.site import load
from tests.cli.running import run, structure
from tests.plan.sites import item, rules_of

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("steel-hall", "three-building-farm", "workshop-transformer", "sun-house")


def path(name: str) -> str:
    return str(EXAMPLES / f"{name}.yaml")


@cache
def planned(name: str) -> Plan:
    return plan(load(path(name)))


@cache
def checked(name: str) -> Any:
    return structure("check", path(name), code=1 if name == "sun-house" else 0)


def sizes(name: str) -> dict[str, str]:
    return {row.id: str(row.chosen or row.form) for row in planned(name).schedule}


def lines(name: str, where: str) -> set[str]:
    return {line.id for line in checklist(planned(name)) if line.where == where}


@pytest.mark.parametrize("name", NAMES)
def test_it_is_under_80_lines(name: str) -> None:
    assert len(Path(path(name)).read_text(encoding="utf-8").splitlines()) < 80


@pytest.mark.parametrize("name", NAMES)
def test_every_row_holds_and_no_rule_is_broken(name: str) -> None:
    result = planned(name)
    assert {row.verdict for row in result.schedule} == {Verdict.HOLDS}
    assert {finding.severity for finding in result.findings} <= {Severity.NOTE}


@pytest.mark.parametrize("name", NAMES)
def test_every_system_has_one_tie_in_every_state(name: str) -> None:
    counts = planned(name).tie_counts
    assert counts
    assert {count.count for count in counts} == {1}


@pytest.mark.parametrize(
    ("name", "command"),
    [
        *((name, command) for name in NAMES for command in ("stray", "netlist")),
        ("steel-hall", "size"),
        ("three-building-farm", "choices"),
        ("sun-house", "faults"),
    ],
)
def test_commands_run(name: str, command: str) -> None:
    result = run(command, path(name))
    assert result.exit_code == 0
    assert "Traceback" not in result.output


# --- a large steel building ---------------------------------------------------------------------


def test_steel_hall() -> None:
    found = sizes("steel-hall")
    # 4 x 600 kcmil Cu is 2400 kcmil: above 1100 kcmil, 12.5 % of it is 300 kcmil.
    assert found["MBJ switchboard"] == "300 kcmil Cu"
    # Electrodes: concrete only 4 AWG, a ring as its conductor, pipe and steel 3/0 AWG.
    assert (found["GEC footing steel"], found["GEC ring"]) == ("4 AWG Cu", "2/0 AWG Cu")
    assert (found["GEC columns"], found["GEC water service"]) == ("3/0 AWG Cu", "3/0 AWG Cu")
    # Steel and water pipe: 300 kcmil, and never above 3/0 AWG since 2020.
    assert (found["BJ frame"], found["BJ water pipe"]) == ("3/0 AWG Cu", "3/0 AWG Cu")
    # Gas pipe follows its circuit; none is named, so the 1600 A main: 4/0 AWG.
    assert found["BJ gas pipe"] == "4/0 AWG Cu"
    assert "Give 'circuit'" in item(planned("steel-hall"), "BJ gas pipe").remark
    # 600 A: 1 AWG, a full one with each of two sets; 250 A: 4; 125 A: 6; 70 A: 8; 50 A: 10.
    assert found["EGC compressor feeder"] == "2 x 1 AWG Cu"
    assert found["bushing compressor feeder"] == "1 AWG Cu"
    assert (found["EGC branch 1"], found["EGC office primary"]) == ("4 AWG Cu", "6 AWG Cu")
    assert (found["EGC dock primary"], found["EGC hoist feeder"]) == ("8 AWG Cu", "10 AWG Cu")
    # Each transformer by its own secondary: 4/0 AWG Cu: 2 AWG; 1/0 AWG Cu: 6 AWG.
    for name, secondary, size in (("office", "office secondary", "2 AWG Cu"),
                                  ("dock", "dock secondary", "6 AWG Cu")):  # fmt: skip
        assert found[f"SBJ {name} transformer"] == size
        assert found[f"GEC {name} steel"] == size
        assert found[f"SSBJ {secondary}"] == size
    # The breaker's ground-fault setting is there: nothing asks for one.
    assert "ground-fault-protection" not in rules_of(planned("steel-hall"))
    assert "crane-bond" in lines("steel-hall", "runway")
    assert "computer-room-ground" in lines("steel-hall", "server room")
    assert "ground-fault-test-record" in lines("steel-hall", "switchboard")
    assert "raceway-over-250" in lines("steel-hall", "branch 1")
    assert "raceway-over-250" not in lines("steel-hall", "office secondary")


def test_steel_hall_faults_and_normal_use() -> None:
    told = checked("steel-hall")
    assert {f["severity"] for f in told["findings"]} == {"cannot tell"}
    stray = run("stray", path("steel-hall"))
    assert "No neutral current runs on metal where it shouldn't." in stray.output


# --- a farm with three buildings ----------------------------------------------------------------


def test_three_building_farm() -> None:
    found = sizes("three-building-farm")
    # One join past the meter, at the pole; 2/0 AWG Cu: 4 AWG. The meter's is no jumper.
    assert found["MBJ yard disconnect"] == "4 AWG Cu"
    assert [row for row in found if row.startswith(("MBJ", "SBJ", "SSBJ"))] == [
        "MBJ yard disconnect"
    ]
    meter = item(planned("three-building-farm"), "neutral bond at yard meter")
    assert str(meter.purpose) == "bond of an enclosure to the neutral"
    assert {tie.at for tie in planned("three-building-farm").ties} == {
        "yard meter", "yard disconnect"
    }  # fmt: skip
    # 125 A: 6 AWG. 100 A: 8 AWG, grown by 3/0 over 1/0 AWG Al: 26,235 cmil, 6 AWG. 60 A: 10 AWG.
    assert found["EGC house feeder"] == "6 AWG Cu"
    assert found["EGC barn feeder"] == "6 AWG Cu"
    assert found["EGC workshop feeder"] == "10 AWG Cu"
    # 20 A: 12 AWG, grown with lines of 10 over 12 AWG to 10 AWG.
    assert (found["EGC drinker branch"], found["EGC pump branch"]) == ("12 AWG Cu", "10 AWG Cu")
    # Electrodes at all three and at the pole, by the conductors that feed each: table 250.66.
    assert found["GEC pole rods"] == "6 AWG Cu"
    assert found["GEC house footing"] == "6 AWG Cu"
    assert found["GEC barn rods"] == "6 AWG Cu"
    assert found["GEC workshop rods"] == "8 AWG Cu"
    # Stanchions by their 20 A circuit, the plane by 8 AWG, the gas pipe by the house's 125 A.
    assert (found["BJ stanchions"], found["equipotential stalls"]) == ("12 AWG Cu", "8 AWG Cu")
    assert found["BJ gas pipe"] == "6 AWG Cu"
    remark = item(planned("three-building-farm"), "BJ stanchions").remark
    assert "equipment grounding conductor of drinker branch may serve" in remark


def test_three_building_farm_checklist() -> None:
    for panel in ("house panel", "barn panel", "workshop panel"):
        assert "building-disconnect-neutral" in lines("three-building-farm", panel)
        assert "service-neutral-lands" not in lines("three-building-farm", panel)
    assert {"farm-supply", "livestock-ground-insulated"} <= lines("three-building-farm", "stalls")
    assert "livestock-plane" in lines("three-building-farm", "site")
    assert "service-bushing-jumper" not in lines("three-building-farm", "riser")


def test_three_building_farm_metal_of_the_riser_is_normal() -> None:
    told = checked("three-building-farm")
    by_rule = {f["rule"]: f["severity"] for f in told["findings"]}
    assert by_rule["supply-side-loop"] == "note"
    assert set(by_rule.values()) == {"cannot tell", "note"}


# --- a shop with a 480-to-208 V transformer -----------------------------------------------------


def test_workshop_transformer() -> None:
    found = sizes("workshop-transformer")
    # 3/0 AWG Cu: 4 AWG for jumper and bushing; electrodes 4 AWG, rods 6 AWG.
    assert (found["MBJ main switch"], found["bushing service"]) == ("4 AWG Cu", "4 AWG Cu")
    assert (found["GEC footing"], found["GEC rods"]) == ("4 AWG Cu", "6 AWG Cu")
    assert (found["BJ columns"], found["BJ water pipe"]) == ("4 AWG Cu", "4 AWG Cu")
    # 1/0 AWG Cu from the transformer: 6 AWG for all three.
    assert found["SBJ shop transformer"] == "6 AWG Cu"
    assert found["GEC steel at transformer"] == "6 AWG Cu"
    assert found["SSBJ secondary"] == "6 AWG Cu"
    assert found["EGC primary"] == "8 AWG Cu"
    assert found["EGC lathe feeder"] == "raceway"
    assert {tie.at for tie in planned("workshop-transformer").ties} == {
        "main switch", "shop transformer"
    }  # fmt: skip
    assert "system-jumper-alone" in lines(
        "workshop-transformer", "system bonding jumper at shop transformer"
    )
    assert "load-side-neutral-apart" in lines("workshop-transformer", "shop panel")
    assert "raceway-over-250" in lines("workshop-transformer", "lathe feeder")
    assert {f["rule"] for f in checked("workshop-transformer")["findings"]} == {
        "breaker-curve-missing"
    }


# --- a house with sun, battery and generator ----------------------------------------------------


def test_sun_house() -> None:
    found = sizes("sun-house")
    # The neutral goes through both switches, so the one join at the service serves every source.
    assert not any(row.startswith("SBJ") for row in found)
    assert found["MBJ main disconnect"] == "4 AWG Cu"
    assert {tie.at for tie in planned("sun-house").ties} == {"meter", "main disconnect"}
    # 100 A: 8 AWG; 60 A and 40 A: 10 AWG.
    assert (found["EGC grid side"], found["EGC house feeder"]) == ("8 AWG Cu", "8 AWG Cu")
    assert (found["EGC generator side"], found["EGC battery side"]) == ("10 AWG Cu", "10 AWG Cu")
    # Array without a device: 23 A x 1.25 x 1.25 is 36 A: 10 AWG as for 40 A (690.45, memory).
    assert found["EGC roof array"] == "10 AWG Cu"
    # Water pipe: 4 AWG by 2/0 AWG Cu; rods only: 6 AWG.
    assert (found["GEC water service"], found["GEC house rods"]) == ("4 AWG Cu", "6 AWG Cu")
    states = {count.state for count in planned("sun-house").tie_counts}
    assert len(states) >= 3
    # 400 V between two wires that are watched: nothing to ground, and nothing to say.
    assert not any(rule.startswith("dc-") for rule in rules_of(planned("sun-house")))
    assert {"dc-mark", "dc-detector", "battery-sheet"} <= lines("sun-house", "house battery")
    fixed = lines("sun-house", "standby set")
    assert "generator-no-join" in fixed
    assert "generator-receptacles" not in fixed
    assert "fault-current-mark" not in lines("sun-house", "main disconnect")


def test_sun_house_on_its_battery_opens_no_device_although_the_metal_is_sound() -> None:
    """8 kVA at 240 V and 120 %: 40 A, too little for any breaker; the metal stays near earth."""
    found = [f for f in checked("sun-house")["findings"] if f["rule"] == "fault-not-cleared"]
    assert {f["where"] for f in found} == {"island switch", "generator switch", "load panel"}
    for one in found:
        assert one["severity"] == "falls short"
        assert "on battery inverter" in one["title"]
        assert "40 A flows home by" in one["text"]
        assert "the way back is sound" in one["text"]
        assert "Leave the metal path as it is; a ground rod changes nothing." in one["cure"]
    (slow,) = [f for f in checked("sun-house")["findings"] if f["rule"] == "fault-cleared-late"]
    assert "larger conductors don't help" in slow["cure"]
