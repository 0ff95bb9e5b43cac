"""What can't stand in a description of the ground: geometry that contradicts itself, odd tests."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.site.earth_tests import sounding_of
from bondwright.site.ground import STANDING, AskedOf, Buried, EarthReading, EarthTest, EarthTestKind
from bondwright.site.model import ElectrodeKind, Site
from bondwright.site.shape import did_you_mean, nearest
from bondwright.site.topology import Problem

_COATED: Final = frozenset({"concrete", "concrete resistivity"})
GEOMETRY: Final[Mapping[ElectrodeKind, frozenset[str]]] = {
    ElectrodeKind.ROD: frozenset({"position", "along", "depth"}),
    ElectrodeKind.WATER_PIPE: frozenset({"position", "along", "depth"}),
    ElectrodeKind.CONCRETE: frozenset({"position", "along", "depth"}) | _COATED,
    ElectrodeKind.RING: frozenset({"position", "along", "across", "depth", "width"}),
    ElectrodeKind.PLATE: frozenset({"position", "depth", "width", "upright"}),
    ElectrodeKind.STEEL: frozenset({"position", "along", "depth"}) | _COATED,
    ElectrodeKind.GRID: frozenset({"position", "depth", "width", "wire", "meshes"}),
    ElectrodeKind.STRIP: frozenset({"position", "along", "depth", "width", "wire"}),
    ElectrodeKind.WELL: frozenset({"position", "along", "depth"}),
    ElectrodeKind.PILE_CAP: frozenset({"position", "along", "depth", "width"}) | _COATED,
}
"""Keys of the geometry that belong to each kind of electrode."""


def geometry_given(electrode: Buried) -> frozenset[str]:
    """Return the keys of the geometry that an electrode has."""
    given = {
        "position": electrode.position is not None,
        "along": bool(electrode.along),
        "across": electrode.across is not None,
        "depth": electrode.depth is not None,
        "width": electrode.width is not None,
        "wire": electrode.wire is not None,
        "meshes": electrode.meshes is not None,
        "upright": electrode.upright,
        "concrete": electrode.concrete is not None,
        "concrete resistivity": electrode.concrete_resistivity is not None,
    }
    return frozenset(key for key, there in given.items() if there)


def geometry_problems(loc: tuple[str, str], electrode: Buried) -> Iterator[Problem]:
    """Yield what contradicts itself in the geometry of one electrode."""
    belongs, kind = GEOMETRY[electrode.kind], electrode.kind.value
    for key in sorted(geometry_given(electrode) - belongs):
        hint = f"for {kind!r} give {', '.join(sorted(belongs))}"
        yield Problem((*loc, key), f"does not belong to an electrode of kind {kind!r}", hint)
    spots = len(electrode.along)
    if spots and electrode.position is not None:
        yield Problem(
            (*loc, "position"), "is given beside 'along'", "give one of the two", on_key=True
        )
    elif spots and electrode.kind in STANDING and electrode.count != spots:
        hint = f"write 'count: {spots}', or as many places as there are"
        if electrode.kind is not ElectrodeKind.STEEL or electrode.count != 1:
            said = f"names {spots} places, but the count is {electrode.count}"
            yield Problem((*loc, "along"), said, hint, on_key=True)
    least = {
        ElectrodeKind.RING: 3,
        ElectrodeKind.WATER_PIPE: 2,
        ElectrodeKind.CONCRETE: 2,
        ElectrodeKind.STRIP: 2,
    }
    need = least.get(electrode.kind, 1)
    if 0 < spots < need:
        hint = "each place is a pair like [0 m, 3 m]"
        yield Problem(
            (*loc, "along"), f"names {spots} of at least {need} corners", hint, on_key=True
        )
    if electrode.kind is ElectrodeKind.STRIP and electrode.wire and electrode.width:
        hint = "a strip is flat ('width') or a round wire ('wire')"
        yield Problem((*loc, "wire"), "is given beside 'width'", hint, on_key=True)
    if electrode.across is not None and spots:
        hint = "a ring is round ('position' and 'across') or has corners ('along')"
        yield Problem((*loc, "across"), "is given beside 'along'", hint, on_key=True)


_NEEDS: Final[Mapping[EarthTestKind, tuple[tuple[str, ...], int]]] = {
    EarthTestKind.FALL: (("distance", "resistance"), 3),
    EarthTestKind.CLAMP: (("resistance",), 1),
    EarthTestKind.TWO_POINT: (("resistance",), 1),
    EarthTestKind.CONTINUITY: (("resistance",), 1),
    EarthTestKind.SURVEY: (("spacing",), 3),
    EarthTestKind.SOIL_BOX: (("resistance",), 1),
    EarthTestKind.LOOP: (("resistance",), 1),
    EarthTestKind.TT: (("resistance",), 1),
}
_MOST: Final = {
    EarthTestKind.CLAMP: 1,
    EarthTestKind.TWO_POINT: 1,
    EarthTestKind.CONTINUITY: 2,
    EarthTestKind.LOOP: 1,
    EarthTestKind.TT: 1,
}
_BELONGS: Final[Mapping[str, frozenset[EarthTestKind]]] = {
    "far": frozenset({EarthTestKind.FALL}),
    "widest": frozenset({EarthTestKind.FALL}),
    "over range": frozenset({EarthTestKind.CLAMP}),
    "others": frozenset({EarthTestKind.TWO_POINT}),
    "asked": frozenset({EarthTestKind.TWO_POINT}),
    "leads": frozenset({EarthTestKind.TWO_POINT, EarthTestKind.CONTINUITY}),
    "metal": frozenset({EarthTestKind.CONTINUITY}),
    "section": frozenset({EarthTestKind.SOIL_BOX}),
    "apart": frozenset({EarthTestKind.SOIL_BOX}),
    "tester": frozenset({EarthTestKind.LOOP}),
    "cold part": frozenset({EarthTestKind.LOOP}),
    "residual": frozenset({EarthTestKind.TT}),
    "goal": frozenset(EarthTestKind)
    - {EarthTestKind.SURVEY, EarthTestKind.SOIL_BOX, EarthTestKind.TT},
}


_MUST: Final[Mapping[EarthTestKind, tuple[tuple[str, str], ...]]] = {
    EarthTestKind.FALL: (("far", "give the distance of the current pin, like '50 m'"),),
    EarthTestKind.CONTINUITY: (("goal", "give the most it may have, like '0.5 ohm'"),),
    EarthTestKind.TWO_POINT: (("asked", "write 'joined' or 'earth'"),),
    EarthTestKind.SOIL_BOX: (
        ("section", "give the cross-section of the sample, like '40 cm2'"),
        ("apart", "give the distance of the potential pins, like '10 cm'"),
    ),
    EarthTestKind.LOOP: (("goal", "give the most it may have when warm, like '1.37 ohm'"),),
    EarthTestKind.TT: (("residual", "give the rated current of the device, like '30 mA'"),),
}


def of_test(name: str, test: EarthTest) -> Iterator[Problem]:
    """Yield what contradicts itself in one field test."""
    loc, kind = ("earth tests", name), test.kind
    given = {
        "far": test.far is not None,
        "widest": test.widest is not None,
        "over range": test.over_range,
        "others": test.others is not None,
        "asked": test.asked is not None,
        "leads": test.leads is not None,
        "metal": test.metal is not None,
        "section": test.section is not None,
        "apart": test.apart is not None,
        "tester": test.tester is not None,
        "cold part": test.cold_part is not None,
        "residual": test.residual is not None,
        "goal": test.goal is not None,
    }
    for key, there in given.items():
        if there and kind not in _BELONGS[key]:
            known = " or ".join(repr(k.value) for k in EarthTestKind if k in _BELONGS[key])
            hint = f"it belongs to {known}; remove it"
            yield Problem((*loc, key), f"does not belong to {kind.value!r}", hint, on_key=True)
    for key, hint in _MUST.get(kind, ()):
        if not given[key]:
            yield Problem(loc, f"needs {key!r}", hint, on_key=True)
    if test.cold_part is not None and test.cold_part > 1:
        hint = "write it like '80 %'"
        yield Problem((*loc, "cold part"), "is more than the whole of the limit", hint)
    keys, count = _NEEDS[kind]
    if test.over_range:
        return
    if not count <= len(test.readings) <= _MOST.get(kind, len(test.readings)):
        hint = f"give {count} or more" if len(test.readings) < count else "give one test for each"
        many = f"has {len(test.readings)} reading{'s' if len(test.readings) != 1 else ''}"
        yield Problem(
            (*loc, "readings"), f"{many}, which {kind.value!r} can't be", hint, on_key=True
        )
    odd = False
    for index, reading in enumerate(test.readings):
        for problem in _reading((*loc, "readings", index), test, reading, keys):
            odd = True
            yield problem
    if kind is EarthTestKind.SURVEY and not odd and len(test.readings) >= count:
        try:
            sounding_of(test)
        except ValueError as error:
            yield Problem((*loc, "readings"), f"can't be a survey: {error}", on_key=True)
    if kind is EarthTestKind.FALL and test.far is not None and not odd:
        for index, reading in enumerate(test.readings):
            if reading.distance is not None and reading.distance >= test.far:
                hint = "the potential pin stands between the electrode and the current pin"
                said = f"is not nearer than the current pin at {test.far:g} m"
                yield Problem((*loc, "readings", index, "distance"), said, hint)


def _reading(
    loc: tuple[str | int, ...], test: EarthTest, reading: EarthReading, keys: tuple[str, ...]
) -> Iterator[Problem]:
    there = {
        "distance": reading.distance,
        "spacing": reading.spacing,
        "inner": reading.inner,
        "resistance": reading.resistance,
        "resistivity": reading.resistivity,
    }
    allowed = set(keys) | (
        {"inner", "resistance", "resistivity"} if test.kind is EarthTestKind.SURVEY else set()
    )
    for key in keys:
        if there[key] is None:
            yield Problem(loc, f"has no {key!r}", f"write it like {{{_SAMPLE[test.kind]}}}")
    for key, value in there.items():
        if value is not None and key not in allowed:
            hint = f"write it like {{{_SAMPLE[test.kind]}}}"
            yield Problem((*loc, key), f"does not belong to {test.kind.value!r}", hint, on_key=True)
    if test.kind is EarthTestKind.SURVEY and (reading.resistance is None) == (
        reading.resistivity is None
    ):
        hint = "give what the instrument showed: 'resistance' or 'resistivity'"
        yield Problem(loc, "needs one of 'resistance' and 'resistivity'", hint)


_SAMPLE: Final = {
    EarthTestKind.FALL: "distance: 31 m, resistance: 12 ohm",
    EarthTestKind.CLAMP: "resistance: 24.6 ohm",
    EarthTestKind.TWO_POINT: "resistance: 3 ohm",
    EarthTestKind.CONTINUITY: "resistance: 0.2 ohm",
    EarthTestKind.SURVEY: "spacing: 2 m, resistance: 19.7 ohm",
    EarthTestKind.SOIL_BOX: "resistance: 250 ohm",
    EarthTestKind.LOOP: "resistance: 0.9 ohm",
    EarthTestKind.TT: "resistance: 120 ohm",
}


def ground_problems(site: Site) -> Iterator[Problem]:
    """Yield everything about neighbours and field tests that can't stand."""
    for name in site.neighbours:
        if name in site.electrodes:
            hint = "call the neighbour's metal something else"
            yield Problem(("neighbours", name), "is the id of an electrode too", hint, on_key=True)
    known = [*site.electrodes, *site.neighbours]
    for name, test in site.earth_tests.items():
        yield from of_test(name, test)
        for index, electrode in enumerate(test.of):
            if electrode not in known:
                near = nearest(electrode, known)
                hint = did_you_mean(near) if near else f"there are: {', '.join(known) or 'none'}"
                loc = ("earth tests", name, "of", index)
                yield Problem(loc, "is not the id of an electrode", hint)
        if test.asked is AskedOf.JOINED and test.goal is None:
            loc2 = ("earth tests", name)
            yield Problem(loc2, "needs 'goal'", "give the most a join may have, like '0.5 ohm'")
