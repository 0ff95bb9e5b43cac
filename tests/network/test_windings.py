"""Transformers of every connection against phasor algebra and sequence-component formulas."""

from __future__ import annotations

import cmath
import math

import pytest

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.solve import Injection, Solution, Solver
from bondwright.network.windings import (
    add_transformer,
    half_windings,
    primary_terminals,
    transformer_assumptions,
)
from tests.catalog.reference import rows
from tests.network.banks import (
    CONNECTIONS,
    LEAKAGE,
    Bank,
    bank,
    bolted,
    lines_of,
    other_end,
    primary_currents,
    source,
    transformer,
)
from tests.outside import outside, published

ROOT3 = math.sqrt(3)


def degrees(angle: complex) -> float:
    return math.degrees(cmath.phase(angle))


# --- no-load voltages -----------------------------------------------------------------------------


@pytest.mark.parametrize("what", CONNECTIONS, ids=str)
def test_no_load_voltages(what: Bank) -> None:
    """Nameplate voltages between all lines and to the neutral (definition of the ratios); the
    high leg stands at sqrt(3)/2 of the line voltage to the neutral (phasor algebra)."""
    solution = Solver(bank(what)).solve()
    system = what.unit.secondary
    lines = lines_of(what)
    nominal = system.phase_voltages()
    for i, a in enumerate(lines):
        for j, b in enumerate(lines[:i]):
            expected = abs(nominal[i] - nominal[j])
            assert abs(solution.between(a, b)) == pytest.approx(expected, rel=2e-3)
    if system.has_neutral:
        for line, volts in zip(lines, nominal, strict=True):
            got = abs(solution.between(line, "T:N"))
            assert got == pytest.approx(abs(volts), rel=2e-3)


@pytest.mark.parametrize("what", CONNECTIONS, ids=str)
def test_rotation(what: Bank) -> None:
    """Three-phase secondaries turn L1, L2, L3 as their supply does."""
    solution = Solver(bank(what)).solve()
    lines = lines_of(what)
    if len(lines) == 3:
        first, second = (solution.between(lines[k], lines[k + 1]) for k in (0, 1))
        assert degrees(second / first) == pytest.approx(-120, abs=0.2)


SHIFTS = [
    ("480Y/277 V", "480 V delta", "208Y/120 V", -30),
    ("208Y/120 V", "208 V delta", "480Y/277 V", 30),
    ("480Y/277 V", "480 V delta", "480Y/277 V", -30),
    ("480Y/277 V", "480Y/277 V", "240 V delta", -30),
    ("208Y/120 V", "208Y/120 V", "240/480 V delta", 30),
    ("208Y/120 V", "208Y/120 V", "480 V delta", 30),
    ("480Y/277 V", "480 V delta", "120/240 V delta", 0),
    ("480Y/277 V", "480 V delta", "240 V delta", 0),
    ("480Y/277 V", "480Y/277 V", "208Y/120 V", 0),
]


@pytest.mark.parametrize(("supply", "primary", "secondary", "shift"), SHIFTS)
@outside("IEEE Std C57.12.00", "memory", unit="deg")
def test_phase_shift(supply: str, primary: str, secondary: str, shift: float) -> None:
    """The higher voltage leads by 30 degrees between delta and wye (IEEE Std C57.12.00, from
    memory); windings alike are in phase."""
    what = Bank(supply, primary, secondary, neutral="Y" in primary)
    solution = Solver(bank(what)).solve()
    below = solution.between("T:L1", "T:L2")
    above = solution.between("T:H1", "T:H2")
    assert degrees(below / above) == published(shift, abs=0.2)


@pytest.mark.parametrize("form", ["isolating", "open delta"])
@outside("grounded corner of a delta", "common practice", unit="V")
def test_corner_ground(form: str) -> None:
    """480 V with a grounded corner: 0, 480 and 480 V to metal (common practice)."""
    what = Bank("208Y/120 V", "208 V delta", "480 V delta", form, tie="L2")
    solution = Solver(bank(what)).solve()
    volts = [abs(solution.between(line, "T:G")) for line in lines_of(what)]
    assert volts == published([480, 0, 480], abs=1)


def test_high_leg_to_metal() -> None:
    """120 and 120 V, and 208 V from the high leg (phasor algebra: 240 sqrt(3)/2)."""
    what = Bank("480Y/277 V", "480 V delta", "120/240 V delta")
    solution = Solver(bank(what)).solve()
    volts = [abs(solution.between(line, "T:G")) for line in lines_of(what)]
    assert volts == pytest.approx([120, 207.85, 120], rel=1e-3)


# --- fault currents of a stiff primary ------------------------------------------------------------


def three_phase(solver: Solver, a: str, b: str, c: str) -> tuple[float, Solution]:
    solution = solver.solve([solver.join(a, b), solver.join(b, c)])
    return abs(solution.change_current(0)), solution


TABLE = rows("transformer_short_circuit.csv")
ON_208 = [
    ("480Y/277 V", "480 V delta", "208Y/120 V"),
    ("480Y/277 V", "480Y/277 V", "208Y/120 V"),
    ("480Y/277 V", "480 V delta", "208 V delta"),
    ("480Y/277 V", "480Y/277 V", "208 V delta"),
]


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['kva']} kVA {row['volts']} V")
@pytest.mark.parametrize(("supply", "primary", "secondary"), ON_208)
@outside("handbook table of transformer short circuits", "memory", unit="A")
def test_published_short_circuit_currents(
    row: dict[str, str], supply: str, primary: str, secondary: str
) -> None:
    """Three-phase currents of a handbook table (unlimited primary, 0.9 times the printed
    impedance; from memory) on every three-phase connection. The primary is 4160 V here, so
    that its own impedance weighs nothing."""
    volts = row["volts"]
    secondary = secondary.replace("208Y/120 V", {"208": "208Y/120 V", "480": "480Y/277 V"}[volts])
    secondary = secondary.replace("208 V delta", f"{volts} V delta")
    primary = primary.replace("480Y/277 V", "4160Y/2402 V").replace("480 V delta", "4160 V delta")
    supply = supply.replace("480Y/277 V", "4160Y/2402 V")
    facts = {"rating": f"{row['kva']} kVA", "impedance": f"{0.9 * float(row['percent_z'])} %"}
    what = Bank(supply, primary, secondary, neutral="Y" in primary, tie=None, facts=facts)
    solver = Solver(bank(what))
    got, _ = three_phase(solver, "T:L1", "T:L2", "T:L3")
    assert got == published(float(row["short_circuit_a"]), rel=3e-3)


def per_unit(what: Bank) -> tuple[float, float, float]:
    """Return rated secondary and primary current, and the bolted current over rated, by hand."""
    unit = what.unit
    return (
        unit.rating / ROOT3 / unit.secondary.line_to_line,
        unit.rating / ROOT3 / unit.primary.line_to_line,
        1 / unit.impedance,
    )


DELTA_WYE = Bank("480Y/277 V", "480 V delta", "208Y/120 V")
STEP_UP = Bank("208Y/120 V", "208 V delta", "480Y/277 V")
WYE_WYE = Bank("480Y/277 V", "480Y/277 V", "208Y/120 V", neutral=True)
WYE_DELTA = Bank("480Y/277 V", "480Y/277 V", "240 V delta", tie=None)
DELTA_DELTA = Bank("480Y/277 V", "480 V delta", "240 V delta", tie=None)

# Primary line currents, in parts of the current of a three-phase fault (symmetrical components;
# the figures stand in handbooks of protective relaying, from memory).
SEEN = [
    (DELTA_WYE, "LN", (0, 1 / ROOT3, 1 / ROOT3)),
    (DELTA_WYE, "LL", (0.5, 0.5, 1)),
    (DELTA_WYE, "LLL", (1, 1, 1)),
    (STEP_UP, "LN", (0, 1 / ROOT3, 1 / ROOT3)),
    (STEP_UP, "LL", (0.5, 0.5, 1)),
    (WYE_DELTA, "LL", (0.5, 0.5, 1)),
    (WYE_DELTA, "LLL", (1, 1, 1)),
    (DELTA_DELTA, "LL", (0, ROOT3 / 2, ROOT3 / 2)),
    (DELTA_DELTA, "LLL", (1, 1, 1)),
    (WYE_WYE, "LN", (0, 0, 1)),
    (WYE_WYE, "LL", (0, ROOT3 / 2, ROOT3 / 2)),
    (WYE_WYE, "LLL", (1, 1, 1)),
]


@pytest.mark.parametrize(("what", "kind", "seen"), SEEN, ids=str)
def test_faults_and_how_the_primary_sees_them(
    what: Bank, kind: str, seen: tuple[float, ...]
) -> None:
    """LLL = LN = I / z and LL = sqrt(3)/2 of it where Z1 = Z2 = Z0; the primary lines too."""
    solver = Solver(bank(what))
    secondary, primary, times = per_unit(what)
    if kind == "LLL":
        got, solution = three_phase(solver, "T:L1", "T:L2", "T:L3")
        expected = 1.0
    else:
        current, solution = bolted(solver, "T:L1", "T:N" if kind == "LN" else "T:L2")
        got, expected = abs(current), 1.0 if kind == "LN" else ROOT3 / 2
    assert got == pytest.approx(expected * secondary * times, rel=1e-3)
    lines = sorted(abs(i) / primary / times for i in primary_currents(what, solution))
    assert lines == pytest.approx(seen, abs=1e-3)


def test_line_to_metal_equals_line_to_neutral_where_tied() -> None:
    """An effective fault path is the neutral's; without the tie nothing flows."""
    solver = Solver(bank(DELTA_WYE))
    metal, _ = bolted(solver, "T:L1", "T:G")
    neutral, _ = bolted(solver, "T:L1", "T:N")
    assert abs(metal) == pytest.approx(abs(neutral), rel=1e-3)
    off = solver.solve([solver.join("T:L1", "T:G"), solver.open_switch("tie")])
    assert abs(off.change_current(0)) < 1e-3


def test_sequence_impedances_of_source_and_transformer_add() -> None:
    """Wye-wye with its neutral through: I_LN = 3 V / (2 Z1 + Z0) with the source's Z0, all in
    line by their equal angles."""
    letter = {"available": {"current": "20 kA", "x/r": 2.0, "line to neutral": "8 kA"}}
    supply = source("480Y/277 V", **letter)
    solver = Solver(bank(WYE_WYE, supply=supply))
    volts = 480 / ROOT3
    z1 = volts / 20_000
    z0 = 3 * volts / 8_000 - 2 * z1
    own = 0.04 * 480**2 / 75_000
    expected = 3 * volts / (2 * (z1 + own) + z0 + own) * 480 / 208
    assert abs(bolted(solver, "T:L3", "T:N")[0]) == pytest.approx(expected, rel=1e-3)


def test_a_delta_primary_keeps_the_zero_sequence_of_the_supply_out() -> None:
    """Delta-wye: only Z1 and Z2 of the source count, I_LN = 3 V / (2 Zs + 3 Zt)."""
    letter = {"available": {"current": "20 kA", "x/r": 2.0, "line to neutral": "8 kA"}}
    solver = Solver(bank(DELTA_WYE, supply=source("480Y/277 V", **letter)))
    volts = 480 / ROOT3
    own = 0.04 * 480**2 / 75_000
    expected = 3 * volts / (2 * volts / 20_000 + 3 * own) * 480 / 208
    assert abs(bolted(solver, "T:L3", "T:N")[0]) == pytest.approx(expected, rel=1e-3)


# --- neutrals that float --------------------------------------------------------------------------


@outside("neutral instability, textbook", "computed", unit="A, V")
def test_a_floating_wye_wye_neutral_runs_away() -> None:
    """Neutral instability: one line faulted to neutral draws hardly more than magnetising
    current, and the others rise to line-to-line voltage (textbook)."""
    floating = Bank("480Y/277 V", "480Y/277 V", "208Y/120 V")
    rated = per_unit(floating)[0]
    current, solution = bolted(Solver(bank(floating)), "T:L1", "T:N")
    # The faulted line carries the magnetising current of the two other cores, each at sqrt(3)
    # of its voltage: 3 times 0.5 %.
    assert abs(current) == published(3 * 0.005 * rated, rel=0.02)
    for line in ("T:L2", "T:L3"):
        assert abs(solution.between(line, "T:N")) == published(208, rel=5e-3)


@outside("grounding bank, textbook", "computed", unit="A")
def test_a_wye_delta_bank_grounds_an_ungrounded_supply() -> None:
    """Its primary neutral joined to metal: Z0 is the leakage of the bank, and a line to metal
    draws 3 V / (Z1 + Z2 + Z0) (textbook: grounding bank)."""
    what = Bank("480 V delta", "480Y/277 V", "240 V delta", tie="H0")
    supply = source("480 V delta", available={"current": "20 kA", "x/r": 2.0})
    solver = Solver(bank(what, supply=supply))
    current, solution = bolted(solver, "T:H1", "T:G")
    volts = 480 / ROOT3
    expected = 3 * volts / (2 * volts / 20_000 + 0.04 * 480**2 / 75_000)
    assert abs(current) == published(expected, rel=5e-3)
    # Two thirds of it arrive from the line, and a third through each other core (zero sequence).
    other = abs(solution.conductor_current("run L2", "z"))
    assert other == published(expected / 3, rel=0.01)


ZIGZAG = Bank("480 V delta", "480 V delta", "480 V delta", "zigzag")


def test_zigzag_ground_fault() -> None:
    """3 V / (2 Z1 + Z0) with Z0 = z V^2 / S, all at one angle; without the tie nothing."""
    supply = source("480 V delta", available={"current": "20 kA", "x/r": 2.0})
    solver = Solver(bank(ZIGZAG, supply=supply))
    current, solution = bolted(solver, "T:H1", "T:G")
    volts = 480 / ROOT3
    expected = 3 * volts / (2 * volts / 20_000 + 0.04 * 480**2 / 75_000)
    assert abs(current) == pytest.approx(expected, rel=5e-3)
    # The three windings share the neutral current alike.
    shares = [solution.section_currents(f"leakage T {k}")[0] for k in (1, 2, 3)]
    for share in shares:
        assert abs(share) == pytest.approx(expected / 3, rel=5e-3)
    off = solver.solve([solver.join("T:H1", "T:G"), solver.open_switch("tie")])
    assert abs(off.change_current(0)) < 0.01


def test_zigzag_takes_only_magnetising_current_from_a_balanced_supply() -> None:
    """Half a percent of its rated line current, S / (sqrt(3) V)."""
    solution = Solver(bank(ZIGZAG)).solve()
    rated = 75_000 / ROOT3 / 480
    for current in primary_currents(ZIGZAG, solution):
        assert abs(current) == pytest.approx(0.005 * rated, rel=0.01)


def test_zigzag_makes_a_neutral_for_a_load() -> None:
    """A load from line to the neutral made stands at line-to-neutral voltage, less its drop."""
    circuit = bank(ZIGZAG)
    circuit.add_impedance("load", "T:H2", "T:N", 277 / 20)
    solution = Solver(circuit).solve()
    assert abs(solution.between("T:H2", "T:N")) == pytest.approx(277, rel=0.02)
    assert abs(solution.conductor_current("load", "z")) == pytest.approx(20, rel=0.02)


def grounded_by_capacitance(farads: float) -> Solver:
    """Return an ungrounded 480 V secondary with a known capacitance of each line to metal."""
    circuit = bank(Bank("208Y/120 V", "208 V delta", "480 V delta", tie=None))
    for line in ("L1", "L2", "L3"):
        z = 1 / (2j * math.pi * 60 * farads)
        circuit.add_impedance(f"capacitance {line}", f"T:{line}", "T:G", z)
    return Solver(circuit)


@outside("ungrounded system, textbook", "computed", unit="A, V")
def test_first_and_second_fault_of_an_ungrounded_system() -> None:
    """First: 3 w C V, and the other lines rise to line voltage. Second, on another line: a
    line-to-line fault, sqrt(3)/2 of a three-phase one (textbook)."""
    solver = grounded_by_capacitance(1e-6)
    current, solution = bolted(solver, "T:L1", "T:G")
    expected = 3 * 2 * math.pi * 60 * 1e-6 * 480 / ROOT3
    assert abs(current) == published(expected, rel=0.02)
    assert abs(solution.between("T:L2", "T:G")) == published(480, rel=2e-3)
    second = solver.solve([solver.join("T:L1", "T:G"), solver.join("T:L2", "T:G")])
    rated = 75_000 / ROOT3 / 480
    assert abs(second.change_current(1)) == published(ROOT3 / 2 * rated / 0.04, rel=2e-3)


# --- half windings, open deltas, windings in common -----------------------------------------------


@pytest.mark.parametrize("x_over_r", [0.5, 1.5, 4.0])
@outside("handbook practice, half windings", "memory", unit="A")
def test_centre_tapped_faults(x_over_r: float) -> None:
    """Line to line V / Z; line to neutral V/2 over 0.375 R + j 0.3 X (from 1.5 R and 1.2 X per
    unit on the half winding's base; handbook practice, from memory)."""
    what = Bank(
        "480Y/277 V", "480 V", "120/240 V", lines=("L1", "L2"),
        facts={"rating": "25 kVA", "impedance": "3 %", "x/r": x_over_r},
    )  # fmt: skip
    solver = Solver(bank(what))
    full = 0.03 * 240**2 / 25_000
    r = full / math.hypot(1, x_over_r)
    between, _ = bolted(solver, "T:L1", "T:L2")
    assert abs(between) == published(240 / full, rel=2e-3)
    for line in ("T:L1", "T:L2"):
        neutral, solution = bolted(solver, line, "T:N")
        expected = 120 / math.hypot(0.375 * r, 0.3 * r * x_over_r)
        assert abs(neutral) == published(expected, rel=2e-3)
        # Ampere-turn balance: 4 to 1 from half winding to primary.
        for current in primary_currents(what, solution):
            assert abs(current) == published(abs(neutral) / 4, rel=2e-3)


@pytest.mark.parametrize("form", ["isolating", "open delta"])
@outside("loop method by hand", "computed", unit="A")
def test_high_leg_half_windings(form: str) -> None:
    """Loop method by hand: the tapped leg of the bank, alone or beside the two others.

    L1 to N sees the half winding; in a closed bank two legs in series (2 z) lie across the
    tapped one, which takes z / 12 off it.
    """
    what = Bank("480Y/277 V", "480 V delta", "120/240 V delta", form)
    solver = Solver(bank(what))
    units = 3 if form == "isolating" else 2
    leg = 0.04 * 240**2 / (75_000 / units)
    angle = math.atan(2.0)
    z = cmath.rect(leg, angle)
    half = complex(0.375 * z.real, 0.3 * z.imag) - (z / 12 if units == 3 else 0)
    for line in ("T:L1", "T:L3"):
        assert abs(bolted(solver, line, "T:N")[0]) == published(120 / abs(half), rel=2e-3)
    # The tapped leg is faulted through its own z, beside 2 z where the bank is closed.
    across = z if units == 2 else z * 2 / 3
    assert abs(bolted(solver, "T:L3", "T:L1")[0]) == published(240 / abs(across), rel=2e-3)


@outside("loop method by hand", "computed", unit="A")
def test_open_delta_line_faults() -> None:
    """Across one unit z; across the open side both in series, 2 z (loop method by hand)."""
    what = Bank("480Y/277 V", "480 V delta", "240 V delta", "open delta", tie=None)
    solver = Solver(bank(what))
    z = 0.04 * 240**2 / 37_500
    for a, b, times in (("T:L1", "T:L2", 1), ("T:L3", "T:L1", 1), ("T:L2", "T:L3", 2)):
        assert abs(bolted(solver, a, b)[0]) == published(240 / z / times, rel=2e-3)


AUTO = Bank("480Y/277 V", "480Y/277 V", "208Y/120 V", "auto", neutral=True, tie=None)
BOOST = Bank("208Y/120 V", "208Y/120 V", "480Y/277 V", "auto", neutral=True, tie=None)


@pytest.mark.parametrize("what", [AUTO, BOOST], ids=str)
def test_autotransformer_currents(what: Bank) -> None:
    """The nameplate gives the through current; the winding in common carries the difference of
    both sides' currents (ampere-turn balance)."""
    solver = Solver(bank(what))
    secondary, primary, times = per_unit(what)
    current, solution = bolted(solver, "T:L1", "T:N")
    assert abs(current) == pytest.approx(secondary * times, rel=3e-3)
    arriving = [abs(i) for i in primary_currents(what, solution)]
    assert arriving == pytest.approx([primary * times, 0, 0], abs=primary * times * 3e-3)
    back = abs(solution.switch_current("common T"))
    assert back == pytest.approx(primary * times, rel=3e-3)


def test_an_autotransformer_passes_a_ground_fault_on() -> None:
    """No isolation: a line to metal behind it returns to the supply's tie, as before it."""
    current, solution = bolted(Solver(bank(AUTO)), "T:L1", "T:G")
    assert abs(current) > 1000
    assert abs(solution.switch_current("source ground U")) == pytest.approx(abs(current), rel=0.01)


def test_a_balancer_makes_a_neutral() -> None:
    """Half of a load's neutral current in each line; Z to one half as the nameplate says."""
    what = Bank("120/240 V", "240 V", "120/240 V", "auto", lines=("L1", "L2"), tie=None)
    circuit = bank(what)
    circuit.add_impedance("load", "T:L1", "T:N", 6)
    solution = Solver(circuit).solve()
    drawn = abs(solution.conductor_current("load", "z"))
    assert drawn == pytest.approx(20, rel=1e-2)
    for current in primary_currents(what, solution):
        assert abs(current) == pytest.approx(drawn / 2, rel=1e-3)
    fault, _ = bolted(Solver(bank(what)), "T:L2", "T:N")
    assert abs(fault) == pytest.approx(75_000 / 120 / 0.04, rel=2e-3)


# --- cores ----------------------------------------------------------------------------------------


def test_magnetising_current_where_asked_for() -> None:
    """Half a percent of rated current without load (common practice), a fifth of it losses."""
    solution = Solver(bank(DELTA_WYE, magnetise=True)).solve()
    rated = per_unit(DELTA_WYE)[1]
    for line, current in zip(DELTA_WYE.lines, primary_currents(DELTA_WYE, solution), strict=True):
        assert abs(current) == pytest.approx(0.005 * rated, rel=0.01)
        power = solution.between(f"T:H{line[1]}", "U:N") * current.conjugate()
        assert power.real / abs(power) == pytest.approx(0.2, abs=0.01)


def test_single_phasing_is_divided_by_the_cores() -> None:
    """A line of a delta primary is open: the two cores in series stand at half voltage each."""
    solver = Solver(bank(DELTA_WYE, magnetise=True))
    solution = solver.solve([solver.open_conductor("run L1", "z")])
    volts = sorted(abs(solution.between(f"T:L{k}", "T:N")) for k in (1, 2, 3))
    assert volts == pytest.approx([60, 60, 120], rel=5e-3)


@pytest.mark.parametrize("what", CONNECTIONS, ids=str)
def test_harmonic_order_multiplies_reactance_only(what: Bank) -> None:
    """Leakage at the fifth: R + j 5 X of each section (definition of inductance)."""
    one, five = Circuit(60.0, LEAKAGE), Circuit(300.0, LEAKAGE)
    add_transformer(one, "T", what.unit)
    add_transformer(five, "T", what.unit, order=5)
    for a, b in zip(one.sections, five.sections, strict=True):
        assert b.impedance.real == pytest.approx(a.impedance.real)
        assert b.impedance.imag == pytest.approx(5 * a.impedance.imag)


# --- laws -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", CONNECTIONS, ids=str)
@pytest.mark.parametrize("tied", [True, False])
def test_residuals(what: Bank, *, tied: bool) -> None:
    """Kirchhoff's current law and Tellegen's theorem, loaded, with and without a fault."""
    supply = source(what.supply, available={"current": "30 kA"})
    solver = Solver(bank(what, tied=tied, supply=supply, loads=True))
    line, end = lines_of(what)[0], other_end(what)
    for changes in ([], [solver.join(line, "T:G")], [solver.join(line, end)]):
        residuals = solver.solve(changes).residuals
        assert residuals.kirchhoff < 1e-9
        assert residuals.power < 1e-9


@pytest.mark.parametrize("what", CONNECTIONS, ids=str)
def test_reciprocity(what: Bank) -> None:
    """Transfer impedance from primary to secondary is that from secondary to primary."""
    supply = source(what.supply, available={"current": "30 kA"})
    solver = Solver(bank(what, supply=supply, loads=True))
    pairs = [(f"U:{what.lines[0]}", EARTH), (lines_of(what)[0], other_end(what))]
    there, back = (
        solver.solve([], [Injection(*pairs[i], 1.0)], dead=True).between(*pairs[1 - i])
        for i in (0, 1)
    )
    assert abs(there) > 1e-6
    assert there == pytest.approx(back, rel=1e-7)


def test_the_halves_together_are_the_whole() -> None:
    """Line to line, the matrix gives the nameplate impedance (its definition)."""
    z = half_windings(0.01 + 0.03j)
    assert z[0, 0] + z[1, 1] - z[0, 1] - z[1, 0] == pytest.approx(0.01 + 0.03j)


# --- what lands where, what can't be --------------------------------------------------------------

LANDS = [
    ("480 V delta", "208Y/120 V", "isolating", "123N", {"L1": "H1", "L2": "H2", "L3": "H3"}),
    ("480Y/277 V", "208Y/120 V", "isolating", "123N",
     {"L1": "H1", "L2": "H2", "L3": "H3", "N": "H0"}),
    ("480 V", "120/240 V", "isolating", "23", {"L2": "H1", "L3": "H0"}),
    ("277 V", "120/240 V", "isolating", "3N", {"L3": "H1", "N": "H0"}),
    ("480 V", "120/240 V", "isolating", "123N", {"L1": "H1", "L2": "H0"}),
    ("480Y/277 V", "120/240 V delta", "open delta", "123N", {"L1": "H1", "L2": "H2", "N": "H0"}),
    ("480 V delta", "120/240 V delta", "open delta", "123", {"L1": "H1", "L2": "H2", "L3": "H3"}),
    ("480 V delta", "480 V delta", "zigzag", "123N",
     {"L1": "H1", "L2": "H2", "L3": "H3", "N": "N"}),
    ("480Y/277 V", "208Y/120 V", "auto", "123N",
     {"L1": "H1", "L2": "H2", "L3": "H3", "N": "H0"}),
    ("120/240 V delta", "208Y/120 V", "isolating", "123N", {"L1": "H1", "L2": "H2", "L3": "H3"}),
    ("480 V delta", "120/240 V", "isolating", "123N", {"L1": "H1", "L2": "H2"}),
    ("480Y/277 V", "120/240 V", "isolating", "123N", {"L1": "H1", "N": "H0"}),
    ("480Y/277 V", "120/240 V", "isolating", "12", {"L1": "H1"}),
    ("480Y/277 V", "480Y/277 V", "zigzag", "123", {"L1": "H1", "L2": "H2", "L3": "H3"}),
]  # fmt: skip


@pytest.mark.parametrize(("primary", "secondary", "form", "come", "land"), LANDS)
def test_primary_terminals(
    primary: str, secondary: str, form: str, come: str, land: dict[str, str]
) -> None:
    lines = tuple(f"L{c}" for c in come if c != "N")
    unit = transformer(primary, secondary, form=form)
    assert primary_terminals(unit, lines, neutral="N" in come) == land


REFUSED = [
    ("480 V", "208Y/120 V", "isolating", "no three-phase secondary"),
    ("480 V delta", "208Y/120 V", "open delta", "no wye secondary"),
    ("480 V", "120/240 V", "open delta", "three-phase delta"),
    ("480 V", "208Y/120 V", "auto", "same phases"),
    ("480Y/277 V", "120/240 V delta", "auto", "no high leg"),
    ("480Y/277 V", "480Y/277 V", "auto", "equal voltages"),
    ("480 V", "120/240 V", "auto", "leaves the voltage"),
    ("480 V", "480 V", "zigzag", "three lines"),
]


@pytest.mark.parametrize(("primary", "secondary", "form", "why"), REFUSED)
def test_transformers_that_cannot_be(primary: str, secondary: str, form: str, why: str) -> None:
    unit = transformer(primary, secondary, form=form)
    with pytest.raises(ValueError, match=why):
        add_transformer(Circuit(60.0, LEAKAGE), "T", unit)


def test_what_is_taken_for_granted_is_told() -> None:
    told = transformer_assumptions(transformer("480Y/277 V", "208Y/120 V"), neutral_arrives=False)
    assert any("shifts" in text for text in told)
    assert not transformer_assumptions(transformer("480 V", "120/240 V"), neutral_arrives=False)
    for what in CONNECTIONS:
        for text in transformer_assumptions(what.unit, neutral_arrives=what.neutral):
            assert text.endswith(".")


TOLD = [
    # The words that make the difference, by connection; a neutral that arrives; common practice.
    ("480 V delta", "480 V delta", "zigzag", False, ["zigzag transformer"]),
    ("480Y/277 V", "208Y/120 V", "auto", True, ["of an autotransformer", "three cores"]),
    ("480 V delta", "240 V delta", "auto", False, ["of an autotransformer", "brought out nowhere"]),
    ("480 V", "240 V", "auto", False, ["of an autotransformer"]),
    ("480 V delta", "120/240 V delta", "open delta", False, ["two equal units"]),
    ("480Y/277 V", "120/240 V delta", "open delta", False, ["two equal units"]),
    ("480 V delta", "120/240 V delta", "isolating", False, ["three equal units"]),
    ("480 V delta", "208Y/120 V", "isolating", False, ["leads the lower by 30"]),
    ("480Y/277 V", "240 V delta", "isolating", True, ["leads the lower by 30"]),
    ("480Y/277 V", "240 V delta", "isolating", False, ["by 30 degrees", "holds it to the middle"]),
    ("480Y/277 V", "208Y/120 V", "isolating", True, ["no tertiary winding"]),
    ("480Y/277 V", "208Y/120 V", "isolating", False, ["an uneven load or a fault shifts it"]),
    ("480 V delta", "240 V delta", "isolating", False, []),
    ("480Y/277 V", "120/240 V", "isolating", False, []),
]


@pytest.mark.parametrize(("primary", "secondary", "form", "arrives", "words"), TOLD)
def test_what_is_told_of_each_connection(
    primary: str, secondary: str, form: str, *, arrives: bool, words: list[str]
) -> None:
    told = transformer_assumptions(
        transformer(primary, secondary, form=form), neutral_arrives=arrives
    )
    assert len(told) == len(words)
    for text, part in zip(told, words, strict=True):
        assert part in text
        assert ("0.5 % of its rated current" in text) == (
            form == "zigzag" or "three separate cores" in text
        )
        # Who reads that the neutral shifts, or is held, has to be told why.
        if "holds it" in text or "shifts it" in text:
            assert text.startswith("The primary neutral is joined to nothing")


def test_the_parts_of_a_tapped_winding_have_names() -> None:
    """Two halves of 240 V on 480 V: 4:1 each; the taps of a bank bear the number of its unit."""
    circuit = Circuit(60.0, LEAKAGE)
    add_transformer(circuit, "T", transformer("480 V", "120/240 V"))
    assert [(u.id, u.p1, u.p2, u.s1, u.s2) for u in circuit.transformers] == [
        ("winding T 1", "T:H1", "T:H0", "T/winding:1", "T:N"),
        ("winding T 2", "T:H1", "T:H0", "T:N", "T/winding:2"),
    ]
    assert [u.ratio for u in circuit.transformers] == pytest.approx([4, 4])
    (leakage,) = circuit.sections
    assert (leakage.id, leakage.names) == ("leakage T", ("1", "2"))
    assert (leakage.starts, leakage.ends) == (("T/winding:1", "T/winding:2"), ("T:L1", "T:L2"))
    bank = Circuit(60.0, LEAKAGE)
    add_transformer(bank, "B", transformer("480 V delta", "120/240 V delta"))
    tapped = [u.id for u in bank.transformers if u.id[-1] in "ab"]
    assert tapped == ["winding B 3a", "winding B 3b"]
    assert [s.id for s in bank.sections if len(s.names) == 2] == ["leakage B 3"]
