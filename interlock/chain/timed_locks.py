"""Which timers free a locked guard, and how long they take at least."""

from collections.abc import Iterator
from dataclasses import replace

from interlock.bench import Bench
from interlock.chain.by_wait import held
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.frame import Frame
from interlock.chain.judge import judge
from interlock.chain.lock_rules import lock_rules
from interlock.chain.property import NeverStep, Property, Timer
from interlock.chain.requirement import Requirement
from interlock.chain.watched import Watched, watch
from interlock.verdict import Verdict

__all__ = ["lock_delay_ns", "timed_locks"]

_MOST = 2_000_000


def lock_delay_ns(bench: Bench, function: str) -> int | None:
    """The shortest time, by the bench file, that the guard of the function stays locked by a timer; ns.

    It counts from when the timer begins to run, which is so early that the shaft stands when it is over. None: the
    guard is freed at standstill, or too early, or has no lock.
    """
    delays = [
        one.delay_ns
        for name, one in timed_locks(Requirement(bench, compile_bench(bench)))
        if name == function
    ]
    return min(delays, default=None)


def timed_locks(required: Requirement) -> Iterator[tuple[str, Timer]]:
    """For each function whose guard no monitor keeps locked long enough the timers without which it would be freed."""
    rules = [(name, one) for name in required.functions for one in lock_rules(Frame(required, name))]
    asked = [(name, one) for name, one in rules if isinstance(one.claim, NeverStep) and one.claim.timers]
    if not asked:
        return
    chain = required.compiled.chain
    graph = explore(chain, _MOST)
    watched = watch(chain, graph, (), _MOST)
    for name, one in asked:
        yield from ((name, timer) for timer in _needed(required, watched, one))


def _needed(required: Requirement, watched: Watched, one: Property) -> tuple[Timer, ...]:
    if not isinstance(one.claim, NeverStep):
        return ()
    events, claim = required.compiled.chain.events, one.claim

    def passes(timers: tuple[Timer, ...]) -> bool:
        asked = replace(one, claim=replace(claim, timers=timers), premises=())
        return judge(watched, events, asked).verdict is Verdict.PASS

    if passes(()) or not passes(claim.timers):
        return ()
    left = held(watched, events, claim.timers).timers
    for timer in left:
        if passes(fewer := tuple(other for other in left if other != timer)):
            left = fewer
    return left
