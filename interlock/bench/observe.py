"""How a device shows itself in the log: a signal, or a condition on signals.

value     = MESSAGE.SIGNAL
condition = comparison {"and" comparison} | comparison {"or" comparison}
comparison = (MESSAGE.SIGNAL | "|" MESSAGE.SIGNAL "|") ("is" | "<" | "<=" | ">" | ">=") number [unit]
           | MESSAGE.SIGNAL "is" "'" name of a value "'"
"""

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from interlock.bench.refusal import Refusal, quoted

__all__ = [
    "Amount",
    "Comparison",
    "Condition",
    "ObserveError",
    "SignalName",
    "parse_amount",
    "parse_condition",
    "parse_level",
    "parse_signal",
]

Operator = Literal["is", "<", "<=", ">", ">="]

_NAME: Final = r"([A-Za-z_]\w*)\.([A-Za-z_]\w*)"
_SIGNAL: Final = re.compile(_NAME, re.ASCII)
_DIGITS: Final = r"[0-9]+(?:\.[0-9]+)?"
_LONGEST: Final = 100
_COMPARISON: Final = re.compile(
    rf"(?P<bar>\|?)\s*{_NAME}\s*(?P<end>\|?)\s+(?P<op>is|<=|>=|<|>)\s+(?P<value>[+-]?{_DIGITS})(?P<unit>\s+\S.*)?",
    re.ASCII,
)
_NAMED: Final = re.compile(rf"{_NAME}\s+is\s+'(?P<label>[^']+)'", re.ASCII)


class ObserveError(Refusal):
    """Text that names no signal or states no condition."""


@dataclass(frozen=True, slots=True)
class SignalName:
    """A signal of the log."""

    message: str
    signal: str

    def __str__(self) -> str:
        return f"{self.message}.{self.signal}"


@dataclass(frozen=True, slots=True)
class Comparison:
    """A signal (or its magnitude) against a number in the signal's own unit."""

    name: SignalName
    magnitude: bool
    operator: Operator
    value: float  # NaN: only a name was written
    unit: str  # empty: none was written
    label: str = ""  # the name of the value, as the description of the message has it


@dataclass(frozen=True, slots=True)
class Condition:
    """All (`every`) or any of the comparisons hold."""

    comparisons: tuple[Comparison, ...]
    every: bool
    text: str


def parse_signal(text: str) -> SignalName:
    """Read `MESSAGE.SIGNAL`; raises ObserveError."""
    _refuse_undecided(text)
    match = _SIGNAL.fullmatch(text.strip())
    if match is None:
        instead = "write both names as in the DBC"
        raise ObserveError(f"{quoted(text)} is not of the form MESSAGE.SIGNAL", instead)
    return SignalName(match[1], match[2])


@dataclass(frozen=True, slots=True)
class Amount:
    """A number (of zero or more, but for a level) in the unit of the signal that it belongs to."""

    value: float
    unit: str


def parse_amount(text: str) -> Amount:
    """Read a number and its unit; raises ObserveError."""
    match = re.fullmatch(rf"({_DIGITS})(?:\s+(\S.*))?", text.strip(), re.ASCII)
    if match is None or len(match[1]) > _LONGEST:
        instead = "write a number and the signal's unit"
        raise ObserveError(f"{quoted(text)} is not of the form '0.1 A'", instead)
    return Amount(float(match[1]), (match[2] or "").strip())


def parse_level(text: str) -> Amount:
    """Read a number, which may be negative, and its unit; raises ObserveError."""
    found = parse_amount(text.strip().removeprefix("-"))
    return Amount(-found.value, found.unit) if text.strip().startswith("-") else found


def _refuse_undecided(text: str) -> None:
    """What a first draft leaves to be decided begins with this word."""
    if text.split()[:1] == ["undecided"]:
        instead = "name its device and output, check the polarity, then take the word out"
        raise ObserveError("it begins with 'undecided'", instead)


def parse_condition(text: str) -> Condition:
    """Read a condition; raises ObserveError that says which part does not fit, and where it begins."""
    _refuse_undecided(text)
    plain = re.sub(r"'[^']*'", lambda name: "'" * len(name[0]), text)  # a name may hold these words
    joints = list(re.finditer(r"(?<!\S)(and|or)(?!\S)", plain))
    words = {joint[1] for joint in joints}
    if len(words) > 1:
        second = next(joint for joint in joints if joint[1] != joints[0][1])
        instead = "use one of the two only"
        raise ObserveError("'and' and 'or' stand in one condition", instead, second.start(1))
    begins = [0, *(joint.end() for joint in joints)]
    ends = [*(joint.start() for joint in joints), len(text)]
    parts = tuple(_comparison(text[lo:hi], lo) for lo, hi in zip(begins, ends, strict=True))
    return Condition(parts, words != {"or"}, text)


def _comparison(part: str, at: int) -> Comparison:
    text = part.strip()
    named = _NAMED.fullmatch(text)
    if named is not None:
        return Comparison(SignalName(named[1], named[2]), False, "is", math.nan, "", named["label"].strip())
    match = _COMPARISON.fullmatch(text)
    if match is None or match["bar"] != match["end"] or len(match["value"]) > _LONGEST:
        why = f"{quoted(text)} compares no signal with a number" if text else "a comparison is missing here"
        instead = "write 'MESSAGE.SIGNAL is 1' or '|MESSAGE.SIGNAL| > 0.3 A'"
        raise ObserveError(why, instead, at + len(part) - len(part.lstrip()))
    operator: Operator = match["op"]  # type: ignore[assignment]  # the pattern admits these five only
    name = SignalName(match[2], match[3])
    unit = (match["unit"] or "").strip()
    return Comparison(name, match["bar"] == "|", operator, float(match["value"]), unit)
