"""The electrical parts of a site as IFC (ISO 16739-1, schema IFC4), by ifcopenshell.

Places, sources, transformers and switches become elements of their kind, runs become cable
segments that are connected to them by ports, ties and electrode conductors conductor segments.
Each has its part of the description in a property set of our own, :data:`PSET`, and the rest of
the description stands at the building site: so the file holds the whole description.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Mapping
from typing import Any, Final

from bondwright.site.model import PlaceKind, Site
from bondwright.units import Dimension, parse

PSET: Final = "Bondwright_Description"
"""Property set with a part of the description: its section, its label and its text as JSON."""
TABLES: Final = (
    "sources", "generators", "inverters", "transfers", "transformers", "places", "runs", "ties",
    "electrodes", "metal",
)  # fmt: skip
"""Sections of the description that become elements."""
_NAMESPACE: Final = uuid.UUID("5a1c7b0e-7d0e-5f7c-9c55-0b7e1bd0a001")
_PLACES: Final[Mapping[PlaceKind, tuple[str, str]]] = {
    PlaceKind.METER: ("IfcFlowMeter", "ENERGYMETER"),
    PlaceKind.SERVICE: ("IfcElectricDistributionBoard", "SWITCHBOARD"),
    PlaceKind.PANEL: ("IfcElectricDistributionBoard", "DISTRIBUTIONBOARD"),
    PlaceKind.DISCONNECT: ("IfcSwitchingDevice", "SWITCHDISCONNECTOR"),
    PlaceKind.EQUIPMENT: ("IfcElectricAppliance", "NOTDEFINED"),
    PlaceKind.OUTLET: ("IfcOutlet", "POWEROUTLET"),
    PlaceKind.BOX: ("IfcJunctionBox", "POWER"),
}
_OTHERS: Final[Mapping[str, tuple[str, str, str]]] = {
    "sources": ("IfcTransformer", "USERDEFINED", "utility supply"),
    "generators": ("IfcElectricGenerator", "STANDALONE", ""),
    "inverters": ("IfcTransformer", "INVERTER", ""),
    "transfers": ("IfcSwitchingDevice", "USERDEFINED", "transfer switch"),
    "transformers": ("IfcTransformer", "VOLTAGE", ""),
    "runs": ("IfcCableSegment", "CABLESEGMENT", ""),
    "ties": ("IfcCableSegment", "USERDEFINED", "bonding jumper"),
    "electrodes": ("IfcBuildingElementProxy", "USERDEFINED", "grounding electrode"),
    "metal": ("IfcBuildingElementProxy", "USERDEFINED", "bonded metal"),
}


class MissingIfcError(RuntimeError):
    """ifcopenshell isn't installed; the message says how to get it."""


def library() -> Any:
    """Return ifcopenshell.

    Raises:
        MissingIfcError: it isn't installed.
    """
    try:
        import ifcopenshell
    except ImportError as error:
        message = "ifcopenshell isn't installed; it comes with: pip install 'bondwright[ifc]'"
        raise MissingIfcError(message) from error
    return ifcopenshell


def site_ifc(site: Site) -> str:
    """Return a site as the text of an IFC file; the same site gives the same text.

    Args:
        site: the description.

    Raises:
        MissingIfcError: ifcopenshell isn't installed.
    """
    return _Writer(site).text()


class _Writer:
    def __init__(self, site: Site) -> None:
        self._library = library()
        self._site = site
        self._data = site.model_dump(mode="json", by_alias=True, exclude_defaults=True)
        self._data["rules"] = site.rules
        self._file = self._library.file(schema="IFC4")
        self._elements: dict[tuple[str, str], Any] = {}

    def text(self) -> str:
        head = self._file.header
        head.file_name.name = f"{self._site.site}.ifc"
        head.file_name.time_stamp = "1970-01-01T00:00:00"
        project = self._project()
        ground = self._root("IfcSite", "site", Name=self._site.site, CompositionType="ELEMENT")
        self._aggregate(project, [ground])
        rest = {key: value for key, value in self._data.items() if key not in TABLES}
        self._describe(ground, "", "", rest)
        houses = self._buildings(ground)
        self._stand(ground, houses)
        self._connect()
        self._system(ground)
        made: str = self._file.to_string()
        return made

    def _root(self, kind: str, *key: str, **attributes: Any) -> Any:
        """Make something with an identity of its own that is the same each time."""
        name = "\n".join((self._site.site, kind, *key))
        compressed = self._library.guid.compress(uuid.uuid5(_NAMESPACE, name).hex)
        return self._file.create_entity(kind, GlobalId=compressed, **attributes)

    def _project(self) -> Any:
        make = self._file.create_entity
        units = [
            make("IfcSIUnit", UnitType=kind, Name=name)
            for kind, name in (
                ("LENGTHUNIT", "METRE"),
                ("AREAUNIT", "SQUARE_METRE"),
                ("VOLUMEUNIT", "CUBIC_METRE"),
                ("PLANEANGLEUNIT", "RADIAN"),
                ("ELECTRICVOLTAGEUNIT", "VOLT"),
                ("ELECTRICCURRENTUNIT", "AMPERE"),
            )
        ]
        origin = make("IfcCartesianPoint", Coordinates=(0.0, 0.0, 0.0))
        context = make(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            Precision=1e-5,
            WorldCoordinateSystem=make("IfcAxis2Placement3D", Location=origin),
        )
        return self._root(
            "IfcProject",
            Name=self._site.site,
            RepresentationContexts=[context],
            UnitsInContext=make("IfcUnitAssignment", Units=units),
        )

    def _aggregate(self, whole: Any, parts: list[Any]) -> None:
        self._root("IfcRelAggregates", whole.GlobalId, RelatingObject=whole, RelatedObjects=parts)

    def _buildings(self, ground: Any) -> dict[str, Any]:
        names = {
            item["building"]
            for table in TABLES
            for item in self._data.get(table, {}).values()
            if item.get("building")
        }
        houses = {
            name: self._root("IfcBuilding", name, Name=name, CompositionType="ELEMENT")
            for name in sorted(names)
        }
        if houses:
            self._aggregate(ground, list(houses.values()))
        return houses

    def _stand(self, ground: Any, houses: Mapping[str, Any]) -> None:
        """Make every element, and put it into its building or on the site."""
        inside: dict[str, list[Any]] = {}
        for table in TABLES:
            for name, item in self._data.get(table, {}).items():
                kind, sort, word = self._kind(table, name)
                attributes: dict[str, Any] = {"Name": name, "PredefinedType": sort}
                if word:
                    attributes["ObjectType"] = word
                if item.get("note"):
                    attributes["Description"] = item["note"]
                element = self._root(kind, table, name, **attributes)
                self._elements[table, name] = element
                inside.setdefault(item.get("building", ""), []).append(element)
                self._describe(element, table, name, item)
                if table in {"runs", "metal"} and "length" in item:
                    self._length(element, item["length"])
        for house, elements in inside.items():
            self._root(
                "IfcRelContainedInSpatialStructure",
                house,
                RelatingStructure=houses.get(house, ground),
                RelatedElements=elements,
            )

    def _kind(self, table: str, name: str) -> tuple[str, str, str]:
        if table == "places":
            return (*_PLACES[self._site.places[name].kind], "")
        return _OTHERS[table]

    def _describe(self, element: Any, table: str, name: str, item: Any) -> None:
        make = self._file.create_entity

        def single(key: str, value: str) -> Any:
            return make(
                "IfcPropertySingleValue",
                Name=key,
                NominalValue=make("IfcText", wrappedValue=value),
            )

        values = {"Section": table, "Label": name, "Description": json.dumps(item)}
        self._property_set(
            element,
            self._root(
                "IfcPropertySet",
                element.GlobalId,
                Name=PSET,
                HasProperties=[single(key, value) for key, value in values.items()],
            ),
        )

    def _length(self, element: Any, text: str) -> None:
        if element.is_a() != "IfcCableSegment":
            return
        length = parse(text, Dimension.LENGTH)
        quantity = self._file.create_entity(
            "IfcQuantityLength", Name="Length", LengthValue=float(length)
        )
        self._property_set(
            element,
            self._root(
                "IfcElementQuantity",
                element.GlobalId,
                Name="Qto_CableSegmentBaseQuantities",
                Quantities=[quantity],
            ),
        )

    def _property_set(self, element: Any, found: Any) -> None:
        self._root(
            "IfcRelDefinesByProperties",
            found.GlobalId,
            RelatedObjects=[element],
            RelatingPropertyDefinition=found,
        )

    def _connect(self) -> None:
        """Join each run to what it leaves and reaches, by ports."""
        nodes = {name: e for (table, name), e in self._elements.items() if table not in _LINES}
        ports: dict[str, list[Any]] = {}

        def port(element: Any, key: str, way: str) -> Any:
            made = self._root(
                "IfcDistributionPort",
                element.GlobalId,
                key,
                Name=key,
                FlowDirection=way,
                PredefinedType="CABLE",
                SystemType="ELECTRICAL",
            )
            ports.setdefault(element.GlobalId, []).append(made)
            return made

        owners: dict[str, Any] = {}
        for name, run in self._site.runs.items():
            cable = self._elements["runs", name]
            for end, there, out in (("from", run.from_, "SOURCE"), ("to", run.to, "SINK")):
                node = nodes[there]
                owners[node.GlobalId], owners[cable.GlobalId] = node, cable
                other = "SINK" if out == "SOURCE" else "SOURCE"
                at_node = port(node, f"{name} {end}", out)
                at_cable = port(cable, end, other)
                first, second = (at_node, at_cable) if out == "SOURCE" else (at_cable, at_node)
                self._root(
                    "IfcRelConnectsPorts",
                    name,
                    end,
                    RelatingPort=first,
                    RelatedPort=second,
                )
        for key, owner in owners.items():
            self._root("IfcRelNests", key, RelatingObject=owner, RelatedObjects=ports[key])

    def _system(self, ground: Any) -> None:
        for sort, tables in (
            ("ELECTRICAL", frozenset(TABLES) - _EARTHING),
            ("EARTHING", _EARTHING - {"metal", "electrodes"}),
        ):
            parts = [e for (table, _), e in self._elements.items() if table in tables]
            self._group(sort, _elements(parts, "IfcDistributionElement"), ground)

    def _group(self, sort: str, parts: list[Any], ground: Any) -> None:
        if not parts:
            return
        system = self._root("IfcDistributionSystem", sort, Name=sort.lower(), PredefinedType=sort)
        self._root("IfcRelAssignsToGroup", sort, RelatingGroup=system, RelatedObjects=parts)
        self._root(
            "IfcRelServicesBuildings", sort, RelatingSystem=system, RelatedBuildings=[ground]
        )


_LINES: Final = frozenset({"runs", "ties", "electrodes", "metal"})
_EARTHING: Final = frozenset({"ties", "electrodes", "metal"})


def _elements(parts: Iterable[Any], kind: str) -> list[Any]:
    return [part for part in parts if part.is_a(kind)]
