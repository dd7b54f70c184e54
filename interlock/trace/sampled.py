"""Already decoded signals as a reading: each instant at which they were sampled is one row of the columns."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Columns, Ledger
from interlock.trace.reading import Reading, Rejected, Sampled

__all__ = ["before_and_after", "filled", "layout_of", "sampled_reading"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def sampled_reading(
    name: str,
    groups: Sequence[Sampled],
    places: Ints,
    ledger: Ledger,
    *,
    rejected: tuple[Rejected, ...] = (),
    notes: tuple[str, ...] = (),
    resolution_ns: int = 1,
    start_ns: int | None = None,
    place_is: str = "line",
) -> Reading:
    """The reading of groups of samples; `places` [rows of all groups]; `start_ns` since 1970, if known, is added."""
    rows = sum(len(group.times_ns) for group in groups)
    columns = Columns(
        times_ns=np.concatenate([group.times_ns for group in groups]) + (start_ns or 0),
        idents=np.repeat(np.arange(len(groups), dtype=np.uint32), [len(group.times_ns) for group in groups]),
        extended=np.zeros(rows, np.bool_),
        lengths=np.zeros(rows, np.uint8),
        data=np.zeros((rows, 1), np.uint8),
        places=places,
        channels=np.zeros(rows, np.uint16),
        absolute=start_ns is not None,
        place_is=place_is,
    )
    return Reading(name, columns, ledger, rejected, (), ("",), notes, resolution_ns, tuple(groups))


def layout_of(group: Sampled) -> MessageLayout:
    """The group as a message without payload, so that doubts are told in the same way."""
    signals = tuple(
        SignalLayout(
            name,
            group.units.get(name, ""),
            0,
            64,
            False,
            True,
            name not in group.unsure,
            1.0,
            0.0,
            None,
            None,
        )
        for name in group.values
    )
    return MessageLayout(group.message, 0, False, 0, signals)


def filled(stamps: int, changes: Mapping[str, tuple[Ints, Floats]]) -> dict[str, Floats]:
    """The value of each signal at each of so many stamps, from the stamps at which it changed; NaN before the first."""
    at = np.arange(stamps)
    values = {}
    for name, (where, what) in changes.items():
        last = np.searchsorted(where, at, side="right")
        values[name] = np.concatenate(([np.nan], what))[last]
    return values


def before_and_after(
    times_ns: Ints, step_ns: int, values: Mapping[str, Floats]
) -> tuple[Ints, dict[str, Floats]]:
    """Two rows for each instant of change: the old values one step before it, the new ones at it.

    So a recorder that writes changes only shows that nothing had changed until then. The first instant stays one row.
    """
    if not len(times_ns):
        return times_ns, dict(values)
    times = np.repeat(times_ns, 2)[1:]
    times[1::2] = np.maximum(times_ns[1:] - step_ns, np.minimum(times_ns[:-1], times_ns[1:]))
    return times, {name: np.repeat(one, 2)[:-1] for name, one in values.items()}
