"""What takes so long that it cannot come while the shaft turns.

Elsewhere a late reaction may come at any moment up to its stated time. A timer that frees a guard is safe because it
does not come sooner. A timer holds if within each of its waits the shaft is no longer driven so early that what is
left of the wait lasts longer than the run-down. This is proved for all timers together: of the first one that came
while the shaft turns it would not hold.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from interlock.chain import ir
from interlock.chain.by_clock import by_clock
from interlock.chain.narrowed import Narrowed, narrowed
from interlock.chain.property import NeverLasts, Timer
from interlock.chain.watched import Watched

__all__ = ["Held", "drives_too_long", "held"]


@dataclass(frozen=True, slots=True)
class Held:
    """The timers that come only when the shaft stands, and what can happen, these waits being as long as stated."""

    timers: tuple[Timer, ...]
    narrow: Narrowed


def held(watched: Watched, events: tuple[ir.Event, ...], timers: Sequence[Timer]) -> Held:
    """As many of the timers as hold together."""
    left = [one for one in timers if one.delay_ns > one.run_down_ns]
    while left:
        early = ir.any_of(ir.all_of([ir.By(frozenset({one.event})), ir.was(one.moving)]) for one in left)
        without = narrowed(watched, watched.edges_where(early))
        good = [one for one in left if _holds(without.watched, events, one)]
        if len(good) == len(left):
            return Held(tuple(left), without)
        left = good
    return Held((), narrowed(watched, np.zeros(len(watched.source), np.bool_)))


def drives_too_long(timer: Timer) -> NeverLasts:
    """What must not be, or the timer may come while the shaft turns: it is driven too late within the wait."""
    driven = ir.all_of([timer.waits, timer.driven])
    return NeverLasts({"": driven}, timer.delay_ns - timer.run_down_ns - 1, timer.waits)


def _holds(watched: Watched, events: tuple[ir.Event, ...], timer: Timer) -> bool:
    found = by_clock(watched, events, drives_too_long(timer))
    return found.whole and found.way is None
