from __future__ import annotations

import json
from pathlib import Path

import font_source_sans_pro
import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from bondwright.draw.lettering import ELLIPSIS, KEEP, fit, width, wrap
from tests.draw.font_file import width_table

# A run of text with its weight, as it stands on drawings.
SAMPLES = [
    ("farmhouse panel", False),
    ("N 4 AWG Cu · EGC 8 AWG Cu · 220 ft", False),
    ("service · main 200 A breaker · 8.5 kW", False),
    ("MBJ: 4 AWG Cu · 13.5 mA", True),
    ("480Y/277 V, 22 kA, 0.25 Ω", True),
    ("pump house panel", True),
]


def test_the_widths_are_those_of_the_font() -> None:
    table = json.loads(Path("src/bondwright/draw/data/widths.json").read_text(encoding="utf-8"))
    for weight, widths in width_table().items():
        assert table[weight] == widths


@pytest.mark.parametrize(("text", "bold"), SAMPLES)
def test_a_width_agrees_with_the_typesetter(text: str, bold: bool) -> None:
    """Typst measures with its own reading of the font; kerning off, as widths leave it out."""
    weight = "semibold" if bold else "regular"
    source = (
        f'#set text(font: "Source Sans Pro", size: 100pt, weight: "{weight}", kerning: false,'
        " ligatures: false)\n"
        '#let words = read("words.txt")\n'
        "#context [#metadata(measure(text(words)).width.pt()) <w>]"
    )
    files = {"main.typ": source.encode(), "words.txt": text.encode()}
    found = typst.query(
        files,
        "<w>",
        field="value",
        one=True,
        font_paths=[font_source_sans_pro.font_directory],
        ignore_system_fonts=True,
    )
    assert width(text, 100.0, bold) == pytest.approx(float(json.loads(found)), rel=0.002)


@given(st.text(max_size=60), st.floats(5, 300), st.booleans())
def test_a_fitted_text_fits(text: str, room: float, bold: bool) -> None:
    fitted = fit(text, room, 11.0, bold)
    assert width(fitted, 11.0, bold) <= room + 1e-6
    assert fitted == text or fitted == "" or fitted.endswith(ELLIPSIS)


@given(st.text(max_size=120), st.floats(20, 300), st.integers(1, 4))
def test_wrapped_lines_fit(text: str, room: float, most: int) -> None:
    lines = wrap(text, room, 11.0, most)
    assert len(lines) <= most
    assert all(width(line, 11.0) <= room + 0.5 for line in lines)


@given(st.lists(st.text("abcdefgh", min_size=1, max_size=8), min_size=1, max_size=12))
def test_wrapping_loses_no_word_where_there_is_room(words: list[str]) -> None:
    assert " ".join(wrap(" ".join(words), 120.0, 11.0, 50)).split() == words


def test_a_text_held_together_breaks_between_its_parts() -> None:
    text = f"4{KEEP}AWG{KEEP}Cu · N{KEEP}4{KEEP}AWG{KEEP}Cu · EGC{KEEP}8{KEEP}AWG{KEEP}Cu"
    assert wrap(text, 110.0, 11.0, 3) == ("4 AWG Cu · N 4 AWG Cu", "EGC 8 AWG Cu")


def test_a_character_the_font_lacks_takes_room() -> None:
    assert width("🍎", 10.0) >= 10.0
    assert width("苹", 10.0) >= 10.0
    assert width("e\u0301", 10.0) == pytest.approx(width("e", 10.0), abs=6)
