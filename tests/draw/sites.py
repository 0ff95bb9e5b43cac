"""Made-up sites to draw: the scenario of Harrow Creek Cidery, and random trees."""

from __future__ import annotations

import random
from typing import Any

from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site

FARM: dict[str, Any] = {
    "site": "Harrow Creek Cidery, farmhouse and pump house",
    "soil": "150 ohm m",
    "sources": {
        "utility": {
            "system": "120/240 V",
            "transformer": {"rating": "25 kVA", "impedance": "2.1 %", "x/r": 1.3},
            "electrode": "8 ohm",
        }
    },
    "places": {
        "meter": {"kind": "meter", "building": "farmhouse"},
        "house panel": {
            "kind": "service",
            "building": "farmhouse",
            "main": "200 A breaker",
            "loads": [{"on": "L1-N", "power": "2.6 kW"}, {"on": "L1-L2", "power": "4.5 kW"}],
        },
        "pump house panel": {"kind": "panel", "building": "pump house", "main": "40 A breaker"},
        "well pump": {
            "kind": "equipment",
            "building": "pump house",
            "loads": [{"on": "L1-L2", "power": "1.6 kW", "pf": 0.82}],
        },
    },
    "runs": {
        "drop": {
            "from": "utility",
            "to": "meter",
            "length": "90 ft",
            "wiring": "overhead",
            "lines": "4/0 AWG Al",
        },
        "entrance": {
            "from": "meter",
            "to": "house panel",
            "length": "12 ft",
            "lines": "2/0 AWG Cu",
        },
        "feeder": {
            "from": "house panel",
            "to": "pump house panel",
            "device": "60 A breaker",
            "length": "220 ft",
            "lines": "4 AWG Cu",
            "neutral": "4 AWG Cu",
            "egc": "8 AWG Cu",
        },
        "pump branch": {
            "from": "pump house panel",
            "to": "well pump",
            "device": "20 A breaker",
            "length": "45 ft",
            "lines": "12 AWG Cu",
            "on": ["L1", "L2"],
            "neutral": "none",
            "egc": "12 AWG Cu",
        },
    },
    "electrodes": {
        "house rods": {"kind": "rod", "at": "house panel", "length": "8 ft", "diameter": "5/8 in"}
    },
    "metal": {
        "water line": {
            "kind": "water pipe",
            "from": "house panel",
            "to": "pump house panel",
            "length": "210 ft",
            "resistance/length": "0.07 ohm/kft",
        }
    },
}

PRESS: dict[str, Any] = {
    "site": "Harrow Creek Cidery, press hall",
    "describes": "as found",
    "soil": "100 ohm m",
    "sources": {
        "utility": {"system": "480Y/277 V", "available": {"current": "22 kA", "x/r": 6}},
    },
    "places": {
        "switchboard": {"kind": "service", "building": "press hall", "main": "400 A breaker"},
        "bottling line": {"kind": "equipment", "building": "press hall"},
        "receptacle panel": {"kind": "panel", "building": "press hall", "main": "150 A breaker"},
        "office panel": {"kind": "panel", "building": "office", "main": "60 A breaker"},
        "server rack": {"kind": "equipment", "building": "office"},
        "kitchen outlet": {"kind": "outlet", "building": "office"},
    },
    "transformers": {
        "T1": {
            "primary": "480 V delta",
            "secondary": "208Y/120 V",
            "rating": "45 kVA",
            "impedance": "3.5 %",
            "building": "press hall",
        }
    },
    "runs": {
        "service": {
            "from": "utility",
            "to": "switchboard",
            "length": "60 ft",
            "lines": "500 kcmil Cu",
            "neutral": "2/0 AWG Cu",
            "raceway": {"kind": "rmc", "size": "3 in"},
        },
        "bottling feeder": {
            "from": "switchboard",
            "to": "bottling line",
            "device": "100 A breaker",
            "length": "130 ft",
            "lines": "3 AWG Cu",
            "neutral": "none",
            "raceway": {"kind": "emt", "size": "1-1/4 in"},
            "egc": "raceway",
        },
        "T1 primary": {
            "from": "switchboard",
            "to": "T1",
            "device": "70 A breaker",
            "length": "40 ft",
            "lines": "4 AWG Cu",
            "neutral": "none",
            "egc": "8 AWG Cu",
        },
        "T1 secondary": {
            "from": "T1",
            "to": "receptacle panel",
            "length": "15 ft",
            "lines": "1/0 AWG Cu",
            "neutral": "1/0 AWG Cu",
            "ssbj": "6 AWG Cu",
        },
        "office feeder": {
            "from": "receptacle panel",
            "to": "office panel",
            "device": "60 A breaker",
            "length": "150 ft",
            "lines": "6 AWG Cu",
            "neutral": "6 AWG Cu",
            "egc": "10 AWG Cu",
        },
        "server circuit": {
            "from": "office panel",
            "to": "server rack",
            "device": "30 A breaker",
            "length": "35 ft",
            "lines": "10 AWG Cu",
            "on": ["L2"],
            "egc": "10 AWG Cu",
        },
        "kitchen circuit": {
            "from": "office panel",
            "to": "kitchen outlet",
            "device": "20 A breaker",
            "length": "50 ft",
            "lines": "12 AWG Cu",
            "on": ["L1"],
            "egc": "12 AWG Cu",
        },
    },
    "ties": {
        "main tie": {"at": "switchboard", "by": "bus"},
        "extra": {"at": "office panel", "by": "screw"},
    },
    "electrodes": {
        "water main": {
            "kind": "water pipe",
            "at": "switchboard",
            "conductor": "2/0 AWG Cu",
            "length": "20 ft",
            "resistance": "3 ohm",
        },
        "office rod": {
            "kind": "rod",
            "at": "office panel",
            "length": "8 ft",
            "diameter": "5/8 in",
            "conductor": "none",
        },
    },
}

HOSTILE = (
    '<script>alert("x")</script>',
    "]]>&amp;<!--",
    "panel 🍎 苹果酒 панель",
    "a" * 80,
    "' onload='x",
    "W" * 40 + " " + "ﷺ" * 30,
)


def planned(site: dict[str, Any]) -> Plan:
    """Return the plan of a site given as data."""
    return plan(Site.model_validate(site))


def random_site(count: int, seed: int = 3) -> dict[str, Any]:
    """Return a site with so many places."""
    draw = random.Random(seed)
    places: dict[str, Any] = {
        "switchboard": {"kind": "service", "main": "800 A breaker", "building": "cellar hall"}
    }
    runs: dict[str, Any] = {
        "service": {
            "from": "utility",
            "to": "switchboard",
            "length": "50 ft",
            "lines": "2 x 500 kcmil Cu",
        }
    }
    electrodes: dict[str, Any] = {}
    panels = ["switchboard"]
    for k in range(1, count):
        up = draw.choice(panels)
        leaf = draw.random() < 0.6
        name = f"{'outlet' if leaf else 'panel'} {k}"
        near = draw.random() < 0.8
        building = places[up]["building"] if near else draw.choice(["press hall", "barn"])
        places[name] = {"kind": "outlet" if leaf else "panel", "building": building}
        if not leaf:
            places[name]["main"] = "60 A breaker"
            panels.append(name)
        runs[f"circuit {k}"] = {
            "from": up,
            "to": name,
            "length": f"{draw.randint(10, 300)} ft",
            "lines": "10 AWG Cu",
            "device": "30 A breaker",
            "egc": "10 AWG Cu",
        }
        if draw.random() < 0.08:
            electrodes[f"rod {k}"] = {
                "kind": "rod",
                "at": name,
                "length": "8 ft",
                "diameter": "5/8 in",
            }
    return {
        "site": f"Harrow Creek Cidery, {count} places",
        "soil": "100 ohm m",
        "sources": {"utility": {"system": "208Y/120 V", "available": {"current": "20 kA"}}},
        "places": places,
        "runs": runs,
        "electrodes": electrodes,
    }


def hostile_site() -> dict[str, Any]:
    """Return a site whose ids try to break out of the drawing."""
    a, b, c, d, e, f = HOSTILE
    run = {"length": "10 ft", "lines": "4 AWG Cu", "device": "60 A breaker"}
    return {
        "site": f"Harrow Creek {a} {c}",
        "sources": {a: {"system": "120/240 V", "available": {"current": "5 kA"}}},
        "places": {
            b: {"kind": "service", "main": "100 A breaker", "building": e},
            c: {"kind": "panel", "building": f},
            d: {"kind": "panel", "building": d},
            f: {"kind": "equipment"},
        },
        "runs": {
            a: {**run, "from": a, "to": b},
            b: {**run, "from": b, "to": c},
            d: {**run, "from": b, "to": d},
            f: {**run, "from": c, "to": f},
        },
        "electrodes": {e: {"kind": "plate", "at": b, "resistance": "30 ohm"}},
        "metal": {
            a: {"kind": "duct", "from": b, "to": f, "length": "9 ft", "resistance": "1 mohm"}
        },
    }
