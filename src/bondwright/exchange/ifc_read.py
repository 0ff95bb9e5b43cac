"""A description out of an IFC file: ours in full, anybody else's as far as it goes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from bondwright.exchange.ifc import PSET, TABLES, library
from bondwright.site.yaml_text import block

_KINDS: Final[tuple[tuple[str, str, dict[str, str]], ...]] = (
    ("IfcElectricDistributionBoard", "places", {"kind": "panel"}),
    ("IfcElectricDistributionPoint", "places", {"kind": "panel"}),
    ("IfcFlowMeter", "places", {"kind": "meter"}),
    ("IfcOutlet", "places", {"kind": "outlet"}),
    ("IfcJunctionBox", "places", {"kind": "box"}),
    ("IfcElectricAppliance", "places", {"kind": "equipment"}),
    ("IfcElectricMotor", "places", {"kind": "equipment"}),
    ("IfcLightFixture", "places", {"kind": "equipment"}),
    ("IfcLamp", "places", {"kind": "equipment"}),
    ("IfcSwitchingDevice", "places", {"kind": "disconnect"}),
    ("IfcTransformer", "transformers", {}),
    ("IfcElectricGenerator", "generators", {}),
)
_LACKS: Final = {
    "transformers": "its primary, secondary, rating and impedance",
    "generators": "its system and rating",
    "runs": "its wires, how they are laid, and the device ahead of it",
}


LONGEST_S: Final = 300
"""How long a model may take, s."""
_BROKEN: Final = (AttributeError, KeyError, IndexError, TypeError, ValueError, RuntimeError)
"""What a model raises whose parts refer to what isn't there or is of another kind."""


class IfcError(ValueError):
    """A file that can't be read as IFC; the message says why."""


@dataclass(frozen=True, slots=True)
class FromIfc:
    """What an IFC file says.

    Attributes:
        text: a site file; a draft where ``whole`` is false.
        whole: whether the file holds a whole description of ours.
        doubts: (what, what is missing or not understood), one for each element of the electrical
            trade that can't be taken over as it is.
    """

    text: str
    whole: bool
    doubts: tuple[tuple[str, str], ...]


def read_ifc(path: Path) -> FromIfc:
    """Read an IFC file, in a process of its own: the library may break down on a broken file.

    Args:
        path: the file.

    Raises:
        IfcError: it is none, contradicts itself, or took too long.
        OSError: it can't be opened.
        bondwright.exchange.ifc.MissingIfcError: ifcopenshell isn't installed.
    """
    library()
    with path.open("rb"):
        pass
    command = [sys.executable, "-c", f"from {__name__} import answer; answer()", str(path)]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=LONGEST_S, check=False,
            encoding="utf-8", env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
    except subprocess.TimeoutExpired as error:
        raise IfcError(f"{path.name} wasn't read within {LONGEST_S} s") from error
    try:
        told = json.loads(done.stdout)
    except ValueError as error:
        raise IfcError(
            f"{path.name} can't be read as IFC: the library that reads it broke down on it; have "
            "the program that wrote it check it"
        ) from error
    if "problem" in told:
        raise IfcError(told["problem"])
    return FromIfc(told["text"], told["whole"], tuple((a, b) for a, b in told["doubts"]))


def answer() -> None:
    """Read the file that the command line names, and print what came of it as JSON."""
    try:
        found = read_here(Path(sys.argv[1]))
        told = {"text": found.text, "whole": found.whole, "doubts": found.doubts}
    except IfcError as error:
        told = {"problem": str(error)}
    sys.stdout.write(json.dumps(told))


def read_here(path: Path) -> FromIfc:
    """Read an IFC file in this process, which the library may end.

    Args:
        path: the file.

    Raises:
        IfcError: it is none, or contradicts itself.
    """
    opened = library()
    with path.open("rb") as file:
        start = file.read(64)
    if b"ISO-10303-21" not in start:
        raise IfcError(f"{path.name} is no IFC file: it doesn't begin with ISO-10303-21")
    try:
        model = opened.open(str(path))
    except (RuntimeError, ValueError, opened.Error) as error:
        raise IfcError(f"{path.name} can't be read as IFC: {error}") from error
    try:
        ours = _ours(model)
        if ours is not None:
            return FromIfc("".join(block(key, value, 0) for key, value in ours.items()), True, ())
        return _anybody(model, path.name)
    except _BROKEN as error:
        raise IfcError(
            f"{path.name} contradicts itself: a part of it is missing, or isn't what it is used "
            f"for ({error}); have the program that wrote it check it"
        ) from error


def _ours(model: Any) -> dict[str, Any] | None:
    """Return the whole description that a file of ours holds, or None."""
    tables: dict[str, dict[str, Any]] = {}
    rest: dict[str, Any] | None = None
    for relation in model.by_type("IfcRelDefinesByProperties"):
        found = relation.RelatingPropertyDefinition
        if found is None or not found.is_a("IfcPropertySet") or found.Name != PSET:
            continue
        values = {p.Name: p.NominalValue.wrappedValue for p in found.HasProperties}
        try:
            item = json.loads(values["Description"])
        except (KeyError, ValueError):
            return None
        if not values.get("Section"):
            rest = item
        else:
            tables.setdefault(values["Section"], {})[values.get("Label", "")] = item
    if rest is None or "site" not in rest or not set(tables) <= set(TABLES):
        return None
    return {
        "site": rest.pop("site"),
        "rules": rest.pop("rules", "nec-2023"),
        **rest,
        **{table: tables[table] for table in TABLES if table in tables},
    }


def _anybody(model: Any, name: str) -> FromIfc:
    doubts: list[tuple[str, str]] = []
    labels: dict[int, str] = {}
    tables: dict[str, dict[str, Any]] = {"transformers": {}, "generators": {}, "places": {}}
    for kind, table, item in _KINDS:
        for element in _of_kind(model, kind):
            if element.id() in labels:
                continue
            label = _label(element, labels)
            labels[element.id()] = label
            house = _building(element)
            tables[table][label] = {**item, **({"building": house} if house else {})}
            if table in _LACKS:
                doubts.append((label, f"{_LACKS[table]} are not taken from the file"))
    tables["runs"] = dict(_runs(model, labels, doubts))
    doubts += [(n, f"{_LACKS['runs']} are not taken from the file") for n in tables["runs"]]
    doubts += [
        (f"{element.is_a()} {element.Name or element.GlobalId}", "is no kind that is read here")
        for element in model.by_type("IfcFlowController")
        if element.id() not in labels
    ]
    project = next(iter(model.by_type("IfcProject")), None)
    title = (project.Name if project is not None else None) or name
    found = {"site": title, **{key: value for key, value in tables.items() if value}}
    head = "# A draft from a building model. What is missing has to be added before it is used.\n"
    return FromIfc(head + "".join(block(k, v, 0) for k, v in found.items()), False, tuple(doubts))


def _of_kind(model: Any, kind: str) -> list[Any]:
    try:
        return list(model.by_type(kind))
    except RuntimeError:  # another schema doesn't know it
        return []


def _label(element: Any, taken: dict[int, str]) -> str:
    said = " ".join((element.Name or element.is_a().removeprefix("Ifc")).split())[:60]
    label, number = said, 2
    while label in taken.values():
        label, number = f"{said} {number}", number + 1
    return label


def _building(element: Any) -> str | None:
    for relation in getattr(element, "ContainedInStructure", ()):
        here, above_it = relation.RelatingStructure, set[int]()
        while here is not None and here.id() not in above_it:
            above_it.add(here.id())
            if here.is_a("IfcBuilding"):
                return str(here.Name or "building")
            above = [r.RelatingObject for r in getattr(here, "Decomposes", ())]
            here = above[0] if above else None
    return None


def _runs(
    model: Any, labels: dict[int, str], doubts: list[tuple[str, str]]
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each cable that leads from one known element to another."""
    runs: dict[int, str] = {}
    for cable in model.by_type("IfcCableSegment"):
        ends = list(_ends(cable))
        known = [(labels[e.id()], way) for e, way in ends if e.id() in labels]
        label = _label(cable, {**labels, **runs})
        if len(known) != 2:
            problem = f"leads to {len(known)} elements that are read; two are needed"
            doubts.append((label, problem))
            continue
        runs[cable.id()] = label
        first, second = known
        if first[1] == "SOURCE" or second[1] == "SINK":  # the cable's own end gives there
            first, second = second, first
        length = _cable_length(cable)
        run: dict[str, Any] = {"from": first[0], "to": second[0]}
        if length is not None:
            run["length"] = f"{length:g} m"
        yield label, run


def _ports(element: Any) -> Iterator[Any]:
    for relation in getattr(element, "IsNestedBy", ()):
        yield from (one for one in relation.RelatedObjects if one.is_a("IfcDistributionPort"))
    for relation in getattr(element, "HasPorts", ()):
        yield relation.RelatingPort


def _ends(cable: Any) -> Iterator[tuple[Any, str]]:
    """Yield what a cable is connected to, and which way its own port there faces."""
    for port in _ports(cable):
        joined = [r.RelatedPort for r in port.ConnectedTo]
        joined += [r.RelatingPort for r in port.ConnectedFrom]
        for other in joined:
            owners = [r.RelatingObject for r in getattr(other, "Nests", ())]
            owners += [r.RelatedElement for r in getattr(other, "ContainedIn", ())]
            for owner in owners:
                yield owner, str(port.FlowDirection or "")


def _cable_length(cable: Any) -> float | None:
    for relation in cable.IsDefinedBy:
        if not relation.is_a("IfcRelDefinesByProperties"):
            continue
        found = relation.RelatingPropertyDefinition
        if found.is_a("IfcElementQuantity"):
            for quantity in found.Quantities:
                if quantity.is_a("IfcQuantityLength") and quantity.Name == "Length":
                    return float(quantity.LengthValue)
    return None
