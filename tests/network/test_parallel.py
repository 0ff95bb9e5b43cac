"""Sources in parallel: by symmetrical components, by what their set-points say, and ngspice."""

from __future__ import annotations

import cmath
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.network.build import Network, build
from bondwright.network.normal import harmonics, normal_use
from bondwright.network.parallel import line_currents, parallel_assumptions, power
from bondwright.network.solve import Injection
from bondwright.network.spice import netlist, node_numbers
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site import read
from bondwright.site.reader import SiteError
from bondwright.site.states import states
from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.stray import study_stray
from bondwright.studies.supplies import supplies
from tests.network.ngspice import node_voltages
from tests.outside import outside, same_circuit

AGREE = 1e-6

# Two generators on one bus. Conductors are one foot long: a few thousandths of the machines.
GENERATORS = """site: Two generators, Harrow Creek Cidery
generators:
  one: {system: 480Y/277 V, rating: 250 kVA, subtransient: 12 %, negative: 14 %, zero: 4 %ONE}
  two: {system: 480Y/277 V, rating: 150 kVA, subtransient: 15 %, negative: 18 %, zero: 5 %TWO}
places:
  bus:
    kind: disconnect
    loads: [{on: L1-L2-L3, power: 120 kW, pf: 0.85DRAWS}, {on: L1-N, power: 10 kW}]
runs:
  feeder one: {from: one, to: bus, device: 300 A breaker, length: 1 ft, lines: 500 kcmil Cu}
  feeder two:
    {from: bus, to: two, device: 200 A breaker, length: 1 ft, lines: 500 kcmil CuNEUTRAL}
ties:
  bond one: {at: one, by: strap}
BOND"""


def generators(
    one: str = "", two: str = "", draws: str = "", neutral: str = "", bond: str = ""
) -> str:
    """Return the description with more said of some of it."""
    text = GENERATORS
    for mark, said in (
        ("ONE", one), ("TWO", two), ("DRAWS", draws), ("NEUTRAL", neutral), ("BOND", bond),
    ):  # fmt: skip
        text = text.replace(mark, said)
    return text


# A generator that is closed on a utility's bus by a transfer switch.
CLOSED = """site: Closed transition, Harrow Creek Cidery
sources:
  utility: {system: 480Y/277 V, available: {current: 20 kA, x/r: 6}}
generators:
  gen: {system: 480Y/277 V, rating: 250 kVA, subtransient: 12 %, zero: 4 %MORE}
transfers:
  switch: {normal: normal feeder, standby: gen feeder, neutral: NEUT, building: plant}
places:
  main: {kind: service, main: 400 A breaker, building: plant}
  panel:
    kind: panel
    building: plant
    loads: [{on: L1-L2-L3, power: 120 kW, pf: 0.85}, {on: L1-N, power: 10 kW}]
runs:
  service: {from: utility, to: main, length: 30 ft, lines: 500 kcmil Cu}
  normal feeder:
    {from: main, to: switch, device: 400 A breaker, length: 60 ft, lines: 500 kcmil Cu}
  gen feeder: {from: gen, to: switch, device: 350 A breaker, length: 60 ft, lines: 500 kcmil Cu}
  panel feeder: {from: switch, to: panel, length: 20 ft, lines: 500 kcmil Cu}
states:
  normal: {}
  on generator: {on: [gen], transfers: {switch: standby}}
  changing over: {on: [utility, gen], transfers: {switch: both}}
"""

# A generator on the 208 V side of a delta-wye transformer, beside the utility on the other.
BEHIND = """site: Press hall, Harrow Creek Cidery
sources:
  utility: {system: 480Y/277 V, available: {current: 20 kA, x/r: 6}}
generators:
  gen: {system: 208Y/120 V, rating: 60 kVA, output: 20 kW, pf: 0.9}
transformers:
  unit: {primary: 480 V delta, secondary: 208Y/120 V, rating: 75 kVA, impedance: 3 %}
places:
  main: {kind: service, main: 400 A breaker}
  panel: {kind: panel, main: 225 A breaker, loads: [{on: L1-L2-L3, power: 40 kW, pf: 0.9}]}
runs:
  service: {from: utility, to: main, length: 30 ft, lines: 500 kcmil Cu}
  primary:
    {from: main, to: unit, device: 125 A breaker, length: 30 ft, lines: 1 AWG Cu, neutral: none}
  secondary: {from: unit, to: panel, length: 10 ft, lines: 4/0 AWG Cu, ssbj: 2 AWG Cu}
  gen run: {from: panel, to: gen, device: 175 A breaker, length: 40 ft, lines: 2/0 AWG Cu}
states:
  beside: {on: [utility, gen]}
  alone: {on: [utility]}
"""


def closed(neutral: str = "solid", more: str = "") -> str:
    """Return the description with a switch of one kind."""
    return CLOSED.replace("NEUT", neutral).replace("MORE", more)


def network(text: str, state: str | None = None, *, loads: bool = False) -> Network:
    """Build a description in a state."""
    made = plan(read(text))
    chosen = next((s for s in states(made.site) if s.id == state), None)
    return build(made, loads=loads, state=chosen)


def reactances(site: Network, name: str) -> tuple[complex, complex, complex]:
    """Return the zero, positive and negative-sequence impedance of a generator, ohm."""
    own = site.plan.site.generators[name]
    base = own.system.line_to_line**2 / own.rating
    r = own.subtransient / own.x_over_r  # type: ignore[operator]
    x1 = own.subtransient or 0.0
    return tuple(  # type: ignore[return-value]
        complex(r, x) * base for x in (own.zero or 0.0, x1, own.negative or x1)
    )


def beside(a: complex, b: complex) -> complex:
    """Return two impedances in parallel."""
    return a * b / (a + b)


# --- synchronised ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "state"),
    [(generators(), None), (closed(), "changing over"), (BEHIND, "beside")],
    ids=["generators", "closed transition", "behind a delta-wye"],
)
def test_nothing_flows_between_synchronised_sources(text: str, state: str | None) -> None:
    """Also where a transformer turns the voltages by 30 degrees: that is what synchronising is."""
    site = network(text, state)
    assert site.state.parallel
    solution = site.solver.solve()
    for group in site.state.parallel:
        for name in group:
            system = (site.plan.site.generators.get(name) or site.plan.site.sources[name]).system
            # What is left charges the capacitance of the terminals to earth.
            assert np.max(np.abs(line_currents(solution, name, system))) < 5e-3


def test_a_generator_behind_a_delta_wye_is_turned() -> None:
    site = network(BEHIND, "beside")
    emf = {s.id: s.emf for s in site.circuit.sources}["emf gen L1"]
    assert abs(math.degrees(cmath.phase(emf))) == pytest.approx(30, abs=0.1)
    assert abs(emf) == pytest.approx(208 / math.sqrt(3), rel=1e-3)


def test_a_regulator_set_higher_circulates_current() -> None:
    """5 % more behind both machines: dE / (Z1a + Z1b), nearly all of it magnetising."""
    site = network(generators(two=", voltage: 504 V"))
    z = reactances(site, "one")[1] + reactances(site, "two")[1]
    solution = site.solver.solve()
    system = site.plan.site.generators["two"].system
    amps = np.abs(line_currents(solution, "two", system))
    assert amps == pytest.approx(np.full(3, 0.05 * 277.128 / abs(z)), rel=0.01)


# --- sharing -----------------------------------------------------------------------------------


@pytest.mark.parametrize("draws", ["", ", draws: power", ", draws: current"])
@pytest.mark.parametrize(
    ("one", "two", "part"),
    [("", "", 150 / 400), (", share: 50 %", ", share: 50 %", 0.5), ("", ", share: 0 %", None)],
)
def test_generators_take_their_share(one: str, two: str, part: float | None, draws: str) -> None:
    """Real and reactive power in proportion to rating, or as stated."""
    if part is None:
        one, two, part = ", share: 75 %", ", share: 25 %", 0.25
    site = network(generators(one, two, draws), loads=True)
    solution = normal_use(site).solution
    given_ = {n: power(solution, n, g.system) for n, g in site.plan.site.generators.items()}
    total = sum(given_.values())
    assert given_["two"] == pytest.approx(part * total, rel=1e-6)
    assert total.real == pytest.approx(130e3, rel=0.2)


def test_beside_a_utility_a_generator_gives_what_it_is_set_to() -> None:
    site = network(BEHIND, "beside", loads=True)
    given_ = power(normal_use(site).solution, "gen", site.plan.site.generators["gen"].system)
    assert given_.real == pytest.approx(20e3, rel=1e-6)
    assert given_.imag == pytest.approx(20e3 * math.tan(math.acos(0.9)), rel=1e-6)


def test_what_is_taken_for_granted_of_sources_in_parallel() -> None:
    """The set-points as they are described, and that nothing is known of third harmonics."""
    site = network(BEHIND, "beside")
    told = parallel_assumptions(site.plan.site, site.state.parallel)["gen"]
    assert told[0].startswith("Beside utility it gives 20 kW at a power factor of 0.9")
    site = network(generators())
    every = parallel_assumptions(site.plan.site, site.state.parallel)
    assert [text for text in every["two"] if "in proportion to its rating" in text]
    assert not [text for text in every["one"] if "in proportion" in text]
    assert all("pure sine" in texts[-1] for texts in every.values())


def test_just_synchronised_it_gives_nothing() -> None:
    site = network(closed(), "changing over", loads=True)
    given_ = power(normal_use(site).solution, "gen", site.plan.site.generators["gen"].system)
    assert abs(given_) < 1e-3


def test_what_each_supply_gives_is_told_beside_what_it_is_made_for() -> None:
    """S / (sqrt 3 V) for three lines, S / V for a single-phase one (definition)."""
    site = network(generators(), loads=True)
    solution = normal_use(site).solution
    one, two = supplies(site, solution, {})
    assert (one.name, one.beside, two.name, two.beside) == ("one", ("two",), "two", ("one",))
    assert one.rated == pytest.approx(250e3 / math.sqrt(3) / 480)
    assert two.rated == pytest.approx(150e3 / math.sqrt(3) / 480)
    for each in (one, two):
        assert each.power == power(solution, each.name, site.plan.site.generators["one"].system)
        assert sum(each.amperes) / 3 * math.sqrt(3) * 480 == pytest.approx(abs(each.power), rel=0.1)
        assert (each.harmonics, each.circulating) == ((), 0.0)
    # 10 kW between L1 and neutral come home by the neutral of the one that has it: 36 A.
    assert one.neutral + two.neutral == pytest.approx(10e3 / 277, rel=0.1)
    both = supplies(site, solution, {3: solution, 9: solution})[0]
    assert [order for order, _ in both.harmonics] == [3, 9]
    assert both.circulating == pytest.approx(math.sqrt(2) * both.neutral)
    beside = network(BEHIND, "beside", loads=True)
    kept = {each.name: each for each in supplies(beside, normal_use(beside).solution, {})}
    assert kept["utility"].rated is None
    gen = beside.plan.site.generators["gen"]
    assert kept["gen"].rated == pytest.approx(gen.rating / math.sqrt(3) / 208)
    standby = network(closed(), "on generator", loads=True)
    assert [each.name for each in supplies(standby, normal_use(standby).solution, {})] == ["gen"]
    alone = network(BEHIND, "alone", loads=True)
    assert [each.name for each in supplies(alone, normal_use(alone).solution, {})] == ["utility"]


def test_with_a_voltage_set_it_shares_power_only() -> None:
    site = network(generators(two=", voltage: 490 V"), loads=True)
    solution = normal_use(site).solution
    given_ = {n: power(solution, n, g.system) for n, g in site.plan.site.generators.items()}
    total = sum(given_.values())
    assert given_["two"].real == pytest.approx(total.real * 150 / 400, rel=1e-6)
    assert given_["two"].imag > total.imag * 150 / 400 * 1.1


# --- faults fed by all -------------------------------------------------------------------------


def test_a_three_line_fault_is_fed_by_both() -> None:
    """E over both positive sequences in parallel (symmetrical components)."""
    site = network(generators())
    z = beside(reactances(site, "one")[1], reactances(site, "two")[1])
    fault = Fault("bus", FaultKind.THREE_LINES, "L1", "L2", also="L3")
    assert study_fault(site, fault).current == pytest.approx(277.128 / abs(z), rel=0.01)


@pytest.mark.parametrize("grounding", ["both neutrals on the bus", "one", "each by itself"])
def test_a_line_to_neutral_fault_by_symmetrical_components(grounding: str) -> None:
    """3 E / (Z1 + Z2 + Z0): every sequence of both machines in parallel that has a way home."""
    more = {
        "both neutrals on the bus": generators(),
        "one": generators(neutral=", neutral: none"),
        "each by itself": generators(
            neutral=", neutral: none, egc: 500 kcmil Cu",
            bond="  bond two: {at: two, by: strap}\n",
        ),
    }[grounding]
    site = network(more)
    (a0, a1, a2), (b0, b1, b2) = reactances(site, "one"), reactances(site, "two")
    z0 = a0 if grounding == "one" else beside(a0, b0)
    terminal = "G" if grounding == "each by itself" else "N"
    join = site.solver.join("bus:L1", f"bus:{terminal}")
    drawn = abs(site.solver.solve([join]).change_current(0))
    by_hand = abs(3 * 277.128 / (beside(a1, b1) + beside(a2, b2) + z0))
    assert drawn == pytest.approx(by_hand, rel=0.02)


def test_both_breakers_have_to_open() -> None:
    site = network(closed(), "changing over")
    found = study_fault(site, Fault("panel", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert {opening.device for opening in found.openings} == {
        "device normal feeder", "device gen feeder",
    }  # fmt: skip
    alone = study_fault(network(closed(), "normal"), found.fault)
    assert found.current > alone.current


def test_a_fault_at_a_generator_is_left_to_its_own_protection() -> None:
    """The bus lets go of it; the machine itself feeds on, and nobody here can tell for how long."""
    site = network(generators())
    found = study_fault(site, Fault("two", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert [opening.device for opening in found.openings] == ["device feeder two"]
    assert (found.ahead, found.utility, str(found.verdict)) == (("two",), False, "cannot tell")


# --- what circulates ---------------------------------------------------------------------------


def test_third_harmonic_between_two_neutrals_by_hand() -> None:
    """(Ea - Eb) / (Z0a + Z0b) at three times the frequency, three times that in the neutral."""
    site = network(generators(", harmonics: {3: 1 %}", ", harmonics: {3: 4 %}"), loads=True)
    (zero, _, _), (other, _, _) = reactances(site, "one"), reactances(site, "two")
    z = complex(zero.real + other.real, 3 * (zero.imag + other.imag))
    use = study_stray(site)
    neutral = {s.name: dict(s.harmonics)[3] for s in use.supplies}
    by_hand = 3 * 0.03 * 277.128 / abs(z)
    # The load, and the angle by which the machines lie apart, take and give some percent.
    assert neutral["one"] == pytest.approx(by_hand, rel=0.05)
    assert neutral["two"] == pytest.approx(by_hand, rel=0.05)


def test_machines_of_one_pitch_drive_nothing_round() -> None:
    alike = ", harmonics: {3: 4 %}, voltage: 480 V"
    site = network(generators(alike, alike).replace("150 kVA", "250 kVA").replace(
        "15 %, negative: 18 %, zero: 5 %", "12 %, negative: 14 %, zero: 4 %"
    ), loads=True)  # fmt: skip
    apart = network(generators(alike, ", harmonics: {3: 0.1 %}, voltage: 480 V"), loads=True)
    neutral = [{s.name: s.circulating for s in study_stray(x).supplies} for x in (site, apart)]
    assert neutral[0]["one"] < 0.15 * neutral[1]["one"]


def test_with_one_neutral_only_nothing_triplen_goes_round() -> None:
    two = ", harmonics: {3: 4 %}"
    site = network(generators(two=two, neutral=", neutral: none"), loads=True)
    assert max(s.circulating for s in study_stray(site).supplies) < 1e-3


def test_with_both_grounded_it_goes_round_by_the_metal() -> None:
    two = ", harmonics: {3: 4 %}"
    bond = "  bond two: {at: two, by: strap}\n"
    site = network(generators(two=two, neutral=", neutral: none", bond=bond), loads=True)
    use = study_stray(site)
    (metal,) = (c for c in use.currents if c.flow.id == "feeder two")
    assert dict(metal.harmonics)[3] > 50
    assert dict(next(s for s in use.supplies if s.name == "two").harmonics)[3] == pytest.approx(
        dict(metal.harmonics)[3], rel=1e-6
    )


def test_a_positive_sequence_harmonic_does_not_add_in_the_neutral() -> None:
    """The seventh turns as the fundamental does: it is balanced among three lines."""
    site = network(generators(two=", harmonics: {7: 4 %}"), loads=True)
    at = harmonics(site)
    solution = at.solve(normal_use(site).solution)[7]
    system = site.plan.site.generators["two"].system
    amps = line_currents(solution, "two", system)
    assert abs(amps.sum()) < 0.1 * np.max(np.abs(amps))


# --- ngspice -----------------------------------------------------------------------------------

STATES = {
    "two generators": (generators(", harmonics: {3: 1 %}", ", harmonics: {3: 4 %}"), None),
    "one neutral": (generators(neutral=", neutral: none"), None),
    "both grounded": (generators(bond="  bond two: {at: two, by: strap}\n"), None),
    "own voltage": (generators(two=", voltage: 490 V"), None),
    "closed transition": (closed(more=", output: 50 kW, harmonics: {3: 3 %}"), "changing over"),
    "neutral switched": (closed("switched"), "changing over"),
    "behind a delta-wye": (BEHIND, "beside"),
}


def assert_agrees(
    ngspice: Path, folder: Path, site: Network, changes: list[object],
    drawn: list[Injection] | None = None, *, dead: bool = False,
) -> None:  # fmt: skip
    """Compare every node with ngspice's, to 1e-6 of the largest voltage."""
    drawn = drawn or []
    solution = site.solver.solve(changes, drawn, dead=dead)  # type: ignore[arg-type]
    text = netlist(site.circuit, "parallel", changes, drawn, dead=dead)  # type: ignore[arg-type]
    theirs = node_voltages(ngspice, text, folder)
    nodes = {n: k for n, k in node_numbers(site.circuit).items() if k in theirs}
    assert len(nodes) >= 10
    same_circuit(theirs, solution.voltage, nodes, AGREE)


@pytest.mark.parametrize("name", STATES)
@outside("ngspice, sources in parallel", "computed", unit="V")
def test_ngspice_agrees_whole_and_faulted(ngspice: Path, tmp_path: Path, name: str) -> None:
    text, state = STATES[name]
    quiet = network(text, state)
    place = "bus" if "bus" in quiet.terminals else "panel"
    solver = quiet.solver
    assert_agrees(ngspice, tmp_path, quiet, [])
    for a, b in (("L1", "G"), ("L1", "L2"), ("L1", "N")):
        assert_agrees(ngspice, tmp_path, quiet, [solver.join(f"{place}:{a}", f"{place}:{b}")])
    device = next(iter(quiet.devices.values()))
    opened = [solver.open_switch(pole.switch) for pole in device.poles]
    assert_agrees(ngspice, tmp_path, quiet, [solver.join(f"{place}:L1", f"{place}:G"), *opened])
    loaded = network(text, state, loads=True)
    assert_agrees(ngspice, tmp_path, loaded, [])
    at = harmonics(loaded)
    fundamental = normal_use(loaded).solution
    for order, solution in at.solve(fundamental).items():
        there = at.networks[order]
        assert_agrees(ngspice, tmp_path, there, [], list(solution.injections), dead=True)


# --- what must always hold ---------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    st.floats(20, 2000), st.floats(20, 2000), st.floats(0.05, 0.3), st.floats(0.05, 0.3),
    st.floats(0.01, 0.15), st.floats(0.01, 0.15),
)  # fmt: skip
def test_more_sources_never_give_less(
    kva: float, other: float, x: float, y: float, zero: float, more: float
) -> None:
    """A fault fed by two is at least what the stronger one gives alone (reactances add up)."""
    text = generators().replace("250 kVA", f"{kva:.1f} kVA").replace("150 kVA", f"{other:.1f} kVA")
    text = text.replace("12 %, negative: 14 %, zero: 4 %", f"{x:.4f} pu, zero: {zero:.4f} pu")
    text = text.replace("15 %, negative: 18 %, zero: 5 %", f"{y:.4f} pu, zero: {more:.4f} pu")
    text += "states:\n  both: {on: [one, two]}\n  one: {on: [one]}\n  two: {on: [two]}\n"
    fault = Fault("bus", FaultKind.LINE_TO_LINE, "L1", "L2")
    both, one, two = (
        study_fault(network(text, state), fault).current for state in ("both", "one", "two")
    )
    assert both >= max(one, two) * (1 - 1e-6)
    assert both <= (one + two) * (1 + 1e-5)


# --- what can't be described -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (generators().replace("150 kVA", "150 kVA").replace(
            "two: {system: 480Y/277 V", "two: {system: 208Y/120 V"), "does not match"),
        (generators().replace("two: {system: 480Y/277 V", "two: {system: 480 V delta"),
         "not of the kind"),
        (generators() + "  extra: {at: two, by: strap}\n", ""),
        (closed().replace("system: 480Y/277 V, rating", "system: 480 V delta, rating"),
         "two kinds"),
    ],
)  # fmt: skip
def test_sources_that_do_not_go_together_are_refused(text: str, said: str) -> None:
    if not said:
        assert read(text)
        return
    with pytest.raises(SiteError, match=said):
        read(text)


# --- what is found -----------------------------------------------------------------------------


def rules_found(text: str) -> dict[str, list[str]]:
    """Return where each finding of a site is, by its rule and severity."""
    found: dict[str, list[str]] = {}
    for finding in study(plan(read(text))).findings:
        found.setdefault(f"{finding.rule} {finding.severity}", []).append(finding.where)
    return found


def test_a_source_that_feeds_a_utility_which_is_off_is_a_danger() -> None:
    bad = closed() + "  island: {on: [gen], transfers: {switch: both}}\n"
    good = closed() + "  island: {on: [gen], transfers: {switch: both}, open: [main]}\n"
    assert rules_found(bad)["source-feeds-utility danger"] == ["utility"]
    assert "source-feeds-utility danger" not in rules_found(good)


def test_two_joins_while_changing_over_are_told_and_none_is_taken_out() -> None:
    """Each join is the only one when its source supplies alone."""
    found = study(plan(read(closed("switched")))).findings
    (told,) = (f for f in found if f.rule == "state-tie-twice")
    assert str(told.severity) == "note"
    assert "Take neither join out" in told.cure
    assert not [f for f in study(plan(read(closed()))).findings if f.rule == "state-tie-twice"]


def test_a_second_grounded_generator_is_a_tie_too_many() -> None:
    bond = "  bond two: {at: two, by: strap}\n"
    found = study(plan(read(generators(bond=bond)))).findings
    assert any(f.where == "bond two" and str(f.severity) == "falls short" for f in found)
    moved = generators().replace("bond one: {at: one", "bond two: {at: two")
    assert not any(str(f.severity) == "falls short" for f in study(plan(read(moved))).findings)


def test_what_circulates_is_a_finding() -> None:
    found = rules_found(generators(", harmonics: {3: 1 %}", ", harmonics: {3: 4 %}"))
    assert found["sources-circulate note"] == ["one", "two"]


def test_three_generators_share_by_their_ratings() -> None:
    """250, 150 and 100 kVA: a half, three tenths and a fifth of the power."""
    text = generators().replace(
        "places:",
        "  three: {system: 480Y/277 V, rating: 100 kVA, subtransient: 14 %, negative: 16 %, "
        "zero: 5 %}\nplaces:",
    )
    text = text.replace(
        "ties:",
        "  feeder three: {from: bus, to: three, device: 150 A breaker, length: 1 ft, "
        "lines: 500 kcmil Cu}\nties:",
    )
    site = network(text, loads=True)
    solution = normal_use(site).solution
    given_ = {n: power(solution, n, g.system) for n, g in site.plan.site.generators.items()}
    total = sum(given_.values())
    assert total.real > 100e3
    for name, part in (("one", 0.5), ("two", 0.3), ("three", 0.2)):
        assert given_[name] == pytest.approx(part * total, rel=1e-6)
