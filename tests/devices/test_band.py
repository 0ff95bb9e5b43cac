import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bondwright.devices.band import Edge, TimeBand, earliest, stepped

STEP = Edge(((10.0, 100.0), (20.0, 25.0), (20.0, 0.1), (40.0, 0.1)))


def test_line_is_straight_on_log_scales() -> None:
    # between (10, 100) and (20, 25) the line is I2 t = 10,000
    for current in (10.0, 11.0, 14.142, 19.999):
        assert STEP.at(current) == pytest.approx(1e4 / current**2, rel=1e-12)


def test_step_is_exact() -> None:
    assert STEP.at(20.0) == 0.1
    assert STEP.before(20.0) == 25.0
    assert STEP.at(math.nextafter(20.0, 0)) == pytest.approx(25.0)
    assert STEP.before(math.nextafter(20.0, 30)) == pytest.approx(0.1)


def test_outside() -> None:
    assert STEP.at(math.nextafter(10.0, 0)) == math.inf
    assert STEP.at(0.0) == math.inf
    assert STEP.at(10.0) == 100.0
    assert STEP.before(10.0) == 100.0
    assert STEP.at(1e6) == 0.1
    assert STEP.at(math.inf) == 0.1


def test_least_current() -> None:
    assert STEP.least_current(1e3) == 10.0
    assert STEP.least_current(100.0) == 10.0
    assert STEP.least_current(50.0) == pytest.approx(math.sqrt(1e4 / 50))
    assert STEP.least_current(1.0) == 20.0
    assert STEP.least_current(0.1) == 20.0
    assert STEP.least_current(0.05) == math.inf


@pytest.mark.parametrize(
    ("points", "match"),
    [
        (((0.0, 1.0),), "positive and finite"),
        (((1.0, math.inf),), "positive and finite"),
        (((1.0, math.nan),), "positive and finite"),
        (((2.0, 1.0), (1.0, 0.5)), "turns back"),
        (((1.0, 1.0), (2.0, 1.5)), "turns back"),
    ],
)
def test_bad_edge(points: tuple[tuple[float, float], ...], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        Edge(points)


def test_never() -> None:
    never = TimeBand(Edge(()), Edge(()))
    assert never.fastest(1e6) == never.slowest(1e6) == never.sure_current(5) == math.inf
    assert never.tell(1e6) == "does not open"
    assert never.edges(100.0) == ((), ())
    with pytest.raises(ValueError, match="slower than the slow edge"):
        TimeBand(Edge(()), STEP)


@pytest.mark.parametrize("current", [-1.0, math.nan])
def test_impossible_current(current: float) -> None:
    band = TimeBand(STEP, STEP)
    for ask in (band.fastest, band.slowest, band.operates_for_sure):
        with pytest.raises(ValueError, match="give its magnitude"):
            ask(current)
    with pytest.raises(ValueError, match="zero or more"):
        band.sure_current(current)


def test_edges_must_not_cross() -> None:
    quick = Edge(((10.0, 100.0), (30.0, 10.0)))
    with pytest.raises(ValueError, match="slower than the slow edge"):
        TimeBand(quick, Edge(((10.0, 100.0), (20.0, 1.0))))
    # the quick edge steps later than the slow one: it crosses between the two steps
    late = Edge(((10.0, 50.0), (25.0, 20.0), (25.0, 0.01)))
    with pytest.raises(ValueError, match="slower than the slow edge"):
        TimeBand(late, STEP)
    # the slow edge must not begin before the quick one does
    with pytest.raises(ValueError, match="slower than the slow edge"):
        TimeBand(STEP, Edge(((9.0, 100.0),)))


def test_band_of_one_line() -> None:
    band = TimeBand(STEP, STEP)
    assert band.fastest(20.0) == band.slowest(20.0) == 0.1
    assert band.edges(100.0)[0] == (*STEP.points, (100.0, 0.1))
    assert band.edges(30.0) == (STEP.points, STEP.points)


points = st.lists(st.tuples(st.floats(0.1, 1e5), st.floats(1e-3, 1e4)), min_size=1, max_size=8).map(
    lambda raw: tuple(
        zip(sorted(i for i, _ in raw), sorted((t for _, t in raw), reverse=True), strict=True)
    )
)


@settings(deadline=None)
@given(points, st.floats(0.01, 1e6), st.floats(1, 10))
def test_edges_never_rise(
    line: tuple[tuple[float, float], ...], current: float, more: float
) -> None:
    edge = Edge(line)
    assert edge.at(current * more) <= edge.at(current)
    assert edge.at(current) <= edge.before(current) or current == line[0][0]


@settings(deadline=None)
@given(points, st.floats(1e-4, 1e5))
def test_least_current_is_least(line: tuple[tuple[float, float], ...], time: float) -> None:
    edge = Edge(line)
    least = edge.least_current(time)
    if math.isinf(least):
        assert edge.at(math.inf) > time
    else:
        assert edge.at(least * (1 + 1e-9)) <= time * (1 + 1e-6)
        assert edge.at(least * (1 - 1e-9)) >= time * (1 - 1e-6) or least == line[0][0]


@settings(deadline=None)
@given(points, st.floats(0.1, 1e5), st.floats(1e-3, 1e4))
def test_stepped(line: tuple[tuple[float, float], ...], at: float, to: float) -> None:
    below = at * (1 - 1e-9)
    assume(not below <= line[0][0] < at)  # a line that begins a hair below the step
    edge, whole = stepped(line, at, to), Edge(line)
    assert edge.at(at) == to
    if line[0][0] < below:
        assert edge.at(below) == pytest.approx(max(whole.at(below), to), rel=1e-6)
    else:
        assert edge.points == ((at, to),)


@settings(deadline=None)
@given(st.lists(points, min_size=1, max_size=4), st.floats(0.01, 1e6))
def test_earliest_is_the_least_of_all(
    lines: list[tuple[tuple[float, float], ...]], current: float
) -> None:
    edges = [Edge(line) for line in lines]
    made = earliest(edges)
    assert made.at(current) == pytest.approx(min(e.at(current) for e in edges), rel=1e-6)
    for mark, _ in made.points:
        assert made.at(mark) == pytest.approx(min(e.at(mark) for e in edges), rel=1e-6)


def test_earliest_of_two_crossing_lines() -> None:
    # I2 t = 1e4 from 10 A and a flat 4 s from 20 A: they cross at 50 A
    line, flat = Edge(((10.0, 100.0), (1000.0, 0.01))), Edge(((20.0, 4.0),))
    made = earliest([line, flat])
    assert made.at(19.9) == pytest.approx(1e4 / 19.9**2)
    assert made.at(30.0) == pytest.approx(4.0)
    assert made.before(20.0) == pytest.approx(25.0)
    assert made.at(50.0) == pytest.approx(4.0)
    assert made.at(100.0) == pytest.approx(1.0)
