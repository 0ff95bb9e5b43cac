"""The elements of a circuit one by one, by hand: loads, metal, windings in common, sections."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from bondwright.catalog.systems import VoltageSystem
from bondwright.network.changes import Injection
from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.common_windings import (
    magnetising_impedance,
    raise_order,
    with_angle,
)
from bondwright.network.loads import (
    LoadBranch,
    add_load,
    harmonic_injections,
    injections,
    load_branches,
    nominal,
    orders,
    settle,
)
from bondwright.network.metal import CONTACT_OHM, add_metal, beside, pieces, resistance_of
from bondwright.network.solution import Solution
from bondwright.network.solve import Solver
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Draws, Load, Metal, Site

ROOT3 = math.sqrt(3)


# --- loads -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("system", "a", "b", "volts"),
    [
        # By the names of the systems.
        ("120/240 V", "L1", "N", 120.0),
        ("120/240 V", "L2", "N", 120.0),
        ("120/240 V", "L1", "L2", 240.0),
        ("208Y/120 V", "L3", "L1", 208.0),
        ("208Y/120 V", "L2", "N", 208.0 / ROOT3),
        ("208Y/120 V", "N", "L2", 208.0 / ROOT3),
        # High leg: 240 V between lines, sqrt(3)/2 of that from the high leg to neutral.
        ("120/240 V delta", "L1", "L3", 240.0),
    ],
)
def test_nominal_voltages(system: str, a: str, b: str, volts: float) -> None:
    assert nominal(VoltageSystem.parse(system), a, b) == pytest.approx(volts)


def test_one_phase_of_a_load_by_hand() -> None:
    """S = 6 kW / 0.8 = 7.5 kVA at 240 V: Z = 57600 / 7500 = 7.68 ohm at acos 0.8."""
    load = Load.model_validate(
        {"on": "L1-L2", "power": "6 kW", "pf": 0.8, "draws": "power", "harmonics": {3: "20 %"}}
    )
    (branch,) = load_branches("shop", 2, load, VoltageSystem.parse("120/240 V"))
    assert (branch.id, branch.a, branch.b) == ("load shop 2 L1-L2", "shop:L1", "shop:L2")
    assert branch.impedance == pytest.approx(cmath.rect(7.68, math.acos(0.8)))
    assert branch.volts == pytest.approx(240.0)
    assert branch.current == pytest.approx(31.25)
    assert branch.draws is Draws.POWER
    assert dict(branch.harmonics) == pytest.approx({3: 0.2})


def test_a_three_phase_load_is_a_third_between_each_two_lines() -> None:
    """9 kW at 208 V: 3 kW on each side of the triangle, 208^2 / 3000 ohm."""
    load = Load.model_validate({"on": "L1-L2-L3", "power": "9 kW"})
    found = list(load_branches("press", 0, load, VoltageSystem.parse("208Y/120 V")))
    assert [(one.a, one.b) for one in found] == [
        ("press:L1", "press:L2"),
        ("press:L2", "press:L3"),
        ("press:L3", "press:L1"),
    ]
    for one in found:
        assert one.impedance == pytest.approx(208**2 / 3000)


BRANCH = LoadBranch("load", "a", "b", 3 + 4j, 100.0, Draws.IMPEDANCE)


def added(branch: LoadBranch, **how: Any) -> dict[str, complex]:
    circuit = Circuit(60.0, 0j)
    add_load(circuit, branch, **how)
    return {section.id: complex(section.impedance[0, 0]) for section in circuit.sections}


def test_a_load_at_a_harmonic() -> None:
    """Resistance stays and reactance grows with the order; a load that makes harmonics is a
    source of current there and nothing else; its filter's capacitance is there at every order."""
    assert added(BRANCH) == {"load": 3 + 4j}
    assert added(BRANCH, order=5) == {"load": 3 + 20j}
    noisy = LoadBranch("load", "a", "b", 3 + 4j, 100.0, Draws.IMPEDANCE, {3: 0.1})
    assert added(noisy) == {"load": 3 + 4j}
    assert added(noisy, order=3) == {}
    # 100 V and 5 mA: 20 kohm of capacitance, a third of that at the third harmonic
    assert added(noisy, order=3, leakage=("metal", 5e-3)) == {
        "leakage load": pytest.approx(-20_000j / 3)
    }
    circuit = Circuit(60.0, 0j)
    add_load(circuit, BRANCH, leakage=("metal", 5e-3))
    (load, filters) = circuit.sections
    assert (load.starts, load.ends) == (("a",), ("b",))
    assert (filters.starts, filters.ends) == (("a",), ("metal",))
    assert filters.impedance[0, 0] == pytest.approx(-20_000j)


def across(volts: complex, solver: Solver | None = None) -> Solution:
    """Return a circuit's answer with a voltage between a and b."""
    circuit = Circuit(60.0, 0j)
    circuit.add_source("s", "a", EARTH, volts)
    circuit.add_impedance("z", "a", "b", 1e9)
    circuit.add_impedance("zero", "b", EARTH, 1e-9)
    return (solver or Solver(circuit)).solve()


def branch(draws: Draws, **more: Any) -> LoadBranch:
    return LoadBranch("x", "a", "b", 8 + 6j, 100.0, draws, **more)


@pytest.mark.parametrize(
    ("draws", "volts", "wanted"),
    [
        # Z is 10 ohm. At half of 100 V: an impedance draws 5 A, all below 70 % are that.
        (Draws.CURRENT, 50.0, 5.0),
        (Draws.POWER, 50.0, 5.0),
        # At 80 V: 8 A by impedance, 10 A of constant current, 12.5 A of constant power.
        (Draws.CURRENT, 80.0, 10.0),
        (Draws.POWER, 80.0, 12.5),
        (Draws.POWER, 70.0, 100 / 7),
        (Draws.POWER, 69.9, 6.99),
        (Draws.CURRENT, 110.0, 10.0),
        (Draws.POWER, 125.0, 8.0),
    ],
)
def test_what_is_drawn_beyond_the_impedance(draws: Draws, volts: float, wanted: float) -> None:
    turned = cmath.rect(volts, 0.3)
    (found,) = injections([branch(Draws.IMPEDANCE), branch(draws)], across(turned))
    linear = turned / (8 + 6j)
    assert (found.a, found.b) == ("a", "b")
    assert found.current == pytest.approx(linear * (wanted / abs(linear) - 1), abs=1e-6)


def test_impedances_settle_at_once() -> None:
    """Nothing depends on the voltage: one solution, no round."""
    asked: list[Sequence[Injection]] = []

    def solve(drawn: Sequence[Injection]) -> Solution:
        asked.append(drawn)
        return across(100.0)

    found = settle([branch(Draws.IMPEDANCE)], solve)
    assert (found.steps, found.converged, len(asked)) == (0, True, 1)
    assert list(asked[0]) == []


def test_what_stands_still_has_settled_in_two_rounds() -> None:
    """A stiff source doesn't feel what is drawn: the second round draws what the first did."""
    asked: list[Sequence[Injection]] = []

    def solve(drawn: Sequence[Injection]) -> Solution:
        asked.append(list(drawn))
        return across(80.0)

    found = settle([branch(Draws.POWER)], solve)
    assert (found.steps, found.converged) == (2, True)
    assert [len(drawn) for drawn in asked] == [0, 1]


def test_other_currents_are_settled_along() -> None:
    """What something else gives is drawn too, even where no load depends on the voltage."""
    asked: list[Sequence[Injection]] = []
    other = Injection("b", "a", 2.0)

    def solve(drawn: Sequence[Injection]) -> Solution:
        asked.append(list(drawn))
        return across(100.0)

    found = settle([], solve, lambda _solution: [other])
    assert found.converged
    assert asked == [[], [other]]
    found = settle([branch(Draws.CURRENT)], lambda _d: across(80.0), lambda _s: [other])
    assert (found.steps, found.converged) == (2, True)


def test_what_never_stands_still_is_told() -> None:
    volts = iter(range(71, 10_000))
    found = settle([branch(Draws.POWER)], lambda _drawn: across(float(next(volts))))
    assert (found.steps, found.converged) == (60, False)


def test_harmonics_turn_with_their_order() -> None:
    """10 A of fundamental, 30 % third: 3 A at three times the angle of the voltage."""
    noisy = branch(Draws.IMPEDANCE, harmonics={3: 0.3, 5: 0.0})
    quiet = branch(Draws.IMPEDANCE)
    (found,) = harmonic_injections([quiet, noisy, quiet], across(cmath.rect(90, 0.4)), 3)
    assert (found.a, found.b) == ("a", "b")
    assert found.current == pytest.approx(cmath.rect(3.0, 1.2), abs=1e-6)
    assert harmonic_injections([noisy], across(90.0), 5) == []
    assert harmonic_injections([noisy], across(90.0), 7) == []
    assert orders([noisy, branch(Draws.IMPEDANCE, harmonics={11: 1.0, 3: 0.1}), quiet]) == (
        3,
        5,
        11,
    )


# --- metal -----------------------------------------------------------------------------------


def pipe(**more: Any) -> Metal:
    facts = {"kind": "water pipe", "from": "service", "to": "shop", "length": 20, **more}
    return Metal.model_validate(facts)


def test_metal_without_taps_is_one_piece() -> None:
    (one,) = pieces("main", pipe(resistance=0.5))
    assert (one.id, one.name, one.a, one.b) == ("metal main", "main", "service:G", "shop:G")
    assert one.places == {"service", "shop"}
    assert (one.length, one.resistance) == (20.0, 0.5)


def test_metal_is_cut_at_its_taps_in_their_order_along_it() -> None:
    """0.01 ohm/m over 20 m; taps at 15 m and 5 m: 5, 10 and 5 m, 0.05, 0.1 and 0.05 ohm."""
    item = pipe(
        **{"resistance/length": "0.01 ohm/m"},
        taps=[{"at": 15, "to": "shed"}, {"at": 5, "to": "barn"}],
    )
    assert resistance_of(item) == pytest.approx(0.2)
    found = pieces("main", item)
    assert [one.id for one in found] == ["metal main 1", "metal main 2", "metal main 3"]
    assert [(one.a, one.b) for one in found] == [
        ("service:G", "metal main tap 1"),
        ("metal main tap 1", "metal main tap 0"),
        ("metal main tap 0", "shop:G"),
    ]
    assert [one.length for one in found] == [5.0, 10.0, 5.0]
    assert [one.resistance for one in found] == pytest.approx([0.05, 0.1, 0.05])
    assert [one.places for one in found] == [{"service"}, frozenset(), {"shop"}]
    assert {one.name for one in found} == {"main"}


def test_two_taps_at_one_point_are_a_millimetre_apart() -> None:
    item = pipe(resistance=2.0, taps=[{"at": 10, "to": "shed"}, {"at": 10, "to": "barn"}])
    found = pieces("main", item)
    assert [one.length for one in found] == [10.0, 1e-3, 10.0]
    assert found[1].resistance == pytest.approx(1e-4)


def site_with(metal: dict[str, Any]) -> Plan:
    places = {name: {"kind": "panel"} for name in ("shop", "shed", "barn")}
    return plan(
        Site.model_validate(
            {
                "site": "bench",
                "sources": {"utility": {"system": "120/240 V", "available": {"current": "10 kA"}}},
                "places": {"service": {"kind": "service", "main": "200 A breaker"}, **places},
                "runs": {
                    "drop": {
                        "from": "utility",
                        "to": "service",
                        "length": 10,
                        "lines": "4/0 AWG Al",
                    },
                    **{
                        f"to {name}": {
                            "from": "service",
                            "to": name,
                            "device": "60 A breaker",
                            "length": 20,
                            "lines": "6 AWG Cu",
                        }
                        for name in places
                    },
                },
                "metal": metal,
            }
        )
    )


PIPE: dict[str, Any] = {"kind": "water pipe", "from": "shop", "to": "service", "length": 20}


def test_the_contacts_and_the_earth_of_metal() -> None:
    """A contact is its resistance, else a milliohm; metal in the soil is half at each end."""
    made = site_with(
        {
            "main": {
                **PIPE,
                "resistance": 0.1,
                "earth": 15,
                "taps": [
                    {"at": 4, "to": "shed"},
                    {"at": 9, "to": "barn", "resistance": 0.3},
                ],
            }
        }
    )
    circuit = Circuit(60.0, 0j)
    add_metal(circuit, made, frozenset({"metal main 2"}))
    ends = {s.id: (s.names, s.starts, s.ends, complex(s.impedance[0, 0])) for s in circuit.sections}
    assert ends["contact main 0"] == (("z",), ("metal main tap 0",), ("shed:G",), CONTACT_OHM)
    assert ends["contact main 1"] == (("z",), ("metal main tap 1",), ("barn:G",), 0.3)
    assert ends["earth of main at shop"] == (("z",), ("shop:G",), (EARTH,), 30.0)
    assert ends["earth of main at service"] == (("z",), ("service:G",), (EARTH,), 30.0)
    # a piece that a run carries along is left to it; the others return through the earth
    assert "metal main 2" not in ends
    assert ends["metal main 1"][:3] == (("metal",), ("shop:G",), ("metal main tap 0",))
    assert ends["metal main 3"][:3] == (("metal",), ("metal main tap 1",), ("service:G",))
    # Carson's earth: 9.87e-7 f ohm/m of it besides the metal's own
    assert ends["metal main 1"][3].real == pytest.approx(0.02 + 4 * 9.87e-7 * 60, rel=1e-3)


TAP = {"at": 4, "to": "shed", "resistance": 0}


def test_no_contact_is_ideal() -> None:
    made = site_with({"main": {**PIPE, "resistance": 0.1, "taps": [TAP]}})
    circuit = Circuit(60.0, 0j)
    add_metal(circuit, made, frozenset())
    (contact,) = [s for s in circuit.sections if s.id == "contact main 0"]
    assert contact.impedance[0, 0] == 1e-6


def test_metal_beside_a_run_is_the_piece_that_joins_its_two_places() -> None:
    two = {**PIPE, "resistance": 0.1}
    cut = {**two, "to": "shed", "taps": [{"at": 4, "to": "barn"}]}
    found = beside(site_with({"one": two, "other": {**two, "from": "service", "to": "shop"},
                              "cut": cut, "far": {**two, "to": "barn"}}))  # fmt: skip
    assert {run: [piece.id for piece in those] for run, those in found.items()} == {
        "to shop": ["metal one", "metal other"]
    }


# --- sections --------------------------------------------------------------------------------


def test_nodes_stand_in_the_order_they_are_first_named() -> None:
    circuit = Circuit(60.0, 0j)
    circuit.add_node("alone")
    circuit.add_transformer("t", "p1", EARTH, "s1", "a", 2.0)
    circuit.add_switch("w", "b", "c", closed=False)
    circuit.add_source("e", "plus", EARTH, 1.0)
    circuit.add_section("s", ("x", "y"), ("a", "b"), (EARTH, "z"), np.eye(2))
    assert circuit.nodes() == ("a", "b", "z", "plus", "c", "p1", "s1", "alone")


@pytest.mark.parametrize(
    ("names", "starts", "ends", "z", "words"),
    [
        ("ab", "pq", "r", np.eye(2), "'s': 2 names need 2 starts, 2 ends and a (2, 2) matrix"),
        ("ab", "p", "rs", np.eye(2), "'s': 2 names need 2 starts"),
        ("ab", "pq", "rs", np.eye(3), "'s': 2 names need 2 starts"),
        ("ab", "pq", "rs", [[1, 0.1], [0.2, 1]], "'s': the impedance matrix must be finite"),
        ("ab", "pq", "rs", [[1, 0.1], [0.1, math.inf]], "'s': the impedance matrix must be"),
        ("ab", "pq", "rs", [[1, 2], [2, 1]], "'s': the impedance matrix is not that of a pass"),
        ("a", "p", "r", [[-1e-3 + 1j]], "'s': the impedance matrix is not that of a passive"),
    ],
)
def test_what_is_no_section(names: str, starts: str, ends: str, z: Any, words: str) -> None:
    with pytest.raises(ValueError) as found:  # noqa: PT011
        Circuit(60.0, 0j).add_section("s", names, starts, ends, z)
    assert words in str(found.value)


def test_a_turning_machine_may_be_skew_in_its_resistances_only() -> None:
    circuit = Circuit(60.0, 0j)
    z = np.array([[1 + 1j, 0.3 + 0.2j], [-0.3 + 0.2j, 1 + 1j]])
    circuit.add_section("m", "ab", "pq", "rs", z, reciprocal=False)
    assert circuit.sections[0].impedance == pytest.approx(z)
    with pytest.raises(ValueError, match="symmetric"):
        circuit.add_section("m", "ab", "pq", "rs", z)
    with pytest.raises(ValueError, match="symmetric"):
        circuit.add_section("m", "ab", "pq", "rs", 1j * z.real + z.real.T, reciprocal=False)
    # the skew part loses no power, so even a large one is passive
    big = np.array([[1.0, 9.0], [-9.0, 1.0]])
    circuit.add_section("n", "ab", "pq", "rs", big, reciprocal=False)


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_what_rounding_leaves_of_a_passive_section_is_passive(scale: float) -> None:
    """A body whose least eigenvalue is 1e-10 of its size below zero passes, 1e-7 does not."""
    circuit = Circuit(60.0, 0j)
    near = scale * np.array([[1.0, 1 + 1e-10], [1 + 1e-10, 1.0]])
    circuit.add_section("near", "ab", "pq", "rs", near)
    with pytest.raises(ValueError, match="passive"):
        circuit.add_section(
            "off", "ab", "pq", "rs", scale * np.array([[1.0, 1 + 1e-7], [1 + 1e-7, 1.0]])
        )
    with pytest.raises(ValueError, match="symmetric"):
        circuit.add_section(
            "skew", "ab", "pq", "rs", scale * np.array([[1.0, 0.1], [0.1 + 1e-7, 1.0]])
        )


def test_a_short_of_nothing_is_allowed() -> None:
    circuit = Circuit(60.0, 0j)
    circuit.add_section("s", "ab", "pq", "rs", np.zeros((2, 2)))
    circuit.add_impedance("z", "p", "q", 0.0)
    assert len(circuit.sections) == 2


# --- what all windings share -----------------------------------------------------------------


def test_magnetising_by_hand() -> None:
    """No-load current 0.5 % of 10 kVA at 240 V: 0.2083 A, 0.1 % (10 W) of it in phase."""
    z = magnetising_impedance(240.0, 10_000.0)
    current = 240 / z
    assert abs(current) == pytest.approx(0.005 * 10_000 / 240)
    assert (240 * current.conjugate()).real == pytest.approx(10.0)
    assert current.imag < 0


def test_a_magnitude_at_an_angle() -> None:
    """3-4-5."""
    assert with_angle(5.0, 4 / 3) == pytest.approx(3 + 4j)
    assert with_angle(2.0, 0.0) == 2


def test_raising_the_order_by_hand() -> None:
    """Reactances and the skew part of resistances are multiplied, losses not; the first sections
    are left as they are."""
    circuit = Circuit(60.0, 0j)
    circuit.add_impedance("left", "a", "b", 1 + 1j)
    z = np.array([[2 + 1j, 0.5 + 0.25j], [-0.5 + 0.25j, 3 + 2j]])
    circuit.add_section("m", "ab", "pq", "rs", z, reciprocal=False)
    circuit.add_impedance("last", "a", "b", 4 + 5j)
    raise_order(circuit, 1, 1)
    assert circuit.sections[1].impedance == pytest.approx(z)
    raise_order(circuit, 1, 3)
    assert circuit.sections[0].impedance[0, 0] == 1 + 1j
    assert circuit.sections[2].impedance[0, 0] == 4 + 15j
    assert circuit.sections[1].impedance == pytest.approx(
        np.array([[2 + 3j, 1.5 + 0.75j], [-1.5 + 0.75j, 3 + 6j]])
    )


# --- answers ---------------------------------------------------------------------------------


def bench() -> Solver:
    """Return 120 V over 2 ohm into a switch and 4 ohm, a transformer 2:1 with 10 ohm beside."""
    circuit = Circuit(60.0, 0j)
    circuit.add_source("emf", "a", EARTH, 120)
    circuit.add_impedance("top", "a", "b", 2)
    circuit.add_switch("w", "b", "c")
    circuit.add_impedance("bottom", "c", EARTH, 4)
    circuit.add_transformer("t", "a", EARTH, "s", EARTH, 2)
    circuit.add_impedance("load", "s", EARTH, 10)
    return Solver(circuit)


def test_every_current_by_hand() -> None:
    """20 A through the switch; 60 V and 6 A on the secondary, 3 A of the primary: 23 A in all."""
    solver = bench()
    found = solver.solve()
    assert found.switch_current("w") == pytest.approx(20)
    assert found.source_current("emf") == pytest.approx(23)
    assert found.voltage(EARTH) == 0
    assert found.between("a", "c") == pytest.approx(40)
    assert found.between("c", EARTH) == pytest.approx(80)
    assert found.switch_currents(np.array([solver.switch_row["w"]])) == pytest.approx([20])
    assert found.residuals.kirchhoff < 1e-12
    assert found.residuals.power < 1e-12
    off = solver.solve([solver.open_switch("w")])
    assert off.switch_current("w") == pytest.approx(0)
    assert off.source_current("emf") == pytest.approx(3)
    with pytest.raises(ValueError, match="'open w' is not a join"):
        off.change_current(0)
    with pytest.raises(ValueError, match="zero in series"):
        solver.insert("top", "z", 0)


def test_residuals_of_a_wrong_answer_are_what_is_wrong_with_it() -> None:
    """The voltage of node c a tenth too high: 22 A leave it and 20 A come; of 23 A at most."""
    solver = bench()
    x = np.array(solver.solve()._x)
    x[solver.index["c"]] *= 1.1
    none = np.zeros(0, dtype=np.complex128)
    bad = Solution(solver, x, (), none).residuals
    assert bad.kirchhoff == pytest.approx(2 / 23)
    # the 4 ohm take 88 V x 22 A and the join 20 A x -8 V more than the 2760 W that are given
    assert bad.power == pytest.approx(abs(88 * 22 - 8 * 20 - 80 * 20) / 2760)
    x = np.array(solver.solve()._x)
    x[solver.source_row["emf"]] -= 1.0
    bad = Solution(solver, x, (), none).residuals
    assert bad.kirchhoff == pytest.approx(1 / 24)
    assert bad.power == pytest.approx(120 / 2880)


def test_what_is_drawn_from_outside_is_counted() -> None:
    """3 A drawn from c to earth: 120 = 2 I + 4 (I - 3), I = 22 A; nothing given: 2 ohm beside 4."""
    solver = bench()
    drawn = [Injection("c", EARTH, 3.0)]
    found = solver.solve(injections=drawn)
    assert found.switch_current("w") == pytest.approx(22)
    assert found.voltage("c") == pytest.approx(76)
    assert found.residuals.power < 1e-12
    dead = solver.solve(injections=drawn, dead=True)
    assert dead.voltage("c") == pytest.approx(-4)
    assert dead.residuals.power < 1e-12
    assert dead.residuals.kirchhoff < 1e-12


def test_some_voltages_alone_and_others_set() -> None:
    circuit = Circuit(60.0, 0j)
    circuit.add_source("one", "a", EARTH, 100)
    circuit.add_source("two", "b", EARTH, 50)
    circuit.add_impedance("x", "a", "m", 1)
    circuit.add_impedance("y", "b", "m", 1)
    circuit.add_impedance("z", "m", EARTH, 1)
    solver = Solver(circuit)
    # Millman: (100 + 50) / 3
    assert solver.solve().voltage("m") == pytest.approx(50)
    alone = solver.alone({"two": 30})
    assert alone.voltage("m") == pytest.approx(10)
    assert alone.voltage("a") == pytest.approx(0)
    assert alone.dead
    assert (alone.changes, alone.injections, len(alone._unknowns)) == ((), (), 0)
    solver.set_emfs({"one": 10})
    assert solver.solve().voltage("m") == pytest.approx(20)
    assert circuit.sources[0].emf == 100


def test_transfer_by_hand() -> None:
    """1 A into a ladder of 1 ohm and 2 ohm: 3 V at the top, 2 V across the lower; 2 ohm below."""
    circuit = Circuit(60.0, 0j)
    circuit.add_impedance("x", "a", "b", 1)
    circuit.add_impedance("y", "b", EARTH, 2)
    z = Solver(circuit).transfer([("a", EARTH), ("b", EARTH), ("b", "a")])
    assert z == pytest.approx(np.array([[3, 2, -1], [2, 2, 0], [-1, 0, 1]]))


def test_an_open_switch_cannot_be_opened() -> None:
    circuit = Circuit(60.0, 0j)
    circuit.add_source("s", "a", EARTH, 1)
    circuit.add_impedance("z", "a", EARTH, 1)
    circuit.add_switch("w", "a", "b", closed=False)
    circuit.add_impedance("y", "b", EARTH, 1)
    with pytest.raises(ValueError, match="switch 'w' is open already"):
        Solver(circuit).open_switch("w")
