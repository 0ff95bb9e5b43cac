"""Available fault current: all places side by side give what each gives by itself."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from bondwright.network.build import build, first_cycles
from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site import read
from bondwright.site.reader import load
from bondwright.site.states import states
from bondwright.studies.availability import available_at_places
from bondwright.studies.available import available_current, availables
from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.protection import duties

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda p: p.stem)
def test_a_block_of_places_gives_what_single_joins_give(path: Path) -> None:
    """Two methods: ports from one block of solutions, and one bordered solution for each join."""
    network = first_cycles(build(plan(load(path)), loads=False))
    heads = {name: name for name in network.plan.topology.order}
    together = availables(network, heads)
    for head, place in heads.items():
        alone = available_current(network, head, place)
        # In an ungrounded system the current to metal is set by the capacitance of nodes alone.
        assert together[head].current == pytest.approx(alone.current, rel=1e-6)
        if alone.current > 1:
            assert together[head].peak == pytest.approx(alone.peak, rel=1e-6)


def test_a_place_carries_the_rating_of_what_stands_there() -> None:
    network = build(plan(load(EXAMPLES / "harrow-creek.yaml")), loads=False)
    found = {one.place: one for one in available_at_places(network, duties(network))}
    board = found["hall switchboard"]
    main = next(d for d in board.duties if d.device == "main hall switchboard")
    assert board.available.current == pytest.approx(main.available, rel=1e-6)
    assert "farm utility" not in found
    assert set(found) <= set(network.plan.topology.order)


# The utility gives 2 kA, the generator behind its breaker 60 / 0.08 / (sqrt 3 x 208) A.
TWO_STATES = """site: Bottling line with a generator, Harrow Creek Cidery
sources:
  utility: {system: 208Y/120 V, available: {current: 1 kA}}
generators:
  gen: {system: 208Y/120 V, rating: 200 kVA, subtransient: 8 %, zero: 8 %, negative: 8 %}
transfers:
  switch: {normal: normal run, standby: gen run, neutral: solid}
places:
  main: {kind: service, main: "100 A breaker, interrupts 2 kA"}
  panel: {kind: panel, main: "100 A breaker, interrupts 2 kA"}
runs:
  supply: {from: utility, to: main, length: 10 ft, lines: 3/0 AWG Cu}
  normal run: {from: main, to: switch, length: 1 ft, lines: 3/0 AWG Cu, device: 100 A breaker}
  gen run: {from: gen, to: switch, length: 1 ft, lines: 3/0 AWG Cu, device: 100 A breaker}
  load run: {from: switch, to: panel, length: 1 ft, lines: 3/0 AWG Cu}
electrodes:
  rods: {kind: rod, at: main, count: 2}
"""


def test_the_state_in_which_most_is_available_counts() -> None:
    """Behind the switch a generator of 200 kVA and 8 % gives 200/(sqrt 3 x 0.208 x 0.08) A.

    That is 6.9 kA, more than the utility's 1 kA and than the 2 kA that the panel's main bears; at
    the service nothing changes.
    """
    made = plan(read(TWO_STATES))
    every = [build(made, loads=False, state=state) for state in states(made.site)]
    normal = every[0]
    quiet = {one.place: one for one in available_at_places(normal, duties(normal))}
    assert quiet["panel"].available.current == pytest.approx(1000, rel=0.03)
    assert quiet["panel"].verdict is Verdict.HOLDS
    # As much as before is not more: the state that was looked at first is the one that is told.
    assert {one.place: one for one in available_at_places(normal, duties(normal), [normal])} == (
        quiet
    )
    found = {one.place: one for one in available_at_places(normal, duties(normal), every[1:])}
    panel = found["panel"]
    gives = 200e3 / math.sqrt(3) / 208 / 0.08
    assert panel.available.current == pytest.approx(gives, rel=0.02)
    assert panel.state == next(each.state.id for each in every if "gen" in each.state.on)
    assert panel.verdict is Verdict.FALLS_SHORT
    (duty,) = panel.duties
    assert duty.available == panel.available.current
    assert duty.judgement.verdict == Verdict.FALLS_SHORT.value
    assert found["main"] == quiet["main"]
    assert list(found) == [name for name in made.topology.order if name in found]


TWO_SUPPLIES = """site: Bottling hall and farmhouse, Harrow Creek Cidery
sources:
  hall utility: {system: 480Y/277 V, available: {current: 10 kA}}
  house utility: {system: 120/240 V, available: {current: 5 kA}}
inverters:
  roof: {system: 480Y/277 V, rating: 36 kVA, limit: 120 %}
  porch: {system: 480Y/277 V, rating: 10 kVA, limit: 110 %}
transformers:
  unit: {primary: 480 V delta, secondary: 208Y/120 V, rating: 45 kVA, impedance: 4 %}
places:
  hall: {kind: service, main: 200 A breaker}
  barn: {kind: panel, main: 150 A breaker}
  house: {kind: service, main: 100 A breaker}
runs:
  hall supply: {from: hall utility, to: hall, length: 10 ft, lines: 3/0 AWG Cu}
  roof run: {from: hall, to: roof, length: 50 ft, lines: 6 AWG Cu, neutral: none,
    device: 60 A breaker}
  porch run: {from: hall, to: porch, length: 50 ft, lines: 10 AWG Cu, neutral: none,
    device: 20 A breaker}
  unit run: {from: hall, to: unit, length: 10 ft, lines: 2 AWG Cu, neutral: none,
    device: 70 A breaker}
  barn run: {from: unit, to: barn, length: 10 ft, lines: 1/0 AWG Cu}
  house supply: {from: house utility, to: house, length: 10 ft, lines: 2 AWG Cu}
"""


def test_inverters_count_where_their_supply_is_and_nowhere_else() -> None:
    """By hand: 36 kVA / (sqrt 3 x 480 V) x 1.2 is 51.96 A, 10 kVA at 1.1 gives 13.23 A.

    Past the transformer 480/208 times as much, and sqrt 3 of it where one line of the wye takes
    what comes by two of the delta.
    """
    network = build(plan(read(TWO_SUPPLIES)), loads=False)
    heads = {place: place for place in ("hall", "barn", "house")}
    with_, without = (availables(n, heads) for n in (network, replace(network, inverters=())))
    more = {place: with_[place].current - without[place].current for place in with_}
    assert more["hall"] == pytest.approx(51.96 + 13.23, abs=0.01)
    assert more["barn"] == pytest.approx((51.96 + 13.23) * 480 / 208 * math.sqrt(3), rel=1e-3)
    assert more["house"] == pytest.approx(0.0, abs=1e-9)


def test_an_inverter_beside_the_supply_gives_what_its_lines_can_carry() -> None:
    """By hand: limit times rating over 240 V, on top of what the utility gives."""
    network = build(plan(load(EXAMPLES / "sun-house.yaml")), loads=False)
    (inverter,) = [one for one in network.inverters if not one.forming]
    amps = inverter.limit * inverter.rating / 240
    place = "generator switch"
    alone = replace(network, inverters=())
    with_it, without = (available_current(n, place, place) for n in (network, alone))
    assert with_it.current == pytest.approx(without.current + amps, rel=1e-9)
    assert with_it.peak == pytest.approx(without.peak + 2**0.5 * amps, rel=1e-9)
    fault = Fault(place, FaultKind.LINE_TO_LINE, "L1", "L2")
    assert without.current * 1.005 < study_fault(network, fault).current <= with_it.current
