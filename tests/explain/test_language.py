"""Reports in another language: a table of sentences, and nothing told by guess."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bondwright.explain import language as language_module
from bondwright.explain.dialect import OWN_WORDS
from bondwright.explain.language import (
    LANGUAGES,
    Language,
    UnknownLanguageError,
    labels_of,
    speaking,
    spoken,
    texts_of,
)
from bondwright.papers.content import content
from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.site.reader import load

EXAMPLES = Path(__file__).parents[2] / "examples"
IN_FULL = (
    "harrow-creek-farmhouse",
    "steel-hall",
    "three-building-farm",
    "workshop-transformer",
    "sun-house",
)
OTHERS = [tag for tag in LANGUAGES if tag != "en"]


@cache
def _results(name: str) -> Results:
    return study(plan(load(EXAMPLES / f"{name}.yaml")))


def _told(name: str, tag: str) -> tuple[Language, dict[str, Any], dict[str, Any]]:
    results = _results(name)
    whole = content(results, date(2026, 11, 25))
    data = {key: value for key, value in whole.items() if key not in OWN_WORDS}
    language = Language(tag, labels_of(results.plan.site))
    return language, data, language.told(data)


@pytest.mark.parametrize("tag", OTHERS)
@pytest.mark.parametrize("name", IN_FULL)
def test_every_sentence_of_a_report_is_told(name: str, tag: str) -> None:
    language, data, told = _told(name, tag)
    assert list(language.lacking) == []
    assert told.keys() == data.keys()
    assert told["cautions"] != data["cautions"]


@pytest.mark.parametrize("tag", OTHERS)
def test_numbers_labels_and_clauses_stay(tag: str) -> None:
    """What a person measures, built or has to look up is the same in every language."""
    _, data, told = _told("harrow-creek-farmhouse", tag)
    quantity = re.compile(r"\d[\d.,/]* (?:A|V|ms|s|AWG|kcmil|ohm|mohm|degC)\b")
    for key in ("stories", "removed", "added", "schedule", "faults", "findings"):
        before, after = repr(data[key]), repr(told[key])
        assert sorted(quantity.findall(before)) == sorted(quantity.findall(after)), key
        for label in ("pump house panel", "farmhouse panel", "NEC 2023"):
            assert before.count(label) == after.count(label), (key, label)


@pytest.mark.parametrize("tag", OTHERS)
def test_what_drives_the_layout_stays(tag: str) -> None:
    _, data, told = _told("harrow-creek-farmhouse", tag)
    assert told["summary"]["kind"] == data["summary"]["kind"]
    assert told["summary"]["mark"] == data["summary"]["mark"]


@pytest.mark.parametrize("tag", OTHERS)
def test_every_slot_is_filled_from_one_that_is_there(tag: str) -> None:
    for written, said in texts_of(tag).items():
        slots = written.count("{}")
        used = [int(number) for number in re.findall(r"\{(\d+)\}", said)]
        assert set(used) == set(range(1, slots + 1)), written
        assert "{}" not in said, written
        assert said.strip() == said, written


def test_spanish_sentences() -> None:
    """Read by hand; terms as electricians in North America use them in Spanish."""
    es = Language("es", ["pump house panel", "feeder to the barn", "barn"])
    assert es("L1 to metal at pump house panel") == "L1 a metal en pump house panel"
    assert es("Neutral of feeder to the barn") == "Neutro de feeder to the barn"
    assert es(
        "the neutral of feeder to the barn and the equipment grounding conductor of barn"
    ) == ("el neutro de feeder to the barn y el conductor de puesta a tierra de equipos de barn")
    assert es("That ends the fault. It is no leave to touch anything.") == (
        "Con eso termina la falla. No autoriza a tocar nada."
    )
    assert es("A fault at barn is cleared too late") == (
        "Una falla en barn se despeja demasiado tarde"
    )
    assert es("20 A breaker of feeder to the barn (in pump house panel)") == (
        "interruptor automático de 20 A de feeder to the barn (en pump house panel)"
    )
    assert es("") == ""
    assert list(es.lacking) == []


def test_what_the_table_lacks_stays_and_is_remembered() -> None:
    es = Language("es")
    mixed = es("That ends the fault. Nobody has put this sentence into the table.")
    assert mixed == "Con eso termina la falla. Nobody has put this sentence into the table."
    assert list(es.lacking) == ["Nobody has put this sentence into the table."]
    # Half a sentence is none: what would fill a slot has to be known as well.
    half = "Without it only a squirrel flows. Nothing trips, and the metal at x stays at 3 V."
    assert "squirrel" in es(half)


def test_english_is_told_as_it_is() -> None:
    en = Language("en")
    assert en("Anything at all.") == "Anything at all."
    assert en.told({"kind": "short", "text": ["a", ("b",)]}) == {
        "kind": "short",
        "text": ["a", ["b"]],
    }
    assert list(en.lacking) == []


def test_lettering_is_told_word_for_word() -> None:
    es = Language("es", ["panel", "gas pipe"])
    assert es.lettering("equipment · 1.6 kW") == "equipo · 1.6 kW"
    assert es.lettering("neutral bond: bus · 0 A") == "unión del neutro: barra · 0 A"
    assert es.lettering("width of a ribbon at 337 A") == "ancho de una cinta a 337 A"
    # Labels stay, also those that are words; so does what the table lacks.
    assert es.lettering("panel · gas pipe") == "panel · gas pipe"
    assert es.lettering("100 A breaker, instantaneous 80…") == "100 A breaker, instantaneous 80…"
    assert list(es.lacking) == []
    assert Language("en").lettering("equipment") == "equipment"


def test_a_language_is_spoken_meanwhile_only() -> None:
    assert spoken().tag == "en"
    with speaking(Language("es")) as es:
        assert spoken() is es
    assert spoken().tag == "en"


@pytest.mark.parametrize("tag", OTHERS)
def test_no_text_is_held_twice(tag: str) -> None:
    folder = Path(language_module.__file__).parent / "data" / "languages"
    lines = (folder / f"{tag}.yaml").read_text(encoding="utf-8").splitlines()
    keys = [line.split('": "')[0] for line in lines if line.startswith('  "') and '": "' in line]
    assert len(keys) == len(set(keys)) > 100


def test_an_unknown_language_names_those_that_are_known() -> None:
    with pytest.raises(UnknownLanguageError, match=r"en \(English\), es \(español\)"):
        Language("xx")


def test_every_label_of_a_site_is_known() -> None:
    site = load(EXAMPLES / "harrow-creek.yaml")
    labels = labels_of(site)
    assert {"farm utility", "hall roof array", "bottling hall", "primary neutral"} <= labels
    assert {"transfer switch", "hall transformer", "house rods", "well pump"} <= labels
