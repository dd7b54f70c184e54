"""Which parts of a message look like an alive counter: up by one a frame, over and over?

A guess by the data alone. A counter that the sender stopped, or a step counter of something else, looks otherwise or
the same; whoever knows the sender must confirm it.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.look.seen import Counter

__all__ = ["FEWEST", "counter_in", "counters_in_bytes"]

FEWEST: Final = 8
"""With fewer frames nothing is guessed (common practice, no source)."""
_SHARE: Final = 0.9
_BETTER: Final = 1 / 32  # a half byte below a steady one counts better than the whole by one step in sixteen
_FIRST: Final = 2000  # frames that are tried first: most fields show at once that they do not count

Numbers = NDArray[np.int64]


def counter_in(where: str, values: Numbers, bits: int) -> Counter | None:
    """The counter that whole numbers of so many bits make, [n] in the order of the frames; None if they do not count.

    It must go up by one in nine of ten steps. Its modulo is one more than its greatest value if it was seen to go on
    from there at 0 (AUTOSAR end-to-end profile 1 counts from 0 to 14), else 2 to the power of its bits.
    """
    if bits < 2 or len(values) < FEWEST:
        return None
    for part in (values[:_FIRST], values):
        steps = np.diff(part)
        modulo = _modulo(part, steps, bits)
        ups = int(np.count_nonzero((steps == 1) | (steps == 1 - modulo)))
        if ups < _SHARE * len(steps):
            return None
    stands = int(np.count_nonzero(steps == 0))
    return Counter(where, modulo, ups / len(steps), stands, len(steps) - ups - stands)


def _modulo(values: Numbers, steps: Numbers, bits: int) -> int:
    most = int(values.max())
    wraps = (values[:-1] == most) & (steps == -most)
    return (
        most + 1 if most > 0 and np.count_nonzero(wraps) > 0 and _mostly(values, most, wraps) else 1 << bits
    )


def _mostly(values: Numbers, most: int, wraps: NDArray[np.bool_]) -> bool:
    """Whether the greatest value goes on at 0 each time or nearly so."""
    return int(np.count_nonzero(wraps)) >= _SHARE * int(np.count_nonzero(values[:-1] == most))


def counters_in_bytes(data: NDArray[np.uint8]) -> tuple[Counter, ...]:
    """Counters among the bytes of payloads [frames, bytes]: a whole byte, unless its halves count better."""
    found = (_in_byte(f"byte {at}", data[:, at].astype(np.int64)) for at in range(data.shape[1]))
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
