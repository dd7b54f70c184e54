"""Reading a JSON document with the place of each mistake: one wrong entry gives one clear error."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from interlock.errors import EvidenceError
from interlock.interval import Interval
from interlock.verdict import Verdict

__all__ = ["Fields"]


@dataclass(frozen=True, slots=True)
class Fields:
    """A JSON object and where it stands in its document."""

    raw: Mapping[str, Any]
    where: str

    @classmethod
    def of(cls, value: object, where: str) -> "Fields":
        """The value as an object; raises EvidenceError if it is none."""
        if not isinstance(value, Mapping):
            raise _wrong(where, "an object", value)
        return cls(value, where)

    def __contains__(self, key: str) -> bool:
        return self.raw.get(key) is not None

    def get(self, key: str) -> Any:
        """The entry; raises EvidenceError if it is missing."""
        if key not in self.raw:
            raise EvidenceError(f"{self.where}: entry {key!r} is missing; make the result anew")
        return self.raw[key]

    def text(self, key: str) -> str:
        """A text entry; empty if it is missing or null."""
        value = self.raw.get(key)
        if value is None:
            return ""
        if not isinstance(value, str):
            raise _wrong(f"{self.where}.{key}", "a text", value)
        return value

    def need(self, key: str) -> str:
        """A text entry that must be there and must not be empty."""
        self.get(key)
        if not self.text(key).strip():
            raise EvidenceError(f"{self.where}.{key}: is empty; a report must name it")
        return self.text(key)

    def number(self, key: str) -> int | None:
        """A whole number; None if it is missing or null."""
        value = self.raw.get(key)
        if value is None or (isinstance(value, int) and not isinstance(value, bool)):
            return value
        raise _wrong(f"{self.where}.{key}", "a whole number", value)

    def real(self, key: str) -> float | None:
        """A finite number; None if it is missing or null."""
        value = self.raw.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise _wrong(f"{self.where}.{key}", "a finite number", value)
        return float(value)

    def need_real(self, key: str) -> float:
        """A finite number that must be there."""
        value = self.real(key)
        if value is None:
            raise EvidenceError(f"{self.where}: entry {key!r} is missing; make the result anew")
        return value

    def verdict(self, key: str = "verdict") -> Verdict:
        """One of the four verdicts."""
        try:
            return Verdict(self.get(key))
        except ValueError:
            raise _wrong(f"{self.where}.{key}", f"one of {', '.join(Verdict)}", self.raw[key]) from None

    def span(self, key: str) -> Interval | None:
        """An interval written [lo, hi] or [lo, null]; None if it is missing or null."""
        value = self.raw.get(key)
        if value is None:
            return None
        try:
            low, high = value
            return Interval(low, high)
        except (TypeError, ValueError):
            raise _wrong(f"{self.where}.{key}", "[lo, hi] or [lo, null] in whole ns", value) from None

    def items(self, key: str) -> Sequence[Any]:
        """A list; empty if it is missing or null."""
        value = self.raw.get(key)
        if value is None:
            return ()
        if isinstance(value, str) or not isinstance(value, Sequence):
            raise _wrong(f"{self.where}.{key}", "a list", value)
        return value

    def objects(self, key: str) -> Iterator["Fields"]:
        """The objects of a list."""
        for index, item in enumerate(self.items(key)):
            yield Fields.of(item, f"{self.where}.{key}[{index}]")

    def words(self, key: str) -> tuple[str, ...]:
        """Each item of a list in words: an object's entry `words` where it has one."""
        items = self.items(key)
        return tuple(_words(item.get("words", item) if isinstance(item, Mapping) else item) for item in items)

    def loose(self, key: str) -> str:
        """Any entry as words: lists joined by commas, objects as `name: value`; empty if missing."""
        return _words(self.raw.get(key))


def _words(value: object) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case str() | int():
            return str(value)
        case float():
            return f"{value:g}" if math.isfinite(value) else "not a number"
        case Mapping():
            return ", ".join(f"{key.replace('_', ' ')}: {_words(item)}" for key, item in value.items())
        case Sequence():
            return ", ".join(map(_words, value))
        case _:
            raise _wrong("report material", "JSON", value)


def _wrong(where: str, wanted: str, got: object) -> EvidenceError:
    return EvidenceError(f"{where}: {wanted} was expected, not {str(got)[:60]!r}; make the result anew")
