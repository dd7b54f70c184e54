"""Is time missing from a recording: do counters of several messages run on at once, while its clock does not?"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.shows_models import Shows
from interlock.bench.sources import source_of, sources_of
from interlock.interval import Interval
from interlock.replay.expecting import expected_messages
from interlock.replay.stamps import silences, unchanged
from interlock.timing.phase import Beat, phase_jumps, steady_period
from interlock.trace.checks import slack_ns
from interlock.trace.expected import Expected
from interlock.trace.model import Quality, QualityKind, Trace

__all__ = ["all_in_doubt", "missing_time"]

_LONGEST_NS: Final = 600_000_000_000
"""No longer piece is looked for that counters which went on would hide (common practice, no source)."""

_AROUND: Final = 9  # frames on each side that must keep to the period (common practice, no source)
_OFTEN: Final = 1000  # a message that leaves its period more often has none (common practice, no source)
_COUNTING: Final = 0.5  # a counter does not count if fewer steps than this share are of one
_FINER: Final = (
    20  # times the stated spread of stamps; a smaller turn of all phases may be the recorder's own
)
_STRAYS: Final = 8  # times the median by which steps stray from the period (common practice, no source)


@dataclass(frozen=True, slots=True)
class _Jump:
    """Two frames of a message between which its counter ran ahead of the time that passed, or made no step."""

    message: str
    lo: int
    hi: int
    ahead_ns: int  # at least; whole turns of the counter cannot be seen, and 0 may stand for one


def missing_time(trace: Trace, shows: Shows, late: Iterable[Quality], person_ns: int) -> Iterator[Quality]:
    """A blinding doubt about each message of a recorder where it lost time: it was cut, or its clock stood.

    The counter of one message may jump as its sender starts anew, if another one went on meanwhile; those of two, at
    once, tell of the recorder, and so may one that no other one contradicts. The doubt lasts for as long as the time
    that is missing, and for longer than a person needs (`person_ns`), since whole turns of a counter cannot be seen.

    `late`: the doubts about late stamps. Frames that come too soon after others may tell of a cut instead, and so may
    a message that from one frame on keeps to its period at other times than before; unless a counter went on meanwhile.
    """
    late = tuple(late)
    for source in sources_of(shows):
        counted = [one for one in expected_messages(shows, source) if one.alive]
        jumps = [jump for one in counted for jump in _jumps(trace, one)]
        told = []
        for together in _at_once(sorted(jumps, key=lambda one: one.lo)):
            if len({one.message for one in together}) > 1 or not _contradicted(trace, counted, together[0]):
                told += together
                yield from _told(trace, shows, source, together, person_ns)
        for near in _off_beat(trace, shows, source, told):
            jumps.append(near)
            yield from _told(trace, shows, source, [near], person_ns)
        uncounted = [
            one for one in expected_messages(shows, source) if not one.alive and one.message in shows.messages
        ]
        odd = [
            near for one in uncounted for near in (*_too_near(trace, one, late), *_shifts(trace, shows, one))
        ]
        for near in sorted(odd, key=lambda one: one.lo):
            known = any(one.lo < near.hi and near.lo < one.hi for one in jumps)
            if not known and not any(_went_on(trace, one, near) for one in counted):
                jumps.append(near)
                yield from _told(trace, shows, source, [near], person_ns)


def _jumps(trace: Trace, expected: Expected) -> Iterator[_Jump]:
    alive = trace.signals.get(f"{expected.message}.{expected.alive}")
    if alive is None or len(alive.values) < 2:
        return
    times, width = alive.times_ns, trace.message_width_ns.get(expected.message, trace.resolution_ns)
    passed = np.diff(times)
    steps = np.nan_to_num(np.mod(np.diff(alive.values), expected.alive_modulo))
    ahead = steps * expected.period_ns - passed
    jumped = (steps > 1) & (ahead > slack_ns(expected, width))
    stood = (steps == 0) & (2 * passed > expected.period_ns)
    for at in np.flatnonzero((jumped | stood) & (passed <= expected.max_gap_ns)).tolist():
        yield _Jump(expected.message, int(times[at]), int(times[at + 1]), max(0, int(ahead[at])))


def _too_near(trace: Trace, expected: Expected, late: Iterable[Quality]) -> Iterator[_Jump]:
    """The last two frames of each doubt about late stamps of the message."""
    times = trace.messages.get(expected.message)
    for doubt in late:
        if times is not None and doubt.message == expected.message:
            end = len(times) if doubt.span.hi is None else int(np.searchsorted(times, doubt.span.hi))
            yield _Jump(expected.message, int(times[max(0, end - 2)]), int(times[end - 1]), 0)


def _off_beat(trace: Trace, shows: Shows, source: str, told: Iterable[_Jump]) -> Iterator[_Jump]:
    """Where all messages of a recorder leave their beat at once, by one length of time, and not near what is told.

    A turn that delays of stamps explain is looked at only where no message counts: else it would have to be a whole
    number of turns of a counter as well.
    """
    if sources_of(shows)[source].changes_only or sources_of(shows)[source].sampled:
        return
    beats, least, spread = [], 0.0, 0.0
    for one in expected_messages(shows, source):
        times = trace.messages.get(one.message)
        known = shows.messages.get(one.message)
        if times is None or known is None or known.on_change or not len(times) or times[0] < 0:
            continue
        width = trace.message_width_ns.get(one.message, trace.resolution_ns)
        counts = _counts(trace, one)
        period = steady_period(times, one.period_ns, counts, 1 if counts is None else one.alive_modulo)
        if period is not None:
            beats.append(Beat(times, period, counts, one.alive_modulo, width))
            least = max(least, one.stamp_spread_ns / _FINER, 2 * width)
            spread = max(spread, one.stamp_spread_ns + 2 * width)
    apart = [*(Interval(one.lo, one.hi) for one in told), *silences(trace, shows)]
    least = least if all(one.counts is None for one in beats) else spread
    for found in phase_jumps(beats, least, apart, spread):
        yield _Jump("", found.lo, found.lo if found.hi is None else found.hi, 0)


def _counts(trace: Trace, expected: Expected) -> NDArray[np.float64] | None:
    """The counter of a message, frame by frame; None: it has none, or one that does not count."""
    alive = trace.signals.get(f"{expected.message}.{expected.alive}")
    if alive is None or len(alive.values) != len(trace.messages[expected.message]):
        return None
    steps = np.mod(np.diff(alive.values), expected.alive_modulo)
    return alive.values if float(np.mean(steps == 1)) > _COUNTING else None


def _shifts(trace: Trace, shows: Shows, expected: Expected) -> Iterator[_Jump]:
    """Where the frames keep to their period before and after, but not from one to the other, and not by lost frames.

    By more than the stated delay of stamps may vary, and than they stray otherwise. At a change the period may begin
    anew where the message is sent on change too.
    """
    times = trace.messages.get(expected.message)
    if times is None or len(times) < 4 * _AROUND:
        return
    steps, width = np.diff(times), trace.message_width_ns.get(expected.message, trace.resolution_ns)
    period = max(1.0, float(np.median(steps)))
    off = steps - np.rint(steps / period) * period
    stray, stated = float(np.median(np.abs(off))), expected.stamp_spread_ns + 2 * width
    allowed = max(_STRAYS * stray, stated + period / 20)
    odd = np.abs(off) > allowed
    if shows.messages[expected.message].on_change:
        same = unchanged(trace, expected.message, expected.alive)
        odd &= same[1:] & same[:-1]
    far = np.flatnonzero(odd)
    if len(far) > _OFTEN:
        return
    behind = np.concatenate(([0.0], np.cumsum(off)))
    for at in far.tolist():
        before, after = behind[max(0, at + 1 - _AROUND) : at + 1], behind[at + 1 : at + 1 + _AROUND]
        if len(before) == len(after) and abs(float(np.median(after) - np.median(before))) > allowed:
            yield _Jump(expected.message, int(times[at]), int(times[at + 1]), 0)


def _at_once(jumps: list[_Jump]) -> Iterator[list[_Jump]]:
    """Jumps of different messages between frames that overlap."""
    numbers: list[int] = []
    until = 0
    for number, jump in enumerate(jumps):
        numbers.append(numbers[-1] if number and jump.lo < until else number)
        until = max(until, jump.hi) if number and jump.lo < until else jump.hi
    for _, group in groupby(zip(numbers, jumps, strict=True), key=lambda one: one[0]):
        together = [jump for _, jump in group]
        if any(jump.ahead_ns for jump in together):
            yield together


def _contradicted(trace: Trace, counted: list[Expected], jump: _Jump) -> bool:
    """Whether the counter of another message went on, from before the jump to after it, as no missing time explains.

    A counter that went on step by step may have made whole turns; so the time that is missing would be some of them.
    """
    by_name = {one.message: one for one in counted}
    mine = by_name.pop(jump.message)
    missing = np.arange(jump.ahead_ns, _LONGEST_NS, mine.alive_modulo * mine.period_ns)
    for one in by_name.values():
        if _went_on(trace, one, jump):
            turn = one.alive_modulo * one.period_ns
            apart = np.abs(missing - np.rint(missing / turn) * turn)
            if bool((apart > mine.period_ns + one.period_ns).all()):
                return True
    return False


def _went_on(trace: Trace, expected: Expected, jump: _Jump) -> bool:
    """Whether frames of the message came from before the jump to after it, each counted one more than the last."""
    alive = trace.signals.get(f"{expected.message}.{expected.alive}")
    if alive is None:
        return False
    first = int(np.searchsorted(alive.times_ns, jump.lo, side="right")) - 1
    stop = int(np.searchsorted(alive.times_ns, jump.hi, side="left")) + 1
    if first < 0 or stop > len(alive.values):
        return False
    steps = np.mod(np.diff(alive.values[first:stop]), expected.alive_modulo)
    return bool((steps == 1).all())


def _told(trace: Trace, shows: Shows, source: str, jumps: list[_Jump], person_ns: int) -> Iterator[Quality]:
    lo, missing = min(one.lo for one in jumps), max(one.ahead_ns for one in jumps)
    last = max(one.hi for one in jumps)
    span = Interval(lo, max(last + person_ns, lo + missing) + 1)
    told = _words(sorted({one.message for one in jumps}), missing)
    sentence = f"{told}, and what happened meanwhile nobody can tell."
    yield from all_in_doubt(trace, shows, source, span, sentence)


def all_in_doubt(trace: Trace, shows: Shows, source: str, span: Interval, sentence: str) -> Iterator[Quality]:
    """A blinding doubt about each message of a recorder that may have lost time.

    Beside other recorders it lasts for the whole run: one offset between their clocks no longer holds.
    """
    place = f"{span.lo / 1e9:.3f} s after the first frame"
    if len(sources_of(shows)) > 1:
        span = Interval(0, None)
        sentence += (
            f" How the clock of '{source}' compares with those of the other sources is not known either."
        )
    for name in trace.messages:
        if (name in shows.messages or name in shows.sources) and source_of(shows, name) == source:
            yield Quality(QualityKind.TIME_RELATIVE, name, None, span, place, True, sentence)


def _words(names: list[str], missing_ns: int) -> str:
    if not missing_ns and not names[0]:
        return (
            "All messages leave their periods at one moment, by one length of time: the recording was cut, or its clock"
            " was set"
        )
    if not missing_ns:
        return (
            f"Frames of {names[0]} do not keep to its period, and no message that counts its frames went on: they were"
            " stamped late, or the recording was cut or its clock was set"
        )
    length = f"{missing_ns / 1e6:.0f} ms or more are missing"
    if len(names) == 1:
        return (
            f"The counter of {names[0]} runs ahead of the time that passed, and no other one contradicts it: its sender"
            f" began anew, or the recording was cut or its clock stood and {length}"
        )
    return (
        f"The counters of {' and '.join(names)} do not go on, at one moment, and run ahead of the time that passed: the"
        f" recording was cut or its clock stood, and {length}"
    )
