"""The JSON Schema of a site file, for editors that complete and mark while one types.

A schema sees single values. What holds between them (ids that must exist, a loop of runs,
voltages that must match) is checked by the reader only.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping
from typing import Any, Final

from bondwright.site.model import Site

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

_INSTALLED: Final = "Year it was installed, if known; old work is judged by the code of its time."
_NOTE: Final = "Anything worth remembering; it is printed, never computed with."
_X_OVER_R: Final = "Ratio of reactance to resistance, a plain number."
_GEOMETRY: Final[Mapping[str, str]] = {
    "kind": "What is in the earth.",
    "resistance": "Measured resistance to earth, if known.",
    "length": "Length in the earth.",
    "diameter": "Diameter.",
    "count": "How many equal ones there are.",
    "spacing": "Distance from one to the next.",
    "ring": "Size of the conductor of a ring.",
    "position": "Where it stands on the ground: of a rod or well its place, of a ring or plate "
    "its middle, of a pipe, footing or strip its start, of a grid its corner of least x and y.",
    "along": "Corners of a pipe, a footing, a strip or a ring; or the places of several rods, "
    "wells, columns or piles.",
    "across": "Diameter of a round ring.",
    "depth": "Depth of its axis or middle; of a rod, well, column or pile of its upper end.",
    "width": "Second side of a plate or grid; width of a strip, or of the strip that a ring is "
    "made of; of a pile cap how thick it is over the piles.",
    "wire": "Size of the wire of a grid, or of a strip that is a wire.",
    "meshes": "How many meshes a grid has along x and along y.",
    "upright": "Whether a plate stands on its edge.",
    "concrete": "Thickness of the concrete around the steel.",
    "concrete resistivity": "Resistivity of that concrete.",
}
_DESCRIPTIONS: Final[Mapping[str, Mapping[str, str]]] = {
    "Site": {
        "site": "What the site is called.",
        "rules": "Edition of the electrical code in force there.",
        "earthing": "Earthing arrangement of the supply, as its operator declares it; for IEC "
        "60364, and needed there.",
        "means of earthing": "What the main earthing terminal is joined to: 'supply terminal' "
        "(the supply's own protective conductor), 'PEN terminal' (the supply's PEN conductor) or "
        "'own electrode'.",
        "insulation monitoring": "Whether insulation monitoring stands, in an IT system.",
        "first fault current": "Current of the first fault of an IT system, by leakage and "
        "capacitance, as measured or as its maker gives it.",
        "amendments": "What local authorities put in place of numbers of the code, each under a "
        "label of your own.",
        "describes": "'plan': ties that are left out are designed. 'as found': what is written "
        "is all there is.",
        "soil": "Resistivity of the soil, or its layers from the top.",
        "surface layer": "What lies on the ground where people stand, such as crushed stone; it "
        "raises what they bear, and changes nothing else.",
        "seasons": "Seasons, each with what it does to the uppermost ground.",
        "frequency": "Supply frequency.",
        "conductor temperature": "Temperature at which conductors are computed.",
        "note": _NOTE,
        "sources": "Utility supplies, each under its own id.",
        "generators": "Generators on the site, each under its own id.",
        "inverters": "Inverters of arrays and batteries, each under its own id.",
        "arrays": "Photovoltaic arrays with their direct-current circuits, each under its own id.",
        "transfers": "Transfer switches, each under its own id.",
        "states": "Ways the site is run. Left out: normal, and each transfer switch on its "
        "standby supply.",
        "places": "Meters, disconnects, panels, equipment: anything with terminals fed by a run.",
        "transformers": "Transformers on the site; runs to them land on the primary.",
        "runs": "Sets of conductors between two places, each under its own id.",
        "ties": "Joins of neutral and metal. Left out of a plan, they are designed; '{}' means "
        "there are none.",
        "electrodes": "Metal in the earth.",
        "neighbours": "A neighbour's metal in the same ground.",
        "earth tests": "Field tests as they were taken.",
        "metal": "Pipes, steel and other metal that reaches from one place to another.",
        "areas": "Areas with rules of their own: pools, livestock, docks, patient care, dwellings, "
        "signs, cranes, lifts and others.",
        "direct current": "Direct-current systems other than arrays: of batteries, rectifiers, "
        "generators.",
        "curves": "Time-current curves of devices, by points, each under the name that a device "
        "calls it by.",
    },
    "Amendment": {
        "authority": "Who made it.",
        "reference": "Where it is written: number of the ordinance, bulletin or letter.",
        "date": "Day from which it holds, as 2024-03-01.",
        "values": "Names of the code's parameters, each with what is put in its place.",
        "file": "A file beside this one that has these keys instead.",
    },
    "Source": {
        "system": "Nominal voltages as on a nameplate.",
        "transformer": "The utility's transformer by its nameplate; or give 'available'.",
        "available": "Available fault current from the utility; or give 'transformer'.",
        "electrode": "Resistance to earth of the utility's grounded neutral; left out, see the "
        "assumptions of the report.",
        "note": _NOTE,
    },
    "Generator": {
        "system": "Nominal voltages as on a nameplate.",
        "rating": "Rated apparent power.",
        "subtransient": "Subtransient reactance, in part of its rating.",
        "negative": "Negative-sequence reactance, in part of its rating.",
        "zero": "Zero-sequence reactance, in part of its rating.",
        "x/r": _X_OVER_R,
        "harmonics": "Harmonic voltages of its own by their order, in part of the voltage to "
        "neutral.",
        "share": "Part of the load that it takes beside other generators, over theirs.",
        "output": "Power that it is set to beside a utility.",
        "pf": "Power factor that it is set to beside a utility, a plain number up to 1.",
        "voltage": "Voltage between lines that its regulator holds without load; beside others "
        "it then shares power only, and not the current for magnetising.",
        "portable": "Whether it is carried or on wheels.",
        "building": "Building or structure it stands in.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Inverter": {
        "system": "Nominal voltages as on a nameplate.",
        "rating": "Rated apparent power.",
        "limit": "Most current that it gives into a fault, in part of its rated current.",
        "building": "Building or structure it stands in.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Array": {
        "at": "Id of the inverter it feeds.",
        "module": "One of its modules, by the module's label.",
        "in series": "Modules in series in each string.",
        "strings": "Strings in parallel.",
        "length": "Length of the direct-current circuit from the array to the inverter, one way.",
        "lines": "Size of each of the two conductors of that circuit.",
        "egc": "Equipment grounding conductor from the array's frames to the inverter: a size, or "
        "'none'.",
        "device": "Overcurrent device of that circuit, if it has one.",
        "grounded": "How the direct-current side is joined to metal at the inverter. 'fuse': one "
        "conductor through a ground-fault fuse. 'inverter': only through an inverter without a "
        "transformer, which watches the residual current. 'solid': one conductor, by a plain "
        "join. 'none': not at all.",
        "pole": "The conductor that is joined to metal, with 'fuse' and 'solid'.",
        "ground fuse": "Rating of the ground-fault fuse, with 'fuse'.",
        "monitor": "Residual current at which the inverter stops, with 'inverter'.",
        "insulation alarm": "Insulation resistance below which the inverter or a monitor gives "
        "the alarm, with 'inverter' and 'none'.",
        "insulation": "Measured insulation resistance of each conductor to metal.",
        "on building": "Whether it, or its circuit, is on or in a building.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Module": {
        "open circuit": "Open-circuit voltage; where it is known at the lowest temperature to "
        "expect, that.",
        "short circuit": "Short-circuit current.",
        "voltage": "Voltage at greatest power.",
        "current": "Current at greatest power.",
    },
    "Curve": {
        "quick": "Edge before which the device does not open; the current never falls from point "
        "to point, the time never rises.",
        "slow": "Edge by which the device has opened for sure, likewise.",
        "note": _NOTE,
    },
    "CurvePoint": {
        "current": "Current through the device.",
        "time": "Time it takes at that current.",
    },
    "Transfer": {
        "normal": "Id of the run that feeds it in normal use.",
        "standby": "Id of the run that feeds it when it is thrown over.",
        "neutral": "'solid': the neutrals of both supplies stay joined in it. 'switched': it "
        "has a pole for the neutral.",
        "building": "Building or structure it stands in.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "State": {
        "on": "Ids of the sources, generators and inverters that run; left out: the utilities "
        "and what a transfer switch takes. Several that are joined work in parallel.",
        "transfers": "How the transfer switches stand; those left out stand at normal. 'both': "
        "closed on both supplies, as in a closed transition.",
        "open": "Ids of places whose main is open and of runs whose device is open.",
        "note": _NOTE,
    },
    "SupplyTransformer": {
        "rating": "Rated apparent power.",
        "impedance": "Impedance on its own rating.",
        "x/r": _X_OVER_R,
    },
    "AvailableCurrent": {
        "current": "Bolted fault current at the source terminals, line to line (three-phase: "
        "all three lines).",
        "x/r": _X_OVER_R,
        "line to neutral": "Bolted fault current from line to neutral, if the utility gave it.",
    },
    "Place": {
        "kind": "What it is; 'service' is the first disconnect after the utility.",
        "building": "Building or structure it stands in.",
        "main": "Overcurrent device at its supply terminals.",
        "loads": "What draws current there in normal use.",
        "enclosure": "Whether its box conducts.",
        "intersystem": "Conductor from the terminal for telephone, cable and antennas to the "
        "electrode system, or 'none' where there is no such terminal.",
        "position": "Where its metal can be touched, for a person who stands on the ground there.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Load": {
        "on": "Terminals it is connected between.",
        "power": "Real power in normal use.",
        "pf": "Power factor, a plain number up to 1.",
        "draws": "What stays the same when the voltage changes: its impedance, its current or "
        "its power.",
        "harmonics": "Harmonic currents by their order, in part of the fundamental current.",
        "leakage": "Current from each of its lines to the metal in normal use.",
        "motor": "That it is an induction motor, which feeds a fault for some cycles; '{}' says "
        "no more than that.",
        "note": _NOTE,
    },
    "Motor": {
        "rating": "Power at its shaft.",
        "locked rotor": "Current with its rotor locked over its rated current.",
        "code": "Letter on its plate for what it draws with its rotor locked.",
        "subtransient": "Subtransient reactance, in part of its rating.",
        "x/r": _X_OVER_R,
    },
    "Transformer": {
        "primary": "Nominal voltages of the side that is fed.",
        "secondary": "Nominal voltages of the side that feeds.",
        "rating": "Rated apparent power.",
        "impedance": "Impedance on its own rating.",
        "x/r": _X_OVER_R,
        "form": "How its windings are joined: 'isolating' (two windings), 'auto' (one winding in "
        "common), 'open delta' (two units), 'zigzag' (makes a neutral, feeds nothing).",
        "building": "Building or structure it stands in.",
        "outdoors": "Whether it stands outside the building it supplies.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Run": {
        "from": "Id of what it leaves: a source, generator, inverter, transformer, transfer switch "
        "or place (supply end).",
        "to": "Id of what it feeds: a place, transformer, transfer switch, or a generator or "
        "inverter that works in parallel.",
        "length": "Length of the conductors, one way.",
        "lines": "Size of each ungrounded conductor; parallel sets as '2 x 500 kcmil Cu'.",
        "on": "Lines it carries; left out, all that reach its start.",
        "neutral": "Size of the grounded conductor, or 'none'.",
        "egc": "Equipment grounding conductor past the first overcurrent device: a size, "
        "'raceway', or 'none'.",
        "ssbj": "Supply-side bonding jumper ahead of the first overcurrent device: a size, "
        "'raceway', or 'none'.",
        "pe": "Protective conductor, for IEC 60364: a size, 'raceway', or 'none'.",
        "device": "Overcurrent device at its start.",
        "needed": "Size of line its ampacity needs, where the lines were made larger.",
        "enlarged": "Why the lines are larger than needed.",
        "wiring": "How the conductors lie.",
        "raceway": "The raceway around them.",
        "flexible": "A flexible piece in its metal raceway.",
        "fittings": "How its metal raceway ends at the enclosures; of two kinds the weaker. "
        "'threadless connector': one with a shoulder that seats on the box. 'two locknuts': one "
        "inside and one outside. 'locknuts': one locknut and a plain bushing.",
        "knockouts": "The holes its metal raceway enters by. 'clean': no ring or washer left. "
        "'concentric': rings left, reducing washers or too large a hole. 'listed': rings left, in "
        "a box listed for bonding with them.",
        "bushing jumper": "Size of the jumper on its bonding bushing.",
        "sets": "How parallel sets lie. 'apart': a raceway or cable for each. 'together': all in "
        "one raceway or tray.",
        "with": "Ids of runs in the same raceway that have their equipment grounding conductor in "
        "common with it.",
        "motor current": "Full-load current, by the code's table, of the motor it feeds, where "
        "its device is a breaker with an instantaneous trip only.",
        "tap": "Whether it is a feeder tap: smaller than its feeder, and without a device at its "
        "start.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Raceway": {
        "kind": "Kind of raceway.",
        "size": "Trade size, such as '1-1/4 in'.",
    },
    "Flexible": {
        "kind": "'fmc': flexible metal conduit. 'lfmc': liquidtight flexible metal conduit. "
        "'fmt': flexible metallic tubing.",
        "size": "Trade size, such as '1/2 in'.",
        "length": "Length of the flexible piece, or of all such pieces of the run together.",
        "moves": "Whether it has to bend or shake after it is installed.",
    },
    "Tie": {
        "at": "Id of the place, transformer, generator or inverter.",
        "line": "Line that is joined to metal in place of a neutral: a grounded corner.",
        "by": "What makes the join.",
        "size": "Size of the jumper, where it is a wire.",
        "resistance": "Measured resistance of the join, if known; of a grounding resistor its "
        "ohms.",
        "note": _NOTE,
    },
    "Electrode": {
        "at": "Id of the place or transformer whose metal it is joined to.",
        "conductor": "Size of its electrode conductor, or 'none'.",
        "lead": "Length of its electrode conductor.",
        **_GEOMETRY,
        "sleeve": "What its electrode conductor runs in.",
        "buried": "How its electrode conductor lies in the soil, for IEC 60364. 'sheathed': "
        "protected against corrosion. 'sheathed and guarded': against damage as well.",
        "from entry": "Distance along a water pipe from where it enters the building to where the "
        "electrode conductor is joined.",
        "shared by": "Ids of transformers, generators and inverters whose electrode conductors "
        "tap this one: it is their common electrode conductor.",
        "lightning": "Whether it belongs to lightning protection.",
        "apart": "Distance to the nearest electrode of another kind of system, such as one of "
        "lightning protection.",
        "note": _NOTE,
    },
    "Neighbour": {**_GEOMETRY, "note": _NOTE},
    "SurfaceLayer": {
        "resistivity": "Its resistivity when wet.",
        "thickness": "How thick it lies.",
        "note": _NOTE,
    },
    "SeasonalGround": {
        "factor": "What it does to the resistivity of the uppermost ground: more than 1 dry or "
        "frozen, less than 1 wet.",
        "down to": "How deep it reaches.",
        "note": _NOTE,
    },
    "EarthTest": {
        "kind": "How it was tested.",
        "of": "Ids of the electrodes that were tested, joined to one another.",
        "where": "Where it was done.",
        "date": "Day of the test, as 2024-03-01.",
        "instrument": "Instrument, and when it was last calibrated.",
        "readings": "What the instrument showed.",
        "goal": "The most that is allowed.",
        "far": "Distance of the far current pin from the electrode.",
        "widest": "Widest reach of the electrode on the ground.",
        "pins": "How the four pins of a survey stood.",
        "over range": "Whether the clamp showed that the reading is above its range.",
        "others": "Resistance to earth of the other end of a two-point reading, if known.",
        "leads": "Resistance of the leads, if the reading still has it.",
        "asked": "What a two-point reading is to show: that both ends are joined by metal, or an "
        "electrode's resistance.",
        "metal": "Temperature of the metal during a continuity test.",
        "section": "Cross-section of the sample in a soil box.",
        "apart": "Distance of the potential pins, or of the end plates, of a soil box.",
        "tester": "How the loop tester measures. 'no trip': with so little current that no "
        "residual-current device opens.",
        "cold part": "Part of the goal that a loop read on cold conductors is held to.",
        "residual": "Rated residual current of the device that a TT electrode works with.",
        "note": _NOTE,
    },
    "EarthReading": {
        "distance": "Distance of the potential pin from the electrode.",
        "spacing": "From pin to pin (Wenner), or from the middle to a current pin (Schlumberger).",
        "inner": "From the middle to a potential pin (Schlumberger).",
        "resistance": "Resistance that was shown.",
        "resistivity": "Apparent resistivity that was shown.",
    },
    "Metal": {
        "kind": "What it is.",
        "from": "Id of the source, transformer or place at one end.",
        "to": "Id at the other end.",
        "length": "Length between them.",
        "resistance": "Resistance from end to end; or give 'resistance/length'.",
        "resistance/length": "Resistance per length; or give 'resistance'.",
        "earth": "Resistance to remote earth, of metal that lies in the soil.",
        "isolated": "Whether plastic pipe keeps it apart from the piping of the rest of the "
        "building, as in flats of their own.",
        "circuit": "Id of the run that may energise it.",
        "taps": "Places that touch it, or are bonded to it, along its way.",
        "along": "Where it can be touched, from its 'from' on: corners of its way over the ground.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Area": {
        "kind": "What it is. 'dwelling' says that the place serves a dwelling. 'pond': electrical "
        "equipment beside natural or made water that is no pool. 'tub': a hydromassage tub. "
        "'vehicle pitch': a pitch for recreational vehicles.",
        "at": "Id of the place that gives it power; of a mobile home its panel, of a wind turbine "
        "the place it feeds.",
        "bond": "Size of the conductor that joins its metal, or 'none': of a pool or tub, of a "
        "plane under livestock or beside water, of the metal at a dock.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "DirectCurrent": {
        "at": "Id of the inverter, panel or equipment that it belongs to.",
        "source": "What feeds it; 'utility': a supplier off the premises.",
        "voltage": "Highest voltage in normal use between its outer conductors.",
        "wires": "Conductors of the system: 2, or 3 with a neutral.",
        "balancer": "Whether a balancer set, or a balancer winding with its overcurrent "
        "protection, makes the neutral of three wires.",
        "lines": "Size of the largest conductor that it supplies.",
        "neutral": "Size of the neutral, of three wires.",
        "grounded": "How it is joined to metal. 'solid': one conductor, by a plain join. 'device': "
        "by listed equipment that does the same. 'none': not at all.",
        "jumper": "Bonding jumper from the grounded conductor to the metal, with 'solid': a size, "
        "or 'none'.",
        "conductor": "Size of its electrode conductor, or 'none'.",
        "electrode": "What that conductor leads to and to nothing else.",
        "detector": "Whether something finds a ground fault on it and says so.",
        "installed": _INSTALLED,
        "note": _NOTE,
    },
    "Tap": {
        "at": "Distance along the metal, measured from its 'from'.",
        "to": "Id of what it touches there.",
        "resistance": "Resistance of the contact.",
    },
}
_NAMES: Final[Mapping[str, frozenset[str]]] = {
    "Metal": frozenset({"from", "to", "circuit"}),
    "Tap": frozenset({"to"}),
    "Transfer": frozenset({"building", "normal", "standby"}),
}
_LISTS_OF_IDS: Final = (
    ("State", "on"),
    ("State", "open"),
    ("Run", "with"),
    ("Electrode", "shared by"),
    ("EarthTest", "of"),
)
_USUAL_NAMES: Final = frozenset({"site", "building", "from", "to", "at"})
_EITHER: Final[Mapping[str, tuple[str, str]]] = {
    "Source": ("transformer", "available"),
    "Metal": ("resistance", "resistance/length"),
}
_EXAMPLE: Final[Mapping[str, Any]] = {
    "site": "Farmhouse, Harrow Creek Cidery",
    "rules": "nec-2023",
    "soil": "100 ohm m",
    "sources": {
        "utility": {
            "system": "120/240 V",
            "transformer": {"rating": "25 kVA", "impedance": "2.1 %", "x/r": 1.3},
            "electrode": "8 ohm",
        }
    },
    "places": {
        "meter": {"kind": "meter"},
        "farmhouse panel": {
            "kind": "service",
            "main": "200 A breaker",
            "loads": [{"on": "L1-N", "power": "3.6 kW"}],
        },
    },
    "runs": {
        "service drop": {
            "from": "utility",
            "to": "meter",
            "length": "90 ft",
            "lines": "4/0 AWG Al",
            "neutral": "2/0 AWG Al",
            "wiring": "overhead",
        },
        "service entrance": {
            "from": "meter",
            "to": "farmhouse panel",
            "length": "12 ft",
            "lines": "2/0 AWG Cu",
            "neutral": "2/0 AWG Cu",
            "raceway": {"kind": "pvc", "size": "2 in"},
        },
    },
    "electrodes": {
        "house rods": {
            "kind": "rod",
            "at": "farmhouse panel",
            "count": 2,
            "length": "8 ft",
            "diameter": "5/8 in",
            "spacing": "10 ft",
        }
    },
}


def example_site() -> dict[str, Any]:
    """Return a small site as the data of its file; it is the example in the schema."""
    return copy.deepcopy(dict(_EXAMPLE))


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a site file."""
    schema = Site.model_json_schema(by_alias=True, mode="validation")
    for node in _nodes(schema):
        _no_null(node)
    definitions = schema["$defs"]
    for name, words in _DESCRIPTIONS.items():
        model = schema if name == "Site" else definitions[name]
        for key, text in words.items():
            node = model["properties"][key]
            _describe(node, key, text)
            if key in _NAMES.get(name, _USUAL_NAMES):
                node["type"] = ["string", "integer"]  # a panel may be called 3
    for model_name, key in _LISTS_OF_IDS:
        _list_of_names(definitions[model_name], key)
    for name, (one, other) in _EITHER.items():
        definitions[name]["oneOf"] = [{"required": [one]}, {"required": [other]}]
    return {
        "$schema": DIALECT,
        **schema,
        "title": "Site",
        "description": "The description of a building's wiring, grounding and bonding.",
        "examples": [example_site()],
    }


def _describe(node: dict[str, Any], key: str, text: str) -> None:
    # What a quantity may look like was said by its field; the purpose goes first.
    said = node.get("description", "").rstrip(".")
    said = f"{said[:1].upper()}{said[1:]}." if said else ""
    node["description"] = f"{text} {said}".strip() if said else text
    node["title"] = key


def _nodes(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        for item in value.values():
            yield from _nodes(item)
    elif isinstance(value, list):
        for item in value:
            yield from _nodes(item)


def _no_null(node: dict[str, Any]) -> None:
    """Take the null out of what may be left out: in a file an empty value is a slip."""
    choices = node.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        rest = [choice for choice in choices if choice != {"type": "null"}]
        del node["anyOf"]
        node.update(rest[0] if len(rest) == 1 else {"anyOf": rest})
    if "default" in node and node["default"] is None:
        del node["default"]


def _list_of_names(model: dict[str, Any], key: str) -> None:
    model["properties"][key]["items"]["type"] = ["string", "integer"]
