"""docs/security.md lists every item of ASVS 4.0.3, level 1, once, with tests that are there."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

from bondwright.page import copies, doors, guard, pace, tries
from bondwright.store import bundle, files

ROOT = Path(__file__).parents[1]
# Items with a mark for level 1 in the table published with version 4.0.3 (read 2026-11-25).
_TABLE = """
2.1.1 2.1.2 2.1.3 2.1.4 2.1.5 2.1.6 2.1.7 2.1.8 2.1.9 2.1.10 2.1.11 2.1.12 2.2.1 2.2.2
2.2.3 2.3.1 2.5.1 2.5.2 2.5.3 2.5.4 2.5.5 2.5.6 2.7.1 2.7.2 2.7.3 2.7.4 2.8.1 3.1.1 3.2.1
3.2.2 3.2.3 3.3.1 3.3.2 3.4.1 3.4.2 3.4.3 3.4.4 3.4.5 3.7.1 4.1.1 4.1.2 4.1.3 4.1.5 4.2.1
4.2.2 4.3.1 4.3.2 5.1.1 5.1.2 5.1.3 5.1.4 5.1.5 5.2.1 5.2.2 5.2.3 5.2.4 5.2.5 5.2.6 5.2.7
5.2.8 5.3.1 5.3.2 5.3.3 5.3.4 5.3.5 5.3.6 5.3.7 5.3.8 5.3.9 5.3.10 5.5.1 5.5.2 5.5.3 5.5.4
6.2.1 7.1.1 7.1.2 7.4.1 8.2.1 8.2.2 8.2.3 8.3.1 8.3.2 8.3.3 8.3.4 9.1.1 9.1.2 9.1.3 10.3.1
10.3.2 10.3.3 11.1.1 11.1.2 11.1.3 11.1.4 11.1.5 12.1.1 12.3.1 12.3.2 12.3.3 12.3.4 12.3.5
12.4.1 12.4.2 12.5.1 12.5.2 12.6.1 13.1.1 13.1.3 13.2.1 13.2.2 13.2.3 13.3.1 14.2.1 14.2.2
14.2.3 14.3.2 14.3.3 14.4.1 14.4.2 14.4.3 14.4.4 14.4.5 14.4.6 14.4.7 14.5.1 14.5.2 14.5.3
"""
LEVEL_1 = _TABLE.split()


@cache
def _rows() -> dict[str, list[str]]:
    rows: dict[str, list[str]] = {}
    for line in (ROOT / "docs/security.md").read_text(encoding="utf-8").splitlines():
        if found := re.match(r"\| (\d+\.\d+\.\d+) \| (.*) \|$", line):
            assert found[1] not in rows, f"{found[1]} stands there twice"
            rows[found[1]] = found[2].split(" | ")
    return rows


def test_every_item_of_level_1_stands_there_once_and_no_other() -> None:
    assert len(set(LEVEL_1)) == len(LEVEL_1) == 128
    assert sorted(_rows()) == sorted(LEVEL_1)
    assert "128 items" in " ".join((ROOT / "docs/security.md").read_text("utf-8").split())


def test_every_test_that_is_named_is_there() -> None:
    named = 0
    for item, cells in _rows().items():
        if len(cells) != 3:
            continue
        file, _, name = cells[2].strip("`").partition("::")
        tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
        there = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
        assert name in there, f"{item}: {file} has no {name}"
        named += 1
    assert named > 100


def test_what_is_not_met_says_what_is_lacking() -> None:
    text = (ROOT / "docs/security.md").read_text(encoding="utf-8")
    lacking = text.partition("## What is not met")[2].partition("## What does not apply")[0]
    assert re.findall(r"^\| \d", lacking, re.MULTILINE) == []
    assert "2.2.3 is met only where `--mail-by` is given" in lacking


def test_the_limits_are_those_of_the_code() -> None:
    text = (ROOT / "docs/security.md").read_text(encoding="utf-8")
    limits = text.partition("## Limits")[2].partition("## What is met")[0]
    mib = 2**20
    assert pace.LOOKS.within == pace.CHANGES.within == pace.FILES.within == 60
    for told in (
        f"{guard.MOST_BYTES // 10**6} MB, sent within {pace.BODY_S:.0f} s",
        f"{doors.MOST_ASKED // 1024} KiB from somebody",
        f"{files.MAX_FILE // mib} MiB, {files.MAX_ALL // mib} MiB, {bundle.MAX_BUNDLE // mib} MiB",
        f"{doors.MOST_TRIES} in {tries.TRIES_S / 60:.0f} minutes for a name, "
        f"{doors.MOST_OF_ADDRESS} from an address",
        f"{pace.LOOKS.most} a minute, {pace.OF_ONE} answered at once and {pace.WAITING} waiting",
        f"{pace.CHANGES.most} a minute, {pace.FILES.most} a minute, "
        f"{pace.LONG.most} in {pace.LONG.within / 60:.0f} minutes, "
        f"{pace.BUNDLES.most} in {pace.BUNDLES.within / 60:.0f} minutes",
        f"| {pace.AT_ONCE}; others wait up to {pace.PATIENCE_S:.0f} s",
        f"{copies.OF_ONE} of one person, {copies.MOST} in all; {copies.AWAKE} of them, "
        f"of {copies.PLACES:,} places",
        f"{doors.IDLE_S / 3600:.0f} h unused, {doors.LONGEST_S / 3600:.0f} h in all",
    ):
        assert told in limits, told
