"""The longest run that still clears, by hand and against circuits built anew."""

from __future__ import annotations

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.bands import band
from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.lengths import FARTHEST_M, longest_run, longest_runs
from bondwright.units import FOOT
from tests.studies.sites import (
    BENCH,
    BENCH_SOURCE_OHM,
    EMT_AS_EGC,
    OHM_PER_FT,
    PIPE_BESIDE,
    SUBPANEL,
    WYE_SERVICE,
    network,
)

FAR = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G")


def test_the_longest_run_by_hand() -> None:
    """Ohm's law: the loop may have 120 V over the current that opens the breaker within 5 s."""
    found = longest_run(network(BENCH), "branch")
    assert found is not None
    sure = band(DeviceRating.parse("20 A breaker")).sure_current(5)
    wire = (120 / sure - BENCH_SOURCE_OHM - 2 * OHM_PER_FT["6 AWG Cu"]) / 2
    assert found.longest == pytest.approx(wire / OHM_PER_FT["12 AWG Cu"] * FOOT, rel=5e-3)
    assert found.current_there == pytest.approx(sure, rel=2e-3)
    assert found.clears
    assert found.margin == pytest.approx(found.longest / (100 * FOOT))
    # The quick edge is kinder by far.
    assert found.at_best > 2 * found.longest


@pytest.mark.parametrize("base", [BENCH, EMT_AS_EGC, PIPE_BESIDE], ids=["bench", "steel", "pipe"])
def test_a_circuit_built_anew_at_that_length_agrees(base: dict[str, object]) -> None:
    """A little shorter clears in time, a little longer doesn't."""
    found = longest_run(network(base), "branch")
    assert found is not None
    assert 0 < found.longest < FARTHEST_M
    for factor, clears in ((0.99, True), (1.01, False)):
        length = f"{found.longest * factor / FOOT:.4f} ft"
        result = study_fault(network(base, runs__branch__length=length), found.fault)
        assert (result.clearing <= 5) is clears


def test_a_run_that_is_too_long_has_no_margin() -> None:
    found = longest_run(network(BENCH, runs__branch__length="400 ft"), "branch")
    assert found is not None
    assert not found.clears
    assert found.margin < 1


def test_a_shorter_time_asks_for_a_shorter_run() -> None:
    site = network(BENCH, runs__branch__device="20 A fuse")
    slow, quick = (longest_run(site, "branch", within=s) for s in (5.0, 0.4))
    assert slow is not None
    assert quick is not None
    assert quick.longest < slow.longest


def test_every_run_behind_a_device_has_an_answer() -> None:
    assert set(longest_runs(network(SUBPANEL))) == {"supply", "feeder"}
    # The main at its end protects the service run's end, and what lies ahead of it isn't asked.
    assert set(longest_runs(network(WYE_SERVICE))) == {"service", "feeder", "branch"}
    no_main = network(BENCH, places__main={"kind": "service"})
    assert "supply" not in longest_runs(no_main)
