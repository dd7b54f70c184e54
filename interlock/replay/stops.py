"""Every demand in a log, from its onset to the reset that lawfully ends the stop."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from interlock.bench.models import Function
from interlock.interval import Interval
from interlock.replay.observation import Observation
from interlock.timing.edges import Change, before, changes, hidden
from interlock.timing.settle import Window
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


def attempts(reset: Track, demands: Iterable[Period]) -> list[Attempt]:
    """Every time that the reset button was let go, or may have been while evidence is missing."""
    found, press, all_demands = [], None, list(demands)
    for edge in changes(reset):
        if edge.to:
            press = edge
        else:
            found.append(Attempt(press, edge, _lawful(press, edge, all_demands)))
            press = None
    found += [Attempt(None, edge, _lawful(None, edge, all_demands)) for edge in hidden(reset)]
    return sorted(found, key=lambda one: (one.release.first_new, one.release.last_old))


def _lawful(press: Change | None, release: Change, demands: list[Period]) -> bool | None:
    """Whether press and release lie clear of every demand; False if one was surely present at the release."""
    clear = [_clear(press, release, demand) for demand in demands]
    if False in clear:
        return False
    return None if None in clear or press is None else True


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
                late = tuple(one for one in resets if _after(period, one))
                ending = next((one for one in late if one.lawful is not False), None)
                onset = _onset(period, observation)
                found.append(Stop(len(found), name, function, period, onset, ending, late))
    return found


def _after(period: Period, attempt: Attempt) -> bool:
    return period.onset is None or before(attempt.release, period.onset) is not True


def _onset(period: Period, observation: Observation) -> Interval:
    if period.onset is not None:
        return period.onset.when
    track = observation.demands[period.device]
    first = int((track.states == YES).argmax())
    return Interval(_LONG_AGO, track.interval(None, first).hi)
