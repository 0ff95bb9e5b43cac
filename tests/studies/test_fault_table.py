"""The vectorised fault study against the one that follows a single fault, number by number."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import EXAMPLES, DeviceRating
from bondwright.devices.bands import band
from bondwright.devices.residual import residual_band
from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.studies.band_table import band_times
from bondwright.studies.fault_parts import Parts
from bondwright.studies.fault_table import NOT_HEATED, VERDICTS, FaultTable, study_many
from bondwright.studies.faults import Fault, FaultKind, FaultResult, possible_faults, study_fault
from bondwright.studies.walls import Walls
from tests.iec_sites import COOPERAGE, FLAT, plan_of
from tests.plan.sites import described
from tests.studies.sites import (
    BENCH,
    DERIVED,
    EMT_AS_EGC,
    WHOLE_SITES,
    WYE_SERVICE,
    example,
    network,
)

ALONE = [kind for kind in FaultKind if kind is not FaultKind.SECOND_TO_METAL]
"""Kinds of fault that lie at one place."""

VOLTS, AMPS = 1e-7, 1e-6
"""Below these a number is noise: differences of volts a billion times larger."""


def alike(one: float, other: float, noise: float = 0.0, close: float = 1e-9) -> bool:
    if math.isnan(one) or math.isnan(other) or math.isinf(one) or math.isinf(other):
        return one == other or (math.isnan(one) and math.isnan(other))
    return abs(one - other) <= close * max(abs(one), abs(other)) + noise


def differences(
    table: FaultTable, k: int, one: FaultResult, close: float, noise: float = VOLTS
) -> list[str]:
    """Return what differs between a row of a table and a fault followed by itself."""
    opened = [opening.device for opening in one.openings]
    heat = NOT_HEATED if one.heat is None else VERDICTS.index(one.heat.verdict)
    temperature = math.nan if one.heat is None else one.heat.temperature
    at = {-1: None, **dict(enumerate(table.devices))}
    # A loop through nothing but charging currents says how floating parts were rounded.
    real = one.current > 0.01
    pairs = {
        "current": alike(table.current[k], one.current, AMPS, close),
        "loop": not real or alike(abs(table.loop[k]), one.loop, 0.0, close),
        # Metal at an end where nothing happens counts as that of the panel before it: it differs
        # by what its nanofarads draw, tenths of a millivolt.
        "touch": alike(table.touch[k], one.touch_verdict.voltage_v, max(noise, 1e-3), close),
        "place": alike(
            one.touch[table.places[table.touch_place[k]]], table.touch[k], max(noise, 1e-3), close
        ),
        "limit": alike(table.touch_limit[k], one.touch_verdict.limit_v),
        "clearing": alike(table.clearing[k], one.clearing, 0.0, 10 * close),
        "fastest": alike(table.fastest[k], one.fastest, 0.0, 10 * close),
        "live": alike(table.live_after[k], one.live_after, noise, close),
        "temperature": alike(table.temperature[k], temperature, 0.0, 100 * close),
        "heat": int(table.heat[k]) == heat,
        "openings": int(table.openings[k]) == len(opened),
        "opener": at[int(table.opener[k])] == (opened[0] if opened else None),
        "last": at[int(table.last_opener[k])] == (opened[-1] if opened else None),
        "ahead": bool(table.supply_side[k]) is one.supply_side,
        "missing": bool(table.missing[k]) is bool(one.missing),
        "verdict": VERDICTS[table.verdict[k]] is one.verdict,
    }
    return [name for name, same in pairs.items() if not same]


def assert_same(
    site: Network,
    faults: Sequence[Fault],
    close: float = 1e-9,
    *,
    settle: bool = False,
    noise: float = VOLTS,
) -> None:
    table = study_many(site, faults, settle=settle, within=EXACT)
    assert len(table) == len(faults)
    for k, fault in enumerate(faults):
        one = study_fault(site, fault, settle=settle)
        assert differences(table, k, one, close, noise) == [], str(fault)


EXACT = 1e-7
"""Part of a fault's current that walls left as they are may change, where two ways are compared."""

STEEL = 1e-6
"""How close settled steel comes: both ways stop where walls agree with their currents that well."""


@pytest.mark.parametrize("name", WHOLE_SITES)
def test_steel_at_its_own_current(name: str) -> None:
    site = network(WHOLE_SITES[name])
    assert_same(site, possible_faults(site, ALONE), STEEL, settle=True, noise=1e-4)


@pytest.mark.parametrize(("places", "seed"), [(25, 3), (60, 1), (90, 7)])
def test_steel_of_a_building_with_a_common_frame(places: int, seed: int) -> None:
    """Its frame joins transformers, so that dozens of raceways carry a part of every fault."""
    site = building(places, seed)
    faults = possible_faults(site, [FaultKind.LINE_TO_METAL])
    step = max(1, len(faults) // 30)
    assert len(site.steel) > 10
    assert_same(site, faults[::step], STEEL, settle=True, noise=1e-3)


def test_steel_changes_what_comes_out() -> None:
    """Else the tests above would pass with walls that are never settled."""
    site = building(60, 1)
    faults = possible_faults(site, [FaultKind.LINE_TO_METAL])
    settled, quiet = study_many(site, faults), study_many(site, faults, settle=False)
    assert np.max(np.abs(settled.current / quiet.current - 1)) > 0.01


@pytest.mark.parametrize("within", [1e-2, 1e-3, 1e-5])
def test_the_bound_on_what_is_left_out_holds(within: float) -> None:
    site = building(90, 7)
    faults = possible_faults(site, [FaultKind.LINE_TO_METAL])
    exact = study_many(site, faults, within=EXACT)
    near = study_many(site, faults, within=within)
    # First order; walls that are settled stop at a fifth of it each.
    assert np.max(np.abs(near.current / exact.current - 1)) <= 2 * within


@pytest.mark.parametrize("name", WHOLE_SITES)
def test_every_fault_of_whole_sites(name: str) -> None:
    site = network(WHOLE_SITES[name])
    # A tie of no resistance stands beside rods of 25 ohm: that much is lost in rounding.
    close = 1e-8 if "bench" in name else 1e-9
    assert_same(site, possible_faults(site, ALONE), close)


def test_every_fault_of_the_example() -> None:
    assert_same(example(), possible_faults(example(), ALONE))


@cache
def building(places: int, seed: int) -> Network:
    return build(plan(large_site(places, seed)), loads=False)


@settings(max_examples=12, deadline=None)
@given(
    st.integers(1, 70),
    st.integers(0, 1000),
    st.sampled_from([0.0, 0.05, 1.0, 30.0, 3000.0]),
    st.data(),
)
def test_random_buildings(places: int, seed: int, ohms: float, data: st.DataObject) -> None:
    site = building(places, seed)
    faults = [
        Fault(f.place, f.kind, f.a, f.b, ohms, also=f.also)
        for f in possible_faults(site, ALONE)
        if ohms == 0 or f.kind is not FaultKind.THREE_LINES
    ]
    chosen = data.draw(st.sets(st.integers(0, len(faults) - 1), min_size=1, max_size=40))
    assert_same(site, [faults[k] for k in sorted(chosen)])


def test_several_openings_one_after_the_other() -> None:
    """Fuses melt one by one, and what is left drives on through the others."""
    base = described(
        DERIVED,
        transformers__T1={
            "primary": "480Y/277 V",
            "secondary": "240 V delta",
            "rating": "45 kVA",
            "impedance": "5 %",
        },
        runs__primary={
            "from": "main",
            "to": "T1",
            "length": "1 ft",
            "lines": "2 AWG Cu",
            "device": "100 A fuse",
        },
        places__LP={"kind": "panel", "main": "125 A"},
        places__saw={"kind": "equipment"},
    )
    site = network(base)
    faults = possible_faults(site, ALONE)
    assert_same(site, faults)
    assert study_many(site, faults).openings.max() > 1


def test_ties_in_parallel_and_residual_devices() -> None:
    main = (
        "1200 A electronic breaker, long 1 12 s, short 9 kA 0.3 s, instantaneous 12 kA, "
        "ground fault 400 A 0.1 s"
    )
    base = described(
        WYE_SERVICE,
        places__main__main=main,
        places__panel__main="600 A fuse",
        runs__feeder__device="600 A fuse",
        runs__branch__device="20 A GFCI breaker",
    )
    site = network(base)
    assert_same(site, possible_faults(site, ALONE))
    small = [Fault("press", FaultKind.LINE_TO_METAL, line, "G", 2000.0) for line in ("L1", "L2")]
    assert_same(site, small)
    assert study_many(site, small).openings.tolist() == [1, 1]


def test_the_worst_come_first() -> None:
    table = study_many(network(WHOLE_SITES["derived system, jumper missing"]))
    codes = table.verdict[table.worst_first()].tolist()
    assert codes == sorted(codes, reverse=True)
    assert codes[0] == 2


def test_nothing_to_follow() -> None:
    assert len(study_many(example(), [])) == 0


def test_what_it_does_not_take() -> None:
    with pytest.raises(ValueError, match="loads off"):
        study_many(example(loads=True))
    site = network(BENCH)
    with pytest.raises(ValueError, match="no terminal"):
        study_many(site, [Fault("far", FaultKind.LINE_TO_METAL, "L3", "G")])


def test_an_inverter_is_not_passed_over() -> None:
    """It limits its current, which no fixed circuit does."""
    site = network(
        WYE_SERVICE,
        inverters={"roof": {"system": "208Y/120 V", "rating": "20 kVA"}},
        runs__solar={
            "from": "panel",
            "to": "roof",
            "length": "30 ft",
            "lines": "4 AWG Cu",
            "device": "70 A",
        },
    )
    fault = Fault("press", FaultKind.LINE_TO_METAL, "L1", "G")
    alone = study_fault(network(WYE_SERVICE), fault)
    beside = study_fault(site, fault)
    assert beside.current > alone.current
    table = study_many(site, [fault])
    assert table.current[0] == beside.current
    assert table.clearing[0] == beside.clearing


@pytest.mark.parametrize("text", [e for e in EXAMPLES if "curve" not in e])
def test_bands_at_many_currents_are_the_bands(text: str) -> None:
    rating = DeviceRating.parse(text)
    for one in (band(rating), residual_band(rating)):
        if one is None:
            continue
        marks = [i for edge in (one.quick, one.slow) for i, _ in edge.points]
        near = [i * f for i in marks for f in (0.999, 1.0, 1.001)]
        amps = np.array([0.0, *near, *np.geomspace(1e-3, 1e5, 200)])
        slow, fast = band_times(one, amps)
        for k, value in enumerate(amps.tolist()):
            assert alike(slow[k], one.slowest(value), 0.0, 1e-12)
            assert alike(fast[k], one.fastest(value), 0.0, 1e-12)


@pytest.mark.parametrize("name", [COOPERAGE, FLAT])
def test_every_fault_of_sites_by_the_iec(name: str) -> None:
    """Energy that a breaker lets through, and the limits of IEC 60364-5-54, in a table."""
    site = build(plan_of(name), loads=False)
    faults = possible_faults(site, ALONE)
    assert_same(site, faults[:: max(1, len(faults) // 60)], 1e-8)


@pytest.mark.parametrize("at", ["branch", "feeder"])
def test_a_device_without_a_band_excuses_what_it_carries(at: str) -> None:
    """10 A is no rating of BS 3036 (BS 7671 table): whether it opens in time can't be told."""
    changes: dict[str, Any] = {f"runs__{at}__device": "10 A BS 3036 fuse"}
    site = network(WYE_SERVICE, **changes)
    faults = [
        Fault(place, FaultKind.LINE_TO_METAL, line, "G", ohm)
        for place in ("main", "panel", "press")
        for line in ("L1", "L2")
        for ohm in (0.0, 0.2, 11.0, 13.0)
    ]
    assert_same(site, faults)
    ones = [study_fault(site, fault) for fault in faults]
    assert {bool(one.unknown) for one in ones} == {True, False}
    # 120 V over 11 ohm are more than 10 A, over 13 ohm less.
    by_ohm = {one.fault.impedance: one.unknown for one in ones if one.fault.place == "press"}
    if at == "branch":
        assert (by_ohm[11.0], by_ohm[13.0]) == (("device branch",), ())


@pytest.mark.parametrize("device", ["20 A class J fuse", "20 A gG fuse", "100 A class J fuse"])
def test_what_a_limiting_fuse_lets_through(device: str) -> None:
    """Opened within half a cycle it lets through what its class allows, at any larger current.

    UL 248-8: 7,000 A2s at most for 30 A class J at 50 kA; IEC 60269-1: 2,500 A2s for 20 A gG.
    """
    site = network(
        WYE_SERVICE,
        runs__branch__device=device,
        runs__branch__length="3 ft",
        runs__feeder__length="10 ft",
    )
    faults = [
        Fault("press", FaultKind.LINE_TO_METAL, "L1", "G", ohm) for ohm in (0.0, 0.02, 0.05, 0.3)
    ]
    faults += [Fault("press", FaultKind.LINE_TO_LINE, "L1", "L2")]
    assert_same(site, faults)
    heat = study_fault(site, faults[0]).heat
    assert heat is not None
    assert heat.basis == "let-through"
    if device.startswith("20"):
        assert heat.i2t == {"20 A class J fuse": 7000.0, "20 A gG fuse": 2500.0}[device]


@pytest.mark.parametrize("k", [3, 40, 80])
def test_the_most_that_a_wall_can_take_by_hand(k: int) -> None:
    """H = I/(2 pi r) at either surface (Ampere's law); the step of the table that is not less."""
    site = network(EMT_AS_EGC)
    walls = Walls(Parts(site))
    (tube,) = walls.many.tubes
    grid, swing = walls.swing
    field = 2 * math.pi * math.exp(grid[k] - 0.1 * (grid[1] - grid[0]))
    metres = site.plan.runs["feeder"].length
    aa, ab, bb = (float(swing[0, n, k]) for n in range(3))
    inner, outer = field * tube.inner, field * tube.outer
    for a, b in ((inner, 0.0), (0.0, outer), (inner, outer)):
        due = metres * (aa * a**2 + 2 * ab * a * b + bb * b**2)
        found = walls.weight(np.array([0]), np.array([a * 1j]), np.array([-b + 0j]))
        assert found == pytest.approx([due])
