"""The JSON Schema of a bench file, and what it says about one place of the file."""

from collections.abc import Iterator
from functools import cache
from typing import Any, Final

from interlock.bench.models import Bench

__all__ = ["bench_schema", "choices", "entries", "example", "required", "schema_at"]

Schema = dict[str, Any]
_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"


@cache
def bench_schema() -> Schema:
    """JSON Schema (2020-12) of a bench file, for editors; do not change the returned dictionary."""
    schema = Bench.model_json_schema(by_alias=True)
    for part in _parts(schema):
        _tighten(part)
    return {"$schema": _DIALECT, **schema, "title": "bench description"}


def schema_at(path: tuple[str | int, ...]) -> Schema:
    """What may stand at `path`; {} where anything may, or nothing."""
    here = _followed(bench_schema())
    for step in path:
        here = _followed(_below(here, step))
    return here


def entries(path: tuple[str | int, ...]) -> tuple[str, ...]:
    """The keys that may stand at `path`, if they are fixed ones."""
    return tuple(schema_at(path).get("properties", {}))


def required(path: tuple[str | int, ...]) -> tuple[str, ...]:
    """The keys that must stand at `path`."""
    return tuple(schema_at(path).get("required", ()))


def example(schema: Schema) -> Any:
    """The least value that meets the schema."""
    schema = _followed(schema)
    if given := schema.get("examples") or choices(schema):
        return given[0]
    match schema.get("type"):
        case "object":
            names = schema.get("required", ["some_id"] * schema.get("minProperties", 0))
            return {name: example(_below(schema, name)) for name in names}
        case "array":
            return [example(schema["items"])] * schema.get("minItems", 0)
        case "integer":
            return schema.get("minimum", 0)
        case "null" | None:
            return None
    return "some_id" if "pattern" in schema else "some text"


def choices(schema: Schema) -> list[Any]:
    """The only values that may stand where the schema rules; empty if there are others."""
    if "const" in schema:
        return [schema["const"]]
    return list(schema.get("enum", ()))


def _below(schema: Schema, step: str | int) -> Schema:
    found: Schema
    if isinstance(step, int):
        found = schema.get("items", {})
    elif step in schema.get("properties", {}):
        found = schema["properties"][step]
    else:
        patterns = schema.get("patternProperties", {})
        other = next(iter(patterns.values()), schema.get("additionalProperties", {}))
        found = other if isinstance(other, dict) else {}
    return found


def _followed(schema: Schema) -> Schema:
    while "$ref" in schema:
        schema = bench_schema()["$defs"][schema["$ref"].rpartition("/")[2]]
    if "anyOf" in schema:  # one value or several, or none: several is the general one
        several = [one for one in schema["anyOf"] if one != {"type": "null"}][-1]
        return {**schema, **_followed(several)}
    return schema


def _parts(schema: Any) -> Iterator[Schema]:
    if isinstance(schema, dict):
        yield schema
        for value in schema.values():
            yield from _parts(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from _parts(value)


def _tighten(part: Schema) -> None:
    """Takes back what pydantic's schema admits and the loader does not: empty values, keys off the pattern."""
    if isinstance(part.get("patternProperties"), dict):
        part.setdefault("additionalProperties", False)
    for name, field in part.get("properties", {}).items():
        kept = [one for one in field.get("anyOf", ()) if one != {"type": "null"}]
        if len(kept) == 1:
            rest = {key: value for key, value in field.items() if key != "anyOf" and value is not None}
            part["properties"][name] = {**rest, **kept[0]}
