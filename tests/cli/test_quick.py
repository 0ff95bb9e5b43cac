"""Single questions at the command line.

Sizes from NFPA 70 Tables 250.66, 250.102(C)(1) and 250.122; the rows used here are confirmed in
at least two public sources.
"""

from __future__ import annotations

import math

import pytest

from tests.cli.running import refused, said, structure

SIZES = [
    (["jumper", "--supply", "3/0 AWG Cu"], "4 AWG Cu"),
    (["jumper", "--supply", "2 x 500 kcmil Cu"], "2/0 AWG Cu"),
    (["gec", "--supply", "350 kcmil Cu", "--electrode", "any"], "2 AWG Cu"),
    (["gec", "--supply", "350 kcmil Cu", "--electrode", "rod"], "6 AWG Cu"),
    (["gec", "--supply", "350 kcmil Cu", "--electrode", "concrete"], "4 AWG Cu"),
    (["egc", "--breaker", "60 A"], "10 AWG Cu"),
    (["egc", "--breaker", "400 A"], "3 AWG Cu"),
    (["egc", "--breaker", "20 A"], "12 AWG Cu"),
]
EDITIONS = ["nec-2017", "nec-2020", "nec-2023"]


@pytest.mark.parametrize("rules", EDITIONS)
@pytest.mark.parametrize(("question", "size"), SIZES, ids=lambda v: " ".join(v) if v else None)
def test_sizes(question: list[str], size: str, rules: str) -> None:
    answer = structure("quick", *question, "--rules", rules)
    assert answer["answer"]["size"] == size
    assert answer["rules"] == rules
    assert answer["because"]
    assert all(isinstance(reason, str) and reason for reason in answer["because"])
    assert answer["answer"]["clause"].startswith(f"NEC {rules[-4:]} 250.")


@pytest.mark.parametrize(("question", "size"), SIZES, ids=lambda v: " ".join(v) if v else None)
def test_sizes_for_a_person(question: list[str], size: str) -> None:
    """The size comes first; the caution last."""
    text = said("quick", *question)
    assert text.startswith(f"{size} NEC 2023 250.")
    assert text.endswith("decide.")
    assert "power off" in text


def test_enlarged_lines_enlarge_the_ground() -> None:
    """12 AWG needed, 8 AWG pulled, 20 A: 6530 x 16510 / 6530 = 16510 cmil, 8 AWG (by hand)."""
    answer = structure("quick", "egc", "--breaker", "20 A", "--line", "8 AWG Cu",
                       "--needed", "12 AWG Cu")  # fmt: skip
    assert answer["answer"]["size"] == "8 AWG Cu"


def test_aluminium() -> None:
    """Table 250.122: 60 A, 8 AWG Al."""
    answer = structure("quick", "egc", "--breaker", "60 A", "--material", "Al")
    assert answer["answer"]["size"] == "8 AWG Al"


# --- the common confusions --------------------------------------------------------------------


def test_no_jumper_from_a_breaker() -> None:
    words = refused("quick", "jumper", "--breaker", "200 A")
    assert "not sized from a breaker" in words
    assert "follow the supply conductors" in words


def test_no_jumper_from_a_breaker_even_with_the_supply() -> None:
    refused("quick", "jumper", "--breaker", "200 A", "--supply", "3/0 AWG Cu")


def test_no_electrode_conductor_from_a_breaker() -> None:
    words = refused("quick", "gec", "--breaker", "200 A")
    assert "no electrode conductor is sized from a breaker" in words


def test_no_equipment_ground_from_the_supply() -> None:
    words = refused("quick", "egc", "--supply", "3/0 AWG Cu")
    assert "not sized from the supply conductors" in words
    assert "follow the overcurrent device" in words


@pytest.mark.parametrize(
    ("question", "hint"),
    [
        (["jumper"], "--supply"),
        (["gec"], "--supply"),
        (["egc"], "--breaker"),
        (["rod", "--soil", "100 ohm m", "--length", "8 ft", "--diameter", "5/8 in",
          "--count", "2"], "--spacing"),
        (["fault", "--length", "10 ft", "--line", "4 AWG Cu", "--egc", "4 AWG Cu"],
         "--transformer"),
    ],
)  # fmt: skip
def test_what_is_missing_is_named(question: list[str], hint: str) -> None:
    assert hint in refused("quick", *question)


# --- slips of the pen -------------------------------------------------------------------------

FAULT = ["fault", "--available", "10 kA", "--length", "220 ft", "--egc", "8 AWG Cu"]

SLIPS = [
    (["jumper", "--supply", "3/O AWG Cu"], "3/0 AWG"),
    (["jumper", "--supply", "500 kcml Cu"], "500 kcmil"),
    (["jumper", "--supply", "510 kcmil Cu"], "500 kcmil"),
    (["gec", "--supply", "3/0 AWGG Cu"], "3/0 AWG"),
    (["egc", "--breaker", "60 A", "--line", "8 AWGs Cu"], "8 AWG"),
    (["egc", "--breaker", "60 Ampps"], "60 A"),
    (["withstand", "--size", "4 AWG Coper", "--time", "0.1 s"], "Cu"),
    (["withstand", "--size", "4 AWG Cu", "--time", "0.1"], "s"),
    (["rod", "--soil", "100 ohm", "--length", "8 ft", "--diameter", "5/8 in"], "ohm m"),
    ([*FAULT, "--line", "3/O AWG Cu"], "3/0 AWG"),
    ([*FAULT, "--line", "4 AWG Cu", "--raceway", "emtt 1 in"], "emt"),
    ([*FAULT, "--line", "4 AWG Cu", "--breaker", "60 Q"], "60 A"),
]


@pytest.mark.parametrize(("question", "suggestion"), SLIPS, ids=lambda v: str(v))
def test_a_wrong_word_gets_the_nearest_right_one(question: list[str], suggestion: str) -> None:
    words = refused("quick", *question)
    assert words.startswith("error: '")
    assert suggestion in words
    assert "validation error" not in words


def test_a_raceway_of_no_trade_size() -> None:
    words = refused("quick", *FAULT, "--line", "4 AWG Cu", "--raceway", "emt 1.1 in")
    assert "size is no such trade size of emt; " in words
    assert "1 in" in words


def test_a_slip_as_a_structure() -> None:
    told = structure("quick", "jumper", "--supply", "3/O AWG Cu", code=2)
    assert told["format"] == "bondwright/problems"
    assert told["version"] == 1
    (problem,) = told["problems"]
    assert problem["text"] == "3/O AWG Cu"
    assert "3/0 AWG" in problem["hint"]


# --- numbers ------------------------------------------------------------------------------------


def test_rod() -> None:
    """Dwight 1936, 100 ohm m, 8 ft by 5/8 in: rho/(2 pi L) (ln(8 L/d) - 1) by hand."""
    long, thick = 8 * 0.3048, 0.625 * 0.0254
    by_hand = 100 / (2 * math.pi * long) * (math.log(8 * long / thick) - 1)
    answer = structure("quick", "rod", "--soil", "100 ohm m", "--length", "8 ft",
                       "--diameter", "5/8 in")  # fmt: skip
    assert answer["answer"]["resistance_ohm"] == pytest.approx(by_hand, rel=1e-9)
    assert any("no path that opens a breaker" in reason for reason in answer["because"])


def test_two_rods_are_worse_than_half_of_one() -> None:
    answer = structure("quick", "rod", "--soil", "100 ohm m", "--length", "8 ft", "--diameter",
                       "5/8 in", "--count", "2", "--spacing", "10 ft")["answer"]  # fmt: skip
    single = answer["single_rod_ohm"]
    assert single / 2 < answer["resistance_ohm"] < single
    assert answer["rods"] == 2


def test_withstand() -> None:
    """ICEA P-32-382: 41740 sqrt(0.0297 / 0.1 log10(384 / 309)) = 6.99 kA (by hand)."""
    by_hand = 41_740 * math.sqrt(0.0297 / 0.1 * math.log10((150 + 234) / (75 + 234)))
    assert by_hand == pytest.approx(6_990, rel=1e-3)
    answer = structure("quick", "withstand", "--size", "4 AWG Cu", "--time", "0.1 s")
    assert answer["answer"]["current_a"] == pytest.approx(by_hand, rel=1e-4)


def test_parallel_sets_withstand_more() -> None:
    """Two sets bear twice the current of one."""
    one, two = (
        structure("quick", "withstand", "--size", size, "--time", "1 s")["answer"]["current_a"]
        for size in ("4 AWG Cu", "2 x 4 AWG Cu")
    )
    assert two == pytest.approx(2 * one)


def test_fault_by_hand() -> None:
    """NEC Chapter 9 Table 8: 120 V over 200 ft of 12 AWG out and back, 2 x 0.396 ohm, and the
    source's 0.012 ohm."""
    answer = structure("quick", "fault", "--available", "20 kA", "--length", "200 ft", "--line",
                       "12 AWG Cu", "--egc", "12 AWG Cu", "--breaker", "20 A")  # fmt: skip
    numbers = answer["answer"]
    assert numbers["current_a"] == pytest.approx(120 / (2 * 0.396), rel=0.02)
    assert numbers["metal_to_earth_v"] == pytest.approx(60, rel=0.02)
    assert numbers["loop_ohm"] == pytest.approx(120 / numbers["current_a"], rel=1e-6)
    assert numbers["opens_slowest_s"] >= numbers["opens_fastest_s"]


def test_fault_without_a_device_is_honest() -> None:
    answer = structure("quick", "fault", "--transformer", "25 kVA", "--impedance", "2.1 %",
                       "--length", "220 ft", "--line", "4 AWG Cu", "--egc", "8 AWG Cu")  # fmt: skip
    numbers = answer["answer"]
    assert numbers["opens_slowest_s"] is None
    assert numbers["verdict"] != "holds"


def test_fault_says_what_it_assumed() -> None:
    text = said("quick", *FAULT, "--line", "4 AWG Cu", "--breaker", "60 A")
    assert "Assumed: soil of 100 ohm m" in text
    assert "60 A breaker opens between" in text
