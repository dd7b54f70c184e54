"""Every demand in a log, from its onset to the reset that lawfully ends the stop."""

from bisect import bisect_left
from dataclasses import dataclass

from interlock.bench.required_models import Function
from interlock.interval import Interval
from interlock.replay.attempts import Attempt
from interlock.replay.observation import Observation
from interlock.replay.periods import LONG_AGO, Period
from interlock.timing.edges import Change, after, before
from interlock.timing.settle import Window, settled
from interlock.timing.track import NO, YES

__all__ = ["Stop", "stops"]


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
    return Interval(LONG_AGO, track.interval(None, first).hi)
