"""A site in which everything that a person can name or write is what one should never trust."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any, Final

import yaml

from bondwright.site.source_text import parse

FARMHOUSE: Final = Path(__file__).parents[1] / "examples" / "harrow-creek-farmhouse.yaml"
SCRIPTS: Final = (
    "<script>window.hit=1</script>",
    "<img src=x onerror=window.hit=2>",
    '"><svg onload=window.hit=3>',
    "'-window.hit=4-'",
    "javascript:window.hit=5",
    "</title></style></svg><script>window.hit=6</script>",
    "{{7*7}}${7*7}<%= 7*7 %>#{7*7}",
    "]]>&lt;script&gt;<!--",
)
"""Texts that do something where they are taken for markup or code."""
FORMULAS: Final = (
    "=1+1", "+1+1", "-1+1", "@SUM(A1)", "=HYPERLINK(\"http://x\",\"y\")", "=cmd|'/C calc'!A0",
    "  =1+1", "\uff1d1+1", "-(1)", "+A1",
)  # fmt: skip
"""Texts that a spreadsheet takes for a formula."""
PATHS: Final = (
    "../../etc/passwd", "/etc/passwd", "..\\..\\x", "CON", "nul.txt", "a/b", "C:\\x", "~root",
    "x" * 80, "name.", ".hidden", "a:b", "%2e%2e%2f", "-rf", "$(reboot)", "`reboot`",
)  # fmt: skip
"""Texts that lead elsewhere where they are taken for the name of a file."""
_TABLES: Final = ("sources", "places", "runs", "metal", "electrodes", "ties", "amendments")


def hostile(words: tuple[str, ...]) -> str:
    """Return the farmhouse with these words in every name and text, as a site file."""
    data: dict[str, Any] = copy.deepcopy(parse(FARMHOUSE.read_text(encoding="utf-8")).data)
    data["metal"] = {
        "well pipe": {
            "kind": "water pipe",
            "from": "pump house panel",
            "to": "well pump",
            "length": "45 ft",
            "resistance": "0.05 ohm",
        }
    }
    data["amendments"] = {
        "county": {"authority": "A", "reference": "R", "date": "2026-01-01",
                   "values": {"rod-resistance": "20 ohm"}},
    }  # fmt: skip
    turn = iter(range(10_000))

    def word() -> str:
        return words[next(turn) % len(words)]

    new = {
        old: f"{word()} {k}"[-80:] if len(word()) > 70 else f"{word()} {k}"
        for k, old in enumerate(key for table in _TABLES for key in data.get(table, {}))
    }

    def renamed(value: Any) -> Any:
        if isinstance(value, dict):
            return {
                new.get(key, key): each if key == "kind" else renamed(each)
                for key, each in value.items()
            }
        if isinstance(value, list):
            return [renamed(each) for each in value]
        return new.get(value, value) if isinstance(value, str) else value

    data = {key: renamed(value) if key in _TABLES else value for key, value in data.items()}
    data["site"], data["note"] = word(), word()
    for place in data["places"].values():
        place["building"], place["note"] = word(), word()
        for load in place.get("loads", []):
            load["note"] = word()
    for table in ("runs", "metal", "electrodes", "sources"):
        for entry in data[table].values():
            entry["note"] = word()
    for entry in data["amendments"].values():
        entry["authority"], entry["reference"] = word(), word()
    text: str = yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=1000)
    return text
