"""Schemathesis on the page: a few questions to every address; thousands are asked by the script."""

from __future__ import annotations

import os
from collections.abc import Iterator
from importlib.util import find_spec

import pytest

if find_spec("schemathesis") is None:
    told = "SCHEMATHESIS IS NOT INSTALLED, so the page is not examined: install the extra 'fuzz'"
    if os.environ.get("CI", "").lower() in {"true", "1"}:
        raise RuntimeError(told)
    pytest.skip(told, allow_module_level=True)

from bondwright.page.guard import HEADERS
from scripts.examine_web import Examination
from scripts.web_answers import BadAnswerError, Question, look_at
from scripts.web_pages import NOBODY, ORIGIN, Answer, Page, StorePage


@pytest.fixture(scope="module")
def served() -> Iterator[Page]:
    page = StorePage(users=True)
    yield page
    page.close()


def test_every_address_answers_as_it_says(served: Page) -> None:
    examination = Examination("served", served)
    examination.run(1, 1)
    before = examination.asked
    examination.chains(2, 1)
    assert examination.asked > before
    assert examination.failed == []
    assert examination.asked > 300
    assert {200, 404, 405, 422} <= set(examination.statuses)


def _question(page: Page, who: str, method: str, end: str, body: str = "") -> Question:
    paths = page.document["paths"]
    path = next(each for each in paths if each.endswith(end) and method.lower() in paths[each])
    return Question("served", who, method, path, body, ORIGIN)


GOOD = [(b"content-type", b"application/json"), (b"cache-control", b"no-store")]
GOOD += [(k.encode(), v.encode()) for k, v in HEADERS.items()]


@pytest.mark.parametrize(
    ("who", "end", "answer", "seconds", "told"),
    [
        ("anna", "/api/site", (200, GOOD, b"{}"), 6.0, "it took 6.0 s"),
        ("anna", "/api/site", (500, GOOD, b"{}"), 0.0, "500"),
        ("anna", "/api/site", (200, GOOD[:1] + GOOD[2:], b"{}"), 0.0, "keep a copy"),
        ("anna", "/api/site", (200, GOOD[:-1], b"{}"), 0.0, "without its header"),
        ("anna", "/api/site", (200, [*GOOD, (b"server", b"x")], b""), 0.0, "a header too many"),
        ("anna", "/api/site", (200, [*GOOD, (b"set-cookie", b"x")], b""), 0.0, "with a cookie"),
        ("anna", "/api/site", (200, GOOD, b"four words are enough"), 0.0, "it tells"),
        ("anna", "/api/site", (200, GOOD, b"<X object at 0x7f>"), 0.0, "it tells"),
        ("anna", "/api/site", (404, GOOD, b'{"detail": "Not Found"}'), 0.0, "in another form"),
        ("", "/api/site", (200, GOOD, b"{}"), 0.0, "somebody who isn't in"),
        ("cleo", "/house/users", (200, GOOD, b"{}"), 0.0, "has the role 'look'"),
        ("ben", "/house/users", (200, GOOD, b"{}"), 0.0, "has the role 'edit'"),
        ("cleo", "/api/save", (200, GOOD, b"{}"), 0.0, "has the role 'look'"),
    ],
)  # fmt: skip
def test_a_bad_answer_is_noticed(
    served: Page, who: str, end: str, answer: Answer, seconds: float, told: str
) -> None:
    method = "POST" if end == "/api/save" else "GET"
    with pytest.raises(BadAnswerError, match=told):
        look_at(served, _question(served, who, method, end), answer, seconds)


def test_what_another_sites_page_could_do_is_noticed(served: Page) -> None:
    question = Question("served", "anna", "POST", "/house/jobs", "{}", "http://evil.example")
    with pytest.raises(BadAnswerError, match="another site's page"):
        look_at(served, question, (200, GOOD, b"{}"), 0.0)


def test_the_page_is_put_back(served: Page) -> None:
    examination = Examination("served", served)
    begun = _question(served, "ben", "POST", "/house/jobs", '{"name": "x", "starter": "house"}')
    listed = _question(served, "ben", "GET", "/house/jobs")
    before = examination.ask(listed)[0][2]
    assert b'"x"' in examination.ask(begun)[0][2]
    assert examination.ask(listed)[0][2] == before
    out = _question(served, "ben", "POST", "/house/logout", "{}")
    assert examination.ask(out)[0][0] == 200
    assert examination.ask(listed)[0][0] == 200
    assert NOBODY not in served._cookies
