"""Every demand in a log, from its onset to the reset that lawfully ends the stop."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from interlock.bench.models import Function
from interlock.interval import Interval
from interlock.replay.observation import Observation
from interlock.timing.edges import Change, after, before, changes, hidden
from interlock.timing.settle import Window, settled
from interlock.timing.track import NO, YES, Track

__all__ = ["Attempt", "Period", "Stop", "attempts", "periods", "stops"]

_LONG_AGO = -(2**62)


@dataclass(frozen=True, slots=True)
class Period:
    """A demand present without a break; `onset` None: since before the log, `gone` None: to its end."""

    device: str
    onset: Change | None
    gone: Change | None


@dataclass(frozen=True, slots=True)
class Attempt:
    """The reset button pressed and released; `lawful` None: the log leaves open whether a demand was present."""

    press: Change | None  # None: it was pressed when the log began
    release: Change
    lawful: bool | None


@dataclass(frozen=True, slots=True)
class Stop:
    """One demand of one function, and the first reset after it that may end the stop."""

    index: int
    name: str  # function id
    function: Function
    period: Period
    onset: Interval
    reset: Attempt | None
    late: tuple[Attempt, ...]  # every attempt that ended after the onset, lawful or not

    def released_before(self, edge: Change) -> tuple[Attempt, ...]:
        """Every attempt since the onset that surely ended before the change."""
        return self.late[: len(self.late) - len(after([one.release for one in self.late], edge))]

    def released_after(self, edge: Change) -> tuple[Attempt, ...]:
        """Every attempt since the onset that surely ended after the change."""
        first = bisect_left(self.late, True, key=lambda one: before(edge, one.release) is True)
        return self.late[first:]

    @property
    def window(self) -> Window:
        """From the onset until the reset's release, or to the end of the log."""
        return Window(self.onset, None if self.reset is None else self.reset.release.when)

    @property
    def demand(self) -> Interval | None:
        """The onset, if the log shows it."""
        return None if self.period.onset is None else self.onset


def periods(observation: Observation) -> list[Period]:
    """Every period in which a device demands a stop, in order of their onsets."""
    found = [period for device, track in observation.demands.items() for period in _periods(device, track)]
    return sorted(found, key=lambda one: _LONG_AGO if one.onset is None else one.onset.when.lo)


def _periods(device: str, track: Track) -> Iterator[Period]:
    edges = changes(track)
    known = track.states[track.states >= NO]
    onset: Change | None = None
    present = bool(len(known)) and int(known[0]) == YES
    for edge in edges:
        if edge.to:
            onset, present = edge, True
        else:
            yield Period(device, onset, edge)
            present = False
    if present:
        yield Period(device, onset, None)


def attempts(reset: Track, demands: Iterable[Period], person_ns: int) -> list[Attempt]:
    """Every time that the reset button was let go, or may have been while evidence is missing.

    Within `person_ns` nobody lets a demand go, resets, and demands again unseen.
    """
    found, press, near = [], None, _Near(demands)
    for edge in changes(reset):
        if edge.to:
            press = edge
        else:
            found.append(Attempt(press, edge, _lawful(press, edge, near.to(press, edge))))
            press = None
    for edge in hidden(reset):
        short = edge.when.hi is not None and edge.when.hi - edge.when.lo <= person_ns
        present = short and any(_lasts(edge, demand) for demand in near.to(None, edge))
        found.append(Attempt(None, edge, False if present else None))
    return sorted(found, key=lambda one: (one.release.first_new, one.release.last_old))


class _Near:
    """Which demands are not clearly over before, or begun only after, somebody used the reset button."""

    def __init__(self, demands: Iterable[Period]) -> None:
        self._demands = list(demands)
        self._begin = np.array(
            [_LONG_AGO if one.onset is None else one.onset.when.lo for one in self._demands]
        )
        ends = (None if one.gone is None else one.gone.when.hi for one in self._demands)
        self._end = np.array([-_LONG_AGO if end is None else end for end in ends])

    def to(self, press: Change | None, release: Change) -> list[Period]:
        since = _LONG_AGO if press is None else press.when.lo
        until = -_LONG_AGO if release.when.hi is None else release.when.hi
        return [self._demands[k] for k in np.flatnonzero((self._end >= since) & (self._begin <= until))]


def _lawful(press: Change | None, release: Change, demands: list[Period]) -> bool | None:
    """Whether press and release lie clear of every demand; False if one was surely present at the release."""
    clear = [_clear(press, release, demand) for demand in demands]
    if False in clear:
        return False
    return None if None in clear or press is None else True


def _lasts(blind: Change, demand: Period) -> bool:
    """Whether the demand was surely present at the end of a short stretch without evidence."""
    begun = demand.onset is None or before(blind, demand.onset) is not True
    return begun and (demand.gone is None or before(blind, demand.gone) is True)


def _clear(press: Change | None, release: Change, demand: Period) -> bool | None:
    if demand.onset is not None and before(release, demand.onset) is True:
        return True
    if press is not None and demand.gone is not None and before(demand.gone, press) is True:
        return True
    begun = demand.onset is None or before(demand.onset, release) is True
    lasting = demand.gone is None or before(release, demand.gone) is True
    return False if begun and lasting else None


def stops(observation: Observation, resets: list[Attempt], demands: list[Period]) -> list[Stop]:
    """One stop for each function and each demand of its device."""
    found: list[Stop] = []
    for period in demands:
        for name, function in observation.bench.required.functions.items():
            if function.demand == period.device:
                late = _late(period, resets)
                ending = _ending(observation, late)
                onset = _onset(period, observation)
                found.append(Stop(len(found), name, function, period, onset, ending, late))
    return found


def _ending(observation: Observation, late: tuple[Attempt, ...]) -> Attempt | None:
    """The first reset that may have ended the stop; a doubtful one did not if all units were seen off after it."""
    able = [one for one in late if one.lawful is not False]
    for place, one in enumerate(able):
        sure = next((other for other in able[place:] if other.lawful is True), None)
        end = None if sure is None else sure.release.when
        if one is sure or not _stayed_off(observation, Window(one.release.when, end)):
            return one
    return None


def _stayed_off(observation: Observation, window: Window) -> bool:
    """Whether every unit was surely off, and evidently so, from the start of the window to its end."""
    units = observation.bench.required.effects.torque_off.of
    ports = [f"{unit}.{what}" for unit in units for what in ("torque", "enabled")]
    tracks = [observation.tracks[port] for port in ports if port in observation.tracks]
    got = [settled(track, window) for track in tracks]
    at_once = Interval(window.onset.lo, window.onset.lo)
    return bool(got) and all(one.before == NO and one.at == at_once for one in got)


def _late(period: Period, resets: list[Attempt]) -> tuple[Attempt, ...]:
    """Every attempt that did not surely end before the onset."""
    if period.onset is None:
        return tuple(resets)
    return tuple(resets[len(resets) - len(after([one.release for one in resets], period.onset)) :])


def _onset(period: Period, observation: Observation) -> Interval:
    if period.onset is not None:
        return period.onset.when
    track = observation.demands[period.device]
    first = int((track.states == YES).argmax())
    return Interval(_LONG_AGO, track.interval(None, first).hi)
