"""The same study on Dask: the same answers, with a worker killed in the middle as well."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.studies.defects.work import Asked, DoublesWork, Singles, scene, sweep_doubles
from bondwright.studies.many.run import How, StoppedError, WorkerError, run
from bondwright.studies.many.work import unpacked
from tests.studies.many.works import Deadly, Squares


def same(one: dict[int, bytes], other: dict[int, bytes]) -> None:
    """Hold every number of two runs against each other, to 1e-12."""
    assert list(one) == list(other)
    for here, there in zip(one.values(), other.values(), strict=True):
        first, second = unpacked(here), unpacked(there)
        assert list(first) == list(second)
        for name, value in first.items():
            np.testing.assert_allclose(value, second[name], rtol=1e-12, atol=0, err_msg=name)


def doubles_of(places: int) -> DoublesWork:
    made = plan(large_site(places, 3))
    asked = Asked.of(made, None, every_fault=False, daily=True)
    singles = scene(asked).sweeper.defects
    pairs = np.array([(a, b) for a in range(0, len(singles), 3) for b in range(a + 1, a + 6, 2)])
    pairs = pairs[pairs[:, 1] < len(singles)][:60]
    work = DoublesWork.of(asked, pairs)
    return DoublesWork(asked, pairs, 10, work.fingerprint)


def test_a_killed_worker_loses_nothing(dask_scheduler: str, tmp_path: Path) -> None:
    work = doubles_of(5)
    assert work.count >= 4
    here = run(work)
    marker = tmp_path / "killed"
    there = run(Deadly(work, 2, str(marker)), How(scheduler=dask_scheduler))
    assert marker.exists()
    same(here, there)


def test_stopped_on_dask_and_gone_on_with(dask_scheduler: str, tmp_path: Path) -> None:
    made = plan(large_site(5, 3))
    work = Singles.of(Asked.of(made, None, every_fault=True, daily=True))
    file = tmp_path / "run.kept"

    def stop(done: int, total: int) -> None:
        del total
        if done == 1:
            raise KeyboardInterrupt

    with pytest.raises(StoppedError):
        run(work, How(scheduler=dask_scheduler, keep=file, progress=stop))
    told: list[int] = []
    there = run(
        work, How(scheduler=dask_scheduler, keep=file, progress=lambda done, _: told.append(done))
    )
    assert told[0] == 1
    same(run(work), there)


def test_the_whole_answer_is_the_serial_one(dask_scheduler: str) -> None:
    made = plan(large_site(4, 1))
    here, there = (sweep_doubles(made, how=how) for how in (How(), How(scheduler=dask_scheduler)))
    assert here.swept is not None
    assert there.swept is not None
    assert (here.choice.pairs == there.choice.pairs).all()
    for name in ("harm", "worst", "worsened", "live", "place_defect", "place_harm"):
        assert (getattr(here.swept, name) == getattr(there.swept, name)).all()
    np.testing.assert_allclose(here.swept.outcome.touch, there.swept.outcome.touch, rtol=1e-12)
    assert here.swept.everyday is not None
    assert there.swept.everyday is not None
    np.testing.assert_allclose(here.swept.everyday.stray, there.swept.everyday.stray, rtol=1e-12)


def test_what_goes_wrong_in_a_piece_is_told(dask_scheduler: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="thirteen"):
        run(Squares(20, str(tmp_path)), How(scheduler=dask_scheduler))


def test_a_scheduler_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("bondwright.studies.many.run.CONNECT_S", 1)
    with pytest.raises(WorkerError, match="no scheduler answers"):
        run(Squares(2), How(scheduler="tcp://127.0.0.1:9"))


def test_a_worker_that_dies_while_it_starts_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def start(**_: object) -> None:
        raise RuntimeError("Nanny failed to start.")

    monkeypatch.setattr("distributed.LocalCluster", start)
    with pytest.raises(WorkerError, match="died while it was starting"):
        run(Squares(2), How(workers=1))


def test_without_dask_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import builtins

    real = builtins.__import__

    def without(name: str, *args: Any, **kwargs: Any) -> Any:
        if name.partition(".")[0] in {"dask", "distributed"}:
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(WorkerError, match="pip install"):
        run(Squares(2), How(workers=2))
