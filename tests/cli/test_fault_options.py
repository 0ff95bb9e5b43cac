"""Kinds of faults, arcs, states and lengths from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import EXAMPLE, refused, run, said, structure

FARM = str(Path(EXAMPLE).with_name("harrow-creek.yaml"))


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("three lines", "L1, L2 and L3 together"),
        ("neutral to metal", "N to metal"),
        ("line to earth", "L1 to earth"),
    ],
)
def test_every_kind_can_be_asked(kind: str, words: str) -> None:
    out = run("faults", FARM, "--at", "hall switchboard", "--kind", kind)
    assert words in " ".join(out.stdout.split())


def test_the_earth_clears_nothing() -> None:
    """277 V through about 25 ohm: some 11 A (Ohm's law); a 400 A breaker doesn't see it."""
    found = structure("faults", FARM, "--at", "hall switchboard", "--kind", "line to earth", code=1)
    for fault in found["faults"]:
        assert 8 < fault["current_a"] < 12
        assert fault["openings"] == []


def test_an_arc_leaves_less_current_than_a_bolted_fault() -> None:
    at = ("--at", "well pump", "--kind", "line to metal")
    bolted = structure("faults", EXAMPLE, *at)["faults"][0]["current_a"]
    arcing = structure("faults", EXAMPLE, *at, "--arc", "50 V")["faults"][0]["current_a"]
    assert 0.5 * bolted < arcing < 0.7 * bolted
    assert "voltage belongs here" in refused("faults", EXAMPLE, *at, "--arc", "50 ohm")


def test_a_state_is_asked_by_its_name() -> None:
    """The generator is weaker than the utility."""
    at = ("--at", "well pump", "--kind", "line to metal")
    normal = structure("faults", FARM, *at)
    standby = structure("faults", FARM, *at, "--state", "on standby generator")
    assert (normal["state"], standby["state"]) == ("normal", "on standby generator")
    assert standby["faults"][0]["current_a"] < normal["faults"][0]["current_a"]
    assert "'on standby generator'" in refused("stray", FARM, "--state", "island")


def test_lengths_say_how_far_a_run_could_go() -> None:
    text = said("faults", EXAMPLE, "--at", "well pump", "--lengths")
    assert "clears for sure up to" in text
    assert "pump branch 45 ft" in text
