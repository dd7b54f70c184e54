"""Quantities as people write them on a data sheet: a number, a space, a unit."""

import math
import re
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Final

from interlock.bench.refusal import Refusal, advise, quoted

__all__ = [
    "UNITS",
    "Quantity",
    "QuantityError",
    "example_of",
    "parse_quantity",
    "quantity_pattern",
    "same_unit",
    "time_ns",
    "time_text",
]

UNITS: Final = {
    "time": {
        "ns": "1",
        "us": "1e3",
        "µs": "1e3",  # U+00B5
        "μs": "1e3",  # U+03BC
        "ms": "1e6",
        "s": "1e9",
        "min": "6e10",
        "h": "3.6e12",
    },
    "speed": {"1/min": "1", "1/s": "60", "r/min": "1", "rpm": "1"},
    "voltage": {"V": "1", "mV": "1e-3", "kV": "1e3"},
    "current": {"A": "1", "mA": "1e-3"},
    "torque": {"Nm": "1", "N m": "1", "N·m": "1", "mNm": "1e-3"},
    "inertia": {"kg m2": "1", "kg m²": "1", "kg·m²": "1"},
    "capacitance": {"F": "1", "mF": "1e-3", "µF": "1e-6", "μF": "1e-6", "uF": "1e-6"},
    "power": {"W": "1", "kW": "1e3"},
    "length": {"mm": "1", "m": "1e3"},
    "temperature": {"degC": "1", "°C": "1"},
    "frequency": {"Hz": "1", "kHz": "1e3", "MHz": "1e6", "GHz": "1e9"},
    "ratio": {"ppm": "1", "%": "1e4"},
}
"""Accepted units by dimension, each with its factor to the first unit of that dimension (time: ns).

Symbols and prefixes: SI Brochure (9th edition), tables 2, 4, 7 and 8; r/min and 1/min: ISO 80000-3, rotational
frequency. rpm, Nm without a space, and u for µ: common practice, no source."""

_SPELLINGS: Final = {
    **dict.fromkeys(("min-1", "min^-1", "min⁻¹", "U/min", "RPM"), "1/min"),
    **dict.fromkeys(("s-1", "s^-1", "s⁻¹"), "1/s"),
    **dict.fromkeys(("N*m", "N.m"), "Nm"),
    **dict.fromkeys(("Volt", "Volts", "volt"), "V"),
    **dict.fromkeys(("Amp", "Amps", "Ampere", "amp"), "A"),
    **dict.fromkeys(("sec", "Sec"), "s"),
    **dict.fromkeys(("Cel", "deg C", "Â°C"), "°C"),  # the last: UTF-8 read as Latin-1
    **dict.fromkeys(("-", "--", "1"), ""),  # of what has no unit
}
"""How message databases write those units (common practice, no source)."""

_EXAMPLES: Final = {"time": "100 ms", "speed": "1500 1/min", "voltage": "60 V", "current": "0.3 A"}
_NUMBER: Final = r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,3})?"
_TEXT: Final = re.compile(rf"({_NUMBER})\s*(.*)", re.DOTALL)
_LONGEST: Final = 100
_EXACT: Final = Context(prec=2000)  # more digits than a text and a factor together can have


class QuantityError(Refusal):
    """Text that is no quantity of the wanted dimension; its text says why and what to write instead."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in the base unit of its dimension (see `UNITS`), and the text it was written as."""

    value: Decimal
    dimension: str
    text: str

    @property
    def number(self) -> float:
        """The value in the base unit of the dimension."""
        return float(self.value)

    def __str__(self) -> str:
        return self.text


def parse_quantity(text: object, dimension: str) -> Quantity:
    """Read `text` as a quantity of `dimension`, exactly; raises QuantityError for anything else."""
    example = f"write a {dimension} such as '{example_of(dimension)}'"
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise QuantityError(f"{quoted(text)} is not a {dimension}", example)
    if not isinstance(text, str):
        raise _no_unit(text, dimension)
    match = _TEXT.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if match is None:
        raise QuantityError(f"{quoted(text)} does not begin with a finite decimal number", example)
    number, unit = match[1], match[2].strip()
    if unit not in UNITS[dimension]:
        raise _wrong_unit(number, unit, dimension) if unit else _no_unit(number, dimension)
    value = _EXACT.multiply(Decimal(number), Decimal(UNITS[dimension][unit]))
    size = float(value)
    if not math.isfinite(size) or (value and not size):
        raise QuantityError(f"{quoted(text)} is too {'small' if size == 0 else 'large'}", example)
    return Quantity(value, dimension, f"{number} {unit}")


def quantity_pattern(dimension: str) -> str:
    """The regular expression of the texts that may be a quantity of `dimension`, for JSON Schema."""
    units = "|".join(UNITS[dimension])
    return rf"^\s*{_NUMBER}\s*({units})\s*$"


def example_of(dimension: str) -> str:
    """A quantity as people write it."""
    return _EXAMPLES.get(dimension, f"1.5 {next(iter(UNITS[dimension]))}")


def time_ns(quantity: Quantity) -> int:
    """A time in whole nanoseconds; raises QuantityError if it is no whole number of them, or no int64."""
    if abs(quantity.value) >= 2**63:
        raise QuantityError(f"{quoted(quantity)} is longer than 292 years", "write a shorter time")
    if quantity.value != quantity.value.to_integral_value():
        raise QuantityError(f"{quoted(quantity)} is finer than a nanosecond", "write whole nanoseconds")
    return int(quantity.value)


def time_text(time_ns: int) -> str:
    """The time as people write it, which `parse_quantity` reads back to the same."""
    for unit in ("s", "ms", "us"):
        factor = Decimal(UNITS["time"][unit])
        if abs(time_ns) >= factor:
            return f"{(time_ns / factor).normalize():f} {unit}"
    return f"{time_ns} ns" if time_ns else "0 ms"


def same_unit(left: str, right: str) -> bool:
    """Whether two spellings name the same unit (as in a DBC and in a bench description)."""
    return _meaning(left) == _meaning(right)


def _meaning(unit: str) -> tuple[str, Decimal] | str:
    spelling = " ".join(unit.split())
    symbol = _SPELLINGS.get(spelling, spelling)
    factors = [(name, Decimal(units[symbol])) for name, units in UNITS.items() if symbol in units]
    return factors[0] if factors else symbol


def _no_unit(number: object, dimension: str) -> QuantityError:
    unit = "ms" if dimension == "time" else next(iter(UNITS[dimension]))
    return QuantityError(
        f"{quoted(number)} has no unit", f"write '{number} {unit}' or another unit of {dimension}"
    )


def _wrong_unit(number: str, unit: str, dimension: str) -> QuantityError:
    if comma := re.match(r",([0-9]+)\s*(.*)", unit):
        return QuantityError(
            "a comma is no decimal sign here", f"write '{number}.{comma[1][:20]} {comma[2][:20]}'"
        )
    if re.match(r"[0-9._](?!.*/)", unit):
        why = f"{quoted(f'{number} {unit}')} is not one number and a unit"
        return QuantityError(why, f"write a {dimension} such as '{example_of(dimension)}'")
    return QuantityError(f"{quoted(unit)} is not a unit of {dimension}", advise(unit, UNITS[dimension]))
