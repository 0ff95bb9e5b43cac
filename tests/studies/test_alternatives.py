"""Each way to do it in the circuit: the same fault at the same place, side by side.

Checked against the single fault study of each way's own plan, and against what the trade knows:
of two ways home that are joined in parallel the pair beats the raceway alone, and a tie at the
first disconnect puts the neutral's join beside the fault there.
"""

from __future__ import annotations

import pytest

from bondwright.network.build import build
from bondwright.plan.alternatives import Choice, ChoiceKind, choices
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.alternatives import compare, compare_all, farthest_fault
from bondwright.studies.faults import study_fault
from tests.plan.sites import HOUSE, SHOP, Described, described
from tests.studies.sites import WYE_SERVICE

RACEWAY = {"kind": "emt", "size": "3 in"}


def made(base: Described, **changes: object) -> Plan:
    return plan(Site.model_validate(described(base, **changes)))


SHOP_PLAN = made(SHOP, runs__secondary__raceway=RACEWAY, runs__primary__raceway=RACEWAY)


def choice(result: Plan, kind: ChoiceKind, about: str) -> Choice:
    (found,) = [c for c in choices(result, about=about) if c.kind is kind]
    return found


def test_each_way_is_the_fault_study_of_its_own_plan() -> None:
    found = choice(SHOP_PLAN, ChoiceKind.JUMPER, "secondary")
    fault = farthest_fault(SHOP_PLAN, found)
    assert fault is not None
    for one in compare(found):
        assert one.fault is not None
        alone = study_fault(build(one.way.plan, loads=False), fault)
        assert one.fault.current == pytest.approx(alone.current)
        assert one.fault.clearing == alone.clearing


def test_wire_and_raceway_together_beat_the_raceway_alone() -> None:
    wire, raceway = compare(choice(SHOP_PLAN, ChoiceKind.JUMPER, "secondary"))
    assert wire.fault is not None
    assert raceway.fault is not None
    assert wire.fault.current > raceway.fault.current
    assert wire.fault.loop < raceway.fault.loop


@pytest.mark.parametrize(
    ("kind", "about", "place", "line"),
    [
        (ChoiceKind.GROUND, "primary", "T1", "H1"),  # what feeds a transformer: its primary
        (ChoiceKind.JUMPER, "secondary", "saw", "L1"),
        (ChoiceKind.TIE, "T1", "saw", "L1"),
        (ChoiceKind.METAL, "EGC branch", "saw", "L1"),
        (ChoiceKind.METAL, "MBJ main", "main", "L1"),
        (ChoiceKind.METAL, "GEC steel", "saw", "L1"),
    ],
)
def test_the_fault_lies_where_the_choice_matters(
    kind: ChoiceKind, about: str, place: str, line: str
) -> None:
    fault = farthest_fault(SHOP_PLAN, choice(SHOP_PLAN, kind, about))
    assert fault is not None
    assert (fault.place, fault.a, fault.b) == (place, line, "G")


def test_a_tie_where_it_belongs_puts_nothing_on_metal() -> None:
    loaded = made(SHOP, places__LP__loads=[{"on": "L1-N", "power": "5 kW"}])
    for one in compare(choice(loaded, ChoiceKind.TIE, "T1")):
        assert one.stray == 0
        assert one.fault is not None
        assert one.fault.cleared


def test_all_at_once() -> None:
    result = made(described(HOUSE, electrodes__house_rods__count=1))
    found = choices(result)
    compared = compare_all(found)
    assert [c for c, _ in compared] == list(found)
    assert all(len(ways) == len(c.ways) for c, ways in compared)
    (rods,) = [ways for c, ways in compared if c.kind is ChoiceKind.ROD]
    # A rod opens no breaker: one or two, the fault is the same.
    one, two = (way.fault for way in rods)
    assert one is not None
    assert two is not None
    assert one.current == pytest.approx(two.current, rel=0.01)


def test_only_what_lies_behind_a_run_is_asked_about_it() -> None:
    """A yard 300 ft from the service is farther than the press, and not behind the feeder."""
    site = made(
        WYE_SERVICE,
        places__yard={"kind": "equipment"},
        runs__yard_run={
            "from": "main", "to": "yard", "length": "300 ft", "lines": "6 AWG Cu", "device": "60 A",
        },
    )  # fmt: skip
    for about, place in (("feeder", "press"), ("branch", "press"), ("yard_run", "yard")):
        fault = farthest_fault(site, Choice(ChoiceKind.JUMPER, about, "", ()))
        assert fault is not None
        assert fault.place == place
