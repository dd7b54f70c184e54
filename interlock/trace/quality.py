"""Doubts that concern a whole file: pieces that were not read, time that runs backwards, buses mixed up."""

from collections.abc import Iterator
from typing import Final

import numpy as np

from interlock.interval import Interval
from interlock.trace.gather import Log, Stream, Unknown
from interlock.trace.model import Quality, QualityKind
from interlock.trace.reading import Oddity, Rejected
from interlock.trace.spans import Run, runs

__all__ = [
    "backwards",
    "mixed_buses",
    "mixed_files",
    "oddities",
    "unknown_identifiers",
    "unread",
    "unshared_clocks",
]

_UNIT: Final = {"line": "line", "byte": "object", "sample": "sample", "record": "record"}


def unread(log: Log) -> Iterator[Quality]:
    """Each piece of a file that became no frame: any message may have been in it."""
    for file, reading in enumerate(log.readings):
        for piece in reading.rejected:
            yield Quality(
                piece.kind,
                None,
                None,
                _span(log, file, piece),
                log.spot(file, piece.place),
                blinds=True,
                sentence=_told(piece, _UNIT[reading.columns.place_is]),
            )


def _span(log: Log, file: int, piece: Rejected) -> Interval:
    """From the last frame before the piece to the first after it, in the order of the file."""
    first, stop = int(log.offsets[file]), int(log.offsets[file + 1])
    row, last_row = first + piece.row, first + piece.last_row
    before = int(log.times_ns[row - 1]) if row > first and not piece.from_start else 0
    after = int(log.times_ns[last_row]) if last_row < stop and not piece.until_end else None
    if after is not None and after < before:
        before, after = after, before
    return Interval(before, after)


def _told(piece: Rejected, unit: str) -> str:
    if piece.count == 0:
        return f"Here {piece.why}."
    if unit == "sample":
        return f"{piece.count} samples are lost from here: {piece.why}."
    if piece.count == 1:
        return f"This {unit} is no frame: {piece.why}."
    return f"{piece.count} {unit}s from here to {piece.last} are no frames: {piece.why}."


def oddities(log: Log) -> Iterator[Quality]:
    """Error and remote frames: facts of the bus, not doubts about the data frames."""
    for file, reading in enumerate(log.readings):
        for oddity in reading.oddities:
            yield Quality(
                oddity.kind,
                None,
                None,
                _hull(log, file, oddity),
                log.spot(file, oddity.place),
                blinds=False,
                sentence=f"The log holds {oddity.count} {oddity.what}, the first one here.",
            )


def _hull(log: Log, file: int, oddity: Oddity) -> Interval:
    first, stop = int(log.offsets[file]), int(log.offsets[file + 1])
    lo = int(log.times_ns[max(first + oddity.first_row - 1, first)])
    hi = int(log.times_ns[min(first + oddity.last_row, stop - 1)])
    return Interval(min(lo, hi), max(lo, hi))


def backwards(log: Log) -> Iterator[Quality]:
    """Each excursion of a file's stamps below one that came before; of a file of samples, of those of one group.

    Either the high stamp or those after it are wrong, so the doubt reaches from the frame before the high stamp (or
    the lowest stamp, if that is lower) to the first frame stamped as late as the high one.
    """
    for first, stop in _in_order(log):
        times = log.times_ns[first:stop]
        if not (times[1:] < times[:-1]).any():
            continue
        highest = np.maximum.accumulate(times)
        behind = times < highest
        for run in runs(behind, times):
            high = run.first - 1
            lo = int(min(times[run.first : run.last + 1].min(), times[max(high - 1, 0)]))
            later = times[run.last + 1] if run.last + 1 < len(times) else None
            yield Quality(
                QualityKind.TIME_BACKWARDS,
                None,
                None,
                Interval(lo, None if later is None else int(later)),
                log.place(first + run.first),
                blinds=True,
                sentence=_back_told(run, int(times[high] - times[run.first])),
            )


def _in_order(log: Log) -> Iterator[tuple[int, int]]:
    """First row and the one after the last of what a recorder wrote in the order of time."""
    for file, reading in enumerate(log.readings):
        first, stop = int(log.offsets[file]), int(log.offsets[file + 1])
        for size in [len(group.times_ns) for group in reading.sampled] or [stop - first]:
            yield first, first + size
            first += size


def _back_told(run: Run, by_ns: int) -> str:
    frames = "This frame is" if run.count == 1 else f"{run.count} frames from here on are"
    early = f"{frames} stamped before the frame above, the first by {by_ns / 1e6:g} ms"
    return f"{early}: the order of events is not certain."


def unknown_identifiers(log: Log, unknown: tuple[Unknown, ...]) -> Iterator[Quality]:
    """Each identifier that the DBC does not describe, once."""
    for item in unknown:
        ident = f"{item.key & 0x1FFFFFFF:X}{'x' if item.key >> 31 else ''}"
        frames = "1 frame has" if item.count == 1 else f"{item.count} frames have"
        yield Quality(
            QualityKind.UNKNOWN_ID,
            None,
            None,
            Interval(item.first_ns, item.last_ns),
            log.place(item.first_row),
            blinds=False,
            sentence=f"{frames} the identifier {ident} (hexadecimal), which the DBC does not describe.",
        )


def mixed_buses(log: Log, stream: Stream) -> Iterator[Quality]:
    """Frames of one message that did not come over the bus that most of them came over."""
    if not len(stream.rows) or all(len(reading.channels) == 1 for reading in log.readings):
        return
    channels = log.channels[stream.rows]
    if len(log.readings) == 1:
        strange = channels != np.bincount(channels).argmax()
    else:
        files = log.file_of(stream.rows)
        strange = np.zeros(len(files), np.bool_)
        for file in np.unique(files):
            here = files == file
            strange |= here & (channels != np.bincount(channels[here]).argmax())
    if not strange.any():
        return
    for run in runs(strange, stream.times_ns):
        yield Quality(
            QualityKind.SEVERAL_CHANNELS,
            stream.layout.name,
            None,
            run.span,
            log.place(int(stream.rows[run.first])),
            blinds=True,
            sentence=f"{run.count} frames of {stream.layout.name} came over another bus than the others of the file.",
        )


def mixed_files(log: Log, stream: Stream) -> Iterator[Quality]:
    """One message in two files at the same time: their clocks may differ.

    The last frame of a file may bear the stamp of the first one of the next, where a logger began a new file.
    """
    if len(log.readings) == 1:
        return
    files = log.file_of(stream.rows)
    spans = sorted(
        (int(stream.times_ns[files == file][0]), int(stream.times_ns[files == file][-1]))
        for file in np.unique(files)
    )
    latest = spans[0][1]
    for lo, hi in spans[1:]:
        if lo < latest:
            yield Quality(
                QualityKind.SEVERAL_CHANNELS,
                stream.layout.name,
                None,
                Interval(lo, min(hi, latest)),
                log.place(int(stream.rows[np.searchsorted(stream.times_ns, lo)])),
                blinds=True,
                sentence=f"{stream.layout.name} is in two files at the same time; their clocks may differ.",
            )
        latest = max(latest, hi)


def unshared_clocks(log: Log) -> Iterator[Quality]:
    """Files that cover the same time: nothing here says how far apart the clocks of their loggers are."""
    if len(log.readings) == 1:
        return
    spans = []
    for file in range(len(log.readings)):
        times = log.times_ns[int(log.offsets[file]) : int(log.offsets[file + 1])]
        spans.append((int(times.min()), int(times.max()), file))
    spans.sort()
    latest = spans[0][1]
    for lo, hi, file in spans[1:]:
        if lo < latest:
            sentence = (
                f"{log.names[file]} covers the time of another file; how far their clocks differ is not stated: "
                "describe each recorder in the bench file, under shows, sources, with its clock."
            )
            yield Quality(
                QualityKind.TIME_RELATIVE,
                None,
                None,
                Interval(lo, min(hi, latest)),
                log.place(int(log.offsets[file])),
                blinds=True,
                sentence=sentence,
            )
        latest = max(latest, hi)
