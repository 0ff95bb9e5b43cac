"""Small sites whose currents can be worked out by hand, and whole sites of many kinds."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from bondwright.network.build import Network, build
from bondwright.site.reader import load
from tests.catalog.reference import rows, size_name
from tests.plan.sites import Described, described, planned

EXAMPLE = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"

OHM_PER_FT = {
    f"{size_name(row['size'])} {metal}": float(row[column]) / 1000
    for row in rows("chapter9_table8_dc.csv")
    if "solid" not in row["size"]
    for metal, column in (("Cu", "cu_uncoated_ohm_kft"), ("Al", "al_ohm_kft"))
}
"""Resistance at 75 degC by NEC Chapter 9 Table 8 (stranded, uncoated), ohm/ft."""

BENCH: Described = {
    "site": "test bench",
    "describes": "as found",
    "sources": {
        "bench": {
            "system": "120 V",
            "available": {"current": "12 kA", "x/r": 0.001},
            "electrode": "10 ohm",
        }
    },
    "places": {
        "main": {"kind": "service", "main": "60 A breaker"},
        "far": {"kind": "equipment"},
    },
    "runs": {
        "supply": {"from": "bench", "to": "main", "length": "1 ft", "lines": "6 AWG Cu"},
        "branch": {
            "from": "main",
            "to": "far",
            "length": "100 ft",
            "lines": "12 AWG Cu",
            "egc": "12 AWG Cu",
            "device": "20 A breaker",
        },
    },
    "ties": {"bond": {"at": "main", "by": "bus", "resistance": "0 ohm"}},
    "electrodes": {
        "rod": {"kind": "rod", "at": "main", "resistance": "25 ohm", "conductor": "6 AWG Cu"}
    },
}
"""Wires so thin that their reactance changes a magnitude by less than 0.2 %: Ohm's law serves."""

BENCH_SOURCE_OHM = 120 / 12_000

SUBPANEL: Described = {
    "site": "training rig",
    "describes": "as found",
    "sources": {"bench": {"system": "120 V", "available": {"current": "2 kA"}}},
    "places": {
        "main": {"kind": "service", "main": "60 A breaker"},
        "sub": {"kind": "panel", "loads": [{"on": "L1-N", "power": "1.2 kW"}]},
    },
    "runs": {
        "supply": {"from": "bench", "to": "main", "length": "10 ft", "lines": "6 AWG Cu"},
        "feeder": {
            "from": "main",
            "to": "sub",
            "length": "60 ft",
            "lines": "6 AWG Cu",
            "egc": "6 AWG Cu",
            "device": "30 A breaker",
        },
    },
    "ties": {
        "bond": {"at": "main", "by": "screw"},
        "stray screw": {"at": "sub", "by": "bus", "resistance": "0 ohm"},
    },
    "electrodes": {
        "rod": {"kind": "rod", "at": "main", "resistance": "25 ohm", "conductor": "6 AWG Cu"}
    },
}
"""Two panels and a second tie in the second."""

WYE_SERVICE: Described = {
    "site": "print shop",
    "sources": {"utility": {"system": "208Y/120 V", "available": {"current": "14 kA"}}},
    "places": {
        "main": {
            "kind": "service",
            "main": "200 A",
            "loads": [{"on": "L1-N", "power": "5 kW"}, {"on": "L1-L2-L3", "power": "9 kW"}],
        },
        "panel": {
            "kind": "panel",
            "main": "100 A",
            "loads": [{"on": "L1-N", "power": "3 kW"}, {"on": "L2-N", "power": "1 kW", "pf": 0.8}],
        },
        "press": {"kind": "equipment", "loads": [{"on": "L2-L3", "power": "2 kW"}]},
    },
    "runs": {
        "service": {"from": "utility", "to": "main", "length": "40 ft", "lines": "3/0 AWG Cu"},
        "feeder": {
            "from": "main",
            "to": "panel",
            "length": "120 ft",
            "lines": "3 AWG Cu",
            "device": "100 A",
        },
        "branch": {
            "from": "panel",
            "to": "press",
            "length": "60 ft",
            "lines": "12 AWG Cu",
            "device": "20 A",
        },
    },
    "electrodes": {
        "rods": {"kind": "rod", "at": "main", "count": 2, "spacing": "10 ft"},
        "pipe": {"kind": "water pipe", "at": "main", "resistance": "3 ohm"},
    },
}

DERIVED: Described = {
    "site": "works",
    "sources": {
        "utility": {"system": "480Y/277 V", "available": {"current": "20 kA", "x/r": 6}},
    },
    "transformers": {
        "T1": {
            "primary": "480 V delta",
            "secondary": "208Y/120 V",
            "rating": "75 kVA",
            "impedance": "4 %",
        }
    },
    "places": {
        "main": {
            "kind": "service",
            "main": "400 A",
            "loads": [{"on": "L1-L2-L3", "power": "60 kW", "pf": 0.9}],
        },
        "LP": {
            "kind": "panel",
            "main": "200 A",
            "loads": [{"on": "L1-N", "power": "8 kW"}, {"on": "L3-N", "power": "3 kW"}],
        },
        "saw": {"kind": "equipment", "loads": [{"on": "L2-N", "power": "1 kW"}]},
    },
    "runs": {
        "service": {"from": "utility", "to": "main", "length": "50 ft", "lines": "500 kcmil Cu"},
        "primary": {
            "from": "main",
            "to": "T1",
            "length": "30 ft",
            "lines": "2 AWG Cu",
            "neutral": "none",
            "device": "125 A",
        },
        "secondary": {"from": "T1", "to": "LP", "length": "10 ft", "lines": "3/0 AWG Cu"},
        "branch": {
            "from": "LP",
            "to": "saw",
            "length": "50 ft",
            "lines": "12 AWG Cu",
            "device": "20 A",
        },
    },
    "electrodes": {
        "steel": {"kind": "steel", "at": "main"},
        "steel at T1": {"kind": "steel", "at": "T1"},
    },
}

UNGROUNDED = described(
    DERIVED,
    describes="as found",
    ties={"main screw": {"at": "main", "by": "screw"}},
    runs__primary__egc="6 AWG Cu",
    runs__secondary__ssbj="2 AWG Cu",
    runs__branch__egc="12 AWG Cu",
)
"""The derived system's bonding jumper was forgotten."""

DELTA_SOURCE: Described = {
    "site": "old mill",
    "sources": {"utility": {"system": "480 V delta", "available": {"current": "10 kA"}}},
    "places": {
        "main": {"kind": "service", "main": "200 A"},
        "motor": {
            "kind": "equipment",
            "loads": [{"on": "L1-L2-L3", "power": "20 kW", "pf": 0.85}],
        },
    },
    "runs": {
        "service": {"from": "utility", "to": "main", "length": "30 ft", "lines": "3/0 AWG Cu"},
        "branch": {
            "from": "main",
            "to": "motor",
            "length": "150 ft",
            "lines": "6 AWG Cu",
            "device": "60 A fuse",
        },
    },
    "electrodes": {"ring": {"kind": "ring", "at": "main", "resistance": "4 ohm"}},
}

SINGLE_PHASE_UNIT: Described = {
    "site": "yard",
    "sources": {"utility": {"system": "480Y/277 V", "available": {"current": "10 kA"}}},
    "transformers": {
        "TX": {
            "primary": "480 V",
            "secondary": "120/240 V",
            "rating": "25 kVA",
            "impedance": "3 %",
        }
    },
    "places": {
        "main": {"kind": "service", "main": "100 A"},
        "house": {
            "kind": "panel",
            "main": "100 A",
            "loads": [{"on": "L1-N", "power": "6 kW"}, {"on": "L1-L2", "power": "4 kW"}],
        },
    },
    "runs": {
        "service": {"from": "utility", "to": "main", "length": "30 ft", "lines": "3 AWG Cu"},
        "primary": {
            "from": "main",
            "to": "TX",
            "on": ["L1", "L2"],
            "length": "20 ft",
            "lines": "6 AWG Cu",
            "neutral": "none",
            "device": "60 A",
        },
        "secondary": {"from": "TX", "to": "house", "length": "15 ft", "lines": "3 AWG Cu"},
    },
    "electrodes": {
        "rods": {"kind": "rod", "at": "main", "count": 2},
        "rod": {"kind": "rod", "at": "TX"},
    },
}

PARALLEL_SETS = described(
    WYE_SERVICE,
    runs__service={
        "from": "utility",
        "to": "main",
        "length": "60 ft",
        "lines": "3 x 250 kcmil Cu",
        "raceway": {"kind": "rmc", "size": "3 in"},
    },
)

EMT_AS_EGC = described(
    WYE_SERVICE,
    runs__feeder={
        "from": "main",
        "to": "panel",
        "length": "120 ft",
        "lines": "3 AWG Cu",
        "egc": "raceway",
        "raceway": {"kind": "emt", "size": "1-1/4 in"},
        "device": "100 A",
    },
)

PIPE_BESIDE = described(
    WYE_SERVICE,
    metal={
        "pipe": {
            "kind": "water pipe",
            "from": "panel",
            "to": "main",
            "length": "100 ft",
            "resistance/length": "0.07 ohm/kft",
        },
        "frame": {
            "kind": "structural steel",
            "from": "main",
            "to": "press",
            "length": "200 ft",
            "resistance": "20 mohm",
        },
    },
)

SECOND_TIE = described(
    WYE_SERVICE,
    describes="as found",
    ties={"screw": {"at": "main", "by": "screw"}, "wrong screw": {"at": "panel", "by": "screw"}},
    runs__feeder__egc="8 AWG Cu",
    runs__branch__egc="12 AWG Cu",
)

TWO_WRONG_TIES = described(
    SECOND_TIE,
    places__shed={"kind": "panel", "loads": [{"on": "L3-N", "power": "4 kW"}]},
    runs__spur={
        "from": "panel",
        "to": "shed",
        "length": "20 ft",
        "lines": "10 AWG Cu",
        "egc": "10 AWG Cu",
        "device": "30 A",
    },
    ties__shed_screw={"at": "shed", "by": "screw"},
)

FIFTY_HERTZ = described(WYE_SERVICE, frequency="50 Hz", soil="30 ohm m")

WHOLE_SITES: dict[str, Described] = {
    "208Y/120 service": WYE_SERVICE,
    "derived system, bonded": DERIVED,
    "derived system, jumper missing": UNGROUNDED,
    "delta source": DELTA_SOURCE,
    "single-phase transformer": SINGLE_PHASE_UNIT,
    "parallel sets in steel": PARALLEL_SETS,
    "steel tubing as EGC": EMT_AS_EGC,
    "aluminium raceway": described(
        EMT_AS_EGC, runs__feeder__raceway={"kind": "rmc-al", "size": "1-1/4 in"}
    ),
    "pipe beside a feeder": PIPE_BESIDE,
    "second tie": SECOND_TIE,
    "two wrong ties": TWO_WRONG_TIES,
    "50 Hz in wet soil": FIFTY_HERTZ,
    "two-wire bench": BENCH,
}


def network(base: Described, *, loads: bool = False, **changes: Any) -> Network:
    """Return the network of a described site with changes (see ``tests.plan.sites``)."""
    return build(planned(base, **changes), loads=loads)


@cache
def example(*, loads: bool = False) -> Network:
    """Return the network of the example that ships with the project."""
    from bondwright.plan.build import plan

    return build(plan(load(EXAMPLE)), loads=loads)
