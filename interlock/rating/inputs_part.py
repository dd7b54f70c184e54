"""The parts of the `rating:` section that fail: how long each lives, how often it switches, what finds its faults."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from interlock.rating.counted import Decides
from interlock.rating.input_values import Day, Fewer, Longer, Share, Years
from interlock.rating.strict import Positive, Strict, Text, one_of
from interlock.rating.typical import COVERAGE, TYPICAL

__all__ = ["Operations", "Part"]


class Operations(Strict):
    """How often a part switches: a number (counted, or estimated), or days, hours and seconds between two.

    All operations count: guard openings, resets and the proof tests themselves, not only emergency stops. `device`:
    the device of the bench whose counts in the register are those of this part; `decides`: which number is used then.
    """

    source: Text = "bench description"
    device: Text | None = None
    decides: Decides = "larger"
    per_year: Fewer | None = None
    days_per_year: Annotated[float, Field(gt=0, le=366)] | None = None
    hours_per_day: Annotated[float, Field(gt=0, le=24)] | None = None
    cycle_time_s: Positive | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        by_time = (self.days_per_year, self.hours_per_day, self.cycle_time_s)
        if self.per_year is None and None in by_time:
            raise ValueError("give per_year, or all of days_per_year, hours_per_day and cycle_time_s")
        if self.per_year is not None and any(value is not None for value in by_time):
            raise ValueError("give per_year or the times, not both")
        return self


class Part(Strict):
    """One part: how long it lives, where that is from, how often it is used, how well its faults are found.

    `installed`: since when it is in place; its day of replacement follows from it.
    """

    source: Text
    b10d: Longer | None = None
    mttfd_years: Years | None = None
    typical: Text | None = None
    fault_exclusion: Text | None = None
    operations: Operations | None = None
    dc: Share | None = None
    dc_measure: Text | None = None
    dc_source: Text | None = None
    replaced_every_years: Positive | None = None
    installed: Day | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        one_of(self, "b10d", "mttfd_years", "typical", "fault_exclusion")
        if self.typical is not None and self.typical not in TYPICAL:
            raise ValueError(f"typical is {self.typical!r}: give one of {', '.join(TYPICAL)}")
        if self.wears and self.operations is None:
            raise ValueError("a part with B10d needs operations: how often it switches a year")
        return self

    @model_validator(mode="after")
    def _coverage(self) -> Self:
        if self.dc is None:
            return self
        if self.dc_measure is None and self.dc_source is None:
            raise ValueError("dc needs dc_measure (a measure of Table E.1) or dc_source (an analysis)")
        if self.dc_measure is not None:
            if self.dc_measure not in COVERAGE:
                raise ValueError(f"dc_measure is {self.dc_measure!r}: give one of {', '.join(COVERAGE)}")
            if self.dc.high > COVERAGE[self.dc_measure].high:
                limit = COVERAGE[self.dc_measure].high
                raise ValueError(
                    f"dc is {self.dc.high:g}: {self.dc_measure} earns at most {limit:g} (Table E.1)"
                )
        return self

    @property
    def wears(self) -> bool:
        """True if the part's life counts in operations."""
        return self.b10d is not None or (self.typical is not None and TYPICAL[self.typical].b10d is not None)
