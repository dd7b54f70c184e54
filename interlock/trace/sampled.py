"""Already decoded signals as a reading: each instant at which they were sampled is one row of the columns."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Columns, Ledger
from interlock.trace.reading import Reading, Rejected, Sampled

__all__ = ["before_and_after", "layout_of", "sampled_reading"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
_Number = TypeVar("_Number", bound=np.generic)


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
        times_ns=_times_ns(groups, start_ns or 0),
        idents=_numbers(groups, rows),
        extended=_zeros(np.bool_, rows),
        lengths=_zeros(np.uint8, rows),
        data=_zeros(np.uint8, rows).reshape(rows, 1),
        places=places,
        channels=_zeros(np.uint16, rows),
        absolute=start_ns is not None,
        place_is=place_is,
    )
    return Reading(name, columns, ledger, rejected, (), ("",), notes, resolution_ns, tuple(groups))


def _times_ns(groups: Sequence[Sampled], start_ns: int) -> Ints:
    if len(groups) == 1 and not start_ns:
        return groups[0].times_ns  # shared, as a record may be long
    return np.concatenate([group.times_ns for group in groups]) + start_ns


def _numbers(groups: Sequence[Sampled], rows: int) -> NDArray[np.uint32]:
    """The number of the group of each row."""
    if len(groups) == 1:
        return _zeros(np.uint32, rows)
    return np.repeat(np.arange(len(groups), dtype=np.uint32), [len(group.times_ns) for group in groups])


def _zeros(kind: type[_Number], rows: int) -> NDArray[_Number]:
    """So many zeros, which take no memory and cannot be written to."""
    return np.broadcast_to(np.zeros(1, kind), (rows,))


def layout_of(group: Sampled) -> MessageLayout:
    """The group as a message without payload, so that doubts are told in the same way."""
    known = {} if group.described is None else {one.name: one for one in group.described.signals}
    signals = tuple(_signal(group, name, known.get(name)) for name in group.values)
    if group.described is not None:
        return replace(group.described, length=0, signals=signals)
    return MessageLayout(group.message, 0, False, 0, signals)


def _signal(group: Sampled, name: str, known: SignalLayout | None) -> SignalLayout:
    sure = name not in group.unsure  # then a value that is no number is a flaw
    if known is not None:
        return replace(known, is_float=sure, selector=None, codes=())
    return SignalLayout(name, group.units.get(name, ""), 0, 64, False, True, sure, 1.0, 0.0, None, None)


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
