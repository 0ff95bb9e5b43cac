"""Published and recomputed numbers, each file with its status."""

import csv
from pathlib import Path
from typing import Any

import yaml

FOLDER = Path(__file__).parents[1] / "reference"


def electrodes() -> dict[str, Any]:
    data: dict[str, Any] = yaml.safe_load(
        (FOLDER / "earth_electrodes.yaml").read_text(encoding="utf-8")
    )
    return data


def soundings() -> dict[str, Any]:
    data: dict[str, Any] = yaml.safe_load(
        (FOLDER / "two_layer_soundings.yaml").read_text(encoding="utf-8")
    )
    return data


def forward_table() -> list[dict[str, str]]:
    text = (FOLDER / "two_layer_forward.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
