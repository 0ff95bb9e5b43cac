"""The JSON Schema: valid, complete, no stricter than the reader, and strict where it helps."""

from __future__ import annotations

import json
import re
from typing import Any

import jsonschema
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bondwright.site import Site, dump, json_schema, read
from bondwright.site.quantities import quantity_pattern
from bondwright.site.schema import example_site
from bondwright.site.shape import Shape, shape_at, site_shape
from bondwright.site.source_text import parse
from bondwright.units import Dimension, UnitError, unit_names
from bondwright.units import parse as parse_quantity
from tests.site.generated import sites
from tests.site.marked import GOOD, edited

SCHEMA = json_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def complaints(data: Any) -> list[jsonschema.ValidationError]:
    return sorted(VALIDATOR.iter_errors(data), key=lambda error: list(map(str, error.path)))


def test_it_is_a_valid_schema_and_plain_json() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_its_example_is_valid_and_reads() -> None:
    (example,) = SCHEMA["examples"]
    assert complaints(example) == []
    assert example == example_site()
    assert read(yaml.safe_dump(example, sort_keys=False)).site == "Farmhouse, Harrow Creek Cidery"


def test_the_good_file_is_valid() -> None:
    assert complaints(parse(GOOD).data) == []


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(sites())
def test_whatever_reads_is_valid(site: Site) -> None:
    assert complaints(parse(dump(site)).data) == []


def properties() -> list[tuple[str, str, dict[str, Any]]]:
    models = {"Site": SCHEMA, **SCHEMA["$defs"]}
    return [
        (name, key, node)
        for name, model in models.items()
        for key, node in model.get("properties", {}).items()
    ]


@pytest.mark.parametrize(("model", "key"), [(model, key) for model, key, _ in properties()])
def test_every_key_is_described(model: str, key: str) -> None:
    node = next(node for name, word, node in properties() if (name, word) == (model, key))
    assert node["title"] == key
    assert len(node["description"]) > 7
    assert node["description"].endswith(".")
    assert "null" not in json.dumps(node)


def test_every_example_in_it_is_valid() -> None:
    seen = 0
    for _, _, node in properties():
        for example in node.get("examples", []):
            inner = {**node, "$defs": SCHEMA["$defs"]}
            jsonschema.validate(example, inner, cls=jsonschema.Draft202012Validator)
            seen += 1
    assert seen > 25


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("length: 90 ft", "length: 90"),
        ("length: 90 ft", "length: '90'"),
        ("length: 90 ft", "length: 90 ohm"),
        ("length: 90 ft", "length: ninety ft"),
        ("length: 90 ft", "lenght: 90 ft"),
        (", length: 90 ft", ""),
        ("soil: 100 ohm m", "soil:"),
        ("soil: 100 ohm m", "soil: 100 ohm"),
        ("kind: service", "kind: servise"),
        ("rules: nec-2020", "rules: nec-2021"),
        ("lines: 4/0 AWG Al", "lines: 4/0 AWG"),
        ("lines: 4/0 AWG Al", "lines: copper"),
        ("egc: raceway", "egc: raceways"),
        ("system: 120/240 V", "system: 120/240"),
        ("main: 200 A breaker", "main: breaker"),
        ("count: 2", "count: 0"),
        ("count: 2", "count: two"),
        ("pf: 0.8", "pf: 1.5"),
        ("on: L1-N", "on: L1"),
        ("on: [L2]", "on: []"),
        ("on: [L2]", "on: L2"),
        ("    transformer: {rating: 25 kVA, impedance: 2.1 %, x/r: 1.3}", ""),
        ("impedance: 2.1 %", "impedance: 2.1"),
        (", resistance/length: 0.07 ohm/kft", ""),
        ("metal:", "colour: red\nmetal:"),
    ],
)
def test_slips_an_editor_can_mark(old: str, new: str) -> None:
    assert complaints(parse(edited((old, new))).data) != []


NUMBERS = ["1", "-1", "+2.5", "1,000", ".5", "5/8", "1-1/4", "2 1/2", "1e3", "1.", "12E-2"]
NOT_NUMBERS = ["", "x", "1.2.3", "--1", "1/", "e3", "."]


@pytest.mark.parametrize("dimension", list(Dimension))
def test_the_pattern_of_a_quantity_is_what_the_parser_reads(dimension: Dimension) -> None:
    pattern = re.compile(quantity_pattern(dimension))
    every = {name for other in Dimension for name in unit_names(other)} | {"", "xx", "fts"}
    units = sorted({form for name in every for form in (name, name.upper(), name.lower())})
    for unit in units:
        for number in ["1", *(NUMBERS if unit in unit_names(dimension) else []), *NOT_NUMBERS]:
            for text in (f"{number} {unit}", f" {number}{unit} "):
                try:
                    parse_quantity(text, dimension)
                    readable = True
                except UnitError:
                    readable = False
                assert bool(pattern.search(text)) == readable, text


@given(st.text("0123456789 .,/+-eEftinm'\"", max_size=12))
def test_the_pattern_of_a_length_is_never_stricter_than_the_parser(text: str) -> None:
    try:
        parse_quantity(text, Dimension.LENGTH)
    except UnitError:
        return
    assert re.search(quantity_pattern(Dimension.LENGTH), text)


@pytest.mark.parametrize("text", ["6 ft 3 in", "6' 3\"", "6ft-3 1/2in", "6 feet 3 inches"])
def test_feet_and_inches_match_the_pattern(text: str) -> None:
    assert parse_quantity(text, Dimension.LENGTH) > 1.8
    assert re.search(quantity_pattern(Dimension.LENGTH), text)


def test_the_shape_of_a_file_is_that_of_its_schema() -> None:
    def compare(shape: Shape, node: dict[str, Any]) -> None:
        if "$ref" in node:
            node = {**SCHEMA["$defs"][node["$ref"].rpartition("/")[2]], **node}
        match shape.kind:
            case "group":
                assert list(shape.fields) == list(node["properties"])
                assert list(shape.required) == node.get("required", [])
                for key, inner in shape.fields.items():
                    compare(inner, node["properties"][key])
            case "table":
                assert shape.item is not None
                # Names with a pattern stand under patternProperties.
                (inner,) = node.get("patternProperties", {}).values() or (
                    node["additionalProperties"],
                )
                compare(shape.item, inner)
            case "list":
                assert shape.item is not None
                compare(shape.item, node["items"])
            case "words":
                assert list(shape.words) == node["enum"]
            case "value":
                assert shape.example == node["examples"][0]

    compare(site_shape(), SCHEMA)
    assert shape_at(("runs", "any", "length")) == shape_at(("metal", "any", "length"))
    assert shape_at(("runs", "any", "colour")) is None
