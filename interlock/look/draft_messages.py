"""The messages of a drafted bench description: their measured period, and what is proposed from it."""

import re
from collections.abc import Iterator
from math import floor, log10
from typing import Final

from interlock.bench.quantity import time_text
from interlock.look.seen import Look, MessageSeen, SignalSeen

__all__ = ["MISSED", "message_lines", "rounded"]

MISSED: Final = 3.5
"""The proposed longest gap in periods: three frames lost, and half a period of jitter (common practice, no source)."""
_STILL: Final = 3
"""A noisy signal may stand still for this many times its longest stretch in the log (common practice, no source)."""
_FEWEST: Final = 100  # samples from which noise is told
_VALUES: Final = 8  # a signal of fewer values carries no noise that can be told
_RUN: Final = 10  # nor does one that keeps a value for more samples
_CHECKSUM: Final = re.compile(r"(?i)crc|chk|check_?sum")


def message_lines(seen: Look) -> Iterator[str]:
    """One entry for each message of the DBC that the log holds."""
    for message in seen.messages:
        if message.name and not message.decoded:
            yield from _lines(message, [one for one in seen.signals if one.message == message.name])


def _lines(message: MessageSeen, signals: list[SignalSeen]) -> Iterator[str]:
    if message.periods is None or message.periods.median_ns == 0:
        yield f"    {message.name}: {{period: undecided, longest_gap: undecided}}  # {message.count} in the log"
        return
    period = rounded(message.periods.median_ns)
    turn = max((_turn(message, one) for one in signals), default=1)
    gap = rounded(int(MISSED * period * turn))
    yield f"    {message.name}:  # {_measured(message, gap)}"
    if turn > 1:
        yield f"      # Its signals take turns: one of them comes with 1 frame in {turn} only, so the gap is longer."
    yield f"      period: {time_text(period)}"
    yield f"      longest_gap: {time_text(gap)}"
    if message.counters and message.counters[0].where in {one.name for one in signals}:
        counter = message.counters[0]
        yield f"      alive: {counter.where}  # a guess: up by one in {counter.share:.1%} of the steps"
        yield f"      alive_modulo: {counter.modulo}"
    yield from _moves(message, signals, period)


def _turn(message: MessageSeen, signal: SignalSeen) -> int:
    """With every so manieth frame of the message the signal comes: more than 1 if it is multiplexed."""
    return max(1, round(message.count / signal.count)) if signal.count else 1


def _measured(message: MessageSeen, gap_ns: int) -> str:
    assert message.periods is not None and message.longest_gap.hi is not None  # noqa: S101 - by the caller
    low, high = (f"{one / 1e6:.4g}" for one in (message.periods.least_ns, message.periods.most_ns))
    said = f"measured: {message.count} frames, {low} to {high} ms apart"
    longest = message.longest_gap.hi - message.longest_gap.lo
    if longest > gap_ns:
        said += (
            f"; {longest / 1e6:.4g} ms without any from {message.longest_gap.lo / 1e9:.3f} s on: find out why"
        )
    return said


def _moves(message: MessageSeen, signals: list[SignalSeen], period_ns: int) -> Iterator[str]:
    counters = {one.where for one in message.counters}
    noisy = [one for one in signals if _is_noisy(one) and one.name not in counters]
    checksums = [one.name for one in noisy if _CHECKSUM.search(one.name)]
    if checksums:
        yield f"      # {', '.join(checksums)}: if it is a checksum of an AUTOSAR E2E profile, state it under e2e."
    kept = [
        (one, _longest(one, period_ns * _turn(message, one))) for one in noisy if one.name not in checksums
    ]
    if kept:
        yield f"      # Signals that carry noise, and how long they may keep a value: {_STILL} times the measured."
        yield f"      moves: {{{', '.join(f'{one.name}: {time_text(span)}' for one, span in kept)}}}"
        names = ", ".join(f"{one.name}: ... {one.unit}".rstrip() for one, _ in kept)
        yield f"      # uncertain: {{{names}}}  # by so much a value may be off; left out, it counts as exact"


def _is_noisy(signal: SignalSeen) -> bool:
    many = signal.count >= _FEWEST and signal.distinct >= _VALUES
    return many and signal.still is not None and signal.still.samples <= _RUN


def _longest(signal: SignalSeen, period_ns: int) -> int:
    assert signal.still is not None  # noqa: S101 - only noisy ones come here
    return rounded(_STILL * signal.still.samples * period_ns)


def rounded(span_ns: int) -> int:
    """A time of two digits if it is within 2 % of that, else of three: what a data sheet would say."""
    if span_ns <= 0:
        return span_ns
    for digits in (1, 2, 3):
        step: int = 10 ** max(0, floor(log10(span_ns)) + 1 - digits)
        near = max(step, floor(span_ns / step + 0.5) * step)
        if abs(near - span_ns) <= 0.02 * span_ns:
            return near
    return span_ns
