from __future__ import annotations

import re
from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from bondwright.draw.svg import Canvas, element_id, escape

# Every character but lone surrogates, which no file can hold.
ANY = st.text(st.characters(), max_size=40)


@given(ANY)
def test_any_text_stays_text(text: str) -> None:
    root = ElementTree.fromstring(f'<a b="{escape(text)}">{escape(text)}</a>')
    assert len(root) == 0
    assert set(root.attrib) == {"b"}
    for character in "<>&\"'":
        assert (root.text or "").count(character) == text.count(character)


@given(ANY, ANY)
def test_ids_are_plain_and_tell_things_apart(a: str, b: str) -> None:
    assert re.fullmatch(r"place\.[A-Za-z0-9_-]*", element_id("place", a))
    assert (element_id("run", a) == element_id("run", b)) == (a == b)


def test_ids_keep_parts_apart() -> None:
    assert element_id("ribbon", "a", "b.c") != element_id("ribbon", "a.b", "c")


def test_a_prefix_goes_before_every_id() -> None:
    canvas = Canvas("second-")
    canvas.add(f"<g{canvas.mark('run', 'feeder')}/>")
    svg = canvas.finish(10, 10, "title", "about", "kind")
    found = re.findall(r'(?<!-)\bid="([^"]+)"', svg)
    assert found
    assert all(name.startswith("second-") for name in found)
    assert canvas.ids == {"second-run.feeder": "run feeder"}
