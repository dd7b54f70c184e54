"""The two channels of a guard: do they change together, and does a disagreement lock the bench out?"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench import kinds_of
from interlock.interval import Interval
from interlock.replay.advice import AGAIN, finer
from interlock.replay.attempts import Attempt, between_samples, doubt_of, not_shown
from interlock.replay.finding import Finding, milliseconds
from interlock.replay.modes import at_samples, limits_of
from interlock.replay.observation import Observation
from interlock.replay.resets import Resets, button_of, needs_reset
from interlock.replay.unseen import gaps
from interlock.timing.decision import judge
from interlock.timing.settle import Window, settled
from interlock.timing.track import BLIND, NO, YES, States, Track
from interlock.verdict import Verdict

__all__ = ["channels_of"]

_LOCK: Final = (
    "after the two channels disagreed the bench stays off until both were seen open"
    " and reset was pressed and released"
)


@dataclass(frozen=True, slots=True)
class _Apart:
    """One change of the channels: from agreement, perhaps through disagreement, to agreement or the log's end."""

    opening: bool | None  # None: they disagreed already when the log began
    start: Interval  # holds the instant at which the first channel changed
    first: int  # index of the first sample that shows the change
    lasting: Interval  # ns between the two channels
    blind: bool


@dataclass(frozen=True, slots=True)
class _Lock:
    """A disagreement that must lock the bench out, until `end`; what was seen of its end (None: nothing)."""

    apart: _Apart
    end: Interval | None
    opened_ns: int | None  # from here on both channels may have been open, so that a reset would end it


def channels_of(seen: Observation, resets: Resets) -> Iterator[Finding]:
    """For each function with a channel rule: a finding for every change of its device's two channels."""
    for name, function in seen.bench.required.functions.items():
        rule, device = function.channels, function.demand
        kind = kinds_of(seen.bench)[seen.bench.devices[device].kind]
        ports = [f"{device}.{channel}" for channel in kind.channels]
        if rule is None or any(port not in seen.tracks for port in ports):
            continue
        first, second = (seen.tracks[port] for port in ports)
        if first.message != second.message or not np.array_equal(first.stamps_ns, second.stamps_ns):
            continue  # cannot be compared: shows up as not observed
        asked = _asked(seen, name, first)
        both_open = (first.states == NO) & (second.states == NO)
        perhaps = both_open | (first.states == BLIND) | (second.states == BLIND)
        for apart in _changes(first, second.states):
            required = _throughout(asked, first, apart)
            if required is not False:
                yield _agree(seen, name, first, apart, sure=required is True)
            if required is True and apart.lasting.lo > rule.within:
                end = _may_return(first, both_open, apart, resets.of(name))
                lock = _Lock(apart, _or_other_mode(seen, apart, end), _opened(first, perhaps, apart))
                yield from _locked_out(seen, name, lock, resets.of(name))


def _asked(seen: Observation, name: str, channel: Track) -> States:
    """When the function is required, at the samples of a channel."""
    required = seen.requires.get(name)
    if required is None:
        return np.full(len(channel.states), YES, np.int8)
    return at_samples(channel, required)


def _throughout(asked: States, channel: Track, apart: _Apart) -> bool | None:
    """Whether the function was required while the channels changed; None: not all the time, or nobody can tell."""
    known = np.flatnonzero(channel.states >= NO)
    old = known[known < apart.first]
    last = apart.start.lo + (apart.lasting.lo if apart.lasting.hi is None else apart.lasting.hi)
    stop = max(apart.first, int(np.searchsorted(channel.stamps_ns, last, side="right")))
    shown = set(asked[int(old[-1]) if len(old) else 0 : stop + 1].tolist())
    return shown == {YES} if shown in ({YES}, {NO}) else None


def _or_other_mode(seen: Observation, apart: _Apart, end: Interval | None) -> Interval | None:
    """The next change of the mode, if it came sooner: after it nobody holds the two channels against each other."""
    later = (edge.when for edge in seen.mode_changes if edge.when.lo >= apart.start.lo)
    ends = [one for one in (end, next(later, None)) if one is not None]
    return min(ends, key=lambda one: one.lo, default=None)


def _changes(first: Track, second: States) -> Iterator[_Apart]:
    known = np.flatnonzero((first.states >= NO) & (second >= NO))
    agrees = first.states[known] == second[known]
    at = np.flatnonzero(agrees)
    head = known[: at[0]] if len(at) else known
    if len(head):
        yield _apart(first, second, None, int(known[at[0]]) if len(at) else None, head)
    states = first.states[known[at]]
    for place in np.flatnonzero((np.diff(at) > 1) | (states[1:] != states[:-1])):
        between = known[at[place] + 1 : at[place + 1]]
        yield _apart(first, second, int(known[at[place]]), int(known[at[place + 1]]), between)
    if len(at) and at[-1] + 1 < len(known):
        yield _apart(first, second, int(known[at[-1]]), None, known[at[-1] + 1 :])


def _apart(
    first: Track, second: States, old: int | None, new: int | None, between: NDArray[np.intp]
) -> _Apart:
    shown = int(between[0]) if len(between) else new
    stamps, jitter = first.stamps_ns, first.clock.most_ns - first.clock.least_ns + 2 * first.clock.width_ns
    least = max(0, int(stamps[between[-1]] - stamps[between[0]]) - jitter) if len(between) else 0
    most = None if old is None or new is None else int(stamps[new] - stamps[old]) + jitter
    span = slice(old, new)
    blind = bool(((first.states[span] == BLIND) | (second[span] == BLIND)).any())
    opening = None if old is None else int(first.states[old]) == YES
    return _Apart(opening, first.interval(old, shown), shown or 0, Interval(least, most), blind)


def _agree(seen: Observation, function: str, channel: Track, apart: _Apart, *, sure: bool) -> Finding:
    device = seen.bench.required.functions[function].demand
    rule = seen.bench.required.functions[function].channels
    assert rule is not None  # noqa: S101 - the caller has looked
    verdict = judge(apart.lasting, rule.within)
    silent = seen.silent(apart.start.lo, apart.start.lo + apart.lasting.lo)
    if silent or not sure or (apart.blind and verdict is Verdict.PASS):
        verdict = Verdict.INCONCLUSIVE
    name = seen.device_name(device)
    doing = {True: "On opening", False: "On closing", None: "When the log begins"}[apart.opening]
    sentence = f"{doing}, the two channels of the {name} changed {milliseconds(apart.lasting)} apart."
    if not sure:
        sentence = f"{sentence[:-1]}, while the mode changed or was not known; repeat it in one mode."
    elif verdict is Verdict.INCONCLUSIVE:
        why = f"frames are missing there; {AGAIN}"
        if apart.lasting.hi is None:
            why = "nobody knows how long in all; record the whole opening or closing"
        elif not (silent or apart.blind):
            why = f"too coarse to tell; {finer([channel], rule.within)}"
        sentence = f"{sentence[:-1]}: {why}."
    requirement = f"the two channels of the {name} change within {rule.within / 1e6:g} ms of each other"
    demand = apart.start if apart.opening else None
    return Finding(
        function,
        device,
        "channels_agree",
        verdict,
        requirement,
        rule.source,
        sentence,
        demand,
        apart.lasting,
        rule.within,
    )


def _may_return(
    first: Track, both_open: NDArray[np.bool_], apart: _Apart, resets: list[Attempt]
) -> Interval | None:
    """The release of the first reset that was pressed after both channels were seen open."""
    since = _opened(first, both_open, apart)
    if since is None:
        return None
    later = (
        one
        for one in resets
        if one.lawful is not False and one.press is not None and one.press.when.lo >= since
    )
    return next((one.release.when for one in later), None)


def _opened(first: Track, both_open: NDArray[np.bool_], apart: _Apart) -> int | None:
    """Since when, at the earliest, both channels were open after the change."""
    opened = np.flatnonzero(both_open[apart.first :])
    return first.clock.sampled(int(first.stamps_ns[apart.first + opened[0]])).lo if len(opened) else None


def _unseen_end(
    seen: Observation, function: str, lock: _Lock, resets: list[Attempt], by_ns: int
) -> str | None:
    """Why a reset that no sample shows may have ended the lock before an instant, and what would show it; a clause."""
    required, since = seen.bench.required, lock.opened_ns
    if since is None or since > by_ns or not needs_reset(required, function):
        return None
    port, shortest = f"{button_of(required, function)}.pressed", required.reset.shortest_press
    button = seen.tracks.get(port)
    if button is None:
        return not_shown("the reset", port)
    for one in resets:
        unsure = one.press is None or (one.lawful is None and one.press.when.lo < since)
        if unsure and _overlaps(one.release.when, since, by_ns):
            return doubt_of(one)
    hidden = (gap for gap in gaps(button, shortest) if _overlaps(gap.when, since, by_ns))
    return next((between_samples("the reset", gap, shortest) for gap in hidden), None)


def _overlaps(span: Interval, lo_ns: int, hi_ns: int) -> bool:
    return span.lo <= hi_ns and (span.hi is None or span.hi >= lo_ns)


def _locked_out(seen: Observation, function: str, lock: _Lock, resets: list[Attempt]) -> Iterator[Finding]:
    apart, end = lock.apart, lock.end
    rule = seen.bench.required.functions[function].channels
    assert rule is not None  # noqa: S101 - the caller has looked
    for unit, limit in limits_of(seen.bench, function).items():
        track = seen.tracks.get(f"{unit}.enabled", seen.tracks.get(f"{unit}.torque"))
        if track is None:
            continue
        got = settled(track, Window(apart.start, end))
        late = [one for one in got.returned if one > (apart.start.hi or 0) + limit]
        name = seen.device_name(unit)
        if late:
            unseen = _unseen_end(seen, function, lock, resets, late[0])
            verdict = Verdict.FAIL if unseen is None else Verdict.INCONCLUSIVE
            how = "in spite of it" if unseen is None else f"but {unseen}"
            sentence = f"The {name} was enabled at {late[0] / 1e9:.3f} s, {how}."
        elif got.blind_after:
            verdict = Verdict.INCONCLUSIVE
            why = f"frames are missing or not to be trusted; {AGAIN}"
            sentence = f"Whether the {name} stayed locked out cannot be said: {why}."
        elif got.at.hi is None or end is None:
            verdict = Verdict.INCONCLUSIVE
            sentence = (
                f"Whether the {name} stayed locked out was not seen to the end: record on until the guard was opened"
                " and closed and reset was pressed and released."
            )
        else:
            verdict, sentence = Verdict.PASS, f"The {name} stayed locked out."
        demand = apart.start if apart.opening else None
        yield Finding(function, unit, "locks_out", verdict, _LOCK, rule.source, sentence, demand)
