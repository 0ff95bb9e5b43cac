"""Normal use with a defect: by hand, and against the circuit built anew."""

from __future__ import annotations

import random

import numpy as np
import pytest

from bondwright.network.build import build
from bondwright.network.solve import Solver
from bondwright.studies.defects.catalogue import Defect, DefectKind, defects
from bondwright.studies.defects.everyday import Everyday, Seen
from bondwright.studies.defects.rank import Rank, ranked
from bondwright.studies.defects.sweep import Harm, normal_use_of, sweep
from tests.plan.sites import Described, described, planned
from tests.studies.defects.rebuilt import rebuilt, ten_sites
from tests.studies.sites import BENCH, DERIVED, SUBPANEL, WHOLE_SITES, network

SEE_SAW: Described = {
    "site": "see-saw",
    "describes": "as found",
    "sources": {"bench": {"system": "120/240 V", "available": {"current": "10 kA"}}},
    "places": {
        "main": {"kind": "service", "main": "100 A breaker"},
        "panel": {
            "kind": "panel",
            "loads": [
                {"on": "L1-N", "power": "2.4 kW"},
                {"on": "L2-N", "power": "0.6 kW"},
            ],
        },
    },
    "runs": {
        "supply": {"from": "bench", "to": "main", "length": "5 ft", "lines": "3 AWG Cu"},
        "feeder": {
            "from": "main",
            "to": "panel",
            "length": "10 ft",
            "lines": "3 AWG Cu",
            "egc": "8 AWG Cu",
            "device": "100 A breaker",
        },
    },
    "ties": {"bond": {"at": "main", "by": "screw"}},
    "electrodes": {
        "rod": {"kind": "rod", "at": "main", "resistance": "25 ohm", "conductor": "6 AWG Cu"}
    },
}
"""6 ohm on one leg, 24 ohm on the other."""


def day(base: Described, label: str) -> tuple[Everyday, int, tuple[Defect, ...]]:
    site = network(base, loads=True)
    every = defects(site)
    return normal_use_of(site, every), [d.id for d in every].index(label), every


def test_open_neutral_by_hand() -> None:
    """``V1 = 240 Z1 / (Z1 + Z2)``: 48 V on the 6 ohm leg and 192 V on the 24 ohm one."""
    found, at, _ = day(SEE_SAW, "neutral-open/feeder")
    assert found.low[at] * 120 == pytest.approx(240 * 6 / 30, rel=0.01)
    assert found.high[at] * 120 == pytest.approx(240 * 24 / 30, rel=0.01)
    assert found.spots[found.low_at[at]].part == "L1-N"
    assert found.spots[found.high_at[at]].part == "L2-N"
    assert found.shows[at]


def test_open_equipment_ground_and_missing_tie_show_nothing() -> None:
    for label in ("egc-open/feeder", "tie-missing/bond", "electrode-off/rod"):
        found, at, _ = day(SEE_SAW, label)
        assert not found.shows[at], label


def test_second_tie_by_hand() -> None:
    """Neutral and ground wire of equal size and length side by side: each takes half of 15 A.

    The load of 1.8 kW draws 15 A; the ties' own resistance is small beside 0.03 ohm of wire.
    """
    base = described(
        SEE_SAW,
        places__panel={"kind": "panel", "loads": [{"on": "L1-N", "power": "1.8 kW"}]},
        runs__feeder={
            "from": "main",
            "to": "panel",
            "length": "100 ft",
            "lines": "8 AWG Cu",
            "egc": "8 AWG Cu",
            "device": "40 A breaker",
        },
    )
    found, at, _ = day(base, "tie-added/panel")
    assert found.stray[at] == pytest.approx(7.5, rel=0.05)
    assert found.shows[at]


def test_residual_device_opens_for_a_leak() -> None:
    base = described(SEE_SAW, runs__feeder__device="100 A GFCI breaker")
    found, at, _ = day(base, "line-leaks/panel/L1")
    assert found.opens[at]
    plain, at, _ = day(SEE_SAW, "line-leaks/panel/L1")
    assert not plain.opens[at]


@pytest.mark.parametrize("number", [1, 3, 4, 6, 7, 9])
def test_readings_equal_the_site_built_anew(number: int) -> None:
    name, site = ten_sites(loads=True)[number]
    every = defects(site)
    found = normal_use_of(site, every)
    dice = random.Random(number)
    plain = site.solver.solve()
    for d in dice.sample(range(len(every)), min(30, len(every))):
        solver = Solver(rebuilt(site, every[d]))
        now = solver.solve()
        loads = [
            (abs(now.between(a.a, a.b)) / abs(plain.between(a.a, a.b)), a)
            for a in site.loads
            if abs(plain.between(a.a, a.b)) > 1
        ]
        if loads:
            where = f"{name}: {every[d].id}"
            # Panels are looked at too, so the range may be wider than that of the loads.
            assert found.low[d] <= min(part for part, _ in loads) + 1e-6, where
            assert found.high[d] >= max(part for part, _ in loads) - 1e-6, where
        at = int(found.metal_at[d])
        if found.metal[d] > 1e-3:
            node = f"{found.spots[at].id}:G"
            rise = abs(now.voltage(node)) - abs(plain.voltage(node))
            assert found.metal[d] == pytest.approx(rise, rel=1e-6, abs=1e-6)
        spot = found.spots[int(found.stray_at[d])]
        if (
            found.stray[d] > 1e-3
            and spot.what is Seen.STRAY
            and f"run {spot.id}" in (solver.section_index)
        ):
            names = solver.circuit.sections[solver.section_index[f"run {spot.id}"]].names
            amps = (
                abs(now.conductor_current(f"run {spot.id}", spot.part))
                if spot.part in names
                else 0.0
            )
            assert found.stray_now[d] == pytest.approx(amps, rel=1e-6, abs=1e-6)


def test_ranking_by_hand() -> None:
    """On a bench with one branch: an open ground wire and a missing tie, and nothing else, kill."""
    items = ranked(sweep(network(BENCH)))
    silent = {i.defect.id for i in items if i.rank is Rank.SILENT_AND_DEADLY}
    assert {"egc-open/branch", "tie-missing/bond", "tie-loose/bond"} <= silent
    assert "electrode-off/rod" not in silent
    assert [item.rank for item in items] == sorted(item.rank for item in items)
    first = items[0]
    assert first.fault is not None
    assert first.fault.harm is Harm.LIVE
    assert first.defect.found_by


def test_a_second_tie_shows_and_kills_nobody() -> None:
    base = described(SUBPANEL, ties={"bond": {"at": "main", "by": "screw"}})
    items = {i.defect.id: i for i in ranked(sweep(network(base)))}
    tie = items["tie-added/sub"]
    assert tie.rank is Rank.SHOWS
    assert tie.day is not None
    assert tie.day.stray > 1


def test_every_kind_has_a_name_and_a_way_to_find_it() -> None:
    for base in WHOLE_SITES.values():
        every = defects(network(base))
        assert len({d.id for d in every}) == len(every)
        for item in every:
            assert item.id.startswith(f"{item.kind.value}/")
            assert item.found_by
            assert item.name
            assert item.alterations
    kinds = {d.kind for base in (*WHOLE_SITES.values(), DERIVED) for d in defects(network(base))}
    assert DefectKind.TIE_MISSING in kinds
    assert DefectKind.NEUTRAL_OPEN in kinds


def test_the_same_defects_with_loads_and_without() -> None:
    made = planned(SEE_SAW)
    one, other = defects(build(made, loads=False)), defects(build(made, loads=True))
    assert one == other


def test_no_load_shows_only_what_leaks() -> None:
    site = network(BENCH, loads=True)
    found = normal_use_of(site, defects(site))
    assert np.isfinite(found.stray).all()
    for item, shows in zip(defects(site), found.shows, strict=True):
        assert not shows or item.kind in {DefectKind.LEAKAGE, DefectKind.SWAPPED}
