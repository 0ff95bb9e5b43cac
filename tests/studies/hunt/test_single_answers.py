"""Parts of the hunt by themselves: what a reading tells, contradictions, tables, ports."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from bondwright.network.build import Network, build
from bondwright.network.circuit import EARTH
from bondwright.studies.hunt.candidates import bare
from bondwright.studies.hunt.causes import _alone
from bondwright.studies.hunt.consistency import Sort, closure, contradictions
from bondwright.studies.hunt.information import information
from bondwright.studies.hunt.instruments import Instrument, Quantity, instruments
from bondwright.studies.hunt.likelihood import OVER_SPREAD, folded, log_density
from bondwright.studies.hunt.looked_at import DOUBT, FEWEST, LEAST, _middle, looked_at, rivals
from bondwright.studies.hunt.noticed import MISTAKEN, Priors
from bondwright.studies.hunt.nuisance import KnownLoad, Unknowns
from bondwright.studies.hunt.ports import Ports, across, is_there, through, within
from bondwright.studies.hunt.settings import settings
from bondwright.studies.hunt.table import COLUMNS, NEEDED, Problems, Row, csv_rows, yaml_rows
from tests.plan.sites import planned
from tests.studies.hunt.hunting import hall, table
from tests.studies.hunt.hunting import planned as of
from tests.studies.sites import BENCH

SITE = of(hall(2))


# --- what a reading tells --------------------------------------------------------------------


WIDE = (-6.0, 0.0, 6.0)


def told(
    ids: list[str],
    chance: list[float],
    mean: list[float],
    sigma: float,
    spread: tuple[float, ...] = WIDE,
) -> float:
    """Return the bits one candidate tells; classes that end far from every mean lose nothing."""
    column = np.array(mean)[:, None]
    (found,) = information(ids, np.array(chance), column, np.full_like(column, sigma), spread)
    return float(found)


def test_two_causes_far_apart_are_one_bit() -> None:
    assert told(["a", "b"], [0.5, 0.5], [0.0, 100.0], 1.0) == pytest.approx(1.0, abs=1e-6)
    # four are two bits; unlike chances have the entropy of the chances (Shannon)
    four = told(list("abcd"), [0.25] * 4, [0.0, 100.0, 200.0, 300.0], 1.0)
    assert four == pytest.approx(2.0, abs=1e-6)
    entropy = -(0.9 * math.log2(0.9) + 0.1 * math.log2(0.1))
    assert told(["a", "b"], [0.9, 0.1], [0.0, 100.0], 1.0) == pytest.approx(entropy, abs=1e-6)
    # the usual classes end 1.2 sigmas from the means: 11.5 % of each lies in one they share
    usual = information(
        ["a", "b"], np.array([0.5, 0.5]), np.array([[0.0], [100.0]]), np.ones((2, 1))
    )
    assert usual[0] == pytest.approx(1 - 0.1151, abs=1e-4)


def test_what_all_expect_alike_tells_nothing() -> None:
    assert told(["a", "b"], [0.5, 0.5], [3.0, 3.0], 1.0) == pytest.approx(0.0, abs=1e-9)
    # variants of one cause are one cause, however far apart
    assert told(["a", "a"], [0.5, 0.5], [0.0, 100.0], 1.0) == pytest.approx(0.0, abs=1e-9)


def test_two_that_overlap_by_integration() -> None:
    """Normal densities two sigmas apart: I = H(mix) - H(normal), by Simpson's rule (0.4861 bit,
    the capacity of a binary input at that distance). Classes lose little and never add."""
    x = np.linspace(-8, 10, 20001)
    one, two = (np.exp(-((x - m) ** 2) / 2) / math.sqrt(2 * math.pi) for m in (0.0, 2.0))
    mix = (one + two) / 2
    exact = np.trapezoid(one * np.log2(one / mix) + two * np.log2(two / mix), x) / 2
    assert exact == pytest.approx(0.486, abs=1e-3)
    found = told(["a", "b"], [0.5, 0.5], [0.0, 2.0], 1.0, (-1.2, 0.0, 1.2))
    assert 0.8 * exact < found <= exact
    finer = information(
        ["a", "b"],
        np.array([0.5, 0.5]),
        np.array([[0.0], [2.0]]),
        np.ones((2, 1)),
        np.linspace(-3, 3, 40).tolist(),
        80,
    )
    assert finer[0] == pytest.approx(exact, rel=0.02)
    assert found <= finer[0] <= exact


def test_every_candidate_is_told_apart() -> None:
    mean = np.array([[0.0, 0.0, 0.0], [100.0, 1.0, 0.0]])
    found = information(["a", "b"], np.array([0.5, 0.5]), mean, np.ones((2, 3)))
    assert found.shape == (3,)
    assert found[0] > found[1] > found[2] == pytest.approx(0.0, abs=1e-9)


# --- data ------------------------------------------------------------------------------------


def test_the_data_of_the_hunt_is_in_its_ranges() -> None:
    found = settings()
    assert set(found.ohms) <= set(found.weights)
    assert set(found.volts) <= set(found.weights)
    for low, high in (*found.ohms.values(), *found.volts.values()):
        assert 0 < low < high
    assert all(weight > 0 for weight in found.weights.values())
    assert 0 < found.stands_out < 1
    known = found.nuisance
    for low, high in (known.load, known.electrode, known.joint):
        assert 0 <= low < high
    assert known.electrode[0] < 1 < known.electrode[1]
    for part in (known.conductor, known.steel, known.supply, known.model, known.test_load):
        assert 0 < part < 1
    assert known.steel > known.conductor
    assert 0 < known.load_angle < 90
    assert found.nothing > 0
    assert found.unlisted > 0
    assert 0 < found.second < 1


def test_instruments_are_as_coarse_as_they_are() -> None:
    """Clamps have no resistance across their points, meters have; over range is finite."""
    for name, meter in instruments().items():
        assert meter.name == name
        assert 0 <= meter.relative < 0.3
        assert meter.most > 0
        if Quantity.VOLTAGE in meter.measures:
            assert math.isfinite(meter.input)
    plain = Instrument("x", frozenset(), 0.02, 0.3, math.inf, math.inf, 0.0, "")
    assert plain.uncertainty(-10.0) == plain.uncertainty(10.0) == pytest.approx(0.5 / math.sqrt(3))


# --- contradictions --------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [0.0, 0.7, 2.0, 4.4])
def test_a_point_in_the_plane_is_found(angle: float) -> None:
    """Distances of a point 50 V from the middle of a 480 V triangle (elementary geometry)."""
    p = 50 * complex(math.cos(angle), math.sin(angle))
    r = 480 / math.sqrt(3)
    corners = [r * np.exp(2j * np.pi * k / 3) for k in range(3)]
    d = [float(abs(p - c)) for c in corners]
    found = closure(480.0, (d[0], d[1], d[2]), 1.0)
    assert found.shift == pytest.approx(50.0)
    assert found.residual == pytest.approx(0.0, abs=1e-4)
    # h out of the plane adds h^2 to every square
    out = [math.hypot(x, 30.0) for x in d]
    lifted = closure(480.0, (out[0], out[1], out[2]), 1.0)
    assert lifted.shift == pytest.approx(50.0)
    assert lifted.residual == pytest.approx(30.0)
    # 2 sigma max(d)/sqrt(3) over 2 h
    assert lifted.sigma == pytest.approx(max(*out, 480.0) / math.sqrt(3) / 30.0)
    small = [math.sqrt(x * x - 900) for x in d]
    assert closure(480.0, (small[0], small[1], small[2]), 1.0).residual == pytest.approx(-30.0)


def test_a_repeat_is_a_contradiction_beyond_both_instruments() -> None:
    """3 sigma of both together: own accuracy 0.3 A, so u = 0.3/sqrt(3), 3 sqrt(2) u = 0.735 A."""
    head = "what,where,of,value,accuracy\n"
    from bondwright.studies.hunt.moments import Moment
    from bondwright.studies.hunt.nuisance import network_at
    from bondwright.studies.hunt.readings import read_readings

    network = network_at(SITE, Moment())

    def said(second: float) -> tuple[object, ...]:
        rows = f"current,F1,N,1 A,0 % + 0.3 A\ncurrent,F1,N,{second} A,0 % + 0.3 A\n"
        return contradictions(read_readings(head + rows, network))

    assert said(1.73) == ()
    (found,) = said(1.74)
    assert found.readings == (1, 2)  # type: ignore[attr-defined]
    assert found.shift == 0.0  # type: ignore[attr-defined]
    assert found.sigma == pytest.approx(0.3 * math.sqrt(2 / 3))  # type: ignore[attr-defined]
    assert found.residual == pytest.approx(0.74)  # type: ignore[attr-defined]
    assert "readings 1 and 2 are of the same thing" in found.text  # type: ignore[attr-defined]


def test_a_triangle_that_holds_is_none() -> None:
    rows = "voltage,P1,L1-N,120 V,,\nvoltage,P1,L1-G,119 V,,\nvoltage,P1,N-G,2 V,,\n"
    assert contradictions(table(SITE, rows)) == ()
    broken = rows.replace("119 V", "110 V")
    (found,) = contradictions(table(SITE, broken))
    assert found.sort is Sort.TRIANGLE
    assert found.residual == pytest.approx(120 - 110 - 2)
    meter = instruments()["multimeter"]
    squares = [meter.uncertainty(volts) ** 2 for volts in (120.0, 110.0, 2.0)]
    assert found.sigma == pytest.approx(math.sqrt(sum(squares)))
    assert found.shift == 0.0
    assert "readings 1, 2, 3 can't all be right" in found.text
    # a load and an over-range reading contradict nothing; nor do readings of two moments
    assert contradictions(table(SITE, broken.replace("2 V,,", "2 V,main off,"))) == ()
    assert contradictions(table(SITE, broken.replace("120 V", "> 120 V"))) == ()


# --- tables ----------------------------------------------------------------------------------


def test_cells_know_their_place() -> None:
    problems = Problems("r.csv")
    text = "# a remark\n\nwhat, where ,value\n voltage,P1, 2 V\n\ncurrent,,2 A\n"
    one, two = csv_rows(text, problems)
    assert problems.found == []
    assert dict(one.cells) == {"what": "voltage", "where": "P1", "value": "2 V"}
    assert dict(one.at) == {"what": (4, 1), "where": (4, 10), "value": (4, 13)}
    assert dict(two.cells) == {"what": "current", "where": "", "value": "2 A"}
    assert two.at["value"][0] == 6
    assert csv_rows("# nothing\n\n", problems) == []


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("what,where\nx,y\n", 1, "there is no column 'value'"),
        ("#\nwhat,where,value,colour\n", 2, "'colour' is no column"),
        ("what,where,value\na,b,c,d\n", 2, "has more cells than the heading"),
    ],
)
def test_what_is_wrong_with_a_table(text: str, line: int, words: str) -> None:
    problems = Problems("r.csv")
    rows = csv_rows(text, problems)
    (found,) = problems.found
    assert (found.file, found.line, found.column) == ("r.csv", line, 1)
    assert words in str(found)
    assert len(rows) == (1 if line == 2 and "cells" in words else 0)


def test_a_problem_stands_where_its_cell_does() -> None:
    problems = Problems("r.csv")
    row = Row({"value": "2 V", "what": "x"}, {"value": (3, 7), "what": (3, 1)})
    problems.add(row, "value", "is wrong", "so and so")
    problems.add(row, "note", "is missing")
    one, two = problems.found
    assert (one.line, one.column, one.text, one.problem, one.hint) == (
        3,
        7,
        "2 V",
        "is wrong",
        "so and so",
    )
    assert (two.line, two.column, two.text, two.hint) == (3, 1, "", "")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("reading: []\n", "is not known here"),
        ("readings: 3\n", "holds no list"),
        ("{}\n", "holds no list"),
        ("readings:\n  - 3\n", "is no group"),
        ("readings:\n  - {what: x, colour: red}\n", "is no column"),
    ],
)
def test_what_is_wrong_with_groups(text: str, words: str) -> None:
    problems = Problems("r.yaml")
    yaml_rows(text, "r.yaml", problems)
    assert problems.found
    assert any(words in str(one) for one in problems.found)


def test_groups_as_rows() -> None:
    problems = Problems("r.yaml")
    text = "readings:\n  - {what: voltage, where: P1, value: 2}\n  - what: x\n    note:\n"
    one, two = yaml_rows(text, "r.yaml", problems)
    assert problems.found == []
    assert dict(one.cells) == {"what": "voltage", "where": "P1", "value": "2"}
    assert dict(two.cells) == {"what": "x", "note": ""}
    assert (one.at["where"][0], two.at["note"]) == (2, (4, 5))
    assert set(NEEDED) <= set(COLUMNS)


# --- ports -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bench() -> Network:
    return build(planned(BENCH), loads=False)


PORTS = [
    across("far:L1", "far:G"),
    across("main:L1", "main:N"),
    across("far:G", EARTH),
    within("run branch", "L1"),
    within("run branch", "metal"),
    through("tie bond"),
]


def test_ports_that_are_there(bench: Network) -> None:
    assert all(is_there(bench, port) for port in PORTS)
    for port in (
        across("far:L1", "far:L2"),
        across("nowhere:G", EARTH),
        within("run branch", "L2"),
        within("run twig", "L1"),
        through("tie bind"),
    ):
        assert not is_there(bench, port)


@pytest.mark.parametrize("k", range(3))
def test_a_join_at_a_port_is_the_solved_circuit(bench: Network, k: int) -> None:
    """``q = q0 - T y`` with y = q/R: against the solver's answer with the join in it."""
    ports = Ports(bench, PORTS)
    port, ohm = PORTS[k], 0.3
    assert ports.at[port] == k
    volts = ports.quiet[k] / (1 + ports.transfer[k, k] / ohm)
    solved = bench.solver.solve([bench.solver.join(port.a, port.b, ohm)])
    assert volts == pytest.approx(solved.between(port.a, port.b), rel=1e-6, abs=1e-9)
    # and what shows at the other two
    for j in range(3):
        there = ports.quiet[j] - ports.transfer[j, k] * volts / ohm
        other = PORTS[j]
        assert there == pytest.approx(solved.between(other.a, other.b), rel=1e-6, abs=1e-7)


def test_quiet_currents_are_those_of_the_circuit(bench: Network) -> None:
    """With a fault standing, by the solver; the gap of a tie shows its current."""
    ports = Ports(bench, PORTS)
    y = ports.quiet[0] / (0.3 + ports.transfer[0, 0])
    solved = bench.solver.solve([bench.solver.join("far:L1", "far:G", 0.3)])
    for j, name in ((3, "L1"), (4, "metal")):
        there = ports.quiet[j] - ports.transfer[j, 0] * y
        assert there == pytest.approx(solved.conductor_current("run branch", name), rel=1e-6)
    tie = ports.quiet[5] - ports.transfer[5, 0] * y
    assert tie == pytest.approx(solved.switch_current("tie bond"), rel=1e-6)


def test_a_broken_conductor_carries_nothing(bench: Network) -> None:
    """A gap whose voltage brings its own current to zero equals the solver's open conductor."""
    ports = Ports(bench, [PORTS[0], PORTS[3], PORTS[4]])
    solved = bench.solver.solve([bench.solver.open_conductor("run branch", "metal")])
    y = ports.quiet[2] / ports.transfer[2, 2]
    volts = ports.quiet[0] - ports.transfer[0, 2] * y
    assert volts == pytest.approx(solved.between("far:L1", "far:G"), rel=1e-6)


# --- what is looked at -----------------------------------------------------------------------


def test_the_middle_of_a_weight() -> None:
    weight = np.array([1.0, 1.0, 1.0, 1.0])
    assert _middle(weight, (0.5,)) == [1]
    assert _middle(weight, (0.25, 0.75)) == [0, 2]
    assert _middle(np.array([0.0, 5.0, 0.0]), (0.25, 0.75)) == [1]
    assert _middle(np.array([1.0]), (0.5,)) == [0]


class Many:
    """Hypotheses with a chance each, no more."""

    def __init__(self, chances: list[tuple[str, float]]) -> None:
        from bondwright.studies.hunt.hypotheses import Hypothesis

        self.hypotheses = tuple(Hypothesis(name, name, name, ()) for name, _ in chances)
        self.log_posterior = np.log([p for _, p in chances])


def test_the_likeliest_are_looked_at_by_all_their_sizes() -> None:
    """One cause of four sizes at 15 % each goes before one of a single size at 40 %."""
    some = Many([("a", 0.4), *[("b", 0.15)] * 4])
    kept, chance = looked_at(some)  # type: ignore[arg-type]
    assert kept == [1, 3, 0]
    plain = np.array([0.3, 0.3, 0.4])
    assert chance == pytest.approx(plain * (1 - DOUBT) + DOUBT / 3)
    assert chance.sum() == pytest.approx(1.0)


def test_the_unlikely_are_left_out_but_never_most() -> None:
    chances = [("a", 1.0 - 1e-3), *[(f"x{k}", 1e-5) for k in range(40)]]
    kept, _ = looked_at(Many(chances))  # type: ignore[arg-type]
    assert len(kept) == FEWEST
    kept, share = rivals(Many(chances))  # type: ignore[arg-type]
    assert len(kept) == FEWEST
    assert kept[0] == 0
    assert share[0] == pytest.approx((1 - 1e-3) / (1 - 1e-3 + 11e-5))
    likely = [("a", 0.5), *[(f"x{k}", 10 * LEAST) for k in range(40)]]
    assert len(looked_at(Many(likely))[0]) == 41  # type: ignore[arg-type]
    assert len(rivals(Many(likely))[0]) == 24  # type: ignore[arg-type]


# --- what was noticed ------------------------------------------------------------------------


def test_priors_of_two_defects_together() -> None:
    """Each beside the first counts once more; what was noticed is missed only if both miss it."""
    from bondwright.studies.hunt.hypotheses import Hypothesis

    own = {"a": math.log(0.2), "b": math.log(0.1)}
    a, b = (Hypothesis(name, name, name, ()) for name in "ab")
    both = replace(a, id="a+b", members=("a", "b"))
    further = math.log(settings().second / sum(settings().weights.values()))
    plain = Priors(own, {})
    assert plain.of(a) == pytest.approx(math.log(0.2))
    assert plain.of(both) == pytest.approx(math.log(0.02) + further)
    assert plain.beside(a, [b]) == pytest.approx([math.log(0.02) + further])
    seen = Priors(own, {"a": np.array([0.5, 0.9]), "b": np.array([0.2, MISTAKEN])})
    assert seen.of(a) == pytest.approx(math.log(0.2 * 0.5 * 0.9))
    together = (1 - 0.5 * 0.8) * (1 - 0.1 * (1 - MISTAKEN))
    assert seen.of(both) == pytest.approx(math.log(0.02 * together) + further)
    assert seen.beside(a, [b]) == pytest.approx([math.log(0.02 * together) + further])


# --- normal deviations -----------------------------------------------------------------------


def test_the_density_of_normal_deviations() -> None:
    """Two correlated deviations by the textbook formula."""
    c = np.array([[4.0, 1.0], [1.0, 9.0]])
    d = np.array([1.0, -2.0])
    expected = -d @ np.linalg.inv(c) @ d / 2 - math.log(2 * math.pi * math.sqrt(35))
    assert log_density(d[None], c[None]) == pytest.approx([expected])


def test_a_magnitude_may_be_of_either_sign() -> None:
    """A meter shows 3 where -3.1 is expected: the deviation is 0.1, not 6.1."""
    one = np.eye(1)[None]
    assert folded(np.array([3.0]), np.array([[-3.1]]), one) == pytest.approx(np.array([[0.1]]))
    assert folded(np.array([3.0]), np.array([[2.8]]), one) == pytest.approx(np.array([[0.2]]))


def test_signs_are_turned_by_what_they_gain_and_not_in_a_row() -> None:
    """Two readings of 1 where -1 and -1.2 are expected, their errors partly the same: both turn,
    whichever comes first."""
    close = np.array([[[1.0, 0.3], [0.3, 1.0]]])
    one = folded(np.array([1.0, 1.0]), np.array([[-1.0, -1.2]]), close)
    other = folded(np.array([1.0, 1.0]), np.array([[-1.2, -1.0]]), close)
    assert one == pytest.approx(np.array([[0.0, 0.2]]))
    assert other == pytest.approx(one[:, ::-1])


def test_what_a_reading_says_given_all_others() -> None:
    """Conditional normal by hand: mean m1 + c12/c22 (y2 - m2), variance c11 - c12^2/c22."""
    meter = instruments()["load clamp"]
    base = bare("x", Quantity.CURRENT, "a", "", (), meter)
    y, m = np.array([10.0, 7.0]), np.array([[9.0, 6.0]])
    c = np.array([[[4.0, 3.0], [3.0, 9.0]]])
    used = [replace(base, number=k + 1, value=v, sigma=0.5) for k, v in enumerate(y)]
    fits: Any = SimpleNamespace(mean=m, covariance=c, told=SimpleNamespace(size=m))
    (first, second) = _alone(fits, 0, used)
    for (expected, sigma, density), (own, other, i) in (
        (first, (0, 1, 0)),
        (second, (1, 0, 1)),
    ):
        cond = m[0, own] + 3.0 / c[0, other, other] * (y[other] - m[0, other])
        var = c[0, own, own] - 9.0 / c[0, other, other]
        assert expected == pytest.approx(cond)
        assert sigma == pytest.approx(math.sqrt(var))
        off = y[i] - cond
        assert density == pytest.approx(-(off**2) / var / 2 - math.log(2 * math.pi * var) / 2)
    # one over its range: how likely it is that there is more than it can show
    over = [replace(used[0], over=True, value=12.0), used[1]]
    expected, spread, beyond = _alone(fits, 0, over)[0]
    assert expected == 9.0
    assert spread == pytest.approx(0.5 + OVER_SPREAD * 9.0)
    assert beyond == pytest.approx(math.log(0.5 * math.erfc((12 - 9) / spread / math.sqrt(2))))
    assert _alone(fits, 0, []) == []


def test_loads_that_were_known_at_a_time() -> None:
    network = build(SITE, loads=True)
    plain = Unknowns(network, ["", "noon"], {})
    port, admittance = plain.loads[1]
    known = {"noon": [KnownLoad(port, admittance, 0.01)]}
    found = Unknowns(network, ["", "noon"], known)
    assert found.known_at("noon").tolist() == [1]
    assert found.known_at("").tolist() == []
    # its place among the fitted ones stays, at nothing: it isn't asked for
    start = found.load_at["noon"]
    assert found.start[start + 1] == 0.0
    assert found.start[start] != 0.0
    assert len(found.electrodes) == 2  # the rod and the utility's own
    assert found.count == plain.count
