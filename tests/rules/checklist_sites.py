"""Sites that between them get every line of the inspection checklist."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tests.plan.sites import HOUSE, HOUSE_FOUND, SHOP, SHOP_FOUND, described


def _one_service(system: str, **more: Any) -> Any:
    """Return a site of one service with one panel and one machine, all in steel raceway."""
    emt = {"kind": "emt", "size": "1 in"}
    return {
        "site": "one service",
        "rules": "nec-2023",
        "sources": {"utility": {"system": system, "available": {"current": "20 kA"}}},
        "places": {
            "main": {"kind": "service", "main": "200 A", "building": "hall"},
            "panel": {"kind": "panel", "main": "60 A", "building": "hall"},
            "saw": {"kind": "equipment", "building": "hall"},
        },
        "runs": {
            "service": {
                "from": "utility",
                "to": "main",
                "length": "30 ft",
                "lines": "3/0 AWG Cu",
                "raceway": {"kind": "rmc", "size": "2 in"},
            },
            "feeder": {
                "from": "main",
                "to": "panel",
                "length": "50 ft",
                "lines": "6 AWG Cu",
                "device": "60 A",
                "egc": "raceway",
                "raceway": emt,
            },
            "branch": {
                "from": "panel",
                "to": "saw",
                "length": "30 ft",
                "lines": "12 AWG Cu",
                "device": "20 A",
                "egc": "raceway",
                "raceway": emt,
            },
        },
        **more,
    }


def _generator(neutral: str) -> Any:
    return described(
        HOUSE,
        generators__set={"system": "120/240 V", "rating": "20 kVA"},
        transfers__switch={"normal": "to switch", "standby": "from set", "neutral": neutral},
        places__house_panel={"kind": "panel", "building": "house"},
        runs__to_switch={
            "from": "house",
            "to": "switch",
            "length": "5 ft",
            "lines": "3/0 AWG Cu",
            "device": "200 A",
        },
        runs__from_set={
            "from": "set",
            "to": "switch",
            "length": "30 ft",
            "lines": "3 AWG Cu",
            "device": "100 A",
        },
        runs__on={"from": "switch", "to": "house panel", "length": "5 ft", "lines": "3/0 AWG Cu"},
    )


def _transformer(**changes: Any) -> Any:
    return described(SHOP, **{f"transformers__T1__{key}": value for key, value in changes.items()})


ELECTRODES = {
    "plate": {"kind": "plate", "at": "house"},
    "ring": {"kind": "ring", "at": "house"},
    "footing": {"kind": "concrete", "at": "house"},
    "pipe": {"kind": "water pipe", "at": "house"},
    "column": {"kind": "steel", "at": "house", "conductor": "2/0 AWG Al"},
}
METAL = {
    kind: {"kind": kind, "from": "house", "to": "shed", "length": "90 ft", "resistance": "0.1 ohm"}
    for kind in (
        "water pipe",
        "gas pipe",
        "structural steel",
        "duct",
        "cable shield",
        "other metal",
    )
}
OUTLETS: Any = described(
    HOUSE_FOUND,
    places__outlet={"kind": "outlet", "building": "house"},
    places__box={"kind": "box", "building": "house"},
    places__range={"kind": "equipment", "building": "house"},
    runs__to_outlet={
        "from": "house",
        "to": "outlet",
        "length": "30 ft",
        "lines": "12 AWG Cu",
        "on": ["L1"],
        "device": "20 A",
        "egc": "none",
    },
    runs__to_box={
        "from": "house",
        "to": "box",
        "length": "30 ft",
        "lines": "12 AWG Cu",
        "on": ["L1"],
        "device": "20 A",
        "egc": "12 AWG Al",
    },
    runs__to_range={
        "from": "house",
        "to": "range",
        "length": "30 ft",
        "lines": "6 AWG Cu",
        "device": "50 A",
        "egc": "none",
    },
)
SITES: Mapping[str, Callable[[], Any]] = {
    "house": lambda: HOUSE,
    "house as found": lambda: HOUSE_FOUND,
    "house 2023": lambda: described(HOUSE, rules="nec-2023"),
    "house with every electrode and metal": lambda: described(
        HOUSE, electrodes=ELECTRODES, metal=METAL
    ),
    "house with one rod": lambda: described(
        HOUSE, electrodes={"rod": {"kind": "rod", "at": "house"}}
    ),
    "electrode that is not joined": lambda: described(
        HOUSE,
        electrodes__lost={"kind": "rod", "at": "shed", "conductor": "none"},
        places__isolator={"kind": "disconnect", "building": "shed"},
        runs__to_isolator={
            "from": "shed", "to": "isolator", "length": "9 ft", "lines": "12 AWG Cu",
            "device": "20 A",
        },
    ),
    "electrode at the pump": lambda: described(
        HOUSE, electrodes__at_the_house={"kind": "rod", "at": "extra"},
        places__extra={"kind": "equipment", "building": "house"},
        runs__extra={
            "from": "house", "to": "extra", "length": "9 ft", "lines": "12 AWG Cu", "device": "20 A"
        },
    ),
    "stray tie": lambda: described(HOUSE, ties={"old screw": {"at": "shed", "by": "screw"}}),
    "strap": lambda: described(HOUSE, ties={"strap": {"at": "house", "by": "strap"}}),
    "outlets": lambda: OUTLETS,
    "shop": lambda: SHOP,
    "shop as found": lambda: SHOP_FOUND,
    "whip": lambda: described(
        SHOP,
        runs__secondary__ssbj="raceway",
        runs__secondary__raceway={"kind": "emt", "size": "2-1/2 in"},
    ),
    "outdoors": lambda: _transformer(outdoors=True),
    "two transformers": lambda: described(
        SHOP,
        transformers__T2={**SHOP["transformers"]["T1"]},
        places__LP2={"kind": "panel", "main": "200 A"},
        runs__primary_2={**SHOP["runs"]["primary"], "to": "T2"},
        runs__secondary_2={**SHOP["runs"]["secondary"], "from": "T2", "to": "LP2"},
    ),
    "auto": lambda: described(
        SHOP, transformers__T1__form="auto", transformers__T1__primary="480Y/277 V"
    ),
    "zigzag": lambda: _one_service(
        "480 V delta",
        transformers={
            "Z": {
                "primary": "480 V delta", "secondary": "480Y/277 V", "rating": "10 kVA",
                "impedance": "4 %", "form": "zigzag",
            }
        },
    ),
    "480 V wye": lambda: _one_service("480Y/277 V"),
    "wire in steel": lambda: described(
        _one_service("480Y/277 V"), runs__feeder__egc="10 AWG Cu"
    ),
    "high leg, 240 V halves": lambda: _one_service("240/480 V delta"),
    "480 V delta": lambda: _one_service("480 V delta"),
    "high leg": lambda: _one_service("120/240 V delta"),
    "corner": lambda: _one_service(
        "480 V delta", ties={"corner": {"at": "main", "line": "L2", "by": "wire"}}
    ),
    "resistor": lambda: _one_service(
        "480Y/277 V", ties={"resistor": {"at": "main", "by": "wire", "resistance": "55 ohm"}}
    ),
    "large": lambda: described(
        _one_service("480Y/277 V"),
        places__main__main="1200 A",
        runs__service__lines="4 x 350 kcmil Cu",
        runs__service__raceway={"kind": "rmc", "size": "4 in"},
        runs__feeder__lines="2 x 3/0 AWG Cu",
        runs__feeder__device="400 A",
        runs__feeder__raceway=...,
        runs__feeder__egc=...,
        places__panel__main="400 A",
    ),
    "tray": lambda: described(
        HOUSE, runs__feeder__wiring="tray", runs__feeder__needed="8 AWG Cu"
    ),
    "buried": lambda: described(HOUSE, runs__drop__wiring="direct buried"),
    "plastic": lambda: described(HOUSE, runs__feeder__raceway={"kind": "pvc", "size": "1 in"}),
    "cable": lambda: described(HOUSE, runs__circuit__wiring="cable"),
    "two disconnects": lambda: described(
        HOUSE,
        places__second={"kind": "service", "main": "100 A", "building": "house"},
        runs__riser_2={"from": "meter", "to": "second", "length": "5 ft", "lines": "3 AWG Cu"},
    ),
    "generator, solid neutral": lambda: _generator("solid"),
    "generator, switched neutral": lambda: _generator("switched"),
    "fixed generator": lambda: described(
        _generator("solid"), generators__set__portable=False
    ),
    "island": lambda: described(
        HOUSE,
        inverters__sun={"system": "120 V", "rating": "6 kVA"},
        places__cabin={"kind": "panel", "main": "40 A", "building": "cabin"},
        runs__to_cabin={
            "from": "sun", "to": "cabin", "length": "9 ft", "lines": "8 AWG Cu"
        },
    ),
    "hubs": lambda: described(
        _one_service("480Y/277 V"), runs__service__fittings="threaded hub"
    ),
    "one circuit to a hut": lambda: described(
        HOUSE,
        places__lamp={"kind": "equipment", "building": "hut"},
        runs__to_lamp={
            "from": "house", "to": "lamp", "length": "90 ft", "lines": "12 AWG Cu",
            "on": ["L1"], "device": "20 A",
        },
    ),
    "areas": lambda: described(
        HOUSE,
        rules="nec-2023",
        areas={
            f"the {kind}": {"kind": kind, "at": "shed"}
            for kind in (
                "sign", "crane", "lift", "sound system", "computer room", "tub", "pond",
                "mobile home", "vehicle pitch", "wind turbine", "livestock", "marina",
            )
        },
    ),
    "direct current": lambda: described(HOUSE, **{"direct current": {
        name: {"at": "shed", "source": source, "voltage": "48 V", "lines": "4 AWG Cu",
               "grounded": grounded}
        for name, source, grounded in (
            ("battery", "battery", "none"),
            ("charger", "rectifier", "solid"),
            ("set", "generator", "none"),
            ("line", "utility", "device"),
        )
    }}),
    "inverter": lambda: described(
        HOUSE,
        inverters__sun={"system": "120/240 V", "rating": "6 kVA"},
        runs__to_sun={
            "from": "house", "to": "sun", "length": "9 ft", "lines": "8 AWG Cu", "device": "40 A"
        },
    ),
}  # fmt: skip
