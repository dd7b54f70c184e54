"""Number types of the `rating:` section, a number or a pair [low, high], each with its better end; and its days."""

import re
from collections.abc import Callable
from datetime import date
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, PlainValidator, WithJsonSchema

from interlock.rating.iso13849_mttfd import category_name
from interlock.rating.uncertainty import Better, Range
from interlock.rating.values import positive, share

__all__ = ["Beta", "Day", "Fewer", "Longer", "Rate", "Share", "Smaller", "Years", "category_text"]

HOURS_FROM: Final = 26280.0
"""Three years in hours: a stated MTTFd of so many "years" is most likely given in hours."""

_NUMBER: Final = {"type": "number", "exclusiveMinimum": 0}
_SCHEMA: Final = {"anyOf": [_NUMBER, {"type": "array", "items": _NUMBER, "minItems": 2, "maxItems": 2}]}


def _known(better: Better, check: Callable[[object], float]) -> PlainValidator:
    def read(value: Any) -> Range:
        if isinstance(value, Range):
            return value
        pair = value if isinstance(value, list) else [value, value]
        if len(pair) != 2:
            raise ValueError(f"{value!r}: give a number, or a pair [low, high]")
        return Range(check(pair[0]), check(pair[1]), better)

    return PlainValidator(read)


def _years(value: object) -> float:
    return positive(
        "MTTFd",
        value,
        f"give years, above 0 and below {HOURS_FROM:g} (is it hours? one year has 8760)",
        at_most=HOURS_FROM,
    )


def _cycles(value: object) -> float:
    return positive("life", value, "give cycles, above 0")


def _use(value: object) -> float:
    return positive("use", value, "give operations a year, above 0")


def _rate(value: object) -> float:
    return positive("rate", value, "give dangerous failures an hour, above 0 and at most 1e-4", at_most=1e-4)


def _size(value: object) -> float:
    return positive("value", value, "give a finite number above 0, or [low, high] with its tolerance")


def _share(value: object) -> float:
    return share("share", value, "give a fraction from 0 to below 1 (99 % is 0.99)")


Longer = Annotated[Range, _known("more", _cycles), WithJsonSchema(_SCHEMA)]
"""A life in cycles: more is better."""
Fewer = Annotated[Range, _known("less", _use), WithJsonSchema(_SCHEMA)]
"""Operations a year: less is better."""
Years = Annotated[Range, _known("more", _years), WithJsonSchema(_SCHEMA)]
"""An MTTFd in years: more is better."""
Rate = Annotated[Range, _known("less", _rate), WithJsonSchema(_SCHEMA)]
"""Dangerous failures an hour: less is better."""
Share = Annotated[Range, _known("more", _share), WithJsonSchema(_SCHEMA)]
"""A coverage or safe failure fraction: more is better."""
Smaller = Annotated[Range, _known("less", _size), WithJsonSchema(_SCHEMA)]
"""A resistance, a capacitance or a time constant: less is better."""
Beta = Annotated[Range, _known("less", _share), WithJsonSchema(_SCHEMA)]
"""A common-cause factor: less is better."""


def _day(value: object) -> object:
    if isinstance(value, date):
        return value
    try:
        if not isinstance(value, str) or re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", value) is None:
            raise ValueError
        return date.fromisoformat(value)
    except ValueError:
        raise ValueError(f'{value!r} is no day: write it in quotes, as "2026-01-31"') from None


Day = Annotated[date, BeforeValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]
"""A day, written in quotes."""


def category_text(value: object) -> str:
    """'B', '1' ... '4' for what a YAML file may hold; else RatingError."""
    return category_name(value)
