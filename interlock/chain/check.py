"""Prove the chain of a bench: every reachable state, every property that its required section asks for."""

from dataclasses import replace
from pathlib import Path
from typing import Final

from interlock.bench import Bench
from interlock.chain.assumptions import about_faults, assumptions
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.fault_check import MOST_FAULTS, judge_faults
from interlock.chain.fault_list import excluded
from interlock.chain.fault_property import fault_properties
from interlock.chain.layout import TooWide
from interlock.chain.loops import as_bench_error
from interlock.chain.reference import WiringLoop
from interlock.chain.requirement import Requirement
from interlock.chain.result import CheckResult
from interlock.chain.telling import Teller, unverified
from interlock.chain.views import Views

__all__ = ["STATE_LIMIT", "check"]

STATE_LIMIT: Final = 2_000_000


def check(
    bench: Bench, *, file: Path | None = None, limit: int = STATE_LIMIT, faults: int = 0
) -> CheckResult:
    """Judge every property in every reachable state of the sound bench; with `faults`, also what faults do.

    A bench with more than `limit` states is never passed: what was not violated so far is inconclusive.
    `faults`: how many may be there at a time, 0 to 3. The table of faults informs; it changes the verdict only
    for functions that are required to be `single_fault_tolerant`. `file` only gives errors their place; raises
    BenchError for a wiring loop without a delay, ValueError for another number of faults.
    """
    if not 0 <= faults <= MOST_FAULTS:
        raise ValueError(f"{faults} faults at a time: from 0 to {MOST_FAULTS} can be judged")
    required = Requirement(bench, compile_bench(bench))
    try:
        sound = _sound(required, limit)
    except WiringLoop as loop:
        raise as_bench_error(bench, loop, file) from loop
    report = judge_faults(bench, faults) if faults else None
    found = (*sound.properties, *fault_properties(bench, report))
    rests_on = (about_faults(faults), *sound.assumptions)
    return replace(sound, properties=found, assumptions=rests_on, exclusions=excluded(bench), report=report)


def _sound(required: Requirement, limit: int) -> CheckResult:
    try:
        return _judged(required, Views(required, limit))
    except TooWide as wide:
        bench = required.bench.bench
        found = tuple(unverified(one, str(wide)) for one in properties(required))
        return CheckResult(bench.id, bench.name, 0, 0, False, found, ())


def _judged(required: Requirement, views: Views) -> CheckResult:
    bench, events = required.bench, required.compiled.chain.events
    found = tuple(Teller(bench, events, views.of(one.terms())).result(one) for one in properties(required))
    whole = views.whole
    rests_on = tuple(assumptions(required, views))
    states, transitions = len(views.graph.states), len(views.graph.source)
    return CheckResult(bench.bench.id, bench.bench.name, states, transitions, whole, found, rests_on)
