"""The `rating:` section of a bench description, checked strictly: unknown keys and odd numbers are errors.

Every number is plain, with its unit in the key; rates, lives and coverages may also be a pair [low, high]. Shares
are fractions (99 % is 0.99). Parts are described once and named in the channels of the subsystems.
"""

from collections.abc import Iterator, Mapping
from typing import Annotated, Literal, Self

from pydantic import Field, ValidationError, model_validator

from interlock.errors import RatingError
from interlock.rating.inputs_bench import DischargeInput, LowDemand, WearInput
from interlock.rating.inputs_guard import Guard
from interlock.rating.inputs_part import Part
from interlock.rating.inputs_subsystem import Subsystem
from interlock.rating.iso13849_clauses import Edition
from interlock.rating.iso13849_level import required_pl
from interlock.rating.strict import Level, Strict, Text, elsewhere

__all__ = ["Function", "RatingInputs", "RequiredLevel", "read_rating"]


Located = tuple[tuple[str | int, ...], str]
"""The path of an entry, and what is wrong with it."""


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
