"""What must hold for ranges on any site: they hold the nominal answer, widen, and close on it."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping

import pytest

from bondwright.site.model import Site
from bondwright.site.ranges import Path, Range, with_values
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.faults import study_fault
from bondwright.studies.spread.matters import Spread
from bondwright.studies.spread.study import Sampled, study_samples
from bondwright.studies.spread.work import Samples, What
from bondwright.studies.stray import study_stray
from tests.studies.anywhere import quiet, seeds, site_of, used

SORTS = ("made up", "shipped")
COUNT = 8


def chosen(seed: int) -> tuple[Site, str, dict[Path, float]]:
    """Return a site, a place whose faults are asked for, and quantities that may be ranges."""
    site, dice = site_of(seed, SORTS), random.Random(seed)
    runs = [name for name, run in site.runs.items() if run.length]
    place = site.runs[dice.choice(runs)].to
    found: dict[Path, float] = {}
    for name in dice.sample(runs, min(3, len(runs))):
        found["runs", name, "length"] = float(site.runs[name].length)
    for name, one in site.electrodes.items():
        if one.resistance is not None:
            found["electrodes", name, "resistance"] = float(one.resistance)
    for name, where in site.places.items():
        for k, load in enumerate(where.loads[:1]):
            if dice.random() < 0.3:
                found["places", name, "loads", k, "power"] = float(load.power)
    return site, place, found


def sampled(site: Site, place: str, values: Mapping[Path, float], study: str) -> Sampled:
    ranged = with_values(site, dict(values))
    assert isinstance(ranged, Site)
    kinds = (FaultKind.LINE_TO_METAL,)
    what = What("faults", place=place, kinds=kinds) if study == "faults" else What("stray")
    return study_samples(Samples.of(ranged, what, COUNT, 3))


def spreads(found: Sampled) -> list[Spread]:
    faults = [s for one in found.faults for s in (one.current, one.clearing, one.touch)]
    return [*faults, *(one.amperes for one in found.currents)]


@pytest.mark.parametrize("study", ["faults", "stray"])
@pytest.mark.parametrize("seed", seeds(2))
def test_a_range_holds_the_nominal_answer(seed: int, study: str) -> None:
    """Also where the nominal value lies at one end of what is possible."""
    site, place, values = chosen(seed)
    dice = random.Random(seed)
    ranges = {
        path: Range(v, 1.5 * v, v) if dice.random() < 0.5 else Range(0.7 * v, 1.3 * v)
        for path, v in values.items()
    }
    found = sampled(site, place, ranges, study)
    for one in spreads(found):
        assert one.least <= one.nominal <= one.greatest
        assert one.least <= one.low <= one.high <= one.greatest
    for fault in found.faults:
        assert sum(fault.verdicts.values()) == pytest.approx(1)


@pytest.mark.parametrize("study", ["faults", "stray"])
@pytest.mark.parametrize("seed", seeds(2))
def test_without_width_nothing_but_the_nominal_answer_is_left(seed: int, study: str) -> None:
    site, place, values = chosen(seed)
    ranges = {path: Range(v * (1 - 1e-9), v * (1 + 1e-9)) for path, v in values.items()}
    found = sampled(site, place, ranges, study)
    for one in spreads(found):
        if math.isfinite(one.nominal):
            assert one.least == pytest.approx(one.nominal, rel=1e-4, abs=1e-4)
            assert one.greatest == pytest.approx(one.nominal, rel=1e-4, abs=1e-4)
        else:
            assert one.least == one.greatest == one.nominal
    for fault in found.faults:
        alone = study_fault(quiet(seed, SORTS), fault.fault)
        assert fault.current.nominal == pytest.approx(alone.current, rel=1e-3)
    if study == "stray":
        amps = {
            (f.carrier, f.id, f.conductor): f.amperes for f in study_stray(used(seed, SORTS)).flows
        }
        for current in found.currents:
            key = (current.flow.carrier, current.flow.id, current.flow.conductor)
            assert current.amperes.nominal == pytest.approx(amps[key], rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("seed", seeds(2))
def test_a_wider_range_has_a_wider_answer(seed: int) -> None:
    """Of one quantity that moves the answer one way: the length of the run to the fault."""
    site, _, values = chosen(seed)
    path = next(p for p in values if p[0] == "runs")
    length, place = values[path], site.runs[str(path[1])].to
    narrow, wide = (
        sampled(site, place, {path: Range(length * (1 - w), length * (1 + w))}, "faults")
        for w in (0.1, 0.4)
    )
    for one, other in zip(narrow.faults, wide.faults, strict=True):
        few = 1e-3 * one.current.nominal
        assert other.current.least <= one.current.least + few
        assert other.current.greatest >= one.current.greatest - few
        assert other.clearing.greatest >= one.clearing.greatest * (1 - 1e-6)
