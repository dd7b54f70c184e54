"""Whether a file has the entries of a bench description, each of the right form; and the bench, as far as it has."""

import copy
from collections.abc import Iterable
from typing import Any, Final, NamedTuple

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from interlock.bench.models import Bench
from interlock.bench.refusal import Refusal, advise, near_words, quoted
from interlock.bench.schema import choices, entries, example, required, schema_at
from interlock.bench.yaml_source import Mistake, Path, YamlSource

__all__ = ["Structure", "read_structure"]

_MOST_ROUNDS: Final = 4


class Structure(NamedTuple):
    """What was wrong, and the bench with an example in the place of each wrong entry (None: beyond repair)."""

    bench: Bench | None
    mistakes: list[Mistake]


def read_structure(source: YamlSource) -> Structure:
    """Validate the data of `source`; each mistake's path is added to `source.broken`.

    The bench returned beside mistakes serves only to look for further ones.
    """
    data, mistakes = copy.deepcopy(source.data), list[Mistake]()
    for _ in range(_MOST_ROUNDS):
        try:
            return Structure(Bench.model_validate(data), mistakes)
        except ValidationError as error:
            details = error.errors(include_url=False)
        mistakes += _mistakes(source, details)
        data = _repaired(data, details)
    return Structure(None, mistakes)


def _mistakes(source: YamlSource, details: Iterable[ErrorDetails]) -> list[Mistake]:
    new = [detail for detail in details if not _known(source, detail)]
    unknown = [_path(detail) for detail in new if detail["type"] == "extra_forbidden"]
    meant = {(*path[:-1], word) for path in unknown for word in _meant(source, path)}
    found = [_mistake(detail) for detail in new if _path(detail) not in meant]
    source.broken |= {_path(detail) for detail in new} | meant
    return found


def _known(source: YamlSource, detail: ErrorDetails) -> bool:
    path = _path(detail)
    return source.is_broken(path) or (detail["type"] == "value_error" and source.holds_broken(path))


def _path(detail: ErrorDetails) -> Path:
    return tuple(part for part in detail["loc"] if part != "[key]")


def _meant(source: YamlSource, path: Path) -> list[str]:
    """The entry that an unknown key was probably meant to be: the likest of those that do not stand there."""
    absent = [name for name in entries(path[:-1]) if (*path[:-1], name) not in source.keys]
    return near_words(str(path[-1]), absent)[:1]


def _mistake(detail: ErrorDetails) -> Mistake:
    path, at_key = _path(detail), "[key]" in detail["loc"]
    name = next((part for part in reversed(path) if isinstance(part, str)), "file")
    holder = next((quoted(part) for part in reversed(path[:-1]) if isinstance(part, str)), "a bench file")
    match detail["type"]:
        case "extra_forbidden":
            instead = advise(name, entries(path[:-1]))
            return Mistake(path, f"unknown key {quoted(name)}", f"{holder} has no such entry", instead, True)
        case "missing":
            what = f"missing entry {quoted(name)}"
            return Mistake(path, what, f"{holder} needs it", f"add {_wanted(path)}", at_key=True)
        case "value_error" if isinstance(refusal := detail["ctx"]["error"], Refusal):
            what = "key" if at_key else name
            return Mistake(path, what, refusal.why, refusal.instead, at_key, column=refusal.column)
    return Mistake(path, "key" if at_key else name, *_phrase(detail), at_key=at_key)


def _wanted(path: Path) -> str:
    schema = schema_at(path)
    if schema.get("type") in {"object", "array"}:
        below = ", ".join(required(path))
        return f"'{path[-1]}:'" + (f" with {below} below it" if below else "")
    known = choices(schema) or "examples" in schema
    return f"'{path[-1]}: {example(schema) if known else '...'}'"


def _phrase(detail: ErrorDetails) -> tuple[str, str]:
    value, schema = detail["input"], schema_at(_path(detail))
    shown = _KINDS.get(type(value)) or quoted(value)
    match detail["type"]:
        case "string_type":
            text = type(value) in {int, float, bool}
            why = (
                f"YAML reads {value} as {_SCALARS[type(value)]}, not as text"
                if text
                else f"{shown} is no text"
            )
            return why, "put it in quotes" if text else "write a line of text"
        case "string_pattern_mismatch":
            return f"{shown} is no id", "write small letters, digits and _, beginning with a letter"
        case "string_too_short" | "too_short":
            return "it is empty", "write at least one entry"
        case "model_type" | "dict_type":
            below = ", ".join(required(_path(detail))) or "key: value"
            return f"{shown} stands where keys and values should", f"write below it, indented: {below}"
        case "list_type":
            return f"{shown} stands where a list should", "write a list: [a, b]"
        case "literal_error":
            return f"{shown} is none of the choices", advise(str(value), map(str, choices(schema)))
        case "int_type":
            return f"{shown} is no whole number", "write a whole number"
        case "greater_than_equal":
            return f"{shown} is too small", f"write {detail['ctx']['ge']} or more"
    return f"{shown} does not fit ({detail['msg']})", "see the schema of the bench file"


_KINDS: Final = {dict: "a mapping", list: "a list", type(None): "an empty value"}
_SCALARS: Final = {int: "a number", float: "a number", bool: "a truth value"}


def _repaired(data: Any, details: Iterable[ErrorDetails]) -> Any:
    for detail in details:
        path = _path(detail)
        if not path:
            return example(schema_at(()))
        holder = data
        for step in path[:-1]:
            holder = holder[step]
        if detail["type"] == "extra_forbidden" or "[key]" in detail["loc"]:
            holder.pop(path[-1], None)
        else:
            holder[path[-1]] = example(schema_at(path))
    return data
