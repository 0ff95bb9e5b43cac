"""A device without a band of its own on a plot; an array named at its inverter."""

from __future__ import annotations

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.band import Edge, TimeBand
from bondwright.devices.bands import band
from bondwright.draw import time_current_plot
from bondwright.draw.content import stations
from bondwright.plan.build import plan
from bondwright.site import read
from tests.draw.boxes import parsed
from tests.site.test_arrays_and_curves import FILE


def test_a_residual_device_alone_is_drawn_without_a_field() -> None:
    """An RCD does not open on overcurrent: both its edges are empty."""
    alone = band(DeviceRating.parse("63 A RCD 30 mA"))
    assert alone.edges() == ((), ())
    drawing = time_current_plot([("the RCD", alone), ("60 A", band(DeviceRating.parse("60 A")))])
    parsed(drawing.svg)
    assert "the RCD" in drawing.svg


def test_a_device_that_may_not_open_is_drawn_by_its_quick_edge() -> None:
    perhaps = TimeBand(Edge(((10.0, 1.0), (100.0, 0.1))), Edge(()))
    parsed(time_current_plot([("perhaps", perhaps)]).svg)


def test_the_station_of_an_inverter_names_its_array() -> None:
    made = stations(plan(read(FILE)), None)
    assert "array 420 V dc" in made["roof inverter"].about.replace("\N{NO-BREAK SPACE}", " ")
