"""Finer points of a description that contradict each other or lead nowhere."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.site.check import problems
from bondwright.site.model import Site
from bondwright.site.reader import read
from bondwright.site.topology import topology
from bondwright.site.writer import dump, rename_id
from tests.plan.sites import HOUSE, SHOP, described

EMT = {"kind": "emt", "size": "1 in"}
PVC = {"kind": "pvc", "size": "1 in"}
PIECE = {"kind": "fmc", "size": "1/2 in", "length": "3 ft"}


def _wrong(base: Any, **changes: Any) -> list[tuple[tuple[str | int, ...], str]]:
    found = problems(Site.model_validate(described(base, **changes)))
    return [(problem.loc, problem.problem) for problem in found]


@pytest.mark.parametrize(
    ("changes", "loc", "says"),
    [
        ({"runs__circuit__fittings": "locknuts"}, "fittings", "needs a metal raceway"),
        ({"runs__circuit__knockouts": "clean", "runs__circuit__raceway": PVC}, "knockouts",
         "needs a metal raceway"),
        ({"runs__circuit__flexible": PIECE}, "flexible", "needs a metal raceway"),
        ({"runs__circuit__raceway": EMT, "runs__circuit__bushing jumper": "8 AWG Cu"},
         "bushing jumper", "needs a bonding bushing"),
        ({"runs__circuit__sets": "apart"}, "sets", "the lines are one set"),
        ({"runs__circuit__tap": True}, "tap", "a device stands at its start"),
        ({"runs__riser__tap": True}, "tap", "is given on a supply-side run"),
        ({"runs__riser__motor current": "20 A"}, "motor current", "is given on a supply-side run"),
        ({"runs__riser__with": ["feeder"]}, "with", "is given on a supply-side run"),
    ],
)  # fmt: skip
def test_runs(changes: dict[str, Any], loc: str, says: str) -> None:
    ((where, problem),) = _wrong(HOUSE, **changes)
    assert where[0] == "runs"
    assert where[2] == loc
    assert says in problem


@pytest.mark.parametrize(
    ("piece", "key", "says"),
    [
        (PIECE | {"length": "30 ft"}, "length", "is longer than its run"),
        (PIECE | {"size": "0.5"}, "size", "unit"),
        (PIECE | {"size": "0 in"}, "size", "more than zero"),
    ],
)
def test_flexible_pieces(piece: dict[str, Any], key: str, says: str) -> None:
    found = _wrong(HOUSE, runs__circuit__raceway=EMT, runs__circuit__flexible=piece)
    assert [where for where, _ in found] == [("runs", "circuit", "flexible", key)]
    assert says in found[0][1]


@pytest.mark.parametrize(
    ("named", "says"),
    [("circit", "is not the id of a run"), ("circuit", "is this run itself"),
     ("riser", "ahead of the first disconnect")],
)  # fmt: skip
def test_runs_that_are_named(named: str, says: str) -> None:
    found = _wrong(HOUSE, runs__circuit__with=[named])
    assert found[0][0] == ("runs", "circuit", "with", 0)
    assert says in found[0][1]


@pytest.mark.parametrize(
    ("electrode", "key", "says"),
    [
        ({"kind": "rod", "at": "house", "from entry": "3 ft"}, "from entry", "does not belong"),
        ({"kind": "rod", "at": "house", "conductor": "none", "sleeve": "plastic"}, "sleeve",
         "there is no conductor"),
    ],
)  # fmt: skip
def test_electrodes(electrode: dict[str, Any], key: str, says: str) -> None:
    ((where, problem),) = _wrong(HOUSE, electrodes__extra=electrode)
    assert where == ("electrodes", "extra", key)
    assert says in problem


@pytest.mark.parametrize("named", ["T2", "main", "utility"])
def test_only_derived_systems_share_an_electrode_conductor(named: str) -> None:
    ((where, problem),) = _wrong(SHOP, **{"electrodes__steel__shared by": [named]})
    assert where == ("electrodes", "steel", "shared by", 0)
    assert "with its own system" in problem


def _metal(kind: str, **more: Any) -> Any:
    return {"kind": kind, "from": "house", "to": "shed", "length": "9 ft",
            "resistance": "1 mohm", **more}  # fmt: skip


@pytest.mark.parametrize(
    ("metal", "key", "says"),
    [
        (_metal("gas pipe", isolated=True), "isolated", "does not belong"),
        (_metal("gas pipe", circuit="fedeer"), "circuit", "is not the id of a run"),
        (_metal("water pipe", circuit="feeder"), "circuit", "does not belong"),
    ],
)
def test_metal(metal: dict[str, Any], key: str, says: str) -> None:
    ((where, problem),) = _wrong(HOUSE, metal__pipe=metal)
    assert where == ("metal", "pipe", key)
    assert says in problem


@pytest.mark.parametrize(("at", "says"), [("nowhere", "is not the id"), ("utility", "is a source")])
def test_areas(at: str, says: str) -> None:
    found = _wrong(HOUSE, areas__yard={"kind": "pool", "at": at})
    assert found[0][0] == ("areas", "yard", "at")
    assert says in found[0][1]


FULL: Any = described(
    SHOP,
    places__main__intersystem="6 AWG Cu",
    runs__branch__with=["primary"],
    runs__primary__raceway=EMT,
    runs__primary__flexible=PIECE,
    runs__primary__fittings="bonding bushing",
    runs__primary__knockouts="concentric",
    areas__pond={"kind": "marina", "at": "LP"},
    metal__gas={"kind": "gas pipe", "from": "main", "to": "saw", "length": "9 ft",
                "resistance": "1 mohm", "circuit": "branch"},
    **{
        "runs__primary__bushing jumper": "6 AWG Cu",
        "runs__branch__motor current": "8 A",
        "electrodes__steel__shared by": ["T1"],
        "electrodes__steel__sleeve": "steel joined at both ends",
    },
)  # fmt: skip


def test_everything_is_written_and_read_again() -> None:
    site = Site.model_validate(FULL)
    assert problems(site) == []
    assert read(dump(site)) == site


@pytest.mark.parametrize(
    ("old", "mentions"),
    [("branch", 1), ("primary", 1), ("T1", 3), ("LP", 3)],
)
def test_renaming_follows_every_mention(old: str, mentions: int) -> None:
    text = dump(Site.model_validate(FULL))
    renamed = rename_id(text, old, "new name")
    assert renamed.count("new name") == mentions + 1
    assert read(renamed) is not None


def test_grounds_in_common_are_one_group_whoever_names_whom() -> None:

    tree = topology(Site.model_validate(FULL))
    assert tree.grounds_in_common == dict.fromkeys(("primary", "branch"), ("primary", "branch"))
