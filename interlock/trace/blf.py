"""BLF logs: frames out of containers, whole or torn; each object is a frame, a known other, or a listed break."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.blf_file import Broken, Header, Stretch, header, stretches
from interlock.trace.blf_lane import linker_for
from interlock.trace.blf_objects import ERRORS, FRAMES, Chain, Pieces, walk
from interlock.trace.blf_payload import Block, block_of
from interlock.trace.model import Columns, Ledger, QualityKind
from interlock.trace.paged import Content
from interlock.trace.pile import Pile
from interlock.trace.reading import Oddity, Reading, Rejected, grouped

__all__ = ["looks_like", "read"]

TOGETHER: Final = 1 << 21
"""Bytes of a stream that are walked together."""

_TEN_US: Final = 1


def looks_like(text: bytes) -> bool:
    """Whether the content begins as a BLF file does."""
    return text[:4] == b"LOGG"


@dataclass(slots=True)
class _Seen:
    """Objects of one sort without a data frame: how many, where the first is, frames before the first and last."""

    count: int = 0
    place: int = 0
    first_row: int = 0
    last_row: int = 0

    def add(self, places: NDArray[np.int64], rows: NDArray[np.int64]) -> None:
        """Take in more of them; at least one."""
        if not self.count:
            self.place, self.first_row = int(places[0]), int(rows[0])
        self.count, self.last_row = self.count + len(places), int(rows[-1])


@dataclass(slots=True, eq=False)
class _Found:
    """What is gathered while the streams are walked."""

    pile: Pile = field(default_factory=lambda: Pile("byte"))
    rejected: list[Rejected] = field(default_factory=list)
    others: dict[int, int] = field(default_factory=dict)  # count of each object type without a data frame
    errors: _Seen = field(default_factory=_Seen)
    remote: _Seen = field(default_factory=_Seen)
    resolution_ns: int = 1

    @property
    def rows(self) -> int:
        """Frames found so far."""
        return self.pile.rows


@dataclass(slots=True, eq=False)
class _Stream:
    """Objects that follow each other without a break, and where in the file each stretch of them comes from."""

    flat: bool
    after_break: bool  # it is not the first one of the file
    pieces: list[bytes] = field(default_factory=list)
    size: int = 0  # of all pieces
    offsets: list[int] = field(default_factory=list)  # in all pieces
    places: list[int] = field(default_factory=list)  # in the file, one for each offset
    begun: bool = False  # a part of it is walked already

    def add(self, stretch: Stretch) -> None:
        """The stream goes on with this."""
        self.offsets.append(self.size)
        self.places.append(stretch.place)
        self.pieces.append(stretch.data)
        self.size += len(stretch.data)

    def cut(self, data: bytes, at: int) -> None:
        """Let go what is walked of all data."""
        kept = int(np.searchsorted(self.offsets, at, side="right")) - 1
        self.places = self.places[kept:]
        self.offsets = [max(0, offset - at) for offset in self.offsets[kept:]]
        self.pieces = [data[at:]]
        self.size = len(data) - at
        self.begun = self.begun or at > 0


def read(path: Path, text: Content) -> Reading:
    """Reads every object; times are the header's start and the object's own stamp."""
    head = header(path, text)
    found, containers = _Found(), 0
    stream: _Stream | None = None
    after_break = False
    for piece in stretches(text, head.size):
        if stream is not None and (isinstance(piece, Broken) or stream.flat != piece.flat):
            _take(found, stream)
            stream = None
        if isinstance(piece, Broken):
            _reject(found, piece.place, piece.why, at_end=piece.at_end)
        else:
            stream = stream or _Stream(piece.flat, after_break)
            stream.add(piece)
            containers += piece.opened
            if stream.size >= TOGETHER:
                _take(found, stream, more=True)
        after_break = True
    if stream is not None:
        _take(found, stream, last=True)
    if not found.rows:
        raise LogError(f"{path}: a BLF file without any CAN data frame; give a log with frames in it")
    _check_header(found, head, len(text))
    return _reading(found, head, containers)


def _reject(found: _Found, place: int, why: str, *, at_end: bool = False, count: int = 1) -> None:
    kind = QualityKind.TRUNCATED if at_end else QualityKind.UNREADABLE
    found.rejected.append(Rejected(place, place, count, found.rows, found.rows, why, kind, until_end=at_end))


def _take(found: _Found, stream: _Stream, *, more: bool = False, last: bool = False) -> None:
    """Walk what there is of a stream; with `more` to come, what is not whole yet stays in it."""
    data = b"".join(stream.pieces)
    pieces = walk(data, more=more, linker=linker_for(data))
    starts, places = np.array(stream.offsets, np.int64), np.array(stream.places, np.int64)
    for at, what in _in_order(pieces):
        if isinstance(what, str):
            torn = stream.after_break and not stream.begun and at == 0
            why = "the rest of an object whose beginning is lost" if torn else what
            _reject(found, _place_of(at, starts, places), why)
            continue
        _take_chain(found, data, what, _places_of(what.offsets, starts, places))
    if more:
        stream.cut(data, len(data) if pieces.tail is None else pieces.tail)
    elif pieces.tail is not None:
        _reject(found, _place_of(pieces.tail, starts, places), "an object whose end is lost", at_end=last)


def _place_of(at: int, starts: NDArray[np.int64], places: NDArray[np.int64]) -> int:
    return int(places[np.searchsorted(starts, at, side="right") - 1])


def _places_of(
    offsets: NDArray[np.int64], starts: NDArray[np.int64], places: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Where in the file each of these ascending offsets comes from: the place of the last stretch before it."""
    cuts = np.append(np.searchsorted(offsets, starts), len(offsets))
    cuts[0] = 0
    return np.repeat(places, np.diff(cuts))


def _in_order(pieces: Pieces) -> list[tuple[int, str | Chain]]:
    both: list[tuple[int, str | Chain]] = list(pieces.broken)
    both.extend((int(chain.offsets[0]), chain) for chain in pieces.chains)
    return sorted(both, key=lambda item: item[0])


def _take_chain(found: _Found, data: bytes, chain: Chain, places: NDArray[np.int64]) -> None:
    """Put the frames of a chain on the pile, and write down what else it holds."""
    block = block_of(data, chain, places)
    found.resolution_ns = max(found.resolution_ns, 10_000 if (block.flags == _TEN_US).any() else 1)
    frames = block.status == Block.FRAME
    if frames.all():
        _pile(found, block)
        return
    before = found.rows + np.cumsum(frames)  # frames before each object that is none
    error = np.zeros(len(places), np.bool_)
    for kind, rows, count in chain.by_kind():
        if kind not in FRAMES:
            found.others[kind] = found.others.get(kind, 0) + count
        if kind in ERRORS:
            error[slice(None) if rows is None else rows] = True
    if error.any():
        found.errors.add(places[error], before[error])
    remote = block.status == Block.REMOTE
    if remote.any():
        found.remote.add(places[remote], before[remote])
    _take_bad(found, block, before)
    if frames.any():
        _pile(found, block.only(frames))


def _take_bad(found: _Found, block: Block, before: NDArray[np.int64]) -> None:
    """Write down each run of objects that cannot be, for one reason between two frames."""
    bad = np.flatnonzero(block.status > Block.OTHER)
    if not len(bad):
        return
    parted = (np.diff(bad) > 1) | (np.diff(block.status[bad]) != 0)
    for run in np.split(bad, np.flatnonzero(parted) + 1):
        first, last = int(run[0]), int(run[-1])
        row, places = int(before[first]), block.places
        why = Block.WHY[int(block.status[first])]
        found.rejected.append(Rejected(int(places[first]), int(places[last]), len(run), row, row, why))


def _pile(found: _Found, block: Block) -> None:
    found.pile.add(
        Columns(
            times_ns=block.times_ns,
            idents=block.idents,
            extended=block.extended,
            lengths=block.lengths,
            data=block.data,
            wide=block.wide,
            places=block.places,
            channels=block.channels,
            absolute=False,
            place_is="byte",
        )
    )


def _check_header(found: _Found, head: Header, size: int) -> None:
    """The header is written last: where it disagrees with the content, the logger did not finish or bytes are lost."""
    objects = found.rows + found.remote.count + sum(found.others.values())
    if objects < head.objects and not found.rejected:
        why = f"the header speaks of {head.objects} objects, {objects} were found"
        found.rejected.append(
            Rejected(0, 0, 0, 0, 0, why, QualityKind.UNREADABLE, until_end=True, from_start=True)
        )
    if head.file_size != size:
        why = (
            f"the header speaks of {head.file_size} bytes, the file has {size}: the logger did not finish it"
        )
        _reject(found, 0, why, at_end=True, count=0)


def _oddity(what: str, seen: _Seen) -> Oddity:
    return Oddity(QualityKind.ERROR_FRAME, what, seen.count, seen.place, seen.first_row, seen.last_row)


def _reading(found: _Found, head: Header, containers: int) -> Reading:
    rejected = grouped(sorted(found.rejected, key=lambda piece: piece.row))
    count = sum(piece.count for piece in rejected)
    non_frames = containers + sum(found.others.values()) + found.remote.count
    strange = {kind: n for kind, n in found.others.items() if kind not in ERRORS}
    columns = found.pile.columns()
    there = np.bincount(columns.channels) > 0
    names = np.flatnonzero(there).tolist()
    columns.times_ns[:] += head.start_ns or 0
    return Reading(
        format="blf",
        columns=replace(
            columns,
            channels=(np.cumsum(there) - 1).astype(np.uint16)[columns.channels],
            absolute=head.start_ns is not None,
        ),
        ledger=Ledger(found.rows + non_frames + count, found.rows, non_frames, count),
        rejected=rejected,
        oddities=tuple(
            _oddity(what, seen)
            for what, seen in (("error frames", found.errors), ("remote frames", found.remote))
            if seen.count
        ),
        channels=tuple(str(name) for name in names),
        notes=tuple(
            f"{n} objects of type {kind} hold no CAN frame: skipped" for kind, n in sorted(strange.items())
        ),
        resolution_ns=found.resolution_ns,
        date_width_ns=1_000_000,  # the header tells whole milliseconds
    )
