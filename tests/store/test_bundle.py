import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bondwright.store import bundle as bundling
from bondwright.store.bundle import bundle, restore, unbundle
from bondwright.store.errors import StoreError, UnknownJobError
from bondwright.store.files import MAX_FILE, digest
from bondwright.store.store import Store

FIRST = {"site.yaml": "site: barn \u03a9\n".encode(), "readings.csv": b"a,b\r\n"}
SECOND = {**FIRST, "site.yaml": b"site: barn, built\n"}


@pytest.fixture
def filled(store: Store) -> Store:
    store.add("Barn", FIRST, who="Anna", why="as designed")
    store.save("Barn", SECOND, after=1, who="Ben", why="as built")
    store.add("Hall", FIRST, who="Anna", why="another")
    return store


def test_everything_survives_the_way_to_another_store(filled: Store, tmp_path: Path) -> None:
    data = bundle(filled)
    with Store(str(tmp_path / "other.sqlite")) as other:
        assert restore(other, unbundle(data)) == ("Barn", "Hall")
        for name in ("Barn", "Hall"):
            said = [(r.number, r.at, r.who, r.why) for r in filled.revisions(name)]
            assert [(r.number, r.at, r.who, r.why) for r in other.revisions(name)] == said
            for number, *_ in said:
                assert other.read(name, number).files == filled.read(name, number).files
        assert bundle(other) == data


def test_a_job_whose_name_is_taken_is_put_beside_it(filled: Store) -> None:
    data = bundle(filled, ["Barn"])
    assert restore(filled, unbundle(data)) == ("Barn (2)",)
    assert restore(filled, unbundle(data)) == ("Barn (3)",)
    assert [job.name for job in filled.jobs()] == ["Barn", "Barn (2)", "Barn (3)", "Hall"]


def test_an_unknown_job_is_not_bundled(filled: Store) -> None:
    with pytest.raises(UnknownJobError, match="there is no job 'Shed'"):
        bundle(filled, ["Barn", "Shed"])


@pytest.mark.parametrize("size", [0, 1, 10, 100, 400])
def test_a_cut_bundle_is_refused(tmp_path: Path, size: int) -> None:
    with Store(str(tmp_path / "jobs.sqlite")) as store:
        store.add("Barn", FIRST, who="Anna", why="as designed")
        data = bundle(store)
    with pytest.raises(StoreError, match="no zip file, or a broken one"):
        unbundle(data[:size])


def made(index: object, contents: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("jobs.json", index if isinstance(index, str) else json.dumps(index))
        for name, data in contents.items():
            file.writestr(f"contents/{name}", data)
    return buffer.getvalue()


GOOD = b"site: barn\n"
KEY = digest(GOOD)


def index(**changes: object) -> dict[str, Any]:
    revision = {"number": 1, "at": "2026-11-02T09:30:00+00:00", "who": "Anna", "why": "first",
                "files": {"site.yaml": KEY}}  # fmt: skip
    job = {"name": "Barn", "revisions": [{**revision, **changes}]}
    return {"format": "bondwright/jobs", "version": 1, "jobs": [job]}


def test_the_example_is_sound() -> None:
    assert unbundle(made(index(), {KEY: GOOD}))[0].history[0][0] == {"site.yaml": GOOD}


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (lambda: made("{", {}), "its 'jobs.json' can't be read"),
        (lambda: made("[" * 100_000, {}), "its 'jobs.json' can't be read"),
        (lambda: made([], {}), "no bundle of jobs"),
        (lambda: made({"format": "else"}, {}), "no bundle of jobs"),
        (lambda: made({**index(), "version": 9}, {}), "of version 9; this bondwright reads 1"),
        (lambda: made({**index(), "jobs": None}, {}), "it lists no jobs"),
        (lambda: made({**index(), "jobs": [{}]}, {}), "a job in it is incomplete"),
        (lambda: made({**index(), "jobs": ["x"]}, {}), "a job in it is incomplete"),
        (
            lambda: made({**index(), "jobs": [{"name": "Barn", "revisions": []}]}, {}),
            "no name or no revision",
        ),
        (lambda: made(index(number=2), {KEY: GOOD}), "revision 1 of a job is missing"),
        (lambda: made(index(at="noon"), {KEY: GOOD}), "a revision has no time"),
        (lambda: made(index(), {}), "it has no 'contents/"),
        (lambda: made(index(), {KEY: b"else"}), f"content {KEY[:12]} isn't what it was"),
        (lambda: made(index(files={}), {}), "a job needs a file 'site.yaml'"),
        (
            lambda: made(index(files={"site.yaml": KEY, "../../x": KEY}), {KEY: GOOD}),
            "can't be the name of a file in a job",
        ),
        (lambda: made(index(), {KEY: bytes(MAX_FILE + 1)}), "more than a store takes"),
    ],
)
def test_a_bad_bundle_is_refused(data: Callable[[], bytes], problem: str) -> None:
    with pytest.raises(StoreError, match=problem):
        unbundle(data())


def test_a_bundle_that_would_burst_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bundling, "MAX_BUNDLE", 2**20)
    jobs: list[object] = []
    contents = {}
    for n in range(5):
        data = bytes(2**18 - 1) + bytes([n])
        contents[digest(data)] = data
        jobs.append(index(files={"site.yaml": digest(data)})["jobs"][0])
    fits = made({**index(), "jobs": jobs[:4]}, contents)
    assert len(unbundle(fits)) == 4
    with pytest.raises(StoreError, match="more than a store takes"):
        unbundle(made({**index(), "jobs": jobs}, contents))


def test_a_bundle_damaged_anywhere_is_refused_and_nothing_else(filled: Store) -> None:
    """Byte by byte: each change is read, or refused by our own error (found by fuzzing)."""
    good = bundle(filled)
    refused = 0
    for at in range(0, len(good), max(1, len(good) // 400)):
        for flip in (0x55, 0x80):
            try:
                unbundle(good[:at] + bytes([good[at] ^ flip]) + good[at + 1 :])
            except StoreError:
                refused += 1
    assert refused > 100


SAMPLES = Path(__file__).parent / "samples"


@pytest.mark.parametrize("version", range(1, bundling.VERSION + 1))
def test_bundles_of_every_version_are_restored(store: Store, version: int) -> None:
    data = (SAMPLES / f"bundle-{version}.zip").read_bytes()
    (name,) = restore(store, unbundle(data))
    assert name == "Harrow Creek Cidery, farmhouse"
    assert [(r.number, r.who, r.why) for r in store.revisions(name)] == [
        (1, "Anna", "as designed"),
        (2, "Ben", "as built"),
    ]
    assert store.revisions(name)[0].at.isoformat() == "2026-11-02T09:30:00+00:00"
    assert b"length: 220 ft" in store.read(name, 1).files["site.yaml"]
    assert b"length: 240 ft" in store.read(name, 2).files["site.yaml"]
    assert store.read(name, 2).files["readings.csv"] == b"id,reading\r\n"
