"""The CAN frames of the channel groups of an MF4 file in the order of time, part by part."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from interlock.trace.mf4_frames import Frames
from interlock.trace.model import Columns
from interlock.trace.pile import Pile

__all__ = ["in_order", "merged"]


@dataclass(slots=True, eq=False)
class _Group:
    """A channel group that is read on when its frames are used up."""

    parts: Iterator[Frames]
    place: int  # of its first frame that is here
    here: Frames | None = None
    ended: bool = False

    def read_on(self) -> None:
        """Get its next frames; those here stay before them."""
        more = next(self.parts, None)
        if more is None:
            self.ended = True
        elif len(more.times_ns):
            self.here = more if self.here is None else _joined([self.here, more])

    def taken(self, until_ns: int | None) -> tuple[Frames, NDArray[np.int64]] | None:
        """The frames stamped before this (None: all), and their places; they are let go."""
        if self.here is None:
            return None
        count = len(self.here.times_ns)
        if until_ns is not None:
            late = self.here.times_ns >= until_ns
            count = int(np.argmax(late)) if late.any() else count
        if not count:
            return None
        part, places = _rows(self.here, slice(count)), np.arange(self.place, self.place + count)
        self.place += count
        self.here = None if count == len(self.here.times_ns) else _rows(self.here, slice(count, None))
        return part, places


def merged(groups: Sequence[tuple[Iterator[Frames], int]]) -> Iterator[Columns]:
    """The data frames of several groups; each group is given by its parts and the place of its first frame.

    Of equal times, those of the first group come first. A group whose times run backwards stays as it is.
    """
    reading = [_Group(parts, place) for parts, place in groups]
    while True:
        for group in reading:
            while group.here is None and not group.ended:
                group.read_on()
        ends = [int(g.here.times_ns[-1]) for g in reading if g.here is not None and not g.ended]
        until = min(ends) if ends and len(reading) > 1 else None
        found = [part for group in reading if (part := group.taken(until)) is not None]
        if found:
            yield _columns(found)
        elif all(group.ended for group in reading):
            return
        else:
            for group in reading:
                if not group.ended and group.here is not None and int(group.here.times_ns[-1]) == until:
                    group.read_on()


def _columns(found: Sequence[tuple[Frames, NDArray[np.int64]]]) -> Columns:
    frames, places = _joined([part for part, _ in found]), np.concatenate([at for _, at in found])
    order: Any = slice(None) if len(found) == 1 else np.argsort(frames.times_ns, kind="stable")
    return Columns(
        times_ns=frames.times_ns[order],
        idents=frames.idents[order],
        extended=frames.extended[order],
        lengths=frames.lengths[order],
        data=frames.data[order],
        places=places[order],
        channels=frames.channels[order],
        absolute=True,
        place_is="record",
    )


def _rows(frames: Frames, rows: slice) -> Frames:
    named: dict[str, Any] = {one.name: getattr(frames, one.name)[rows] for one in fields(frames)}
    return Frames(**named)


def _joined(parts: Sequence[Frames]) -> Frames:
    if len(parts) == 1:
        return parts[0]
    wide = max(part.data.shape[1] for part in parts)
    data = [np.pad(part.data, ((0, 0), (0, wide - part.data.shape[1]))) for part in parts]
    return Frames(
        times_ns=np.concatenate([part.times_ns for part in parts]),
        idents=np.concatenate([part.idents for part in parts]),
        extended=np.concatenate([part.extended for part in parts]),
        lengths=np.concatenate([part.lengths for part in parts]),
        data=np.concatenate(data),
        channels=np.concatenate([part.channels for part in parts]),
    )


def in_order(pile: Pile) -> Columns:
    """All of the pile in the order of time: it is, unless the times of a group ran backwards."""
    whole = pile.columns()
    if (whole.times_ns[1:] >= whole.times_ns[:-1]).all():
        return whole
    order = np.lexsort((whole.places, whole.times_ns))
    moved: dict[str, Any] = {
        name: getattr(whole, name)[order]
        for name in ("times_ns", "idents", "extended", "lengths", "places", "channels")
    }
    if whole.payloads is not None:
        return replace(whole, **moved, payloads=whole.payloads.taken(order))
    return replace(whole, **moved, data=whole.data[order])
