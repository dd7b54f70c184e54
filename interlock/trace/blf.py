"""BLF logs: frames out of containers, whole or torn; each object is a frame, a known other, or a listed break."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.blf_file import Broken, Header, Stream, header, streams
from interlock.trace.blf_objects import ERRORS, FRAMES, Pieces, walk
from interlock.trace.blf_payload import Block, blocks_of
from interlock.trace.model import Columns, Ledger, QualityKind
from interlock.trace.reading import Oddity, Reading, Rejected, grouped

__all__ = ["looks_like", "read"]

_TEN_US: Final = 1


def looks_like(text: bytes) -> bool:
    """Whether the content begins as a BLF file does."""
    return text[:4] == b"LOGG"


@dataclass(slots=True, eq=False)
class _Found:
    """What is gathered while the streams are walked."""

    blocks: list[Block] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    others: dict[int, int] = field(default_factory=dict)  # count of each object type without a data frame
    errors: list[tuple[int, int, int]] = field(default_factory=list)  # count, place, row
    remote: list[tuple[int, int, int]] = field(default_factory=list)
    rows: int = 0
    resolution_ns: int = 1


def read(path: Path, text: bytes) -> Reading:
    """Reads every object; times are the header's start and the object's own stamp."""
    head = header(path, text)
    parts, containers = streams(text, head.size)
    found = _Found()
    for index, part in enumerate(parts):
        if isinstance(part, Broken):
            _reject(found, part.place, part.why, at_end=part.at_end)
        else:
            _take(found, part, last=index == len(parts) - 1, after_break=index > 0)
    if not found.rows:
        raise LogError(f"{path}: a BLF file without any CAN data frame; give a log with frames in it")
    _check_header(found, head, len(text))
    return _reading(found, head, containers)


def _reject(found: _Found, place: int, why: str, *, at_end: bool = False, count: int = 1) -> None:
    kind = QualityKind.TRUNCATED if at_end else QualityKind.UNREADABLE
    found.rejected.append(Rejected(place, place, count, found.rows, found.rows, why, kind, until_end=at_end))


def _take(found: _Found, stream: Stream, *, last: bool, after_break: bool) -> None:
    pieces = walk(stream.data)
    starts = np.array(stream.offsets, np.int64)
    places = np.array(stream.places, np.int64)
    for at, what in _in_order(pieces):
        place = int(places[np.searchsorted(starts, at, side="right") - 1])
        if isinstance(what, str):
            torn = after_break and at == 0
            _reject(found, place, "the rest of an object whose beginning is lost" if torn else what)
            continue
        form, offsets = what
        _take_run(found, stream, form, offsets, _places_of(offsets, starts, places))
    if pieces.tail is not None:
        place = int(places[np.searchsorted(starts, pieces.tail, side="right") - 1])
        _reject(found, place, "an object whose end is lost", at_end=last)


def _places_of(
    offsets: NDArray[np.int64], starts: NDArray[np.int64], places: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Where in the file each of these ascending offsets comes from: the place of the last stretch before it."""
    cuts = np.append(np.searchsorted(offsets, starts), len(offsets))
    return np.repeat(places, np.diff(cuts))


def _in_order(
    pieces: Pieces,
) -> list[tuple[int, "str | tuple[tuple[int, int, int, int], NDArray[np.int64]]"]]:
    both: list[tuple[int, str | tuple[tuple[int, int, int, int], NDArray[np.int64]]]] = list(pieces.broken)
    both.extend((int(offsets[0]), (form, offsets)) for form, offsets in pieces.runs)
    return sorted(both, key=lambda item: item[0])


def _take_run(
    found: _Found,
    stream: Stream,
    form: tuple[int, int, int, int],
    offsets: NDArray[np.int64],
    places: NDArray[np.int64],
) -> None:
    kind = form[3]
    if kind not in FRAMES:
        found.others[kind] = found.others.get(kind, 0) + len(offsets)
        if kind in ERRORS:
            found.errors.append((len(offsets), int(places[0]), found.rows))
        return
    block = blocks_of(stream.data, form, offsets, places)
    if isinstance(block, str):
        _reject(found, int(places[0]), block, count=len(offsets))
        return
    _take_block(found, block)


def _take_block(found: _Found, block: Block) -> None:
    found.resolution_ns = max(found.resolution_ns, 10_000 if (block.flags == _TEN_US).any() else 1)
    starts = np.flatnonzero(np.diff(block.status, prepend=-1))
    for start, stop in zip(starts, [*starts[1:], len(block.status)], strict=True):
        part = block.part(slice(start, stop))
        status, place, count = int(block.status[start]), int(block.places[start]), int(stop - start)
        if status == Block.FRAME:
            found.blocks.append(part)
            found.rows += count
        elif status == Block.REMOTE:
            found.remote.append((count, place, found.rows))
        else:
            _reject(found, place, Block.WHY[status], count=count)


def _check_header(found: _Found, head: Header, size: int) -> None:
    """The header is written last: where it disagrees with the content, the logger did not finish or bytes are lost."""
    objects = found.rows + sum(n for n, *_ in found.remote) + sum(found.others.values())
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


def _oddity(what: str, seen: list[tuple[int, int, int]]) -> Oddity:
    return Oddity(
        QualityKind.ERROR_FRAME, what, sum(n for n, *_ in seen), seen[0][1], seen[0][2], seen[-1][2]
    )


def _reading(found: _Found, head: Header, containers: int) -> Reading:
    rejected = grouped(sorted(found.rejected, key=lambda piece: piece.row))
    count = sum(piece.count for piece in rejected)
    non_frames = containers + sum(found.others.values()) + sum(n for n, *_ in found.remote)
    strange = {kind: n for kind, n in found.others.items() if kind not in ERRORS}
    names = sorted({int(channel) for block in found.blocks for channel in np.unique(block.channels)})
    return Reading(
        format="blf",
        columns=_columns(found.blocks, head, names),
        ledger=Ledger(found.rows + non_frames + count, found.rows, non_frames, count),
        rejected=rejected,
        oddities=tuple(
            _oddity(what, seen)
            for what, seen in (("error frames", found.errors), ("remote frames", found.remote))
            if seen
        ),
        channels=tuple(str(name) for name in names),
        notes=tuple(
            f"{n} objects of type {kind} hold no CAN frame: skipped" for kind, n in sorted(strange.items())
        ),
        resolution_ns=found.resolution_ns,
    )


def _columns(blocks: list[Block], head: Header, names: list[int]) -> Columns:
    width = max(block.data.shape[1] for block in blocks)
    data = np.zeros((sum(len(block.status) for block in blocks), width), np.uint8)
    at = 0
    for block in blocks:
        data[at : at + len(block.status), : block.data.shape[1]] = block.data
        at += len(block.status)
    stamps = np.concatenate([block.times_ns for block in blocks])
    channels = np.concatenate([block.channels for block in blocks])
    return Columns(
        times_ns=stamps + (head.start_ns or 0),
        idents=np.concatenate([block.idents for block in blocks]),
        extended=np.concatenate([block.extended for block in blocks]),
        lengths=np.concatenate([block.lengths for block in blocks]),
        data=data,
        places=np.concatenate([block.places for block in blocks]),
        channels=np.searchsorted(names, channels).astype(np.uint16),
        absolute=head.start_ns is not None,
        place_is="byte",
    )
