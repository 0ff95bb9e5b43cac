"""What a band takes for granted, where it comes from, and its corners, device by device."""

import math
from typing import Any

import pytest

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import Edge, TimeBand, earliest, falling, stepped
from bondwright.devices.bands import band
from bondwright.devices.curves import UserCurve, curves_of
from bondwright.devices.fuses import gg_energies, threshold_a
from bondwright.devices.interrupting import interrupting_verdict
from bondwright.devices.let_through import let_through
from bondwright.devices.residual import residual_band
from bondwright.devices.selectivity import selectivity


def rated(text: str) -> DeviceRating:
    return DeviceRating.parse(text)


def of(text: str) -> TimeBand:
    return band(rated(text))


UL489 = ["UL 489, 100 %", "UL 489, calibration at 135 %", "UL 489, calibration at 200 %"]
GATES = ["IEC 60269-1 table 2", "IEC 60269-1 table 3", "energy (current squared"]
OVERLOAD = [
    "UL 248-1 table 4",
    "UL 248-1, current-carrying",
    "quick end of fast",
    "slow end between",
]

TOLD = [
    # device; what each assumption says, in order; how each source begins, in order
    (
        "100 A breaker",
        ["thermal-magnetic", "Between 3 times", "at once from 1250 A (10 times rating plus 25%)"],
        UL489,
    ),
    (
        "400 A breaker",
        ["thermal-magnetic", "Between 3 times", "from 5200 A (10 times rating plus 30%) for sure"],
        UL489,
    ),
    (
        "100 A breaker, instantaneous 800 A",
        ["thermal-magnetic", "Between 3 times", "set to 800 A acts between 640 A and 1040 A"],
        UL489,
    ),
    (
        "20 A AFCI breaker",
        ["thermal-magnetic", "Between 3 times", "No instantaneous setting", "Arc-fault detection"],
        UL489,
    ),
    (
        "B16",
        ["IEC 60898-1 at 30 degC", "Between 3 and 5 times rating the slowest time is that at 3"],
        ["IEC 60898-1 table 7"],
    ),
    (
        "D32",
        ["IEC 60898-1", "Between 10 and 20 times rating the slowest time follows constant current"],
        ["IEC 60898-1 table 7"],
    ),
    ("25 A gG fuse", ["Below 0.1 s"], [*GATES, "IEC 60269-2, gG"]),
    ("25 A fuse", ["down to 0.001 s (quick edge) and 0.01 s", "class of the fuse was not"], GATES),
    (
        "27 A gG fuse",
        ["Below 0.1 s", "27 A is not in the table of gates; its currents are interpolated between "
         "25 A and 32 A"],
        [*GATES, "IEC 60269-2, gG"],
    ),
    (
        "100 A class J fuse",
        ["UL 248 for class J. From 5 times rating", "not said to be time-delay"],
        [*OVERLOAD, "greatest threshold"],
    ),
    (
        "100 A class J time-delay fuse",
        ["UL 248 for class J"],
        [*OVERLOAD, "greatest threshold", "UL 248, fuses marked time-delay"],
    ),
    (
        "32 A BS 88-2 fuse",
        ["slowest times of the BS 88-2 fuse", "Below 0.1 s"],
        [*GATES, "BS 7671 tables 41.2", "IEC 60269-2, gG"],
    ),
    (
        "30 A BS 3036 fuse",
        # BS 7671 table 41.2: 1.04 ohm at 0.4 s, 230 V x 0.95 / 1.04 ohm
        ["slowest times of the BS 3036 fuse", "above its rating; beyond 210 A the energy"],
        ["BS 7671 tables 41.2", "BS 88-3, BS 3036", "BS fuses: carry"],
    ),
    (
        "400 A electronic breaker",
        ["long time 20% of the time, other pickups 10%",
         "The long-time pickup is taken at the whole rating, and the long-time delay may be "
         "anything from 2 s to 24 s at 6 times the pickup, for it was not given.",
         "from 600 A it may open at once"],
        ["electronic trip units: long-time", "electronic trip units: usual span"],
    ),
    (
        "400 A electronic breaker, long 0.8 12 s",
        ["long time", "No short or instantaneous setting was given"],
        ["electronic trip units: long-time"],
    ),
    (
        "400 A electronic breaker, long 0.8 12 s, short 2 kA 0.1 s",
        ["long time", "No instantaneous setting was given: it is taken to be off."],
        ["electronic trip units: long-time", "electronic trip units: short-time"],
    ),
    (
        "400 A electronic breaker, long 0.8 12 s, instantaneous 2 kA",
        ["long time"],
        ["electronic trip units: long-time", "electronic trip units: instantaneous"],
    ),
    (
        "400 A electronic breaker, instantaneous 2 kA",
        ["long time", "The long-time pickup is taken at the whole rating, and the long-time"],
        ["electronic trip units: long-time", "electronic trip units: usual", "electronic trip "
         "units: instantaneous"],
    ),
    ("63 A RCD 30 mA", ["does not open on overcurrent"], []),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said", "sources"), TOLD, ids=[text for text, _, _ in TOLD])
def test_what_is_taken_for_granted(text: str, said: list[str], sources: list[str]) -> None:
    found = of(text)
    assert len(found.assumptions) == len(said)
    for told, words in zip(found.assumptions, said, strict=True):
        assert words in told
        assert told[0].isupper() or told[0].isdigit()
        assert told.endswith(".")
    titles = [source.title for source in found.sources]
    assert [t[: len(s)] for t, s in zip(titles, sources, strict=False)] == sources
    if sources not in (UL489, ["IEC 60898-1 table 7"]):
        assert len(titles) == len(sources)


# --- fuses by hand ---------------------------------------------------------------------------


def test_gates_between_two_ratings_by_hand() -> None:
    """27 A between 25 A and 32 A, straight on log scales (IEC 60269-1 table 3, from memory): at
    10 s 52 A and 75 A, at 5 s 110 A and 150 A, at 0.1 s 85 A to 260 A and 110 A to 350 A."""
    share = math.log(27 / 25) / math.log(32 / 25)

    def between(low: float, high: float) -> float:
        return low * math.exp(share * math.log(high / low))

    low, mine, high = (of(f"{a} A gG fuse") for a in (25, 27, 32))
    for at in (10.0, 0.1):
        least = [one.quick.least_current(at) for one in (low, mine, high)]
        assert least[1] == pytest.approx(between(least[0], least[2]))
    for at in (5.0, 0.1):
        most = [one.sure_current(at) for one in (low, mine, high)]
        assert most[1] == pytest.approx(between(most[0], most[2]))
    # The conventional currents are those of the rating itself: 1.25 and 1.6 times, 1 h.
    assert mine.quick.points[0] == (1.25 * 27, 3600.0)
    assert mine.slow.points[0] == pytest.approx((1.6 * 27, 3600.0))
    # Its energies are those of the safer neighbour: melts as 25 A, passes as 32 A.
    assert (mine.melts_i2t, mine.passes_i2t) == (low.melts_i2t, high.passes_i2t)


@pytest.mark.parametrize(
    ("amps", "melts", "passes"),
    # IEC 60269-2 selectivity test, A2 s (from memory): 16 A 291 and 1210, 20 A 640 and 2500
    [(16, 291, 1210), (17, 291, 2500), (20, 640, 2500), (1, None, 16.4), (1300, 1e7, None)],
)
def test_energies_of_gg_fuses(amps: float, melts: float | None, passes: float | None) -> None:
    assert gg_energies(amps) == (melts, passes)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1.5 A gG fuse", "1.5 A is outside the table of gates"),
        ("1400 A gG fuse", "gates are held from 2 A to 1250 A"),
        ("10 A BS 1362 fuse", "10 A is not in the table of BS 1362 fuses"),
        ("10 A BS 1362 fuse", "it has 3, 13 A"),
        ("7000 A breaker", "no time band is held for it: "),
    ],
)
def test_what_is_not_held_says_what_is(text: str, words: str) -> None:
    with pytest.raises(CatalogError) as found:
        of(text)
    assert words in str(found.value)
    assert str(rated(text)) in str(found.value)


def test_energy_of_the_last_point_is_kept() -> None:
    # BS 3036: fusing at twice the rating within an hour; the last point is 0.4 s at 1.04 ohm (BS
    # 7671 table 41.2), and its I2t is kept down to 20 ms, which it meets at sqrt(20) times that
    found = of("30 A BS 3036 fuse")
    (at, seconds), (end, least) = found.slow.points[-2:]
    assert at == pytest.approx(230 * 0.95 / 1.04, rel=1e-3)
    assert (seconds, least) == (0.4, 0.02)
    assert end == pytest.approx(math.sqrt(20) * at)
    assert found.slowest(1e5) == pytest.approx(0.02)
    assert found.slow.points[0] == (60.0, 3600.0)
    assert found.fastest(30.0) == pytest.approx(0.001)
    assert found.fastest(29.9) == math.inf
    assert (found.melts_i2t, found.passes_i2t) == (None, None)
    assert of("32 A BS 88-2 fuse").passes_i2t == 5750


def test_limiting_starts_at_the_threshold() -> None:
    # NEMA FU 1 (from memory): class J from 30, RK5 from 65, L of 1600 A from 35 times rating
    assert threshold_a(rated("100 A class J fuse")) == 3000
    assert threshold_a(rated("100 A class RK5 fuse")) == 6500
    assert threshold_a(rated("1600 A class L fuse")) == 35 * 1600
    assert threshold_a(rated("100 A fuse")) is None
    assert threshold_a(rated("100 A breaker")) is None
    # there its slowest time is half a cycle
    assert of("100 A class J fuse").slowest(3000) == pytest.approx(0.01)
    assert of("100 A class J fuse").slowest(2999) > 0.01


# --- let-through -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "amps", "i2t", "words", "source"),
    [
        # UL 248 (from memory): J up to 100 A 60,000 to 50 kA, 80,000 to 100 kA and 200 kA
        ("100 A class J fuse", 50_000, 6e4, "class J fuses up to 100 A let through at most 60000 "
         "A2 s at up to 50000 A", "UL 248 parts 4 to 15, greatest clearing"),
        ("70 A class J fuse", 50_001, 8e4, "up to 100 A let through at most 80000 A2 s at up to "
         "100000 A", "UL 248"),
        ("100 A class J fuse", 3000, 6e4, "at up to 50000 A", "UL 248"),
        # IEC 60269-2 (from memory)
        ("32 A gG fuse", 20_000, 5750, "gG fuses of 32 A let through at most 5750 A2 s", "IEC"),
        ("32 A BS 88-2 fuse", 20_000, 5750, "gG fuses of 32 A", "IEC 60269-2"),
        # EN 60898-1 tables ZA.1 and ZA.2 (from memory): B16 6 kA 35,000; C20 10 kA 100,000
        ("B16, interrupts 6 kA, class 3", 6000, 35e3, "a B16 of energy limiting class 3 rated "
         "6000 A lets through at most 35000 A2 s", "EN 60898-1"),
        ("C20, interrupts 10 kA, class 3", 10, 1e5, "a C20 of", "EN 60898-1"),
    ],
)  # fmt: skip
def test_let_through_says_what_it_is_of(
    text: str, amps: float, i2t: float, words: str, source: str
) -> None:
    found = let_through(rated(text), amps)
    assert found is not None
    assert found.i2t == i2t
    assert words in found.because
    assert found.source.title.startswith(source)


@pytest.mark.parametrize(
    ("text", "amps"),
    [
        ("100 A class J fuse", 2999),  # not limiting yet
        ("100 A class J fuse", 200_001),  # beyond its tests
        ("30 A class G fuse", 150_000),  # tested to 100 kA
        ("100 A fuse", 20_000),  # no class
        ("100 A breaker, interrupts 65 kA", 20_000),
        ("100 A class J fuse, interrupts 100 kA", 100_001),
        ("100 A class J fuse, curve mine", 20_000),
        ("B16, class 3", 1000),  # capacity not given
        ("B16, interrupts 6 kA", 1000),  # not of class 3
        ("D16, interrupts 6 kA, class 3", 1000),
        ("B16, interrupts 6 kA, class 3", 6001),
        ("B40, interrupts 6 kA, class 3", 1000),  # the tables end at 32 A
        ("32 A gG fuse", 300),  # slower than 10 ms
    ],
)
def test_where_no_let_through_is_known(text: str, amps: float) -> None:
    assert let_through(rated(text), amps) is None


def test_let_through_of_no_current() -> None:
    assert let_through(rated("B16, interrupts 6 kA, class 3"), 0.0) is not None
    with pytest.raises(ValueError, match=r"a current of -0\.5 A"):
        let_through(rated("B16"), -0.5)


# --- interrupting ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "amps", "because"),
    [
        ("20 A breaker, interrupts 10 kA", 9000, "9 kA is available and its interrupting rating "
         "is 10 kA"),
        ("20 A breaker, interrupts 10 kA", 12_000, "12 kA is available but its interrupting "
         "rating is 10 kA"),
        ("30 A class G fuse", 100_000, "100 kA is available and the interrupting rating of class "
         "G is 100 kA"),
        ("20 A breaker", 5000, "5 kA is available; no interrupting rating was given; read it off "
         "the breaker: is it the 10 kA usual"),
        ("400 A electronic breaker", 5000, "22, 42 or 65 kA?"),
        ("B16", 5000, "in the box: is it 6000 or 10000?"),
        ("100 A fuse", 5000, "read it off the fuse, or give its class"),
        ("63 A RCD 30 mA", 5000, "an RCD without overcurrent protection interrupts little"),
        ("20 A breaker, interrupts 10 kA", 0.0, "0 A is available and"),
        ("20 A breaker, interrupts 10 kA", 0.5, "is available and"),
    ],
)  # fmt: skip
def test_why_it_can_interrupt_or_not(text: str, amps: float, because: str) -> None:
    found = interrupting_verdict(rated(text), amps)
    assert because in found.because
    assert found.available_a == amps
    by_class = "class" in because and found.rating_a is not None
    assert (found.source is not None) == by_class
    if found.source is not None:
        assert found.source.title.startswith("UL 248 parts 4 to 15, interrupting")


# --- curves by points ------------------------------------------------------------------------


def test_a_curve_keeps_its_points() -> None:
    quick: Any = [[100, 10], [1000, "0.5"]]
    mine = UserCurve("mine", quick, ((150, 20),))
    assert mine.quick == ((100.0, 10.0), (1000.0, 0.5))
    assert mine.slow == ((150.0, 20.0),)
    (told,) = mine.band.assumptions
    assert told.startswith("The curve 'mine' was given by points")
    (source,) = mine.band.sources
    assert (source.title, source.edition) == ("curve 'mine', given by points", "no edition")
    assert source.status.value == "memory"


def test_curves_by_name() -> None:
    found = curves_of({"a": ([(1, 2)], [(3, 4)]), "b": ([(5, 6)], [(7, 8)])})
    assert list(found) == ["a", "b"]
    assert (found["a"].name, found["a"].quick, found["a"].slow) == ("a", ((1, 2),), ((3, 4),))
    assert (found["b"].quick, found["b"].slow) == (((5, 6),), ((7, 8),))


@pytest.mark.parametrize(
    ("curves", "hint"),
    [
        ({}, "give its points"),
        ({"main relay": 1}, "did you mean 'main relay'?"),
        # close enough to be meant: two thirds and not half of the letters
        ({"min relay": 1}, "did you mean 'min relay'?"),
        ({"zigzag": 1, "other": 1}, "give its points, or take one of ['zigzag', 'other']"),
    ],
)
def test_a_curve_that_was_not_given(curves: dict[str, int], hint: str) -> None:
    points = {name: ([(100.0, 1.0)], [(150.0, 2.0)]) for name in curves}
    with pytest.raises(CatalogError) as found:
        band(rated("100 A breaker, curve main rely"), curves_of(points))
    assert str(found.value).endswith(hint)
    assert "no curve 'main rely' was given" in str(found.value)


@pytest.mark.parametrize(
    ("quick", "slow", "words"),
    [
        ([(1, 1)], [(1,)], "'x', slow edge: point 1 has 1 numbers; give current, time"),
        ([(1, 1), (2, 1, 3)], [(1, 1)], "'x', quick edge: point 2 has 3 numbers"),
        ([(1, 1)], [], "'x', slow edge: has no points; give at least one (current, time)"),
        ([(0, 1)], [(1, 1)], "'x', quick edge: the point (0 A, 1 s) is not positive"),
    ],
)
def test_what_is_wrong_with_a_curve(quick: Any, slow: Any, words: str) -> None:
    with pytest.raises(ValueError) as found:  # noqa: PT011
        UserCurve("x", quick, slow)
    assert words in str(found.value)


# --- edges -----------------------------------------------------------------------------------


def test_a_line_is_cut_where_it_meets_a_time() -> None:
    # I2t = 100: 1 s at 10 A, 10 ms at 100 A; 40 ms at 50 A
    line = [(10.0, 1.0), (100.0, 0.01), (1000.0, 0.0001)]
    assert falling(line, 0.04) == [(10.0, 1.0), (pytest.approx(50.0), 0.04)]
    assert falling(line, 0.01) == [(10.0, 1.0), (100.0, 0.01), (pytest.approx(100.0), 0.01)]
    assert falling(line, 2.0) == [(10.0, 2.0)]
    assert falling(line, 1e-5) == line
    assert falling([], 1.0) == []


def test_an_edge_that_steps_down() -> None:
    line = [(10.0, 1.0), (100.0, 0.01)]
    head, middle, foot = stepped(line, 50.0, 0.02).points
    assert (head, foot) == ((10.0, 1.0), (50.0, 0.02))
    assert middle == pytest.approx((50.0, 0.04))
    # already lower than the foot of the step: the line meets it before
    assert stepped(line, 50.0, 0.25).points[-1] == (50.0, 0.25)
    assert stepped(line, 5.0, 0.02).points == ((5.0, 0.02),)
    assert stepped(line, 10.0, 0.02).points == ((10.0, 0.02),)


def test_the_earliest_of_two_that_cross() -> None:
    # I2t = 100 and a flat 40 ms from 20 A on: they meet at 50 A
    falls, flat = Edge(((10.0, 1.0), (100.0, 0.01))), Edge(((20.0, 0.04), (200.0, 0.04)))
    found = earliest([falls, flat])
    assert found.points[0] == (10.0, 1.0)
    assert found.at(15.0) == pytest.approx(100 / 225)
    assert found.before(20.0) == pytest.approx(0.25)
    assert found.at(20.0) == pytest.approx(0.04)
    assert found.at(49.9) == pytest.approx(0.04)
    assert found.at(50.1) == pytest.approx(100 / 50.1**2)
    assert found.at(1e4) == pytest.approx(0.01)
    assert earliest([falls]).points == falls.points
    assert earliest([Edge(()), falls]).points == falls.points


def test_a_band_in_words() -> None:
    # a quick edge of 1 s from 10 A on, a slow one of 5 s from 20 A on
    found = TimeBand(Edge(((10.0, 1.0),)), Edge(((20.0, 5.0),)))
    assert found.tell(9.0) == "does not open"
    assert found.tell(15.0) == "may open after 1 s, or not at all"
    assert found.tell(20.0) == "opens between 1 s and 5 s"
    assert found.edges() == (((10.0, 1.0),), ((20.0, 5.0),))
    assert found.edges(15.0) == (((10.0, 1.0), (15.0, 1.0)), ((20.0, 5.0),))
    assert found.edges(20.0) == (((10.0, 1.0), (20.0, 1.0)), ((20.0, 5.0),))
    assert TimeBand(Edge(()), Edge(())).edges(5.0) == ((), ())
    assert found.sure_current(5.0) == 20.0
    assert found.sure_current(4.9) == math.inf
    assert (found.operates_for_sure(19.9), found.operates_for_sure(20.0)) == (False, True)
    assert found.passes_below_s == 0.01
    with pytest.raises(ValueError, match="zero or more"):
        found.sure_current(-1.0)
    with pytest.raises(ValueError, match="slower than the slow edge at 10 A"):
        TimeBand(Edge(((10.0, 6.0),)), Edge(((10.0, 5.0),)))


# --- selectivity -----------------------------------------------------------------------------


def test_a_device_that_is_late_at_the_very_end() -> None:
    """Ahead: 1 s from 100 A on. Near: never, up to the 100 A that are available."""
    ahead = TimeBand(Edge(((100.0, 1.0),)), Edge(((100.0, 1.0),)))
    near = TimeBand(Edge(((50.0, 0.1),)), Edge(((150.0, 0.1),)))
    found = selectivity(ahead, near, 100.0)
    assert (found.total, found.limit_a) == (False, 100.0)
    assert found.because == (
        "from 100 A the device nearer the fault may not open at all, and the one ahead may open "
        "within 1 s"
    )
    assert selectivity(ahead, near, 99.9).total
    told = selectivity(ahead, TimeBand(Edge(((1.0, 0.5),)), Edge(((1.0, 0.5),))), 400.0)
    assert (told.total, told.limit_a) == (True, 400.0)
    assert told.because.endswith("has opened by then at every current up to 400 A")


def test_energies_say_it_before_the_gates_do() -> None:
    # IEC 60269-2 (from memory): a 16 A fuse passes 1210 A2 s at most, a 25 A one melts from 1210
    found = selectivity(of("25 A gG fuse"), of("16 A gG fuse"), 9000.0)
    assert (found.total, found.limit_a) == (True, 9000.0)
    assert found.because.startswith(
        "the fuse nearer the fault lets at most 1210 A2 s through, which does not melt the one "
        "ahead (1210 A2 s"
    )


# --- residual current ------------------------------------------------------------------------


def test_what_is_said_of_residual_elements() -> None:
    plain = residual_band(rated("B16 RCBO 30 mA"))
    typed = residual_band(rated("B16 RCBO 30 mA type A"))
    alternating = residual_band(rated("B16 RCBO 30 mA type AC"))
    for found, words in (
        (plain, "The waveform type of the RCD was not given"),
        (typed, "what type A does with pulsating"),
        (alternating, "Type AC trips for sure on alternating"),
    ):
        assert found is not None
        assert "it is to be tested" in found.assumptions[0]
        assert words in found.assumptions[1]
        assert [s.title[:12] for s in found.sources] == ["IEC 61008-1 ", "quickest ope"]
    assert residual_band(rated("20 A breaker")) is None


def test_a_ground_fault_element_in_words() -> None:
    # 800 A and 0.3 s, 10 % of the pickup and 20 % of the time, 60 ms of opening: 0.42 s
    found = residual_band(rated("1200 A electronic breaker, ground fault 800 A 0.3 s"))
    assert found is not None
    (told,) = found.assumptions
    assert "set to 800 A acts between 720 A and 880 A, by 0.42 s at the latest" in told
    (quick,), (slow,) = found.quick.points, found.slow.points
    assert quick == pytest.approx((720.0, 0.24))
    assert slow == pytest.approx((880.0, 0.42))
    assert [s.title[:20] for s in found.sources] == ["ground-fault element"]
    assert DeviceKind.ELECTRONIC is rated("1200 A electronic breaker").kind


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "400 A electronic breaker, long 0.8, short 2 kA 0.1 s",
            "The long-time delay may be anything from 2 s to 24 s at 6 times the pickup, for it "
            "was not given.",
        ),
        ("400 A electronic breaker, long 0.8 12 s, short 2 kA 0.1 s", ""),
    ],
)
def test_half_of_the_long_time_settings(text: str, told: str) -> None:
    found = of(text)
    assert (told in found.assumptions) is bool(told)
    titles = [source.title for source in found.sources]
    assert any("usual span" in title for title in titles) is bool(told)


def test_a_little_later_is_late() -> None:
    """Ahead 1 s, near 1.5 s from the same current on: not selective at all."""
    ahead, near = Edge(((100.0, 1.0),)), Edge(((100.0, 1.5),))
    found = selectivity(TimeBand(ahead, ahead), TimeBand(near, near), 400.0)
    assert (found.total, found.limit_a) == (False, 100.0)
    just = Edge(((100.0, 1.0 + 1e-10),))
    assert selectivity(TimeBand(ahead, ahead), TimeBand(just, just), 400.0).total


def test_an_unknown_curve_names_its_device() -> None:
    with pytest.raises(CatalogError) as found:
        band(rated("100 A breaker, curve main"))
    assert str(rated("100 A breaker, curve main")) in str(found.value)
    assert of("30 A BS 3036 fuse").melts_i2t is None
