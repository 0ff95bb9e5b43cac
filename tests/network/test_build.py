"""From plan to circuit: nothing is left out, and sources, transformers and loads are what their
nameplates say."""

from __future__ import annotations

import math
from typing import Any

import pytest

from bondwright.catalog.raceways import RacewayDimensions
from bondwright.network.build import Network
from bondwright.plan.model import PlannedRun
from bondwright.studies.flows import Carrier, flows
from tests.catalog.reference import rows
from tests.outside import between, outside, published
from tests.plan.sites import Described, described
from tests.studies.sites import (
    DERIVED,
    PIPE_BESIDE,
    SINGLE_PHASE_UNIT,
    SUBPANEL,
    WHOLE_SITES,
    WYE_SERVICE,
    example,
    network,
)

# --- completeness ------------------------------------------------------------------------------


def expected_conductors(run: PlannedRun) -> int:
    """Count the conductors of a run from its description alone."""
    count = len(run.on) * run.lines.sets
    count += run.neutral.sets if run.neutral is not None else 0
    count += run.metal.sets if run.metal is not None else 0
    metal_raceway = isinstance(run.raceway, RacewayDimensions) and run.raceway.kind.is_metal
    return count + (run.lines.sets if metal_raceway and run.raceway_bonded else 0)


def all_sites() -> list[Any]:
    """Return every whole site and the example, for parametrizing."""
    made = [pytest.param(lambda b=base: network(b, loads=True), id=name)
            for name, base in WHOLE_SITES.items()]  # fmt: skip
    return [*made, pytest.param(lambda: example(loads=True), id="example")]


@pytest.mark.parametrize("make", all_sites())
def test_every_conductor_is_a_branch(make: Any) -> None:
    """Each conductor of each run, tie, electrode and metal has a current of its own."""
    site: Network = make()
    plan = site.plan
    told = flows(site, site.solver.solve())
    for run in plan.runs.values():
        here = [f for f in told if f.carrier is Carrier.RUN and f.id == run.id]
        assert len(here) == expected_conductors(run)
        assert len({f.conductor for f in here}) == len(here)
        for terminal in run.on:
            assert sum(f.terminal == terminal for f in here) == run.lines.sets
    of = {carrier: {f.id for f in told if f.carrier is carrier} for carrier in Carrier}
    assert of[Carrier.TIE] == {tie.id for tie in plan.ties}
    assert of[Carrier.METAL] == set(plan.site.metal)
    joined = {e.id for e in plan.electrodes.values() if e.conductor is not None}
    assert of[Carrier.ELECTRODE] == joined
    sections = set(site.solver.section_index)
    loads = sum(len(place.loads) for place in plan.site.places.values())
    assert len({s.rpartition(" ")[0] for s in sections if s.startswith("load ")}) == loads


@pytest.mark.parametrize("make", all_sites())
def test_every_device_opens_every_line_it_protects(make: Any) -> None:
    site: Network = make()
    plan = site.plan
    described_here = {f"device {n}" for n, run in plan.site.runs.items() if run.device is not None}
    described_here |= {f"main {n}" for n, p in plan.site.places.items() if p.main is not None}
    assert set(site.devices) == described_here
    for name, device in site.devices.items():
        word, _, about = name.partition(" ")
        run = about if word == "device" else plan.topology.fed_by[about]
        assert tuple(pole.line for pole in device.poles) == plan.runs[run].on
        for pole in device.poles:
            solution = site.solver.solve([site.solver.open_switch(pole.switch)])
            assert abs(solution.switch_current(pole.switch)) < 1e-9


@pytest.mark.parametrize("make", all_sites())
def test_residuals_of_whole_sites(make: Any) -> None:
    """Kirchhoff's current law and Tellegen's theorem, with a line-to-metal fault."""
    site: Network = make()
    place = list(site.terminals)[-1]
    fault = site.solver.join(f"{place}:L1", f"{place}:G")
    residuals = site.solver.solve([fault]).residuals
    assert residuals.kirchhoff < 1e-9
    assert residuals.power < 1e-9


def test_no_loads_means_no_current() -> None:
    for flow in flows(example(), example().solver.solve()):
        assert flow.amperes < 0.01


def test_metal_drawn_from_the_far_end_is_the_same_metal() -> None:
    """A pipe described from either end carries the same current, told the way of the run."""
    turned = described(
        PIPE_BESIDE, metal__pipe={**PIPE_BESIDE["metal"]["pipe"], "from": "main", "to": "panel"}
    )
    found = []
    for base in (PIPE_BESIDE, turned):
        site = network(base, loads=True)
        told = flows(site, site.solver.solve([site.solver.join("press:L1", "press:G")]))
        (pipe,) = [f for f in told if f.carrier is Carrier.METAL and f.id == "pipe"]
        assert (pipe.from_, pipe.to) == ("main", "panel")
        found.append(pipe.current)
    assert found[0] == pytest.approx(found[1], rel=1e-9)
    assert abs(found[0]) > 10


# --- sources -----------------------------------------------------------------------------------


def bare(system: str, **source: Any) -> Described:
    """Return a site that is little more than a source."""
    return {
        "site": "source",
        "sources": {"utility": {"system": system, **source}},
        "places": {"main": {"kind": "service", "main": "100 A"}},
        "runs": {"run": {"from": "utility", "to": "main", "length": "1 ft", "lines": "6 AWG Cu"}},
    }


def three_phase_fault(site: Network, place: str) -> float:
    """Return the current in a bolted fault across all three lines, A."""
    solver = site.solver
    one = solver.join(f"{place}:L1", f"{place}:L2")
    other = solver.join(f"{place}:L2", f"{place}:L3")
    return abs(solver.solve([one, other]).change_current(0))


def bolted(site: Network, a: str, b: str) -> float:
    """Return the current of a bolted fault between two nodes, A."""
    return abs(site.solver.solve([site.solver.join(a, b)]).change_current(0))


@outside("nameplate arithmetic by hand", "computed", unit="A")
def test_nameplate_arithmetic_of_a_single_phase_transformer() -> None:
    """25 kVA, 2.1 %, 240 V: 25000 / 240 / 0.021 = 4960 A line to line (hand calculation)."""
    site = network(bare("120/240 V", transformer={"rating": "25 kVA", "impedance": "2.1 %"}))
    assert bolted(site, "utility:L1", "utility:L2") == published(4960, rel=1e-3)
    # Line to neutral at the terminals: about 1.5 times that (point-to-point method, memory).
    ratio = bolted(site, "utility:L1", "utility:N") / bolted(site, "utility:L1", "utility:L2")
    assert ratio == between(
        1.33, 1.67, status="memory", source="point-to-point method, half windings", unit=""
    )


WYE = {208: "208Y/120 V", 480: "480Y/277 V", 600: "600Y/347 V"}
TABLE = rows("transformer_short_circuit.csv")
WORKED = rows("point_to_point.csv")


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['kva']} kVA {row['volts']} V")
@outside("handbook table of transformer short circuits", "memory", unit="A")
def test_published_short_circuit_currents(row: dict[str, str]) -> None:
    """Three-phase currents of a handbook table that takes 0.9 times the printed impedance."""
    volts = int(row["volts"])
    nameplate = {
        "rating": f"{row['kva']} kVA",
        "impedance": f"{0.9 * float(row['percent_z']):.6g} %",
    }
    printed = float(row["short_circuit_a"])
    utility = network(bare(WYE[volts], transformer=nameplate))
    assert three_phase_fault(utility, "utility") == published(printed, rel=2e-3)
    # A bolted line-to-ground fault at a transformer of equal sequence impedances is the same.
    assert bolted(utility, "utility:L1", "utility:N") == published(printed, rel=2e-3)
    # Line to line it is sqrt(3)/2 of it (symmetrical components).
    assert bolted(utility, "utility:L1", "utility:L2") == published(
        printed * math.sqrt(3) / 2, rel=2e-3, status="computed"
    )


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['kva']} kVA {row['volts']} V")
@outside("handbook table of transformer short circuits", "memory", unit="A")
def test_the_same_transformers_on_site_behind_a_strong_supply(row: dict[str, str]) -> None:
    """The delta-wye windings give the table's current when the primary doesn't sag."""
    unit = {
        "primary": "480 V delta",
        "secondary": WYE[int(row["volts"])],
        "rating": f"{row['kva']} kVA",
        "impedance": f"{0.9 * float(row['percent_z']):.6g} %",
    }
    site = network(
        DERIVED,
        sources__utility__available={"current": "500000 kA"},
        transformers={"T1": unit},
        runs__service__length="0.0001 ft",
        runs__primary__length="0.0001 ft",
        runs__primary__lines="2000 kcmil Cu",
    )
    printed = float(row["short_circuit_a"])
    assert three_phase_fault(site, "T1") == published(printed, rel=3e-3)
    assert bolted(site, "T1:L1", "T1:N") == published(printed, rel=3e-3)


def test_a_delta_secondary_has_its_nameplate_current() -> None:
    """45 kVA, 5 %, 240 V: 45000 / (sqrt(3) 240 0.05) = 2165 A three-phase, sqrt(3)/2 of it line
    to line (hand calculation)."""
    site = network(
        DERIVED,
        sources__utility__available={"current": "500000 kA"},
        transformers__T1={
            "primary": "480 V delta",
            "secondary": "240 V delta",
            "rating": "45 kVA",
            "impedance": "5 %",
        },
        runs__service__length="0.0001 ft",
        runs__primary__length="0.0001 ft",
        places__LP={"kind": "panel", "main": "125 A"},
        places__saw={"kind": "equipment"},
    )
    assert three_phase_fault(site, "T1") == pytest.approx(2165, rel=2e-3)
    assert bolted(site, "T1:L2", "T1:L3") == pytest.approx(2165 * math.sqrt(3) / 2, rel=2e-3)


@pytest.mark.parametrize("row", WORKED, ids=lambda row: f"{row['kva']} kVA {row['volts']} V")
@outside("worked examples of the point-to-point method", "one-source", unit="A")
def test_worked_examples_of_the_point_to_point_method(row: dict[str, str]) -> None:
    """At the terminals exactly; at the end of the run as far as the method allows.

    The published end values add magnitudes and use impedances that aren't those of NEC Table 9;
    ours may differ by the spread of the two, up to 15 %.
    """
    volts = int(row["volts"])
    steel = row["raceway"] == "steel"
    nameplate = {"rating": f"{row['kva']} kVA", "impedance": f"{row['percent_z_used']} %"}
    run = {
        "from": "utility",
        "to": "main",
        "length": f"{row['run_ft']} ft",
        "lines": f"{row['sets']} x {row['conductor']}",
        "raceway": {"kind": "rmc" if steel else "pvc", "size": "4 in"},
    }
    site = network(
        bare(WYE[volts], transformer={**nameplate, "x/r": 5}), runs__run=run, places__main__main=...
    )
    terminals = float(row["terminal_a"])
    assert three_phase_fault(site, "utility") == published(terminals, rel=1e-3)
    end = three_phase_fault(site, "main")
    assert end == published(float(row["run_end_a"]), rel=0.15)
    assert end < terminals


def test_available_current_is_what_a_fault_draws() -> None:
    """The utility's letter: 20 kA three-phase, 15 kA line to neutral."""
    letter = {"current": "20 kA", "x/r": 5, "line to neutral": "15 kA"}
    site = network(bare("480Y/277 V", available=letter))
    assert three_phase_fault(site, "utility") == pytest.approx(20_000, rel=1e-6)
    assert bolted(site, "utility:L2", "utility:N") == pytest.approx(15_000, rel=1e-6)
    letter = {"current": "8 kA", "line to neutral": "11 kA"}
    site = network(bare("120/240 V", available=letter))
    assert bolted(site, "utility:L1", "utility:L2") == pytest.approx(8_000, rel=1e-6)
    assert bolted(site, "utility:L2", "utility:N") == pytest.approx(11_000, rel=1e-6)
    site = network(bare("480 V delta", available={"current": "5 kA"}))
    assert three_phase_fault(site, "utility") == pytest.approx(5_000, rel=1e-6)
    site = network(bare("120 V", available={"current": "5 kA"}))
    assert bolted(site, "utility:L1", "utility:N") == pytest.approx(5_000, rel=1e-6)


def test_an_ungrounded_source_floats() -> None:
    """A first line-to-metal fault on an ungrounded system draws charging current only."""
    site = network(WHOLE_SITES["delta source"])
    assert bolted(site, "motor:L1", "motor:G") < 0.01


# --- transformers ------------------------------------------------------------------------------

CONNECTIONS = [
    ("480Y/277 V", "480 V delta", "208Y/120 V", {"L1-L2": 208, "L1-N": 120, "L3-N": 120}),
    ("480Y/277 V", "480Y/277 V", "208Y/120 V", {"L1-L2": 208, "L2-N": 120}),
    ("480Y/277 V", "480Y/277 V", "240 V delta", {"L1-L2": 240, "L2-L3": 240, "L3-L1": 240}),
    ("208Y/120 V", "208 V delta", "480 V delta", {"L1-L2": 480, "L2-L3": 480}),
    ("480Y/277 V", "480 V", "120/240 V", {"L1-L2": 240, "L1-N": 120, "L2-N": 120}),
    ("480Y/277 V", "277 V", "120 V", {"L1-N": 120}),
    ("120/240 V", "240 V", "120/240 V", {"L1-L2": 240, "L2-N": 120}),
    ("120/240 V", "120/240 V", "120 V", {"L1-N": 120}),
]


@pytest.mark.parametrize(("supply", "primary", "secondary", "volts"), CONNECTIONS)
def test_turns_ratios(supply: str, primary: str, secondary: str, volts: dict[str, float]) -> None:
    """Without load the secondary stands at its nameplate voltages (definition of the ratio)."""
    three = "Y" in secondary or "delta" in secondary
    run = {
        "from": "main",
        "to": "T",
        "length": "10 ft",
        "lines": "2 AWG Cu",
        "device": "100 A",
        **({} if three else {"on": ["L1"] if primary == "277 V" else ["L1", "L2"]}),
    }
    site = network(
        bare(supply, available={"current": "20 kA"}),
        transformers={
            "T": {
                "primary": primary,
                "secondary": secondary,
                "rating": "30 kVA",
                "impedance": "3 %",
            }
        },
        runs__primary=run,
        places__load={"kind": "panel", "main": "60 A"},
        runs__out={"from": "T", "to": "load", "length": "10 ft", "lines": "4 AWG Cu"},
    )
    solution = site.solver.solve()
    for pair, expected in volts.items():
        a, b = pair.split("-")
        got = abs(solution.between(f"load:{a}", f"load:{b}"))
        assert got == pytest.approx(expected, rel=2e-3), pair


@pytest.mark.parametrize("given", [{}, {"neutral": "6 AWG Cu"}], ids=["lines", "neutral too"])
def test_a_conductor_that_no_winding_takes_shorts_nothing(given: dict[str, str]) -> None:
    """A third line or a neutral run to a single-phase primary ends by itself: no current."""
    site = network(SINGLE_PHASE_UNIT, runs__primary={
        "from": "main", "to": "TX", "length": "20 ft", "lines": "6 AWG Cu", "device": "60 A",
        **given,
    })  # fmt: skip
    solution = site.solver.solve()
    for name in ("L1", "L2", "L3"):
        assert abs(solution.conductor_current("run primary", name)) < 0.01
    assert abs(solution.between("house:L1", "house:L2")) == pytest.approx(240, rel=2e-3)


@outside("symmetrical components, textbook", "computed", unit="A")
def test_a_secondary_line_to_neutral_fault_is_line_to_line_on_a_delta_primary() -> None:
    """Delta-wye: 1/sqrt(3) of the per-unit current in two primary lines, none in the third
    (textbook: symmetrical components through a delta-wye transformer)."""
    site = network(DERIVED)
    solution = site.solver.solve([site.solver.join("T1:L1", "T1:N")])
    secondary = abs(solution.change_current(0))
    primary = [abs(solution.conductor_current("run primary", line)) for line in ("L1", "L2", "L3")]
    assert sorted(primary)[0] < 1e-3 * secondary
    expected = secondary * (208 / math.sqrt(3)) / 480
    assert sorted(primary)[1:] == published([expected] * 2, rel=2e-3)


def test_a_half_winding_load_is_drawn_from_both_primary_lines() -> None:
    """Ampere-turn balance: 50 A at 120 V is 12.5 A at 480 V."""
    site = network(SINGLE_PHASE_UNIT, loads=False)
    load = site.solver.join("house:L1", "house:N", 2.4)
    solution = site.solver.solve([load])
    half = abs(solution.change_current(0))
    for line in ("L1", "L2"):
        got = abs(solution.conductor_current("run primary", line))
        assert got == pytest.approx(half * 120 / 480, rel=1e-3)


# --- loads -------------------------------------------------------------------------------------

LOADS = [
    ("120/240 V", "L1-N", "6 kW", 1.0),
    ("120/240 V", "L2-N", "6 kW", 0.7),
    ("120/240 V", "L1-L2", "9 kW", 0.85),
    ("208Y/120 V", "L3-N", "2 kW", 0.9),
    ("208Y/120 V", "L3-L1", "5 kW", 0.9),
    ("208Y/120 V", "L1-L2-L3", "12 kW", 0.8),
    ("480 V delta", "L1-L2-L3", "30 kW", 0.85),
    ("480 V delta", "L2-L3", "10 kW", 1.0),
    ("120 V", "L1-N", "1 kW", 1.0),
]


@pytest.mark.parametrize(("system", "on", "power", "pf"), LOADS)
def test_loads_draw_their_power_at_nominal_voltage(
    system: str, on: str, power: str, pf: float
) -> None:
    """P and Q from the source's own voltages and currents: P as named, Q = P tan(acos pf)."""
    site = network(
        bare(system, available={"current": "5000 kA"}),
        loads=True,
        places__main__loads=[{"on": on, "power": power, "pf": pf}],
    )
    solution = site.solver.solve()
    given = sum(
        source.emf * solution.source_current(source.id).conjugate()
        for source in site.circuit.sources
    )
    watts = float(power.removesuffix(" kW")) * 1000
    assert given.real == pytest.approx(watts, rel=0.01)
    assert given.imag == pytest.approx(watts * math.tan(math.acos(pf)), rel=0.01, abs=0.01 * watts)


# --- how current divides -----------------------------------------------------------------------


@outside("training rig, published reading", "one-source", unit="A")
def test_equal_neutral_and_ground_share_evenly() -> None:
    """A training rig's published reading: the screw in, half of the current on each."""
    site = network(SUBPANEL, loads=True)
    solution = site.solver.solve()
    neutral = abs(solution.conductor_current("run feeder", "N"))
    ground = abs(solution.conductor_current("run feeder", "metal"))
    line = abs(solution.conductor_current("run feeder", "L1"))
    assert neutral == published(line / 2, rel=0.03)
    assert ground == published(line / 2, rel=0.03)
    assert line == pytest.approx(10, rel=0.02)


@outside("NEC chapter 9, table 8, current divider", "computed")
def test_unequal_neutral_and_ground_share_by_resistance() -> None:
    """10 AWG beside 6 AWG: 0.491 / (0.491 + 1.24) = 28.4 % (NEC Chapter 9 Table 8)."""
    site = network(SUBPANEL, loads=True, runs__feeder__egc="10 AWG Cu")
    solution = site.solver.solve()
    share = abs(
        solution.conductor_current("run feeder", "metal")
        / solution.conductor_current("run feeder", "L1")
    )
    assert share == published(0.491 / (0.491 + 1.24), rel=0.03)


def test_parallel_sets_share_evenly() -> None:
    """Symmetry: the outer two of three equal sets carry the same, and all add up."""
    site = network(WHOLE_SITES["parallel sets in steel"], loads=True)
    told = flows(site, site.solver.solve())
    sets = [f.current for f in told if f.id == "service" and f.terminal == "L1"]
    assert len(sets) == 3
    assert abs(sets[0]) == pytest.approx(abs(sets[2]), rel=1e-6)
    total = abs(site.solver.solve().switch_current("main main L1"))
    assert abs(sum(sets)) == pytest.approx(total, rel=1e-9)


def test_a_steel_raceway_takes_most_of_the_fault_current_of_the_wire_inside() -> None:
    """Common practice and bench measurements: the return keeps close to the line inside it."""
    both = network(WYE_SERVICE, runs__feeder__raceway={"kind": "emt", "size": "1-1/4 in"})
    solution = both.solver.solve([both.solver.join("panel:L1", "panel:G")])
    raceway = abs(solution.conductor_current("run feeder", "raceway"))
    wire = abs(solution.conductor_current("run feeder", "metal"))
    assert raceway > wire > 0
