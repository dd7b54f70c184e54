"""Which timers free a locked guard, and how long they take at least."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from interlock.bench import Bench
from interlock.chain.by_wait import held
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.frame import Frame
from interlock.chain.judge import judge
from interlock.chain.lock_rules import lock_rules
from interlock.chain.property import NeverStep, Property, Timer
from interlock.chain.requirement import Requirement
from interlock.chain.upstream import upstream
from interlock.chain.watched import Watched, watch
from interlock.verdict import Verdict

__all__ = ["TimedLock", "lock_delay_ns", "timed_locks"]

_MOST = 2_000_000


@dataclass(frozen=True, slots=True)
class TimedLock:
    """A timer that keeps the guard of a function locked; `alone`: without it the guard would be freed too early."""

    function: str
    timer: Timer
    alone: bool


def lock_delay_ns(bench: Bench, function: str) -> int | None:
    """The shortest time, by the bench file, that the guard of the function stays locked by a timer; ns.

    It counts from when the timer begins to run, which is so early that the shaft stands when it is over. None: the
    guard is freed at standstill, or too early, or has no lock.
    """
    delays = [
        one.timer.delay_ns
        for one in timed_locks(Requirement(bench, compile_bench(bench)))
        if one.function == function
    ]
    return min(delays, default=None)


def timed_locks(required: Requirement, *, redundant: bool = False) -> Iterator[TimedLock]:
    """For each function whose guard no monitor keeps locked long enough the timers that do.

    `redundant`: also those beside a monitor that would do without them.
    """
    rules = [(name, one) for name in required.functions for one in lock_rules(Frame(required, name))]
    asked = [(name, one) for name, one in rules if isinstance(one.claim, NeverStep) and one.claim.timers]
    if not asked:
        return
    chain = required.compiled.chain
    graph = explore(chain, _MOST)
    watched = watch(chain, graph, (), _MOST)
    for name, one in asked:
        yield from _locking(required, watched, one, name, redundant=redundant)


def _locking(
    required: Requirement, watched: Watched, one: Property, name: str, *, redundant: bool
) -> Iterator[TimedLock]:
    if not isinstance(one.claim, NeverStep):
        return
    events, claim = required.compiled.chain.events, one.claim

    def passes(timers: Collection[Timer]) -> bool:
        asked = replace(one, claim=replace(claim, timers=tuple(timers)), premises=())
        return judge(watched, events, asked).verdict is Verdict.PASS

    by_monitor = passes(())
    if (by_monitor and not redundant) or not passes(claim.timers):
        return
    near = upstream(required.compiled.chain, [required.functions[name].demand])
    left = held(watched, events, [one for one in claim.timers if events[one.event].device in near]).timers
    alone = (
        [] if by_monitor else [timer for timer in left if not passes([one for one in left if one != timer])]
    )
    for timer in alone if not by_monitor and passes(alone) else left:
        yield TimedLock(name, timer, timer in alone)
