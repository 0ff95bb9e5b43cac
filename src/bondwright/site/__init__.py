"""The description of a site: its model, its file, and what follows from it."""

from bondwright.site.check import problems
from bondwright.site.model import (
    AvailableCurrent,
    Describes,
    Electrode,
    ElectrodeKind,
    Enlarged,
    Load,
    LoadOn,
    Metal,
    MetalKind,
    Place,
    PlaceKind,
    Raceway,
    Run,
    Site,
    Source,
    SupplyTransformer,
    Tie,
    TieForm,
    Transformer,
    Wiring,
)
from bondwright.site.reader import load, read
from bondwright.site.schema import json_schema
from bondwright.site.site_error import SiteError, SiteProblem
from bondwright.site.topology import Problem, SupplySystem, Topology, topology
from bondwright.site.writer import EditError, dump, remove, rename_id, save, set_value

__all__ = [
    "AvailableCurrent",
    "Describes",
    "EditError",
    "Electrode",
    "ElectrodeKind",
    "Enlarged",
    "Load",
    "LoadOn",
    "Metal",
    "MetalKind",
    "Place",
    "PlaceKind",
    "Problem",
    "Raceway",
    "Run",
    "Site",
    "SiteError",
    "SiteProblem",
    "Source",
    "SupplySystem",
    "SupplyTransformer",
    "Tie",
    "TieForm",
    "Topology",
    "Transformer",
    "Wiring",
    "dump",
    "json_schema",
    "load",
    "problems",
    "read",
    "remove",
    "rename_id",
    "save",
    "set_value",
    "topology",
]
