"""Names that the circuit would take for a point of its own are refused, and only those."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.site.check import problems
from bondwright.site.model import Site
from bondwright.studies.faults import FaultKind, possible_faults, study_faults


def site(**changes: Any) -> Site:
    data: dict[str, Any] = {
        "site": "names",
        "sources": {
            "utility": {
                "system": "120/240 V",
                "transformer": {"rating": "25 kVA", "impedance": "2 %"},
            }
        },
        "places": {
            "panel": {"kind": "service", "main": "100 A breaker"},
            "shop": {"kind": "panel", "main": "60 A breaker"},
        },
        "runs": {
            "service": {"from": "utility", "to": "panel", "length": "50 ft", "lines": "2 AWG Cu"},
            "feeder": {
                "from": "panel", "to": "shop", "length": "100 ft", "lines": "6 AWG Cu",
                "device": "60 A breaker",
            },
        },
    }  # fmt: skip
    for table, entries in changes.items():
        data[table] = data.get(table, {}) | entries
    return Site.model_validate(data)


SHED = {"from": "panel", "length": "400 ft", "lines": "10 AWG Cu", "device": "30 A breaker"}


@pytest.mark.parametrize("name", ["shop/in", "run feeder/out", "utility/out", "utility/emf"])
def test_a_place_named_like_a_point_of_the_circuit_is_refused(name: str) -> None:
    found = problems(site(places={name: {"kind": "panel"}}, runs={"more": {**SHED, "to": name}}))
    assert [(p.loc, p.on_key) for p in found] == [(("places", name), True)]
    assert "circuit's own name" in found[0].problem


@pytest.mark.parametrize("name", ["panel/in house", "in", "feeder/out", "shop/out", "sun/in"])
def test_other_names_with_a_slash_are_not(name: str) -> None:
    assert not problems(site(places={name: {"kind": "panel"}}, runs={"more": {**SHED, "to": name}}))


def test_metal_and_joins_named_like_points_are_refused() -> None:
    pipe = {"kind": "water pipe", "from": "panel", "to": "shop", "length": "90 ft"}
    pipe["resistance"] = "0.1 ohm"
    taps = [{"at": "20 ft", "to": "shop"}]
    rod = {"kind": "rod", "at": "panel", "resistance": "20 ohm"}
    for found, loc in (
        (site(metal={"pipe": pipe | {"taps": taps}, "pipe 2": pipe}), ("metal", "pipe 2")),
        (
            site(
                places={"electrode r": {"kind": "panel"}},
                runs={"more": {**SHED, "to": "electrode r"}},
                electrodes={"r:G": rod},
            ),
            ("electrodes", "r:G"),
        ),
    ):
        assert [p.loc for p in problems(found)] == [loc]
    assert not problems(site(metal={"pipe": pipe, "pipe 2": pipe}))


def test_a_run_may_have_the_name_of_the_source_it_leaves() -> None:
    """The device of such a run once stood beside its source's switch, with nothing between."""
    generator = {"system": "120/240 V", "rating": "10 kVA"}
    found = []
    for name in ("standby", "standby feeder"):
        made = site(
            generators={"standby": generator},
            places={"hut": {"kind": "panel"}},
            runs={name: {**SHED, "from": "standby", "to": "hut"}},
        )
        assert not problems(made)
        network = build(plan(made), loads=False)
        faults = [
            f for f in possible_faults(network, [FaultKind.LINE_TO_METAL]) if f.place == "hut"
        ]
        assert faults
        found.append([round(r.current, 6) for r in study_faults(network, faults)])
    assert found[0] == found[1]
