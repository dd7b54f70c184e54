"""What a reader hands back: frames in columns, and each piece that became no frame, with its place."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.model import Columns, Ledger, QualityKind

if TYPE_CHECKING:
    from interlock.trace.layout import MessageLayout

__all__ = ["LENGTHS_FD", "MOST", "Oddity", "Reader", "Reading", "Rejected", "Sampled", "grouped"]

LENGTHS_FD: Final = (*range(9), 12, 16, 20, 24, 32, 48, 64)
"""Payload lengths that a CAN FD frame can have (ISO 11898-1:2015, data length code)."""

MOST: Final = 400
"""Separate pieces of a file that are told one by one; what comes after them is told as one."""


@dataclass(frozen=True, slots=True)
class Rejected:
    """Neighbouring pieces of a log that became no frame for one reason.

    Whatever they held lies in file order after frame `row - 1` and before frame `last_row`.
    """

    place: int  # line (1-based) or byte where the first piece begins
    last: int  # where the last piece begins
    count: int  # pieces, at least one; 0 for a doubt that concerns no piece of its own
    row: int  # number of frames read before the first piece
    last_row: int  # and before the last one
    why: str
    kind: QualityKind = QualityKind.UNREADABLE
    until_end: bool = False  # the doubt reaches to the end of the file, not only to the next frame
    from_start: bool = False  # the doubt reaches back to the first frame of the file


@dataclass(frozen=True, slots=True)
class Oddity:
    """Known objects that are no data frame yet worth a word: error frames, remote frames."""

    kind: QualityKind
    what: str
    count: int
    place: int
    first_row: int
    last_row: int


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """Signals that a recorder had already decoded, all sampled at the same instants."""

    message: str  # the name under which they go in the trace
    times_ns: NDArray[np.int64]  # [n]
    values: Mapping[str, NDArray[np.float64]]  # [n] by signal; NaN: not known
    units: Mapping[str, str]
    continuous: bool  # between two rows nothing changed: a long time without a row is no gap
    unsure: frozenset[str] = frozenset()  # signals that every row holds, and whose NaN says: neither 0 nor 1
    group: str = ""  # how the file names them together, as a plain name
    described: "MessageLayout | None" = None  # the message of the DBC that they are, with what is there of it
    present: Mapping[str, NDArray[np.bool_]] = field(
        default_factory=dict
    )  # [n] if not each signal is in each row


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One file, read whole: every line or object is in `columns`, in the ledger's non-frames or in `rejected`."""

    format: str
    columns: Columns
    ledger: Ledger
    rejected: tuple[Rejected, ...]
    oddities: tuple[Oddity, ...]
    channels: tuple[str, ...]  # names of the buses, indexed by `columns.channels`
    notes: tuple[str, ...]
    resolution_ns: int  # width of one step of the file's time stamps
    sampled: tuple[
        Sampled, ...
    ] = ()  # if any: `columns` holds their rows one after another, numbered in `idents`
    date_width_ns: int = (
        0  # its stamps may be off, all alike, by this much: the date of its start is no finer
    )


Reader = Callable[[Path, bytes], Reading]
"""Reads the content of the file at a path (the path serves for messages only); raises LogError if it cannot."""


def grouped(pieces: Iterable[Rejected]) -> tuple[Rejected, ...]:
    """The same pieces, each run of the same reason between the same two frames told as one; at most MOST runs."""
    runs: list[Rejected] = []
    for piece in pieces:
        last = runs[-1] if runs else piece
        full = len(runs) == MOST
        if runs and (full or _same(last, piece)):
            runs[-1] = _joined(last, piece)
        else:
            runs.append(piece)
    return tuple(runs)


def _same(a: Rejected, b: Rejected) -> bool:
    return (a.row, a.last_row, a.why, a.kind, a.until_end, a.from_start) == (
        b.row,
        b.last_row,
        b.why,
        b.kind,
        b.until_end,
        b.from_start,
    )


def _joined(a: Rejected, b: Rejected) -> Rejected:
    return Rejected(
        a.place,
        b.last,
        a.count + b.count,
        a.row,
        b.last_row,
        a.why,
        a.kind if a.kind is b.kind else QualityKind.UNREADABLE,
        until_end=a.until_end or b.until_end,
        from_start=a.from_start or b.from_start,
    )
