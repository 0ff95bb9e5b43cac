"""Sampled studies of whole sites: against hand calculation, seed by seed, and on Dask."""

from __future__ import annotations

import numpy as np
import pytest

from bondwright.rules.answer import Verdict
from bondwright.site.model import Site
from bondwright.site.ranges import Range, unknowns, with_values
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.many.run import How, run
from bondwright.studies.many.work import unpacked
from bondwright.studies.spread.study import study_samples
from bondwright.studies.spread.work import Samples, What
from tests.studies.sites import BENCH, SUBPANEL

FAULTS = What("faults", place="far", kinds=(FaultKind.LINE_TO_METAL,))


def rods() -> Samples:
    """120 V through a rod of the utility and one of the site, the tie between them missing."""
    site = Site.model_validate(BENCH)
    site = with_values(
        site,
        {
            ("sources", "bench", "electrode"): Range(5, 15),
            ("electrodes", "rod", "resistance"): Range(5, 60),
            ("runs", "branch", "length"): Range(10, 20),
        },
    )
    what = What("faults", place="far", kinds=(FaultKind.LINE_TO_METAL,), without=("bond",))
    return Samples.of(site, what, 192, 4)


def test_two_rods_by_hand() -> None:
    """I = 120 V / (R1 + R2): its range, and its shares by the same formula on a grid."""
    work = rods()
    found = study_samples(work)
    fault = found.faults[0]
    assert fault.verdicts[Verdict.FALLS_SHORT] == 1
    by_hand = 120 / (work.values[:, 0] + work.values[:, 2])
    names = [one.path[0] for one in work.unknown]
    assert names == ["sources", "runs", "electrodes"]
    # Wires add a fifth of an ohm or so.
    assert fault.current.least == pytest.approx(by_hand.min(), rel=0.02)
    assert fault.current.greatest == pytest.approx(by_hand.max(), rel=0.02)
    assert fault.current.nominal == pytest.approx(120 / (10 + 32.5), rel=0.01)
    n = 400
    one, two = (low + (high - low) * (np.arange(n) + 0.5) / n for low, high in ((5, 15), (5, 60)))
    amps = 120 / (one[:, None] + two[None, :])
    expected = amps.mean(axis=0).var() / amps.var()
    shares = fault.current.shares
    assert work.unknown[shares[0].quantity].path == ("electrodes", "rod", "resistance")
    assert shares[0].share == pytest.approx(expected, abs=0.05)
    assert shares[0].way == -1
    # Some metres of branch are nothing beside rods.
    assert all(work.unknown[s.quantity].path[0] != "runs" for s in shares)


def test_a_range_holds_the_nominal_answer_at_its_end() -> None:
    """As many metres as are likeliest are the fewest: no sample draws as much as that."""
    path = ("runs", "branch", "length")
    site = with_values(Site.model_validate(BENCH), {path: Range(10, 60, 10)})
    current = study_samples(Samples.of(site, FAULTS, 8, 1)).faults[0].current
    assert current.greatest == current.nominal > current.high


def test_the_same_seed_gives_the_same_and_another_doesn_t() -> None:
    site = with_values(Site.model_validate(BENCH), {("runs", "branch", "length"): Range(10, 60)})
    one, same, other = (
        study_samples(Samples.of(site, FAULTS, 16, seed)).faults[0] for seed in (1, 1, 2)
    )
    assert one == same
    assert one.current.least != other.current.least


def test_dask_gives_the_serial_answers(dask_scheduler: str) -> None:
    work = rods()
    few = Samples.of(work.site, work.what, 20, 2)
    here, there = run(few), run(few, How(scheduler=dask_scheduler))
    assert list(here) == list(there) == list(range(3))
    for a, b in zip(here.values(), there.values(), strict=True):
        for name, value in unpacked(a).items():
            np.testing.assert_allclose(value, unpacked(b)[name], rtol=1e-12, atol=0)


def test_stray_current_of_a_load_that_is_not_known() -> None:
    """Half of the neutral current goes by the ground wire, whatever it is."""
    site = Site.model_validate(SUBPANEL)
    place = next(name for name, one in site.places.items() if one.loads)
    power = site.places[place].loads[0].power
    path = ("places", place, "loads", 0, "power")
    site = with_values(site, {path: Range(power / 2, 2 * power)})
    found = study_samples(Samples.of(site, What("stray"), 48, 0))
    on_wire = next(one for one in found.currents if one.flow.id == "feeder")
    assert on_wire.objectionable == 1
    assert on_wire.amperes.greatest / on_wire.amperes.least == pytest.approx(4, rel=0.15)
    assert on_wire.amperes.shares[0].share > 0.95
    assert on_wire.amperes.shares[0].way == 1


def test_a_table_of_faults_and_single_ones_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    site = with_values(Site.model_validate(BENCH), {("runs", "branch", "length"): Range(10, 60)})
    alone = study_samples(Samples.of(site, FAULTS, 8, 1))
    monkeypatch.setattr("bondwright.studies.spread.work.MANY", 1)
    table = study_samples(Samples.of(site, FAULTS, 8, 1))
    assert table.as_table
    assert not alone.as_table
    for one, other in zip(alone.faults, table.faults, strict=True):
        assert one.current.greatest == pytest.approx(other.current.greatest, rel=1e-3)
        assert one.verdicts == other.verdicts


def test_a_site_without_ranges_has_nothing_to_sample() -> None:
    site = Site.model_validate(BENCH)
    assert unknowns(site) == ()
    with pytest.raises(ValueError, match="nothing to sample"):
        Samples.of(site, FAULTS, 8, 0)
