"""The text of a device: settings, marks, errors, and reading back."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import EXAMPLES, FUSE_CLASSES, DeviceKind, DeviceRating
from bondwright.units import UnitError

BREAKER, ELECTRONIC, MCB = DeviceKind.BREAKER, DeviceKind.ELECTRONIC, DeviceKind.MCB
FUSE, RCD = DeviceKind.FUSE, DeviceKind.RCD


@pytest.mark.parametrize(
    ("text", "kind", "amps", "fields"),
    [
        ("20 A GFCI breaker", BREAKER, 20, {"residual_a": 0.006, "residual_type": "GFCI"}),
        ("20 A gfci", BREAKER, 20, {"residual_a": 0.006, "residual_type": "GFCI"}),
        ("20 A breaker, GFCI", BREAKER, 20, {"residual_a": 0.006, "residual_type": "GFCI"}),
        ("20 A AFCI breaker", BREAKER, 20, {"arc_fault": True}),
        (
            "20 A/1p AFCI GFCI breaker",
            BREAKER,
            20,
            {"arc_fault": True, "poles": 1, "residual_a": 0.006, "residual_type": "GFCI"},
        ),
        ("100 A RK5 fuse", FUSE, 100, {"fuse_class": "RK5"}),
        ("200 A class J fuse", FUSE, 200, {"fuse_class": "J"}),
        ("30 A Class cc fuse", FUSE, 30, {"fuse_class": "CC"}),
        ("100 A RK5 time-delay fuse", FUSE, 100, {"fuse_class": "RK5", "time_delay": True}),
        ("100 A RK5 fuse, time delay", FUSE, 100, {"fuse_class": "RK5", "time_delay": True}),
        ("30 A BS 3036 fuse", FUSE, 30, {"fuse_class": "BS 3036"}),
        ("32 A BS 88-2 fuse", FUSE, 32, {"fuse_class": "BS 88-2"}),
        ("B16, RCD 30 mA", MCB, 16, {"curve": "B", "residual_a": 0.03}),
        ("B16 RCBO 30 mA", MCB, 16, {"curve": "B", "residual_a": 0.03}),
        (
            "C32/2p, RCD 100 mA type A S",
            MCB,
            32,
            {"curve": "C", "poles": 2, "residual_a": 0.1, "residual_type": "A S"},
        ),
        ("63 A RCD 30 mA type A", RCD, 63, {"residual_a": 0.03, "residual_type": "A"}),
        ("63 A/4p RCCB 0.1 A S", RCD, 63, {"poles": 4, "residual_a": 0.1, "residual_type": "S"}),
        ("250 A breaker, instantaneous 2 kA", BREAKER, 250, {"instantaneous_a": 2000}),
        ("250 A breaker, instantaneous 10 x", BREAKER, 250, {"instantaneous_a": 2500}),
        ("400 A breaker, interrupts 22 kA", BREAKER, 400, {"interrupting_a": 22000}),
        ("400 A, 65 kAIC, 3 poles", BREAKER, 400, {"interrupting_a": 65000, "poles": 3}),
        ("100 A breaker, curve my relay", BREAKER, 100, {"curve_name": "my relay"}),
        ("30 A breaker, GFPE 30 mA", BREAKER, 30, {"ground_pickup_a": 0.03}),
        (
            "B16, class 3, interrupts 6 kA",
            MCB,
            16,
            {"curve": "B", "energy_class": 3, "interrupting_a": 6000},
        ),
        ("1,200 A electronic breaker, long 90 %", ELECTRONIC, 1200, {"long_pickup": 0.9}),
        ("800 A electronic breaker, long 12 s", ELECTRONIC, 800, {"long_delay_s": 12}),
        (
            "1200 A electronic breaker, long 0.9 12 s, short 4 kA 0.2 s, instantaneous 10 kA, "
            "ground fault 800 A 0.3 s, interrupts 65 kA",
            ELECTRONIC,
            1200,
            {
                "long_pickup": 0.9,
                "long_delay_s": 12,
                "short_pickup_a": 4000,
                "short_delay_s": 0.2,
                "instantaneous_a": 10000,
                "ground_pickup_a": 800,
                "ground_delay_s": 0.3,
                "interrupting_a": 65000,
            },
        ),
    ],
)
def test_reads(text: str, kind: DeviceKind, amps: float, fields: dict[str, Any]) -> None:
    fields = {"curve": None, **fields}
    found = DeviceRating.parse(text)
    assert found == DeviceRating(kind, amps, **fields)
    assert DeviceRating.parse(str(found)) == found
    assert hash(found) == hash(DeviceRating(kind, amps, **fields))


@pytest.mark.parametrize("text", EXAMPLES)
def test_examples_are_written_as_the_tool_writes_them(text: str) -> None:
    assert str(DeviceRating.parse(text)) == text


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("RCD 100 mA S", "does not say its rated current; .*'63 A RCD 100 mA S'"),
        ("63 A RCD", "without its residual current; .*'RCD 30 mA type A'"),
        ("63 A RCD 30 mA type Q", "type 'Q', which is not known here; types are AC, A"),
        ("63 A RCBO 30 mA", "which curve; write 'B63, RCD 30 mA'"),
        ("20 A GFCI breker", "did you mean 'breaker'"),
        ("20 A GFCI breaker, RCD 30 mA", "twice or against"),
        ("100 A class Z fuse", "fuse class 'z'.*give CC, J"),
        ("700 A class J fuse", r"not made as J fuse \(0.1 A to 600 A\)"),
        ("400 A class L fuse", "not made as L fuse"),
        ("100 A gG RK5 fuse", "both gG and RK5"),
        ("100 A RK5 breaker", "is no fuse"),
        ("100 A time-delay fuse", "time-delay without a class"),
        ("100 A breaker, instantanous 2 kA", "did you mean 'instantaneous 2 kA'"),
        ("100 A breaker, instantaneous 2 kA 1 s", "gives the instantaneous trip a delay"),
        ("100 A breaker, instantaneous", "without a current; .*'instantaneous 2 kA'"),
        ("100 A breaker, long 0.9", "takes no long-time setting.*call it an 'electronic breaker'"),
        ("100 A electronic breaker, long", "write the share of the rating and the delay"),
        ("100 A electronic breaker, long 9 12 s", "long-time pickup of 9"),
        ("100 A electronic breaker, short 50 A", "below its long-time pickup"),
        ("100 A electronic breaker, short 500 A 2 kA", "in 'short': '2 kA' is a current"),
        ("400 A breaker, interrupts 22 kV", "is a voltage, but a current belongs here"),
        ("400 A breaker, interrupts 22 A", "below its rated current"),
        ("400 A breaker, interrupts 22 kA, interrupts 10 kA", "twice"),
        ("100 A fuse, RCD 30 mA", "takes no RCD"),
        ("100 A fuse, instantaneous 2 kA", "takes no instantaneous setting"),
        ("100 A breaker, class 3", "takes no energy limiting class"),
        ("B16, class J", "energy limiting class 'J'"),
        ("B16, class 7", "energy limiting class 7"),
        ("100 A breaker, curve", "names no curve"),
        ("100 A breaker,", "settings begin with"),
        ("100 A breaker, GFCI 5 mA", "write 'GFCI' alone"),
        ("B16 electronic breaker", "gives an electronic breaker the curve"),
        ("C32, C33", "which is not known here"),
    ],
)
def test_refuses(text: str, match: str) -> None:
    with pytest.raises(UnitError, match=match):
        DeviceRating.parse(text)


@pytest.mark.parametrize(
    ("kind", "fields", "match"),
    [
        (RCD, {}, "needs its residual current"),
        (BREAKER, {"residual_type": "A"}, "without a residual current"),
        (BREAKER, {"residual_a": 0.03, "residual_type": "GFCI"}, "trips at 6 mA"),
        (BREAKER, {"residual_a": 0.03, "residual_type": "S A"}, "RCD type"),
        (BREAKER, {"ground_delay_s": 0.1}, "without its pickup"),
        (BREAKER, {"curve_name": "a, b"}, "curve name"),
        (BREAKER, {"curve_name": " a"}, "curve name"),
        (BREAKER, {"curve_name": "a" * 41}, "more than 40"),
        (ELECTRONIC, {"long_delay_s": 0.0}, "delay of 0 s"),
        (BREAKER, {"instantaneous_a": float("nan")}, "not possible"),
        (FUSE, {"fuse_class": "H"}, "known: CC"),
        (FUSE, {"arc_fault": True}, "takes no arc-fault"),
    ],
)
def test_impossible_parts(kind: DeviceKind, fields: dict[str, Any], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        DeviceRating(kind, 60.0, **fields)


amps = st.floats(1.0, 1e5)
delays = st.none() | st.floats(1e-4, 60)
names = st.none() | st.from_regex(r"[a-z0-9]{1,8}( [a-z0-9]{1,8})?", fullmatch=True)
residuals = st.none() | st.tuples(
    st.floats(0.001, 30), st.sampled_from([None, "AC", "A", "F", "B", "S", "A S", "B S"])
)


@st.composite
def devices(draw: st.DrawFn) -> DeviceRating:
    kind = draw(st.sampled_from(list(DeviceKind)))
    rating = draw(st.floats(1, 125))
    fields: dict[str, Any] = {"poles": draw(st.none() | st.integers(1, 4))}
    fields["curve_name"] = draw(names)
    if draw(st.booleans()):
        fields["interrupting_a"] = draw(st.floats(125, 2e5))
    if kind in (BREAKER, ELECTRONIC):
        fields["instantaneous_a"] = draw(st.none() | amps)
        fields["ground_pickup_a"] = draw(st.none() | st.floats(0.01, 2000))
        if fields["ground_pickup_a"] is not None:
            fields["ground_delay_s"] = draw(delays)
    if kind is ELECTRONIC:
        fields["long_pickup"] = draw(st.none() | st.floats(0.1, 1.25))
        fields["long_delay_s"] = draw(delays)
        if draw(st.booleans()):
            fields["short_pickup_a"] = draw(st.floats(200, 1e5))
            fields["short_delay_s"] = draw(delays)
    if kind is MCB:
        fields["curve"] = draw(st.sampled_from("BCD"))
        fields["energy_class"] = draw(st.none() | st.integers(1, 3))
    if kind in (BREAKER, MCB, ELECTRONIC):
        fields["arc_fault"] = draw(st.booleans())
    if kind is not FUSE:
        residual = draw(residuals)
        if kind is RCD:
            residual = residual or (0.03, None)
        if residual is not None:
            fields["residual_a"], fields["residual_type"] = residual
        elif draw(st.booleans()):
            fields["residual_a"], fields["residual_type"] = 0.006, "GFCI"
    elif draw(st.booleans()):
        name = draw(st.sampled_from(list(FUSE_CLASSES)))
        least, most = FUSE_CLASSES[name]
        rating = draw(st.floats(least, most))
        fields["fuse_class"] = name
        fields["time_delay"] = not name.startswith("BS") and draw(st.booleans())
        fields.pop("interrupting_a", None)
    else:
        fields["curve"] = draw(st.sampled_from([None, "gG"]))
    return DeviceRating(kind, rating, **fields)


@settings(deadline=None, max_examples=300)
@given(devices())
def test_any_device_reads_back(device: DeviceRating) -> None:
    assert DeviceRating.parse(str(device)) == device


@settings(deadline=None, max_examples=300)
@given(
    st.from_regex(
        r"\A[BCD]?[0-9]{1,4}( A)?( (GFCI|RCD 30 mA|class J|gG))?( (fuse|breaker))?"
        r"(, ?(long|short|instantaneous|ground fault|RCD|interrupts|class|curve|x)"
        r"( [0-9.]{1,4} ?(A|kA|mA|s|x|%)?){0,2}){0,2}\Z"
    )
)
def test_any_setting_is_read_or_refused(text: str) -> None:
    try:
        device = DeviceRating.parse(text)
    except UnitError:
        return
    assert DeviceRating.parse(str(device)) == device
