"""The calibration plot and its intervals."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from bondwright.draw.calibration import Said, calibration_plot, interval
from tests.outside import outside, published


@pytest.mark.parametrize(
    ("right", "count", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
@outside("R. G. Newcombe, Statistics in Medicine 17 (1998), table I", "memory")
def test_wilsons_interval(right: int, count: int, low: float, high: float) -> None:
    """R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (from memory)."""
    assert interval(right, count) == published((low, high), abs=2e-4)


@pytest.mark.parametrize(("right", "count"), [(0, 0), (3, 2), (-1, 4)])
def test_no_proportion(right: int, count: int) -> None:
    with pytest.raises(ValueError, match="no proportion"):
        interval(right, count)


def test_every_class_is_a_mark_where_it_belongs() -> None:
    series = [("as met", [Said(0.5, 5, 10), Said(0.97, 31, 32)]), ("evenly", [Said(0.2, 1, 4)])]
    drawing = calibration_plot(series)
    root = ET.fromstring(drawing.svg)
    ns = {"s": "http://www.w3.org/2000/svg"}
    groups = [g for g in root.findall(".//s:g", ns) if g.get("class") == "series"]
    assert [g.get("data-id") for g in groups] == ["as met", "evenly"]
    # A line joins the classes; each has its interval and its mark.
    assert [len(g.findall("s:path", ns)) for g in groups] == [1 + 2 * 2, 2]
    assert "said 97%, right 31 of 32" in drawing.alt
    assert "as met (42 cases)" in drawing.svg


def test_nothing_to_plot() -> None:
    with pytest.raises(ValueError, match="nothing to plot"):
        calibration_plot([])
