"""Steel raceway against its limits, a solution in time, and published lengths."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from bondwright.catalog.raceways import RacewayKind, dimensions
from bondwright.catalog.sources import Source, Status
from bondwright.network import steel
from bondwright.network.converge import RacewayCurrents, converge_raceways
from bondwright.network.impedance import (
    MU0,
    layer_impedances,
    tube_impedances,
)
from bondwright.network.magnetism import (
    MagnetisationCurve,
    low_carbon_steel,
    steel_resistivity,
)
from bondwright.network.runs import run_impedance, strands, wall_temperature
from bondwright.network.steel import SteelTube, TubeSurfaces, boundaries, chain
from bondwright.units import FOOT
from tests.network.raceway_faults import ground_fault, raceway_run
from tests.network.wall_in_time import fields
from tests.outside import between, outside, published

KFT = 1000 * FOOT
EMT = RacewayKind.EMT
RMC = RacewayKind.RMC


def tube(kind: RacewayKind, size: str, temperature: float = 25) -> SteelTube:
    """Return a steel raceway at a temperature of its own."""
    raceway = dimensions(kind, size)
    rho = steel_resistivity(temperature)
    return SteelTube(raceway.inside_m / 2, raceway.outside_m / 2, rho)


# --- the curve --------------------------------------------------------------------------------


def steel_1008(field: float) -> float:
    """Return B of 1008 steel, T, by an open approximation of measurements.

    ``mu = 1 + (mu_i - 1 + c_a b)/(1 + c_b b + b^n)``, ``b = B/1.17 T``, with mu_i 200, c_a 8100,
    c_b 2.59, n 10 (an open component library's magnetic materials; one-source).
    """

    def miss(density: float) -> float:
        b = density / 1.17
        mu = 1 + (199 + 8100 * b) / (1 + 2.59 * b + b**10)
        return density / (MU0 * mu) - field

    return float(brentq(miss, 0, 5))


@pytest.mark.parametrize("field", [4774.6, 7957.7, 15915.5, 47746.5, 79577.5])
def test_two_open_curves_agree_where_steel_saturates(field: float) -> None:
    """Fault currents saturate a wall; there 1010 and 1008 steel differ by less than 9 %."""
    assert float(low_carbon_steel().flux_density(field)) == pytest.approx(
        steel_1008(field), rel=0.09
    )


@pytest.mark.parametrize("field", [238.7, 477.5, 795.8, 1273.2, 2228.2])
def test_two_open_curves_differ_in_weak_fields(field: float) -> None:
    """Below saturation the steels differ, by up to 2.7 times: what a normal current meets."""
    ratio = steel_1008(field) / float(low_carbon_steel().flux_density(field))
    assert 1 < ratio < 2.7


def test_curve_passes_its_points_and_is_odd() -> None:
    curve = low_carbon_steel()
    assert curve.flux_density(curve.field) == pytest.approx(curve.density)
    assert curve.flux_density(-curve.field) == pytest.approx(-curve.density)
    assert curve.source.status is Status.ONE_SOURCE


def test_curve_never_falls_and_ends_with_the_slope_of_air() -> None:
    curve = low_carbon_steel()
    assert np.all(curve.slope(np.geomspace(1, 1e6, 500)) > 0)
    assert float(curve.slope(1e6)) == MU0
    last = (curve.density[-1] - curve.density[-2]) / (curve.field[-1] - curve.field[-2])
    assert last == pytest.approx(MU0, rel=1e-3)


def source() -> Source:
    """Return a source for a curve of our own."""
    return Source("test", "none", Status.COMPUTED)


def test_beyond_its_points_steel_adds_what_air_does() -> None:
    """Saturated: ``B = B_end + mu0 (H - H_end)`` (textbook), and the same the other way."""
    curve = low_carbon_steel()
    last, end = float(curve.field[-1]), float(curve.density[-1])
    found = curve.flux_density(np.array([last, last + 1e6, -last - 1e6]))
    more = 4e-7 * math.pi * 1e6
    assert found == pytest.approx([end, end + more, -end - more], rel=1e-9)


def test_describing_function_of_a_straight_line_is_its_slope() -> None:
    h = np.array([0.0, 1e3, 1e6, 2e6])
    curve = MagnetisationCurve(h, 70 * MU0 * h, source())
    assert curve.effective_permeability([3.0, 1e3, 1e5]) == pytest.approx(70, rel=1e-9)


def test_describing_function_of_hard_saturation() -> None:
    """A square wave of height Bs has the fundamental 4 Bs/pi (Fourier)."""
    h = np.array([0.0, 1.0, 1e6, 2e6])
    curve = MagnetisationCurve(h, np.array([0, 1.6, 1.6 + 1e-6, 1.6 + 2e-6]), source())
    peak = 5e4
    expected = 4 * 1.6 / math.pi / (MU0 * peak)
    assert float(curve.effective_permeability(peak / math.sqrt(2))) == pytest.approx(
        expected, rel=1e-3
    )


@pytest.mark.parametrize(
    ("h", "b"),
    [([0, 1, 1], [0, 1, 2]), ([0, 1, 2], [0, 1, 1]), ([1, 2, 3], [0, 1, 2]), ([0, 1], [0, 1])],
)
def test_a_curve_must_rise_from_zero(h: list[float], b: list[float]) -> None:
    with pytest.raises(ValueError, match="magnetisation curve"):
        MagnetisationCurve(np.array(h, float), np.array(b, float), source())


# --- the layers -------------------------------------------------------------------------------


@pytest.mark.parametrize("layers", [1, 2, 7, 32, 64])
@pytest.mark.parametrize("mu", [1.0, 60.0, 900.0])
@pytest.mark.parametrize("frequency", [50.0, 60.0, 1500.0])
@pytest.mark.parametrize("wall", [(0.0079, 0.009), (0.052, 0.0575)])
def test_layers_of_one_permeability_are_one_tube(
    layers: int, mu: float, frequency: float, wall: tuple[float, float]
) -> None:
    """Exact in theory: Schelkunoff's tube, however it is cut."""
    radii = boundaries(*wall, layers)
    ours = chain(layer_impedances(radii, 14e-8, np.full(layers, mu), frequency))
    whole = tube_impedances(*wall, 14e-8, mu, frequency)
    scale = max(abs(z) for z in whole)
    for one, other in zip(ours, whole, strict=True):
        assert abs(one - other) < 1e-9 * scale


def test_a_linear_steel_gives_the_plain_tube() -> None:
    h = np.array([0.0, 1e3, 1e7, 2e7])
    curve = MagnetisationCurve(h, 250 * MU0 * h, source())
    ours = SteelTube(0.01, 0.012, 14e-8, curve).surfaces(300 + 20j, -250, 60)
    assert ours.triple == pytest.approx(tube_impedances(0.01, 0.012, 14e-8, 250, 60), rel=1e-8)
    assert ours.mu_effective == pytest.approx(250)


def test_more_layers_change_nothing_that_matters(monkeypatch: pytest.MonkeyPatch) -> None:
    """32 layers against 96: less than 0.2 %."""
    coarse = tube(RMC, "1/2 in").surfaces(300, -300, 60)
    monkeypatch.setattr(steel, "LAYERS", 96)
    fine = tube(RMC, "1/2 in").surfaces(300, -300, 60)
    assert coarse.z_aa == pytest.approx(fine.z_aa, rel=1e-3)
    assert coarse.z_bb == pytest.approx(fine.z_bb, rel=2e-3)


# --- limits -----------------------------------------------------------------------------------


@outside("handbooks, initial permeability of steel", "memory")
def test_no_current_meets_the_initial_permeability() -> None:
    """Weak fields: relative permeability of a few hundred (handbooks: 150 to 300; memory)."""
    ours = tube(EMT, "1/2 in").surfaces(0, 0, 60)
    assert ours.converged
    assert ours.mu_effective == between(150, 350)
    assert len(set(ours.permeability)) == 1


@pytest.mark.parametrize(("kind", "size"), [(EMT, "1/2 in"), (RMC, "1/2 in"), (RMC, "4 in")])
def test_a_huge_current_leaves_the_direct_current_resistance(kind: RacewayKind, size: str) -> None:
    """Saturated through and through, steel is a poor conductor and nothing more."""
    wall = tube(kind, size)
    ours = wall.surfaces(3e6, -3e6, 60)
    assert ours.converged
    assert ours.mu_effective < 3
    assert ours.z_aa.real == pytest.approx(wall.r_dc, rel=0.01)
    assert abs(ours.z_aa.imag) < 0.1 * wall.r_dc


def test_resistance_rises_with_current_then_falls_for_good() -> None:
    """The published shape: a peak at a normal current, a fall in fault currents."""
    wall = tube(RMC, "2 in")
    amps = np.geomspace(1, 1e5, 26)
    r = np.array([wall.surfaces(a, -a, 60).z_aa.real for a in amps])
    top = int(np.argmax(r))
    assert 0 < top < len(r) - 1
    assert np.all(np.diff(r[: top + 1]) > 0)
    assert np.all(np.diff(r[top:]) < 0)
    assert 2 < r[top] / wall.r_dc < 10


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-3, 4.5), st.floats(-3, 4.5), st.floats(-math.pi, math.pi), st.sampled_from([50, 60])
)
def test_any_current_settles_on_a_passive_wall(
    inside: float, wall: float, angle: float, frequency: float
) -> None:
    """Converged, and no combination of currents gets power out of the steel."""
    current = 10**wall * complex(math.cos(angle), math.sin(angle))
    ours = tube(RMC, "1 in").surfaces(10**inside, current, frequency)
    assert ours.converged
    assert ours.residual <= steel.TOLERANCE
    assert ours.iterations <= 200
    z_aa, z_ab, z_bb = (z.real for z in ours.triple)
    assert min(np.linalg.eigvalsh(np.array([[z_aa, -z_ab], [-z_ab, z_bb]]))) > -1e-12


def test_only_the_size_of_currents_matters_not_their_common_phase() -> None:
    wall = tube(EMT, "1 in")
    turn = complex(math.cos(2.2), math.sin(2.2))
    one, other = wall.surfaces(90, -60, 60), wall.surfaces(90 * turn, -60 * turn, 60)
    assert one.triple == pytest.approx(other.triple, rel=1e-8)


def test_an_earlier_answer_saves_rounds_and_changes_nothing() -> None:
    wall = tube(RMC, "1 in")
    cold = wall.surfaces(400, -300, 60)
    warm = wall.surfaces(400, -300, 60, start=cold)
    assert warm.iterations < cold.iterations / 2
    assert warm.triple == pytest.approx(cold.triple, rel=1e-8)


@pytest.mark.parametrize("order", [3, 5, 7, 11, 13, 25])
def test_harmonics_crowd_to_the_surface(order: int) -> None:
    wall = tube(RMC, "1 in")
    base, ours = wall.surfaces(5, -5, 60), wall.surfaces(5, -5, 60 * order)
    assert ours.converged
    assert ours.z_aa.real > base.z_aa.real
    assert abs(ours.z_ab) < abs(base.z_ab)


@pytest.mark.parametrize("bad", [(0.01, 0.01, 1e-7), (0.02, 0.01, 1e-7), (0.01, 0.02, 0.0)])
def test_a_wall_must_have_thickness_and_resistance(bad: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="tube"):
        SteelTube(*bad)


@pytest.mark.parametrize(("amps", "frequency"), [(math.nan, 60.0), (math.inf, 60.0), (1.0, 0.0)])
def test_currents_and_frequency_must_be_usable(amps: float, frequency: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        tube(EMT, "1 in").surfaces(amps, 0, frequency)


# --- against a solution in time ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "size", "enclosed", "wall", "tolerance"),
    [
        (EMT, "1/2 in", 80.0, -80.0, 0.01),
        (EMT, "1/2 in", 300.0, -300.0, 0.02),
        (RMC, "2 in", 80.0, -80.0, 0.02),
        (RMC, "1/2 in", 1000.0, -500.0, 0.04),
    ],
)
def test_the_wall_solved_in_time(
    kind: RacewayKind, size: str, enclosed: float, wall: float, tolerance: float
) -> None:
    """The nonlinear diffusion equation stepped in time with the whole curve, no phasors.

    The voltage along the inside, which is what a fault loop sees, agrees within 1 to 3 %; in
    thick walls far into saturation its resistive part and the voltage along the outside differ
    more (7 % and up to 28 % at 5 kA in 2 in rigid conduit), the price of one permeability.
    """
    steel_wall = tube(kind, size)
    ours = steel_wall.surfaces(enclosed, wall, 60)
    inside = -ours.z_aa * enclosed + ours.z_ab * (enclosed + wall)
    theirs, _ = fields(
        steel_wall.inner, steel_wall.outer, steel_wall.resistivity, low_carbon_steel(),
        enclosed, wall, 60, cells=40, steps=160, cycles=2,
    )  # fmt: skip
    assert abs(inside) == pytest.approx(abs(theirs), rel=tolerance)


# --- against published lengths ----------------------------------------------------------------

# Longest runs with the raceway as the only return, a published study of steel conduit (public
# report of 1994 on modelling and testing of steel EMT, IMC and rigid conduit, and the bulletins
# built on it): wire, raceway, device A, arc V, per cent of rating, length ft, status.
PUBLISHED = [
    ("12 AWG", EMT, "1/2 in", 20, 50.0, 500, 280, "one-source"),
    ("12 AWG", EMT, "1/2 in", 20, 40.0, 400, 395, "memory"),
    ("10 AWG", EMT, "3/4 in", 30, 40.0, 400, 404, "memory"),
    ("12 AWG", RMC, "1/2 in", 20, 40.0, 400, 384, "memory"),
]


def longest(wire: str, kind: RacewayKind, size: str, amps: float, arc: float) -> float:
    """Return the length at which 120 V drives a current through wire, arc and raceway, ft.

    At 25 degC, the arc taking its voltage in phase with the current: what the study assumed is
    known from memory only.
    """
    run = raceway_run(wire, None, kind, size, 1.0)
    state = tube(kind, size).surfaces(amps, -amps, 60)
    _, z = run_impedance(run, 60, 100, 25, {0: state.triple})
    loop = z[0, 0] + z[1, 1] - 2 * z[0, 1]
    along = arc * loop.real
    size_squared = amps * abs(loop) ** 2
    length = (-along + math.sqrt(along**2 + abs(loop) ** 2 * (120**2 - arc**2))) / size_squared
    return float(length) / FOOT


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row[1]} {row[2]} {row[5]} %")
@outside("published study of steel raceway", "one-source", unit="ft")
def test_longest_run_of_steel_raceway(
    row: tuple[str, RacewayKind, str, int, float, int, int, str],
) -> None:
    """Ours: 270, 379, 379 and 368 ft: 4 to 6 % short of the published, the careful side.

    The band, 10 % either way, holds what isn't known of the study: its conductor temperature
    and its steel. At 75 degC ours would be 15 to 17 % short; with the 1008 curve 7 to 12 %.
    """
    wire, kind, size, rating, arc, percent, printed, _ = row
    ours = longest(wire, kind, size, rating * percent / 100, arc)
    assert ours == published(printed, rel=0.10)


@outside("published study of steel raceway", "one-source")
def test_thicker_steel_is_no_better_at_small_currents() -> None:
    """Published: 1/2 in rigid conduit reaches no farther than 1/2 in tubing at 80 A.

    Its wall is 2.5 times as thick, but the current stays in the inner skin.
    """
    thick, thin = tube(RMC, "1/2 in"), tube(EMT, "1/2 in")
    assert thick.r_dc < thin.r_dc / 2
    ours = longest("12 AWG", RMC, "1/2 in", 80, 40) / longest("12 AWG", EMT, "1/2 in", 80, 40)
    assert ours == published(384 / 395, rel=0.03)


# --- with and without a wire inside ------------------------------------------------------------


@pytest.mark.parametrize("length", [5.0, 30.0, 150.0])
@pytest.mark.parametrize(
    ("line", "kind", "size", "volts", "wires"),
    [
        ("12 AWG", EMT, "3/4 in", 120.0, [None, "14 AWG", "12 AWG", "10 AWG", "8 AWG"]),
        ("4/0 AWG", RMC, "2 in", 277.0, [None, "6 AWG", "4 AWG", "2 AWG"]),
    ],
)
def test_more_copper_inside_takes_current_off_the_raceway(
    line: str, kind: RacewayKind, size: str, volts: float, wires: list[str | None], length: float
) -> None:
    """Whole return current = wire + steel; copper up, steel's share down, fault current up."""
    shares, totals = [], []
    for wire in wires:
        currents, report = ground_fault(raceway_run(line, wire, kind, size, length), volts)
        assert report.converged
        assert abs(currents.sum()) < 1e-9 * abs(currents[0])
        totals.append(abs(currents[0]))
        shares.append(abs(currents[-1]) / abs(currents[0]))
    assert shares[0] == pytest.approx(1)
    assert np.all(np.diff(shares) < 0)
    assert np.all(np.diff(totals) > 0)


@pytest.mark.parametrize(
    ("line", "wire", "kind", "size", "volts"),
    [
        ("12 AWG", "12 AWG", EMT, "1/2 in", 120.0),
        ("1/0 AWG", "6 AWG", RacewayKind.IMC, "1-1/2 in", 277.0),
        ("4/0 AWG", "4 AWG", RMC, "2 in", 277.0),
        ("500 kcmil", "2 AWG", RMC, "3 in", 277.0),
    ],
)
def test_the_raceway_carries_most_of_a_fault(
    line: str, wire: str, kind: RacewayKind, size: str, volts: float
) -> None:
    """Common practice (IEEE Std 142, from memory): steel takes most of it, wire or no wire.

    Ours: 68, 76, 76 and 74 %.
    """
    length = 30.0 if volts < 200 else 60.0
    currents, _ = ground_fault(raceway_run(line, wire, kind, size, length), volts)
    share = abs(currents[-1]) / abs(currents[0])
    assert 0.6 < share < 0.95


def test_a_raceway_joined_at_one_end_chokes_a_lone_conductor() -> None:
    """Current in a lone wire in steel that isn't bonded at both ends: impedance well up.

    Common practice (IEEE Std 142, from memory): about double for an electrode conductor.
    """
    length, volts = 15.0, 1.0
    open_run = raceway_run("4 AWG", None, RMC, "3/4 in", length, bonded=False)
    assert [part.name for part in strands(open_run)] == ["L1"]
    state = {0: tube(RMC, "3/4 in").surfaces(100, 0, 60).triple}
    _, choked = run_impedance(open_run, 60, 100, 25, state)
    _, bonded = run_impedance(raceway_run("4 AWG", None, RMC, "3/4 in", length), 60, 100, 25, state)
    joined = volts / (np.ones(2) @ np.linalg.solve(bonded, np.full(2, volts)))
    assert 1.5 < abs(choked[0, 0] / joined) < 6


def test_balanced_currents_leave_the_steel_alone() -> None:
    """No net current inside: the tube itself carries nothing, whatever its permeability."""
    run = raceway_run("4/0 AWG", None, RMC, "2 in", 1.0, on=("L1", "L2", "L3"))
    turn = np.exp(-2j * math.pi / 3)
    balanced = np.array([1, turn, turn**2, 0])
    weak, strong = (
        run_impedance(run, 60, 100, 75, {0: tube(RMC, "2 in").surfaces(a, -a, 60).triple})[1]
        for a in (1, 5000)
    )
    assert weak @ balanced == pytest.approx(strong @ balanced, rel=1e-9)
    assert abs((weak @ balanced)[-1]) < 1e-12


def test_wall_temperature_is_half_the_rise() -> None:
    assert wall_temperature(75) == pytest.approx(47.5)
    assert wall_temperature(10) == 20


# --- the driver -------------------------------------------------------------------------------


def test_nothing_magnetic_is_solved_once() -> None:
    calls: list[int] = []

    def solve(_: Mapping[str, TubeSurfaces]) -> tuple[str, dict[str, RacewayCurrents]]:
        calls.append(1)
        return "answer", {}

    result, report = converge_raceways({}, 60, solve)
    assert (result, len(calls), report.rounds, report.converged) == ("answer", 1, 1, True)
    assert report.worst is None


def test_a_converged_state_is_one_that_agrees_with_itself() -> None:
    """The impedances used are those of the currents that they gave, within the tolerance."""
    run = raceway_run("1/0 AWG", "6 AWG", RMC, "1-1/2 in", 40.0)
    currents, report = ground_fault(run, 277)
    again = tube(RMC, "1-1/2 in", wall_temperature(25)).surfaces(
        currents[0] + currents[1], currents[2], 60
    )
    assert report.converged
    assert report.surfaces[0].triple == pytest.approx(again.triple, rel=2e-6)


def test_a_start_near_the_end_saves_rounds() -> None:
    wall = tube(RMC, "1 in")

    def solve(
        state: Mapping[str, TubeSurfaces],
    ) -> tuple[complex, dict[str, RacewayCurrents]]:
        current = 120 / (30 * (2e-3 + state["a"].z_aa))
        return current, {"a": RacewayCurrents(current, -current)}

    current, cold = converge_raceways({"a": wall}, 60, solve)
    same, warm = converge_raceways({"a": wall}, 60, solve, start=cold.surfaces)
    assert warm.rounds < cold.rounds
    assert same == pytest.approx(current, rel=1e-5)


def test_what_never_settles_is_said_so() -> None:
    wall = tube(RMC, "1 in")
    amps = iter(range(1, 1000))

    def solve(_: Mapping[int, TubeSurfaces]) -> tuple[None, dict[int, RacewayCurrents]]:
        current = 30.0 if next(amps) % 2 else 3000.0
        return None, {7: RacewayCurrents(current, -current)}

    _, report = converge_raceways({7: wall}, 60, solve, limit=12)
    assert not report.converged
    assert (report.rounds, report.worst) == (12, 7)
    assert report.change > 1e-3


def test_the_limit_must_let_it_solve() -> None:
    with pytest.raises(ValueError, match="at least once"):
        converge_raceways({}, 60, lambda _: (None, {}), limit=0)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.5, 3.5), st.floats(0.5, 2.5), st.sampled_from(["1 in", "2 in", "3 in"]))
def test_any_fault_in_a_steel_raceway_settles(volts: float, length: float, size: str) -> None:
    run = raceway_run("2 AWG", "8 AWG", RMC, size, 10**length)
    _, report = ground_fault(run, 10**volts)
    assert report.converged


def test_the_mean_permeability_is_weighted_by_the_energy() -> None:
    """Nearly direct current inside: H = I/(2 pi r), so a layer's energy goes with mu ln(r'/r).

    A thick wall, so that the field falls to a quarter; 0.5 % is left to the layers' thickness.
    """
    wall = SteelTube(0.005, 0.02, steel_resistivity(25))
    ours = wall.surfaces(10.0, 0, 1e-4)
    mu = np.array(ours.permeability)
    assert mu.max() > 1.3 * mu.min()
    radii = boundaries(wall.inner, wall.outer, len(mu))
    weight = mu * np.log(radii[1:] / radii[:-1])
    plain = mu * (radii[1:] ** 2 - radii[:-1] ** 2)
    expected = float(mu @ weight / weight.sum())
    assert abs(float(mu @ plain / plain.sum()) / expected - 1) > 0.02
    assert ours.mu_effective == pytest.approx(expected, rel=5e-3)
