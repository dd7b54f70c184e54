"""Prove the chain of a bench: every reachable state, every property that its required section asks for."""

from dataclasses import replace
from pathlib import Path
from typing import Final

from interlock.bench import Bench
from interlock.chain.assumptions import about_faults, assumptions, of_spare_timers
from interlock.chain.catalogue import properties
from interlock.chain.clearing import judge_clearing
from interlock.chain.clearing_property import clearing_properties
from interlock.chain.compile import compile_bench
from interlock.chain.fault_check import MOST_FAULTS, judge_faults
from interlock.chain.fault_list import excluded
from interlock.chain.fault_property import fault_properties, faults_asked
from interlock.chain.fault_result import FaultReport
from interlock.chain.layout import TooWide
from interlock.chain.let_go import parted, told_as_built
from interlock.chain.loops import as_bench_error
from interlock.chain.reference import WiringLoop
from interlock.chain.requirement import Requirement
from interlock.chain.result import CheckResult
from interlock.chain.telling import Teller, unverified
from interlock.chain.views import Views
from interlock.verdict import worst

__all__ = ["STATE_LIMIT", "check"]

STATE_LIMIT: Final = 2_000_000


def check(
    bench: Bench, *, file: Path | None = None, limit: int = STATE_LIMIT, faults: int | None = None
) -> CheckResult:
    """Judge every property in every reachable state of the sound bench; with `faults`, also what faults do.

    A bench with more than `limit` states is never passed: what was not violated so far is inconclusive.
    `faults`: how many may be there at a time, 0 to 3; None: as many as the bench's own requirements ask for. The
    table of faults informs; it changes the verdict only where the bench file requires that faults be tolerated.
    `file` only gives errors their place; raises BenchError for a wiring loop without a delay, ValueError for
    another number of faults.
    """
    faults = faults_asked(bench) if faults is None else faults
    if not 0 <= faults <= MOST_FAULTS:
        raise ValueError(f"{faults} faults at a time: from 0 to {MOST_FAULTS} can be judged")
    required = Requirement(bench, compile_bench(bench))
    try:
        sound = _sound(required, limit)
        if (other := parted(required)) is not None:
            sound = _worse(sound, _sound(Requirement(other, compile_bench(other)), limit))
    except WiringLoop as loop:
        raise as_bench_error(bench, loop, file) from loop
    report = judge_faults(bench, faults) if faults else None
    clearing = judge_clearing(bench, unnoticed=_unnoticed(report)) if faults else None
    cleared = () if clearing is None else clearing_properties(bench, clearing)
    return replace(
        sound,
        properties=(*sound.properties, *fault_properties(bench, report), *cleared),
        assumptions=(
            about_faults(faults),
            *sound.assumptions,
            *(of_spare_timers(required) if faults else ()),
        ),
        exclusions=excluded(bench),
        report=report,
        clearing=clearing,
    )


def _unnoticed(report: FaultReport | None) -> list[str] | None:
    """The single faults that no stop is sure to reveal; None if no two faults at a time are asked for."""
    if report is None or report.search.most < 2:
        return None
    return [one.set[0] for one in report.faults if len(one.set) == 1 and not one.detected]


def _sound(required: Requirement, limit: int) -> CheckResult:
    try:
        return _judged(required, Views(required, limit))
    except TooWide as wide:
        bench = required.bench.bench
        why = f"the bench has too many devices, and nothing of it was looked at ({wide})"
        found = tuple(unverified(one, why) for one in properties(required))
        return CheckResult(bench.id, bench.name, 0, 0, False, found, ())


def _worse(sound: CheckResult, again: CheckResult) -> CheckResult:
    """Each property as it is judged worse, with people who act just before another one ends an act, or without."""
    pairs = zip(sound.properties, again.properties, strict=True)
    found = tuple(
        one if one.verdict is worst([one.verdict, other.verdict]) else told_as_built(other)
        for one, other in pairs
    )
    return replace(sound, properties=found, whole=sound.whole and again.whole)


def _judged(required: Requirement, views: Views) -> CheckResult:
    bench = required.bench
    found = tuple(
        Teller(required, views.of(one.terms()), lambda: views.reached).result(one)
        for one in properties(required)
    )
    whole = views.whole
    rests_on = tuple(assumptions(required, views))
    states, transitions = len(views.graph.states), len(views.graph.source)
    return CheckResult(bench.bench.id, bench.bench.name, states, transitions, whole, found, rests_on)
