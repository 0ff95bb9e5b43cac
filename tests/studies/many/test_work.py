"""Pieces of a study: packed, opened once, handed out a few at a time to a played cluster."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bondwright import __version__
from bondwright.site.model import Site
from bondwright.site.ranges import Range, with_values
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.many import run as running
from bondwright.studies.many.run import AHEAD, How, WorkerError, run
from bondwright.studies.many.work import (
    fingerprint_of,
    opened,
    packed,
    piece,
    site_bytes,
    site_of,
    unpacked,
)
from bondwright.studies.spread.work import PER_PIECE, Asker, Samples, What
from tests.studies.many.works import Squares
from tests.studies.sites import BENCH, SUBPANEL

SITE = Site.model_validate(BENCH)


# --- packing ---------------------------------------------------------------------------------


def test_arrays_come_back_as_they_were() -> None:
    arrays = {
        "a": np.array([1.5, np.inf, np.nan]),
        "b": np.array([[1, 2], [3, 4]], dtype=np.int64),
        "c": np.array([True, False]),
        "d": np.array(7),
    }
    found = unpacked(packed(arrays))
    assert list(found) == list(arrays)
    for name, value in arrays.items():
        assert found[name].dtype == value.dtype
        np.testing.assert_array_equal(found[name], value)


def test_a_site_comes_back_and_nothing_else_does() -> None:
    import pickle
    import zlib

    assert site_of(site_bytes(SITE)) == SITE
    with pytest.raises(TypeError, match="these bytes are no site"):
        site_of(zlib.compress(pickle.dumps({"site": 1})))


def test_a_fingerprint_is_of_everything_that_decides() -> None:
    base = fingerprint_of(SITE, "faults", 3)
    assert base == fingerprint_of(SITE, "faults", 3)
    assert len(base) == 64
    assert int(base, 16) > 0
    other = with_values(SITE, {("runs", "branch", "length"): 31.0})
    assert isinstance(other, Site)
    changed = [
        fingerprint_of(SITE, "faults", 4),
        fingerprint_of(SITE, "stray", 3),
        fingerprint_of(SITE, "faults"),
        fingerprint_of(other, "faults", 3),
        fingerprint_of(SITE, np.array([1, 2])),
        fingerprint_of(SITE, np.array([1, 3])),
        fingerprint_of(SITE, np.array([[1, 2]])),
        fingerprint_of(SITE, np.array([1.0, 2.0])),
    ]
    assert len({base, *changed}) == 1 + len(changed)
    turned = np.array([[1, 2], [3, 4]])
    assert fingerprint_of(SITE, turned.T) == fingerprint_of(SITE, np.ascontiguousarray(turned.T))


def test_a_study_is_opened_once_and_two_are_kept_ready() -> None:
    count: dict[int, int] = {}

    class Counted(Squares):
        @property
        def fingerprint(self) -> str:
            return f"counted {self.count}"

        def open(self) -> Callable[[int], Any]:
            count[self.count] = count.get(self.count, 0) + 1
            return super().open()

    for number in (1, 2, 1, 2, 1):
        assert unpacked(piece(Counted(number), 3))["square"].tolist() == [9]
    assert count == {1: 1, 2: 1}
    opened(Counted(3))  # the one that wasn't asked for the longest goes
    opened(Counted(1))
    assert count == {1: 1, 2: 1, 3: 1}
    opened(Counted(2))
    assert count == {1: 1, 2: 2, 3: 1}


# --- told, and here --------------------------------------------------------------------------


def test_every_piece_is_told_from_none_to_all(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    found = run(Squares(3), How(progress=lambda done, count: told.append((done, count))))
    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert list(found) == [0, 1, 2]
    assert run(Squares(0)) == {}
    file = tmp_path / "k"
    run(Squares(3), How(keep=file))
    told.clear()
    run(Squares(3), How(keep=file, progress=lambda done, count: told.append((done, count))))
    assert told == [(3, 3)]


def test_a_stop_before_anything_is_done_leaves_no_file(tmp_path: Path) -> None:
    def stop(_done: int, _count: int) -> None:
        raise KeyboardInterrupt

    scrap = tmp_path / "scrap"
    with pytest.raises(running.StoppedError, match="stopped with 0 of 3 pieces done") as found:
        run(Squares(3), How(progress=stop, scrap=scrap))
    assert (found.value.done, found.value.count, found.value.kept) == (0, 3, None)
    assert not scrap.exists()


# --- a cluster, played -----------------------------------------------------------------------


class Future:
    """What was asked of a worker."""

    def __init__(self, function: Callable[..., Any], arguments: tuple[Any, ...], key: str) -> None:
        self.key, self.cancelled = key, False
        self._error: BaseException | None = None
        self._value: Any = None
        try:
            self._value = function(*arguments)
        except Exception as error:
            self._error = error

    def exception(self) -> BaseException | None:
        return self._error

    def result(self) -> Any:
        return self._value


class Arriving:
    """Results in the order they were asked for."""

    most = 0

    def __init__(self) -> None:
        self.waiting: list[Future] = []

    def add(self, future: Future) -> None:
        self.waiting.append(future)
        Arriving.most = max(Arriving.most, len(self.waiting))

    def __iter__(self) -> Iterator[Future]:
        while self.waiting:
            yield self.waiting.pop(0)


class Client:
    """Some workers of two threads."""

    def __init__(self, workers: int = 1, version: str = __version__) -> None:
        self.workers, self.version = workers, version
        self.keys: list[str] = []
        self.cancelled: list[str] = []

    def nthreads(self) -> dict[str, int]:
        return {f"worker {k}": 2 for k in range(self.workers)}

    def run(self, _function: Callable[[], str]) -> dict[str, str]:
        return {"worker 0": self.version}

    def submit(self, function: Callable[..., Any], *arguments: Any, key: str) -> Future:
        self.keys.append(key)
        plain = [a.result() if isinstance(a, Future) else a for a in arguments]
        return Future(function, tuple(plain), key)

    def cancel(self, futures: list[Future]) -> None:
        self.cancelled += [future.key for future in futures]

    def __enter__(self) -> Client:
        return self

    def __exit__(self, *_: object) -> None:
        pass


@pytest.fixture
def cluster(monkeypatch: pytest.MonkeyPatch) -> Client:
    distributed = pytest.importorskip("distributed")
    client = Client()
    monkeypatch.setattr(distributed, "as_completed", Arriving)
    monkeypatch.setattr(running, "_client", lambda _how: client)
    Arriving.most = 0
    return client


def test_pieces_are_handed_out_a_few_at_a_time(cluster: Client) -> None:
    work = Squares(20)
    found = run(work, How(scheduler="tcp://somewhere:1"))
    assert [unpacked(d)["square"].item() for d in found.values()] == [k * k for k in range(20)]
    mark = f"-{work.fingerprint}"
    assert cluster.keys == [f"work{mark}", *(f"piece{mark}-{k}" for k in range(20))]
    # three for each of two threads, one more as one is taken
    assert AHEAD * 2 <= Arriving.most <= AHEAD * 2 + 1
    assert cluster.cancelled == [f"work{mark}"]


def test_what_goes_wrong_with_a_piece_is_raised_and_the_rest_is_called_off(
    cluster: Client, tmp_path: Path
) -> None:
    with pytest.raises(ValueError, match="thirteen is refused"):
        run(Squares(40, str(tmp_path)), How(workers=2))
    assert len(cluster.cancelled) > 2
    assert cluster.cancelled[-1].startswith("work-")
    assert not any(key.endswith("-13") for key in cluster.cancelled)


def test_a_piece_that_kills_workers_is_named(
    cluster: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distributed.scheduler import KilledWorker

    def deadly(_work: object, number: int) -> bytes:
        if number == 2:
            last: Any = None
            raise KilledWorker("task", last, 3)
        return packed({"square": np.array([number])})

    monkeypatch.setattr(running, "piece", deadly)
    with pytest.raises(WorkerError, match="piece 2 has killed 4 workers one after the other"):
        run(Squares(5), How(workers=1))
    assert cluster.cancelled


def test_workers_of_another_version_are_refused(cluster: Client) -> None:
    cluster.version = "0.0.1"
    with pytest.raises(WorkerError) as found:
        run(Squares(5), How(workers=1))
    assert str(found.value) == f"worker worker 0 runs bondwright 0.0.1, this is {__version__}"
    assert cluster.keys == []


def test_without_workers_nothing_is_handed_out(cluster: Client) -> None:
    run(Squares(3), How(workers=0))
    assert cluster.keys == []


def test_no_dask_no_scheduler_no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    asked: list[dict[str, Any]] = []

    def refuses(*place: object, **how: Any) -> None:
        asked.append({"place": place, **how})
        raise OSError("no")

    monkeypatch.setattr(distributed, "Client", refuses)
    monkeypatch.setattr(distributed, "LocalCluster", refuses)
    with pytest.raises(WorkerError, match=r"^no scheduler answers at tcp://nowhere:1$"):
        run(Squares(3), How(scheduler="tcp://nowhere:1"))
    with pytest.raises(WorkerError, match="died while it was starting; try again, with fewer"):
        run(Squares(3), How(workers=3))
    scheduler, local = asked
    assert scheduler == {"place": ("tcp://nowhere:1",), "timeout": running.CONNECT_S}
    assert (local["n_workers"], local["threads_per_worker"], local["processes"]) == (3, 1, True)
    # nothing listens beyond this machine
    assert local["host"] == "127.0.0.1"
    assert local["dashboard_address"] == "127.0.0.1:0"
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WorkerError, match="workers need Dask, which is not installed"):
        run(Squares(3), How(workers=3))


# --- samples ---------------------------------------------------------------------------------


def ranged() -> Site:
    found = with_values(SITE, {("runs", "branch", "length"): Range(10, 60)})
    assert isinstance(found, Site)
    return found


FAULTS = What("faults", kinds=(FaultKind.LINE_TO_METAL,))


def test_samples_as_pieces() -> None:
    work = Samples.of(ranged(), FAULTS, 20, 3)
    assert (work.title, work.count) == ("20 samples, faults", 3)
    assert work.fingerprint.startswith("samples-")
    assert PER_PIECE == 8
    assert Samples.of(ranged(), FAULTS, 16, 3).count == 2
    assert work.fingerprint != Samples.of(ranged(), FAULTS, 20, 4).fingerprint
    assert work.values.shape == (20, 1)
    assert np.sort(np.floor((work.values[:, 0] - 10) / 2.5)).tolist() == list(range(20))
    site = work.sampled(5)
    assert site.runs["branch"].length == pytest.approx(work.values[5, 0])
    do = work.open()
    assert [len(do(k)["resized"]) for k in range(3)] == [8, 8, 4]
    state = work.__getstate__()
    assert set(state) == {"packed", "what", "samples", "seed", "fingerprint"}


def test_a_sample_is_answered_as_its_own_site() -> None:
    """Ohm's law: 120 V over source and wires; the current of each sample follows its length."""
    work = Samples.of(ranged(), FAULTS, 8, 3)
    found = work.open()(0)
    asker = Asker(work.site, work.what)
    places = [fault.place for fault in asker.faults]
    far = places.index("far")
    assert set(places) == {"main", "far"}
    for row in range(8):
        metres = work.values[row, 0]
        # 12 AWG: 1.98 ohm/kft out and home, 0.01 ohm of source, 1 ft of 6 AWG each way
        ohms = 0.01 + 2 * 1.98e-3 * metres / 0.3048 + 2 * 0.491e-3
        assert found["current"][row, far] == pytest.approx(120 / ohms, rel=0.01)
    assert not found["resized"].any()
    only = Asker(work.site, What("faults", place="far", kinds=(FaultKind.LINE_TO_METAL,)))
    assert [fault.place for fault in only.faults] == ["far"]
    arcs = Asker(work.site, What("faults", kinds=(FaultKind.LINE_TO_METAL,), arc=40.0))
    assert {fault.arc for fault in arcs.faults} == {40.0}
    assert not arcs.as_table


def test_a_sample_that_cannot_be_studied_says_which() -> None:
    work = Samples.of(ranged(), FAULTS, 8, 3)

    class Refusing:
        def answer(self, _site: Site) -> dict[str, Any]:
            raise ValueError("no answer")

    with pytest.raises(ValueError, match=r"sample 3 can't be studied \(.* in SI units\): no ans"):
        work._one(Refusing(), 2)  # type: ignore[arg-type]


def test_ties_off_and_ties_too_many_of_every_sample() -> None:
    """Without the wrong tie no neutral current is on metal; with one too many half of it is."""
    base = with_values(Site.model_validate(SUBPANEL), {("runs", "feeder", "length"): Range(10, 20)})
    assert isinstance(base, Site)
    plain, off = (
        Samples.of(base, What("stray", without=without), 8, 0).open()(0)
        for without in ((), ("stray screw",))
    )
    assert plain["objectionable"].any()
    assert not off["objectionable"].any()
    added = Samples.of(base, What("stray", without=("stray screw",), added=("sub",)), 8, 0)
    again = added.open()(0)
    assert again["objectionable"].any()
    assert again["amperes"].max() == pytest.approx(plain["amperes"].max(), rel=0.05)
