"""Every demand in a log, from its onset to the reset that lawfully ends the stop."""

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from interlock.bench.required_models import Function, Required
from interlock.interval import Interval
from interlock.replay.attempts import Attempt, in_order
from interlock.replay.modes import MODE_CHANGE, function_of, limits_of, mode_at
from interlock.replay.observation import Observation
from interlock.replay.periods import LONG_AGO, Period
from interlock.replay.resets import Resets, button_of, by_supply_on, needs_reset
from interlock.replay.unseen import unseen_reset
from interlock.timing.edges import Change, after, before, holds_at
from interlock.timing.settle import Window, settled
from interlock.timing.track import NO, YES, Track

__all__ = ["Stop", "lines_of", "stops"]


@dataclass(frozen=True, slots=True)
class Stop:
    """One demand of one function, and the first reset after it that may end the stop.

    Where the function needs no reset, the end of its demand counts as one.
    """

    index: int
    name: str  # function id, or MODE_CHANGE
    function: Function
    period: Period
    onset: Interval
    reset: Attempt | None
    late: tuple[Attempt, ...]  # every attempt that ended after the onset, lawful or not
    limits: Mapping[str, int]  # in which time torque must be gone, ns, by the units that the stop is of
    shown: tuple[Track | None, ...]  # what tells when the stop began and what may have ended it
    mode: str | None  # the mode in which it was surely demanded
    by_mode: bool  # only the change of the mode made the demand count: that puts the device to no test

    @property
    def by_button(self) -> bool:
        """A reset button ends it."""
        return self.function.without_reset is None

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


def stops(observation: Observation, resets: Resets, demands: list[Period]) -> list[Stop]:
    """One stop for each function and each demand of it."""
    found: list[Stop] = []
    for period in demands:
        mode, by_mode = _mode(observation, period)
        for name in period.functions:
            limits = limits_of(observation.bench, name)
            late, ending = _ended(observation, resets, name, period)
            stop = Stop(
                index=len(found),
                name=name,
                function=function_of(observation.bench, name),
                period=period,
                onset=_onset(period, _asked(observation, name)),
                reset=ending,
                late=late,
                limits=limits,
                shown=_shown(observation, name),
                mode=mode,
                by_mode=by_mode,
            )
            found.append(stop)
    return found


def lines_of(required: Required, name: str) -> tuple[str, ...]:
    """What shows that a unit is off after a stop: torque and torque-enable line, or torque alone if only the supply
    went."""
    return ("torque",) if by_supply_on(required, name) else ("torque", "enabled")


def _asked(observation: Observation, name: str) -> Track:
    return next(iter(observation.selected.values())) if name == MODE_CHANGE else observation.asked[name]


def _shown(observation: Observation, name: str) -> tuple[Track | None, ...]:
    asked, required = _asked(observation, name), observation.bench.required
    if not needs_reset(required, name):
        return (asked,)
    return (asked, observation.tracks.get(f"{button_of(required, name)}.pressed"))


def _mode(observation: Observation, period: Period) -> tuple[str | None, bool]:
    """The mode in which the demand came, and whether only the change of the mode made it count."""
    if period.onset is None or MODE_CHANGE in period.functions:
        return None, False
    by_mode = holds_at(observation.demands[period.device], period.onset) == YES
    return None if by_mode else mode_at(observation.selected, period.onset), by_mode


def _ended(
    observation: Observation, resets: Resets, name: str, period: Period
) -> tuple[tuple[Attempt, ...], Attempt | None]:
    """Every attempt since the onset, and the one that may have ended the stop; it may lie between two samples."""
    required, units = observation.bench.required, limits_of(observation.bench, name)
    late = _late(period, resets.of(name))
    found = _ending(observation, units, lines_of(required, name), late)
    if not needs_reset(required, name):
        return late, found
    port = f"{button_of(required, name)}.pressed"
    unseen = unseen_reset(observation, period, port, resets.barring(name), units, found)
    return (late, found) if unseen is None else (in_order([*late, unseen]), unseen)


def _ending(
    observation: Observation, units: Iterable[str], lines: tuple[str, ...], late: tuple[Attempt, ...]
) -> Attempt | None:
    """The first reset that may have ended the stop; a doubtful one did not if all units were seen off after it."""
    able = [one for one in late if one.lawful is not False]
    for place, one in enumerate(able):
        sure = next((other for other in able[place:] if other.lawful is True), None)
        end = None if sure is None else sure.release.when
        if one is sure or not _stayed_off(observation, units, lines, Window(one.release.when, end)):
            return one
    return None


def _stayed_off(observation: Observation, units: Iterable[str], lines: Iterable[str], window: Window) -> bool:
    """Whether every one of the units was surely off, and evidently so, from the start of the window to its end."""
    ports = [f"{unit}.{what}" for unit in units for what in lines]
    tracks = [observation.tracks[port] for port in ports if port in observation.tracks]
    got = [settled(track, window) for track in tracks]
    at_once = Interval(window.onset.lo, window.onset.lo)
    return bool(got) and all(one.before == NO and one.at == at_once for one in got)


def _late(period: Period, resets: list[Attempt]) -> tuple[Attempt, ...]:
    """Every attempt that did not surely end before the onset."""
    if period.onset is None:
        return tuple(resets)
    return tuple(resets[len(resets) - len(after([one.release for one in resets], period.onset)) :])


def _onset(period: Period, track: Track) -> Interval:
    if period.onset is not None:
        return period.onset.when
    first = int((track.states == YES).argmax())
    return Interval(LONG_AGO, track.interval(None, first).hi)
