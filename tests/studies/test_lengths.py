"""The longest run that still clears, by hand and against circuits built anew."""

from __future__ import annotations

from typing import Any

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


@pytest.mark.parametrize(
    ("base", "run"),
    [(BENCH, "branch"), (EMT_AS_EGC, "branch"), (EMT_AS_EGC, "feeder"), (PIPE_BESIDE, "branch")],
    ids=["bench", "steel", "in steel itself", "pipe"],
)
def test_a_circuit_built_anew_at_that_length_agrees(base: dict[str, object], run: str) -> None:
    """A little shorter clears in time, a little longer doesn't.

    Where the run itself lies in steel, the change of the wall with its current grows with it.
    """
    found = longest_run(network(base), run)
    assert found is not None
    assert 0 < found.longest < FARTHEST_M
    for factor, clears in ((0.99, True), (1.01, False)):
        changes: dict[str, Any] = {
            f"runs__{run}__length": f"{found.longest * factor / FOOT:.4f} ft"
        }
        result = study_fault(network(base, **changes), found.fault)
        assert (result.clearing <= 5) is clears
        assert result.current == pytest.approx(found.current_there, rel=0.02)


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


def test_a_run_may_be_as_long_as_is_asked_for_or_not_be_there_at_all() -> None:
    """Thick wires behind a small fuse: 120 V over 10 km of 500 kcmil, reactance and all, are still
    more than the 28 A that open it in 5 s (IEC 60269-2, from memory). A source of 30 A opens no
    breaker of 100 A at any length."""
    thick = network(
        BENCH,
        runs__branch__lines="500 kcmil Cu",
        runs__branch__egc="500 kcmil Cu",
        runs__branch__device="6 A gG fuse",
    )
    found = longest_run(thick, "branch")
    assert found is not None
    assert found.longest == found.at_best == FARTHEST_M
    ohms = BENCH_SOURCE_OHM + 2 * OHM_PER_FT["6 AWG Cu"]
    # resistance alone is some 5 % less than the loop of wires as thick as these
    by_hand = 120 / (ohms + 2 * 0.0258e-3 * 100)
    assert 0.92 * by_hand < found.current < by_hand
    weak = network(
        BENCH,
        sources__bench__available={"current": "30 A", "x/r": 0.001},
        runs__branch__device="100 A breaker",
    )
    none = longest_run(weak, "branch")
    assert none is not None
    assert (none.longest, none.margin, none.clears) == (0.0, 0.0, False)
    wires = 2 * (OHM_PER_FT["6 AWG Cu"] + 100 * OHM_PER_FT["12 AWG Cu"])
    assert none.current == pytest.approx(120 / (120 / 30 + wires), rel=5e-3)


def test_the_length_is_told_with_what_decides_it() -> None:
    found = longest_run(network(BENCH), "branch")
    assert found is not None
    assert (found.run, found.within) == ("branch", 5.0)
    assert found.fault.place == "far"
    assert found.length == pytest.approx(100 * FOOT)
    loop = BENCH_SOURCE_OHM + 2 * (OHM_PER_FT["6 AWG Cu"] + 100 * OHM_PER_FT["12 AWG Cu"])
    assert found.current == pytest.approx(120 / loop, rel=5e-3)
    # the quick edge by hand: the current from which the breaker may open within 5 s
    quick = band(DeviceRating.parse("20 A breaker")).quick.least_current(5.0)
    wire = (120 / quick - BENCH_SOURCE_OHM - 2 * OHM_PER_FT["6 AWG Cu"]) / 2
    assert found.at_best == pytest.approx(wire / OHM_PER_FT["12 AWG Cu"] * FOOT, rel=5e-3)


def test_only_the_faults_that_are_asked_for_count() -> None:
    """A thin ground wire: line to metal decides; for line to neutral it may be longer."""
    site = network(BENCH, runs__branch__egc="14 AWG Cu")
    both = longest_run(site, "branch")
    neutral = longest_run(site, "branch", kinds=[FaultKind.LINE_TO_NEUTRAL])
    assert both is not None
    assert neutral is not None
    assert both.fault.kind is FaultKind.LINE_TO_METAL
    assert neutral.fault.kind is FaultKind.LINE_TO_NEUTRAL
    assert both.longest < neutral.longest
    assert longest_run(site, "branch", kinds=[FaultKind.LINE_TO_LINE]) is None
    assert set(longest_runs(site, ["branch"])) == {"branch"}
    with pytest.raises(KeyError):
        longest_run(site, "twig")
