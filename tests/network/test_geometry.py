"""How conductors lie, against hand formulas and published reactances."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.conductors import insulated_diameter, properties, table9
from bondwright.catalog.sizes import Conductor, Material, Size
from bondwright.network.circuit import Complex
from bondwright.network.geometry import (
    RACK_SPACING,
    SET_DISTANCE,
    TRENCH_SPACING,
    LaidWire,
    Lie,
    distances,
)
from bondwright.network.impedance import bundle_impedance, earth_depth, earth_resistance
from bondwright.network.runs import run_impedance, strands, wire_constants
from bondwright.plan.model import PlannedRun
from bondwright.units import FOOT, INCH
from tests.outside import between, outside, published

KFT = 1000 * FOOT
MILE = 1609.344
ALL = tuple(Lie)


def cu(size: str) -> Conductor:
    return Conductor(Size.parse(size), Material.CU)


def laid(size: str, *terminals: str, bonding: str | None = None, sets: int = 1) -> list[LaidWire]:
    """Return wires of one size, the bonding conductor of another, set by set."""
    return [
        LaidWire(name, cu(bonding if bonding and name == "G" else size), number)
        for number in range(sets)
        for name in terminals
    ]


def insulated(size: str) -> float:
    return insulated_diameter(Size.parse(size))


def bare(size: str) -> float:
    return properties(Size.parse(size), Material.CU).diameter_m


def matrix(
    lie: str, wires: list[LaidWire], frequency: float = 60, temperature: float = 75
) -> tuple[Complex, list[tuple[float, float, float]]]:
    """Return the impedance matrix, ohm/m, and the constants of the wires."""
    constants = [wire_constants(w.conductor, frequency, temperature) for w in wires]
    r, x, gmr = zip(*constants, strict=True)
    return bundle_impedance(r, x, gmr, distances(lie, wires), frequency, 100), constants


# --- words ------------------------------------------------------------------------------------


def test_an_unknown_word_lists_the_choices() -> None:
    with pytest.raises(ValueError, match="'heaped' is no way for conductors to lie") as caught:
        distances("heaped", laid("12 AWG", "L1", "N"))
    assert all(repr(str(one)) in str(caught.value) for one in ALL)


@pytest.mark.parametrize("lie", ALL)
@pytest.mark.parametrize("sets", [1, 3])
@pytest.mark.parametrize(
    "names", [("L1", "N"), ("L1", "L2", "N", "G"), ("L1", "L2", "L3"), ("L1", "L2", "L3", "N", "G")]
)
def test_every_way_is_a_distance_without_overlap(
    lie: Lie, sets: int, names: tuple[str, ...]
) -> None:
    """Symmetric, and no two metals in one place; only table 9's average may be any distance."""
    wires = laid("4/0 AWG", *names, bonding="4 AWG", sets=sets)
    d = distances(lie, wires)
    assert np.array_equal(d, d.T)
    assert np.all(np.diag(d) == 0)
    for i, one in enumerate(wires):
        for j, other in enumerate(wires):
            if i != j:
                assert d[i, j] >= (one.bare + other.bare) / 2


@given(st.permutations(["L1", "L2", "L3", "N", "G"]), st.sampled_from(ALL))
def test_the_terminal_tells_the_place_not_the_order(names: list[str], lie: Lie) -> None:
    wires = laid("1/0 AWG", *names, bonding="6 AWG")
    sorted_wires = laid("1/0 AWG", *sorted(names), bonding="6 AWG")
    at = [sorted(names).index(name) for name in names]
    assert distances(lie, wires) == pytest.approx(distances(lie, sorted_wires)[np.ix_(at, at)])


# --- cables -----------------------------------------------------------------------------------


def test_two_wire_flat_cable_has_the_bare_wire_in_the_middle() -> None:
    """Line, bare bonding conductor, neutral, side by side (NM and UF make-up)."""
    d = distances("flat", laid("12 AWG", "L1", "N", "G"))
    assert d[0, 2] == pytest.approx((insulated("12 AWG") + bare("12 AWG")) / 2)
    assert d[0, 1] == pytest.approx(insulated("12 AWG") + bare("12 AWG"))
    assert d[1, 2] == pytest.approx(d[0, 2])


def test_three_wire_flat_cable() -> None:
    """L1, L2, bare, N: places add up along the cable."""
    d = distances("flat", laid("10 AWG", "L1", "L2", "N", "G"))
    thick, thin = insulated("10 AWG"), bare("10 AWG")
    assert d[0, 1] == pytest.approx(thick)
    assert d[1, 3] == pytest.approx((thick + thin) / 2)
    assert d[1, 2] == pytest.approx(thick + thin)
    assert d[0, 2] == pytest.approx(2 * thick + thin)


def test_flat_cable_without_bonding_conductor_is_side_by_side() -> None:
    assert distances("flat", laid("12 AWG", "L1", "N"))[0, 1] == pytest.approx(insulated("12 AWG"))


@outside("loop of two wires, textbook", "computed", unit="ohm/m")
def test_loop_reactance_of_flat_cable() -> None:
    """Go and return: ``X = 2 (w mu0/2pi) ln(D/GMR)`` (textbook), resistance twice one wire's."""
    z, constants = matrix("flat", laid("12 AWG", "L1", "N", "G"))
    loop = z[0, 0] + z[1, 1] - 2 * z[0, 1]
    r, x, gmr = constants[0]
    d = insulated("12 AWG") + bare("12 AWG")
    assert loop.real == published(2 * r, rel=1e-6)
    assert loop.imag == published(2 * (2 * math.pi * 60 * 2e-7 * math.log(d / gmr) + x), rel=1e-6)


def test_a_fault_in_flat_cable_has_less_reactance_than_its_load() -> None:
    """The bare wire lies nearer the line than the neutral does."""
    z, _ = matrix("flat", laid("12 AWG", "L1", "N", "G"))
    loop = [float((z[0, 0] + z[k, k] - 2 * z[0, k]).imag) for k in (1, 2)]
    assert loop[1] < loop[0]


def test_round_cable_touches_all_round() -> None:
    d = distances("touching", laid("2 AWG", "L1", "L2", "L3"))
    assert d[np.triu_indices(3, 1)] == pytest.approx(insulated("2 AWG"))


@pytest.mark.parametrize("size", ["16 mm2", "25 mm2", "50 mm2", "95 mm2", "150 mm2", "240 mm2"])
@outside("handbooks, cores in trefoil at 50 Hz", "memory", unit="mohm/m")
def test_reactance_of_touching_metric_cables(size: str) -> None:
    """0.07 to 0.10 mohm/m at 50 Hz for cores in trefoil (handbooks; from memory)."""
    z, _ = matrix("touching", laid(size, "L1", "L2", "L3"), frequency=50)
    assert (z[0, 0] - z[0, 1]).imag * 1e3 == between(0.07, 0.10)


# --- overhead ---------------------------------------------------------------------------------


def test_triplex_touches_its_messenger_and_itself() -> None:
    d = distances("triplex", laid("2 AWG", "L1", "L2", "N"))
    assert d[0, 2] == d[1, 2] == pytest.approx((insulated("2 AWG") + bare("2 AWG")) / 2)
    assert d[0, 1] == pytest.approx(insulated("2 AWG"))


def test_quadruplex_stands_round_its_messenger() -> None:
    """Three lines 120 degrees apart: sqrt(3) times their distance from the messenger."""
    d = distances("triplex", laid("2 AWG", "L1", "L2", "L3", "N"))
    to_messenger = (insulated("2 AWG") + bare("2 AWG")) / 2
    assert d[0, 3] == pytest.approx(to_messenger)
    assert d[np.triu_indices(3, 1)] == pytest.approx(math.sqrt(3) * to_messenger)


def test_the_bonding_conductor_is_the_messenger_where_there_is_one() -> None:
    d = distances("triplex", laid("2 AWG", "L1", "L2", "N", "G"))
    to_messenger = (insulated("2 AWG") + bare("2 AWG")) / 2
    assert d[:3, 3] == pytest.approx(to_messenger)


def test_a_smaller_messenger_touches_thicker_wires() -> None:
    """Its own bare diameter and theirs over insulation, whichever of them is named first."""
    wires = [
        LaidWire("N", cu("4 AWG")),
        LaidWire("L1", cu("2/0 AWG")),
        LaidWire("L2", cu("2/0 AWG")),
        LaidWire("L3", cu("1/0 AWG")),
    ]
    d = distances("triplex", wires)
    assert d[0, 1] == pytest.approx((bare("4 AWG") + insulated("2/0 AWG")) / 2)
    assert d[0, 3] == pytest.approx((bare("4 AWG") + insulated("1/0 AWG")) / 2)
    assert np.array_equal(d, d.T)
    turned = distances("triplex", wires[::-1])
    assert turned == pytest.approx(d[::-1, ::-1])
    # Three round it at 120 degrees, by the law of cosines: a2 + b2 + a b; never overlapping.
    a, b = d[0, 1], d[0, 3]
    assert d[1, 3] == pytest.approx(math.sqrt(a * a + b * b + a * b))
    assert d[1, 2] == pytest.approx(math.sqrt(3) * a)


def test_without_a_messenger_overhead_wires_touch() -> None:
    d = distances("triplex", [LaidWire("L1", cu("2 AWG")), LaidWire("L2", cu("4 AWG"))])
    assert d[0, 1] == pytest.approx((insulated("2 AWG") + insulated("4 AWG")) / 2)


def test_overhead_not_said_how_is_triplex() -> None:
    wires = laid("2 AWG", "L1", "L2", "N")
    assert np.array_equal(distances("spread", wires), distances("triplex", wires))


def test_open_wire_on_a_rack() -> None:
    """Neutral above, lines below, 8 in apart; another spacing on request."""
    wires = laid("2 AWG", "L1", "L2", "N")
    d = distances("open wire", wires)
    assert d[0, 2] == pytest.approx(8 * INCH)
    assert d[1, 2] == pytest.approx(16 * INCH)
    assert d[0, 1] == pytest.approx(RACK_SPACING)
    assert distances("open wire", wires, rack_spacing=0.3)[1, 2] == pytest.approx(0.6)


@outside("handbook form of line reactance", "computed", unit="ohm/mile")
def test_reactance_of_open_wire() -> None:
    """``0.2794 (f/60) log10(GMD/GMR)`` ohm/mile, the handbook form of the same law."""
    z, constants = matrix("open wire", laid("2 AWG", "L1", "L2", "L3"))
    s = (z[0, 0] + z[1, 1] + z[2, 2]) / 3
    m = (z[0, 1] + z[1, 2] + z[0, 2]) / 3
    gmd = 2 ** (1 / 3) * 8 * INCH
    _, x, gmr = constants[0]
    expected = 0.2794 * math.log10(gmd / gmr) + x * MILE
    assert (s - m).imag * MILE == published(expected, rel=1e-3)
    triplex, _ = matrix("triplex", laid("2 AWG", "L1", "L2", "L3"))
    assert (triplex[0, 0] - triplex[0, 1]).imag < 0.5 * (s - m).imag


# --- tray and earth ---------------------------------------------------------------------------


def test_flat_in_a_tray() -> None:
    """Three touching: 2^(1/3) diameters apart on average, so ln 2/3 more than trefoil."""
    wires = laid("500 kcmil", "L1", "L2", "L3")
    d = distances("tray", wires)
    assert d[0, 1] == d[1, 2] == pytest.approx(insulated("500 kcmil"))
    assert d[0, 2] == pytest.approx(2 * insulated("500 kcmil"))
    z, _ = matrix("tray", wires)
    trefoil, _ = matrix("touching", wires)
    mean = (z[0, 1] + z[1, 2] + z[0, 2]) / 3
    more = (trefoil[0, 1] - mean).imag
    assert more == pytest.approx(2 * math.pi * 60 * 2e-7 * math.log(2) / 3)


@outside("zero sequence with earth return, textbook", "computed", unit="ohm/m")
def test_zero_sequence_in_a_tray() -> None:
    """``Z0 = R + 3 Re + j k (3 ln De - ln GMR - 2 ln GMD)``, the textbook form with earth."""
    z, constants = matrix("tray", laid("500 kcmil", "L1", "L2", "L3"))
    r, x, gmr = constants[0]
    k = 2 * math.pi * 60 * 2e-7
    gmd = 2 ** (1 / 3) * insulated("500 kcmil")
    expected = complex(
        r + 3 * earth_resistance(60),
        x + k * (3 * math.log(earth_depth(60, 100)) - math.log(gmr) - 2 * math.log(gmd)),
    )
    assert z.sum() / 3 == published(expected, rel=1e-9)


def test_spaced_in_a_tray_leaves_a_diameter_between() -> None:
    d = distances("tray spaced", laid("4/0 AWG", "L1", "L2", "L3"))
    assert d[0, 1] == pytest.approx(2 * insulated("4/0 AWG"))
    assert d[0, 2] == pytest.approx(4 * insulated("4/0 AWG"))


def test_parallel_sets_in_a_tray_lie_on_in_the_same_order() -> None:
    """L1 L2 L3 N, L1 L2 L3 N: the like phases are four cables apart."""
    wires = laid("500 kcmil", "L1", "L2", "L3", "N", sets=2)
    d = distances("tray", wires)
    step = insulated("500 kcmil")
    assert d[0, 4] == pytest.approx(4 * step)
    assert d[3, 4] == pytest.approx(step)
    assert d[0, 7] == pytest.approx(7 * step)


def test_buried_touching_and_spaced() -> None:
    wires = laid("4/0 AWG", "L1", "L2", "N")
    assert distances("buried", wires)[0, 2] == pytest.approx(2 * insulated("4/0 AWG"))
    assert distances("buried spaced", wires)[0, 2] == pytest.approx(2 * TRENCH_SPACING)
    assert distances("buried spaced", wires, trench_spacing=0.05)[0, 1] == pytest.approx(0.05)


def test_cables_cannot_be_spaced_closer_than_they_are_thick() -> None:
    with pytest.raises(ValueError, match="overlap"):
        distances("buried spaced", laid("500 kcmil", "L1", "L2"), trench_spacing=0.01)


@pytest.mark.parametrize("lie", ["pulled", "touching", "triplex", "open wire"])
def test_parallel_sets_apart(lie: str) -> None:
    wires = laid("4/0 AWG", "L1", "N", sets=3)
    d = distances(lie, wires)
    assert d[0, 3] == pytest.approx(SET_DISTANCE)
    assert d[0, 5] == pytest.approx(2 * SET_DISTANCE)
    assert distances(lie, wires, set_distance=0.5)[0, 2] == pytest.approx(0.5)


def test_flat_cables_of_parallel_sets_lie_side_by_side() -> None:
    wires = laid("12 AWG", "L1", "N", "G", sets=2)
    d = distances("flat", wires)
    assert d[0, 3] == pytest.approx(SET_DISTANCE)
    assert d[0, 1] == pytest.approx(d[3, 4])


# --- raceway ----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ["14 AWG", "8 AWG", "1/0 AWG", "4/0 AWG", "500 kcmil"])
def test_pulled_reactance_is_table_9_s(size: str) -> None:
    """NEC chapter 9 table 9, reactance in PVC (confirmed; the spacing comes from it)."""
    z, _ = matrix("pulled", laid(size, "L1", "L2", "L3"))
    _, x = table9(Size.parse(size), Material.CU, "pvc")
    assert (z[0, 0] - z[0, 1]).imag == pytest.approx(x, rel=0.02)


# --- whole runs -------------------------------------------------------------------------------


def run_of(lie: str, sets: int = 1) -> PlannedRun:
    line = Conductor(Size.parse("1/0 AWG"), Material.AL, sets)
    return PlannedRun(
        "r", "a", "b", 10.0, ("L1", "L2", "L3"), line, line,
        Conductor(Size.parse("6 AWG"), Material.CU, sets), None,
        raceway_bonded=False, lie=lie, supply_side=False,
    )  # fmt: skip


@pytest.mark.parametrize("lie", ALL)
@pytest.mark.parametrize("order", [1, 3, 5, 13, 25])
@pytest.mark.parametrize("sets", [1, 3])
def test_every_way_gives_a_passive_run_at_every_harmonic(lie: Lie, order: int, sets: int) -> None:
    """Symmetric, passive, and inductive: no arrangement may store less than no energy."""
    run = run_of(lie, sets)
    parts, z = run_impedance(run, 60 * order, 100, 75)
    assert parts == strands(run)
    assert np.allclose(z, z.T)
    assert min(np.linalg.eigvalsh(z.real)) > 0
    # Currents that sum to zero: the earth and its depth drop out.
    n = len(z)
    centre = np.eye(n) - 1 / n
    assert min(np.linalg.eigvalsh(centre @ z.imag @ centre)) > -1e-9


@pytest.mark.parametrize("lie", ALL)
def test_soil_means_nothing_to_currents_that_return_inside(lie: Lie) -> None:
    _, one = run_impedance(run_of(lie), 60, 10, 75)
    _, other = run_impedance(run_of(lie), 60, 5000, 75)
    inside = np.array([1, -0.3, -0.2, -0.4, -0.1])
    assert inside @ one @ inside == pytest.approx(inside @ other @ inside, rel=1e-9)
    stray = np.array([1, 0, 0, -0.5, 0])
    assert abs(stray @ (one - other) @ stray) > 1e-6
