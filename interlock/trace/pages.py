"""Groups of samples that hold different signals of one message, put together row by row.

Whoever decodes a multiplexed message writes a group for each page: not all signals are in each frame.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from interlock.trace.reading import Sampled

if TYPE_CHECKING:
    from interlock.trace.layout import MessageLayout

__all__ = ["fit", "rows_of", "together"]

Ints = NDArray[np.int64]


def fit(groups: list[Sampled]) -> bool:
    """Whether no signal is in two of them, and the rows of each can be told apart by their stamps."""
    names = [name for group in groups for name in group.values]
    return len(names) == len(set(names)) and all((np.diff(group.times_ns) > 0).all() for group in groups)


def rows_of(group: Sampled, rows: Ints) -> Iterator[tuple[str, Ints | slice, NDArray[np.float64]]]:
    """Of each signal where in `rows` it is, and its values there; rows of a log, in the order of time."""
    if group.present:  # put together here, so in that order already
        yield from (
            (name, np.flatnonzero(here), group.values[name][here]) for name, here in group.present.items()
        )
        return
    at = rows - int(rows.min())
    whole = len(at) == len(group.times_ns) and bool((at[1:] > at[:-1]).all())  # shared, as it may be long
    yield from ((name, slice(None), one if whole else one[at]) for name, one in group.values.items())


def together(a: Sampled, rows_a: Ints, b: Sampled, rows_b: Ints, stamps_ns: Ints) -> tuple[Ints, Sampled]:
    """Both as one group, and for each of its rows one row of the log; `fit` must hold of them.

    `stamps_ns`: of all rows of the log.
    """
    times = np.union1d(stamps_ns[rows_a], stamps_ns[rows_b])
    rows = np.empty(len(times), np.int64)
    values, present = dict[str, NDArray[np.float64]](), dict[str, NDArray[np.bool_]]()
    for group, own in ((b, rows_b), (a, rows_a)):
        at = np.searchsorted(times, stamps_ns[own])
        rows[at] = own
        for name, where, there in rows_of(group, own):
            present[name] = np.zeros(len(times), np.bool_)
            present[name][at[where]] = True
            values[name] = np.full(len(times), np.nan)
            values[name][at[where]] = there
    return rows, replace(
        a,
        times_ns=times,
        values=values,
        units={**a.units, **b.units},
        unsure=a.unsure | b.unsure,
        described=_described(a, b),
        present=present,
    )


def _described(a: Sampled, b: Sampled) -> "MessageLayout | None":
    if a.described is None or b.described is None:
        return None
    more = [one for one in b.described.signals if one not in a.described.signals]
    return replace(a.described, signals=(*a.described.signals, *more))
