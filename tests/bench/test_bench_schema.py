"""The published JSON Schema: valid by its metaschema, right about good files, no stricter than the loader."""

import copy
import json
from typing import Any

import jsonschema
import pytest
import yaml
from bench_sample import FOLDER, TEXT, WHOLE, edited, problems
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bench_references import DEVICES, REQUIRED, SHOWS, WIRING

from interlock.bench import Bench, bench_schema, load_bench
from interlock.bench.schema import choices, entries, example, required, schema_at

SCHEMA = bench_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
DATA = yaml.safe_load(TEXT)


def test_it_is_a_valid_schema_of_its_dialect() -> None:
    # metaschema: https://json-schema.org/draft/2020-12/schema, as the package jsonschema carries it
    assert SCHEMA["$schema"] == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_it_is_json() -> None:
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA


def test_it_is_the_same_each_time() -> None:
    assert json.dumps(bench_schema()) == json.dumps(SCHEMA)


def keywords(part: Any) -> set[str]:
    """Every key that stands where the dialect expects a keyword."""
    if isinstance(part, list):
        return {word for item in part for word in keywords(item)}
    if not isinstance(part, dict):
        return set()
    found = set(part)
    for word, below in part.items():
        if word in {"properties", "patternProperties", "$defs"}:
            found |= {inner for item in below.values() for inner in keywords(item)}
        elif word not in {"examples", "default", "const", "enum"}:
            found |= keywords(below)
    return found


def test_it_uses_words_of_the_dialect_only() -> None:
    # JSON Schema Core and Validation, 2020-12: vocabularies core, applicator, validation, meta-data
    known = {
        *("$schema", "$defs", "$ref", "title", "description", "default", "examples"),
        *("type", "enum", "const", "pattern", "minLength", "minimum", "minItems", "minProperties"),
        *("maximum", "maxItems"),
        *(
            "properties",
            "patternProperties",
            "additionalProperties",
            "propertyNames",
            "required",
            "items",
            "anyOf",
        ),
    }
    assert keywords(SCHEMA) <= known


def test_the_sample_is_valid() -> None:
    VALIDATOR.validate(DATA)
    VALIDATOR.validate(yaml.safe_load(WHOLE))


@pytest.mark.parametrize(
    "path", sorted((FOLDER.parent / "wrong").glob("[0-9]*.yaml")), ids=lambda path: path.stem
)
def test_benches_that_load_are_valid(path: Any) -> None:
    load_bench(path)
    VALIDATOR.validate(yaml.safe_load(path.read_text(encoding="utf-8")))


def mappings(data: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The paths of all mappings whose keys the schema fixes."""
    if isinstance(data, list):
        return [found for index, item in enumerate(data) for found in mappings(item, (*path, index))]
    if not isinstance(data, dict):
        return []
    here = [path] if entries(path) else []
    return here + [found for key, item in data.items() for found in mappings(item, (*path, key))]


FIXED = mappings(DATA)


def holder(data: Any, path: tuple[str | int, ...]) -> Any:
    for step in path:
        data = data[step]
    return data


@pytest.mark.parametrize("path", FIXED, ids=lambda path: ".".join(map(str, path)) or "root")
def test_an_unknown_key_is_invalid_everywhere(path: tuple[str | int, ...]) -> None:
    data = copy.deepcopy(DATA)
    holder(data, path)["colour"] = "green"
    assert not VALIDATOR.is_valid(data)


@pytest.mark.parametrize("path", FIXED, ids=lambda path: ".".join(map(str, path)) or "root")
def test_a_lost_key_is_invalid_if_it_is_required(path: tuple[str | int, ...]) -> None:
    for key in entries(path):
        data = copy.deepcopy(DATA)
        if holder(data, path).pop(key, None) is not None:
            assert VALIDATOR.is_valid(data) == (key not in required(path)), key


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("required", "effects", "torque_off", "within"), 100),
        (("required", "effects", "torque_off", "within"), "100"),
        (("required", "effects", "torque_off", "within"), "100 V"),
        (("required", "effects", "torque_off", "within"), None),
        (("required", "reset", "acts_on"), "press"),
        (("required", "functions", "cover_stop", "stop_category"), 3),
        (("required", "functions", "cover_stop", "stop_category"), "0"),
        (("required", "functions", "cover_stop", "effects"), []),
        (("required", "functions", "cover_stop", "effects"), ["stop"]),
        (("required", "functions", "Cover"), {}),
        (("required", "functions"), {}),
        (("devices",), {}),
        (("devices", "2nd"), {"kind": "shaft", "name": "x"}),
        (("devices", "cover", "delays"), {"Open": "5 ms"}),
        (("wiring", "relay"), "never"),
        (("shows", "states", "cover"), "M.S is 1"),
        (("bench", "id"), "Sample"),
        (("bench", "place"), ""),
        (("bench", "ratings", "inertia"), None),
        (("shows",), None),
    ],
)
def test_wrong_values_are_invalid(path: tuple[str, ...], value: object) -> None:
    data = copy.deepcopy(DATA)
    holder(data, path[:-1])[path[-1]] = value
    assert not VALIDATOR.is_valid(data)


def leaves(data: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    below = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [found for key, item in below for found in leaves(item, (*path, key))] or [path]


LEAVES = leaves(DATA)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(LEAVES),
    st.one_of(
        st.text(max_size=6),
        st.integers(-3, 3),
        st.booleans(),
        st.sampled_from(["0.1 s", "5 V", [], {}, "a.b"]),
    ),
)
def test_what_the_schema_refuses_the_loader_refuses(path: tuple[str | int, ...], value: object) -> None:
    data = copy.deepcopy(DATA)
    holder(data, path[:-1])[path[-1]] = value
    if VALIDATOR.is_valid(data):
        return
    assert problems(yaml.safe_dump(data, sort_keys=False, allow_unicode=True))


@pytest.mark.parametrize(
    "table", [DEVICES, WIRING, REQUIRED, SHOWS], ids=["devices", "wiring", "required", "shows"]
)
def test_what_only_the_loader_can_know_is_valid(table: dict[str, tuple[str, str, str]]) -> None:
    """References are not the schema's business: it admits them, so that an editor shows no false error."""
    for old, new, _ in table.values():
        VALIDATOR.validate(yaml.safe_load(edited((old, new.replace("‸", "")))))


# ---- what it says about one place --------------------------------------------------------------------------


def test_entries_of_a_place() -> None:
    assert entries(()) == tuple(Bench.model_fields)
    assert required(()) == ("bench", "devices", "wiring", "required")
    assert entries(("devices", "any_name")) == ("kind", "name", "type", "delays", "opened", "series")
    assert entries(("devices",)) == ()
    assert "from" in entries(("kinds", "k", "transitions", 0))
    assert entries(("rating", "anything", 3)) == ()
    assert entries(("no", "such", "place")) == ()


def test_choices_of_a_place() -> None:
    assert choices(schema_at(("required", "reset", "acts_on"))) == ["release"]
    assert choices(schema_at(("required", "effects", "bus_discharged", "after"))) == [
        "contactor_open",
        "demand",
    ]
    assert choices(schema_at(("kinds", "k", "inputs", "a"))) == ["always", "never"]
    assert choices(schema_at(("bench", "name"))) == []


@pytest.mark.parametrize("path", [(), *FIXED, ("kinds", "k"), ("kinds", "k", "transitions", 0)], ids=str)
def test_an_example_of_a_place_is_valid_there(path: tuple[str | int, ...]) -> None:
    part = {**schema_at(path), "$defs": SCHEMA["$defs"]}
    jsonschema.Draft202012Validator(part).validate(example(schema_at(path)))


def test_the_example_of_a_whole_file_has_the_form_of_a_bench() -> None:
    bench = Bench.model_validate(example(SCHEMA))
    assert bench.required.reset.acts_on == "release"
