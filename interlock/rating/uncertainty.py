"""Inputs known only as a range: results as a range, and which input decides, sorted."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from interlock.errors import RatingError
from interlock.rating.values import at_least_zero

__all__ = ["Better", "Range", "Sensitivity", "sensitivities"]

Better = Literal["more", "less"]


@dataclass(frozen=True, slots=True)
class Range:
    """A number that lies from `low` to `high`, both included, and which end is the better one for safety."""

    low: float
    high: float
    better: Better = "more"

    def __post_init__(self) -> None:
        for end in (self.low, self.high):
            at_least_zero("an end of a range", end, "give finite numbers, 0 or more")
        if self.high < self.low:
            raise RatingError(f"a range from {self.low!r} to {self.high!r}: give the lower end first")

    @property
    def worse_end(self) -> float:
        """The pessimistic end."""
        return self.low if self.better == "more" else self.high

    @property
    def better_end(self) -> float:
        """The optimistic end."""
        return self.high if self.better == "more" else self.low


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What the result would be if one input had its better end and all others their worse one."""

    name: str
    worse: float
    better: float
    result_if_worse: float
    result_if_better: float

    @property
    def gain(self) -> float:
        """Result at the worse end over result at the better end: 1 means that the input does not matter."""
        if self.result_if_worse == self.result_if_better:  # both may be infinite: no result at either end
            return 1.0
        return self.result_if_worse / self.result_if_better


Computation = Callable[[Mapping[str, float]], float]


def sensitivities(compute: Computation, ranges: Mapping[str, Range]) -> tuple[Sensitivity, ...]:
    """For each input the result with that one alone at its better end; the largest gain first, then by name."""
    worst = {name: known.worse_end for name, known in ranges.items()}
    base = compute(worst)
    found = [
        Sensitivity(name, known.worse_end, known.better_end, base, compute({**worst, name: known.better_end}))
        for name, known in ranges.items()
    ]
    return tuple(sorted(found, key=lambda item: (-item.gain, item.name)))
