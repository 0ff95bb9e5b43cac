"""Fuses of UL 248 classes: overload limits, time delay, let-through energy; class 3 breakers."""

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_fuses import class_fuse_limits, energy_limits
from bondwright.catalog.device_rating import FUSE_CLASSES, DeviceKind, DeviceRating
from bondwright.devices.band import TimeBand
from bondwright.devices.bands import band
from bondwright.devices.let_through import let_through
from tests.outside import outside, published

REFERENCE: Any = yaml.safe_load(
    (Path(__file__).parents[1] / "reference" / "protective_devices.yaml").read_text("utf-8")
)
UL = [name for name in FUSE_CLASSES if not name.startswith("BS")]


def of(text: str) -> TimeBand:
    return band(DeviceRating.parse(text))


@pytest.mark.parametrize("row", REFERENCE["ul_248_overload"]["rows"], ids=str)
@pytest.mark.parametrize("name", ["J", "RK1", "RK5", "T"])
@outside("UL 248-1, table 4", unit="s")
def test_overload(name: str, row: list[float]) -> None:
    # UL 248-1 table 4 (up to 60 A one-source, others from memory)
    amps, first_min, second_min = row
    fuse = of(f"{amps:g} A class {name} fuse")
    assert fuse.slowest(1.35 * amps) == published(
        first_min * 60, status="one-source" if amps <= 60 else "memory"
    )
    assert not fuse.operates_for_sure(1.34 * amps)
    assert fuse.slowest(2 * amps) == published(
        second_min * 60, rel=1e-6, status="one-source" if amps <= 60 else "memory"
    )
    assert fuse.fastest(1.09 * amps) == math.inf  # carries 110 % (one-source)


@pytest.mark.parametrize("text", ["800 A class L fuse", "800 A class T fuse"])
@outside("UL 248, class L and T above 600 A", "memory", unit="s")
def test_large(text: str) -> None:
    # above 600 A: 150 % within 4 h (from memory)
    fuse = of(text)
    assert fuse.slowest(1.5 * 800) == published(4 * 3600)
    assert not fuse.operates_for_sure(1.49 * 800)


@outside("UL 248, time delay", "one-source", unit="s")
def test_time_delay() -> None:
    # UL 248: at least 10 s at 500 % (one-source for class R and J), 12 s at 200 % for class CC
    assert of("100 A class RK5 time-delay fuse").fastest(500) == published(10, rel=1e-6)
    assert of("100 A class RK5 fuse").fastest(500) < 0.1
    assert of("30 A class CC time-delay fuse").fastest(60) == published(
        12, rel=1e-6, status="memory"
    )
    assert of("30 A class CC time-delay fuse").fastest(61) < 1.1


@pytest.mark.parametrize("row", REFERENCE["ul_248_let_through"]["rows"], ids=lambda r: r[0])
@outside("UL 248, clearing energy at 200 kA", "memory", unit="A2 s")
def test_let_through(row: list[Any]) -> None:
    # UL 248, greatest clearing energy at 200 kA (from memory)
    fuse = DeviceRating.parse(row[0])
    found = let_through(fuse, 200_000)
    assert found is not None
    assert found.i2t == published(row[1])
    assert found.source.status.value == "memory"
    # not in its current-limiting range: nothing is said
    assert let_through(fuse, 10 * fuse.rating_a) is None
    assert let_through(fuse, 250_000) is None


def test_smaller_body_lets_less_through() -> None:
    for rows in class_fuse_limits().let_through.values():
        for (a0, low), (a1, high) in pairwise(rows):
            assert a0 < a1
            for small, large in zip(low, high, strict=True):
                if small is not None and large is not None:
                    assert small <= large
        for _, energies in rows:
            held = [e for e in energies if e is not None]
            assert held == sorted(held)


@pytest.mark.parametrize("row", REFERENCE["en_60898_class_3"]["rows"], ids=str)
@outside("EN 60898-1, class 3", "memory", unit="A2 s")
def test_class_3(row: list[Any]) -> None:
    # EN 60898-1, class 3 rated 6000 A (from memory)
    found = let_through(DeviceRating.parse(f"{row[0]}, class 3, interrupts 6 kA"), 3000)
    assert found is not None
    assert found.i2t == published(row[1])


@pytest.mark.parametrize(
    "text",
    [
        "B16",
        "B16, class 3",
        "B16, interrupts 6 kA",
        "D16, class 3, interrupts 6 kA",
        "B40, class 3, interrupts 6 kA",
        "B16, class 2, interrupts 6 kA",
        "B16, class 3, interrupts 15 kA",
        "60 A breaker, interrupts 22 kA",
        "100 A fuse",
        "100 A gG fuse, curve mine",
        "30 A BS 3036 fuse",
    ],
)
def test_nothing_is_known(text: str) -> None:
    assert let_through(DeviceRating.parse(text), 5000) is None


def test_beyond_its_interrupting_rating() -> None:
    assert let_through(DeviceRating.parse("B16, class 3, interrupts 6 kA"), 6001) is None
    assert let_through(DeviceRating.parse("100 A class J fuse, interrupts 100 kA"), 2e5) is None
    with pytest.raises(ValueError, match="magnitude"):
        let_through(DeviceRating.parse("B16"), -1)


@outside("IEC 60269-2, energies of gG fuses", "memory", unit="A2 s")
def test_gg_energies() -> None:
    rows = {row[0]: row for row in energy_limits().gg}
    # IEC 60269-2 (from memory): 1.6 : 1, each rating's greatest melts the next but one at least
    for small, large in ((16, 25), (20, 32), (63, 100), (100, 160), (400, 630), (800, 1250)):
        assert rows[small][2] == rows[large][1]
    # and less than the energy of the 0.1 s gate, which the time band keeps
    for amps in rows:
        fuse = of(f"{amps:g} A gG fuse")
        assert fuse.passes_i2t is not None
        assert fuse.passes_i2t <= fuse.sure_current(0.1) ** 2 * 0.1
    found = let_through(DeviceRating.parse("63 A gG fuse"), 5000)
    assert found is not None
    assert found.i2t == published(21200)
    assert let_through(DeviceRating.parse("63 A gG fuse"), 800) is None
    # between ratings the safer neighbour
    assert of("15 A gG fuse").passes_i2t == rows[16][2]
    assert of("15 A gG fuse").melts_i2t == rows[10][1]


@settings(deadline=None)
@given(st.sampled_from(UL), st.floats(0, 1), st.booleans(), st.floats(0.5, 200), st.floats(1, 9))
def test_any_class(name: str, share: float, delay: bool, times: float, more: float) -> None:
    least, most = FUSE_CLASSES[name]
    amps = least * (most / least) ** share
    rating = DeviceRating(
        DeviceKind.FUSE, min(max(amps, least), most), fuse_class=name, time_delay=delay
    )
    found, current = band(rating), times * rating.rating_a
    assert found.fastest(current) <= found.slowest(current)
    assert found.slowest(current * more) <= found.slowest(current)
    assert found.slowest(1e6) == pytest.approx(0.01)


def test_small_fuses_have_a_band() -> None:
    for text in ("15 A fuse", "2 A gG fuse", "3 A BS 1362 fuse", "1 A class CC fuse", "6 A fuse"):
        assert of(text).sure_current(0.4) < math.inf
