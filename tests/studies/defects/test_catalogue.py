"""Every single defect of small sites, its name, its place and what it does, by hand."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site import read
from bondwright.site.model import Site
from bondwright.site.states import states
from bondwright.studies.defects.alterations import Alteration, Break, Insert, Join, Lift, Swap
from bondwright.studies.defects.catalogue import changes_of, defects
from bondwright.studies.defects.kinds import JUMPER_M, WAYS, Defect, DefectKind, Weak
from bondwright.studies.defects.model import Role, _role
from bondwright.studies.defects.pairs import both, doubles
from bondwright.units import FOOT
from tests.plan.sites import described, planned
from tests.studies.sites import OHM_PER_FT, SUBPANEL, network


@cache
def every() -> dict[str, Defect]:
    """Worked out when a test asks for it, so that the test reaches the code."""
    return {item.id: item for item in defects(network(SUBPANEL))}


BY_HAND: dict[str, tuple[str, str, Alteration]] = {
    "tie-missing/bond": ("main", "tie 'bond' at main missing", Lift("bond")),
    "tie-loose/bond": ("main", "tie 'bond' at main loose (0.5 ohm)", Lift("bond", 0.5)),
    "tie-missing/stray screw": ("sub", "tie 'stray screw' at sub missing", Lift("stray screw")),
    "tie-loose/stray screw": (
        "sub", "tie 'stray screw' at sub loose (0.5 ohm)", Lift("stray screw", 0.5),
    ),
    "neutral-open/supply": (
        "main", "service neutral open, bench to main", Break("run supply", "N"),
    ),
    "neutral-loose/supply": (
        "main", "service neutral loose (0.5 ohm), bench to main", Insert("run supply", "N", 0.5),
    ),
    "egc-open/feeder": (
        "sub", "equipment grounding conductor open, main to sub", Break("run feeder", "metal"),
    ),
    "neutral-open/feeder": ("sub", "branch neutral open, main to sub", Break("run feeder", "N")),
    "neutral-loose/feeder": (
        "sub", "branch neutral loose (0.5 ohm), main to sub", Insert("run feeder", "N", 0.5),
    ),
    "neutral-egc-swapped/feeder": (
        "sub", "neutral and equipment grounding conductor swapped at sub",
        Swap("run feeder", ("N",), ("metal",), "sub:N", "sub:G"),
    ),
    "electrode-off/rod": (
        "main", "electrode 'rod' or its conductor at main missing",
        Break("electrode conductor rod", "metal"),
    ),
    "line-leaks/main/L1": (
        "main", "L1 leaks to metal at main (100 ohm)", Join("main:L1", "main:G", 100.0),
    ),
    "line-leaks/sub/L1": (
        "sub", "L1 leaks to metal at sub (100 ohm)", Join("sub:L1", "sub:G", 100.0),
    ),
}  # fmt: skip


@pytest.mark.parametrize("label", BY_HAND)
def test_a_defect_by_hand(label: str) -> None:
    at, name, alteration = BY_HAND[label]
    item = every()[label]
    assert (item.at, item.name, item.alterations) == (at, name, (alteration,))
    kind, _, thing = label.partition("/")
    assert item.kind is DefectKind(kind)
    assert item.thing == thing.partition("/")[0]
    assert item.found_by == WAYS[item.kind]
    assert item.weak == ()


def test_there_are_no_others() -> None:
    """A wire of a quarter of the area besides; and no tie is added where there is one."""
    assert set(every()) == {*BY_HAND, "egc-small/feeder"}


def wired(**run: Any) -> Network:
    feeder = {"from": "main", "to": "sub", "length": "60 ft", "lines": "6 AWG Cu",
              "device": "30 A breaker", **run}  # fmt: skip
    return network(described(SUBPANEL, runs__feeder=feeder))


@pytest.mark.parametrize(
    ("run", "wire", "count"),
    [
        ({"egc": "6 AWG Cu"}, "6 AWG Cu", 1),
        ({"lines": "2 x 1/0 AWG Cu", "egc": "2 x 3 AWG Cu"}, "3 AWG Cu", 2),
    ],
)
def test_a_wire_too_small_has_four_times_its_ohms(
    run: dict[str, str], wire: str, count: int
) -> None:
    """NEC chapter 9 table 8, 60 ft: three times that is added to each wire of every set."""
    items = {item.id: item for item in defects(wired(**run))}
    item = items["egc-small/feeder"]
    assert item.weak == (Weak("feeder", 0.25),)
    assert item.name == (
        "equipment grounding conductor much too small (a quarter of the area), main to sub"
    )
    assert len(item.alterations) == count
    names = {"metal"} if count == 1 else {"metal.1", "metal.2"}
    for one in item.alterations:
        assert isinstance(one, Insert)
        assert one.section == "run feeder"
        assert one.conductor in names
        assert one.ohm == pytest.approx(3 * OHM_PER_FT[wire] * 60, rel=0.01)


def test_loose_neutrals_in_parallel_are_half_an_ohm_together() -> None:
    items = {item.id: item for item in defects(wired(lines="2 x 1/0 AWG Cu", egc="3 AWG Cu"))}
    assert items["neutral-loose/feeder"].alterations == (
        Insert("run feeder", "N.1", 1.0),
        Insert("run feeder", "N.2", 1.0),
    )
    assert items["neutral-open/feeder"].alterations == (
        Break("run feeder", "N.1"),
        Break("run feeder", "N.2"),
    )


def test_a_jumper_too_small() -> None:
    """Half a metre of 8 AWG: 0.778 ohm/kft x 1.64 ft (NEC chapter 9 table 8), three times that."""
    ties = {"bond": {"at": "main", "by": "wire", "size": "8 AWG Cu"}}
    items = {item.id: item for item in defects(network(described(SUBPANEL, ties=ties)))}
    item = items["tie-small/bond"]
    (lift,) = item.alterations
    assert isinstance(lift, Lift)
    assert lift.ohm == pytest.approx(3 * OHM_PER_FT["8 AWG Cu"] * JUMPER_M / FOOT, rel=0.01)
    assert item.weak == (Weak("bond", 0.25),)
    assert item.name == "tie 'bond' at main much too small (a quarter of the area)"
    # now a tie may be added in the second panel
    added = items["tie-added/sub"]
    assert added.alterations == (Join("sub:N", "sub:G", 0.5e-3),)
    assert (added.at, added.name) == ("sub", "neutral tied to metal at sub as well")
    assert "tie-added/main" not in items
    assert "tie-added/bench" not in items


def test_raceways_and_wires_in_them() -> None:
    tube = {"kind": "emt", "size": "1 in"}
    alone = {item.id: item for item in defects(wired(egc="raceway", raceway=tube))}
    assert alone["raceway-open/feeder"].alterations == (Break("run feeder", "raceway"),)
    assert alone["raceway-open/feeder"].name == "raceway joint open, main to sub"
    assert "egc-open/feeder" not in alone
    assert "neutral-egc-swapped/feeder" not in alone
    beside = {item.id: item for item in defects(wired(egc="10 AWG Cu", raceway=tube))}
    assert {"raceway-open/feeder", "egc-open/feeder", "egc-small/feeder"} <= set(beside)


METAL = {
    "water": {
        "kind": "water pipe", "from": "main", "to": "far", "length": "60 ft",
        "resistance": "20 milliohm",
        "taps": [{"at": "10 ft", "to": "sub"}, {"at": "20 ft", "to": "mid"}],
    },
    "frame": {
        "kind": "structural steel", "from": "mid", "to": "far", "length": "9 ft",
        "resistance": "2 milliohm",
    },
}  # fmt: skip


def three() -> Plan:
    base = described(SUBPANEL, metal=METAL)
    for name in ("mid", "far"):
        base["places"][name] = {"kind": "panel"}
        base["runs"][f"to {name}"] = {**base["runs"]["feeder"], "to": name}
    return planned(base)


def test_metal_that_is_not_bonded() -> None:
    items = {item.id: item for item in defects(build(three(), loads=False))}
    found = {k: (v.at, v.name, v.alterations) for k, v in items.items() if "unbonded" in k}
    assert found == {
        "metal-unbonded/water/main": (
            "main", "water not bonded at main", (Break("metal water 1", "metal"),),
        ),
        "metal-unbonded/water/far": (
            "far", "water not bonded at far", (Break("metal water 3", "metal"),),
        ),
        "metal-unbonded/water/tap 0 sub": (
            "sub", "water not bonded to sub", (Break("contact water 0", "z"),),
        ),
        "metal-unbonded/water/tap 1 mid": (
            "mid", "water not bonded to mid", (Break("contact water 1", "z"),),
        ),
        "metal-unbonded/frame/far": (
            "far", "frame not bonded at far", (Break("metal frame", "metal"),),
        ),
    }  # fmt: skip


def test_neighbours_touch_where_nothing_joins_them_already() -> None:
    """Fed one after the other from one place: sub and mid do; mid and far share a frame."""
    items = {item.id: item for item in defects(build(three(), loads=False))}
    touching = {k: v for k, v in items.items() if v.kind is DefectKind.CONTACT}
    assert list(touching) == ["contact/sub/mid"]
    (item,) = touching.values()
    assert item.alterations == (Join("sub:G", "mid:G", 1e-3),)
    assert (item.at, item.name) == ("sub", "metal of sub touches metal of mid")


SWITCHED = """site: Switch bench
sources:
  utility: {system: 120/240 V, available: {current: 10 kA}}
generators:
  gen: {system: 120/240 V, rating: 20 kVA}
transfers:
  switch: {normal: from main, standby: from gen, neutral: KIND}
places:
  main: {kind: service, main: 100 A breaker}
  panel: {kind: panel, main: 60 A breaker}
runs:
  service: {from: utility, to: main, length: 10 ft, lines: 3 AWG Cu}
  from main: {from: main, to: switch, device: 60 A breaker, length: 10 ft, lines: 6 AWG Cu}
  from gen: {from: gen, to: switch, device: 60 A breaker, length: 10 ft, lines: 6 AWG Cu}
  out: {from: switch, to: panel, length: 10 ft, lines: 6 AWG Cu}
"""


def switched(kind: str, number: int = 0) -> tuple[Defect, ...]:
    made = plan(read(SWITCHED.replace("KIND", kind)))
    return defects(build(made, loads=False, state=states(made.site)[number]))


def test_a_transfer_switch_of_the_wrong_kind() -> None:
    def only(kind: str, number: int = 0) -> Defect:
        (item,) = [d for d in switched(kind, number) if d.kind is DefectKind.TRANSFER_KIND]
        return item

    solid = only("switched")
    assert solid.alterations == (Join("switch/normal:N", "switch/standby:N", 0.5e-3),)
    assert "leaves the neutral solid where it should switch it" in solid.name
    assert (solid.id, solid.at) == ("transfer-kind/switch", "switch")
    normal = only("solid")
    assert normal.alterations == (Break("run from gen", "N"),)
    assert "switches the neutral where it should be solid" in normal.name
    made = plan(read(SWITCHED.replace("KIND", "solid")))
    standby = [
        k for k, s in enumerate(states(made.site)) if "gen" in s.on and "utility" not in s.on
    ]
    assert only("solid", standby[0]).alterations == (Break("run from main", "N"),)


def test_nothing_leaks_where_nothing_is_energised() -> None:
    made = plan(read(SWITCHED.replace("KIND", "solid")))
    normal = {d.id for d in switched("solid") if d.kind is DefectKind.LEAKAGE}
    assert "line-leaks/panel/L2" in normal
    assert "line-leaks/main/L1" in normal
    assert not any("utility" in label for label in normal)
    number = next(
        k for k, s in enumerate(states(made.site)) if "gen" in s.on and "utility" not in s.on
    )
    standby = {d.id for d in switched("solid", number) if d.kind is DefectKind.LEAKAGE}
    assert "line-leaks/panel/L2" in standby
    assert "line-leaks/main/L1" not in standby


def test_a_supply_side_jumper_is_named_so() -> None:
    """Between a transformer and its first panel, ahead of every device."""
    made = planned(
        {
            "site": "works",
            "sources": {"utility": {"system": "480Y/277 V", "available": {"current": "20 kA"}}},
            "transformers": {
                "T1": {"primary": "480 V delta", "secondary": "208Y/120 V", "rating": "75 kVA",
                       "impedance": "4 %"}
            },
            "places": {
                "main": {"kind": "service", "main": "400 A"},
                "LP": {"kind": "panel", "main": "200 A"},
            },
            "runs": {
                "service": {"from": "utility", "to": "main", "length": "9 ft",
                            "lines": "500 kcmil Cu"},
                "primary": {"from": "main", "to": "T1", "length": "9 ft", "lines": "1 AWG Cu",
                            "device": "125 A"},
                "secondary": {"from": "T1", "to": "LP", "length": "9 ft", "lines": "4/0 AWG Cu"},
            },
        }
    )  # fmt: skip
    items = {item.id: item for item in defects(build(made, loads=False))}
    item = items["ssbj-open/secondary"]
    assert item.name == "supply-side bonding jumper open, T1 to LP"
    assert item.alterations == (Break("run secondary", "metal"),)
    small = items["egc-small/secondary"]
    assert small.name.startswith("supply-side bonding jumper much too small")
    # a transformer is no place where neutral and metal could be swapped
    assert "neutral-egc-swapped/primary" not in items
    assert items["neutral-open/secondary"].name == "branch neutral open, T1 to LP"


# --- alterations on a solved circuit ---------------------------------------------------------


def test_two_of_one_thing_are_never_there_at_once() -> None:
    some = tuple(every().values())
    found = {item.id for item in doubles(some)}
    assert "tie-missing/bond + tie-loose/bond" not in found
    assert "egc-open/feeder + neutral-open/feeder" not in found
    assert "line-leaks/main/L1 + line-leaks/sub/L1" in found
    assert "tie-missing/bond + egc-open/feeder" in found
    one, other = every()["tie-missing/bond"], every()["egc-small/feeder"]
    pair = both(one, other)
    assert (pair.kind, pair.thing, pair.at) == (one.kind, one.thing, one.at)
    assert pair.name == f"{one.name}; and {other.name}"
    assert pair.alterations == one.alterations + other.alterations
    assert pair.weak == other.weak
    assert pair.found_by == tuple(dict.fromkeys(one.found_by + other.found_by))


def test_a_swap_by_hand() -> None:
    """1.2 kW at 120 V (12 ohm) with neutral and ground wire swapped at the far end: its 10 A come
    home by the ground wire, and no tie in the second panel closes a loop."""
    base = described(SUBPANEL, ties={"bond": {"at": "main", "by": "screw"}})
    site = network(base, loads=True)
    (item,) = [d for d in defects(site) if d.kind is DefectKind.SWAPPED]
    found = site.solver.solve(changes_of(site, item))
    metal = abs(found.conductor_current("run feeder", "metal"))
    neutral = abs(found.conductor_current("run feeder", "N"))
    drop = 2 * OHM_PER_FT["6 AWG Cu"] * 70
    assert metal == pytest.approx(120 / (12 + drop), rel=2e-3)
    assert neutral < 1e-3
    assert np.isfinite(found.residuals.kirchhoff)
    assert isinstance(site.plan.site, Site)


def test_a_loose_tie_has_its_ohms_in_series() -> None:
    """1 A from neutral to metal of the service: half an ohm of the tie is in its way; the other
    tie lies behind the feeder's neutral and ground wire (0.059 ohm) beside it."""
    site = network(SUBPANEL)
    solver = site.solver
    from bondwright.network.changes import Injection

    drawn = [Injection("main:N", "main:G", 1.0)]
    way = 2 * OHM_PER_FT["6 AWG Cu"] * 60
    for label, tie in (("tie-loose/bond", 0.5), ("tie-missing/bond", 1e9)):
        found = solver.solve(changes_of(site, every()[label]), drawn, dead=True)
        beside = tie * way / (tie + way)
        assert abs(found.between("main:N", "main:G")) == pytest.approx(beside, rel=0.1)


def test_what_part_each_change_of_two_defects_has() -> None:
    """A swap is a shift and what it moves, wherever in the row they stand; the rest by itself."""
    base = described(SUBPANEL, ties={"bond": {"at": "main", "by": "screw"}})
    site = network(base)
    items = {item.id: item for item in defects(site)}
    swap, leak = items["neutral-egc-swapped/feeder"], items["line-leaks/sub/L1"]
    neutral = items["neutral-open/supply"]
    some = [*changes_of(site, leak), *changes_of(site, swap), *changes_of(site, neutral)]
    assert [_role(some, k) for k in range(4)] == [
        (Role.JOIN, 0),
        (Role.SHIFT, 2),
        (Role.MOVED, 1),
        (Role.GAP, 3),
    ]
    turned = [*changes_of(site, swap), *changes_of(site, leak)]
    assert [_role(turned, k) for k in range(3)] == [
        (Role.SHIFT, 1),
        (Role.MOVED, 0),
        (Role.JOIN, 2),
    ]
