"""A rating as plain text: levels first, then verdicts with reasons, every step, what decides, the cautions."""

from collections.abc import Iterator

from interlock.rating.result import BenchRating, FunctionRating, InputEffect, RatingResult, SubsystemRating
from interlock.rating.step import Step, shown

__all__ = ["as_text"]


def as_text(result: RatingResult, *, steps: bool = True) -> str:
    """The whole rating as lines of text; without `steps` the computation is left out, never the cautions."""
    lines = [
        f"Rating by ISO 13849-1:{result.edition}, mission time {result.mission_time_years:g} years: {result.verdict}"
    ]
    for function in result.functions:
        lines += ["", *_function(function, steps)]
    for other in result.others:
        lines += ["", *_other(other, steps)]
    lines += ["", "Cautions"]
    lines += [f"  - {caution}" for caution in result.cautions]
    return "\n".join(lines) + "\n"


def _function(function: FunctionRating, steps: bool) -> Iterator[str]:
    yield f"{function.name}: {function.verdict}"
    yield f"  required PL {function.required_pl}, reached {_level(function)}"
    for judgement in function.judgements:
        yield f"  [{judgement.verdict}] {judgement.about}: {judgement.sentence} ({judgement.clause})"
    for subsystem in function.subsystems:
        yield f"  {_subsystem(subsystem)}"
    yield f"  weakest subsystem: {function.weakest_subsystem}; input that matters most: {function.decided_by or 'none'}"
    for effect in function.effects:
        yield f"    {_effect(effect)}"
    for caution in function.cautions:
        yield f"  note: {caution}"
    if steps:
        yield from _steps(function.steps)


def _other(other: BenchRating, steps: bool) -> Iterator[str]:
    yield f"{other.name}: {other.verdict}"
    for judgement in other.judgements:
        yield f"  [{judgement.verdict}] {judgement.about}: {judgement.sentence} ({judgement.clause})"
    if steps and other.steps:
        yield from _steps(other.steps)


def _steps(steps: tuple[Step, ...]) -> Iterator[str]:
    yield "  steps"
    yield from (f"    {number}. {step}" for number, step in enumerate(steps, 1))


def _level(function: FunctionRating) -> str:
    if function.pl is None:
        return "no level: a claim is refused"
    figure = "PFHd not known" if function.pfhd_per_h is None else f"PFHd {function.pfhd_per_h:.3g} 1/h"
    best = (
        ""
        if function.pl_at_best == function.pl
        else f"; PL {function.pl_at_best} at the optimistic end of the inputs"
    )
    return f"PL {function.pl} ({figure}){best}"


def _subsystem(subsystem: SubsystemRating) -> str:
    if subsystem.category is None:
        return f"{subsystem.name}: PL {subsystem.pl}, as rated by its maker"
    if subsystem.pl is None:
        return (
            f"{subsystem.name}: category {subsystem.category} refused: {'; '.join(subsystem.refused_because)}"
        )
    shown = "" if subsystem.structure_proven else ", structure not shown"
    return (
        f"{subsystem.name}: PL {subsystem.pl}, category {subsystem.category}{shown}, "
        f"MTTFd {subsystem.mttfd_years:.4g} years, average coverage {100 * (subsystem.dc_average or 0):.4g} %, "
        f"PFHd {subsystem.pfhd_per_h:.3g} 1/h"
    )


def _effect(effect: InputEffect) -> str:
    how = "range" if effect.stated_range else "10 % better"
    level = f"PL {effect.pl}" if effect.pl else "no level"
    gain = (
        "lifts a refusal"
        if effect.gain is None
        else "no effect"
        if effect.gain == 1
        else f"failure rate divided by {effect.gain:.4g}"
    )
    return f"{effect.name}: {shown(effect.used)} -> {shown(effect.if_better)} ({how}): {level}, {gain}"
