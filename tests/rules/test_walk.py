"""What is known of each thing on the walk, worked out by hand from the descriptions.

The facts decide which lines of the inspection checklist a person gets. Terms are those of the
trade; sizes are of tables 250.66, 250.102(C)(1) and 250.122.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.plan.model import Plan
from bondwright.rules.answer import Severity
from bondwright.rules.checklist import checklist
from bondwright.rules.walk import NO_SIZE, Spot, walk
from tests.plan.sites import HOUSE, SHOP, described, finding, planned, rules_of
from tests.rules.test_checklist import plan_of


def _spots(name: str) -> dict[tuple[str, str], Spot]:
    return {(spot.kind, spot.id): spot for spot in walk(plan_of(name))}


def _facts(text: str) -> set[str]:
    return {part.strip() for part in text.split(",")}


# site, kind, id, facts
KNOWN = [
    ("house", "site", "site", "plan"),
    ("house", "source", "utility", "plan"),
    # The utility's drop is overhead, the rest is taken as cable, which is an assumption.
    ("house", "run", "drop", "plan, neutral, service run"),
    ("house", "run", "riser", "plan, neutral, service run, cable"),
    ("house", "place", "meter", "plan, meter, metal enclosure, neutral, no concrete electrode"),
    ("house", "tie", "neutral bond at meter", "plan, bus, enclosure bond"),
    ("house", "place", "house",
     "plan, service, metal enclosure, neutral, no concrete electrode, service disconnect, "
     "first disconnect, mark due"),
    ("house", "tie", "main bonding jumper at house", "plan, wire, main bonding jumper"),
    ("house", "electrode", "house rods", "plan, rod, joined, several, at a service"),
    ("house", "electrode", "shed rods", "plan, rod, joined, several"),
    # 10 AWG and 12 AWG are less than 6 AWG, the least that may run in the open (250.64(B)).
    ("house", "run", "feeder",
     "plan, load side, neutral, cable, into building, wire ground, small ground"),
    ("house", "run", "circuit",
     "plan, load side, cable, to equipment, wire ground, small ground"),
    ("house", "place", "shed",
     "plan, panel, metal enclosure, neutral, no concrete electrode, building disconnect, "
     "load-side panel, no tie allowed"),
    ("house", "place", "pump",
     "plan, equipment, metal enclosure, no concrete electrode, no tie allowed"),
    ("house as found", "tie", "green screw", "as found, screw, main bonding jumper"),
    ("house with one rod", "electrode", "rod", "plan, rod, joined, alone, at a service"),
    ("house with every electrode and metal", "electrode", "column",
     "plan, steel, joined, one of several electrodes, aluminium conductor, at a service"),
    ("house with every electrode and metal", "place", "house",
     "plan, service, metal enclosure, neutral, service disconnect, first disconnect, mark due"),
    ("house with every electrode and metal", "metal", "gas pipe", "plan, gas pipe"),
    ("electrode that is not joined", "electrode", "lost",
     "plan, rod, one of several electrodes"),
    ("electrode that is not joined", "place", "isolator",
     "plan, disconnect, metal enclosure, neutral, no concrete electrode, load-side panel, "
     "no tie allowed"),
    ("electrode at the pump", "electrode", "at the house",
     "plan, rod, joined, one of several electrodes, auxiliary"),
    ("shop", "run", "service", "plan, service run, neutral, cable, over 250 V to ground"),
    ("shop", "run", "primary", "plan, load side, cable, wire ground, over 250 V to ground"),
    ("shop", "transformer", "T1", "plan, isolating, derived"),
    ("shop", "tie", "system bonding jumper at T1", "plan, wire, system bonding jumper"),
    ("shop", "run", "secondary", "plan, derived supply, neutral, cable, wire jumper"),
    # The tie is made at the transformer, so none may stand at the first disconnect as well.
    ("shop", "place", "LP",
     "plan, panel, metal enclosure, neutral, no concrete electrode, first disconnect, "
     "load-side panel, no tie allowed"),
    ("whip", "run", "secondary",
     "plan, derived supply, neutral, metal raceway, raceway jumper"),
    ("outdoors", "transformer", "T1", "plan, isolating, derived, outdoors"),
    ("two transformers", "transformer", "T2",
     "plan, isolating, derived, one of several derived systems"),
    ("480 V wye", "run", "service",
     "plan, service run, neutral, metal raceway, over 250 V to ground"),
    ("480 V wye", "run", "branch",
     "plan, load side, neutral, metal raceway, raceway ground, to equipment, "
     "over 250 V to ground"),
    ("large", "run", "feeder",
     "plan, load side, neutral, cable, wire ground, parallel, over 250 V to ground"),
    ("large", "place", "main",
     "plan, service, metal enclosure, neutral, no concrete electrode, service disconnect, "
     "first disconnect, mark due, ground-fault protection"),
    ("480 V delta", "place", "panel",
     "plan, panel, metal enclosure, no concrete electrode, load-side panel, no tie allowed, "
     "ungrounded"),
    ("corner", "place", "panel",
     "plan, panel, metal enclosure, no concrete electrode, load-side panel, no tie allowed, "
     "grounded corner"),
    ("high leg", "place", "saw",
     "plan, equipment, metal enclosure, neutral, no concrete electrode, no tie allowed, "
     "high leg"),
    ("high leg", "run", "feeder", "plan, load side, neutral, metal raceway, raceway ground"),
    ("resistor", "tie", "resistor", "plan, wire, impedance"),
    ("stray tie", "tie", "old screw", "plan, screw, stray"),
    ("two disconnects", "place", "second",
     "plan, service, metal enclosure, neutral, no concrete electrode, service disconnect, "
     "first disconnect, one of several, mark due"),
    ("outlets", "place", "outlet",
     "as found, outlet, metal enclosure, neutral, no concrete electrode, no tie allowed, "
     "no ground arrives"),
    ("outlets", "run", "to outlet", "as found, load side, neutral, cable"),
    ("outlets", "run", "to box",
     "as found, load side, neutral, cable, wire ground, small ground, aluminium ground"),
    ("generator, solid neutral", "site", "site", "plan, several supplies"),
    ("generator, solid neutral", "transfer", "switch", "plan, solid"),
    ("generator, solid neutral", "generator", "set", "plan, not derived"),
    ("generator, switched neutral", "generator", "set", "plan, derived"),
    ("inverter", "inverter", "sun", "plan"),
    ("plastic", "run", "feeder",
     "plan, load side, neutral, into building, nonmetallic raceway, wire ground, small ground"),
    ("tray", "run", "feeder",
     "plan, load side, neutral, into building, tray, enlarged, wire ground, small ground"),
    ("buried", "run", "drop", "plan, service run, neutral, direct buried"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "kind", "id", "facts"), KNOWN, ids=lambda part: str(part)[:40])
def test_facts(name: str, kind: str, id: str, facts: str) -> None:
    assert _spots(name)[kind, id].facts == _facts(facts)


@pytest.mark.parametrize(
    ("name", "kind", "id", "words"),
    [
        ("house", "run", "feeder",
         {"where": "feeder", "place": "shed", "building": "shed", "start": "house", "end": "shed",
          "asked": "10 AWG Cu", "size": "10 AWG Cu"}),
        ("house", "run", "drop",
         {"where": "drop", "place": "meter", "building": "the building", "start": "utility",
          "end": "meter", "asked": NO_SIZE, "size": NO_SIZE}),
        # Given larger than asked.
        ("house with every electrode and metal", "electrode", "column",
         {"where": "column", "place": "house", "building": "house", "count": "1",
          "asked": "2 AWG Al", "size": "2/0 AWG Al"}),
        ("house with every electrode and metal", "metal", "water pipe",
         {"where": "water pipe", "place": "house", "building": "house", "start": "house",
          "end": "shed", "asked": "4 AWG Cu", "size": "4 AWG Cu"}),
        ("house", "electrode", "house rods",
         {"where": "house rods", "place": "house", "building": "house", "count": "2",
          "asked": "6 AWG Cu", "size": "6 AWG Cu"}),
        # A screw has no size of its own.
        ("house as found", "tie", "green screw",
         {"where": "green screw", "place": "house", "building": "house",
          "asked": "4 AWG Cu", "size": "4 AWG Cu or larger"}),
        # Table 250.102(C)(1): 3/0 AWG Cu -> 4 AWG; of each set of 350 kcmil -> 2 AWG.
        ("480 V wye", "run", "service",
         {"where": "service", "place": "main", "building": "hall", "start": "utility",
          "end": "main", "asked": NO_SIZE, "size": NO_SIZE, "jumper": "4 AWG Cu"}),
        ("large", "run", "service",
         {"where": "service", "place": "main", "building": "hall", "start": "utility",
          "end": "main", "asked": NO_SIZE, "size": NO_SIZE, "jumper": "2 AWG Cu"}),
    ],
    ids=lambda part: str(part)[:40],
)  # fmt: skip
def test_words(name: str, kind: str, id: str, words: dict[str, str]) -> None:
    assert dict(_spots(name)[kind, id].words) == words


@pytest.mark.parametrize(
    ("lines", "sets", "jumper"),
    [
        # Each raceway by itself: 12.5 % of 2000 kcmil is 250 kcmil; together 12.5 % of 18,000 kcmil
        # is more than the largest conductor.
        ("9 x 2000 kcmil Cu", "apart", "250 kcmil Cu"),
        ("9 x 2000 kcmil Cu", "together", NO_SIZE),
        # Table 250.102(C)(1): 350 kcmil -> 2 AWG; 700 kcmil -> 2/0 AWG.
        ("2 x 350 kcmil Cu", "apart", "2 AWG Cu"),
        ("2 x 350 kcmil Cu", "together", "2/0 AWG Cu"),
        # In the metal of the supply: 500 kcmil Al -> 1/0 AWG Al.
        ("2 x 500 kcmil Al", "apart", "1/0 AWG Al"),
    ],
)
def test_bushing_jumper_on_the_list_follows_what_lies_in_the_raceway(
    lines: str, sets: str, jumper: str
) -> None:
    base: Any = described(
        SHOP,
        runs__service__lines=lines,
        runs__service__sets=sets,
        runs__service__raceway={"kind": "rmc", "size": "6 in"},
    )
    found = {spot.id: spot for spot in walk(planned(base))}
    assert found["service"].words["jumper"] == jumper


# --- a rod on its own -------------------------------------------------------------------------


def _proved(result: Plan) -> bool:
    """Whether the checklist asks for the record of a rod's resistance."""
    return "rod-resistance-record" in {line.id for line in checklist(result)}


ROD = {"kind": "rod", "at": "house"}
PIPE = {"kind": "water pipe", "at": "house"}


@pytest.mark.parametrize(
    ("others", "alone"),
    [
        ({}, True),
        ({"second": ROD}, False),
        ({"plate": {"kind": "plate", "at": "house"}}, False),
        ({"footing": {"kind": "concrete", "at": "house"}}, False),
        # 250.53(D)(2): a pipe needs another electrode, and can't stand in for one.
        ({"pipe": PIPE}, True),
        # 250.60: lightning protection does not count; nor does what isn't joined.
        ({"air": {**ROD, "lightning": True}}, True),
        ({"lost": {**ROD, "conductor": "none"}}, True),
        ({"other building": {**ROD, "at": "shed"}}, True),
    ],
    ids=lambda part: ",".join(part) if isinstance(part, dict) else str(part),
)
def test_single_rod_is_reported_and_asked_for_alike(others: dict[str, Any], alone: bool) -> None:
    result = planned(HOUSE, electrodes={"rod": ROD, **others})
    assert any(f.rule == "single-rod" and f.where == "rod" for f in result.findings) is alone
    (spot,) = [one for one in walk(result) if (one.kind, one.id) == ("electrode", "rod")]
    assert ("alone" in spot.facts) is alone
    assert _proved(result) is (alone or "other building" in others)


def test_water_pipe_alone_and_single_rod_are_different_things() -> None:
    pipe = planned(HOUSE, electrodes={"pipe": PIPE})
    assert "single-rod" not in rules_of(pipe)
    found = finding(pipe, "water-pipe-alone")
    assert (found.where, found.clause) == ("pipe", "NEC 2020 250.53(D)(2)")
    two = planned(HOUSE, electrodes={"pipe": PIPE, "rod": ROD})
    assert "water-pipe-alone" not in rules_of(two)
    assert finding(two, "single-rod").severity is Severity.CANNOT_TELL
    assert not _proved(pipe)
