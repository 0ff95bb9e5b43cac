"""No design that is called good has a fault that doesn't clear, a thin conductor or live metal.

What is said of the shipped examples and starters, and of random designs, right and spoiled, is held
against a second implementation that shares no code with the first; and that one sees what is wrong
where everything is called good.
"""

from __future__ import annotations

import ast
import copy
import math
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.bands import band
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site.model import Site
from bondwright.studies import faults as fault_study
from scripts import second_opinion as script
from tests.second import opens, tables
from tests.second.whole import all_called_good, opinion

HERE = Path(__file__).parent
SHIPPED = [name for name in script.shipped() if name != script.SLOW]


@pytest.mark.parametrize("path", sorted(HERE.glob("*.py")), ids=lambda path: path.name)
def test_it_shares_no_code_with_what_it_judges(path: Path) -> None:
    if path.name.startswith("test_"):
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        else:
            continue
        assert not any(name.split(".")[0] in {"bondwright", "scripts"} for name in names)


@pytest.mark.parametrize("name", SHIPPED)
def test_what_is_called_good_of_a_shipped_site_is(name: str) -> None:
    said = study(plan(script.shipped()[name]))
    found = opinion(said)
    assert found.objections == []
    assert found.looked["piece of metal"] > 0
    # Handbook impedances and those of the circuit are the same thing seen twice.
    assert all(0.5 < ratio < 1.3 for ratio in found.ratios)


@pytest.mark.parametrize("seed", range(1, 9))
def test_what_is_called_good_of_a_random_design_is(seed: int) -> None:
    tallies: dict[str, script.Tally] = {}
    assert script.judge(seed, tallies, Counter(), count=2) == []
    assert sum(tally.designs for tally in tallies.values()) == 1


# --- it can fail ---------------------------------------------------------------------------------

HOUSE: Final[dict[str, Any]] = {
    "site": "house with a barn",
    "soil": "80 ohm m",
    "sources": {
        "utility": {
            "system": "120/240 V",
            "transformer": {"rating": "37.5 kVA", "impedance": "2 %"},
            "electrode": "5 ohm",
        }
    },
    "places": {
        "panel": {"kind": "service", "building": "house", "main": "200 A breaker"},
        "barn": {"kind": "panel", "building": "barn", "main": "60 A breaker, instantaneous 300 A"},
        "pump": {"kind": "equipment", "building": "barn"},
    },
    "runs": {
        "service": {
            "from": "utility", "to": "panel", "length": "80 ft", "wiring": "cable",
            "lines": "3/0 AWG Cu", "neutral": "1/0 AWG Cu",
        },
        "feeder": {
            "from": "panel", "to": "barn", "length": "90 ft", "lines": "4 AWG Cu",
            "egc": "8 AWG Cu", "device": "60 A breaker, instantaneous 300 A",
            "raceway": {"kind": "pvc", "size": "1-1/4 in"},
        },
        "branch": {
            "from": "barn", "to": "pump", "length": "30 ft", "lines": "10 AWG Cu", "on": ["L1"],
            "egc": "10 AWG Cu", "device": "20 A breaker, instantaneous 120 A", "wiring": "cable",
        },
    },
    "ties": {"screw": {"at": "panel", "by": "wire", "size": "4 AWG Cu"}},
    "electrodes": {
        "rods": {"kind": "rod", "at": "panel", "count": 2, "conductor": "6 AWG Cu"},
        "barn rods": {"kind": "rod", "at": "barn", "count": 2, "conductor": "8 AWG Cu"},
    },
}  # fmt: skip


def house(**changes: object) -> Site:
    """The house with values replaced: ``runs__feeder__egc="none"``."""
    data: Any = copy.deepcopy(HOUSE)
    for path, value in changes.items():
        *way, last = path.split("__")
        at = data
        for step in way:
            at = at[step]
        if value is None:
            del at[last]
        else:
            at[last] = value
    return Site.model_validate(data)


def test_the_house_holds_and_nothing_is_objected_to() -> None:
    said = study(plan(house()))
    assert said.summary.verdict is Verdict.HOLDS
    found = opinion(said)
    assert found.objections == []
    assert found.looked["whole site"] == 1


WRONG: Final[dict[str, tuple[dict[str, Any], str]]] = {
    "no tie": ({"ties__screw": None, "describes": "as found"}, "live metal"),
    "no ground to the barn": ({"runs__feeder__egc": "none"}, "live metal"),
    "loose tie": ({"ties__screw__resistance": "20 ohm"}, "does not clear"),
    "thin ground": ({"runs__feeder__egc": "14 AWG Cu"}, "undersized"),
    "thin tie": ({"ties__screw__size": "10 AWG Cu"}, "undersized"),
    "thin electrode conductor": ({"electrodes__rods__conductor": "14 AWG Cu"}, "undersized"),
    "breaker many times larger": ({"runs__feeder__device": "400 A breaker"}, "undersized"),
    "no settings and a long run": (
        {"runs__feeder__device": "60 A breaker", "runs__feeder__length": "600 ft",
         "places__barn__main": "60 A breaker"},
        "does not clear",
    ),
    "twenty times as long": ({"runs__feeder__length": "1800 ft"}, "does not clear"),
    "thin lines": (
        {"runs__feeder__lines": "14 AWG Cu", "runs__feeder__length": "40 ft",
         "runs__feeder__device": "60 A electronic breaker, long 1 12 s, short 300 A 0.4 s",
         "places__barn__main": None},
        "conductor too hot",
    ),
}  # fmt: skip


@pytest.mark.parametrize("wrong", WRONG)
def test_it_sees_what_is_wrong_where_all_is_called_good(wrong: str) -> None:
    changes, kind = WRONG[wrong]
    said = study(plan(house(**changes)))
    assert said.summary.verdict is not Verdict.HOLDS
    assert opinion(said).objections == []
    kinds = {one.kind for one in opinion(all_called_good(said)).objections}
    assert {kind, "whole site"} <= kinds


def test_a_tool_gone_wrong_fails_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The verdict on faults always good, as a slip in the code could make it."""
    site = house(runs__feeder__length="1800 ft")
    assert opinion(study(plan(site))).objections == []
    monkeypatch.setattr(fault_study, "verdict_of", lambda **_: Verdict.HOLDS)
    kinds = {one.kind for one in opinion(study(plan(site))).objections}
    assert "does not clear" in kinds


def test_metal_that_nobody_asked_about_fails_it() -> None:
    said = study(plan(house()))
    less = [f for f in said.faults if f.fault.place != "barn"]
    found = opinion(replace(said, faults=tuple(less)))
    assert {one.kind for one in found.objections} == {"never asked", "whole site"}


# --- its own reading of devices and tables -------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["20 A breaker", "60 A breaker, instantaneous 300 A", "400 A breaker", "B16", "C32", "D10",
     "63 A gG fuse", "100 A class RK5 fuse", "32 A BS 88-3 fuse",
     "400 A electronic breaker, long 1 12 s, short 2 kA 0.2 s, instantaneous 4 kA"],
)  # fmt: skip
def test_two_readings_of_a_device_are_alike(text: str) -> None:
    """Neither is trusted: where either says that it opens soon they are within a factor of two."""
    rating = DeviceRating.parse(text)
    judged = band(rating)
    dice = random.Random(text)
    both = 0
    for _ in range(200):
        amps = rating.rating_a * 10 ** dice.uniform(0.4, 2.5)
        mine, theirs = opens.slowest(text, amps, {}), judged.slowest(amps)
        assert mine is not None
        if min(mine, theirs) < 5 and math.isfinite(max(mine, theirs)):
            both += 1
            assert 0.45 < theirs / mine < 2.2 or abs(theirs - mine) < 0.02
    assert both > 30


def test_the_tables_say_what_the_trade_knows() -> None:
    """A few sizes that everybody in the trade has by heart (common practice)."""
    awg = tables.area
    assert tables.equipment_ground(20, "Cu") == awg("12 AWG")
    assert tables.equipment_ground(200, "Cu") == awg("6 AWG")
    assert tables.jumper(awg("3/0 AWG"), "Cu", "Cu") == awg("4 AWG")
    assert tables.electrode_conductor(awg("500 kcmil"), "Cu", "Cu") == awg("1/0 AWG")
    assert [tables.protective_conductor(s) for s in (2.5, 25, 70)] == [2.5, 16, 35]
