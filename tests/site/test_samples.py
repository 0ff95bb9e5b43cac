"""Site files of every form there was are still read, and mean what they meant."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from bondwright.site.model import Site
from bondwright.site.reader import load, read
from bondwright.site.writer import dump

SAMPLES = sorted((Path(__file__).parent / "samples").glob("form-*.yaml"))


def meaning(site: Site) -> Any:
    """What a file says and what is taken for the rest, in SI units, as JSON has it."""
    return _plain(site)


def _plain(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return _plain({name: getattr(value, name) for name in type(value).model_fields})
    if isinstance(value, Enum):
        return _plain(value.value)
    if is_dataclass(value) and not isinstance(value, type):
        return _plain({field.name: getattr(value, field.name) for field in fields(value)})
    if isinstance(value, Mapping):
        plain = {str(key): _plain(each) for key, each in value.items()}
        return {key: each for key, each in plain.items() if each is not None and each != {}}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [_plain(each) for each in value]
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if value is None or isinstance(value, (bool, int, str)):
        return value
    return str(value)


def lost(kept: Any, now: Any, where: str = "") -> list[str]:
    """Where something that was read is now read as something else; new keys don't count."""
    if isinstance(kept, dict) and isinstance(now, dict):
        return [w for key in kept for w in lost(kept[key], now.get(key), f"{where}.{key}")]
    if isinstance(kept, list) and isinstance(now, list) and len(kept) == len(now):
        return [
            w
            for k, (a, b) in enumerate(zip(kept, now, strict=True))
            for w in lost(a, b, f"{where}.{k}")
        ]
    return [] if kept == now else [f"{where}: {kept!r} is now {now!r}"]


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_an_older_file_means_what_it_meant(path: Path) -> None:
    kept = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    assert lost(kept, meaning(load(path))) == []


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_written_anew_it_still_means_the_same(path: Path) -> None:
    site = load(path)
    assert read(dump(site)) == site


def test_every_number_has_its_sample() -> None:
    assert [path.stem for path in SAMPLES] == [f"form-{k}" for k in range(1, len(SAMPLES) + 1)]


def test_another_meaning_would_be_seen() -> None:
    kept = {"runs": {"drop": {"length": 27.432, "lines": ["4/0"]}}}
    assert lost(kept, {"runs": {"drop": {"length": 27.432, "lines": ["4/0"], "new": 1}}}) == []
    assert lost(kept, {"runs": {"drop": {"length": 27.4, "lines": ["4/0"]}}})
    assert lost(kept, {"runs": {"drop": {"length": 27.432, "lines": []}}})
    assert lost(kept, {"runs": {}})


def test_a_key_of_a_newer_tool_is_told_with_its_place() -> None:
    """The file has no version: what an older tool doesn't know, it names, and reads nothing."""
    from bondwright.site.site_error import SiteError

    text = SAMPLES[0].read_text(encoding="utf-8")
    with pytest.raises(SiteError, match=r"farm\.yaml:\d+:\d+.*[\s\S]*wormholes"):
        read(f"{text}wormholes: {{a: 1}}\n", "farm.yaml")
