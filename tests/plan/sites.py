"""Small sites for the tests of rules and plan, as a person would describe them."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from bondwright.plan.build import plan
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.rules.answer import Finding
from bondwright.site.check import problems
from bondwright.site.model import Site
from tests.plan import whole

Described = dict[str, Any]


def described(base: Described, **changes: Any) -> Described:
    """Return a copy with changes; a key "runs.feeder.egc" (dots as double underscores) reaches in.

    A value of ``...`` removes the key.
    """
    copy = deepcopy(base)
    for path, value in changes.items():
        *way, last = [step.replace("_", " ") for step in path.split("__")]
        here = copy
        for step in way:
            here = here.setdefault(step, {})
        if value is ...:
            del here[last]
        else:
            here[last] = value
    return copy


def planned(base: Described, **changes: Any) -> Plan:
    """Return the plan of a site that the reader would accept, found whole."""
    site = Site.model_validate(described(base, **changes))
    wrong = problems(site)
    if wrong:
        raise ValueError(str(wrong))
    return built(site)


def built(site: Described | Site) -> Plan:
    """Return the plan of a site built in code, which the reader may refuse, found whole."""
    made = plan(site if isinstance(site, Site) else Site.model_validate(site))
    whole.check(made)
    return made


def rules_of(result: Plan) -> set[str]:
    """Return the ids of all findings."""
    return {finding.rule for finding in result.findings}


def findings(result: Plan, rule: str) -> list[Finding]:
    """Return the findings of a rule."""
    return [finding for finding in result.findings if finding.rule == rule]


def finding(result: Plan, rule: str, where: str | None = None) -> Finding:
    """Return the one finding of a rule."""
    (found,) = [f for f in findings(result, rule) if where in (None, f.where)]
    return found


def item(result: Plan, id: str) -> ScheduleItem:
    """Return a row of the schedule."""
    (found,) = [row for row in result.schedule if row.id == id]
    return found


UTILITY: Described = {
    "system": "120/240 V",
    "transformer": {"rating": "25 kVA", "impedance": "2 %"},
}

HOUSE: Described = {
    "site": "house and shed",
    "rules": "nec-2020",
    "sources": {"utility": UTILITY},
    "places": {
        "meter": {"kind": "meter"},
        "house": {"kind": "service", "main": "200 A", "building": "house"},
        "shed": {"kind": "panel", "main": "60 A", "building": "shed"},
        "pump": {"kind": "equipment", "building": "shed"},
    },
    "runs": {
        "drop": {
            "from": "utility",
            "to": "meter",
            "length": "100 ft",
            "lines": "4/0 AWG Al",
            "wiring": "overhead",
        },
        "riser": {"from": "meter", "to": "house", "length": "10 ft", "lines": "3/0 AWG Cu"},
        "feeder": {
            "from": "house",
            "to": "shed",
            "length": "200 ft",
            "lines": "6 AWG Cu",
            "device": "60 A",
        },
        "circuit": {
            "from": "shed",
            "to": "pump",
            "length": "20 ft",
            "lines": "10 AWG Cu",
            "neutral": "none",
            "device": "30 A",
        },
    },
    "electrodes": {
        "house rods": {"kind": "rod", "at": "house", "count": 2},
        "shed rods": {"kind": "rod", "at": "shed", "count": 2},
    },
}

HOUSE_FOUND = described(
    HOUSE,
    describes="as found",
    ties={
        "meter bond": {"at": "meter", "by": "bus"},
        "green screw": {"at": "house", "by": "screw"},
    },
    runs__feeder__egc="10 AWG Cu",
    runs__circuit__egc="10 AWG Cu",
    electrodes__house_rods__conductor="6 AWG Cu",
    electrodes__shed_rods__conductor="6 AWG Cu",
)
"""As the plan of HOUSE would have it: nothing wrong."""

SHOP: Described = {
    "site": "shop",
    "rules": "nec-2020",
    "sources": {"utility": {"system": "480Y/277 V", "available": {"current": "20 kA"}}},
    "transformers": {
        "T1": {
            "primary": "480 V delta",
            "secondary": "208Y/120 V",
            "rating": "75 kVA",
            "impedance": "4 %",
        }
    },
    "places": {
        "main": {"kind": "service", "main": "400 A"},
        "LP": {"kind": "panel", "main": "200 A"},
        "saw": {"kind": "equipment"},
    },
    "runs": {
        "service": {"from": "utility", "to": "main", "length": "50 ft", "lines": "500 kcmil Cu"},
        "primary": {
            "from": "main",
            "to": "T1",
            "length": "30 ft",
            "lines": "2 AWG Cu",
            "device": "125 A",
        },
        "secondary": {"from": "T1", "to": "LP", "length": "10 ft", "lines": "350 kcmil Cu"},
        "branch": {
            "from": "LP",
            "to": "saw",
            "length": "50 ft",
            "lines": "12 AWG Cu",
            "device": "20 A",
        },
    },
    "electrodes": {"steel": {"kind": "steel", "at": "main"}},
}

SHOP_FOUND = described(
    SHOP,
    describes="as found",
    ties={"main screw": {"at": "main", "by": "screw"}, "strap": {"at": "T1", "by": "strap"}},
    runs__primary__egc="6 AWG Cu",
    runs__secondary__ssbj="2 AWG Cu",
    runs__branch__egc="12 AWG Cu",
    electrodes__steel__conductor="1/0 AWG Cu",
    electrodes__steel_at_T1={"kind": "steel", "at": "T1", "conductor": "2 AWG Cu"},
)
"""As the plan of SHOP would have it: nothing wrong."""
