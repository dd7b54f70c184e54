"""By whom a unit may have been started after a demand: a button that is held, one that was pressed, or nobody."""

from collections.abc import Iterator
from dataclasses import replace

from interlock.bench import Kind, kinds_of
from interlock.interval import Interval
from interlock.replay.advice import finer
from interlock.replay.observation import Observation
from interlock.replay.resets import button_of, needs_reset
from interlock.replay.stops import Stop
from interlock.timing.edges import Change, after, before, changes, holds_at
from interlock.timing.settle import Window, settled
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, States, Track, invert
from interlock.verdict import Verdict

__all__ = ["ended_by_mode", "held", "is_start", "pressed_between", "started_by_nobody", "starters"]


def is_start(seen: Observation, stop: Stop) -> bool:
    """Whether ending the demand is itself a person's start, as pressing a hold-to-run button is."""
    if stop.by_button or not _kind(seen, stop.period.device).starts:
        return False
    return not ended_by_mode(seen, stop)


def ended_by_mode(seen: Observation, stop: Stop) -> bool:
    """Whether the demand went because the mode changed, its device demanding on."""
    gone = stop.period.gone
    return gone is not None and holds_at(seen.demands[stop.period.device], gone) == YES


def held(seen: Observation, stop: Stop, start: Change, verdict: Verdict, why: str) -> tuple[Verdict, str]:
    """The verdict on an early start, where a person may have held a button that starts.

    With a reset only one that is seen to be held counts, and that is held to run.
    """
    shown = [
        UNKNOWN if track is None else holds_at(track, start)
        for device, track in starters(seen)
        if not stop.by_button or (track is not None and _kind(seen, device).starts)
    ]
    if YES in shown:
        return Verdict.PASS, "while a person held a button that starts it"
    if UNKNOWN in shown:
        return Verdict.INCONCLUSIVE, f"{why}, unless somebody held a button that starts it; {_show(seen)}"
    return verdict, why


def _show(seen: Observation) -> str:
    """What would tell whether a button was held that starts a unit; a clause."""
    ports = [f"'{device}.pressed'" for device, track in starters(seen) if track is None]
    if ports:
        return f"add {' and '.join(ports)} under shows, states"
    return finer(track for _, track in starters(seen))


def started_by_nobody(seen: Observation, stop: Stop, start: Change) -> bool:
    """Whether only buttons that the log shows can start the unit, and none was pressed from the demand's end on.

    Asked only where no reset is needed: with one, how soon torque came after it tells more.
    """
    gone, kinds = stop.period.gone, kinds_of(seen.bench)
    if stop.by_button or gone is None or gone.blind or start.blind or before(gone, start) is not True:
        return False
    shown = dict(starters(seen))
    barred = _barred(seen) | {one for one in seen.bench.devices if one in shown}
    acted_on = {
        one
        for one, is_ in seen.bench.devices.items()
        if any(step.act for step in kinds[is_.kind].transitions)
    }
    window = Window(gone.when, start.when)
    return acted_on <= barred and all(_never(track, window) for track in shown.values())


def pressed_between(button: Track | None, since: Change, until: Change) -> bool:
    """Whether a button was surely pressed after one change and before the other, or held at the later one."""
    if button is None:
        return False
    presses = [one for one in after(changes(button), since) if one.to]
    return holds_at(button, until) == YES or any(before(one, until) is True for one in presses[:1])


def _never(track: Track | None, window: Window) -> bool:
    """Whether the condition surely never held from just before the window to just after it."""
    if track is None or window.end is None or window.end.hi is None:
        return False
    late = window.end.hi + track.clock.most_ns + track.clock.width_ns
    got = settled(track, Window(window.onset, Interval(late, late)))
    return got.before == NO and got.at == Interval(window.onset.lo, window.onset.lo)


def starters(seen: Observation) -> Iterator[tuple[str, Track | None]]:
    """Every button that falls back when it is let go and that a person may start by; None: the log does not show it.

    One that starts and has no output `pressed`, such as a two-hand control, is held while it demands nothing.
    """
    barred = _barred(seen)
    for device in seen.bench.devices:
        kind = _kind(seen, device)
        if not kind.momentary or device in barred:
            continue
        if "pressed" in kind.outputs:
            yield device, seen.tracks.get(f"{device}.pressed")
        elif kind.starts and kind.demand is not None:
            asked = seen.demands.get(device)
            yield device, None if asked is None else replace(asked, states=_opposite(asked.states), memo={})


def _opposite(states: States) -> States:
    """Not the condition; where there is no evidence there is none of this either."""
    turned = invert(states)
    turned[states == BLIND] = BLIND
    return turned


def _barred(seen: Observation) -> set[str]:
    """Devices that start nothing: stop devices, resets, supply-on and the mode selector."""
    required = seen.bench.required
    functions = required.functions.values()
    barred = {one.demand for one in functions if not _kind(seen, one.demand).starts}
    barred |= {one.supply.on_by for one in functions if one.supply is not None}
    barred |= {button_of(required, name) for name in required.functions if needs_reset(required, name)}
    if required.modes is not None:
        barred |= {required.modes.by, *([required.reset.by] if required.modes.change == "stops" else [])}
    return barred


def _kind(seen: Observation, device: str) -> Kind:
    return kinds_of(seen.bench)[seen.bench.devices[device].kind]
