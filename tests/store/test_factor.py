"""A second factor: against the vectors of the standards, used once, and lost."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pyotp
import pytest
from sqlalchemy import text

from bondwright.store import users as keeping_users
from bondwright.store.changes import Change, What
from bondwright.store.errors import StoreError
from bondwright.store.factor import (
    DRIFT,
    SPARE,
    STEP_S,
    app_address,
    check_code,
    code_at,
    drop_factor,
    has_factor,
    new_secret,
    renew_spare,
    set_factor,
    spare_left,
)
from bondwright.store.own import agree, own_data
from bondwright.store.schema import USERS
from bondwright.store.store import Store
from bondwright.store.users import (
    LEFT,
    Role,
    add_user,
    change_user,
    credentials_changed,
    known,
    remove_user,
    users,
)

WORDS = "a few words will do"
SECRET = b"12345678901234567890"
"""Of the test vectors of both standards (RFC 4226, appendix D; RFC 6238, appendix B)."""
HOTP = ("755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871",
        "520489")  # fmt: skip
"""RFC 4226, appendix D: the codes of counters 0 to 9."""
TOTP = {
    59: "94287082", 1111111109: "07081804", 1111111111: "14050471", 1234567890: "89005924",
    2000000000: "69279037", 20000000000: "65353130",
}  # fmt: skip
"""RFC 6238, appendix B, SHA-1: time in s and code of eight digits; ours are its last six."""


class Clock:
    """A time of day that is set by hand."""

    def __init__(self) -> None:
        self.seconds = 1_900_000_000.0

    def __call__(self) -> datetime:
        return datetime.fromtimestamp(self.seconds, UTC)

    @property
    def step(self) -> int:
        return int(self.seconds) // STEP_S


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hash passwords at a lower cost: what it is has tests of its own."""
    monkeypatch.setitem(keeping_users._COST, "n", 2**8)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def kept(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    """A store with anna, who keeps the users."""
    with Store(str(tmp_path / "jobs.sqlite"), clock=clock) as opened:
        add_user(opened, "anna", Role.KEEP, WORDS)
        yield opened


@pytest.mark.parametrize(("counter", "code"), list(enumerate(HOTP)))
def test_codes_are_those_of_rfc_4226(counter: int, code: str) -> None:
    assert code_at(SECRET, counter) == code


@pytest.mark.parametrize(("seconds", "code"), list(TOTP.items()))
def test_codes_by_time_are_those_of_rfc_6238(
    kept: Store, clock: Clock, seconds: int, code: str
) -> None:
    assert code_at(SECRET, seconds // STEP_S) == code[-6:]
    clock.seconds = seconds
    assert set_factor(kept, "anna", SECRET, code[-6:])


def test_an_app_that_reads_the_address_shows_our_codes(clock: Clock) -> None:
    secret = new_secret()
    assert len(secret) >= 16  # RFC 4226, section 4, R6: 128 bits at least
    name = "ben <b>/?&:%\N{SNOWMAN}"
    made = pyotp.parse_uri(app_address(secret, name))
    assert isinstance(made, pyotp.TOTP)
    assert (made.name, made.issuer) == (name, "bondwright")
    assert made.at(clock.seconds) == code_at(secret, clock.step)
    assert len({new_secret() for _ in range(9)}) == 9


def test_a_code_lives_as_long_as_its_step_and_one_either_way(kept: Store, clock: Clock) -> None:
    """RFC 6238, section 5.2: one step of delay is recommended; ASVS 2.8.1."""
    assert (STEP_S, DRIFT) == (30, 1)
    set_factor(kept, "anna", SECRET, code_at(SECRET, clock.step))
    for late in (-3, -2, -1, 0, 1, 2, 3):
        with kept.engine.begin() as connection:  # as if none had been used
            connection.execute(text("UPDATE users SET factor_step = NULL"))
        code = code_at(SECRET, clock.step + late)
        assert check_code(kept, "anna", code) == (abs(late) <= DRIFT), late


def test_each_code_is_taken_once(kept: Store, clock: Clock) -> None:
    code = code_at(SECRET, clock.step)
    set_factor(kept, "anna", SECRET, code)
    assert not check_code(kept, "anna", code)  # it was used to set it up
    clock.seconds += STEP_S
    later = code_at(SECRET, clock.step)
    assert check_code(kept, "anna", f" {later[:3]} {later[3:]} ")
    assert not check_code(kept, "anna", later)
    assert not check_code(kept, "anna", code)  # nor one from before
    clock.seconds += STEP_S
    assert not check_code(kept, "anna", later)
    early = code_at(SECRET, clock.step + 1)
    assert check_code(kept, "anna", early)
    assert not check_code(kept, "anna", code_at(SECRET, clock.step))  # behind the one used


def test_a_code_that_comes_twice_at_once_is_taken_once(store: Store) -> None:
    """On SQLite and PostgreSQL."""
    import threading

    add_user(store, "anna", Role.KEEP, WORDS)
    now = int(store.now().timestamp()) // STEP_S
    set_factor(store, "anna", SECRET, code_at(SECRET, now - 1))
    told: list[bool] = []
    code = code_at(SECRET, now)

    def one() -> None:
        told.append(check_code(store, "anna", code))

    threads = [threading.Thread(target=one) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == [False, False, False, True]


def test_what_is_no_code_is_refused(kept: Store, clock: Clock) -> None:
    set_factor(kept, "anna", SECRET, code_at(SECRET, clock.step))
    clock.seconds += STEP_S
    assert code_at(SECRET, clock.step) != "000000"
    for code in ("", "0", "000000", "-1", "١٢٣٤٥٦", "\x00", "\ud800", "9" * 400, "abcd-efgh-jkmn"):
        assert not check_code(kept, "anna", code)
        assert not check_code(kept, "nobody", code)
    drop_factor(kept, "anna", by="x")
    assert not check_code(kept, "anna", code_at(SECRET, clock.step))


def test_a_damaged_factor_lets_nobody_in(kept: Store, clock: Clock) -> None:
    """And it doesn't pass for none, which would let in by the password alone."""
    codes = set_factor(kept, "anna", SECRET, code_at(SECRET, clock.step))
    clock.seconds += STEP_S
    for factor in (b"", b"1234", SECRET[:19]):
        for spare in ("[]", "", "[", '["x", "y"]', "null", "7", '["00", "00"]', '["abc"]'):
            with kept.engine.begin() as connection:
                connection.execute(USERS.update().values(factor=factor, spare=spare))
            found = known(kept, "anna")
            assert found is not None
            assert found.factor
            assert spare_left(kept, "anna") == 0
            assert not check_code(kept, "anna", codes[0])
            assert not check_code(kept, "anna", code_at(SECRET, clock.step))
            if len(factor) * 8 >= 112:  # pyotp refuses shorter ones
                assert not check_code(kept, "anna", code_at(factor, clock.step))


def test_spare_codes_are_used_once_and_kept_as_hashes(kept: Store, clock: Clock) -> None:
    codes = set_factor(kept, "anna", SECRET, code_at(SECRET, clock.step))
    assert len(set(codes)) == SPARE
    assert all(re.fullmatch(r"[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}", code) for code in codes)
    with kept.engine.begin() as connection:
        written = connection.execute(text("SELECT spare FROM users WHERE name = 'anna'")).scalar()
    assert len(str(written)) < 2000  # the column's length
    assert not any(code in str(written) or code.replace("-", "") in str(written) for code in codes)
    assert len(set(json.loads(str(written)))) == SPARE + 1
    for left, code in enumerate(reversed(codes)):
        typed = code.upper() if left % 2 else code.replace("-", " ")
        assert spare_left(kept, "anna") == SPARE - left
        assert check_code(kept, "anna", typed)
        assert not check_code(kept, "anna", code)
    assert spare_left(kept, "anna") == 0
    fresh = renew_spare(kept, "anna")
    assert not set(fresh) & set(codes)
    assert not check_code(kept, "anna", codes[0])
    assert check_code(kept, "anna", fresh[0])


def test_a_factor_is_set_up_with_its_own_code_only(kept: Store, clock: Clock) -> None:
    for wrong in ("000000", "", code_at(SECRET, clock.step + 2), code_at(b"x" * 20, clock.step)):
        with pytest.raises(StoreError, match="that is not the code of this secret"):
            set_factor(kept, "anna", SECRET, wrong)
    assert not has_factor(kept, "anna")


def test_another_factor_ends_sessions_and_is_told(kept: Store, clock: Clock) -> None:
    heard: list[Change] = []
    kept.told = heard.append
    marks = []
    for act in (
        lambda: None,
        lambda: set_factor(kept, "anna", SECRET, code_at(SECRET, clock.step)),
        lambda: set_factor(kept, "anna", b"y" * 20, code_at(b"y" * 20, clock.step)),
        lambda: drop_factor(kept, "anna", by="ben"),
    ):
        act()
        found = known(kept, "anna")
        assert found is not None
        marks.append(found.mark)
    assert len(set(marks)) == 3
    assert marks[0] == marks[3]
    renew_spare(kept, "anna")
    with pytest.raises(StoreError, match="'anna' has no second factor"):
        drop_factor(kept, "anna", by="ben")
    assert [(one.what, one.by) for one in heard] == [
        (What.FACTOR, "anna"), (What.FACTOR, "anna"), (What.NO_FACTOR, "ben"),
        (What.SPARE, "anna"),
    ]  # fmt: skip
    set_factor(kept, "anna", SECRET, code_at(SECRET, clock.step))
    drop_factor(kept, "anna", by="ben")
    told = credentials_changed(kept, "anna")
    assert told is not None
    assert (told.what, told.by) == (What.NO_FACTOR, "ben")
    for wrong in (
        lambda: drop_factor(kept, "nobody", by="x"),
        lambda: renew_spare(kept, "nobody"),
        lambda: set_factor(kept, "nobody", SECRET, code_at(SECRET, clock.step)),
    ):
        with pytest.raises(StoreError, match="there is no user 'nobody'"):
            wrong()


def test_ones_own_data_are_all_there_and_no_secret(store: Store) -> None:
    add_user(store, "anna", Role.KEEP, WORDS, by="somebody")
    add_user(store, "ben", Role.EDIT, WORDS, by="anna")
    now = int(store.now().timestamp()) // STEP_S
    codes = set_factor(store, "anna", SECRET, code_at(SECRET, now))
    agree(store, "anna", "ab" * 32)
    files = {"site.yaml": b"site: barn\n"}
    store.add("Barn", files, who="anna", why="begun")
    store.save("Barn", files, after=1, who="ben", why="measured")
    data = own_data(store, "anna")
    assert (data["name"], data["role"], data["spare codes left"]) == ("anna", "keep", 10)
    assert data["agreed"]["to the text with SHA-256"] == "ab" * 32
    assert [(one["job"], one["revision"], one["why"]) for one in data["saves"]] == [
        ("Barn", 1, "begun"),
    ]  # fmt: skip
    assert [one["name"] for one in data["credentials of others that you changed last"]] == ["ben"]
    with store.engine.begin() as connection:
        row = connection.execute(text("SELECT * FROM users WHERE name = 'anna'")).one()
    said = json.dumps(data)
    for secret in (row.salt, row.secret, row.factor):
        assert bytes(secret).hex() not in said
    assert not any(code in said for code in (*codes, *json.loads(row.spare)))
    told = {"name", "role", "changed", "changed_by", "changed_what", "mail", "agreed", "agreed_to"}
    secrets = {"salt", "secret", "factor", "factor_step", "spare"}
    assert set(row._fields) == told | secrets  # a new column is either told or a secret
    with pytest.raises(StoreError, match="there is no user"):
        own_data(store, "nobody")


def test_who_leaves_may_take_their_name_along(store: Store) -> None:
    add_user(store, "anna", Role.KEEP, WORDS, by="ben")
    for name in ("ben", "cleo"):
        add_user(store, name, Role.EDIT, WORDS)
    files = {"site.yaml": b"site: barn\n"}
    store.add("Barn", files, who="ben", why="begun")
    store.save("Barn", files, after=1, who="cleo", why="measured")
    before = store.revisions("Barn")
    remove_user(store, "cleo")
    assert [one.who for one in store.revisions("Barn")] == ["ben", "cleo"]
    remove_user(store, "ben", forget=True, last=False)
    after = store.revisions("Barn")
    assert [one.who for one in after] == [LEFT, "cleo"]
    assert [(one.at, one.why, one.number) for one in after] == [
        (one.at, one.why, one.number) for one in before
    ]
    assert dict(store.read("Barn", 1).files) == files
    told = credentials_changed(store, "anna")
    assert told is not None
    assert told.by == LEFT
    with pytest.raises(StoreError, match="is the last one who keeps the users"):
        remove_user(store, "anna", last=False)
    with pytest.raises(StoreError, match="nobody is called"):
        add_user(store, LEFT.title(), Role.EDIT, WORDS)
    change_user(store, "anna", password=WORDS + "!")
    assert [one.name for one in users(store)] == ["anna"]
