"""How long an effect must last: until something may lawfully have brought supply or motion back."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from interlock.interval import Interval
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.replay.unseen import unseen_supply
from interlock.timing.edges import before, first_possible, hidden
from interlock.timing.settle import Window
from interlock.timing.track import BLIND, Track

__all__ = ["Lasting", "blind_between", "until_motion", "until_reset", "until_supply"]


@dataclass(frozen=True, slots=True)
class Lasting:
    """From the onset to what may end the effect lawfully; not `sure`: that may have been later, or not lawful."""

    window: Window
    sure: bool


def until_reset(stop: Stop) -> Lasting:
    """Until the reset that may end the stop."""
    lawful = stop.reset is None or stop.reset.lawful is True
    return Lasting(stop.window, lawful and not blind_between(stop.shown, stop.onset.lo, stop.window.end))


def until_supply(seen: Observation, stop: Stop) -> Lasting:
    """Until supply-on was first pressed anew after the demand had gone; without such a rule, until the reset."""
    rule = stop.function.supply
    if rule is None:
        return until_reset(stop)
    demand, pressed, gone = seen.asked[stop.name], seen.tracks.get(f"{rule.on_by}.pressed"), stop.period.gone
    if pressed is None:  # the bench does not show it: from the demand's end on it may be pressed at any time
        return Lasting(Window(stop.onset, None if gone is None else gone.when), gone is None)
    anew = None if gone is None else first_possible(pressed, gone)
    unseen = None if gone is None else unseen_supply(seen, rule, gone, anew)
    end = _first([anew, _out_of_sight(seen, stop), None if unseen is None else unseen.when])
    sure = unseen is None and not blind_between([demand, pressed], stop.onset.lo, end)
    return Lasting(Window(stop.onset, end), sure)


def _out_of_sight(seen: Observation, stop: Stop) -> Interval | None:
    """The first stretch without evidence in which a person may have let the demand go, and demanded again."""
    onset, gone, person = stop.period.onset, stop.period.gone, seen.bench.required.restart.no_sooner_than
    for blind in hidden(seen.asked[stop.name]):
        long = blind.when.hi is None or blind.when.hi - blind.when.lo > person
        after = onset is None or before(onset, blind) is not False
        if long and after and (gone is None or before(gone, blind) is not True):
            return blind.when
    return None


def until_motion(seen: Observation, stop: Stop) -> Lasting:
    """Until, after the reset, a unit may have made torque again or the references may have been set."""
    if stop.reset is None:
        return Lasting(Window(stop.onset, None), sure=True)
    effects = seen.bench.required.effects
    ports = [f"{unit}.torque" for unit in effects.torque_off.of]
    ports += [] if effects.references_zero is None else [f"{effects.references_zero.of}.set"]
    tracks = [seen.tracks[port] for port in ports if port in seen.tracks]
    end = _first(first_possible(track, stop.reset.release) for track in tracks)
    unseen = end is not None and blind_between(tracks, end.lo, end)
    return Lasting(Window(stop.onset, end), until_reset(stop).sure and not unseen)


def _first(ends: Iterable[Interval | None]) -> Interval | None:
    return min((end for end in ends if end is not None), key=lambda end: end.lo, default=None)


def blind_between(tracks: Iterable[Track | None], lo_ns: int, end: Interval | None) -> bool:
    """Whether evidence of a track is missing between an instant and an end (None: the log's)."""
    for track in tracks:
        if track is None:
            continue
        first = max(
            0, int(np.searchsorted(track.stamps_ns, lo_ns)) - 1
        )  # may stand for a stretch that lasts on
        late = None if end is None or end.hi is None else end.hi + track.clock.most_ns + track.clock.width_ns
        stop = (
            len(track.stamps_ns)
            if late is None
            else int(np.searchsorted(track.stamps_ns, late, side="right"))
        )
        if (track.states[first:stop] == BLIND).any():
            return True
    return False
