from __future__ import annotations

import pytest

from bondwright.draw import marks, svg
from bondwright.draw.colours import families, family_of, luminance, palette
from tests.outside import outside, published

PANEL, EARTH, WHITE = "#eef2f7", "#f3ece1", "#ffffff"


def contrast(a: str, b: str) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_and_white_is_21() -> None:
    # WCAG 2.2: the greatest ratio there is. Grey #767676 on white is its usual example of 4.5.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("ink", [svg.INK, svg.SOFT, svg.ALARM])
@pytest.mark.parametrize("ground", [PANEL, EARTH, WHITE])
def test_texts_can_be_read(ink: str, ground: str) -> None:
    assert contrast(ink, ground) >= 4.5


@pytest.mark.parametrize("mark", [marks.PATH, marks.EARTH, svg.INK])
@pytest.mark.parametrize("ground", [PANEL, EARTH, WHITE])
def test_marks_stand_out(mark: str, ground: str) -> None:
    # WCAG 2.2, 1.4.11: 3 to 1 for graphical objects.
    assert contrast(mark, ground) >= 3.0


@pytest.mark.parametrize(
    ("rules", "volts", "lines", "neutral", "metal"),
    [
        # NEC 200.6 and 250.119 (neutral white or grey, EGC green); line colours common practice.
        ("nec-2023", 208, ("black", "red", "blue"), "white", "green"),
        ("nec-2017", 240, ("black", "red", "blue"), "white", "green"),
        ("nec-2020", 480, ("brown", "orange", "yellow"), "grey", "green"),
        # IEC 60445, from memory.
        ("iec", 400, ("brown", "black", "grey"), "blue", "green-and-yellow"),
        # AS/NZS 3000, from memory.
        ("as-nzs", 400, ("red", "white", "blue"), "black", "green-and-yellow"),
    ],
)
@outside("colours of NEC 200.6 and 250.119, IEC 60445, AS/NZS 3000", "memory")
def test_colours_by_code(
    rules: str, volts: float, lines: tuple[str, ...], neutral: str, metal: str
) -> None:
    found = palette(rules, volts)
    assert tuple(colour.word for colour in found.lines) == published(lines)
    assert found.neutral.word == published(neutral)
    assert found.metal.word == published(metal)


@pytest.mark.parametrize("family", families())
@pytest.mark.parametrize("volts", [120.0, 480.0, 25000.0])
def test_conductors_of_one_system_differ_in_colour(family: str, volts: float) -> None:
    found = palette(family, volts)
    fills = [found.of(terminal).fill for terminal in ("L1", "L2", "L3", "N", "G")]
    assert len(set(fills)) == 5


def test_a_rule_set_not_known_gets_the_international_colours() -> None:
    assert family_of("nec-2023") == "nec"
    assert family_of("necessary") == "iec"
