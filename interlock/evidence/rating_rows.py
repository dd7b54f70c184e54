"""The rating's JSON read into typed rows and checked against itself: no verdict better than its parts."""

from collections.abc import Sequence
from dataclasses import dataclass

from interlock.errors import EvidenceError
from interlock.evidence.counted import counted
from interlock.evidence.fields import Fields
from interlock.rating.iso13855 import round_up_ms
from interlock.rating.result import InputEffect, Judgement, SubsystemRating
from interlock.rating.step import Mark, Step
from interlock.verdict import Verdict, worst

__all__ = ["Part", "Rating", "no_better", "read_rating_part"]


@dataclass(frozen=True, slots=True)
class Part:
    """A function, or something rated beside the functions (then without levels)."""

    name: str
    verdict: Verdict
    is_function: bool
    required_pl: str
    pl: str
    pl_at_best: str
    pfhd_per_h: float | None
    weakest: str
    judged: tuple[Judgement, ...]
    subsystems: tuple[SubsystemRating, ...]
    sensitivities: tuple[InputEffect, ...]
    steps: tuple[Step, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rating:
    """The whole rating."""

    fields: Fields
    edition: str
    mission_time_years: str
    parts: tuple[Part, ...]
    stops: tuple[str, ...]
    counts: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        """The rating's own."""
        return self.fields.verdict()


def read_rating_part(rating: Fields) -> Rating:
    """The rating as rows; EvidenceError for a wrong entry or a verdict that is better than its parts."""
    parts = [_part(row, is_function=True) for row in rating.objects("functions")]
    if not parts:
        raise EvidenceError("rating: it rates no function; make the result anew")
    parts += [_part(row, is_function=False) for row in rating.objects("others")]
    no_better(rating.where, rating.verdict(), [part.verdict for part in parts])
    stops = Fields.of(rating.raw.get("stop_times") or {}, "rating.stop_times")
    return Rating(
        rating,
        rating.loose("edition"),
        rating.loose("mission_time_years"),
        tuple(parts),
        tuple(_stop(name, stops) for name in stops.raw),
        _counts(rating),
    )


def _stop(name: str, stops: Fields) -> str:
    one = Fields.of(stops.raw[name], f"{stops.where}.{name}")
    upper_s = round_up_ms(one.need_real("upper_s"))
    return f"{name}: standstill after at most {upper_s:.3f} s ({one.text('sentence')})"


def _counts(rating: Fields) -> tuple[str, ...]:
    try:
        return tuple(counted(rating.raw))
    except (KeyError, TypeError, AttributeError):
        raise EvidenceError(
            f"{rating.where}: its counts are not as rate gives them; make the result anew"
        ) from None


def no_better(where: str, stated: Verdict, verdicts: Sequence[Verdict]) -> None:
    """EvidenceError if a verdict is better than the worst of its parts."""
    due = worst(verdicts)
    if worst((stated, due)) is not stated:
        raise EvidenceError(
            f"{where}: states {stated} although the worst of its parts is {due}; make the result anew"
        )


def _part(row: Fields, *, is_function: bool) -> Part:
    judged = tuple(map(_judged, row.objects("judgements")))
    no_better(row.where, row.verdict(), [one.verdict for one in judged])
    return Part(
        name=row.need("name"),
        verdict=row.verdict(),
        is_function=is_function,
        required_pl=row.text("required_pl"),
        pl=row.text("pl"),
        pl_at_best=row.text("pl_at_best"),
        pfhd_per_h=row.real("pfhd_per_h"),
        weakest=row.text("weakest_subsystem"),
        judged=judged,
        subsystems=tuple(map(_subsystem, row.objects("subsystems"))),
        sensitivities=tuple(map(_sensitivity, row.objects("effects"))),
        steps=tuple(map(_step, row.objects("steps"))),
        notes=row.words("cautions"),
    )


def _judged(row: Fields) -> Judgement:
    return Judgement(row.need("about"), row.verdict(), row.text("clause"), row.need("sentence"))


def _subsystem(row: Fields) -> SubsystemRating:
    return SubsystemRating(
        row.need("name"),
        row.text("category") or None,
        row.real("mttfd_years"),
        row.real("dc_average"),
        row.number("ccf_score"),
        row.text("pl") or None,
        row.real("pfhd_per_h"),
        row.words("refused_because"),
        row.raw.get("structure_proven") is True,
        row.words("cautions"),
    )


def _sensitivity(row: Fields) -> InputEffect:
    return InputEffect(
        row.need("name"),
        row.need_real("used"),
        row.need_real("if_better"),
        row.raw.get("stated_range") is True,
        row.real("pfhd_per_h"),
        row.text("pl") or None,
        row.real("gain"),
    )


def _step(row: Fields) -> Step:
    try:
        mark = Mark(row.need("mark"))
        numbers = tuple((str(name), value) for name, value in row.items("numbers"))
    except (TypeError, ValueError):
        raise EvidenceError(f"{row.where}: not a step of a computation; make the result anew") from None
    result = row.get("result")
    return Step(
        row.need("title"),
        row.text("formula"),
        numbers,
        row.text("source"),
        result if isinstance(result, str) else row.need_real("result"),
        row.text("unit"),
        mark,
    )
