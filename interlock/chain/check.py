"""Prove the chain of a bench: every reachable state, every property that its required section asks for."""

from pathlib import Path
from typing import Final

from interlock.bench import Bench
from interlock.chain.assumptions import assumptions
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.layout import TooWide
from interlock.chain.loops import as_bench_error
from interlock.chain.reference import WiringLoop
from interlock.chain.requirement import Requirement
from interlock.chain.result import CheckResult
from interlock.chain.telling import Teller, unverified
from interlock.chain.views import Views

__all__ = ["STATE_LIMIT", "check"]

STATE_LIMIT: Final = 2_000_000


def check(bench: Bench, *, file: Path | None = None, limit: int = STATE_LIMIT) -> CheckResult:
    """Judge every property in every reachable state of the healthy bench.

    A bench with more than `limit` states is never passed: what was not violated so far is inconclusive.
    `file` only gives errors their place; raises BenchError for a wiring loop without a delay.
    """
    required = Requirement(bench, compile_bench(bench))
    try:
        return _judged(required, Views(required, limit))
    except TooWide as wide:
        found = tuple(unverified(one, str(wide)) for one in properties(required))
        return CheckResult(bench.bench.id, bench.bench.name, 0, 0, False, found, ())
    except WiringLoop as loop:
        raise as_bench_error(bench, loop, file) from loop


def _judged(required: Requirement, views: Views) -> CheckResult:
    bench, events = required.bench, required.compiled.chain.events
    found = tuple(Teller(bench, events, views.of(one.terms())).result(one) for one in properties(required))
    whole = views.whole
    rests_on = tuple(assumptions(required, views))
    states, transitions = len(views.graph.states), len(views.graph.source)
    return CheckResult(bench.bench.id, bench.bench.name, states, transitions, whole, found, rests_on)
