"""What can be asked for, without loading what makes it."""

from __future__ import annotations

from typing import Final

FORMATS: Final = (
    "pdf",
    "html",
    "csv",
    "json",
    "netlist",
    "picture",
    "checklist",
    "labels",
    "material",
    "tests",
    "owner",
    "dxf",
    "parquet",
    "ifc",
)
"""What can be asked for. "csv" makes a table for each subject, "netlist" one file for the site and
one for each array, "checklist", "labels", "material" and "tests" a PDF and a table each, "dxf" a
file for each drawing, every other one file."""
USUAL: Final = FORMATS[:-2]
"""What is written where nothing is asked for: all that needs no extra package."""
