"""What a plain YAML scalar means, and which of them mean something that its writer may not expect."""

import math
import re
from typing import Final, NamedTuple

__all__ = ["Scalar", "read_scalar"]

_NUMBER: Final = re.compile(r"[+-]?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_MOST_DIGITS: Final = 300


class Scalar(NamedTuple):
    """A value, what YAML takes it for, and, if it is refused, why and what to write instead."""

    value: object
    name: str
    refused: tuple[str, str] | None = None


def read_scalar(text: str, tag: str) -> Scalar:
    """Read a plain scalar that YAML resolved to `tag`; what people write otherwise than YAML reads is refused."""
    match tag.rpartition(":")[2]:
        case "bool" if text in {"true", "false"}:
            return Scalar(text == "true", "a truth value")
        case "bool":
            why, instead = "YAML reads this as a truth value", f'write "{text}" in quotes, or true or false'
            return Scalar(text, "a truth value", (why, instead))
        case "int" | "float":
            return _number(text)
        case "timestamp":
            return Scalar(text, "a date")
        case "null":
            why = f"YAML reads {text} as nothing" if text else "nothing stands after the colon"
            return Scalar(None, "nothing", (why, "write a value, or remove the key"))
        case _:
            return Scalar(text, "a sign of its own", ("YAML keeps this sign for itself", "put it in quotes"))


def _number(text: str) -> Scalar:
    name = "a number"
    if text.lower().lstrip("+-") in {".inf", ".nan"}:
        return Scalar(text, name, ("this is no finite number", "write a finite number"))
    if _NUMBER.fullmatch(text) is None:
        return Scalar(
            text,
            name,
            (f"YAML reads this as {_notation(text)}", f'write a decimal number, or "{text[:40]}" in quotes'),
        )
    if len(text) > _MOST_DIGITS or not math.isfinite(float(text)):
        return Scalar(text, name, ("this number is too long or too large", "write a number that fits"))
    return Scalar(int(text) if text.lstrip("+-").isdigit() else float(text), name)


def _notation(text: str) -> str:
    digits = text.lower().lstrip("+-")
    if ":" in digits:
        return "a number to the base of sixty"
    for start, base in (("0x", "a hexadecimal number"), ("0b", "a binary number")):
        if digits.startswith(start):
            return base
    if digits.isdigit() and digits.startswith("0"):
        return "an octal number"
    return "a number"
