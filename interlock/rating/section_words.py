"""What pydantic found wrong in the section `rating`, in the words of somebody who writes such a file."""

import re
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from interlock.bench.refusal import advise
from interlock.rating.inputs import RatingInputs

__all__ = ["HINT", "why_and_instead"]

HINT: Final = "see the section 'rating' of the built-in bench"
_KINDS: Final = {dict: "a mapping", list: "a list", type(None): "an empty value"}


def why_and_instead(detail: Mapping[str, Any]) -> tuple[str, str]:
    """Why the entry is refused, and what to write instead of it."""
    path = tuple(part for part in detail["loc"] if part != "[key]")
    value, limits = detail.get("input"), detail.get("ctx", {})
    given = f"it is {_shown(value)}"
    match detail["type"]:
        case "missing":
            return "it is missing and must be given", f"add '{path[-1]}: ...'{_below(path)}; {HINT}"
        case "extra_forbidden":
            return "there is no such entry here", advise(
                str(path[-1]), _schema(path[:-1]).get("properties", ())
            )
        case "model_type" | "dict_type":
            return (
                f"{_shown(value)} stands where keys and values should",
                f"write them indented{_below(path)}; {HINT}",
            )
        case "list_type" | "tuple_type":
            return f"{_shown(value)} stands where a list should", f"write a list: [a, b]; {HINT}"
        case "too_short" if limits["min_length"] > 1:
            return f"it is a list of {limits['actual_length']}: give {limits['min_length']} or more", HINT
        case "literal_error":
            return f"{given}: give {limits['expected']}", HINT
        case "greater_than":
            return f"{given}: give a number above {limits['gt']:g}", HINT
        case "greater_than_equal":
            return f"{given}: give {limits['ge']:g} or more", HINT
        case "less_than_equal":
            return f"{given}: give {limits['le']:g} or less", HINT
        case "float_type" | "finite_number" | "int_type":
            why = f"{given}: give a finite number, without unit and without quotes"
            return why + _as_number(value), HINT
        case "string_type" | "string_too_short":
            return f"{given}: give a text", HINT
    return str(detail["msg"]).removeprefix("Value error, ") + _as_number(value), HINT


def _shown(value: object) -> str:
    """As it stands in the file, short."""
    if type(value) in _KINDS:
        return _KINDS[type(value)]
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _below(path: tuple[str | int, ...]) -> str:
    """The keys that must stand below the entry, if there are any."""
    needed = ", ".join(_schema(path).get("required", ()))
    return f", with {needed} below it" if needed else ""


@cache
def _whole() -> dict[str, Any]:
    return RatingInputs.model_json_schema()


def _schema(path: tuple[str | int, ...]) -> dict[str, Any]:
    """What may stand at a path below the section; {} where anything may."""
    here = _followed(_whole())
    for step in path:
        if isinstance(step, int):
            found = here.get("items", {})
        else:
            found = here.get("properties", {}).get(step, here.get("additionalProperties"))
        here = _followed(found if isinstance(found, dict) else {})
    return here


def _followed(schema: dict[str, Any]) -> dict[str, Any]:
    while "$ref" in schema:
        schema = _whole()["$defs"][schema["$ref"].rpartition("/")[2]]
    kept = [one for one in schema.get("anyOf", ()) if one != {"type": "null"}]
    return _followed(kept[0]) if len(kept) == 1 else schema


def _as_number(given: object) -> str:
    """What to write for a text that is meant as a number: in YAML an exponent needs sign and point."""
    for text in given if isinstance(given, list) else [given]:
        if isinstance(text, str) and re.fullmatch(r"[0-9.]+[eE]?[-+]?[0-9]*", text):
            mantissa, _, exponent = text.lower().partition("e")
            mantissa += ".0" if exponent and "." not in mantissa else ""
            meant = (
                f"{mantissa}e{exponent if exponent[:1] in '+-' else f'+{exponent}'}" if exponent else mantissa
            )
            return f" (meant as a number: write {meant}, without quotes)"
    return ""
