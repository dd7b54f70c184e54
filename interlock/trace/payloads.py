"""Payloads of CAN FD logs: those of messages up to eight bytes, excerpts of longer ones, none that nobody decodes."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.excerpt import Excerpt, Long, together

__all__ = ["NONE", "Payloads", "Wide", "decoding", "filled", "joined", "plain", "wanted"]

Bytes = NDArray[np.uint8]
Plans = Mapping[int, Excerpt | None]
Wide = Sequence[tuple[NDArray[np.int64], Bytes]]
"""Rows with payloads over eight bytes, and these."""

NONE: Final = -1
"""Stands for a payload that was not kept."""

_WIDEST: Final = 64
_WANTED: Final[ContextVar[Plans | None]] = ContextVar("wanted", default=None)


@contextmanager
def decoding(plans: Plans) -> Iterator[None]:
    """While this lasts only frames of these keys (identifier, highest bit set if extended) are going to be decoded.

    Each with what is kept of its payloads; None for a message of up to eight bytes, of which all is kept. It holds of
    logs with frames of more than eight bytes: of others every payload is kept.
    """
    token = _WANTED.set(plans)
    try:
        yield
    finally:
        _WANTED.reset(token)


def wanted() -> Plans | None:
    """What is going to be decoded, by key; None: perhaps all."""
    return _WANTED.get()


@dataclass(frozen=True, slots=True, eq=False)
class Payloads:
    """What was kept of the payload of each frame. By its row as an array gives it, those up to eight bytes only."""

    at: NDArray[
        np.int32
    ]  # [n]: of a frame its row in its message of `long`, or -2 less that in `narrow`, or NONE
    narrow: Bytes  # [m, 8]
    long: Mapping[int, Long]  # by key

    def __getitem__(self, key: Any) -> Bytes:
        """The payloads of these rows, filled up with zeros to eight bytes; IndexError for one that is not there."""
        if isinstance(key, tuple):
            rows, column = key
            part: Bytes = self[rows][..., column]
            return part
        at = self.at[key]
        if np.any(at >= NONE):
            raise IndexError("the payload of a frame that nobody wanted to decode was not kept")
        found: Bytes = self.narrow[-2 - at]
        return found

    def taken(self, rows: Any) -> "Payloads":
        """The same payloads for frames in another order, or for fewer of them."""
        return Payloads(self.at[rows], self.narrow, self.long)


def filled(data: Bytes, wide: Wide, rows: NDArray[np.int64] | None = None) -> Bytes:
    """The payloads of these ascending rows (None: of all) as wide as CAN FD has them; `data` holds eight bytes each."""
    rows = np.arange(len(data)) if rows is None else rows
    whole = np.zeros((len(rows), _WIDEST), np.uint8)
    whole.view(np.uint64)[:, 0] = data.view(np.uint64)[rows, 0]
    for there, block in wide if len(rows) else ():
        here = np.minimum(np.searchsorted(rows, there), len(rows) - 1)
        kept = rows[here] == there
        whole[here[kept], : block.shape[1]] = block[kept]
    return whole


def plain(data: Bytes) -> Payloads:
    """The payloads of frames of up to eight bytes, of which all are kept."""
    if data.shape[1] > 8:
        raise ValueError("payloads of more than eight bytes are no plain ones")
    return Payloads(-2 - np.arange(len(data), dtype=np.int32), data, {})


def joined(parts: Sequence[tuple[NDArray[np.uint32], Payloads]]) -> Payloads:
    """The payloads of several files, each given with the keys of its frames."""
    long: dict[int, list[Long]] = {}
    narrow, at = 0, []
    for keys, part in parts:
        moved = np.where(part.at < NONE, part.at - narrow, part.at)
        for key, one in part.long.items():
            moved[(keys == key) & (part.at > NONE)] += sum(map(len, long.get(key, [])))
            long.setdefault(key, []).append(one)
        narrow += len(part.narrow)
        at.append(moved.astype(np.int32))
    return Payloads(
        np.concatenate(at),
        np.concatenate([part.narrow for _, part in parts]),
        {key: together(found) for key, found in long.items()},
    )
