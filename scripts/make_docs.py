"""Write the parts of the pages in docs/ that are made from the code, so that they can't drift.

A made part stands between two comments: ``<!-- made: name -->`` and ``<!-- end: name -->``. Run
it without arguments to renew every page, with ``--check`` to name the stale ones (exit code 1).
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import click
import yaml
from pydantic import BaseModel

from bondwright.catalog.earth_data import earth_data
from bondwright.catalog.pv import pv_data
from bondwright.catalog.raceways import RacewayKind
from bondwright.catalog.sources import Status
from bondwright.cli import main as command_group
from bondwright.explain.cautions import CAUTIONS
from bondwright.explain.glossary import Dialect, glossary
from bondwright.network.build import NODE_CAPACITANCE
from bondwright.network.motors import LOCKED_ROTOR
from bondwright.network.runs import (
    ALUMINIUM_RESISTIVITY,
    METAL_DISTANCE,
    METAL_RADIUS,
    SET_DISTANCE,
    STEEL_PERMEABILITY,
    STEEL_RESISTIVITY,
)
from bondwright.network.sources import HALF_R, HALF_X, SOURCE_ELECTRODE
from bondwright.papers.dxf import layers
from bondwright.papers.frames import columns
from bondwright.plan.defaults import defaults
from bondwright.rules.editions import EDITIONS, Rule, catalogue
from bondwright.rules.iec.coverage import clauses as iec_clauses
from bondwright.rules.iec.ruleset import catalogue as iec_catalogue
from bondwright.site.ground import ElectrodeKind
from bondwright.site.schema import json_schema
from bondwright.site.shape import Shape, site_shape
from bondwright.studies.faults import CLEARED_A, DAMAGE_C, LONGEST_S
from bondwright.studies.stray import CAUSED, NOISE_A
from bondwright.studies.whatif import ADDED_TIE_OHM
from bondwright.units import INCH, Dimension, show, unit_names

ROOT: Final = Path(__file__).resolve().parents[1]
DOCS: Final = ROOT / "docs"
DATA_FOLDERS: Final = (
    ROOT / "src" / "bondwright" / "catalog" / "data",
    ROOT / "src" / "bondwright" / "rules" / "data",
    ROOT / "src" / "bondwright" / "plan" / "data",
)

# --- tables --------------------------------------------------------------------------------


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(_cell(cell) for cell in line) + " |" for line in lines)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", r"\|")


def code(text: object) -> str:
    """Return text as Markdown code."""
    return f"`{text}`"


# --- the site file -------------------------------------------------------------------------

SECTIONS: Final = (
    "Site",
    "Source",
    "SupplyTransformer",
    "AvailableCurrent",
    "Generator",
    "Inverter",
    "Array",
    "Module",
    "Transfer",
    "Place",
    "Load",
    "Motor",
    "Transformer",
    "Run",
    "Raceway",
    "Flexible",
    "Tie",
    "SeasonalGround",
    "SurfaceLayer",
    "Electrode",
    "Neighbour",
    "EarthTest",
    "EarthReading",
    "Metal",
    "Tap",
    "Area",
    "DirectCurrent",
    "Amendment",
    "State",
    "Curve",
    "CurvePoint",
)
"""Models of the site file in the order of the page."""

ANCHORS: Final = {
    "Source": "sources",
    "SupplyTransformer": "transformer-of-a-source",
    "AvailableCurrent": "available-of-a-source",
    "Generator": "generators",
    "Inverter": "inverters",
    "Array": "arrays",
    "Module": "module",
    "Transfer": "transfer-switches",
    "Place": "places",
    "Load": "loads",
    "Motor": "motor-of-a-load",
    "Transformer": "transformers",
    "Run": "runs",
    "Raceway": "raceway",
    "Flexible": "flexible",
    "Tie": "ties",
    "SeasonalGround": "seasons",
    "SurfaceLayer": "surface-layer",
    "Electrode": "electrodes",
    "Neighbour": "neighbours",
    "EarthTest": "earth-tests",
    "EarthReading": "readings-of-an-earth-test",
    "Metal": "metal",
    "Tap": "taps",
    "Area": "areas",
    "DirectCurrent": "direct-current",
    "Amendment": "amendments",
    "State": "states",
    "Curve": "curves",
    "CurvePoint": "points-of-a-curve",
}

EXAMPLES: Final = {
    ("AvailableCurrent", "current"): "10 kA",
    ("AvailableCurrent", "line to neutral"): "12 kA",
    ("Source", "electrode"): "8 ohm",
    ("Generator", "rating"): "20 kVA",
    ("Generator", "subtransient"): "12 %",
    ("Generator", "negative"): "14 %",
    ("Generator", "zero"): "3 %",
    ("Generator", "share"): "60 %",
    ("Generator", "output"): "50 kW",
    ("Generator", "voltage"): "490 V",
    ("Motor", "rating"): "40 hp",
    ("Motor", "locked rotor"): "6 pu",
    ("Motor", "code"): "G",
    ("Motor", "subtransient"): "17 %",
    ("Inverter", "rating"): "8 kVA",
    ("Inverter", "limit"): "1.2 pu",
    ("Array", "length"): "80 ft",
    ("Array", "lines"): "10 AWG Cu",
    ("Array", "egc"): "10 AWG Cu",
    ("Array", "device"): "30 A fuse",
    ("Array", "ground fuse"): "1 A",
    ("Array", "monitor"): "300 mA",
    ("Array", "insulation alarm"): "100 kohm",
    ("Array", "insulation"): "2 Mohm",
    ("Module", "open circuit"): "42 V",
    ("DirectCurrent", "voltage"): "380 V",
    ("DirectCurrent", "lines"): "2 AWG Cu",
    ("DirectCurrent", "neutral"): "2 AWG Cu",
    ("DirectCurrent", "jumper"): "2 AWG Cu",
    ("DirectCurrent", "conductor"): "2 AWG Cu",
    ("Module", "short circuit"): "11 A",
    ("Module", "voltage"): "35 V",
    ("Module", "current"): "10.2 A",
    ("CurvePoint", "current"): "400 A",
    ("CurvePoint", "time"): "10 s",
    ("Load", "leakage"): "3 mA",
    ("Metal", "earth"): "15 ohm",
    ("Tap", "at"): "12 ft",
    ("Tap", "resistance"): "2 mohm",
    ("Place", "main"): "200 A breaker",
    ("Transformer", "primary"): "480 V delta",
    ("Transformer", "secondary"): "208Y/120 V",
    ("Transformer", "rating"): "45 kVA",
    ("Run", "egc"): "10 AWG Cu",
    ("Run", "pe"): "2.5 mm2 Cu",
    ("Site", "first fault current"): "60 mA",
    ("Tie", "resistance"): "0.3 mohm",
    ("Electrode", "lead"): "12 ft",
    ("Electrode", "length"): "8 ft",
    ("Electrode", "diameter"): "5/8 in",
    ("Electrode", "spacing"): "10 ft",
    ("Electrode", "conductor"): "6 AWG Cu",
    ("Electrode", "ring"): "2 AWG Cu",
    ("Electrode", "across"): "20 ft",
    ("Electrode", "depth"): "30 in",
    ("Electrode", "width"): "1 ft",
    ("Electrode", "wire"): "2 AWG Cu",
    ("Electrode", "concrete"): "12 in",
    ("Electrode", "concrete resistivity"): "60 ohm m",
    ("Neighbour", "length"): "8 ft",
    ("Neighbour", "diameter"): "5/8 in",
    ("Neighbour", "spacing"): "10 ft",
    ("Neighbour", "ring"): "2 AWG Cu",
    ("Neighbour", "across"): "20 ft",
    ("Neighbour", "depth"): "30 in",
    ("Neighbour", "width"): "1 ft",
    ("Neighbour", "wire"): "2 AWG Cu",
    ("Neighbour", "concrete"): "12 in",
    ("Neighbour", "concrete resistivity"): "60 ohm m",
    ("SeasonalGround", "down to"): "1 m",
    ("SurfaceLayer", "resistivity"): "3000 ohm m",
    ("SurfaceLayer", "thickness"): "4 in",
    ("EarthTest", "goal"): "25 ohm",
    ("EarthTest", "far"): "60 m",
    ("EarthTest", "widest"): "3 m",
    ("EarthTest", "others"): "2 ohm",
    ("EarthTest", "leads"): "0.05 ohm",
    ("EarthTest", "metal"): "20 degC",
    ("EarthTest", "section"): "40 cm2",
    ("EarthTest", "apart"): "10 cm",
    ("EarthTest", "cold part"): "80 %",
    ("EarthTest", "residual"): "30 mA",
    ("EarthReading", "distance"): "31 m",
    ("EarthReading", "spacing"): "2 m",
    ("EarthReading", "inner"): "0.5 m",
    ("EarthReading", "resistance"): "4.15 ohm",
    ("Metal", "resistance"): "15 mohm",
    ("Metal", "resistance/length"): "0.07 ohm/kft",
}
"""Values that suit a key better than the usual one of its quantity."""

_TABLE_MEANING: Final = {
    ("Site", "ties"): "Joins of neutral and metal. See [Ties](#ties) for what happens to those "
    "left out.",
}


_KEYED: Final = {
    ("Amendment", "values"): "parameter: value",
    ("Generator", "harmonics"): "3: 2 %",
    ("Load", "harmonics"): "3: 40 %, 5: 15 %",
    ("State", "transfers"): "barn switch: standby",
}
"""Examples of groups whose keys are not the same everywhere."""


def _geometry(model: str, length: str, diameter: str, spacing: str) -> dict[tuple[str, str], str]:
    """Return what leaving out a measure of an electrode means."""
    shaped = defaults().geometry
    with_shape = "with a place, see [what is taken](#what-is-taken-where-nothing-is-given)"
    texts = {
        "resistance": "worked out from the shape; with no shape a typical value, assumed",
        "length": f"rod: {length}; else {with_shape}",
        "diameter": f"rod: {diameter}; else {with_shape}",
        "spacing": f"{spacing}, assumed",
        "ring": f"with a place {defaults().ring_wire}, assumed",
        "position": "it stands apart from all others, and only a rod is worked out",
        "across": "that of a ring of `length`",
        "depth": "of a rod, well or column flush with the ground; of a pile cap "
        f"{show(shaped[ElectrodeKind.PILE_CAP]['depth'], Dimension.LENGTH)}; else "
        f"{show(shaped[ElectrodeKind.RING]['depth'], Dimension.LENGTH)} "
        f"(concrete {show(shaped[ElectrodeKind.CONCRETE]['depth'], Dimension.LENGTH)}), assumed",
        "width": "a square plate or grid; a ring of wire; of a strip without `wire` "
        f"{shaped[ElectrodeKind.STRIP]['width'] / INCH:g} in; of a pile cap "
        f"{show(shaped[ElectrodeKind.PILE_CAP]['width'], Dimension.LENGTH)}, assumed",
        "wire": f"a strip is flat; of a grid {defaults().ring_wire}, assumed",
        "meshes": "as many as have about "
        f"{show(shaped[ElectrodeKind.GRID]['mesh'], Dimension.LENGTH)} a side",
        "concrete": "of a footing "
        f"{show(shaped[ElectrodeKind.CONCRETE]['concrete'], Dimension.LENGTH)}, of a pile "
        f"{shaped[ElectrodeKind.PILE_CAP]['concrete'] / INCH:g} in, assumed; of steel: bare",
        "concrete resistivity": f"{earth_data().concrete['usual']:g} ohm m, assumed",
    }
    return {(model, key): text for key, text in texts.items()}


def left_out() -> dict[tuple[str, str], str]:
    """Return what leaving out a key means, where its default alone doesn't say."""
    taken = defaults()
    length, spacing = (
        show(value, Dimension.LENGTH) for value in (taken.rod_length, taken.rod_spacing)
    )
    diameter = f"{taken.rod_diameter / INCH:g} in"
    return {
        ("Site", "soil"): f"that of a survey under `earth tests`, else {taken.soil:g} ohm m, "
        "assumed",
        ("Place", "position"): "no touch voltage to the ground beside it",
        ("Site", "frequency"): f"{taken.frequency:g} Hz, assumed",
        ("Site", "conductor temperature"): f"{taken.temperature:g} degC, assumed",
        ("Site", "ties"): "designed in a plan; as found: none",
        ("Source", "transformer"): "then `available` must be given",
        ("Source", "available"): "then `transformer` must be given",
        ("Source", "electrode"): f"{SOURCE_ELECTRODE:g} ohm, assumed",
        ("AvailableCurrent", "line to neutral"): "worked out from `current`, see "
        "[the physics](physics.md#sources-and-transformers)",
        ("Generator", "subtransient"): "usual for its kind, assumed",
        ("Generator", "negative"): "usual for its kind, assumed",
        ("Generator", "zero"): "usual for its kind, assumed",
        ("Generator", "share"): "in proportion to its rating, assumed",
        ("Generator", "output"): "none: it is synchronised and gives nothing, assumed",
        ("Generator", "voltage"): "the nominal one, and beside others that of the bus, assumed",
        ("Motor", "rating"): "the `power` of the load, assumed",
        ("Motor", "locked rotor"): f"by `code` or `subtransient`, else {LOCKED_ROTOR:g}, assumed",
        ("Motor", "code"): "not known",
        ("Motor", "subtransient"): "not known",
        ("Load", "motor"): "no motor, or one that gives nothing",
        ("Generator", "building"): "not said",
        ("Generator", "installed"): "age not known",
        ("Inverter", "limit"): "usual for its kind, assumed",
        ("Inverter", "building"): "not said",
        ("Inverter", "installed"): "age not known",
        ("Array", "egc"): "designed in a plan; as found: none",
        ("Array", "device"): "no overcurrent device",
        ("Array", "pole"): "with `fuse` and `solid` the negative one, assumed",
        ("Array", "ground fuse"): "with `fuse` the largest for its power, assumed",
        ("Array", "monitor"): "with `inverter` that of its standard, assumed",
        ("Array", "insulation alarm"): "nothing watches the insulation",
        ("Array", "insulation"): f"{show(pv_data().insulation, Dimension.RESISTANCE)}, assumed",
        ("Array", "installed"): "age not known",
        ("DirectCurrent", "neutral"): "size of the lines, assumed",
        ("DirectCurrent", "jumper"): "designed in a plan; as found reported as not known",
        ("DirectCurrent", "conductor"): "designed in a plan; as found reported as not known",
        ("DirectCurrent", "electrode"): "any electrode: no relief for rods, concrete or a ring",
        ("DirectCurrent", "detector"): "not known; asked",
        ("DirectCurrent", "installed"): "age not known",
        ("Area", "installed"): "age not known",
        ("Module", "voltage"): f"{100 * pv_data().voltage_x:g} % of `open circuit`, assumed",
        ("Module", "current"): f"{100 * pv_data().current_x:g} % of `short circuit`, assumed",
        ("Transfer", "building"): "not said",
        ("Transfer", "installed"): "age not known",
        ("State", "on"): "the utilities, arrays in parallel, and what a transfer switch takes",
        ("Load", "leakage"): "none",
        ("Tie", "line"): "the neutral is joined",
        ("Metal", "earth"): "it doesn't touch the soil",
        ("Metal", "installed"): "age not known",
        ("Tap", "resistance"): "a sound contact",
        ("Place", "building"): "that of the place which feeds it",
        ("Place", "main"): "no overcurrent device there",
        ("Place", "installed"): "age not known",
        ("Transformer", "building"): "that of the place which feeds it",
        ("Transformer", "installed"): "age not known",
        ("Run", "on"): "all lines that reach its start",
        ("Run", "neutral"): "size of the lines, assumed, if a neutral reaches its start; but a "
        "transformer fed between lines gets none",
        ("Run", "egc"): "designed in a plan; as found only a metal raceway counts",
        ("Run", "ssbj"): "behind a transformer designed in a plan; as found only a metal raceway "
        "counts. Ahead of a service disconnect: none, since the neutral bonds",
        ("Run", "pe"): "designed in a plan; as found: none. Ahead of the main earthing terminal "
        "see [IEC 60364](iec.md)",
        ("Site", "earthing"): "needed by IEC 60364; other rules don't know it",
        ("Site", "means of earthing"): "as the arrangement has it",
        ("Site", "insulation monitoring"): "asked for, in an IT system",
        ("Site", "first fault current"): "asked for, in an IT system",
        ("Electrode", "buried"): "in a plan `sheathed`, assumed; as found asked for where it "
        "matters",
        ("Run", "device"): "no device at its start",
        ("Run", "needed"): "lines not enlarged",
        ("Run", "wiring"): "`raceway` if one is given, else `cable`, assumed",
        ("Run", "raceway"): "none",
        ("Run", "installed"): "that of the place or transformer it feeds",
        ("Tie", "size"): "of a wire: designed in a plan; as found the least size is assumed and "
        "reported as not known",
        ("Tie", "resistance"): "usual for its form, assumed",
        ("Electrode", "conductor"): "designed in a plan; as found the least size is assumed and "
        "reported as not known",
        ("Electrode", "lead"): f"{show(taken.lead, Dimension.LENGTH)}, assumed",
        **_geometry("Electrode", length, diameter, spacing),
        **_geometry("Neighbour", length, diameter, spacing),
        ("EarthTest", "far"): "of a fall of potential it must be given",
        (
            "EarthTest",
            "goal",
        ): "nothing is judged; of a continuity test and of a loop it must be given",
        ("EarthTest", "widest"): "not known; the pins may be too near",
        ("EarthTest", "others"): "not known",
        ("EarthTest", "leads"): "none",
        ("EarthTest", "asked"): "of a two-point reading it must be given",
        ("EarthTest", "metal"): "20 degC",
        ("EarthTest", "section"): "of a soil box it must be given",
        ("EarthTest", "apart"): "of a soil box it must be given",
        ("EarthTest", "tester"): "`high current`",
        ("EarthTest", "cold part"): "80 %",
        ("EarthTest", "residual"): "of a TT electrode it must be given",
        ("EarthReading", "distance"): "of a fall of potential it must be given",
        ("EarthReading", "spacing"): "of a survey it must be given",
        ("EarthReading", "inner"): "potential pins infinitely close",
        ("EarthReading", "resistance"): "of a survey `resistivity` must be given",
        ("EarthReading", "resistivity"): "worked out from `resistance`",
        ("Metal", "resistance"): "then `resistance/length` must be given",
        ("Metal", "resistance/length"): "then `resistance` must be given",
    }


def models() -> dict[str, Shape]:
    """Return the shape behind every model of the site file, by the model's name."""
    found: dict[str, Shape] = {}
    waiting = [site_shape()]
    while waiting:
        shape = waiting.pop()
        if shape.item is not None:
            waiting.append(shape.item)
        if shape.kind == "group" and shape.model is not None:
            found[shape.model.__name__] = shape
            waiting.extend(shape.fields.values())
    return found


def field_table(name: str) -> str:
    """Return the table of one model's keys."""
    shape = models()[name]
    schema = json_schema()
    properties = (schema if name == "Site" else schema["$defs"][name])["properties"]
    rows = []
    for key, field in shape.fields.items():
        meaning = _TABLE_MEANING.get((name, key)) or properties[key]["description"]
        # What a quantity looks like has a column of its own.
        meaning = re.sub(r" An? (?:[a-z]+ )+with its unit\.$", "", meaning)
        meaning = re.sub(r"(?<!\w)'([^']+)'(?!\w)", r"`\1`", meaning)
        rows.append([code(key), meaning, _written(name, key, field), _left_out(name, shape, key)])
    return table(("Key", "Meaning", "Written", "Left out"), rows)


def _info(shape: Shape, key: str) -> Any:
    model: type[BaseModel] | None = shape.model
    if model is None:
        raise TypeError(key)
    python = next((name for name, written in shape.names.items() if written == key), key)
    return model.model_fields[python]


def _written(name: str, key: str, field: Shape) -> str:
    match field.kind:
        case "group":
            return f"[keys](#{ANCHORS[_model(field)]})"
        case "table" if field.item is not None and field.item.kind != "group":
            return f"`{{{_KEYED[name, key]}}}`"
        case "table":
            return f"[entries](#{ANCHORS[_model(field.item)]}), each under its own id"
        case "list":
            inside = field.item
            if inside is not None and inside.kind == "group":
                return f"list of [entries](#{ANCHORS[_model(inside)]})"
            if inside is not None and inside.kind == "text":
                return "list of ids"
            if inside is not None and inside.kind == "value":
                return "pair like `[0 m, 3 m]`"
            if inside is not None and inside.kind == "list":
                return "list of pairs like `[[0 m, 0 m], [3 m, 0 m]]`"
            return f"list of {_words(inside)}"
        case "words":
            return _words(field)
        case "text":
            return "text"
        case "flag":
            return "`true` or `false`"
        case "number" | "whole":
            what = "number" if field.kind == "number" else "whole number"
            return ", ".join([what, *_limits(_info(models()[name], key).metadata)])
        case _:
            return code(EXAMPLES.get((name, key), field.example))


def _model(shape: Shape | None) -> str:
    if shape is None or shape.model is None:
        raise TypeError(shape)
    return shape.model.__name__


def _words(shape: Shape | None) -> str:
    return ", ".join(code(word) for word in shape.words) if shape is not None else ""


def _limits(metadata: Sequence[object]) -> Iterator[str]:
    for limit in metadata:
        for name, words in (("gt", "more than"), ("ge", "at least"), ("le", "at most")):
            if (value := getattr(limit, name, None)) is not None:
                yield f"{words} {value}"


def _left_out(name: str, shape: Shape, key: str) -> str:
    if key in shape.required:
        return "required"
    special = left_out().get((name, key))
    if special is not None:
        return special
    value = _info(shape, key).get_default(call_default_factory=True)
    if value in ("", [], {}):
        return "none"
    if isinstance(value, bool):
        return code(str(value).lower())
    if value is None:
        return "not known; nothing is taken for it"
    return code(value)


def units_table() -> str:
    """Return every dimension of the site file with its units."""
    used = (
        Dimension.LENGTH,
        Dimension.RESISTANCE,
        Dimension.RESISTANCE_PER_LENGTH,
        Dimension.CURRENT,
        Dimension.REAL_POWER,
        Dimension.APPARENT_POWER,
        Dimension.RATIO,
        Dimension.RESISTIVITY,
        Dimension.TEMPERATURE,
        Dimension.FREQUENCY,
        Dimension.VOLTAGE,
        Dimension.TIME,
    )
    rows = [
        [dimension.value, " ".join(code(unit) for unit in unit_names(dimension))]
        for dimension in used
    ]
    return table(("Quantity", "Units"), rows)


def raceways_table() -> str:
    """Return every kind of raceway with its trade sizes."""
    text = (DATA_FOLDERS[0] / "raceway_dimensions.csv").read_text(encoding="utf-8")
    sizes: dict[str, list[str]] = {}
    for row in _csv_rows(text):
        sizes.setdefault(row["kind"], []).append(row["trade_size"])
    names = {
        RacewayKind.EMT: "electrical metallic tubing, taken as steel",
        RacewayKind.IMC: "intermediate metal conduit, steel",
        RacewayKind.RMC: "rigid metal conduit, steel",
        RacewayKind.RMC_AL: "rigid metal conduit, aluminium",
        RacewayKind.PVC: "rigid PVC conduit, schedule 40",
        RacewayKind.PVC80: "rigid PVC conduit, schedule 80",
    }
    rows = [[code(kind), names[kind], ", ".join(sizes[kind]) + " in"] for kind in RacewayKind]
    return table(("Kind", "What it is", "Trade sizes"), rows)


def assumed_table() -> str:
    """Return what the plan takes for electrodes and ties of unknown resistance."""
    taken = defaults()
    rows = [[f"tie by {form}", f"{ohms * 1e3:g} mohm"] for form, ohms in taken.tie.items()]
    length = show(taken.tie_wire_length, Dimension.LENGTH)
    rows[-1][1] += f" and {length} of its wire ({taken.tie_wire} where no size is asked)"
    soil = show(taken.electrode_soil, Dimension.RESISTIVITY)
    rows += [
        [f"electrode: {kind}", f"{show(ohms, Dimension.RESISTANCE)} in soil of {soil}, in "
         "proportion to the soil"]
        for kind, ohms in taken.electrode.items()
    ]  # fmt: skip
    rows += [
        [f"shape of an electrode with a place: {kind}",
         ", ".join(f"{key} {_measure(key, value)}" for key, value in measures.items())]
        for kind, measures in taken.geometry.items()
    ]  # fmt: skip
    rows.append(["conductor of a ring with a place", str(taken.ring_wire)])
    rows.append(["conductor of an auxiliary electrode", str(taken.auxiliary)])
    return table(("What", "Taken"), rows)


def _measure(key: str, value: float) -> str:
    return f"{value / INCH:g} in" if key in {"diameter", "width"} else show(value, Dimension.LENGTH)


# --- rules ------------------------------------------------------------------------------------

DOES: Final[Mapping[str, str]] = {
    "main-bonding-jumper": "computed",
    "system-bonding-jumper": "computed",
    "supply-side-bonding-jumper": "computed",
    "grounded-conductor": "computed",
    "electrode-conductor": "computed",
    "common-electrode-conductor": "computed where `shared by` names it",
    "equipment-ground": "computed",
    "raceway-as-ground": "checked where a flexible piece is described",
    "tie-missing": "checked",
    "derived-tie-missing": "checked",
    "tie-load-side": "checked",
    "derived-tie-twice": "checked; asked outdoors",
    "tie-without-neutral": "asked",
    "tie-place-unknown": "asked",
    "supply-side-loop": "checked (a note)",
    "old-three-wire-feeder": "asked",
    "service-neutral": "checked",
    "fault-path": "checked",
    "equipment-ground-missing": "checked",
    "pv-equipment-ground": "computed",
    "pv-metal": "checked",
    "pv-fault-protection": "checked; asked on ungrounded arrays",
    "pv-electrode": "computed where solidly grounded; else asked (a note)",
    "earth-not-a-path": "checked",
    "device-unknown": "asked",
    "lines-too-small": "checked against `needed`",
    "service-electrode": "checked",
    "building-electrode": "checked",
    "derived-electrode": "checked",
    "auxiliary-electrode": "checked (a note)",
    "electrode-not-joined": "checked",
    "single-rod": "checked; asked without a measured resistance",
    "water-pipe-alone": "checked",
    "rod-spacing": "checked",
    "rod-size": "checked; asked for a thin listed rod",
    "electrode-length": "checked",
    "ring-size": "checked",
    "ground-fault-protection": "checked; asked where no setting is given",
    "feeder-ground-fault-protection": "checked; asked where no setting is given",
    "must-ground": "checked",
    "low-voltage-ground": "checked",
    "service-raceway-bond": "checked where `fittings` is given",
    "high-voltage-raceway-bond": "checked where `fittings` is given",
    "load-side-bonding-jumper": "computed",
    "intersystem-conductor": "computed, and checked where `intersystem` is given",
    "lightning-electrode-bond": "checked",
    "electrode-system-spacing": "checked where `apart` is given",
    "electrode-systems-apart": "checked; asked where no building is named",
    "outdoor-source-electrode": "checked",
    "electrode-conductor-protection": "checked where `sleeve` is given",
    "electrode-sleeve-bond": "checked where `sleeve` is given",
    "pipe-connection-distance": "checked where `from entry` is given",
    "occupancy-pipe-bond": "computed",
    "pool-bond": "computed, and checked where `bond` is given",
    "livestock-bond": "computed, and checked where `bond` is given",
    "dock-ground": "computed, and checked where `egc` is given",
    "patient-care-grounds": "asked: a specialist decides",
    "shore-plane-bond": "computed, and checked where `bond` is given; asked at a dock",
    "tub-bond": "computed, and checked where `bond` is given",
    "mobile-home-feeder": "checked; asked where the service is on the home",
    "livestock-buried-ground": "asked where `egc` is aluminium and `wiring` is `direct buried`",
    "high-voltage-system": "asked: an engineer decides",
    "pv-grounding-point": "checked; asked where fuses make the joins",
    "dc-must-ground": "checked; asked where a detector is described",
    "dc-ground-place": "checked",
    "dc-electrode-conductor": "computed, and checked where `conductor` is given",
    "dc-ground-detector": "checked where `detector` is given; else asked",
    "dc-bonding-jumper": "computed, and checked where `jumper` is given",
    "ground-detector": "asked (a note)",
    "meter-bond": "asked (a note)",
    "supply-side-jumper-missing": "checked",
    "state-tie-none": "checked",
    "state-tie-twice": "checked",
    "sensor-and-transfer": "checked (a note)",
    "impedance-grounding": "checked; detectors and qualified people are asked (a note)",
    "impedance-grounding-conductor": "computed",
    "grounded-line": "checked",
    "high-leg": "checked; marking is asked (a note)",
    "zigzag-ground": "asked",
    "water-pipe-bond": "computed",
    "other-pipe-bond": "computed",
    "structural-steel-bond": "computed",
    "cable-tray-bond": "computed",
    "derived-area-bond": "computed",
}
"""What the tool does about each rule of the catalogue."""

STUDY_FINDINGS: Final[Mapping[str, str]] = {
    "fault-not-cleared": "a fault that no device is sure to open; danger",
    "fault-cleared-late": f"a fault that may last longer than {LONGEST_S:g} s",
    "conductor-overheats": f"a fault that brings a conductor above {DAMAGE_C:g} degC",
    "interrupting-rating": "a device that has less interrupting rating than current; danger",
    "fault-ahead-of-devices": (
        "a fault that only the protection of the utility or of a generator ends (a note)"
    ),
    "breaker-curve-missing": (
        f"a breaker that may open at once or only after more than {LONGEST_S:g} s, as far as its "
        "standard says (can't be told)"
    ),
    "let-through-missing": (
        "a conductor that may or may not bear a fault which is over within the first cycles "
        "(can't be told)"
    ),
    "solution-rough": (
        "a circuit whose impedances are too far apart to be solved exactly (can't be told)"
    ),
    "array-frame-live": "a fault that makes frames of an array live; danger",
    "array-fault-not-seen": "a fault on an array's grounded conductor that its fuse can't see",
    "array-fault-not-stopped": "a ground fault on an array that goes on in daylight",
    "array-second-fault": "an array whose first ground fault nobody may find (can't be told)",
    "array-live-in-daylight": "an array: live as long as light falls on it (a note)",
    "stray-current": "neutral current on metal in normal use, and the tie that causes it",
    "sources-circulate": "harmonic current that goes round between sources in parallel (a note)",
    "source-feeds-utility": (
        "a way the site is run in which a source on site feeds the line of a utility that is "
        "off; danger"
    ),
}
"""Findings of the studies: facts of physics, without a clause."""


_PLAN: Final = "in every plan"
_STUDY: Final = "by `check` and `papers`, with the currents of the circuit"
_FUNCTION: Final = "a function; no plan asks it yet"

IEC_DOES: Final[Mapping[str, str]] = {
    "iec-join-missing": f"checked {_PLAN}",
    "iec-join-downstream": f"checked {_PLAN}",
    "iec-join-not-allowed": f"checked {_PLAN}",
    "iec-join-twice": f"checked {_PLAN}",
    "iec-protective-conductor": f"computed {_PLAN}",
    "iec-protective-adiabatic": f"computed {_STUDY}, where the table asks for more than there is",
    "iec-withstand": f"computed {_STUDY}",
    "iec-pen": _FUNCTION,
    "iec-pen-residual-device": _FUNCTION,
    "iec-main-bonding": f"computed {_PLAN}",
    "iec-pme-bonding": _FUNCTION,
    "iec-supplementary-bonding": _FUNCTION,
    "iec-earthing-conductor": f"computed {_PLAN}",
    "iec-electrode-size": _FUNCTION,
    "iec-disconnection-time": f"computed {_STUDY}",
    "iec-loop": f"computed {_STUDY}",
    "iec-loop-by-residual-device": f"checked {_STUDY}",
    "iec-loop-high": _FUNCTION,
    "iec-site-test": _FUNCTION,
    "iec-tt-residual-device": f"computed {_STUDY}",
    "iec-electrode-unstable": f"checked {_STUDY} (a note)",
    "iec-it-first-fault": f"computed {_STUDY}; asked where the current isn't given",
    "iec-it-monitor": f"checked {_STUDY}; asked where nothing is said",
    "iec-it-second-fault": f"computed {_STUDY}",
    "iec-supply-earth-open": _FUNCTION,
    "iec-supply-earth-high": _FUNCTION,
    "iec-earth-by-pipework": _FUNCTION,
    "iec-pen-open": f"computed {_PLAN} of a single-phase TN-C-S supply (a note)",
    "iec-outbuilding": _FUNCTION,
    "iec-exposed-part": f"checked {_PLAN}",
    "iec-earth-missing": f"checked {_PLAN}",
    "iec-additional-protection": f"checked {_PLAN}",
    "iec-special-location": f"asked {_PLAN}",
    "iec-own-source": f"checked {_PLAN}",
    "iec-line-small": f"checked {_PLAN}",
    "iec-ahead-of-residual-device": f"asked {_PLAN} (a note)",
}
"""What is done about each rule of the family."""


def iec_rules_table() -> str:
    """Return every rule of IEC 60364."""
    head = ("Rule", "What it is about", "IEC 60364", "Does", "Status")
    rows = [
        [
            f"`{rule.id}`",
            rule.title,
            rule.clauses.get("iec", ""),
            IEC_DOES[rule.id],
            rule.status.value,
        ]
        for rule in iec_catalogue().values()
    ]
    return table(head, rows)


def iec_clauses_table() -> str:
    """Return every clause of IEC 60364-4-41 and 5-54 with how it is handled."""
    head = ("Clause", "About", "Handled", "Rules", "Note")
    rows = [
        [
            line.number,
            line.title,
            line.handling.value,
            ", ".join(f"`{id}`" for id in line.rules),
            line.note,
        ]
        for line in iec_clauses().values()
    ]
    return table(head, rows)


def iec_assumed_table() -> str:
    """Return what a plan by IEC 60364 takes where a description is silent."""
    taken = defaults("iec_defaults")
    rows = [
        ["soil", f"{taken.soil:g} ohm m"],
        ["frequency", f"{taken.frequency:g} Hz"],
        ["conductors", f"{taken.temperature:g} degC"],
        ["rod", f"{taken.rod_length:g} m by {1000 * taken.rod_diameter:g} mm"],
        ["rods apart", f"{taken.rod_spacing:g} m"],
        ["earthing conductor to an electrode", f"{taken.lead:g} m long"],
        ["conductor where no rule gives a size", str(taken.auxiliary)],
    ]
    return table(("What", "Taken"), rows)


def rules_table() -> str:
    """Return every rule with its clause in each edition."""
    years = sorted(EDITIONS.values())
    head = ("Rule", "What it is about", *(f"NEC {year}" for year in years), "Does", "Status")
    rows = [
        [
            code(rule.id),
            rule.title,
            *(_clause(rule, year) for year in years),
            DOES[rule.id],
            rule.status.value,
        ]
        for rule in catalogue().values()
    ]
    return table(head, rows)


def _clause(rule: Rule, year: int) -> str:
    return rule.clauses.get(year, "")


def study_findings_table() -> str:
    """Return the findings of the studies."""
    rows = [[code(name), text] for name, text in STUDY_FINDINGS.items()]
    return table(("Finding", "What it is about"), rows)


# --- physics and validation ----------------------------------------------------------------


def constants_table() -> str:
    """Return the constants that the circuit and the studies assume."""
    rows = [
        [
            "relative permeability of steel raceway where its current is not known",
            f"{STEEL_PERMEABILITY:g}",
        ],
        ["resistivity of steel raceway at 20 degC", f"{STEEL_RESISTIVITY:.4g} ohm m"],
        ["resistivity of aluminium raceway at 20 degC", f"{ALUMINIUM_RESISTIVITY:.5g} ohm m"],
        ["distance between neighbouring parallel sets", f"{SET_DISTANCE:g} m"],
        ["distance between a run and the metal beside it", f"{METAL_DISTANCE:g} m"],
        ["geometric mean radius of such metal", f"{METAL_RADIUS * 1e3:g} mm"],
        ["capacitance of every terminal to earth", f"{NODE_CAPACITANCE * 1e9:g} nF"],
        ["resistance of the utility's grounding, if not given", f"{SOURCE_ELECTRODE:g} ohm"],
        ["half winding over full winding, resistance in ohms", f"{HALF_R:g}"],
        ["half winding over full winding, reactance in ohms", f"{HALF_X:g}"],
        ["a tie added for a question", f"{ADDED_TIE_OHM * 1e3:g} mohm"],
        ["fault current that counts as stopped", f"less than {CLEARED_A:g} A"],
        ["longest clearing time that holds", f"{LONGEST_S:g} s"],
        ["temperature that a conductor may reach", f"{DAMAGE_C:g} degC"],
        ["smallest current on metal that is reported", f"{NOISE_A:g} A"],
        ["a tie causes a current if lifting it takes away", f"more than {CAUSED:.0%} of it"],
    ]
    return table(("Constant", "Value"), rows)


def sureness_table() -> str:
    """Return, for every data file, how many of its entries have each status."""
    statuses = [*(status.value for status in Status), "common practice"]
    rows = []
    for path in sorted(file for folder in DATA_FOLDERS for file in folder.rglob("*")):
        if path.suffix not in {".csv", ".yaml"}:
            continue
        counts = _statuses(path, statuses)
        name = path.relative_to(ROOT / "src" / "bondwright").as_posix()
        rows.append([code(name), *(str(counts[status] or "") for status in statuses)])
    return table(("File", *statuses), rows)


def _statuses(path: Path, statuses: Sequence[str]) -> Counter[str]:
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".csv":
        rows = _csv_rows(text)
        found: Counter[str] = Counter()
        for row in rows:
            for key, word in row.items():
                if "status" in key and word in statuses:
                    found[word] += 1
    else:
        found = Counter(word for word in _yaml_statuses(yaml.safe_load(text)) if word in statuses)
    if not found:
        head = re.search(r"^# status:\s*([a-z- ]+?)(?:;|$)", text, re.MULTILINE)
        if head is not None and head[1] in statuses:
            found[head[1]] = 1
    return found


def _csv_rows(text: str) -> list[dict[str, str]]:
    body = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    return list(csv.DictReader(io.StringIO(body)))


def _yaml_statuses(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        if isinstance(value.get("status"), str):
            yield value["status"]
        for item in value.values():
            yield from _yaml_statuses(item)
    elif isinstance(value, list):
        for item in value:
            yield from _yaml_statuses(item)


# --- commands ------------------------------------------------------------------------------


def commands_text() -> str:
    """Return every command with its arguments and options."""
    return "\n\n".join(_command("bondwright", command_group, top=True))


def _command(path: str, command: click.Command, *, top: bool = False) -> Iterator[str]:
    if not top:
        yield f"### {path}"
        said = re.split(r"\n\s*\n", (command.help or "").strip())
        yield "\n\n".join(" ".join(paragraph.split()) for paragraph in said)
        yield "```\n" + _usage(path, command) + "\n```"
        options = [p for p in command.params if isinstance(p, click.Option) and not p.hidden]
        if options:
            yield table(
                ("Option", "Meaning", "Default"), [list(_option(option)) for option in options]
            )
    if isinstance(command, click.Group):
        for name, inner in sorted(command.commands.items()):
            yield from _command(f"{path} {name}", inner)


def _usage(path: str, command: click.Command) -> str:
    arguments = [p.make_metavar(click.Context(command)) for p in command.params
                 if isinstance(p, click.Argument)]  # fmt: skip
    tail = "COMMAND [OPTIONS]" if isinstance(command, click.Group) else "[OPTIONS]"
    return " ".join([path, tail, *arguments])


def _option(option: click.Option) -> Iterator[str]:
    names = ", ".join([*option.opts, *option.secondary_opts])
    kind = "" if option.is_flag else _kind(option)
    yield code(f"{names} {kind}".strip())
    choices = ""
    if isinstance(option.type, click.Choice):
        choices = " One of " + ", ".join(code(word) for word in option.type.choices) + "."
    yield (option.help or "").strip() + choices
    if option.required:
        yield "required"
    elif option.is_flag:
        # A pair like --loads/--no-loads has a side that it takes; a lone flag is off.
        yield code(option.opts[0]) if option.default and option.secondary_opts else "off"
    elif option.show_default and option.default is not None:
        yield code(option.default)
    else:
        yield ""


def _kind(option: click.Option) -> str:
    if option.metavar:
        return option.metavar
    return "WORD" if isinstance(option.type, click.Choice) else option.type.name.upper()


# --- pages ---------------------------------------------------------------------------------


def cautions_text() -> str:
    """Return the cautions as a numbered list."""
    return "\n".join(f"{number}. {text}" for number, text in enumerate(CAUTIONS, start=1))


def glossary_text() -> str:
    """Return the glossary: the word of each region, and the meaning."""
    head = ("Word", *(dialect.readers for dialect in Dialect if dialect is not Dialect.US))
    rows = []
    for word, term in glossary():
        said = [term.words[dialect] or "no such thing" for dialect in Dialect]
        also = f" Also: {', '.join(term.also)}." if term.also else ""
        shown = word if term.words[Dialect.US] else f"{word} (not a word of the NEC)"
        rows.append([shown, *said[1:], term.meaning + also])
    return table((*head, "Meaning"), rows)


def layers_table() -> str:
    """Return the layers of exchanged drawings."""
    rows = [
        [code(name), str(one["colour"]), one["linetype"].lower(), one["about"]]
        for name, one in layers().items()
    ]
    return table(["Layer", "Colour", "Line", "What is on it"], rows)


def frames_text() -> str:
    """Return the tables of the results with their columns."""
    parts = []
    for name, there in columns().items():
        rows = [[code(column), one["type"], one["about"]] for column, one in there.items()]
        parts += [f"### {name}", "", table(["Column", "Type", "Meaning"], rows), ""]
    return "\n".join(parts).rstrip()


PARTS: Final[Mapping[str, Callable[[], str]]] = {
    "layers": layers_table,
    "frames": frames_text,
    **{f"keys of {name}": (lambda name=name: field_table(name)) for name in SECTIONS},  # type: ignore[misc]
    "units": units_table,
    "raceways": raceways_table,
    "assumed": assumed_table,
    "rules": rules_table,
    "study findings": study_findings_table,
    "constants": constants_table,
    "sureness": sureness_table,
    "commands": commands_text,
    "cautions": cautions_text,
    "glossary": glossary_text,
    "iec rules": iec_rules_table,
    "iec clauses": iec_clauses_table,
    "iec assumed": iec_assumed_table,
}
"""Every made part by name."""

_PART: Final = re.compile(r"<!-- made: (?P<name>.+?) -->\n.*?<!-- end: (?P=name) -->", re.DOTALL)


def renewed(text: str) -> str:
    """Return a page with its made parts made anew.

    Raises:
        KeyError: a part of that name isn't made here.
    """

    def part(match: re.Match[str]) -> str:
        name = match["name"]
        return f"<!-- made: {name} -->\n{PARTS[name]()}\n<!-- end: {name} -->"

    return _PART.sub(part, text)


def parts_in(text: str) -> list[str]:
    """Return the names of a page's made parts, in order."""
    return [match["name"] for match in _PART.finditer(text)]


def main(arguments: Sequence[str]) -> int:
    """Renew the pages, or with ``--check`` name those that are stale."""
    check = "--check" in arguments
    stale = []
    for page in sorted(DOCS.glob("*.md")):
        text = page.read_text(encoding="utf-8")
        new = renewed(text)
        if new != text:
            stale.append(page.name)
            if not check:
                page.write_text(new, encoding="utf-8")
    for name in stale:
        print(f"{'stale' if check else 'wrote'}: docs/{name}")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
