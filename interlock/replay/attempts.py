"""Every use of the reset button, and whether it was lawful: press and release clear of every demand."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from interlock.replay.advice import AGAIN
from interlock.replay.periods import LONG_AGO, Period
from interlock.timing.edges import Change, before, changes, hidden
from interlock.timing.track import Track

__all__ = ["Attempt", "attempts", "between_samples", "doubt_of", "in_order", "not_shown"]


@dataclass(frozen=True, slots=True)
class Attempt:
    """The reset button pressed and released; `lawful` None: the log leaves open whether a demand was present."""

    press: Change | None  # None: it was pressed when the log began
    release: Change
    lawful: bool | None
    unseen_ns: int | None = (
        None  # no sample shows it: it may lie between two that are further apart than this
    )


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
    return list(in_order(found))


def in_order(found: Iterable[Attempt]) -> tuple[Attempt, ...]:
    """Attempts on one button in the order of their releases."""
    return tuple(sorted(found, key=lambda one: (one.release.first_new, one.release.last_old)))


class _Near:
    """Which demands are not clearly over before, or begun only after, somebody used the reset button."""

    def __init__(self, demands: Iterable[Period]) -> None:
        self._demands = list(demands)
        self._begin = np.array(
            [LONG_AGO if one.onset is None else one.onset.when.lo for one in self._demands]
        )
        ends = (None if one.gone is None else one.gone.when.hi for one in self._demands)
        self._end = np.array([-LONG_AGO if end is None else end for end in ends])

    def to(self, press: Change | None, release: Change) -> list[Period]:
        since = LONG_AGO if press is None else press.when.lo
        until = -LONG_AGO if release.when.hi is None else release.when.hi
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


def doubt_of(attempt: Attempt) -> str:
    """Why nobody can tell whether a doubtful attempt was a lawful reset, and what would show it; a clause."""
    press, release = attempt.press, attempt.release
    if attempt.unseen_ns == 0:
        return not_shown("the reset", release.track.name)
    if attempt.unseen_ns is not None:
        return between_samples("the reset", release, attempt.unseen_ns)
    if press is None and release.blind:
        return (
            "the reset may have been pressed unseen, as frames that show it are missing or not to be trusted;"
            f" {AGAIN}"
        )
    if press is None:
        return "the reset was pressed already when the log began; begin the record before"
    if press.first_new == release.last_old:
        return (
            "one sample only shows the reset pressed, too short a press to tell whether it began after the demand had"
            " gone; press it longer, or log its message more often"
        )
    return (
        "the reset was pressed while the demand may still have been present, or let go when one may have begun; wait"
        " longer before you press it"
    )


def not_shown(button: str, port: str) -> str:
    """That no log of this bench can show the button's use, and what to add; a clause."""
    return f"the bench file does not say how {button} shows itself in a log; add '{port}' under shows, states"


def between_samples(button: str, gap: Change, shortest_ns: int) -> str:
    """That a press of the button may lie between two samples, and what would show it; a clause."""
    apart = gap.track.stamps_ns[gap.first_new] - gap.track.stamps_ns[gap.last_old]
    return (
        f"{button} may have been pressed between two samples that lie {apart / 1e6:g} ms apart; log its message more"
        f" often than every {shortest_ns / 1e6:g} ms"
    )
