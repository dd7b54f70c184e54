"""Whether a locked guard keeps a person out until the hazard is over: freed at standstill, or some time after the stop.

A lock counts as the chain shows it, a delay as it was timed. What is only stated was not observed.
"""

from datetime import date, timedelta
from typing import Final

from interlock.rating.chain_facts import Lock
from interlock.rating.inputs_guard import Guard, UnlockTimed
from interlock.rating.iso13849 import reaches
from interlock.rating.iso13855 import round_up_ms, unlock_delay_s
from interlock.rating.result import Judgement
from interlock.rating.step import Mark, Trail
from interlock.rating.values import as_written, needed
from interlock.verdict import Verdict, worst

__all__ = ["at_standstill", "by_time"]

_ONE_CHANNEL: Final = "c"  # the best level that one channel may reach (category 1)
_LOCKING: Final = "ISO 14119:2013, guard locking (clause from memory)"
_UNTOLD: Final = (
    "that it holds so long was not shown: open the guard three times or more, as fast as it can be done, time each "
    "from the start of the stop, and write the times under unlock_timed"
)

Found = tuple[Verdict, str]
"""A verdict, and its reason as a part of a sentence."""


def at_standstill(lock: Lock | None, required: str) -> Judgement:
    """A guard that is freed when the shaft stands: as the chain has it."""
    text = "The guard is stated to stay locked until standstill is detected, so its distance does not decide"
    found = lock or Lock(Verdict.NOT_OBSERVED, "nothing was shown of its lock; test it")
    verdict, why = _locked(found, required, "that the lock holds until then was shown")
    return Judgement("guard locking", verdict, _LOCKING, f"{text}; {why}.")


def by_time(
    guard: Guard, stop_s: float, lock: Lock | None, required: str, today: date | None, trail: Trail
) -> Judgement:
    """A guard that is freed some time after the stop began: stated, timed, and compared with the longest stop.

    The stated delay must be no shorter than the stop, and what was timed no shorter than the stated delay. `lock`:
    None where no device of the chain locks the guard, as with a bolt that is undone by hand.
    """
    stated = needed("unlock_delay_s", guard.unlock_delay_s)
    found = [_enough(stated, stop_s, trail), _timed(guard.unlock_timed, stated, today, trail)]
    if lock is not None:
        found += [_locked(lock, required, "the chain shows its lock"), *_as_described(lock, stated)]
    text = "; ".join(why for _, why in found)
    return Judgement("unlock delay", worst(verdict for verdict, _ in found), _LOCKING, f"{text}.")


def _enough(stated: float, stop_s: float, trail: Trail) -> Found:
    least = trail.note(
        "guard: least delay before unlocking",
        "T, rounded up to 0.1 s",
        {"T": stop_s},
        unlock_delay_s(stop_s),
        unit="s",
        source=_LOCKING,
        mark=Mark.FROM_MEMORY,
    )
    text = (
        f"The guard is stated to unlock no sooner than {stated:g} s after the stop began, and the stop takes at most "
        f"{round_up_ms(stop_s):.3f} s"
    )
    if stated < stop_s:
        return Verdict.FAIL, f"{text}: make it {least:g} s or more"
    return Verdict.PASS, text


def _timed(timed: UnlockTimed | None, stated: float, today: date | None, trail: Trail) -> Found:
    """What was timed against what is stated; the shortest counts, by its whole interval."""
    if timed is None:
        return Verdict.NOT_OBSERVED, _UNTOLD
    shortest, wrong = as_written(timed.shortest_s), as_written(timed.uncertain_s)
    held = trail.note(
        "guard: time for which it surely held",
        "max(0, t - u)",
        {"t": timed.shortest_s, "u": timed.uncertain_s},
        max(0.0, float(shortest - wrong)),
        unit="s",
        source=f"the shortest of {len(timed.times_s)} openings, timed on {timed.day}: {timed.how}",
        mark=Mark.GIVEN,
    )
    text = (
        f"timed on {timed.day} ({timed.how}), the shortest of {len(timed.times_s)} openings took "
        f"{timed.shortest_s:g} s, uncertain by {timed.uncertain_s:g} s"
    )
    if shortest + wrong < as_written(stated):
        return (
            Verdict.FAIL,
            f"{text}, which is shorter than stated: lengthen the delay, or state what it takes",
        )
    if shortest - wrong < as_written(stated):
        why = f"so it surely held for {held:.3g} s only: state no more than that, or time it more exactly"
        return Verdict.INCONCLUSIVE, f"{text}, {why}"
    return _still_counts(timed, today, text)


def _still_counts(timed: UnlockTimed, today: date | None, text: str) -> Found:
    if today is None:
        return Verdict.INCONCLUSIVE, f"{text}; the day to judge that on was not given"
    if today < timed.day:
        return Verdict.INCONCLUSIVE, f"{text}; that day is after {today}: correct it"
    if today - timed.day > timedelta(days=timed.holds_days):
        old = (today - timed.day).days
        return (
            Verdict.INCONCLUSIVE,
            f"{text}; that is {old} days ago and counts for {timed.holds_days:g}: time it anew",
        )
    return Verdict.PASS, text


def _locked(lock: Lock, required: str, passed: str) -> Found:
    """What the chain shows of the lock, `passed` if it holds; above level c one fault must not free it."""
    said = {
        Verdict.PASS: passed,
        Verdict.FAIL: "but its lock does not hold",
    }.get(lock.verdict, "that the lock holds while the shaft turns was not shown")
    verdict, text = lock.verdict, f"{said}: {lock.why}"
    if verdict is Verdict.PASS and lock.freed_by:
        text += f". One fault may free it all the same: {'; '.join(lock.freed_by)}"
        if not reaches(_ONE_CHANNEL, required):
            verdict = Verdict.INCONCLUSIVE
            text += f". For PL {required} mend that, or exclude the fault with a reason"
    return verdict, text


def _as_described(lock: Lock, stated: float) -> list[Found]:
    """The chain must not have been proved with a longer delay than the one that is stated and timed."""
    if lock.takes_s is None or lock.takes_s <= stated:
        return []
    why = (
        f"the chain was proved with {lock.takes_s:g} s until the guard is free, which is more than is stated here: "
        "describe the shortest time in both places"
    )
    return [(Verdict.INCONCLUSIVE, why)]
