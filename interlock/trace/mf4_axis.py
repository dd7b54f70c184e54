"""The time axis of a channel group of an MF4 file, looked at record by record as they come."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil, gcd
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError

__all__ = ["TOGETHER", "Axis", "axes_of", "nanoseconds", "spans", "times_of"]

Ints = NDArray[np.int64]

TOGETHER: Final = 1 << 23
"""Bytes of records that are read together: twice as many as writers put into one packed block."""

_EXACT_NS: Final = 1 << 51
"""Up to here a time in seconds as a float, rounded, is the nanosecond that was meant."""
_FLOATS: Final = (4, 5)  # data types of real numbers in MDF 4


@dataclass(slots=True)
class Axis:
    """What the times of a channel group show."""

    index: int
    records: int  # that the file speaks of
    together: int = 1 << 16  # records that are read together
    rows: int = 0  # that are in it
    backwards: bool = False
    _last: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    _step: int = 0
    _apart: list[int] = field(default_factory=list)  # the first distances that differ, three at most

    @property
    def lost(self) -> int:
        """Records that the file speaks of and lacks."""
        return max(0, self.records - self.rows)

    def add(self, times_ns: Ints) -> None:
        """Take in the times of the next records."""
        apart = np.diff(np.concatenate([self._last, times_ns]))
        self.rows += len(times_ns)
        self._last = times_ns[-1:].copy() if len(times_ns) else self._last
        if not len(apart):
            return
        self.backwards = self.backwards or bool((apart < 0).any())
        self._step = gcd(self._step, int(np.gcd.reduce(apart)))
        while len(self._apart) < 3:
            other = apart[~np.isin(apart, self._apart)]
            if not len(other):
                break
            self._apart.append(int(other[0]))

    def width_ns(self, mdf: Any) -> int:
        """One step of the axis: as the file says of one that counts steps, else the largest that all stamps fit.

        Two distances make an even raster, which says nothing of the clock's step.
        """
        master = mdf.masters_db.get(self.index)
        if master is None or self.rows < 2:
            return 1
        channel = mdf.groups[self.index].channels[master]
        if channel.data_type not in _FLOATS:
            step = float(getattr(channel.conversion, "b", 0.0) or 0.0)
            return max(1, ceil(abs(step) * 1e9 - 1e-6))
        return max(1, self._step) if len(self._apart) > 2 else 1


def nanoseconds(path: Path, index: int, seconds: Any) -> Ints:
    """Times in seconds as whole nanoseconds; LogError if they are beyond what a float tells so finely."""
    scaled = np.asarray(seconds, np.float64) * 1e9
    if len(scaled) and (not np.isfinite(scaled).all() or float(np.abs(scaled).max()) >= _EXACT_NS):
        raise LogError(f"{path}: channel group {index}: times that cannot be told to the nanosecond")
    return np.rint(scaled).astype(np.int64)


def axes_of(mdf: Any) -> list[Axis]:
    """The axes of all channel groups, not looked at yet."""
    return [_axis(number, group.channel_group) for number, group in enumerate(mdf.groups)]


def _axis(number: int, group: Any) -> Axis:
    size = int(group.samples_byte_nr) + int(group.invalidation_bytes_nr)
    return Axis(number, int(group.cycles_nr), max(1, TOGETHER // max(size, 8)))


def spans(axis: Axis, records: int) -> Iterator[tuple[int, int]]:
    """So many records in spans that are read together: the first one of each, and how many."""
    for first in range(0, records, axis.together):
        yield first, min(axis.together, records - first)


def times_of(path: Path, mdf: Any, axis: Axis) -> Iterator[Ints]:
    """The times of a channel group, span by span, as far as the file holds them."""
    for first, count in spans(axis, axis.records):
        times = nanoseconds(
            path, axis.index, mdf.get_master(axis.index, record_offset=first, record_count=count)
        )
        axis.add(times)
        yield times
        if len(times) < count:
            return
