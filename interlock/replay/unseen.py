"""A press that no sample shows: where a person may have used a button between two samples of its message."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from interlock.bench.required_models import Supply
from interlock.interval import Interval
from interlock.replay.attempts import Attempt
from interlock.replay.observation import Observation
from interlock.replay.periods import LONG_AGO, Period
from interlock.timing.edges import Change, after, before, changes
from interlock.timing.track import BLIND, NO, Clock, Track

__all__ = ["gaps", "unseen_reset", "unseen_supply"]


def gaps(button: Track, shortest_ns: int) -> list[Change]:
    """Where a press of that length or longer leaves no trace: between neighbouring samples that show none.

    Each as the release that may lie there. Where evidence is missing, `hidden` of the edges tells of it instead.
    """
    known = np.flatnonzero(button.states >= NO)
    old, new = known[:-1], known[1:]
    blind = np.cumsum(button.states == BLIND, dtype=np.int64)
    spread = button.clock.most_ns - button.clock.least_ns  # an unknown offset of the clock shifts both alike
    wide = button.stamps_ns[new] - button.stamps_ns[old] + spread >= shortest_ns
    idle = (button.states[old] == NO) & (button.states[new] == NO) & (blind[old] == blind[new])
    found = np.flatnonzero(wide & idle)
    pairs = zip(old[found].tolist(), new[found].tolist(), strict=True)
    return [Change(button, i, k, False, button.interval(i, k), True) for i, k in pairs]


def unseen_reset(
    seen: Observation,
    period: Period,
    port: str,
    bars: Sequence[Period],
    units: Iterable[str],
    until: Attempt | None,
) -> Attempt | None:
    """A reset between two samples that may have ended the stop, if units came back before the one that was seen.

    It explains nothing where the press is seen that was being made when they came back, where it would have to be
    shorter than a person presses, or torque came sooner after it than a person starts. The latest that may be; so
    all that went before is still judged. A button that the bench does not show (at `port`) may be used at any time.
    """
    if period.gone is None:
        return None
    rises = [*_rises(seen, period.gone, units, until)]
    if not rises or _pressing(until, [edge for edge, _ in rises]):
        return None
    shortest, since = seen.bench.required.reset.shortest_press, period.gone.when.lo
    latest = min((edge.when.hi or -LONG_AGO) - needed for edge, needed in rises)
    within = Interval(since, max(since, latest))
    held, button = [*_surely(bars, within)], seen.tracks.get(port)
    for gap in reversed(gaps(button, shortest) if button is not None else [_anywhere(port, within)]):
        for free in reversed([*_free(gap.when, within, held)]):
            if free.hi is not None and free.hi - free.lo >= shortest:
                release = replace(gap, when=Interval(free.lo + shortest, free.hi))
                return Attempt(None, release, None, 0 if button is None else shortest)
    return None


def _anywhere(port: str, within: Interval) -> Change:
    """That what no log shows may have ended at any time."""
    ends = np.array([within.lo, within.hi], dtype=np.int64)
    nothing = Track(port, "", ends, np.full(2, BLIND, dtype=np.int8), Clock(0, 0, 0))
    return Change(nothing, 0, 1, False, within, True)


def _rises(
    seen: Observation, gone: Change, units: Iterable[str], until: Attempt | None
) -> Iterator[tuple[Change, int]]:
    """The first rise of each line and torque after the demand had gone, and how long after a reset it must come."""
    for unit in units:
        for what, needed in (("enabled", 0), ("torque", seen.bench.required.restart.no_sooner_than)):
            track = seen.tracks.get(f"{unit}.{what}")
            later = () if track is None else after(changes(track), gone)
            rise = next((edge for edge in later if edge.to), None)
            if rise is not None and (until is None or before(rise, until.release) is True):
                yield rise, needed


def _pressing(until: Attempt | None, rises: Iterable[Change]) -> bool:
    """Whether the button was seen pressed before something came back, and let go after it."""
    press = None if until is None else until.press
    return press is not None and any(before(press, edge) is True for edge in rises)


def _surely(bars: Iterable[Period], within: Interval) -> Iterator[Interval]:
    """Where a demand was surely present, as far as it matters; in order of their beginnings."""
    spans = []
    for one in bars:
        lo = LONG_AGO if one.onset is None else one.onset.when.hi
        hi = -LONG_AGO if one.gone is None else one.gone.when.lo
        if lo is not None and lo < hi and hi > within.lo and (within.hi is None or lo < within.hi):
            spans.append(Interval(lo, hi))
    yield from sorted(spans, key=lambda span: span.lo)


def _free(gap: Interval, within: Interval, held: Iterable[Interval]) -> Iterator[Interval]:
    """The pieces of a gap, within bounds, in which no demand was surely present."""
    lo, hi = max(gap.lo, within.lo), min(gap.hi or -LONG_AGO, within.hi or -LONG_AGO)
    for span in held:
        if span.hi is not None and span.hi > lo and span.lo < hi:
            if span.lo > lo:
                yield Interval(lo, span.lo)
            lo = span.hi
    if lo < hi:
        yield Interval(lo, hi)


def unseen_supply(seen: Observation, rule: Supply, gone: Change, anew: Interval | None) -> Change | None:
    """When supply-on may have been pressed between two samples, as the supply came back before the press that was seen.

    The latest that may be, after the demand had gone; None if the supply did not come back, or no press fits.
    """
    main, button = seen.tracks.get(f"{rule.of}.main"), seen.tracks[f"{rule.on_by}.pressed"]
    later = () if main is None else after(changes(main), gone)
    closed = next((edge for edge in later if edge.to), None)
    if closed is None or closed.when.hi is None or (anew is not None and closed.when.hi > anew.lo):
        return None
    shortest = seen.bench.required.reset.shortest_press
    for gap in reversed(gaps(button, shortest)):
        lo, hi = max(gap.when.lo, gone.when.lo), (gap.when.hi or -LONG_AGO) - shortest
        if lo <= min(hi, closed.when.hi):
            return replace(gap, to=True, when=Interval(lo, min(hi, closed.when.hi)))
    return None
