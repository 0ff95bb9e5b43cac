"""Arrays and curves in a site file: read, written back, and errors that point at the spot."""

from __future__ import annotations

import pytest

from bondwright.site import SiteError, dump, read, rename_id
from bondwright.site.model import ArrayGrounded, Pole
from tests.site.marked import unmarked

FILE = """\
site: Pump house
sources:
  utility: {system: 120/240 V, transformer: {rating: 25 kVA, impedance: 2 %}}
places:
  panel: {kind: service, main: '200 A breaker, curve my relay'}
inverters:
  roof inverter: {system: 120/240 V, rating: 7.6 kVA}
arrays:
  roof array:
    at: roof inverter
    module: {open circuit: 42 V, short circuit: 11 A, voltage: 35 V, current: 10.2 A}
    in series: 10
    strings: 2
    length: 80 ft
    lines: 10 AWG Cu
    egc: none
    device: '30 A fuse'
    grounded: fuse
    pole: positive
    ground fuse: 1 A
runs:
  drop: {from: utility, to: panel, length: 90 ft, lines: 4/0 AWG Al}
  branch: {from: panel, to: roof inverter, device: 40 A breaker, length: 20 ft, lines: 8 AWG Cu}
curves:
  my relay:
    quick: [{current: 300 A, time: 10 s}, {current: 3 kA, time: 20 ms}]
    slow: [{current: 300 A, time: 60 s}, {current: 3 kA, time: 50 ms}]
"""


def test_what_is_written_is_read() -> None:
    site = read(FILE)
    array = site.arrays["roof array"]
    assert (array.grounded, array.pole) == (ArrayGrounded.FUSE, Pole.POSITIVE)
    assert (array.in_series, array.strings, array.ground_fuse) == (10, 2, 1.0)
    assert (array.module.open_circuit, array.module.current) == (42.0, 10.2)
    curve = site.curves["my relay"]
    assert [(p.current, p.time) for p in curve.quick] == [(300.0, 10.0), (3000.0, 0.02)]
    main = site.places["panel"].main
    assert main is not None
    assert main.curve_name == "my relay"


def test_it_survives_being_written() -> None:
    site = read(FILE)
    assert read(dump(site)) == site


def test_an_inverter_keeps_its_array_when_it_gets_another_name() -> None:
    renamed = read(rename_id(FILE, "roof inverter", "south inverter"))
    assert renamed.arrays["roof array"].at == "south inverter"
    assert set(read(rename_id(FILE, "roof array", "barn array")).arrays) == {"barn array"}


@pytest.mark.parametrize(
    ("old", "new", "problem", "hint"),
    [
        (
            "main: '200 A breaker, curve my relay'",
            "main: ‸'200 A breaker, curve my rely'",
            "names the curve 'my rely', which is not under 'curves'",
            "did you mean 'my relay'?",
        ),
        (
            "device: '30 A fuse'",
            "device: ‸'30 A fuse, curve else'",
            "names the curve 'else', which is not under 'curves'",
            "there are: 'my relay'",
        ),
        (
            "quick: [{current: 300 A, time: 10 s}, {current: 3 kA, time: 20 ms}]",
            "quick: [{current: 300 A, time: 10 s}, {current: ‸200 A, time: 20 ms}]",
            "is less than the current of the point before it, 300 A",
            "list the points by rising current",
        ),
        (
            "slow: [{current: 300 A, time: 60 s}, {current: 3 kA, time: 50 ms}]",
            "slow: [{current: 300 A, time: 60 s}, {current: 3 kA, time: ‸2 min}]",
            "is more than the time of the point before it, 60 s",
            "falling time",
        ),
        (
            "    quick: [{current: 300 A, time: 10 s}",
            "    ‸quick: [{current: 300 A, time: 80 s}",
            "is slower than 'slow' at 300 A",
            "'quick' is the lower edge on the sheet; read both again, or swap them",
        ),
        ("  my relay:\n", "  ‸my, relay:\n", "is a name that no device can give", "commas"),
        ("time: 20 ms", "time: ‸20", "has no unit", ""),
        ("time: 20 ms", "time: ‸0 s", "must be more than zero", ""),
        ("    at: roof inverter", "    at: ‸roof invertor", "is not the id of an inverter",
         "did you mean 'roof inverter'?"),
        ("    at: roof inverter", "    at: ‸panel", "is a place; an array feeds an inverter",
         "there are: roof inverter"),
        ("    ground fuse: 1 A", "    ‸monitor: 1 A",
         "does not belong to an array with 'grounded: fuse'", "'inverter'"),
        ("    grounded: fuse\n    pole: positive", "    grounded: none\n    ‸pole: positive",
         "does not belong to an array with 'grounded: none'", "'fuse' or 'solid'"),
        ("voltage: 35 V", "voltage: 43 V",
         "has a voltage at work that is not below its 'open circuit'", "label"),
        ("current: 10.2 A}", "current: 11 A}",
         "has a current at work that is not below its 'short circuit'", "label"),
        ("grounded: fuse", "grounded: ‸fused", "is not one of the words known here",
         "did you mean 'fuse'?"),
    ],
)  # fmt: skip
def test_an_error_points_at_its_spot(old: str, new: str, problem: str, hint: str) -> None:
    assert old in FILE
    text = FILE.replace(old, new, 1)
    marked = "‸" in text
    line = column = 0
    if marked:
        text, line, column = unmarked(text)
    with pytest.raises(SiteError) as error:
        read(text)
    found = [p for p in error.value.problems if p.problem == problem]
    assert found, [str(p) for p in error.value.problems]
    assert hint in (found[0].hint or "")
    if marked:
        assert (found[0].line, found[0].column) == (line, column)
