"""What is kept of the payloads of a message of more than eight bytes: as much as anybody is going to ask for.

Of each payload the bytes are kept in which wanted signals stand. All that is to be told of the whole payload is looked
at before the rest is let go: whether its end-to-end check is right, whether values of other signals can be, and a
number by which equal payloads are told. So a long log needs memory for what is wanted, not for what was sent.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.decode import one_by_one, padded, presence
from interlock.trace.flaws import Flaw, can_be_flawed, flaws_of
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import QualityKind

__all__ = ["DATA", "DIGEST", "RIGHT", "Excerpt", "Long", "digests", "together"]

Block = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Mark = tuple[str, int, QualityKind, str]  # signal, number of the flaw in its order, and the flaw
Columns = dict[str | Mark, NDArray[Any]]

DATA: Final = "data"  # [n, kept bytes]
RIGHT: Final = "right"  # [n]: the end-to-end check
DIGEST: Final = "digest"  # [n]: equal for equal payloads

_STEP: Final = np.uint64(0x9E3779B97F4A7C15)
_MIX: Final = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


@dataclass(frozen=True, slots=True, eq=False)
class Excerpt:
    """Of one message: what is kept, and what is looked at before the rest is let go."""

    layout: MessageLayout  # as described
    left: MessageLayout  # its wanted signals, where they stand in the kept bytes
    places: NDArray[np.intp]  # of the kept bytes in the payload
    right: Callable[[Block], Mask] | None  # the end-to-end check, if frames are to pass one
    told_apart: bool  # whether equal payloads are to be told

    @classmethod
    def of(
        cls,
        layout: MessageLayout,
        wanted: Collection[str],
        right: Callable[[Block], Mask] | None = None,
        *,
        told_apart: bool = False,
    ) -> "Excerpt":
        """Keeps the signals of these names, and those by which it is told whether one that is looked at is present."""
        selectors = {one.selector for one in layout.signals if one.selector and can_be_flawed(one)}
        kept = layout.only({*wanted, *selectors}).signals
        places = sorted({byte for one in kept for byte in one.bytes})
        moved = tuple(replace(one, start=one.start + 8 * _shift(one, places)) for one in kept)
        left = replace(layout, length=len(places), signals=moved)
        return cls(layout, left, np.array(places, np.intp), right, told_apart)

    def fits(self, lengths: NDArray[np.uint8]) -> Mask:
        """Whether frames of these lengths are going to be decoded at all."""
        fits: Mask = (lengths == self.layout.length) | (lengths == self.layout.sent_length)
        return fits

    def columns(self, data: Block) -> Columns:
        """What is kept of these payloads [n, bytes]: the columns by name, those of flaws only where there is one."""
        kept: Columns = {DATA: data[:, self.places]}
        if self.right is not None:
            kept[RIGHT] = self.right(data)
        if self.told_apart:
            kept[DIGEST] = digests(_as_sent(data, self.layout.sent_length))
        names = {signal.name for signal in self.left.signals}
        others = {
            one.name: one for one in self.layout.signals if one.name not in names and can_be_flawed(one)
        }
        for name, here, values in one_by_one(self.layout.only(others), data):
            for number, flaw in enumerate(flaws_of(others[name], values) if name in others else ()):
                if flaw.bad.any():
                    kept[name, number, flaw.kind, flaw.text] = _spread(here, flaw.bad)
        return kept


@dataclass(frozen=True, slots=True, eq=False)
class Long:
    """What was kept of the payloads of one message, each column one row a payload."""

    excerpt: Excerpt
    columns: Columns  # a flaw that no payload has is left out

    def __len__(self) -> int:
        return len(self.columns[DATA])

    def column(self, name: str | Mark, rows: NDArray[np.int32]) -> NDArray[Any]:
        """Rows of a column; the column itself, as it may be large, if these are all of them in their order."""
        whole = self.columns[name]
        if len(rows) == len(whole) and bool((rows[1:] > rows[:-1]).all()):
            return whole
        return whole[rows]

    def flaws(self, signal: SignalLayout, rows: NDArray[np.int32]) -> tuple[Mask, list[Flaw]]:
        """What is wrong with a signal that was only looked at, and in which of these payloads it is, if anything is."""
        marks = sorted(mark for mark in self.columns if isinstance(mark, tuple) and mark[0] == signal.name)
        if not marks:
            return np.zeros(0, np.bool_), []
        left = self.excerpt.left
        here = presence(left, padded(left, self.column(DATA, rows)))(signal)
        return here, [Flaw(mark[2], mark[3], self.column(mark, rows)[here]) for mark in marks]


def together(parts: Sequence[Long]) -> Long:
    """The payloads of one message of several files."""
    columns: Columns = {}
    for name in dict.fromkeys(name for part in parts for name in part.columns):
        columns[name] = np.concatenate(
            [part.columns.get(name, np.zeros(len(part), np.bool_)) for part in parts]
        )
    return Long(parts[0].excerpt, columns)


def _shift(signal: SignalLayout, places: Sequence[int]) -> int:
    """By how many bytes it stands elsewhere among those that are kept; all of its own are."""
    return places.index(signal.bytes[0]) - signal.bytes[0]


def _spread(here: Mask, bad: Mask) -> Mask:
    whole = np.zeros(len(here), np.bool_)
    whole[here] = bad
    return whole


def _as_sent(data: Block, width: int) -> Block:
    return np.pad(data, ((0, 0), (0, max(0, width - data.shape[1]))))[:, :width]


def digests(data: Block) -> NDArray[np.uint64]:
    """A number for each payload [n, bytes]: equal for equal ones, for others by a chance of one in 2**64."""
    short = -data.shape[1] % 8
    words = np.ascontiguousarray(np.pad(data, ((0, 0), (0, short))) if short else data).view(np.uint64)
    total = np.zeros(len(data), np.uint64)
    for column in range(words.shape[1]):
        total += words[:, column] + _STEP
        total ^= total >> np.uint64(30)
        total *= _MIX[0]
        total ^= total >> np.uint64(27)
        total *= _MIX[1]
        total ^= total >> np.uint64(31)
    return total
