"""Payloads of CAN FD logs: those up to eight bytes apart from longer ones, and none of frames that nobody decodes."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["NONE", "Payloads", "decoding", "plain", "wanted"]

Bytes = NDArray[np.uint8]
NONE: Final = -1
"""Stands for a payload that was not kept."""

_WANTED: Final[ContextVar[NDArray[np.uint32] | None]] = ContextVar("wanted", default=None)


@contextmanager
def decoding(keys: Iterable[int]) -> Iterator[None]:
    """While this lasts only frames of these keys (identifier, highest bit set if extended) are going to be decoded.

    Of long logs with frames of more than eight bytes, the payloads of other frames need not be kept.
    """
    token = _WANTED.set(np.array(sorted(keys), np.uint32))
    try:
        yield
    finally:
        _WANTED.reset(token)


def wanted() -> NDArray[np.uint32] | None:
    """The keys of the frames that are going to be decoded, ascending; None: perhaps all."""
    return _WANTED.get()


@dataclass(frozen=True, slots=True, eq=False)
class Payloads:
    """The payload of each frame by its row, as an array [rows, width] gives it; IndexError for one that is not kept."""

    at: NDArray[np.int32]  # [n]: of a frame its row in `wide`, or -2 less its row in `narrow`, or NONE
    narrow: Bytes  # [m, 8]
    wide: Bytes  # [k, width]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows, and the bytes of the widest payload."""
        return len(self.at), self.wide.shape[1]

    def __getitem__(self, key: Any) -> Bytes:
        if isinstance(key, tuple):
            rows, column = key
            part: Bytes = self[rows][..., column]
            return part
        if isinstance(key, int | np.integer):
            first: Bytes = self.block(np.array([key]))[0]
            return first
        return self.block(key)

    def block(self, rows: Any, *, only_narrow: bool = False) -> Bytes:
        """The payloads of these rows, filled up with zeros; `only_narrow`: their first eight bytes."""
        at = self.at[rows]
        if (at == NONE).any():
            raise IndexError("the payload of a frame that nobody wanted to decode was not kept")
        block = np.zeros((len(at), 8 if only_narrow else self.wide.shape[1]), np.uint8)
        wide = at > NONE
        block[wide] = self.wide[at[wide], : block.shape[1]]
        block[~wide, :8] = self.narrow[-2 - at[~wide]]
        return block

    def taken(self, rows: Any) -> "Payloads":
        """The same payloads for frames in another order, or for fewer of them."""
        return Payloads(self.at[rows], self.narrow, self.wide)


def plain(data: Bytes) -> Payloads:
    """The payloads of frames of which all are kept."""
    rows = np.arange(len(data), dtype=np.int32)
    if data.shape[1] > 8:
        return Payloads(rows, np.zeros((0, 8), np.uint8), data)
    return Payloads(-2 - rows, data, np.zeros((0, 64), np.uint8))
