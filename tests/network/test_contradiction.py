"""What a circuit says that has no answer: which of its elements stand against each other."""

from __future__ import annotations

import numpy as np
import pytest

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.contradiction import ideal_loop, told
from bondwright.network.solve import SolveError, Solver


def circuit() -> Circuit:
    made = Circuit(60.0, 1e-9j)
    made.add_source("emf", "a", EARTH, 120)
    made.add_impedance("wire", "a", "b", 0.1)
    made.add_switch("main", "b", "c")
    made.add_impedance("load", "c", EARTH, 10)
    return made


def test_a_sound_circuit_has_no_loop_of_joins() -> None:
    assert ideal_loop(circuit()) == ()
    Solver(circuit())


def test_joins_in_a_loop_are_named() -> None:
    made = circuit()
    made.add_switch("strap", "c", "d")
    made.add_switch("screw", "d", "b")
    assert set(ideal_loop(made)) == {"strap", "main", "screw"}
    with pytest.raises(SolveError, match=r"main.*screw|screw.*main"):
        Solver(made)


def test_an_open_switch_closes_no_loop() -> None:
    made = circuit()
    made.add_switch("strap", "c", "b", closed=False)
    assert ideal_loop(made) == ()
    Solver(made)


def test_two_voltages_side_by_side_are_named() -> None:
    made = circuit()
    made.add_source("other", "a", EARTH, 240)
    with pytest.raises(SolveError, match="emf, other"):
        Solver(made)


def test_without_a_loop_the_smallest_impedance_is_named() -> None:
    """By the largest entry of its matrix: a coupled pair counts as its larger wire."""
    made = Circuit(60.0, 1e-9j)
    made.add_source("emf", "a", EARTH, 120)
    made.add_impedance("wire", "a", "b", 0.1)
    made.add_impedance("strap", "b", "c", 1e-14)
    made.add_impedance("load", "c", EARTH, 10)
    made.add_section("pair", "zw", ("c", "d"), ("d", "c"), np.diag([1e-15, 2.0]))
    assert told(made).endswith("the smallest is that of 'strap'")
    bare = Circuit(60.0, 1e-9j)
    assert told(bare).endswith("the smallest is that of nothing")
