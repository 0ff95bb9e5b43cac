"""What a fault does to the ground: currents of the circuit, the surface, what is carried away."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bondwright.earth.soil import Soil
from bondwright.explain.ground import tell_ground, tell_ground_fault
from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.plan.ground import system_of
from bondwright.rules.answer import Verdict
from bondwright.safety.touch import Footing, body_limit
from bondwright.site.reader import load, read
from bondwright.studies.faults import FaultKind, FaultResult, possible_faults, study_faults
from bondwright.studies.ground import _worst, study_ground, touch_bound
from bondwright.studies.ground_model import GroundStudy
from bondwright.studies.ground_parts import joined_resistance
from bondwright.studies.ground_surface import _whole, windows
from tests.outside import outside, published

BARN = Path(__file__).parents[1] / "cases" / "earth-press-barn.yaml"


def followed(text: str | None = None) -> tuple[Network, list[FaultResult], GroundStudy]:
    site = load(BARN) if text is None else read(text)
    network = build(plan(site), loads=False)
    faults = study_faults(network, possible_faults(network, [FaultKind.LINE_TO_METAL]))
    return network, faults, study_ground(network, faults)


@pytest.fixture(scope="module")
def barn() -> tuple[Network, list[FaultResult], GroundStudy]:
    return followed()


def test_rises_are_the_matrix_times_the_currents(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    network, _, study = barn
    matrix = np.array(network.plan.ground.resistance)
    names = network.plan.ground.names
    for one in study.faults:
        amps = np.array([one.currents_a.get(name, 0.0) for name in names])
        volts = np.array([one.rise_v[name] for name in names])
        # the electrodes' currents are in phase but for their leads' reactance
        assert volts == pytest.approx(matrix @ amps, rel=1e-3)
        assert one.total_a <= one.fault_a


def test_the_worst_fault_comes_first(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    _, faults, study = barn
    highest = max(f.touch["barn panel"] for f in faults)
    assert max(study.faults[0].rise_v.values()) == pytest.approx(highest, rel=0.01)
    assert len({one.fault.place for one in study.faults}) == len(study.faults)


def test_touch_is_the_metal_less_the_ground(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    _, _, study = barn
    one = study.faults[0]
    for touch in (*one.touch, *one.transfer):
        assert touch.touch_v == pytest.approx(touch.metal_v - touch.ground_v, rel=0.02)
        assert touch.limit_v == touch_bound(one.clearing_s, Footing(300))
    far, near = one.touch
    assert (far.what, near.what) == ("yard light", "barn panel")
    assert far.touch_v > 1.3 * near.touch_v
    (line,) = one.transfer
    assert line.x_m > 20  # worst at its far end, where the ground has stayed low


def test_the_surface(barn: tuple[Network, list[FaultResult], GroundStudy]) -> None:
    _, _, study = barn
    drawn = study.faults[0].drawn
    assert drawn is not None
    assert drawn.ground_v.shape == (drawn.y_m.size, drawn.x_m.size)
    assert drawn.ground_v.max() <= drawn.metal_v * 1.001
    assert drawn.touch_v.max() <= drawn.metal_v * 1.001
    row, column = (
        int(np.argmin(np.abs(axis - at))) for axis, at in ((drawn.y_m, -1.0), (drawn.x_m, 0.0))
    )
    # over the rod the ground is near its potential, at the edge of the map it isn't
    assert drawn.touch_v[row, column] < 0.4 * drawn.metal_v
    assert drawn.ground_v[0, -1] < 0.4 * drawn.metal_v
    assert drawn.step_v.max() == pytest.approx(drawn.step_worst_v)


def test_a_large_site_is_drawn_in_parts_each_fine_enough_for_a_pace() -> None:
    # The same barn twice, a field apart: what is found near one is what is found there alone.
    text = BARN.read_text(encoding="utf-8").replace(
        "cottage rod: {kind: rod, position: [6 m, -5 m]}",
        ("far rod: {kind: rod, position: [400 m, 300 m]}"),
    )
    _, _, alone = followed(text.replace("[400 m, 300 m]", "[6 m, -40 m]"))
    network, _, study = followed(text)
    one = study.faults[0]
    assert one.drawn is not None
    assert [set(m.names) for m in one.maps] == [{"rods", "footing", "well"}, {"far rod"}]
    for drawn in one.maps:
        assert np.diff(drawn.x_m).max() < 0.5
        assert np.diff(drawn.y_m).max() < 0.5
    near = alone.faults[0].drawn
    assert near is not None
    assert one.stepped is one.drawn
    assert one.drawn.step_worst_v == pytest.approx(near.step_worst_v, rel=0.05)
    assert one.drawn.step_at_m == pytest.approx(near.step_at_m, abs=0.5)
    # rho I / 2 pi r with the lower layer's resistivity: elementary, far from everything; what was
    # measured scales the field of its electrode
    factors = network.plan.ground.factors
    amps = sum(factors.get(name, 1.0) * value for name, value in one.currents_a.items())
    away = np.hypot(400 - 8, 300 + 2)
    assert one.maps[1].ground_v.mean() == pytest.approx(50 * amps / (2 * np.pi * away), rel=0.05)


def test_what_electrodes_far_away_do_is_drawn_out_without_loss() -> None:
    demo = plan(load(Path(__file__).parents[2] / "examples" / "harrow-creek.yaml"))
    system = system_of(demo.ground.soil, tuple(demo.ground.shapes.values()))
    found = windows(demo, system)
    assert sorted(name for part in found for name in part.names) == sorted(system.names)
    part = found[0]
    few = np.column_stack([part.x_m[::9], np.resize(part.y_m[::7], part.x_m[::9].size)])
    at = [
        (int(np.argmin(np.abs(part.y_m - y))), int(np.argmin(np.abs(part.x_m - x)))) for x, y in few
    ]
    expected = system.lift(few)
    assert np.array([part.lift[k] for k in at]) == pytest.approx(expected, rel=1e-5)
    parts = sum(system.lift(few, [name]) for name in system.names)
    assert parts == pytest.approx(expected, rel=1e-9)


@outside("IEEE Std 80, step limit", "memory", unit="V")
def test_a_layer_on_the_surface_raises_what_is_borne_and_nothing_else(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    text = BARN.read_text(encoding="utf-8")
    stone = "surface layer: {resistivity: 2500 ohm m, thickness: 102 mm}\n"
    _, _, study = followed(text.replace("seasons:\n", f"{stone}seasons:\n", 1))
    bare, laid = barn[2].faults[0].stepped, study.faults[0].stepped
    assert bare is not None
    assert laid is not None
    assert laid.step_worst_v == pytest.approx(bare.step_worst_v)
    # IEEE Std 80 (from memory): Cs = 1 - 0.09 (1 - rho / rho_s) / (2 h + 0.09), and
    # (1000 + 6 Cs rho_s) 0.116 / sqrt(t) for 50 kg, from 0.03 s on
    cs = 1 - 0.09 * (1 - 300 / 2500) / (2 * 0.102 + 0.09)
    time = max(study.faults[0].clearing_s, 0.03)
    assert laid.step_limit_v == published((1000 + 6 * cs * 2500) * 0.116 / time**0.5, rel=0.01)
    assert bare.step_limit_v == published((1000 + 6 * 300) * 0.116 / time**0.5, rel=0.01)


def test_seasons(barn: tuple[Network, list[FaultResult], GroundStudy]) -> None:
    _, _, study = barn
    dry, wet = study.faults[0].seasons
    assert (dry.season, wet.season) == ("dry summer", "wet spring")
    assert study.resistance_ohm is not None
    assert wet.resistance_ohm < study.resistance_ohm < dry.resistance_ohm
    assert wet.total_a > study.faults[0].total_a > dry.total_a


def test_what_each_brings(barn: tuple[Network, list[FaultResult], GroundStudy]) -> None:
    network, _, study = barn
    second = study.brings[0]
    assert (second.what, second.count) == ("rods", 2)
    assert second.ideal < second.after < second.before
    assert second.ideal == pytest.approx(second.before / 2, rel=1e-6)
    for one in study.brings[1:]:
        assert one.ideal < one.after < one.before
        rest = [name for name in study.joined if name != one.what]
        assert one.before == joined_resistance(network.plan.ground, rest)
    text = " ".join(tell_ground(study).sentences)
    assert "Rod 2 of rods takes it from" in text
    assert "no electrode replaces a bonding conductor" in text


def test_a_point_far_away_sees_a_point(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    # rho I / 2 pi r with the lower layer's resistivity: elementary, far from everything
    from bondwright.studies.ground import ground_phasors

    ground = barn[0].plan.ground
    system = system_of(Soil.two_layer(300, 50, 3), tuple(ground.shapes.values()))
    volts = ground_phasors(system, {"rods": 1 + 1j, "footing": 2.0}, np.array([[3000.0, 0.0]]))
    assert volts[0] == pytest.approx(50 * (3 + 1j) / (2 * np.pi * 3000), rel=0.01)


def test_a_lost_neutral_with_no_bond_is_dangerous_ground() -> None:
    # No tie: a fault to the light's metal finds the earth only, and stands.
    text = BARN.read_text(encoding="utf-8")
    text = text.replace("ties:\n  main: {at: barn panel, by: screw}", "ties: {}")
    text = text.replace("resistance: 4.2 ohm", "resistance: 90 ohm")
    _, _, study = followed(text)
    told = tell_ground_fault(study.faults[0])
    assert told.verdict is Verdict.FALLS_SHORT
    assert "nothing opens" in told.sentences[0]
    assert study.faults[0].total_a == pytest.approx(study.faults[0].fault_a, rel=1e-6)


def test_without_a_place_nothing_is_drawn() -> None:
    text = BARN.read_text(encoding="utf-8")
    start, end = text.index("electrodes:"), text.index("metal:")
    text = text[:start] + "electrodes:\n  rod: {kind: rod, at: barn panel}\n" + text[end:]
    text = text[: text.index("earth tests:")]
    _, _, study = followed(text)
    assert study.faults[0].drawn is None
    assert tell_ground_fault(study.faults[0]).verdict is Verdict.CANNOT_TELL
    assert "can't be told" in " ".join(tell_ground(study).sentences)


def test_the_limit_is_the_lower_of_two() -> None:
    assert touch_bound(0.5, Footing(100)) <= body_limit(0.5, 50, Footing(100))
    assert touch_bound(np.inf, Footing(100)) <= 50


def test_every_touch_names_its_metal(barn: tuple[Network, list[FaultResult], GroundStudy]) -> None:
    network, _, study = barn
    fault = study.faults[0]
    places = network.plan.site.places
    placed = {name for name, place in places.items() if place.position is not None}
    assert {one.what for one in fault.touch} == placed
    for one in fault.touch:
        position = places[one.what].position
        assert position is not None
        # within reach of where it stands: a metre (IEEE Std 80)
        assert np.hypot(one.x_m - position[0], one.y_m - position[1]) <= 1.0 + 1e-9
        assert one.touch_v <= one.metal_v + one.ground_v + 1e-9
        assert one.touch_v >= abs(one.metal_v - one.ground_v) - 1e-9
        assert (one.verdict is Verdict.HOLDS) == (one.touch_v <= one.limit_v)
    assert [one.touch_v for one in fault.touch] == sorted(
        (one.touch_v for one in fault.touch), reverse=True
    )


def test_the_worst_of_each_place_by_hand(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    """One for each place, the highest first; a utility's own metal counts for nothing."""
    one = next(r for r in barn[1] if r.fault.kind is FaultKind.LINE_TO_METAL)

    def at(place: str, **touch: float) -> FaultResult:
        return replace(one, fault=replace(one.fault, place=place), touch=dict(touch))

    a, higher, alike = at("a", x=10, pole=99), at("a", x=4, y=15), at("a", x=15 * (1 + 1e-9))
    b, only_pole, nothing = at("b", x=12), at("c", pole=500), at("d")
    line = replace(b, fault=replace(b.fault, kind=FaultKind.LINE_TO_LINE), touch={"x": 700.0})
    every = [a, line, b, higher, alike, only_pole, nothing]
    assert _worst(every, 9, {"pole"}) == [higher, b, only_pole]
    assert _worst(every, 2, {"pole"}) == [higher, b]
    assert _worst(every, 1, set()) == [only_pole]
    assert _worst([higher, a], 9, {"pole"}) == [higher]
    assert _worst([], 9, set()) == []


def test_the_whole_ground_goes_four_metres_past_all_there_is(
    barn: tuple[Network, list[FaultResult], GroundStudy],
) -> None:
    """Past the outermost electrode, place or bend of metal, on each side by itself."""
    made = barn[0].plan
    shapes = list(made.ground.shapes.values())
    ends = np.array(
        [end[:2] for one in shapes for wire in one.wires for end in (wire.start, wire.end)]
    )
    bare = made.site.model_copy(
        update={
            "places": {
                name: place.model_copy(update={"position": None})
                for name, place in made.site.places.items()
            },
            "metal": {},
        }
    )
    low, top = _whole(replace(made, site=bare), shapes)
    assert low.tolist() == pytest.approx((ends.min(axis=0) - 4).tolist())
    assert top.tolist() == pytest.approx((ends.max(axis=0) + 4).tolist())
    name = next(iter(bare.places))
    for spot in ((1000.0, 2000.0), (-3000.0, 5.0), (0.0, -700.0)):
        far = bare.places[name].model_copy(update={"position": spot})
        site = bare.model_copy(update={"places": {**bare.places, name: far}})
        low, top = _whole(replace(made, site=site), shapes)
        points = np.vstack([ends, [spot]])
        assert low.tolist() == pytest.approx((points.min(axis=0) - 4).tolist())
        assert top.tolist() == pytest.approx((points.max(axis=0) + 4).tolist())
