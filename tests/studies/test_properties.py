"""What must hold for any site of a kind (monotonicity and Kirchhoff's laws)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.stray import Nature, study_stray
from tests.studies.sites import BENCH, SUBPANEL, network

FAR = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G")
SIZES = ["14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"]
FEW = settings(max_examples=25, deadline=None)

lengths = st.floats(min_value=2, max_value=800)
sizes = st.integers(min_value=0, max_value=len(SIZES) - 1)
metals = st.sampled_from(["Cu", "Al"])


def wire(number: int, metal: str = "Cu") -> str:
    # Aluminium is not made smaller than 12 AWG.
    return f"{SIZES[max(number, 1) if metal == 'Al' else number]} AWG {metal}"


@FEW
@given(lengths, st.floats(min_value=1.05, max_value=20), sizes, sizes, metals)
def test_a_longer_run_draws_less(
    length: float, factor: float, line: int, ground: int, metal: str
) -> None:
    near, far = (
        study_fault(
            network(
                BENCH,
                runs__branch__length=f"{feet:.3f} ft",
                runs__branch__lines=wire(line, metal),
                runs__branch__egc=wire(ground, metal),
            ),
            FAR,
        )
        for feet in (length, length * factor)
    )
    assert far.current < near.current
    assert far.clearing >= near.clearing


@FEW
@given(lengths, sizes, st.integers(0, len(SIZES) - 2), st.integers(1, 12))
def test_a_larger_ground_draws_more_and_its_metal_stands_lower(
    length: float, line: int, ground: int, step: int
) -> None:
    larger = min(ground + step, len(SIZES) - 1)
    thin, thick = (
        study_fault(
            network(
                BENCH,
                runs__branch__length=f"{length:.3f} ft",
                runs__branch__lines=wire(line),
                runs__branch__egc=wire(size),
            ),
            FAR,
        )
        for size in (ground, larger)
    )
    assert thick.current > thin.current
    assert thick.touch["far"] < thin.touch["far"]
    assert 0 < thick.touch["far"] < 120


@FEW
@given(lengths, sizes, sizes, st.floats(min_value=0.2, max_value=8))
def test_a_second_tie_always_puts_neutral_current_on_metal(
    length: float, neutral: int, ground: int, kilowatts: float
) -> None:
    """The divider has two branches of finite impedance; together they carry the whole."""
    site = network(
        SUBPANEL,
        loads=True,
        runs__feeder__length=f"{length:.3f} ft",
        runs__feeder__neutral=wire(neutral),
        runs__feeder__egc=wire(ground),
        places__sub__loads=[{"on": "L1-N", "power": f"{kilowatts:.4f} kW"}],
    )
    study = study_stray(site)
    feeder = {f.terminal: f.current for f in study.flows if f.id == "feeder"}
    total = abs(feeder["L1"])
    assert 0 < abs(feeder["G"]) < total
    assert 0 < abs(feeder["N"]) < total
    # 1 nF to earth at 120 V and 60 Hz leaks 0.05 mA at each terminal.
    assert abs(feeder["N"] + feeder["G"] + feeder["L1"]) < 1e-3
    # The tie carries all that is on the feeder's metal: nothing else is joined there.
    (tie,) = [f for f in study.flows if f.id == "stray screw"]
    assert tie.amperes == pytest.approx(abs(feeder["G"]), rel=1e-4)
    assert study.objectionable is (abs(feeder["G"]) >= 0.01)
    assert all(c.nature is Nature.OBJECTIONABLE for c in study.currents if c.flow.id == "feeder")


@FEW
@given(
    st.floats(min_value=1, max_value=500),
    st.floats(min_value=1, max_value=500),
)
def test_without_a_tie_the_metal_stands_at_the_dividers_voltage(rod: float, pole: float) -> None:
    """Two resistances in series on 120 V; the breaker opens only where Ohm's law lets it."""
    site = network(
        BENCH,
        electrodes__rod__resistance=f"{rod:.4f} ohm",
        sources__bench__electrode=f"{pole:.4f} ohm",
    )
    result = study_fault(site, FAR, [site.solver.open_switch("tie bond")])
    assert result.current == pytest.approx(120 / (rod + pole + 0.42), rel=5e-3)
    assert result.touch["far"] == pytest.approx(result.current * (rod + 0.2), rel=1e-2)
    if result.current < 20:
        assert not result.cleared
        assert result.live_after == pytest.approx(result.touch["far"])


@FEW
@given(st.floats(min_value=0.01, max_value=100), st.floats(min_value=1.01, max_value=10))
def test_a_worse_fault_draws_less(ohm: float, factor: float) -> None:
    site = network(BENCH)
    one, other = (
        study_fault(site, Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", r))
        for r in (ohm, ohm * factor)
    )
    assert other.current < one.current
