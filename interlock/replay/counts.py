"""What one log counts: demands of each device, and openings of each contactor, apart those that broke a load.

Counts of this log and no other time: nothing is extrapolated. A device that the log does not show is absent, which is
not zero; where evidence is missing there may have been more.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from interlock.interval import Interval
from interlock.replay.judge import Judgement
from interlock.replay.observation import Observation
from interlock.replay.periods import periods
from interlock.timing.edges import changes
from interlock.timing.track import BLIND, NO, YES, Track

__all__ = ["LogCounts", "Openings", "counts_of"]

_MAIN: Final = ".main"


@dataclass(frozen=True, slots=True)
class Openings:
    """How often a contactor was seen to open. `under_load`: a unit made torque just before; `doubtful`: it may have.

    Just before: within the time that the contactor has to open after the demand, so that an emergency stop under
    torque counts although Safe Torque Off may have taken the current first.
    """

    openings: int
    under_load: int
    doubtful: int
    whole: bool  # False: evidence is missing, there may have been more


@dataclass(frozen=True, slots=True)
class LogCounts:
    """Counts by device; a demand counts if the log shows it begin."""

    demands: Mapping[str, int]
    whole: bool  # as above, of the demands
    contactors: Mapping[str, Openings]

    def as_json(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "demands": dict(self.demands),
            "whole": self.whole,
            "contactors": {
                name: {
                    "openings": one.openings,
                    "under_load": one.under_load,
                    "doubtful": one.doubtful,
                    "whole": one.whole,
                }
                for name, one in self.contactors.items()
            },
        }


def counts_of(judgement: Judgement) -> LogCounts:
    """Everything that the judged log lets be counted."""
    seen = judgement.observation
    begun = [one.device for one in periods(seen) if one.onset is not None]
    return LogCounts(
        {device: begun.count(device) for device in seen.demands},
        all(map(_whole, seen.demands.values())),
        {
            port.removesuffix(_MAIN): _openings(seen, port.removesuffix(_MAIN), track)
            for port, track in seen.tracks.items()
            if port.endswith(_MAIN)
        },
    )


def _whole(track: Track) -> bool:
    return not bool((track.states == BLIND).any())


def _openings(seen: Observation, contactor: str, main: Track) -> Openings:
    units = [seen.tracks.get(f"{unit}.torque") for unit in seen.bench.required.effects.torque_off.of]
    before = _just_before_ns(seen, contactor)
    loads = [_load(units, edge.when, before) for edge in changes(main) if not edge.to]
    return Openings(len(loads), loads.count(True), loads.count(None), _whole(main))


def _just_before_ns(seen: Observation, contactor: str) -> int:
    stated, delays = seen.bench.required.effects.contactor_open, seen.bench.devices[contactor].delays
    return max(0 if stated is None else stated.within, delays.get("drop_out", 0))


def _load(units: list[Track | None], opening: Interval, before_ns: int) -> bool | None:
    """Whether any unit made torque just before the opening; None: neither shown nor excluded."""
    found = [None if unit is None else _torque(unit, opening, before_ns) for unit in units]
    if True in found:
        return True
    return None if None in found else False


def _torque(track: Track, opening: Interval, before_ns: int) -> bool | None:
    clock, stamps = track.clock, track.stamps_ns
    if opening.hi is None:
        return None
    surely_from = opening.hi - before_ns + clock.most_ns + clock.width_ns
    surely_to = opening.lo + clock.least_ns - clock.width_ns
    first, stop = np.searchsorted(stamps, surely_from), np.searchsorted(stamps, surely_to, side="right")
    if bool((track.states[first:stop] == YES).any()):
        return True
    start = opening.lo - before_ns + clock.least_ns - clock.width_ns
    end = opening.hi + clock.most_ns + clock.width_ns
    since = int(np.searchsorted(stamps, start, side="right")) - 1
    until = int(np.searchsorted(stamps, end)) + 1
    seen = since >= 0 and until <= len(stamps)
    return False if seen and bool((track.states[since:until] == NO).all()) else None
