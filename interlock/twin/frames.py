"""A log as columns: one row a frame, in the order in which the logger wrote it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.twin.pack import Bytes, Layout

__all__ = ["Frame", "Frames", "merge"]


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame: its stamp in ns from the epoch of the simulation, and what was on the bus."""

    stamp_ns: int
    frame_id: int
    extended: bool
    data: bytes


@dataclass(frozen=True, slots=True)
class Frames:
    """Columns; `message` indexes `names`, `content_ns` is when the content was sampled."""

    names: tuple[str, ...]
    layouts: tuple[Layout, ...]
    stamp_ns: NDArray[np.int64]
    content_ns: NDArray[np.int64]
    message: NDArray[np.int64]
    payload: Bytes  # [n, 8], the bytes beyond the message's length are 0

    def __len__(self) -> int:
        return len(self.stamp_ns)

    def __iter__(self) -> Iterator[Frame]:
        rows = zip(self.stamp_ns.tolist(), self.message.tolist(), self.payload, strict=True)
        for stamp, which, payload in rows:
            layout = self.layouts[which]
            yield Frame(stamp, layout.frame_id, layout.extended, payload[: layout.length].tobytes())

    def of(self, name: str) -> NDArray[np.bool_]:
        """Which rows are of the message `name`."""
        mine: NDArray[np.bool_] = self.message == self.names.index(name)
        return mine

    def take(self, rows: NDArray[np.int64] | NDArray[np.bool_]) -> "Frames":
        """The chosen rows, in the chosen order."""
        return self.stamped(self.stamp_ns, rows)

    def stamped(self, stamp_ns: NDArray[np.int64], rows: NDArray[np.int64] | NDArray[np.bool_]) -> "Frames":
        """The chosen rows under new stamps (one for each row of this log)."""
        return Frames(
            self.names,
            self.layouts,
            stamp_ns[rows],
            self.content_ns[rows],
            self.message[rows],
            self.payload[rows],
        )


def merge(parts: Iterable[tuple[str, Layout, NDArray[np.int64], NDArray[np.int64], Bytes]]) -> Frames:
    """One log from a part a message (name, layout, stamps, content times, payloads), in order of stamps."""
    listed = list(parts)
    padded = [np.pad(p[4], ((0, 0), (0, 8 - p[4].shape[1]))) for p in listed]
    log = Frames(
        tuple(p[0] for p in listed),
        tuple(p[1] for p in listed),
        np.concatenate([p[2] for p in listed]),
        np.concatenate([p[3] for p in listed]),
        np.concatenate([np.full(len(p[2]), k) for k, p in enumerate(listed)]),
        np.concatenate(padded),
    )
    return log.take(np.argsort(log.stamp_ns, kind="stable"))
