"""Closed intervals of integer nanoseconds: the true value lies inside, ends included."""

from dataclasses import dataclass

__all__ = ["Interval", "delay", "ms_down", "ms_up"]

_TENTH = 100_000  # ns of a tenth of a millisecond


@dataclass(frozen=True, slots=True)
class Interval:
    """From `lo` to `hi` nanoseconds, both included; `hi` None: no upper bound is known."""

    lo: int
    hi: int | None

    def __post_init__(self) -> None:
        for end in (self.lo, *([] if self.hi is None else [self.hi])):
            if isinstance(end, bool) or not isinstance(end, int):
                raise TypeError(f"an interval's ends are integer nanoseconds, not {end!r}")
        if self.hi is not None and self.hi < self.lo:
            raise ValueError(f"an interval ends before it begins: {self.lo} > {self.hi}")

    def __contains__(self, value: int) -> bool:
        return self.lo <= value and (self.hi is None or value <= self.hi)

    def hull(self, other: "Interval") -> "Interval":
        """The smallest interval that holds both."""
        hi = None if self.hi is None or other.hi is None else max(self.hi, other.hi)
        return Interval(min(self.lo, other.lo), hi)

    def shift(self, by: "Interval") -> "Interval":
        """Every sum of one value of each."""
        hi = None if self.hi is None or by.hi is None else self.hi + by.hi
        return Interval(self.lo + by.lo, hi)


def delay(onset: Interval, effect: Interval) -> Interval:
    """Holds the true delay from onset to effect if each argument holds its true instant."""
    if onset.hi is None:
        raise ValueError("the delay from an onset without upper bound has no lower bound")
    return Interval(effect.lo - onset.hi, None if effect.hi is None else effect.hi - onset.lo)


def ms_down(ns: float) -> str:
    """Nanoseconds as milliseconds to one place, rounded down: '12.3', '130'. A lower bound is never printed larger."""
    return _tenths(int(ns // _TENTH))


def ms_up(ns: float) -> str:
    """Nanoseconds as milliseconds to one place, rounded up: '12.4', '130'. An upper bound is never printed smaller."""
    return _tenths(int(-(-ns // _TENTH)))


def _tenths(count: int) -> str:
    whole, rest = divmod(abs(count), 10)
    return f"{'-' if count < 0 else ''}{whole}{f'.{rest}' if rest else ''}"
