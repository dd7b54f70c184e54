"""What pydantic found wrong, in the words of a bench file."""

from typing import Final

from pydantic_core import ErrorDetails

from interlock.bench.refusal import Refusal, advise, quoted
from interlock.bench.schema import choices, entries, example, required, schema_at
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["describe", "path_of"]


def path_of(detail: ErrorDetails) -> Path:
    """Where in the data the error is."""
    return tuple(part for part in detail["loc"] if part != "[key]")


def describe(detail: ErrorDetails) -> Mistake:
    """The mistake in words of a bench file; raises nothing, whatever the error."""
    path, at_key = path_of(detail), "[key]" in detail["loc"]
    name = next((part for part in reversed(path) if isinstance(part, str)), "file")
    holder = next((quoted(part) for part in reversed(path[:-1]) if isinstance(part, str)), "a bench file")
    what = "key" if at_key else quoted(name).strip("'") or "empty key"
    match detail["type"]:
        case "extra_forbidden":
            instead = advise(name, entries(path[:-1]))
            return Mistake(path, f"unknown key {quoted(name)}", f"{holder} has no such entry", instead, True)
        case "missing":
            lost = f"missing entry {quoted(name)}"
            return Mistake(path, lost, f"{holder} needs it", f"add {_wanted(path)}", at_key=True)
        case "value_error" if isinstance(refusal := detail["ctx"]["error"], Refusal):
            return Mistake(path, what, refusal.why, refusal.instead, at_key, column=refusal.column)
    return Mistake(path, what, *_phrase(detail), at_key=at_key)


def _wanted(path: Path) -> str:
    schema = schema_at(path)
    if schema.get("type") in {"object", "array"}:
        below = ", ".join(required(path))
        return f"'{path[-1]}:'" + (f" with {below} below it" if below else "")
    known = choices(schema) or "examples" in schema
    return f"'{path[-1]}: {example(schema) if known else '...'}'"


def _phrase(detail: ErrorDetails) -> tuple[str, str]:
    value, schema = detail["input"], schema_at(path_of(detail))
    shown = _KINDS.get(type(value)) or quoted(value)
    match detail["type"]:
        case "string_type":
            if type(value) not in _SCALARS:
                return f"{shown} is no text", "write a line of text"
            return f"YAML reads {shown} as {_SCALARS[type(value)]}, not as text", "put it in quotes"
        case "string_pattern_mismatch":
            return f"{shown} is no id", "write small letters, digits and _, beginning with a letter"
        case "string_too_short":
            return "it is empty", "write what a reader needs to know"
        case "too_short":
            least, there = detail["ctx"]["min_length"], detail["ctx"]["actual_length"]
            if least > 1:
                return (
                    f"it has {there or 'no'} {'entry' if there == 1 else 'entries'}",
                    f"write at least {least}",
                )
            return "it is empty", "write at least one entry"
        case "model_type" | "dict_type":
            below = ", ".join(required(path_of(detail))) or "key: value"
            return f"{shown} stands where keys and values should", f"write below it, indented: {below}"
        case "list_type":
            inside = value if isinstance(value, str) and len(value) < 40 else "a, b"
            return f"{shown} stands where a list should", f"write a list: [{inside}]"
        case "literal_error":
            return f"{shown} is none of the choices", advise(str(value), map(str, choices(schema)))
        case "int_type":
            return f"{shown} is no whole number", "write a whole number"
        case "greater_than_equal":
            return f"{shown} is too small", f"write {detail['ctx']['ge']} or more"
    return f"{shown} does not fit ({detail['msg']})", "see the schema of the bench file"


_KINDS: Final = {dict: "a mapping", list: "a list", type(None): "an empty value"}
_SCALARS: Final = {int: "a number", float: "a number", bool: "a truth value"}
