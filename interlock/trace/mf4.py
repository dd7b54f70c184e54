"""MF4 measurement files (ASAM MDF 4) by the library asammdf: raw CAN frames, or channels already decoded."""

import importlib
import logging
import os
import re
import shutil
import sys
import tempfile
import traceback
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass, replace
from io import BufferedReader, RawIOBase
from itertools import accumulate
from pathlib import Path
from typing import IO, Any, Final, TypeVar

import numpy as np

from interlock.errors import LogError
from interlock.trace.apart import Died, apart
from interlock.trace.inputs import LogFile
from interlock.trace.memory import room
from interlock.trace.mf4_axis import Axis, axes_of, nanoseconds, spans, times_of
from interlock.trace.mf4_blocks import fits_together
from interlock.trace.mf4_channels import channels_of
from interlock.trace.mf4_frames import Frames, events_of, frames_of, kind_of
from interlock.trace.mf4_merge import in_order, merged
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.paged import PAGE, Paged
from interlock.trace.pile import Pile
from interlock.trace.reading import Oddity, Reading, Rejected
from interlock.trace.sampled import sampled_reading

__all__ = ["Held", "held", "looks_like", "read"]

_Made = TypeVar("_Made")

SHORTEST_S: Final = 30.0
"""Seconds that the library may take for any file."""
SLOWEST: Final = 1_000_000.0
"""Bytes a second that it surely reads; a sound file is read a hundred times as fast."""
_NEAR: Final = 1 << 14  # bytes read together where blocks lie far apart
_NO_NAME: Final = re.compile(r"\"<_io[^>]*>\"|'\d+'(?= is not)")  # what the library calls a stream
_BESIDE: Final = 72  # bytes of memory that a frame needs beside its payload


def looks_like(text: bytes) -> bool:
    """Whether the content begins as an MDF file does, finished or not."""
    return text[:8] in (b"MDF     ", b"UnFinMF ")


@dataclass(frozen=True, slots=True)
class Held:
    """What a file holds, by its headings."""

    frames: bool  # CAN frames; then its decoded channels, if there are any, are not read
    groups: frozenset[str]  # names of the channel groups
    channels: frozenset[str]  # names of the channels


def read(file: LogFile, stream: RawIOBase, size: int) -> Reading:
    """Reads all CAN frames if the file holds any, else all channels of numbers; some records at a time."""
    return _by_library(file.path, stream, size, lambda mdf, finished: _read(file, mdf, finished=finished))


def held(path: Path, stream: RawIOBase, size: int) -> Held:
    """What the headings of the file tell of it; no sample is read."""
    return _by_library(path, stream, size, lambda mdf, _: _held(mdf))


def _held(mdf: Any) -> Held:
    names = [getattr(group.channel_group, "acq_name", "") or "" for group in mdf.groups]
    return Held(
        any(kind_of(mdf, index) == "data" for index in range(len(names))),
        frozenset(names),
        frozenset(channel.name for group in mdf.groups for channel in group.channels),
    )


def _by_library(path: Path, stream: RawIOBase, size: int, make: Callable[[Any, bool], _Made]) -> _Made:
    """What is made of the open file and of whether its logger finished it; LogError if it cannot be read."""
    try:
        library = importlib.import_module("asammdf")
    except ImportError as error:
        raise LogError(
            f"{path}: reading MF4 needs the library asammdf; install it with: pip install asammdf"
        ) from error
    if fits_together(Paged(stream, size, _NEAR)):
        return _made(path, library, stream, make)
    seconds = SHORTEST_S + size / SLOWEST
    try:  # led astray by a damaged file the library may crash, or never end
        return apart(lambda: _made(path, library, stream, make), seconds)
    except Died as error:
        raise LogError(
            f"{path}: the library that reads MF4 files failed on this one: {error}; the file is damaged, "
            "export it again"
        ) from error


def _made(path: Path, library: Any, stream: RawIOBase, make: Callable[[Any, bool], _Made]) -> _Made:
    shown, told = sys.unraisablehook, logging.getLogger("asammdf")
    sys.unraisablehook = _ignored  # the library stumbles once more when it drops what it could not read
    told_before, told.disabled = told.disabled, True  # what it cannot read is told here, in one sentence
    try:
        stream.seek(0)
        mark = stream.read(8)
        if not looks_like(mark):
            raise LogError(
                f"{path}: not an MF4 file: it does not begin with 'MDF' or 'UnFinMF'; export it again"
            )
        finished = mark == b"MDF     "
        with (
            Path(os.devnull).open("w", encoding="utf-8") as nowhere,
            redirect_stdout(nowhere),  # what the library prints of its troubles would stand among the results
            _readable(stream, finished=finished) as source,
            library.MDF(source) as mdf,
        ):
            return make(mdf, finished)
    except LogError:
        raise
    except MemoryError as error:
        raise LogError(f"{path}: it needs more memory than there is; export a shorter part of it") from error
    except Exception as error:  # whatever the library stumbles over, the file cannot be read
        why = _NO_NAME.sub("it", repr(error))
        traceback.clear_frames(error.__traceback__)
        raise LogError(f"{path}: an MF4 file that cannot be read ({why}); export it again") from error
    finally:
        sys.unraisablehook, told.disabled = shown, told_before


@contextmanager
def _readable(stream: RawIOBase, *, finished: bool) -> Iterator[IO[bytes]]:
    """The stream as the library can read it: one that is not finished it mends in place, so that is a copy."""
    stream.seek(0)
    if finished:
        yield BufferedReader(stream, _NEAR)
        return
    with tempfile.TemporaryFile() as copy:
        shutil.copyfileobj(stream, copy, PAGE)
        copy.seek(0)
        yield copy


def _ignored(_: object) -> None:
    """Says nothing of an error that nobody can catch."""


def _read(file: LogFile, mdf: Any, *, finished: bool) -> Reading:
    axes = axes_of(mdf)
    kinds = [kind_of(mdf, axis.index) for axis in axes]
    pile = Pile("record")
    if "data" in kinds:
        _pile(file, mdf, [axis for axis, kind in zip(axes, kinds, strict=True) if kind == "data"], pile)
    if pile.rows:
        for axis, kind in zip(axes, kinds, strict=True):
            if kind != "data":
                deque(times_of(file.path, mdf, axis), maxlen=0)
        others = {
            what: sum(axis.rows for axis, kind in zip(axes, kinds, strict=True) if kind == what)
            for what in ("error", "remote")
        }
        return _of_frames(mdf, pile, others, _doubts(axes, finished=finished), _width_ns(mdf, axes))
    sampled, skipped = channels_of(file, mdf, axes)
    if not sampled:
        raise LogError(f"{file.path}: an MF4 file without CAN frames and without channels of numbers")
    rows = np.concatenate([np.arange(len(group.times_ns)) for group in sampled])
    return sampled_reading(
        "mf4",
        sampled,
        rows,
        Ledger(len(rows), len(rows), 0, 0),
        rejected=_doubts(axes, finished=finished),
        notes=(*_zone(mdf), *([f"{skipped} channels hold no plain numbers: skipped"] if skipped else [])),
        resolution_ns=_width_ns(mdf, axes),
        start_ns=int(mdf.header.abs_time),
        place_is="record",
    )


def _width_ns(mdf: Any, axes: Sequence[Axis]) -> int:
    return max((axis.width_ns(mdf) for axis in axes), default=1)


def _pile(file: LogFile, mdf: Any, axes: Sequence[Axis], pile: Pile) -> None:
    """The data frames of these channel groups in the order of time; LogError if there is no room for them."""
    total = sum(axis.records for axis in axes)
    firsts = [0, *accumulate(axis.records for axis in axes)]
    groups = [(_parts(file, mdf, axis), first) for axis, first in zip(axes, firsts, strict=False)]
    for part in merged(groups):
        first = not pile.rows
        pile.add(part)
        need = total * (pile.payload_bytes // pile.rows + _BESIDE)
        if first and need > room():
            raise LogError(
                f"{file.path}: its {total} frames need some {need >> 20} MiB of memory, and {room() >> 20} MiB are "
                "free; export a shorter part of it"
            )


def _parts(file: LogFile, mdf: Any, axis: Axis) -> Iterator[Frames]:
    """The data frames of a channel group, span by span, as far as the file holds them."""
    for first, count in spans(axis, axis.records):
        events = events_of(mdf, axis.index, first, count)
        times = nanoseconds(file.path, axis.index, events.seconds)
        axis.add(times)
        if len(times):
            yield frames_of(file.path, axis.index, events, times)
        if len(times) < count:
            return


def _doubts(axes: Sequence[Axis], *, finished: bool) -> tuple[Rejected, ...]:
    """What concerns the whole file."""
    lost = sum(axis.lost for axis in axes)
    found = []
    if lost:
        why = f"{lost} records that the file speaks of are not in it"
        found.append((why, QualityKind.TRUNCATED))
    if not finished:
        found.append(
            ("the logger did not finish the file: records may be missing at its end", QualityKind.TRUNCATED)
        )
    doubts = [
        Rejected(0, 0, 0, 0, 0, why, kind, until_end=True, from_start=bool(lost)) for why, kind in found
    ]
    if any(axis.backwards for axis in axes):
        why = "the times of a channel group run backwards"
        doubts.append(
            Rejected(0, 0, 0, 0, 0, why, QualityKind.TIME_BACKWARDS, until_end=True, from_start=True)
        )
    return tuple(doubts)


def _zone(mdf: Any) -> tuple[str, ...]:
    local = int(getattr(mdf.header, "time_flags", 0)) & 1
    return ("the start of the file is in local time: read as UTC",) if local else ()


def _of_frames(
    mdf: Any, pile: Pile, others: dict[str, int], doubts: tuple[Rejected, ...], width: int
) -> Reading:
    columns = in_order(pile)
    rows = len(columns.times_ns)
    columns.times_ns[:] += int(mdf.header.abs_time)
    there = np.bincount(columns.channels) > 0
    return Reading(
        format="mf4",
        columns=replace(
            columns, channels=(np.cumsum(there) - 1).astype(np.uint16)[columns.channels], absolute=True
        ),
        ledger=Ledger(rows + sum(others.values()), rows, sum(others.values()), 0),
        rejected=tuple(_at_end(doubt, rows) for doubt in doubts),
        oddities=tuple(
            Oddity(QualityKind.ERROR_FRAME, f"{what} frames", count, 0, 0, rows - 1)
            for what, count in others.items()
            if count
        ),
        channels=tuple(str(name) for name in np.flatnonzero(there).tolist()),
        notes=_zone(mdf),
        resolution_ns=width,
    )


def _at_end(doubt: Rejected, rows: int) -> Rejected:
    if doubt.from_start:
        return doubt
    return Rejected(rows, rows, 0, rows, rows, doubt.why, doubt.kind, until_end=True)
