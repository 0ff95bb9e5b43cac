import threading
from datetime import UTC, datetime, timedelta, timezone

import pytest
from sqlalchemy import text

from bondwright.store.errors import ConflictError, DamagedError, StoreError, UnknownJobError
from bondwright.store.files import MAX_FILE, MAX_FILES
from bondwright.store.store import Store

FIRST = {"site.yaml": b"site: cold store\n# kept\r\n", "readings.csv": "1 \u03a9".encode()}
SECOND = {**FIRST, "site.yaml": b"site: cold store, built\n"}
WHO = {"who": "Anna", "why": "as designed"}


def test_what_was_written_is_read(store: Store) -> None:
    first = store.add("Cold store", FIRST, **WHO)
    second = store.save("Cold store", SECOND, after=1, who="Ben", why="as built")
    assert (first.number, second.number) == (1, 2)
    assert dict(store.read("Cold store").files) == SECOND
    assert dict(store.read("Cold store", 1).files) == FIRST
    assert [(r.who, r.why) for r in store.revisions("Cold store")] == [
        ("Anna", "as designed"),
        ("Ben", "as built"),
    ]


def test_another_opening_finds_it(where: str) -> None:
    with Store(where) as store:
        store.add("Cold store", FIRST, **WHO)
    with Store(where, create=False) as again:
        assert dict(again.read("Cold store").files) == FIRST


def test_jobs_are_listed_by_name_with_their_newest(store: Store) -> None:
    for name in ("pump house", "Barn", "hall"):
        store.add(name, FIRST, **WHO)
    store.save("hall", SECOND, after=1, who="Ben", why="moved")
    found = store.jobs()
    assert [(job.name, job.newest.number) for job in found] == [
        ("Barn", 1),
        ("hall", 2),
        ("pump house", 1),
    ]
    assert store.find(found[0].id) == found[0]


def test_a_time_keeps_its_moment(where: str) -> None:
    noon = datetime(2026, 3, 1, 12, tzinfo=timezone(timedelta(hours=-7)))
    with Store(where, clock=lambda: noon) as store:
        store.add("Barn", FIRST, **WHO)
        assert store.revisions("Barn")[0].at == noon
        assert store.revisions("Barn")[0].at.tzinfo == UTC
    naive = datetime(2026, 3, 1, 12)
    with Store(where, clock=lambda: naive) as store, pytest.raises(StoreError, match="time zone"):
        store.save("Barn", SECOND, after=1, **WHO)


def test_the_second_of_two_editors_is_told_and_loses_nothing(store: Store) -> None:
    store.add("Barn", FIRST, **WHO)
    store.save("Barn", SECOND, after=1, who="Ben", why="as built")
    with pytest.raises(ConflictError, match="changed by Ben while you worked on revision 1") as e:
        store.save("Barn", FIRST, after=1, who="Anna", why="late")
    assert (e.value.newest, e.value.who) == (2, "Ben")
    assert dict(store.read("Barn").files) == SECOND
    assert len(store.revisions("Barn")) == 2


def test_many_editors_at_once_make_one_line_of_revisions(where: str) -> None:
    with Store(where) as store:
        store.add("Barn", FIRST, **WHO)
    done: list[int] = []

    def edit(name: str) -> None:
        with Store(where, create=False) as mine:
            for _ in range(5):
                while True:
                    after = mine.find("Barn").newest.number
                    files = {"site.yaml": f"{name} on {after}".encode()}
                    try:
                        done.append(mine.save("Barn", files, after=after, who=name, why="x").number)
                    except ConflictError:
                        continue
                    break

    threads = [threading.Thread(target=edit, args=(name,)) for name in "ABCD"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with Store(where) as store:
        assert sorted(done) == list(range(2, 22))
        for revision in store.revisions("Barn")[1:]:
            text = store.read("Barn", revision.number).files["site.yaml"].decode()
            assert text == f"{revision.who} on {revision.number - 1}"


def test_a_name_is_taken_once(store: Store) -> None:
    store.add("Barn", FIRST, **WHO)
    store.add("Hall", FIRST, **WHO)
    with pytest.raises(StoreError, match="there is a job 'Barn' already"):
        store.add("Barn", SECOND, **WHO)
    with pytest.raises(StoreError, match="there is a job 'Hall' already"):
        store.rename("Barn", "Hall")
    store.rename("Barn", " Press barn ")
    assert [job.name for job in store.jobs()] == ["Hall", "Press barn"]


@pytest.mark.parametrize(
    ("files", "problem"),
    [
        ({"readings.csv": b""}, "a job needs a file 'site.yaml'"),
        ({**FIRST, "../x": b""}, "can't be the name of a file"),
        ({**FIRST, "a/b": b""}, "can't be the name of a file"),
        ({**FIRST, ".hidden": b""}, "can't be the name of a file"),
        ({**FIRST, "dot.": b""}, "can't be the name of a file"),
        ({**FIRST, "NUL.txt": b""}, "can't be the name of a file"),
        ({**FIRST, "a\nb": b""}, "can't be the name of a file"),
        ({**FIRST, "x" * 121: b""}, "can't be the name of a file"),
        ({**FIRST, "Site.yaml": b""}, "would be one file on some systems"),
        ({"site.yaml": bytes(MAX_FILE + 1)}, "'site.yaml' is larger than 8 MiB"),
        ({**FIRST, **{f"f{n}": b"" for n in range(MAX_FILES)}}, "files are too many"),
        ({"site.yaml": b"", **{f"f{n}": bytes(MAX_FILE) for n in range(5)}}, "32 MiB together"),
    ],
)
def test_unfit_files_leave_no_trace(store: Store, files: dict[str, bytes], problem: str) -> None:
    store.add("Barn", FIRST, **WHO)
    with pytest.raises(StoreError, match=problem):
        store.add("Hall", files, **WHO)
    with pytest.raises(StoreError, match=problem):
        store.save("Barn", files, after=1, **WHO)
    assert [(job.name, job.newest.number) for job in store.jobs()] == [("Barn", 1)]


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"who": " "}, "the person is missing"),
        ({"why": ""}, "the reason is missing"),
        ({"why": "x" * 2001}, "the reason is longer than 2000 characters"),
        ({"who": "A\x00"}, "the person holds a character that can't be printed"),
    ],
)
def test_who_and_why_are_asked(store: Store, change: dict[str, str], problem: str) -> None:
    with pytest.raises(StoreError, match=problem):
        store.add("Barn", FIRST, **{**WHO, **change})
    assert store.jobs() == ()


def test_what_is_not_there(store: Store) -> None:
    store.add("Barn", FIRST, **WHO)
    for wrong in (lambda: store.read("Hall"), lambda: store.revisions("Hall")):
        with pytest.raises(UnknownJobError, match="there is no job 'Hall'"):
            wrong()
    with pytest.raises(UnknownJobError, match="'Barn' has no revision 2"):
        store.read("Barn", 2)
    for huge in (2**31, 2**63, -(10**30)):
        with pytest.raises(UnknownJobError, match="no revision of so large a number"):
            store.read("Barn", huge)
        with pytest.raises(StoreError, match="no revision"):
            store.save("Barn", SECOND, after=huge, **WHO)
    for number in (0, 2):
        with pytest.raises(UnknownJobError, match=f"'Barn' has no revision {number}"):
            store.save("Barn", SECOND, after=number, **WHO)


def test_damage_is_noticed(store: Store) -> None:
    store.add("Barn", FIRST, **WHO)
    with store.engine.begin() as connection:
        connection.execute(
            text("UPDATE contents SET data = :bad WHERE data = :good"),
            {"bad": b"site: cold stove\n", "good": FIRST["site.yaml"]},
        )
    with pytest.raises(DamagedError, match=r"'site\.yaml' of 'Barn', revision 1, is damaged"):
        store.read("Barn")
    with store.engine.begin() as connection:
        connection.execute(text("DELETE FROM files WHERE name = 'site.yaml'"))
    with pytest.raises(DamagedError, match="revision 1 of 'Barn' is damaged"):
        store.read("Barn")


def test_equal_files_are_kept_once(store: Store) -> None:
    store.add("Barn", FIRST, **WHO)
    store.save("Barn", SECOND, after=1, **WHO)
    store.save("Barn", FIRST, after=2, **WHO)
    with store.engine.begin() as connection:
        assert connection.execute(text("SELECT count(*) FROM contents")).scalar_one() == 3
