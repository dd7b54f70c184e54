"""One safety function: its subsystems combined, at the pessimistic and at the optimistic end of the inputs."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import fsum, inf, isfinite

from interlock.errors import RatingError
from interlock.rating.ends import Ends
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.iso13849 import BANDS, combine, reaches
from interlock.rating.iso13849_clauses import clause
from interlock.rating.rate_subsystem import rate_subsystem
from interlock.rating.result import InputEffect, Judgement, SubsystemRating
from interlock.rating.step import Trail
from interlock.rating.uncertainty import Range, sensitivities
from interlock.verdict import Verdict

__all__ = ["Outcome", "effects", "evaluate", "judge_level", "supported_by"]

Supported = Mapping[str, Collection[object] | None]
"""By function, or by function/subsystem: the categories that the structure was shown to support; None: not shown."""

_UPPER = {"a": 1e-4, "b": 1e-5, "c": 3e-6, "d": 1e-6, "e": 1e-7}  # the only figure a level may be turned into
_PROBE = 0.9


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the function reaches with one choice of input values; a level of None: some claim is refused."""

    pl: str | None
    pfhd: float | None
    refused_because: tuple[str, ...]
    subsystems: tuple[SubsystemRating, ...]

    @property
    def rate_for_comparison(self) -> float:
        """PFHd in 1/h, a maker's level without PFHd counted at its upper limit; infinite if refused."""
        if self.pl is None:
            return inf
        return fsum(
            s.pfhd_per_h if s.pfhd_per_h is not None else _UPPER[s.pl or "a"] for s in self.subsystems
        )

    def without(self, unrated: Sequence[str] | None) -> "Outcome":
        """The outcome, or a refusal of it if part of the chain is not rated."""
        if not unrated:
            return self
        return Outcome(None, None, (*unrated, *self.refused_because), self.subsystems)


def evaluate(
    name: str, function: Function, inputs: RatingInputs, supported: Supported | None, ends: Ends, trail: Trail
) -> Outcome:
    """Rate every subsystem with the values that `ends` chooses, and combine them."""
    found = tuple(
        rate_subsystem(each, subsystem, inputs, ends, trail, supported_by(name, each, supported))
        for each, subsystem in function.subsystems.items()
    )
    refused = tuple(f"{each.name}: {why}" for each in found for why in each.refused_because)
    if refused:
        return Outcome(None, None, refused, found)
    try:
        pl, total = combine([(each.pl or "", each.pfhd_per_h) for each in found])
    except RatingError as error:
        return Outcome(None, None, (str(error),), found)
    numbers = {f"P{i}": each.pfhd_per_h for i, each in enumerate(found, 1) if each.pfhd_per_h is not None}
    if total is not None:
        formula = " + ".join(numbers)
        trail.note(
            "function: PFHd", formula, numbers, total, unit="1/h", source=clause(inputs.edition, "combine")
        )
    levels = {f"L{i}": str(each.pl) for i, each in enumerate(found, 1)}
    rule = "Table 11 with the levels" if total is None else "band of the sum, at most the lowest of"
    how = f"{rule} {', '.join(levels)}" + ("" if total is None else f"; {BANDS}")
    trail.note("function: performance level", how, levels, pl, source=clause(inputs.edition, "combine"))
    return Outcome(pl, total, (), found)


def supported_by(function: str, subsystem: str, supported: Supported | None) -> Collection[object] | None:
    """What the structure of a subsystem was shown to support, or None if nobody examined it."""
    if supported is None:
        return None
    return supported.get(f"{function}/{subsystem}", supported.get(function))


def judge_level(
    required: str, worst: Outcome, best: Outcome, edition_clause: str, unrated: Sequence[str] | None
) -> Judgement:
    """Pass only if the pessimistic end reaches the level, and structure and cover of the chain were shown.

    `unrated`: why the subsystems do not cover the chain; None: nobody has examined it.
    """
    text = f"PL {required} required, " + (f"PL {worst.pl} reached" if worst.pl else "no level reached")
    if worst.pl is not None and reaches(worst.pl, required):
        open_claims = [each.name for each in worst.subsystems if not each.structure_proven]
        doubts = []
        if open_claims:
            doubts.append(
                f"that the structure of {', '.join(open_claims)} supports the category was not shown"
            )
        if unrated is None:
            doubts.append("that the subsystems cover the whole chain was not shown")
        if not doubts:
            return Judgement("performance level", Verdict.PASS, edition_clause, f"{text}.")
        text = f"{text}, but {' and '.join(doubts)}"
        return Judgement("performance level", Verdict.INCONCLUSIVE, edition_clause, f"{text}.")
    because = f" ({'; '.join(worst.refused_because)})" if worst.refused_because else ""
    if best.pl is not None and reaches(best.pl, required):
        text += f"{because}; at the optimistic end of the inputs PL {best.pl}"
        return Judgement("performance level", Verdict.INCONCLUSIVE, edition_clause, f"{text}: narrow them.")
    return Judgement("performance level", Verdict.FAIL, edition_clause, f"{text}{because}.")


def effects(
    name: str, function: Function, inputs: RatingInputs, supported: Supported | None
) -> tuple[InputEffect, ...]:
    """What each input alone could change, the largest gain first: its stated range, else 10 % better."""
    ends = Ends(pessimistic=True)
    evaluate(name, function, inputs, supported, ends, Trail())
    stated = ends.seen
    outcomes: dict[float, Outcome] = {}

    def compute(values: Mapping[str, float]) -> float:
        # An input at its worse end is left open: its whole range counts in the pessimistic average coverage.
        fixed = {key: value for key, value in values.items() if value != stated[key].worse_end}
        outcome = evaluate(name, function, inputs, supported, Ends(pessimistic=True, fixed=fixed), Trail())
        outcomes[outcome.rate_for_comparison] = outcome
        return outcome.rate_for_comparison

    ranges = {key: known if known.low < known.high else _probe(key, known) for key, known in stated.items()}
    return tuple(
        InputEffect(
            found.name,
            found.worse,
            found.better,
            stated[found.name].low < stated[found.name].high,
            outcomes[found.result_if_better].pfhd,
            outcomes[found.result_if_better].pl,
            found.gain if isfinite(found.gain) else None,
        )
        for found in sensitivities(compute, ranges)
    )


def _probe(key: str, known: Range) -> Range:
    value = known.low
    if key.endswith((".dc", ".safe_failure_fraction")):
        return Range(value, 1 - (1 - value) * _PROBE, "more")
    return (
        Range(value, value / _PROBE, "more")
        if known.better == "more"
        else Range(value * _PROBE, value, "less")
    )
