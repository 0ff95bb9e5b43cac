"""The page stands alone, is well formed where it matters, and takes no label for markup.

Read back with the standard library's parser.
"""

from __future__ import annotations

import re
from collections import Counter
from datetime import date
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from bondwright.explain.words import amps, volts
from bondwright.papers.html import report_html
from bondwright.papers.pictures import draw_pictures
from tests.explain.sites import (
    BARN_WITH_PIPE_ONLY,
    FARM,
    NASTY,
    NASTY_IDS,
    SMALL,
    row_of_panels,
    studied,
)

DAY = date(2026, 3, 2)
SITES = {
    "farm": FARM,
    "barn": BARN_WITH_PIPE_ONLY,
    "small": SMALL,
    "nasty": NASTY,
    "row": row_of_panels(12),
}
VOID = {"meta", "br", "link", "img", "hr", "input"}


class Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.slips: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.slips.append(tag)

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def said(self) -> str:
        return " ".join("".join(self.words).split())


@cache
def made(name: str) -> str:
    results = studied(SITES[name])
    return report_html(results, draw_pictures(results), DAY)


@cache
def parsed(name: str) -> Page:
    return Page(made(name))


@pytest.mark.parametrize("name", SITES)
def test_nothing_comes_from_outside(name: str) -> None:
    page = parsed(name)
    allowed = {"html", "head", "meta", "title", "style", "body", "svg"}
    assert allowed <= {tag for tag, _ in page.tags}
    for banned in ("script", "link", "iframe", "object", "embed", "base", "form", "image", "use"):
        assert not page.all(banned), banned
    ids = {attrs["id"] for _, attrs in page.tags if "id" in attrs}
    for tag, attrs in page.tags:
        for key, value in attrs.items():
            assert not key.startswith("on"), (tag, key)
            if key in {"href", "xlink:href", "src", "srcset", "action", "data"}:
                assert value.startswith("#"), (tag, key, value)
                assert value[1:] in ids
            for target in re.findall(r"url\(([^)]*)\)", value):
                assert target.strip("'\"").startswith("#")
                assert target.strip("'\"")[1:] in ids
    style = made(name).partition("<style>")[2].partition("</style>")[0]
    assert "url(" not in style
    assert "@import" not in style


@pytest.mark.parametrize("name", SITES)
def test_the_policy_forbids_everything_but_styles(name: str) -> None:
    (policy,) = [m for m in parsed(name).all("meta") if "http-equiv" in m]
    assert policy["content"] == ("default-src 'none'; style-src 'unsafe-inline'; img-src data:")


@pytest.mark.parametrize("name", SITES)
def test_every_tag_is_closed_and_every_id_is_used_once(name: str) -> None:
    page = parsed(name)
    assert page.slips == []
    assert page.open == []
    ids = Counter(attrs["id"] for _, attrs in page.tags if "id" in attrs)
    assert [i for i, times in ids.items() if times > 1] == []
    for _, attrs in page.tags:
        for target in attrs.get("aria-labelledby", "").split():
            assert target in ids


@pytest.mark.parametrize("name", SITES)
def test_landmarks_language_and_headings(name: str) -> None:
    page = parsed(name)
    assert page.all("html")[0]["lang"] == "en-US"
    for landmark in ("header", "nav", "main", "footer"):
        assert len(page.all(landmark)) == 1
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    for cell in page.all("th"):
        assert cell["scope"] in {"col", "row"}
    for picture in page.all("svg"):
        assert picture.get("role") == "img"


def test_wide_and_narrow_pictures_and_cards() -> None:
    text = made("farm")
    assert text.count('<div class="wide">') == text.count('<div class="narrow">') > 0
    assert "@media screen and (max-width" in text
    assert "@media print" in text
    labelled = [a for a in parsed("farm").all("td") if "data-label" in a]
    assert labelled


def test_key_numbers_are_on_the_page() -> None:
    said, removed = parsed("farm").said, studied(FARM).removed[0]
    for number in (
        amps(removed.with_tie.current),
        amps(removed.without_tie.current),
        volts(removed.without_tie.live_after),
    ):
        assert number in said


def test_labels_are_words_and_never_markup() -> None:
    page = parsed("nasty")
    for label in NASTY_IDS[:3]:
        assert label in page.said
    assert "{{ 7*7 }} <b>bold</b>" in page.said
    assert not page.all("b")
    assert "\u202e" not in made("nasty")
    assert "[U+202E]" in page.said


def test_same_text_each_time() -> None:
    results = studied(FARM)
    assert report_html(results, draw_pictures(results), DAY) == made("farm")
