"""What can be asked for, without loading what makes it."""

from __future__ import annotations

from typing import Final

FORMATS: Final = ("pdf", "html", "csv", "json", "netlist", "picture")
"""What can be asked for. "csv" makes a table for each subject, "netlist" one file for the site and
one for each array, every other one file."""
USUAL: Final = FORMATS
"""What is written where nothing is asked for."""
