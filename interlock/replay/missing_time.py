"""Is time missing from a recording: do counters of several messages run on at once, while its clock does not?"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from interlock.bench.shows_models import Shows
from interlock.bench.sources import source_of, sources_of
from interlock.interval import Interval
from interlock.replay.expecting import expected_messages
from interlock.trace.checks import slack_ns
from interlock.trace.expected import Expected
from interlock.trace.model import Quality, QualityKind, Trace

__all__ = ["missing_time"]


@dataclass(frozen=True, slots=True)
class _Jump:
    """Two frames of a message between which its counter ran ahead of the time that passed, or made no step."""

    message: str
    lo: int
    hi: int
    ahead_ns: int  # at least; whole turns of the counter cannot be seen, and 0 may stand for one


def missing_time(trace: Trace, shows: Shows) -> Iterator[Quality]:
    """A blinding doubt about each message of a recorder where it lost time: it was cut, or its clock stood.

    The counter of one message may jump as its sender starts anew; those of two, at once, tell of the recorder. The
    doubt lasts for as long as the time that is missing, since anything may have been done in it.
    """
    for source in sources_of(shows):
        jumps = [jump for one in expected_messages(shows, source) if one.alive for jump in _jumps(trace, one)]
        for together in _at_once(sorted(jumps, key=lambda one: one.lo)):
            yield from _told(trace, shows, source, together)


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


def _at_once(jumps: list[_Jump]) -> Iterator[list[_Jump]]:
    """Jumps of different messages between frames that overlap."""
    numbers: list[int] = []
    until = 0
    for number, jump in enumerate(jumps):
        numbers.append(numbers[-1] if number and jump.lo < until else number)
        until = max(until, jump.hi) if number and jump.lo < until else jump.hi
    for _, group in groupby(zip(numbers, jumps, strict=True), key=lambda one: one[0]):
        together = [jump for _, jump in group]
        if len({jump.message for jump in together}) > 1 and any(jump.ahead_ns for jump in together):
            yield together


def _told(trace: Trace, shows: Shows, source: str, jumps: list[_Jump]) -> Iterator[Quality]:
    lo, missing = min(one.lo for one in jumps), max(one.ahead_ns for one in jumps)
    span = Interval(lo, max(*(one.hi for one in jumps), lo + missing))
    names = " and ".join(sorted({one.message for one in jumps}))
    sentence = (
        f"The counters of {names} do not go on, at one moment, and run ahead of the time that passed:"
        f" {missing / 1e6:.0f} ms or more are missing. The recording was cut or its clock stood, and what happened"
        " meanwhile nobody can tell."
    )
    for name in trace.messages:
        if name in shows.messages and source_of(shows, name) == source:
            place = f"{lo / 1e9:.3f} s after the first frame"
            yield Quality(QualityKind.TIME_RELATIVE, name, None, span, place, True, sentence)
