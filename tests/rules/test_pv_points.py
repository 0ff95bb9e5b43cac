"""Where arrays are joined to metal: pv-grounding-point (690.42, from memory: at one point)."""

from __future__ import annotations

import pytest

from bondwright.rules.answer import Severity
from bondwright.rules.pv import array_findings
from bondwright.rules.pv_points import grounding_point_findings
from bondwright.site.model import Site


def site(*grounded: str, at: tuple[str, ...] = ("south", "south", "south")) -> Site:
    return Site.model_validate(
        {
            "site": "bench",
            "sources": {"utility": {"system": "120/240 V", "available": {"current": "10 kA"}}},
            "places": {"panel": {"kind": "service", "main": "200 A breaker"}},
            "inverters": {
                name: {"system": "120/240 V", "rating": "7.6 kVA"} for name in ("south", "west")
            },
            "arrays": {
                f"roof {number}": {
                    "at": at[number],
                    "module": {"open circuit": "49 V", "short circuit": "11 A"},
                    "in series": 9, "length": "80 ft", "lines": "6 AWG Cu", "grounded": how,
                }
                for number, how in enumerate(grounded)
            },
        }
    )  # fmt: skip


@pytest.mark.parametrize(
    ("grounded", "severity"),
    [
        (("solid", "solid"), Severity.FALLS_SHORT),
        (("fuse", "solid"), Severity.FALLS_SHORT),
        (("fuse", "fuse"), Severity.CANNOT_TELL),
        (("solid",), None),
        (("fuse", "inverter"), None),
        (("solid", "none"), None),
        (("inverter", "none"), None),
        (("fuse", "none", "solid"), Severity.FALLS_SHORT),
    ],
)
def test_pv_grounding_point(grounded: tuple[str, ...], severity: Severity | None) -> None:
    found = list(grounding_point_findings(site(*grounded)))
    assert [f.severity for f in found] == ([] if severity is None else [severity])
    for one in found:
        assert (one.rule, one.where) == ("pv-grounding-point", "south")
        assert one.title == "arrays of one inverter joined to metal more than once"
        assert one.clause == "NEC 2023 690.42"
        assert "prove them dead" in one.cure
        assert "'roof 0' and " in one.text
        assert "'roof 1'" in one.text or grounded[1] == "none"
        assert ("plain join" in one.text) is (severity is Severity.FALLS_SHORT)


def test_pv_grounding_point_counts_by_inverter() -> None:
    apart = site("solid", "solid", at=("south", "west"))
    assert list(grounding_point_findings(apart)) == []


def test_a_solid_array_is_told_the_size_of_its_electrode_conductor() -> None:
    """250.166: as large as its lines, 6 AWG Cu."""
    (found,) = [f for f in array_findings(site("solid")) if f.rule == "pv-electrode"]
    assert found.severity is Severity.CANNOT_TELL
    assert "6 AWG Cu or larger" in found.cure
    assert found.clause == "NEC 2023 690.47(A), 250.166"
