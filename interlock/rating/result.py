"""What a rating says: levels, verdicts with their reasons, every step, and which input decides."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass

from pydantic import TypeAdapter

from interlock.rating.step import Step
from interlock.verdict import Verdict

__all__ = [
    "BenchRating",
    "FunctionRating",
    "InputEffect",
    "Judgement",
    "RatingResult",
    "SubsystemRating",
    "json_schema",
]


@dataclass(frozen=True, slots=True)
class Judgement:
    """One requirement, judged: which one, by which clause, and one sentence a safety officer understands."""

    about: str  # level, mission time, test interval, guard distance, safety integrity level
    verdict: Verdict
    clause: str
    sentence: str


@dataclass(frozen=True, slots=True)
class SubsystemRating:
    """One subsystem at the pessimistic end of its inputs; a level of None: the claim is refused."""

    name: str
    category: str | None  # None: rated by its maker
    mttfd_years: float | None
    dc_average: float | None
    ccf_score: int | None
    pl: str | None
    pfhd_per_h: float | None
    refused_because: tuple[str, ...]
    structure_proven: bool
    cautions: tuple[str, ...]
    electromechanical: bool = False  # holds a part whose life counts in operations


@dataclass(frozen=True, slots=True)
class InputEffect:
    """What the function would reach if this one input were better and all others stayed pessimistic."""

    name: str
    used: float
    if_better: float
    stated_range: bool  # False: the input is exact, and 10 % better was tried
    pfhd_per_h: float | None  # None: no level is reached, or a maker's rating has no PFHd
    pl: str | None
    gain: (
        float | None
    )  # failure rate as used over that if better; 1: no effect; None: from no level to a level


@dataclass(frozen=True, slots=True)
class FunctionRating:
    """One safety function: what it reaches at the pessimistic end, against what is required."""

    name: str
    verdict: Verdict
    required_pl: str
    pl: str | None
    pl_at_best: str | None
    pfhd_per_h: float | None
    pfhd_at_best_per_h: float | None
    sil: int | None
    decided_by: str | None  # the input that matters most
    weakest_subsystem: str
    subsystems: tuple[SubsystemRating, ...]
    judgements: tuple[Judgement, ...]
    effects: tuple[InputEffect, ...]  # the largest gain first
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BenchRating:
    """Something rated beside the levels: discharge of the bus, wear, low demand of a function."""

    name: str
    verdict: Verdict
    judgements: tuple[Judgement, ...]
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class RatingResult:
    """All functions of a bench, rated by one edition, and what was rated beside them."""

    verdict: Verdict
    edition: int
    mission_time_years: float
    functions: tuple[FunctionRating, ...]
    cautions: tuple[str, ...]
    others: tuple[BenchRating, ...] = ()

    def as_json(self) -> dict[str, object]:
        """The whole result as plain JSON values; `json_schema` describes it."""
        plain = _plain(self)
        assert isinstance(plain, dict)  # noqa: S101 - a dataclass becomes a dict
        return plain


def json_schema() -> dict[str, object]:
    """The JSON Schema of `RatingResult.as_json`."""
    return TypeAdapter(RatingResult).json_schema(mode="serialization")


def _plain(value: object) -> object:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    return str(value) if isinstance(value, str) else value
