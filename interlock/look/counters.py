"""Which parts of a message look like an alive counter: up by one a frame, over and over?

A guess by the data alone. A counter that the sender stopped, or a step counter of something else, looks otherwise or
the same; whoever knows the sender must confirm it.
"""

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.look.seen import Counter

__all__ = ["FEWEST", "PIECE", "counter_in", "counters_in_bytes"]

FEWEST: Final = 8
"""With fewer frames nothing is guessed (common practice, no source)."""
_SHARE: Final = 0.9
_BETTER: Final = 1 / 32  # a half byte below a steady one counts better than the whole by one step in sixteen
_FIRST: Final = 2000  # frames that are tried first: most fields show at once that they do not count

PIECE: Final = 1 << 16
"""Frames that are looked at together."""

Numbers = NDArray[Any]
"""Whole numbers of any kind."""


def counter_in(where: str, values: Numbers, bits: int) -> Counter | None:
    """The counter that whole numbers of so many bits make, [n] in the order of the frames; None if they do not count.

    It must go up by one in nine of ten steps. Its modulo is one more than its greatest value if it was seen to go on
    from there at 0 (AUTOSAR end-to-end profile 1 counts from 0 to 14), else 2 to the power of its bits.
    """
    if bits < 2 or len(values) < FEWEST:
        return None
    for part in (values[:_FIRST], values):
        modulo, steps = _modulo(part, bits), len(part) - 1
        ups = _count(part, lambda _, step: (step == 1) | (step == 1 - modulo))  # noqa: B023 - called at once
        if ups < _SHARE * steps:
            return None
    stands = _count(values, lambda _, step: step == 0)
    return Counter(where, modulo, ups / steps, stands, steps - ups - stands)


def _count(values: Numbers, which: Callable[[Numbers, Numbers], NDArray[np.bool_]]) -> int:
    """The steps of which this is true, by the number before each and the step itself; piece by piece."""
    found = 0
    for at in range(0, len(values) - 1, PIECE):
        piece = values[at : at + PIECE + 1].astype(np.int64)
        found += int(np.count_nonzero(which(piece[:-1], np.diff(piece))))
    return found


def _modulo(values: Numbers, bits: int) -> int:
    """One more than the greatest value if each time, or nearly so, it goes on at 0."""
    most = int(values.max())
    wraps = _count(values, lambda before, step: (before == most) & (step == -most)) if most > 0 else 0
    if wraps and wraps >= _SHARE * _count(values, lambda before, _: before == most):
        return most + 1
    return 1 << bits


def counters_in_bytes(data: NDArray[np.uint8]) -> tuple[Counter, ...]:
    """Counters among the bytes of payloads [frames, bytes]: a whole byte, unless its halves count better."""
    found = (_in_byte(f"byte {at}", data[:, at]) for at in range(data.shape[1]))
    return tuple(counter for counters in found for counter in counters)


def _in_byte(where: str, column: Numbers) -> list[Counter]:
    whole = counter_in(where, column, 8)
    halves = [
        counter
        for half, values in (("low half", column & 0x0F), ("high half", column >> 4))
        if (counter := counter_in(f"{where}, {half}", values, 4)) is not None
    ]
    if whole is None or any(half.share > whole.share + _BETTER for half in halves):
        return halves
    return [whole]
