import pytest

from bondwright.exchange.cells import (
    CellError,
    circuit_numbers,
    device,
    is_ditto,
    length,
    lines_named,
    power,
    wire,
)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1", (1,)),
        ("#12", (12,)),
        ("Ckt. 7", (7,)),
        ("1,3", (1, 3)),
        ("2 / 4 / 6", (2, 4, 6)),
        ("1-3-5", (1, 3, 5)),
        ("1-5", (1, 3, 5)),
        ("1-3", (1, 3)),
        ("1-2", (1, 2)),
        ("2 & 4", (2, 4)),
        ("", None),
        ("A", None),
        ("0", None),
        ("201", None),
        ("3,1", None),
        ("1,1", None),
        ("1.5", None),
        ("total 3", None),
    ],
)
def test_circuit_numbers(text: str, numbers: tuple[int, ...] | None) -> None:
    assert circuit_numbers(text) == numbers


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("20", (20, None, "")),
        ("20A", (20, None, "")),
        ("20 A breaker", (20, None, "breaker")),
        ("20/2", (20, 2, "")),
        ("20A/2P", (20, 2, "")),
        ("100-3P", (100, 3, "")),
        ("2P20", (20, 2, "")),
        ("3 pole 60 A", (60, 3, "")),
        ("15A 1P GFCI", (15, 1, "GFCI")),
        ("15 GFCI", (15, None, "GFCI")),
        ("60 A class J fuse", (60, None, "class J fuse")),
        ("banana", None),
        ("", None),
        ("--", None),
    ],
)
def test_devices(text: str, found: tuple[float, int | None, str] | None) -> None:
    made = device(text)
    assert (made and (made.amps, made.poles, made.words)) == found


def test_a_device_has_so_many_amperes() -> None:
    with pytest.raises(CellError, match="no device has 90000 A"):
        device("90000")


@pytest.mark.parametrize(
    ("text", "unit", "va"),
    [
        ("1,200", "", 1200),
        ("1.2", "kva", 1200),
        ("1.2 kW", "va", 1200),
        ("360 VA", "kva", 360),
        (".5", "kw", 500),
        ("0", "", None),
        ("-", "", None),
        ("", "kva", None),
    ],
)
def test_loads(text: str, unit: str, va: float | None) -> None:
    assert power(text, unit) == va


def test_what_is_no_load() -> None:
    for text in ("lots", "-5", "1e9", "12 A"):
        with pytest.raises(CellError, match="is no load in VA"):
            power(text)


def test_lengths_need_a_unit() -> None:
    assert length("85", "ft") == pytest.approx(25.908)
    assert length("26 m", "ft") == 26
    assert length("", "ft") is None
    with pytest.raises(CellError, match="'85' has no unit"):
        length("85")
    with pytest.raises(CellError, match="is no length"):
        length("85 A", "ft")


@pytest.mark.parametrize(
    ("text", "size", "count", "ground", "raceway"),
    [
        ("#12", "12 AWG", None, "", ""),
        ("12", "12 AWG", None, "", ""),
        ("12/2 NM", "12 AWG", 2, "", ""),
        ("12-3", "12 AWG", 3, "", ""),
        ("3/0", "3/0 AWG", None, "", ""),
        ("4/0 Al", "4/0 AWG Al", None, "", ""),
        ("250", "250 kcmil", None, "", ""),
        ("500 MCM copper", "500 kcmil Cu", None, "", ""),
        ("2#12, 1#12G, 3/4C", "12 AWG", 2, "12 AWG", "3/4C"),
        ("3 #10 THWN; #10 GND", "10 AWG", 3, "10 AWG", ""),
        ("(3) #8 Cu + #10 EGC", "8 AWG Cu", 3, "10 AWG", ""),
        ('4#1/0 & 1#6G in 2" EMT', "1/0 AWG", 4, "6 AWG", '2" EMT'),
        ("-", "", None, "", ""),
    ],
)
def test_wires(text: str, size: str, count: int | None, ground: str, raceway: str) -> None:
    made = wire(text)
    assert (made.size, made.count, made.ground, made.raceway) == (size, count, ground, raceway)


@pytest.mark.parametrize("text", ["#5/0", "11", "#12, #14", "some", "12, twelve"])
def test_what_is_no_wire(text: str) -> None:
    with pytest.raises(CellError):
        wire(text)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("L1-L2", ("L1", "L2")),
        ("A,C", ("L1", "L3")),
        ("abc", ("L1", "L2", "L3")),
        ("L2 N", ("L2",)),
        ("AA", ()),
        ("lights", ()),
        ("", ()),
    ],
)
def test_lines(text: str, lines: tuple[str, ...]) -> None:
    assert lines_named(text) == lines


def test_dittos() -> None:
    assert all(map(is_ditto, ("", '"', "--", "do", "\u2193", "|", "same", "' '")))
    assert not any(map(is_ditto, ("1", "Lights", "spare", "x")))
