"""Electrodes as metal in the ground: where every wire lies, by hand; what had to be taken."""

from __future__ import annotations

import math
from typing import Any

import pytest

from bondwright.catalog.sizes import Conductor
from bondwright.earth import shapes
from bondwright.earth.shapes import Electrode
from bondwright.plan.buried import Laid, has_shape, lay, wire_diameter
from bondwright.plan.model import ScheduleItem
from bondwright.rules.answer import Verdict
from bondwright.site.ground import Buried
from bondwright.units import FOOT, INCH


def laid(**given: Any) -> Laid:
    return lay("it", Buried.model_validate(given))


def told(**given: Any) -> tuple[str, ...]:
    return lay("it", Buried.model_validate(given), system="us").taken


def same(found: Electrode, expected: Electrode) -> None:
    """The same wires in the same places."""
    assert found.name == expected.name == "it"
    assert len(found.wires) == len(expected.wires)
    for one, other in zip(found.wires, expected.wires, strict=True):
        assert one.start == pytest.approx(other.start)
        assert one.end == pytest.approx(other.end)
        assert one.radius_m == pytest.approx(other.radius_m)
        assert one.coat_ohm_m == pytest.approx(other.coat_ohm_m)


def test_the_area_of_a_wire_as_a_round_one() -> None:
    """4/0 AWG is 211,600 circular mils (ASTM B 258): 0.46 in solid."""
    assert wire_diameter(Conductor.parse("4/0 AWG Cu")) == pytest.approx(0.46 * INCH)


def test_rods_in_a_line() -> None:
    found = laid(kind="rod", length=2, diameter=0.016, count=3, spacing=4, position=[1, 7])
    assert found.placed
    ends = [(w.start, w.end, w.radius_m) for w in found.shape.wires]
    assert ends == [((1.0 + 4 * k, 7.0, 0.0), (1.0 + 4 * k, 7.0, 2.0), 0.008) for k in range(3)]
    assert found.taken == ("in a line toward growing x",)
    deep = laid(kind="rod", length=2, diameter=0.016, depth=0.5)
    assert not deep.placed
    ((start, end),) = [(w.start, w.end) for w in deep.shape.wires]
    assert (start, end) == ((0.0, 0.0, 0.5), (0.0, 0.0, 2.5))
    assert deep.taken == ()


def test_rods_at_their_own_places() -> None:
    found = laid(kind="rod", length=2, diameter=0.016, count=2, along=[[0, 0], [3, 5]])
    assert [w.start[:2] for w in found.shape.wires] == [(0.0, 0.0), (3.0, 5.0)]
    assert (found.taken, found.placed) == ((), True)
    # one place of several that have their distance: they go on from there
    found = laid(kind="rod", length=2, diameter=0.016, count=2, spacing=3, along=[[1, 2]])
    assert [w.start[:2] for w in found.shape.wires] == [(1.0, 2.0), (4.0, 2.0)]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        # The lists of what is taken, in order; the sizes are those that the defaults' file names.
        ({"kind": "rod"}, ("8 ft long", "0.625 in thick")),
        ({"kind": "rod", "count": 2}, ("8 ft long", "0.625 in thick", "6 ft apart",
                                       "in a line toward growing x")),
        ({"kind": "well"}, ("50 ft long", "6 in thick")),
        ({"kind": "water pipe", "position": [0, 0]},
         ("10 ft long", "straight, toward growing x", "2.5 ft deep", "1 in thick")),
        ({"kind": "water pipe", "along": [[0, 0], [5, 0]], "depth": 1, "diameter": 0.05}, ()),
        ({"kind": "concrete", "length": 6}, ("straight, toward growing x", "2 ft deep",
         "0.5 in thick", "concrete 1 ft thick around it", "concrete of 60 ohm m")),
        ({"kind": "concrete", "length": 6, "count": 2, "concrete resistivity": "90 ohm m"},
         ("straight, toward growing x", "2 ft deep", "0.5 in thick",
          "concrete 1 ft thick around it", "6 ft apart", "side by side toward growing y")),
        ({"kind": "strip", "along": [[0, 0], [5, 0]]}, ("2.5 ft deep", "1 in wide")),
        ({"kind": "strip", "along": [[0, 0], [5, 0]], "wire": "2 AWG Cu"}, ("2.5 ft deep",)),
        ({"kind": "grid", "length": 6}, ("square", "meshes of about 10 ft", "2.5 ft deep",
                                         "of 2 AWG Cu")),
        ({"kind": "ring", "across": 4}, ("2.5 ft deep", "of 2 AWG Cu")),
        ({"kind": "ring", "length": 9, "width": 0.03}, ("2.5 ft deep", "round")),
        ({"kind": "plate", "length": 0.5}, ("2.5 ft deep", "level")),
        ({"kind": "plate", "length": 0.5, "upright": True}, ("2.5 ft deep",)),
        ({"kind": "steel", "length": 5}, ("6 in thick", "bare")),
        ({"kind": "steel", "length": 5, "concrete": 0.5}, ("6 in thick", "concrete of 60 ohm m")),
        ({"kind": "pile cap", "along": [[0, 0], [2, 0]], "count": 2, "length": 6},
         ("10 in thick", "concrete 1.33 ft thick around it", "concrete of 60 ohm m",
          "3 ft deep", "a cap 2 ft thick")),
    ],
)  # fmt: skip
def test_what_is_taken_of_it(given: dict[str, Any], words: tuple[str, ...]) -> None:
    assert told(**given) == words


def test_thicknesses_in_millimetres_where_lengths_are_metres() -> None:
    found = lay("it", Buried.model_validate({"kind": "rod"}), system="metric").taken
    assert found[1] == "15.88 mm thick"
    assert found[0].startswith("2.44 m")
    strip = lay("it", Buried.model_validate({"kind": "strip", "length": 5}), system="metric").taken
    assert strip[-1] == "25.4 mm wide"


def test_a_pipe_along_its_corners() -> None:
    found = laid(kind="water pipe", along=[[0, 0], [4, 0], [4, 3]], depth=0.7, diameter=0.04)
    same(found.shape, shapes.buried_wire("it", [(0, 0), (4, 0), (4, 3)], 0.7, 0.04))
    assert found.shape.length_m == pytest.approx(7)
    straight = laid(kind="water pipe", position=[2, 1], length=5, depth=0.7, diameter=0.04)
    same(straight.shape, shapes.buried_wire("it", [(2, 1), (7, 1)], 0.7, 0.04))


def test_footings_lie_side_by_side() -> None:
    given = {"kind": "concrete", "along": [[0, 0], [6, 0]], "depth": 1, "diameter": 0.012,
             "concrete": 0.3, "concrete resistivity": 50}  # fmt: skip
    one = shapes.concrete_bar("it", [(0, 0), (6, 0)], 1.0, 0.012, 0.3, 50.0)
    same(laid(**given).shape, one)
    several = laid(**given, count=3, spacing=2).shape
    same(several, one.joined(one.moved(0, 2), one.moved(0, 4)))
    assert {w.start[1] for w in several.wires} == {0.0, 2.0, 4.0}
    # a bar lies in its concrete: never less deep than half of that
    shallow = laid(**{**given, "depth": 0.05})
    assert {w.start[2] for w in shallow.shape.wires} == {0.15}


def test_strips_and_wires() -> None:
    line: list[tuple[float, float]] = [(0, 0), (5, 0)]
    given: dict[str, Any] = {"kind": "strip", "along": line, "depth": 0.6}
    same(laid(**given, width=0.03).shape, shapes.strip("it", line, 0.6, 0.03))
    wire = wire_diameter(Conductor.parse("2/0 AWG Cu"))
    same(laid(**given, wire="2/0 AWG Cu").shape, shapes.buried_wire("it", line, 0.6, wire))
    same(laid(**given).shape, shapes.strip("it", line, 0.6, 1 * INCH))


def test_grids() -> None:
    wire = wire_diameter(Conductor.parse("2/0 AWG Cu"))
    given = {"kind": "grid", "length": 12, "depth": 0.5, "wire": "2/0 AWG Cu", "position": [1, 2]}
    same(
        laid(**given, width=6, meshes=[4, 3]).shape,
        shapes.grid("it", (1, 2), (12, 6), (4, 3), 0.5, wire),
    )
    # meshes of about 10 ft: 12 m by 6 m are 4 by 2 of 3 m
    same(laid(**given, width=6).shape, shapes.grid("it", (1, 2), (12, 6), (4, 2), 0.5, wire))
    same(laid(**given).shape, shapes.grid("it", (1, 2), (12, 12), (4, 4), 0.5, wire))
    small = {**given, "length": 1}
    same(laid(**small).shape, shapes.grid("it", (1, 2), (1, 1), (1, 1), 0.5, wire))


def test_rings() -> None:
    given = {"kind": "ring", "depth": 0.6, "ring": "2/0 AWG Cu", "position": [3, 4]}
    wire = wire_diameter(Conductor.parse("2/0 AWG Cu"))
    same(laid(**given, across=4).shape, shapes.ring("it", (3, 4), 4.0, 0.6, wire))
    # 12.57 m all the way are 4 m across; a strip is a round wire of half its width (Dwight 1936)
    same(laid(**given, length=4 * math.pi).shape, shapes.ring("it", (3, 4), 4.0, 0.6, wire))
    same(laid(**given, across=4, width=0.03).shape, shapes.ring("it", (3, 4), 4.0, 0.6, 0.015))
    corners = [(0, 0), (6, 0), (6, 5), (0, 5)]
    around = laid(**given, along=corners).shape
    same(around, shapes.buried_wire("it", corners, 0.6, wire, closed=True))
    assert around.length_m == pytest.approx(22)


def test_plates() -> None:
    given = {"kind": "plate", "depth": 1.5, "position": [1, 2]}
    at = (1.0, 2.0, 1.5)
    same(laid(**given, length=0.6).shape, shapes.plate("it", at, (0.6, 0.6)))
    same(
        laid(**given, length=0.9, width=0.6, upright=True).shape,
        shapes.plate("it", at, (0.9, 0.6), upright=True),
    )
    same(
        laid(**given, diameter=0.7).shape,
        shapes.plate("it", at, (0.7, 0.7), round_plate=True),
    )
    two = laid(**given, length=0.6, count=2, spacing=3).shape
    one = shapes.plate("it", at, (0.6, 0.6))
    same(two, one.joined(one.moved(3, 0)))


def test_steel_piles_bare_and_in_concrete() -> None:
    given = {"kind": "steel", "length": 5, "diameter": 0.2, "position": [0, 1]}
    same(laid(**given).shape, shapes.rod("it", (0, 1), 5, 0.2))
    same(laid(**given, depth=1).shape, shapes.rod("it", (0, 1), 5, 0.2, 1))
    coated = laid(**given, depth=1, concrete=0.5, **{"concrete resistivity": 70})
    same(coated.shape, shapes.pile("it", (0, 1), 5, 0.2, 0.5, 70, 1))
    rho = laid(**given, **{"concrete resistivity": 70})
    same(rho.shape, shapes.pile("it", (0, 1), 5, 0.2, 24 * INCH, 70, 0.0))


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_a_pile_cap_has_beams_around_it(count: int) -> None:
    """Beams from head to head, their middle half the cap's thickness above the piles' heads."""
    places: list[tuple[float, float]] = [(0, 0), (3, 0), (3, 3), (0, 3)]
    some = places[:count]
    given = {"kind": "pile cap", "along": some, "count": count, "length": 6, "diameter": 0.3,
             "depth": 1.2, "concrete": 0.5, "concrete resistivity": 60, "width": 0.8}  # fmt: skip
    found = laid(**given).shape
    piles = [shapes.pile("it", at, 6, 0.3, 0.5, 60, 1.2) for at in some]
    if count == 1:
        same(found, piles[0])
        return
    way = [*some, some[0]] if count > 2 else some
    beams = shapes.concrete_bar("it", way, 1.2 - 0.4, 0.8 * 0.3 / 0.5, 0.8, 60)
    same(found, piles[0].joined(*piles[1:], beams))


def test_what_has_a_shape_of_its_own() -> None:
    for given, shape in (
        ({"kind": "rod"}, True),
        ({"kind": "well"}, True),
        ({"kind": "plate"}, False),
        ({"kind": "plate", "position": [0, 0]}, True),
        ({"kind": "water pipe"}, False),
        ({"kind": "water pipe", "position": [0, 0]}, True),
        ({"kind": "water pipe", "resistance": 3}, False),
    ):
        assert has_shape(Buried.model_validate(given)) is shape
    assert laid(kind="rod").shape.wires[0].length_m == pytest.approx(8 * FOOT)


# --- rows of the schedule --------------------------------------------------------------------

ROW: dict[str, Any] = {
    "id": "EGC feeder", "purpose": "equipment grounding conductor", "from_": "main", "to": "sub",
    "about": "feeder", "required": None, "chosen": None, "form": "wire", "given": True,
    "verdict": Verdict.HOLDS, "remark": "",
}  # fmt: skip


@pytest.mark.parametrize("key", ["id", "from_", "to", "about", "form", "remark"])
def test_no_row_without_its_words(key: str) -> None:
    assert ScheduleItem(**ROW).id == "EGC feeder"
    with pytest.raises(TypeError, match="None is no text"):
        ScheduleItem(**{**ROW, key: None})
    if key != "remark":
        with pytest.raises(ValueError, match="without words"):
            ScheduleItem(**{**ROW, key: ""})
