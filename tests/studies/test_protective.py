"""Protective conductors below the table, settled by S = sqrt(I2 t) / k with the circuit's currents.

k = 115 for copper with PVC in a cable (IEC 60364-5-54 table A.54.3, confirmed).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.network.build import build
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.iec.installation import devices_ahead
from bondwright.studies.bare import faults_to_metal
from bondwright.studies.protective import (
    _device,
    _time,
    open_rows,
    settled,
    settled_plan,
    study_withstand,
    withstand_findings,
)
from tests.iec_sites import FLAT, plan_of
from tests.plan.sites import HOUSE, item, planned


def _settled(pe: str, device: str = "B32, class 3, interrupts 6 kA", **more: Any) -> Any:
    changes: dict[str, Any] = {
        "runs__cooker circuit__pe": pe, "runs__cooker circuit__device": device, **more,
    }  # fmt: skip
    made = plan_of(FLAT, **changes)
    found = study_withstand(build(made, loads=False))
    return found, settled(made, found), withstand_findings(found, made)


def test_enough_by_the_limit_of_the_devices_class() -> None:
    """45,000 A2 s of a B32 class 3 at 6 kA (from memory) against (115 x 2.5)^2 = 82,656 A2 s."""
    (one,), made, told = _settled("2.5 mm2 Cu")
    assert one.verdict is Verdict.HOLDS
    row = item(made, "PE cooker circuit")
    assert row.verdict is Verdict.HOLDS
    assert row.required is not None
    assert (row.required.rule, str(row.required.size)) == ("iec-protective-adiabatic", "2.5 mm2 Cu")
    assert "82,656 A2 s" in " ".join(row.required.because)
    assert told == ()


def test_not_known_without_the_makers_figure() -> None:
    (one,), made, (told,) = _settled("1.5 mm2 Cu")
    assert one.verdict is Verdict.CANNOT_TELL
    assert item(made, "PE cooker circuit").verdict is Verdict.CANNOT_TELL
    assert (told.rule, told.severity) == ("iec-protective-adiabatic", Severity.CANNOT_TELL)


def test_too_small_where_the_fault_lasts() -> None:
    """Far away a 63 A fuse lets 460 A last for about a second: far beyond 29,756 A2 s."""
    (one,), made, (told,) = _settled(
        "1.5 mm2 Cu", "63 A gG fuse", **{"runs__cooker circuit__length": "20 m"}
    )
    assert one.verdict is Verdict.FALLS_SHORT
    assert one.asked is not None
    assert one.asked.size.area_mm2 > 1.5
    assert item(made, "PE cooker circuit").verdict is Verdict.FALLS_SHORT
    assert str(one.asked) in told.cure


def test_what_holds_by_the_table_is_left_alone() -> None:
    found, made, told = _settled("6 mm2 Cu")
    assert (found, told) == ((), ())
    assert open_rows(made) == ()
    assert settled_plan(made) is made


@pytest.mark.parametrize("which", ["iec", "nec"])
def test_settled_plans(which: str) -> None:
    made = plan_of(FLAT) if which == "iec" else planned(HOUSE)
    done = settled_plan(made)
    assert (done is made) is (which == "nec")
    assert all(row.verdict is Verdict.HOLDS for row in done.schedule)


@pytest.mark.parametrize(
    ("pe", "device", "length", "remark", "title", "cure"),
    [
        # 58 % and 75 % too small: 2.5 and 1.5 mm2 of the 6 mm2 that table 54.7 asks for.
        (
            "2.5 mm2 Cu", "B32, class 3, interrupts 6 kA", "10 m",
            "2.5 mm2 Cu where 6 mm2 Cu is asked: 58 % too small by the table; it bears the heat "
            "of the fault, and that is enough",
            "", "",
        ),
        (
            "1.5 mm2 Cu", "B32, class 3, interrupts 6 kA", "10 m",
            "1.5 mm2 Cu where 6 mm2 Cu is asked: 75 % too small by the table; whether it bears "
            "the heat of the fault can't be told",
            "whether the protective conductor bears a fault", "Give the maker's figure",
        ),
        (
            "1.5 mm2 Cu", "63 A gG fuse", "20 m",
            "1.5 mm2 Cu where 6 mm2 Cu is asked: 75 % too small by the table; it doesn't bear "
            "the heat of the fault either",
            "protective conductor too small for the heat of a fault",
            "Use 6 mm2 Cu or larger, with the supply off.",
        ),
    ],
)  # fmt: skip
def test_what_is_told_of_each(
    pe: str, device: str, length: str, remark: str, title: str, cure: str
) -> None:
    (one,), made, told = _settled(pe, device, **{"runs__cooker circuit__length": length})
    row = item(made, "PE cooker circuit")
    assert (row.remark, row.verdict) == (remark, one.verdict)
    assert (one.run, str(one.conductor)) == ("cooker circuit", pe)
    assert [text.partition(":")[0] for text in one.because] == [
        "Fault at its far end",
        "Fault at its near end",
    ]
    assert row.required is not None
    assert set(one.because) <= set(row.required.because)
    if not title:
        assert told == ()
        return
    (finding,) = told
    assert (finding.where, finding.title) == ("cooker circuit", title)
    assert finding.cure.startswith(cure)
    assert finding.text.startswith(f"{pe} is smaller than the table asks. Fault at its far end: ")
    assert finding.clause == "IEC 60364-5-54 543.1.2"
    # (115 x 1.5)^2 = 29,756 A2 s by table A.54.3 (confirmed)
    assert "29,756 A2 s" in finding.text


def test_of_two_lines_the_larger_current_counts_and_only_open_rows_are_settled() -> None:
    from dataclasses import replace

    from bondwright.studies.bare import faults_to_metal, without_metal

    made = plan_of(FLAT, **{"runs__cooker circuit__pe": "1.5 mm2 Cu"})
    network = build(made, loads=False)
    followed = faults_to_metal(without_metal(network))
    (plain,) = study_withstand(network, followed)
    less = [replace(one, current=one.current / 3) for one in followed]
    assert study_withstand(network, [*followed, *less]) == (plain,)
    assert study_withstand(network, [*less, *followed]) == (plain,)
    (weak,) = study_withstand(network, less)
    assert weak != plain
    # a row that the table settles stays as it is, whatever is found of its circuit
    other = replace(plain, run="heater circuit", verdict=Verdict.FALLS_SHORT)
    done = settled(made, [other])
    assert item(done, "PE heater circuit") == item(made, "PE heater circuit")
    assert item(done, "PE cooker circuit") == item(made, "PE cooker circuit")


def test_without_a_fault_that_ends_nothing_is_told() -> None:
    """No fault followed at either end, one that lasts for ever, or one without a current."""
    from dataclasses import replace

    from bondwright.studies.bare import faults_to_metal, without_metal

    made = plan_of(FLAT, **{"runs__cooker circuit__pe": "2.5 mm2 Cu"})
    network = build(made, loads=False)
    followed = faults_to_metal(without_metal(network))
    (nothing,) = study_withstand(network, [])
    assert (nothing.verdict, nothing.because, nothing.asked) == (Verdict.CANNOT_TELL, (), None)
    planned_ = made.runs["cooker circuit"]
    far = [one for one in followed if one.fault.place == planned_.to]
    (ended,) = study_withstand(network, far)
    assert len(ended.because) == 1
    assert ended.because[0].startswith("Fault at its far end: ")
    for changed in (
        [replace(each, clearing=math.inf) for each in far],
        [replace(each, clearing=0.0) for each in far],
        [replace(each, current=0.0) for each in far],
    ):
        (one,) = study_withstand(network, changed)
        assert one.because == ("How long a fault at its far end lasts is not known.",)
        assert one.verdict is Verdict.CANNOT_TELL


def test_a_circuit_without_a_device_of_its_own_has_that_ahead() -> None:
    """A residual-current device opens no overcurrent: the B32 before it does."""
    made = plan_of(FLAT)
    own = _device(made, "cooker circuit")
    assert own == made.site.runs["cooker circuit"].device
    ahead = [
        (run.id, _device(made, run.id))
        for run in made.runs.values()
        if made.site.runs[run.id].device is None
    ]
    assert ahead
    for run, device in ahead:
        here = [d for _, d in devices_ahead(made.topology, made.site.runs[run].from_)]
        plain = [d for d in here if d.kind is not DeviceKind.RCD]
        assert device == (plain[0] if plain else None)


def test_how_long_a_fault_behind_a_device_lasts_by_its_own_curve() -> None:
    """The slow edge that the maker gives; for ever where none is known, or none is there."""
    curve = {
        "quick": [{"current": "20 A", "time": "1 s"}],
        "slow": [{"current": "20 A", "time": "100 s"}, {"current": "30 A", "time": "60 s"}],
    }
    network = build(plan_of(FLAT, curves={"mine": curve}), loads=False)
    base = next(r for r in faults_to_metal(network) if r.fault.place == "cooker")
    mine = DeviceRating.parse("16 A breaker, curve mine")
    for amps, seconds in ((20.0, 100.0), (30.0, 60.0), (19.0, math.inf)):
        assert _time(network, mine, replace(base, current=amps)) == pytest.approx(seconds)
    middle = math.sqrt(20 * 30)
    assert _time(network, mine, replace(base, current=middle)) == pytest.approx(math.sqrt(100 * 60))
    other = DeviceRating.parse("16 A breaker, curve hers")
    assert _time(network, other, base) == _time(network, None, base) == math.inf
