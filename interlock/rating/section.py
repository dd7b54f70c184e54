"""The `rating:` section of a bench file, each mistake with its line and column."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from interlock.bench.yaml_source import YamlSource, read_yaml
from interlock.errors import BenchError, InterlockError, Problem
from interlock.rating.inputs import RatingInputs

__all__ = ["rating_of"]

_HINT = "see the section 'rating' of the built-in bench"


def rating_of(bench_file: Path) -> RatingInputs:
    """The checked section of a bench file that is sound otherwise; BenchError with every mistake in it.

    InterlockError if the file has no such section: nothing is rated out of nothing.
    """
    source = read_yaml(str(bench_file), bench_file.read_text(encoding="utf-8"))
    section = source.data.get("rating") if isinstance(source.data, dict) else None
    if section is None:
        raise InterlockError(
            f"{bench_file}: it has no section 'rating'; add the parts and levels to be rated ({_HINT})"
        )
    try:
        inputs = RatingInputs.model_validate(section)
    except ValidationError as error:
        found = []
        for detail in error.errors(include_url=False):
            path = ("rating", *(part for part in detail["loc"] if part != "[key]"))
            unknown = detail["type"] in {"extra_forbidden", "missing"}
            found.append(source.problem(path, f"'{path[-1]}'", _why(detail), _HINT, at_key=unknown))
        raise BenchError(found) from error
    if absent := list(_unknown(source, inputs)):
        raise BenchError(absent)
    return inputs


def _unknown(source: YamlSource, inputs: RatingInputs) -> Iterator[Problem]:
    """Functions and effects that the bench does not require: nothing is known of their structure."""
    data = source.data if isinstance(source.data, dict) else {}
    required = data["required"]["functions"]
    for name, function in inputs.functions.items():
        path = ("rating", "functions", name)
        if name not in required:
            why, instead = "the bench requires no such function", f"name one of {', '.join(required)}"
            yield source.problem(path, f"'{name}'", why, instead, at_key=True)
            continue
        known = [*required[name]["effects"], *(["supply_stays_off"] if "supply" in required[name] else [])]
        for index, effect in enumerate(function.effects or ()):
            if effect not in known:
                why, instead = f"'{name}' is not required to do this", f"name one of {', '.join(known)}"
                yield source.problem((*path, "effects", index), f"'{effect}'", why, instead)


def _why(detail: Mapping[str, Any]) -> str:
    """The mistake in the words of somebody who writes such a file."""
    given, limits = f"it is {detail.get('input')!r}", detail.get("ctx", {})
    match detail["type"]:
        case "missing":
            return "it is missing and must be given"
        case "extra_forbidden":
            return "there is no such entry here"
        case "literal_error":
            return f"{given}: give {limits['expected']}"
        case "greater_than":
            return f"{given}: give a number above {limits['gt']:g}"
        case "greater_than_equal":
            return f"{given}: give {limits['ge']:g} or more"
        case "less_than_equal":
            return f"{given}: give {limits['le']:g} or less"
        case "float_type" | "finite_number" | "int_type":
            return f"{given}: give a finite number, without unit and without quotes"
        case "string_type" | "string_too_short":
            return f"{given}: give a text"
        case _:
            return str(detail["msg"]).removeprefix("Value error, ")
