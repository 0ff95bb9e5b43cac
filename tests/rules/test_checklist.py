"""The inspection checklist: which lines a plan gets, in which order, with which sizes.

Sizes are those of tables 250.66, 250.102(C)(1) and 250.122 (tests/reference); which lines belong
where is common practice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

import pytest

from bondwright.catalog.parameters import EDITIONS
from bondwright.plan.model import Plan
from bondwright.rules.checklist import (
    STAGES,
    ChecklistItem,
    ChecklistLine,
    Feature,
    checklist,
    items,
)
from bondwright.rules.editions import catalogue
from bondwright.rules.walk import KINDS, NO_SIZE, walk
from tests.plan.sites import HOUSE, HOUSE_FOUND, described, planned
from tests.rules.checklist_sites import SITES

EVERYTHING = dict.fromkeys(Feature, True)


@cache
def plan_of(name: str) -> Plan:
    if name == "zigzag":
        site = SITES[name]()
        site["runs"]["to Z"] = {
            "from": "main", "to": "Z", "length": "9 ft", "lines": "10 AWG Cu", "device": "30 A"
        }  # fmt: skip
        return planned(site)
    return planned(SITES[name]())


@cache
def lines_of(name: str, told: bool = False) -> tuple[ChecklistLine, ...]:
    return checklist(plan_of(name), EVERYTHING if told else {})


def line(name: str, id: str, where: str | None = None) -> ChecklistLine:
    (found,) = [x for x in lines_of(name) if x.id == id and where in (None, x.where)]
    return found


def ids(name: str, where: str | None = None) -> set[str]:
    return {x.id for x in lines_of(name) if where in (None, x.where)}


# --- the data ---------------------------------------------------------------------------------

ITEMS = pytest.mark.parametrize("item", items().values(), ids=items().keys())
TOUCH = re.compile(
    r"\b(clamp|jumper|electrode conductor|equipment grounding conductor|neutral|bonding screw|"
    r"strap|ground of|bond|pipe)\b",
    re.IGNORECASE,
)


def test_there_are_lines_of_every_kind() -> None:
    assert len(items()) >= 60
    assert {item.about for item in items().values()} == set(KINDS)
    assert {item.stage for item in items().values()} == set(STAGES)


def test_no_id_is_also_a_rule() -> None:
    assert not set(items()) & set(catalogue())


@ITEMS
def test_a_line_is_whole(item: ChecklistItem) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)+", item.id)
    assert item.about in KINDS
    assert item.stage in STAGES
    assert item.decides
    assert item.clauses
    assert set(item.clauses) <= set(EDITIONS)
    for text in item.clauses.values():
        assert all(re.match(r"\d{3}\.\d+", one) for one in text.split(", "))
    for text in (item.look, item.right):
        assert len(text) > 20
        assert text[-1] in ".?"
    assert item.why.endswith(".")
    assert not re.search(r"[.!?] [A-Z]", item.why), "one sentence for an apprentice"


DANGER = "Danger: do not open this conductor."


@ITEMS
def test_the_danger_comes_first(item: ChecklistItem) -> None:
    dangers = [text for text in item.care if text.startswith(DANGER)]
    covers = [text for text in item.care if text.startswith("Covers come off only with the supply")]
    if dangers:
        assert item.care[0] == dangers[0]
    if covers:
        assert dangers, "whoever opens an enclosure has a bond within reach"
    near = item.look + " " + item.right
    if TOUCH.search(near) and item.stage != "records" and not item.id.startswith("ask-"):
        careful = dangers or any("water" in text or "seal" in text for text in item.care)
        assert careful or item.id in HANDS_OFF, "near a conductor, and no caution"


HANDS_OFF = frozenset(
    {
        "generator-receptacles",
        "generator-sign",
        "old-receptacle-without-ground",
        "switch-plate-bonded",
    }
)
"""Lines that name a conductor and are answered by looking from outside."""


@pytest.mark.parametrize("id", sorted(HANDS_OFF))
def test_hands_off_lines_are_still_needed(id: str) -> None:
    item = items()[id]
    assert TOUCH.search(f"{item.look} {item.right}")
    assert not item.care


INSIDE = re.compile(
    r"^(?:In|See) .*\b(?:bar|bars|screw of|on its insulators|inside|poles)\b|under each screw"
)


@ITEMS
def test_inside_an_enclosure_only_dead(item: ChecklistItem) -> None:
    if INSIDE.search(item.look) and item.about in {"place", "tie", "transformer", "transfer"}:
        assert any("proved dead" in text for text in item.care)


@ITEMS
def test_nobody_is_told_to_work_live(item: ChecklistItem) -> None:
    text = f"{item.look} {item.right}".lower()
    assert not re.search(r"\b(?:energi[sz]ed?|while live|power on|switched on)\b", text)
    assert not re.search(
        r"\b(?:lift|open|disconnect|loosen|undo|tighten|unscrew)\b (?:the|a|its|each) ", text
    )
    for word in re.findall(r"[^.;:]*\blive\b[^.;:]*", text):
        assert re.search(r"don't|never|could become|could make|make the|live pins|makes?", word), (
            word
        )


@ITEMS
def test_a_rod_is_never_the_cure(item: ChecklistItem) -> None:
    text = f"{item.look} {item.right}"
    for sentence in re.split(r"[.;:]", text):
        if re.search(r"\brod\b", sentence) and re.search(
            r"\b(?:tingle|fault path|ground)\b", sentence
        ):
            assert re.search(r"\b(?:no|not|neither|whether|replaces nothing)\b", sentence), sentence


# --- which lines ------------------------------------------------------------------------------


def _seen(id: str) -> set[str]:
    return {name for name in SITES for x in lines_of(name, told=True) if x.id == id}


@ITEMS
def test_a_line_applies_somewhere_and_not_everywhere(item: ChecklistItem) -> None:
    if item.id.startswith("ask-"):
        assert item.id in ids("house")
        assert not _seen(item.id)
        return
    seen = _seen(item.id)
    assert seen, "no site here gets it: a fact that nothing has?"
    spots = [s for name in SITES for s in walk(plan_of(name)) if s.kind == item.about]
    got = {(name, x.where) for name in SITES for x in lines_of(name, told=True) if x.id == item.id}
    if (item.needs or item.unless) and item.about != "site":
        assert len(got) < len(spots), "its conditions leave nothing out"


def test_every_fact_asked_for_is_one_that_is_known() -> None:
    known = {fact for name in SITES for spot in walk(plan_of(name)) for fact in spot.facts}
    known |= {f"{f.value}{mark}" for f in Feature for mark in ("", "?")}
    asked = {fact for item in items().values() for any_of in item.needs for fact in any_of}
    asked |= {fact for item in items().values() for fact in item.unless}
    assert asked - known == set()


@pytest.mark.parametrize(
    ("name", "where", "has", "has_not"),
    [
        ("house", "house rods", {"rods-apart", "rod-full-length"}, {"rod-resistance-record"}),
        ("house with one rod", "rod", {"rod-resistance-record"}, {"rods-apart"}),
        ("house with every electrode and metal", "pipe",
         {"water-meter-jumper", "water-pipe-near-entry", "electrode-clamp-reach"}, {"rod-top"}),
        ("house with every electrode and metal", "footing",
         {"rebar-clamp-before-pour", "rebar-bare-and-long"}, {"electrode-clamp-reach"}),
        ("house with every electrode and metal", "column",
         {"electrode-conductor-aluminium"}, {"rod-marked"}),
        ("house with every electrode and metal", "gas pipe",
         {"gas-pipe-bond", "gas-pipe-no-electrode"}, {"water-pipe-jumper"}),
        ("house", "house", {"service-neutral-lands", "fault-current-mark"},
         {"load-side-neutral-apart", "building-disconnect-neutral", "ground-fault-test-record"}),
        ("house", "shed", {"building-disconnect-neutral"}, {"service-neutral-lands"}),
        ("480 V wye", "panel", {"load-side-neutral-apart"}, {"building-disconnect-neutral"}),
        ("480 V wye", "feeder", {"raceway-over-250", "raceway-fittings"}, {"ground-wire-size"}),
        ("high leg", "feeder", {"raceway-fittings"}, {"raceway-over-250"}),
        ("480 V delta", "feeder", {"raceway-over-250"}, set()),
        ("480 V wye", "service", {"service-raceway-bonded", "service-bushing-jumper"},
         {"raceway-over-250", "raceway-continuous"}),
        ("480 V wye", "main", set(), {"ground-fault-test-record", "ungrounded-mark"}),
        ("large", "main", {"ground-fault-test-record", "ground-fault-sensor-side"}, set()),
        ("large", "feeder", {"ground-wire-parallel"}, {"raceway-fittings"}),
        ("480 V delta", "main", {"ungrounded-mark", "ground-detector-works"},
         {"service-neutral-lands"}),
        ("corner", "main", {"grounded-corner-mark"}, {"ungrounded-mark", "high-leg-mark"}),
        ("high leg", "panel", {"high-leg-mark"}, {"grounded-corner-mark"}),
        ("resistor", "resistor", {"impedance-join"}, {"tie-wire"}),
        ("strap", "strap", {"tie-strap"}, {"tie-screw", "tie-wire"}),
        # The join stands at T1, so the neutral is apart from the metal at its first disconnect.
        ("shop", "LP", {"load-side-neutral-apart"}, set()),
        ("stray tie", "old screw", {"stray-tie"}, {"tie-screw", "tie-attached"}),
        ("shop", "T1", {"transformer-electrode-conductor", "transformer-area-metal"},
         {"transformer-outdoors", "transformer-common-conductor"}),
        ("outdoors", "T1", {"transformer-outdoors"}, set()),
        ("two transformers", "T1", {"transformer-common-conductor"}, set()),
        ("auto", "T1", {"autotransformer-no-tie"}, {"transformer-electrode-conductor"}),
        ("zigzag", "Z", {"zigzag-sheet"}, {"transformer-ground-bar"}),
        ("shop as found", "secondary", {"supply-jumper-wire"}, {"supply-jumper-raceway"}),
        ("whip", "secondary", {"supply-jumper-raceway"}, {"supply-jumper-wire"}),
        ("generator, solid neutral", "set", {"generator-no-join"}, {"generator-one-join"}),
        ("generator, switched neutral", "set", {"generator-one-join"}, {"generator-no-join"}),
        ("generator, solid neutral", "switch", {"transfer-neutral-solid"},
         {"transfer-neutral-switched"}),
        ("two disconnects", "second", {"several-disconnects-bonded"}, set()),
        ("house", "house", set(), {"several-disconnects-bonded"}),
        ("outlets", "outlet", {"old-receptacle-without-ground", "receptacle-bonded"}, set()),
        ("outlets", "range", {"appliance-old-circuit"}, {"well-casing"}),
        ("house", "pump", {"well-casing", "cord-and-plug"}, {"appliance-old-circuit"}),
        ("electrode at the pump", "at the house", {"auxiliary-has-ground"}, set()),
        ("house", "house rods", set(), {"auxiliary-has-ground"}),
        ("electrode that is not joined", "lost", {"rod-full-length"},
         {"electrode-conductor-size", "electrode-clamp-one"}),
        ("electrode that is not joined", "isolator", {"load-side-neutral-apart"}, set()),
        ("large", "feeder", {"ground-wire-colour"}, {"ground-wire-protected"}),
        ("house", "feeder", {"ground-wire-protected"}, set()),
        ("wire in steel", "feeder", {"ground-wire-size", "raceway-continuous"},
         {"raceway-fittings"}),
        ("high leg, 240 V halves", "feeder", {"raceway-over-250"}, set()),
        ("cable", "circuit", {"cable-armour"}, {"raceway-continuous"}),
        ("480 V delta", "main", {"electrode-conductor-lands-ungrounded"},
         {"electrode-conductor-lands"}),
        ("480 V wye", "main", {"electrode-conductor-lands"},
         {"electrode-conductor-lands-ungrounded"}),
        ("generator, solid neutral", "set", {"generator-receptacles", "generator-portable"}, set()),
        ("fixed generator", "set", {"generator-sign"},
         {"generator-receptacles", "generator-portable"}),
        ("inverter", "sun", {"inverter-ground"}, {"island-neutral"}),
        ("island", "sun", {"island-neutral"}, set()),
        ("hubs", "service", {"service-raceway-bonded"}, {"service-bushing-jumper"}),
        # 250.32(A), exception: one branch circuit with its ground asks for no electrode.
        ("one circuit to a hut", "lamp", {"fixed-equipment-frame"},
         {"other-electrodes", "footing-steel-caught"}),
        ("house", "shed", {"other-electrodes", "footing-steel-caught"}, set()),
        ("house with every electrode and metal", "gas pipe", {"metal-dc-blocker"}, set()),
        ("house with every electrode and metal", "duct", {"duct-bond"}, {"metal-dc-blocker"}),
        ("areas", "the sign", {"sign-metal"}, {"crane-bond", "lift-car"}),
        ("areas", "the crane", {"crane-bond"}, {"sign-metal"}),
        ("areas", "the lift", {"lift-car"}, {"crane-bond"}),
        ("areas", "the sound system", {"sound-system-ground"}, {"crane-bond"}),
        ("areas", "the computer room", {"computer-room-ground"}, {"crane-bond"}),
        ("areas", "the tub", {"tub-metal"}, {"pond-plane"}),
        ("areas", "the pond", {"pond-plane"}, {"dock-plane"}),
        ("areas", "the mobile home", {"mobile-home-neutral", "mobile-home-frame"},
         {"vehicle-pitch-ground"}),
        ("areas", "the vehicle pitch", {"vehicle-pitch-ground"}, {"mobile-home-frame"}),
        ("areas", "the wind turbine", {"turbine-tower"}, {"sign-metal"}),
        ("areas", "the livestock", {"farm-supply", "livestock-ground-insulated"}, {"pond-plane"}),
        ("areas", "the marina", {"dock-plane"}, {"pond-plane"}),
        ("direct current", "battery", {"dc-mark", "dc-detector", "battery-sheet"},
         {"dc-join-one", "dc-electrode-conductor-seen"}),
        ("direct current", "charger", {"dc-mark", "dc-join-one", "dc-electrode-conductor-seen"},
         {"dc-detector", "battery-sheet"}),
        ("direct current", "set", {"dc-detector", "dc-electrode-conductor-seen"},
         {"dc-join-one", "battery-sheet"}),
    ],
)  # fmt: skip
def test_lines_of_a_spot(name: str, where: str, has: set[str], has_not: set[str]) -> None:
    found = ids(name, where)
    assert found, f"nothing is looked at at {where}"
    assert has - found == set()
    assert has_not & found == set()


@pytest.mark.parametrize("feature", Feature)
def test_a_feature_is_asked_answered_or_absent(feature: Feature) -> None:
    plan = plan_of("house")
    question = {
        Feature.LIGHTNING: "ask-lightning",
        Feature.HEALTH_CARE: "ask-health-care",
        Feature.ISOLATED_GROUND: "ask-isolated-ground",
        Feature.SPECIAL: "ask-special-equipment",
    }.get(feature, f"ask-{feature.value}")
    asked = {x.id for x in checklist(plan)}
    yes = {x.id for x in checklist(plan, {feature: True})}
    no = {x.id for x in checklist(plan, {feature: False})}
    assert question in asked
    assert asked - no == {question}
    assert no < yes
    assert yes - no
    assert all(feature.value in str(sorted(map(sorted, items()[id].needs))) for id in yes - no)


def test_the_edition_decides() -> None:
    """250.64(G) is new in 2023 (licence-renewal page, forum thread)."""
    assert "electrode-conductor-vent" not in ids("house")
    assert "electrode-conductor-vent" in ids("house 2023")
    assert line("house", "rod-top", "house rods").clause == "NEC 2020 250.53(G)"
    assert line("house 2023", "rod-top", "house rods").clause == "NEC 2023 250.53(A)(4)"
    assert line("stray tie", "stray-tie").clause == "NEC 2020 250.24(A)(5)"
    # 555.14 is new in 2023 (two public pages).
    assert "dock-plane" not in {
        x.id for x in checklist(planned(described(SITES["areas"](), rules="nec-2020")))
    }


# --- what is filled in ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "id", "where", "size"),
    [
        # Table 250.66, 3/0 AWG Cu supply: 4 AWG; to rods only 6 AWG (250.66(A)).
        ("house", "electrode-conductor-size", "house rods", "6 AWG Cu"),
        # Table 250.66, 6 AWG Cu feeder: 8 AWG.
        ("house", "electrode-conductor-size", "shed rods", "8 AWG Cu"),
        # Table 250.122, 60 A: 10 AWG.
        ("house", "ground-wire-size", "feeder", "10 AWG Cu"),
        ("house", "feeder-ground-to-building", "feeder", "10 AWG Cu"),
        # Table 250.102(C)(1), 3/0 AWG Cu: 4 AWG.
        ("house", "tie-wire", None, "4 AWG Cu"),
        ("strap", "tie-strap", "strap", "4 AWG Cu"),
        # Table 250.102(C)(1), 350 kcmil Cu: 2 AWG.
        ("shop", "supply-jumper-wire", "secondary", "2 AWG Cu"),
        # The same by raceway: 350 kcmil in each of four.
        ("large", "service-bushing-jumper", "service", "2 AWG Cu"),
        ("480 V wye", "service-bushing-jumper", "service", "4 AWG Cu"),
        # Table 250.122, 400 A: 3 AWG, one of full size for each of two sets.
        ("large", "ground-wire-parallel", "feeder", "2 x 3 AWG Cu"),
        # 250.104(A): table 250.102(C)(1) on 3/0 AWG Cu.
        ("house with every electrode and metal", "water-pipe-jumper", "water pipe", "4 AWG Cu"),
    ],
)  # fmt: skip
def test_sizes_are_those_of_the_plan(name: str, id: str, where: str | None, size: str) -> None:
    assert size in line(name, id, where).right


def test_a_size_that_nobody_knows_is_said_to_be_unknown() -> None:
    auxiliary = line("electrode at the pump", "electrode-conductor-size", "at the house")
    assert NO_SIZE in auxiliary.right


def test_what_is_not_described_is_not_made_up() -> None:
    """As found without a size: the least is asked, and nothing is said to be there."""
    plan = planned(described(HOUSE_FOUND, electrodes__house_rods__conductor=...))
    (found,) = [
        x for x in checklist(plan) if x.id == "electrode-conductor-size" and x.where == "house rods"
    ]
    assert found.right == "6 AWG Cu or larger; the least is 6 AWG Cu."


@pytest.mark.parametrize("name", SITES)
def test_every_blank_is_filled(name: str) -> None:
    for x in lines_of(name, told=True):
        assert "{" not in x.look + x.right
        assert x.clause.startswith(f"NEC {plan_of(name).site.rules.removeprefix('nec-')} ")
        assert x.look[0].isupper() or x.look[0].isdigit()
        assert x.right[0].isupper() or x.right[0].isdigit()


def test_a_label_with_braces_is_left_alone() -> None:
    site = described(HOUSE, electrodes={"{size} rods": {"kind": "rod", "at": "house", "count": 2}})
    looks = [x.look for x in checklist(planned(site)) if x.id == "rod-top"]
    assert looks == ["See the upper end of {size} rods and its clamp."]


# --- the walk ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SITES)
def test_walking_order(name: str) -> None:
    plan = plan_of(name)
    stops = list(dict.fromkeys(x.place for x in lines_of(name)))
    assert stops[0] == "site"
    order = {place: index for index, place in enumerate(plan.topology.order)}
    indices = [order[stop] for stop in stops[1:]]
    assert indices == sorted(indices)
    assert len(stops) == len(set(stops))


@pytest.mark.parametrize("name", SITES)
def test_everything_is_walked_past_once(name: str) -> None:
    plan = plan_of(name)
    spots = [(spot.kind, spot.id) for spot in walk(plan)]
    assert len(spots) == len(set(spots))
    site = plan.site
    tables: Mapping[str, Any] = {
        "source": site.sources,
        "place": site.places,
        "run": site.runs,
        "tie": {tie.id: tie for tie in plan.ties},
        "electrode": site.electrodes,
        "metal": site.metal,
        "transformer": site.transformers,
        "generator": site.generators,
        "inverter": site.inverters,
        "transfer": site.transfers,
    }
    for kind, table in tables.items():
        assert {id for what, id in spots if what == kind} == set(table)
    assert spots[0] == ("site", "site")


@pytest.mark.parametrize("name", ["house", "shop as found"])
def test_same_plan_same_list(name: str) -> None:
    plan = plan_of(name)
    before = plan.schedule, plan.findings, dict(plan.runs)
    assert checklist(plan) == checklist(plan)
    assert before == (plan.schedule, plan.findings, dict(plan.runs))
