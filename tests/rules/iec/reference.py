"""The tables of IEC 60364 and its national followers as first transcribed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from tests.catalog.reference import rows

__all__ = ["EXAMPLES", "FACTORS", "FACTS", "rows"]

_FOLDER = Path(__file__).parents[2] / "reference"


def _read(name: str) -> Any:
    return yaml.safe_load((_FOLDER / name).read_text(encoding="utf-8"))


FACTS: dict[str, Any] = _read("iec_bs_rules.yaml")
FACTORS: dict[str, Any] = _read("iec_k_tables.yaml")["k_tables"]
EXAMPLES: dict[str, dict[str, Any]] = {one["id"]: one for one in _read("iec_worked_examples.yaml")}
