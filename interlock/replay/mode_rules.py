"""What the change of the mode may do, and demands of which nobody can tell whether the mode asks for a stop."""

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

import numpy as np

from interlock.interval import Interval, delay
from interlock.replay.advice import AGAIN, finer
from interlock.replay.finding import Finding, milliseconds
from interlock.replay.modes import MODE_CHANGE, function_of, limits_of
from interlock.replay.observation import Observation
from interlock.replay.starting import starters
from interlock.replay.windows import blind_between
from interlock.timing.decision import judge
from interlock.timing.edges import Change, after, before, changes
from interlock.timing.settle import Window, settled
from interlock.timing.track import BLIND, NO, YES, Track
from interlock.verdict import Verdict

__all__ = ["IDLE", "STARTS_NOTHING", "idle_words", "mode_rules_of"]

STARTS_NOTHING: Final = "starts_nothing"
IDLE: Final = "idle_in_mode"
_KNOWN: Final = "whenever a device demands a stop, the log shows in which mode"


def mode_rules_of(seen: Observation) -> Iterator[Finding]:
    """Nothing for a bench without modes."""
    if seen.bench.required.modes is None:
        return
    for edge in seen.mode_changes:
        for unit in seen.bench.required.effects.torque_off.of:
            yield from _starts_nothing(seen, edge, unit)
    for mode, track in seen.selected.items():
        for unit in seen.bench.required.idle_in(mode):
            yield from _idle(seen, mode, track, unit)
    for name, function in seen.bench.required.functions.items():
        if function.in_modes is not None and name in seen.asked:
            yield from _unknown(seen, name, seen.asked[name], seen.demands[function.demand])


def _starts_nothing(seen: Observation, edge: Change, unit: str) -> Iterator[Finding]:
    """Whether a unit without torque began to make it sooner after the change than a person could have started it."""
    track, needed = seen.tracks.get(f"{unit}.torque"), seen.bench.required.restart.no_sooner_than
    if track is None:
        return
    before_it = settled(track, Window(edge.when, None)).before
    if before_it == YES:
        return
    rise = next((one for one in after(changes(track), edge) if one.to), None)
    told = _too_soon(seen, edge, rise, track, needed)
    if told is None or (told[0] is Verdict.PASS and before_it != NO):
        return
    verdict, words = told
    name, function = seen.device_name(unit), function_of(seen.bench, MODE_CHANGE)
    requirement = f"the change of the mode does not start the {name}"
    sentence = f"The {name} {words}."
    yield Finding(
        MODE_CHANGE, unit, STARTS_NOTHING, verdict, requirement, function.source, sentence, edge.when
    )


def _too_soon(
    seen: Observation, edge: Change, rise: Change | None, track: Track, needed_ns: int
) -> tuple[Verdict, str] | None:
    """None: the log ends too soon after the change to tell."""
    until = None if edge.when.hi is None else edge.when.hi + needed_ns
    waited = None if rise is None or edge.when.hi is None else delay(edge.when, rise.when)
    if waited is None or waited.lo >= needed_ns:
        if until is None or track.clock.sampled(int(track.stamps_ns[-1])).lo < until:
            return None
        if blind_between([track], edge.when.lo, Interval(edge.when.lo, until)):
            return (
                Verdict.INCONCLUSIVE,
                f"may have been started by the change of the mode: frames are missing after it; {AGAIN}",
            )
        return Verdict.PASS, "was not started by the change of the mode"
    when = milliseconds(Interval(max(0, waited.lo), None if waited.hi is None else max(0, waited.hi)))
    words = f"made torque {when} after the change of the mode"
    pressed = [None if one is None else _pressed(one, edge, rise) for _, one in starters(seen)]
    if True in pressed:
        return Verdict.PASS, f"{words}, when a person pressed a button that starts it"
    sure = rise is not None and before(edge, rise) is True and not edge.blind and not rise.blind
    if not sure or None in pressed or waited.hi is None or waited.hi >= needed_ns:
        how = "wait longer before you start it"
        return Verdict.INCONCLUSIVE, f"{words}, perhaps sooner than a person could have started it; {how}"
    return Verdict.FAIL, f"{words}, sooner than a person could have started it ({needed_ns / 1e6:g} ms)"


def _pressed(button: Track, edge: Change, rise: Change | None) -> bool | None:
    """Whether the button was surely pressed between the two; None: it may have been."""
    presses = [one for one in after(changes(button), edge) if one.to]
    if rise is None or not presses or before(rise, presses[0]) is True:
        return False
    return True if before(edge, presses[0]) is True and before(presses[0], rise) is True else None


def idle_words(seen: Observation, mode: str, unit: str) -> str:
    """What is asked of a unit that does not work in a mode."""
    modes = seen.bench.required.modes
    title = "" if modes is None else modes.each[mode].title
    return f"in mode '{title}', in which it does not work, the {seen.device_name(unit)} makes no torque"


def _idle(seen: Observation, mode: str, selected: Track, unit: str) -> Iterator[Finding]:
    """For each time that the mode was selected: was the unit soon without torque, and so to the end of it?"""
    torque, source = seen.tracks.get(f"{unit}.torque"), function_of(seen.bench, MODE_CHANGE).source
    limit, name = limits_of(seen.bench, MODE_CHANGE)[unit], seen.device_name(unit)
    if torque is None:
        return
    for begun, ended in _selections(selected):
        onset = begun.when if begun is not None else Interval(0, 0)
        got = settled(torque, Window(onset, None if ended is None else ended.when))
        verdict = judge(delay(onset, got.at), limit)
        if verdict is Verdict.PASS and (got.blind_before or got.blind_after or got.before == BLIND):
            verdict = Verdict.INCONCLUSIVE
        words = {
            Verdict.PASS: f"The {name} made no torque in this mode.",
            Verdict.FAIL: f"The {name} made torque in this mode, up to {got.at.lo / 1e9:.3f} s at least.",
        }
        blind = got.blind_before or got.blind_after or got.before == BLIND
        how = f"frames are missing; {AGAIN}" if blind else finer([selected, torque], limit)
        sentence = words.get(verdict, f"Whether the {name} made torque in this mode cannot be said: {how}.")
        requirement, demand = idle_words(seen, mode, unit), None if begun is None else begun.when
        yield Finding(MODE_CHANGE, unit, IDLE, verdict, requirement, source, sentence, demand)


def _selections(selected: Track) -> Iterator[tuple[Change | None, Change | None]]:
    """Each time that a mode was selected, from its beginning (None: since before the log) to its end."""
    edges = changes(selected)
    known = selected.states[selected.states >= NO]
    if len(known) and known[0] == YES:
        yield None, edges[0] if edges else None
    for place, edge in enumerate(edges):
        if edge.to:
            yield edge, edges[place + 1] if place + 1 < len(edges) else None


def _unknown(seen: Observation, name: str, asked: Track, device: Track) -> Iterator[Finding]:
    """Stretches in which the device demanded, the mode was not shown, and no stop was told before or after them."""
    function = seen.bench.required.functions[name]
    for lo, hi, blind in _stretches(asked, seen.bench.required.restart.no_sooner_than):
        inside = (device.stamps_ns >= lo) & (device.stamps_ns <= hi)
        if (device.states[inside] == YES).any():
            why = f"frames are missing or not to be trusted; {AGAIN}" if blind else _untold(seen)
            sentence = (
                f"At {lo / 1e9:.3f} s the {seen.device_name(function.demand)} demanded a stop, and whether it was asked"
                f" for cannot be said, as nobody can tell the mode: {why}."
            )
            verdict = Verdict.INCONCLUSIVE
            yield Finding(name, function.demand, "mode_known", verdict, _KNOWN, function.source, sentence)


def _untold(seen: Observation) -> str:
    return f"its signals do not tell; {finer(seen.selected.values())}, or correct its conditions under modes"


def _stretches(track: Track, short_ns: int) -> Iterator[tuple[int, int, bool]]:
    """First and last stamp of each stretch of which nothing is known, and whether evidence is missing in it.

    Not those from one side of a change to the other, which only make its interval wider, nor short ones with which
    the log begins or ends.
    """
    known = np.flatnonzero(track.states >= NO)
    places = [-1, *known.tolist(), len(track.states)]
    for old, new in pairwise(places):
        if new - old < 2:
            continue
        lo, hi = int(track.stamps_ns[old + 1]), int(track.stamps_ns[new - 1])
        ends = {int(track.states[one]) for one in (old, new) if 0 <= one < len(track.states)}
        whole = old >= 0 and new < len(track.states)
        if len(ends) < 2 and (whole or hi - lo > short_ns):
            yield lo, hi, bool((track.states[old + 1 : new] == BLIND).any())
