"""The table of readings, the instruments, and contradictions within a table."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import cast

import pytest

from bondwright.site.site_error import SiteError
from bondwright.studies.hunt.consistency import Sort, _closures, closure, contradictions
from bondwright.studies.hunt.instruments import USUAL, Quantity, instruments
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.readings import Reading, load_readings, read_readings
from tests.studies.hunt.hunting import HEAD, hall, planned, table

SITE = planned(hall(2))
NETWORK = network_at(SITE, Moment())


@pytest.mark.parametrize("name", list(instruments()))
def test_no_instrument_is_exact(name: str) -> None:
    meter = instruments()[name]
    assert meter.measures
    assert meter.uncertainty(0.0) > 0
    assert meter.uncertainty(100.0) > meter.uncertainty(0.0)
    assert meter.word


def test_uncertainty_of_a_limit_is_that_of_a_rectangle() -> None:
    """JCGM 100:2008, 4.3.7: a/sqrt(3); 3 % of 10 A and 0.5 A are 0.8 A, so 0.46 A."""
    assert instruments()["load clamp"].uncertainty(10.0) == pytest.approx(0.8 / math.sqrt(3))


def test_every_quantity_has_a_usual_instrument() -> None:
    for quantity in Quantity:
        assert quantity in instruments()[USUAL[quantity]].measures


def test_csv_and_yaml_say_the_same() -> None:
    rows = HEAD + "net current,F1,all,1.2 A,,leakage clamp\nvoltage,P1,N-G,0.8 V,main off,\n"
    yaml = (
        "readings:\n"
        "  - {what: net current, where: F1, of: all, value: 1.2 A, with: leakage clamp}\n"
        "  - {what: voltage, where: P1, of: N-G, value: 0.8 V, state: main off}\n"
    )
    one = read_readings(rows, NETWORK)
    assert read_readings(yaml, NETWORK, yaml=True) == one
    assert one[0].value == pytest.approx(1.2)
    assert len(one[0].terms) == 4
    assert one[1].moment.off == frozenset({"main"})


def test_own_accuracy_goes_before_the_class() -> None:
    text = "what,where,of,value,accuracy\ncurrent,F1,N,10 A,2 % + 0.1 A\n"
    (reading,) = read_readings(text, NETWORK)
    assert reading.sigma == pytest.approx(0.3 / math.sqrt(3))


def test_over_range_is_a_least_value() -> None:
    (reading,) = table(SITE, "loop,P1,L1-G,> 2000 ohm,,\n")
    assert reading.over
    assert reading.value == 2000


@pytest.mark.parametrize(
    ("row", "place", "said"),
    [
        ("curent,F1,N,1 A,,", "2:1", "nothing that can be read"),
        ("current,F9,N,1 A,,", "2:9", "did you mean 'F1'"),
        ("current,F1,L3,1 A,,", "2:12", "it has L1, L2, N, EGC"),
        ("current,F1,N,1 V,,", "2:14", "V"),
        ("current,F1,N,1,,", "2:14", "has no unit"),
        ("voltage,P1,N,1 V,,", "2:12", "no two points"),
        ("voltage,P1,N-L7,1 V,,", "2:12", "its terminals are"),
        ("voltage,P7,N-G,1 V,,", "2:9", "is no place"),
        ("current,F1,N,1 A,meter pulled,", "2:18", "not known"),
        ("current,F1,N,1 A,P9 off,", "2:18", "has no main or device"),
        ("current,F1,N,1 A,,multimeter", "2:19", "does not read a current"),
        ("current,F1,N,1 A,,load clmp", "2:19", "did you mean 'load clamp'"),
        ("net current,F1,some,1 A,,", "2:16", "'wires'"),
    ],
)
def test_errors_say_where_and_what_would_be_right(row: str, place: str, said: str) -> None:
    with pytest.raises(SiteError) as caught:
        read_readings(HEAD + row + "\n", NETWORK, "r.csv")
    (problem,) = caught.value.problems
    assert f"{problem.line}:{problem.column}" == place
    assert said in str(problem)


def test_a_table_without_a_heading_is_refused() -> None:
    with pytest.raises(SiteError, match="is no column"):
        read_readings("voltage,P1,N-G,1 V\n", NETWORK)


def test_a_file_that_is_not_there() -> None:
    with pytest.raises(SiteError, match="can't be opened"):
        load_readings("no such readings.csv", NETWORK)


def test_states() -> None:
    (reading,) = table(SITE, "current,rod,,1 A,F1 neutral lifted; no load; @morning,\n")
    assert len(reading.moment.lifted) == 1
    assert not reading.moment.loads
    assert reading.moment.time == "morning"
    assert reading.state == "F1 neutral lifted; no load; @morning"


# --- contradictions ------------------------------------------------------------------------------


def test_t07_phasors_that_do_not_close() -> None:
    """486 V, and 360/270/280 V to ground: about 64 V of shift and 104 V that belong to no point.

    Worked out by hand: the squares' sum exceeds 486^2 by 3 (64^2 + 104^2).
    """
    found = closure(486, (360, 270, 280), 3.0)
    assert found.shift == pytest.approx(64, abs=1)
    assert found.residual == pytest.approx(104, abs=1)


def test_phasors_that_close_leave_nothing() -> None:
    side = 480.0
    point = 40 + 25j
    corners = [
        side / math.sqrt(3) * complex(math.cos(a), math.sin(a)) for a in (0, 2.0944, -2.0944)
    ]
    d = [abs(point - c) for c in corners]
    found = closure(side, (d[0], d[1], d[2]), 1.0)
    assert found.shift == pytest.approx(abs(point), rel=1e-3)
    assert abs(found.residual) < 1.0


def test_the_same_reading_twice() -> None:
    rows = "current,rod,,1 A,,leakage clamp\ncurrent,rod,,2 A,,leakage clamp\n"
    (found,) = contradictions(table(SITE, rows))
    assert found.sort is Sort.REPEAT
    assert found.residual == pytest.approx(1.0)
    # At another time other loads may be on.
    assert contradictions(table(SITE, rows.replace("2 A,,", "2 A,@evening,"))) == ()


def test_t29_repeats_within_the_instrument_are_none() -> None:
    """T29: 0.50, 0.48 and 0.51 ohm at one socket: within a loop tester's limits, no finding."""
    rows = "".join(f"loop,P1,L1-G,{v} ohm,,\n" for v in (0.50, 0.48, 0.51))
    assert contradictions(table(SITE, rows)) == ()


def test_three_voltages_that_break_the_triangle() -> None:
    rows = "voltage,P1,L1-N,120 V,,\nvoltage,P1,L1-G,90 V,,\nvoltage,P1,N-G,2 V,,\n"
    (found,) = contradictions(table(SITE, rows))
    assert found.sort is Sort.TRIANGLE
    assert found.readings == (1, 2, 3)


# --- voltages that belong to no point, by hand -------------------------------------------------


def lifted(
    height: float, other: str = "board:G", lines: tuple[float, ...] = (480.0, 480.0, 480.0)
) -> dict[frozenset[str], Reading]:
    """Exact readings of a point 50 V from the middle of a 480 V triangle, and out of its plane."""
    corners = [480 / math.sqrt(3) * complex(math.cos(a), math.sin(a)) for a in THIRDS]
    volts = [math.hypot(abs(50 - corner), height) for corner in corners]
    found = {frozenset((f"board:L{k}", other)): v for k, v in enumerate(volts, 1)}
    for pair, v in zip(((1, 2), (1, 3), (2, 3)), lines, strict=False):
        found[frozenset(f"board:L{k}" for k in pair)] = v
    return {
        pair: cast("Reading", SimpleNamespace(number=9 - k, value=v, sigma=0.01))
        for k, (pair, v) in enumerate(found.items())
    }


THIRDS = [2 * math.pi * k / 3 for k in range(3)]


@pytest.mark.parametrize("other", ["board:G", "board:N", "earth"])
def test_a_point_out_of_the_plane_is_a_contradiction_beyond_a_twentieth(other: str) -> None:
    """5 % of 480 V are 24 V; the instruments' own part is far less here."""
    assert list(_closures(lifted(23.9, other))) == []
    (found,) = _closures(lifted(24.1, other))
    assert (found.sort, found.readings) == (Sort.CLOSURE, (4, 5, 6, 7, 8, 9))
    assert found.residual == pytest.approx(24.1)
    assert found.shift == pytest.approx(50)
    # 2 sigma x 480 / sqrt 3 over 2 h: no voltage to the point is larger than that of the lines
    assert found.sigma == pytest.approx(0.01 * 480 / math.sqrt(3) / 24.1)
    name = other.rpartition(":")[2]
    assert f"from the lines to {name} at board do not close" in found.text
    assert f"{name} would lie 50 V from the middle, and 24 V are left over" in found.text


def test_one_voltage_between_lines_is_enough_and_none_is_not() -> None:
    (found,) = _closures(lifted(30, lines=(480.0,)))
    assert found.readings == (6, 7, 8, 9)
    assert list(_closures(lifted(30, lines=()))) == []
    some = lifted(30)
    del some[frozenset(("board:L2", "board:G"))]
    assert list(_closures(some)) == []


def test_lines_of_unequal_voltages_are_no_equilateral_triangle() -> None:
    """3 % of the mean of the lines, and three times the instruments' own difference."""
    near, far = 480 * 0.0301, 480 * 0.0309
    assert len(list(_closures(lifted(60, lines=(480.0, 480.0 + near, 480.0))))) == 1
    assert list(_closures(lifted(60, lines=(480.0, 480.0 + far, 480.0)))) == []
