import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import (
    LARGEST_A,
    LARGEST_MCB_A,
    SMALLEST_A,
    DeviceKind,
    DeviceRating,
)
from bondwright.units import UnitError

BREAKER, MCB, FUSE = DeviceKind.BREAKER, DeviceKind.MCB, DeviceKind.FUSE


@pytest.mark.parametrize(
    ("text", "kind", "amps", "curve", "poles"),
    [
        ("60 A breaker", BREAKER, 60, None, None),
        ("60 A", BREAKER, 60, None, None),
        ("60A", BREAKER, 60, None, None),
        ("60 amp circuit breaker", BREAKER, 60, None, None),
        ("  60   A   Breaker ", BREAKER, 60, None, None),
        ("15 A/1p breaker", BREAKER, 15, None, 1),
        ("40 A 2-pole breaker", BREAKER, 40, None, 2),
        ("40 A breaker, 3 poles", BREAKER, 40, None, 3),
        ("1,200 A fuse", FUSE, 1200, None, None),
        ("1.2 kA", BREAKER, 1200, None, None),
        ("100 A fuse", FUSE, 100, None, None),
        ("32 A gG fuse", FUSE, 32, "gG", None),
        ("B16", MCB, 16, "B", None),
        ("C32 breaker", MCB, 32, "C", None),
        ("c 32/1p mcb", MCB, 32, "C", 1),
        ("D6.3 A", MCB, 6.3, "D", None),
    ],
)
def test_reads(
    text: str, kind: DeviceKind, amps: float, curve: str | None, poles: int | None
) -> None:
    assert DeviceRating.parse(text) == DeviceRating(kind, amps, curve, poles)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("60 ohm breaker", "is a resistance, but a current belongs here"),
        ("60 A braker", "did you mean 'breaker'"),
        ("100 A fues", "did you mean 'fuse'"),
        ("60", "has no unit; write '60 A'$"),
        ("60 breaker", "has no unit; write '60 A breaker'"),
        ("60 A main", "'main', which is no device known here"),
        ("16 A mcb", "write 'B16', 'C16' or 'D16'"),
        ("K20", "has the curve 'K'"),
        ("B16 fuse", "gives a fuse the curve of a breaker"),
        ("-5 A", "not above zero"),
        ("0 A breaker", "not above zero"),
        ("1 mA fuse", "smaller than any device"),
        ("20 kA", "larger than any low-voltage device"),
        ("C160", "larger than miniature"),
        ("20 A 7p", "7 poles"),
        ("banana", "is not an overcurrent device"),
        ("", "is not an overcurrent device"),
        ("nan A", "is not an overcurrent device"),
        ("2x60 A", "has the unit 'x'"),
        ("6" * 401, "too long"),
    ],
)
def test_refuses(text: str, match: str) -> None:
    with pytest.raises(UnitError, match=match):
        DeviceRating.parse(text)


@settings(deadline=None)
@given(st.text(max_size=30) | st.from_regex(r"[BCDK]?[0-9.,]{1,5} ?k?A?( ?/?[0-9]p)?( fuse)?"))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        rating = DeviceRating.parse(text)
    except UnitError:
        return
    assert DeviceRating.parse(str(rating)) == rating


poles = st.none() | st.integers(1, 4)


@settings(deadline=None)
@given(
    st.builds(
        DeviceRating,
        st.just(BREAKER),
        st.floats(SMALLEST_A, LARGEST_A),
        st.none(),
        poles,
    )
    | st.builds(
        DeviceRating,
        st.just(MCB),
        st.floats(SMALLEST_A, LARGEST_MCB_A),
        st.sampled_from("BCD"),
        poles,
    )
    | st.builds(
        DeviceRating,
        st.just(FUSE),
        st.floats(SMALLEST_A, LARGEST_A),
        st.sampled_from([None, "gG"]),
        poles,
    )
)
def test_text_reads_back(rating: DeviceRating) -> None:
    assert DeviceRating.parse(str(rating)) == rating


@pytest.mark.parametrize(
    ("kind", "amps", "curve", "poles"),
    [
        (BREAKER, 60.0, "B", None),
        (MCB, 16.0, None, None),
        (FUSE, 16.0, "aM", None),
        (BREAKER, float("nan"), None, None),
        (BREAKER, 60.0, None, 0),
    ],
)
def test_impossible_device(
    kind: DeviceKind, amps: float, curve: str | None, poles: int | None
) -> None:
    with pytest.raises(ValueError, match=kind.value):
        DeviceRating(kind, amps, curve, poles)
