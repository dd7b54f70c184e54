"""The `rating:` section of a bench description, checked strictly: unknown keys and odd numbers are errors.

Every number is plain, with its unit in the key; rates, lives and coverages may also be a pair [low, high]. Shares
are fractions (99 % is 0.99). Parts are described once and named in the channels of the subsystems.
"""

from collections.abc import Iterator, Mapping
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from interlock.errors import RatingError
from interlock.rating.ccf import ccf_score
from interlock.rating.counted import Decides
from interlock.rating.iec62061_ccf import ccf_points
from interlock.rating.input_values import Beta, Fewer, Longer, Rate, Share, Years, category_text
from interlock.rating.inputs_bench import Day, DischargeInput, LowDemand, WearInput
from interlock.rating.iso13849_clauses import Edition
from interlock.rating.iso13849_level import required_pl
from interlock.rating.strict import Level, NotNegative, Positive, Strict, Text, elsewhere, one_of
from interlock.rating.typical import COVERAGE, TYPICAL

__all__ = [
    "CategoryTestInput",
    "Function",
    "Guard",
    "Iec62061",
    "Operations",
    "Part",
    "RatingInputs",
    "RequiredLevel",
    "SeriesGuards",
    "Subsystem",
    "read_rating",
]


Located = tuple[tuple[str | int, ...], str]
"""The path of an entry, and what is wrong with it."""


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


class RequiredLevel(Strict):
    """The level that the risk assessment asks for: given, or by the risk graph."""

    pl: Level | None = None
    severity: Literal["S1", "S2"] | None = None
    frequency: Literal["F1", "F2"] | None = None
    avoidance: Literal["P1", "P2"] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        graph = (self.severity, self.frequency, self.avoidance)
        if (self.pl is None) == (None in graph) or (self.pl is not None and any(graph)):
            raise ValueError("give pl, or all of severity, frequency and avoidance (risk graph)")
        return self

    @property
    def level(self) -> str:
        """'a' to 'e'."""
        if self.pl is not None:
            return self.pl
        return required_pl(self.severity or "", self.frequency or "", self.avoidance or "")


class CategoryTestInput(Strict):
    """How the channel of category 2 is tested."""

    on_demand_in_time: bool = False
    tests_per_demand: Positive | None = None
    test_channel_mttfd_years: Positive | None = None


class SeriesGuards(Strict):
    """Guard switches wired in series to one logic unit: how many guards are opened hourly, how many more rarely."""

    frequent: Annotated[int, Field(ge=0)]
    others: Annotated[int, Field(ge=0)]
    switches: Annotated[list[Text], Field(min_length=1)]


class Iec62061(Strict):
    """What a subsystem needs, beside its parts, to be rated by IEC 62061.

    The common-cause factor is `beta`, or follows from `ccf`, the measures taken of the list of this standard, with
    `ccf_without`: the reason for each expected measure that is not taken.
    """

    architecture: Literal["A", "B", "C", "D"] | None = None
    sil: Literal[1, 2, 3] | None = None
    pfh_per_h: Rate | None = None
    beta: Beta | None = None
    ccf: Annotated[list[Text], Field(min_length=1)] | None = None
    ccf_without: dict[str, Text] = Field(default_factory=dict)
    proof_test_h: Positive | None = None
    diagnostic_test_h: Positive | None = None
    safe_failure_fraction: Share | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        one_of(self, "architecture", "sil")
        need = {"B": ("beta", "proof_test_h"), "D": ("beta", "proof_test_h", "diagnostic_test_h")}
        wanted = need.get(self.architecture or "", ()) if self.sil is None else ("pfh_per_h",)
        given = {"beta": self.beta if self.beta is not None else self.ccf}
        missing = [name for name in wanted if given.get(name, getattr(self, name)) is None]
        if missing:
            told = ["beta (or ccf)" if name == "beta" else name for name in missing]
            raise ValueError(f"also needed: {', '.join(told)}")
        return self

    @model_validator(mode="after")
    def _common_cause(self) -> Self:
        if self.ccf is None and self.ccf_without:
            raise ValueError("ccf_without goes with ccf")
        if self.ccf is not None:
            if self.beta is not None or self.architecture not in ("B", "D"):
                raise ValueError("ccf is for architecture B or D, in place of beta")
            ccf_points(self.ccf, self.ccf_without)
        return self


class Subsystem(Strict):
    """One element of the chain in series: built of parts with a claimed category, or rated by its maker.

    `devices`: which devices of the bench it is; all on the way from demand to effect must be named somewhere.
    `coverage_at_most`: the best class of coverage of its parts, where their layout hides faults.
    """

    devices: list[Text] = Field(default_factory=list)
    coverage_at_most: Literal["none", "low", "medium"] | None = None
    category: Annotated[str, BeforeValidator(category_text)] | None = None
    channels: (
        Annotated[list[Annotated[list[Text], Field(min_length=1)]], Field(min_length=1, max_length=2)] | None
    ) = None
    ccf: list[Text] = Field(default_factory=list)
    test: CategoryTestInput | None = None
    series_guards: SeriesGuards | None = None
    pl: Level | None = None
    pfhd_per_h: Rate | None = None
    source: Text | None = None
    iec62061: Iec62061 | None = None

    @model_validator(mode="after")
    def _built_or_rated(self) -> Self:
        one_of(self, "category", "pl")
        if (self.channels is None) != (self.category is None):
            raise ValueError(
                "category and channels go together; a maker's rating is pl, pfhd_per_h and source"
            )
        if self.pl is not None and self.source is None:
            raise ValueError("a maker's rating needs source: which document says so")
        if self.category is not None and self.pfhd_per_h is not None:
            raise ValueError("pfhd_per_h is computed for a subsystem built of parts: leave it out")
        ccf_score(self.ccf)
        return self

    @model_validator(mode="after")
    def _no_part_twice(self) -> Self:
        names = [name for channel in self.channels or [] for name in channel]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(
                f"{', '.join(twice)} named twice: one part cannot stand in two places of the channels"
            )
        return self


class Guard(Strict):
    """Where the guard stands, and how it is unlocked if it is locked."""

    distance_mm: Positive
    approach_speed_mm_s: Annotated[float, Field(ge=1600, le=2000)]
    intrusion_mm: NotNegative
    opening_time_s: Annotated[float, Field(ge=0, le=10)] = 0.0
    unlock: Literal["none", "delay", "standstill"] = "none"
    unlock_delay_s: Positive | None = None

    @model_validator(mode="after")
    def _delay(self) -> Self:
        if (self.unlock == "delay") != (self.unlock_delay_s is not None):
            raise ValueError("unlock_delay_s goes with unlock: delay")
        return self


class Function(Strict):
    """One safety function: what is required and the subsystems that carry it out, all in series.

    `effects`: which of the effects that the bench requires the level is of; all of them if not given. `not_rated`:
    devices on the way from demand to effect that the level does not need, each with the reason.
    """

    required: RequiredLevel
    subsystems: Annotated[dict[str, Subsystem], Field(min_length=1)]
    not_rated: dict[str, Text] = Field(default_factory=dict)
    effects: Annotated[list[Text], Field(min_length=1)] | None = None
    required_sil: Literal[1, 2, 3] | None = None
    proof_test_months: Annotated[float, Field(gt=0, le=1200)] | None = None
    guard: Guard | None = None

    @model_validator(mode="after")
    def _sil(self) -> Self:
        missing = [name for name, subsystem in self.subsystems.items() if subsystem.iec62061 is None]
        if self.required_sil is not None and missing:
            raise ValueError(
                f"required_sil needs iec62061 in each subsystem; missing in {', '.join(missing)}"
            )
        return self


class RatingInputs(Strict):
    """The whole section."""

    edition: Edition
    mission_time_years: Annotated[float, Field(gt=0, le=100)] = 20.0
    parts: dict[str, Part] = Field(default_factory=dict)
    functions: Annotated[dict[str, Function], Field(min_length=1)]
    low_demand: dict[str, LowDemand] = Field(default_factory=dict)
    discharge: DischargeInput | None = None
    wear: Annotated[dict[str, WearInput], Field(min_length=1)] | None = None

    @model_validator(mode="after")
    def _names_exist(self) -> Self:
        """Every name that is used is described, else each use is told at its own place."""
        found = [*self._unknown_parts(), *self._unknown_switches()]
        for name in self.low_demand:
            if name not in self.functions:
                found.append((("low_demand", name), "describe it under functions too"))
        if found:
            raise elsewhere(found)
        return self

    def _unknown_parts(self) -> Iterator[Located]:
        for path, subsystem in self._subsystems():
            for at, channel in enumerate(subsystem.channels or []):
                for place, part in enumerate(channel):
                    if part not in self.parts:
                        yield (*path, "channels", at, place), f"'{part}' is no part: describe it under parts"

    def _unknown_switches(self) -> Iterator[Located]:
        for path, subsystem in self._subsystems():
            named = {part for channel in subsystem.channels or [] for part in channel}
            for at, switch in enumerate(subsystem.series_guards.switches if subsystem.series_guards else []):
                if switch not in named:
                    why = f"'{switch}' is in no channel: name parts of the channels"
                    yield (*path, "series_guards", "switches", at), why

    def _subsystems(self) -> Iterator[tuple[tuple[str, ...], Subsystem]]:
        for function, entry in self.functions.items():
            for name, subsystem in entry.subsystems.items():
                yield ("functions", function, "subsystems", name), subsystem


def read_rating(section: Mapping[str, object], where: str = "rating") -> RatingInputs:
    """The checked section; RatingError with every mistake, each with the path to its key."""
    try:
        return RatingInputs.model_validate(section)
    except ValidationError as error:
        lines = [_line(where, problem["loc"], problem["msg"]) for problem in error.errors()]
        raise RatingError("\n".join(lines)) from None


def _line(where: str, path: tuple[int | str, ...], message: str) -> str:
    return f"{'.'.join([where, *map(str, path)])}: {message.removeprefix('Value error, ')}"
