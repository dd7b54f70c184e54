"""Several readings on one time base, and the frames of each message in the order of time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.decode import payloads
from interlock.trace.excerpt import DATA, DIGEST
from interlock.trace.flaws import Flaw
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Columns, slim
from interlock.trace.pages import fit, together
from interlock.trace.payloads import Payloads, joined, plain
from interlock.trace.reading import Reading, Sampled
from interlock.trace.sampled import layout_of

__all__ = ["Log", "Stream", "UndatedError", "Unknown", "gather", "on_bus", "streams_of"]

Ints = NDArray[np.int64]
_DECODED: Final = 1 << 30  # marks the keys of rows that are no frames but samples already decoded
_Number = TypeVar("_Number", np.uint8, np.uint16)


class UndatedError(LogError):
    """Files that cannot be joined, as one of them does not say when it was recorded."""


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """All data frames of a run, file after file, stamped in nanoseconds since the earliest."""

    readings: tuple[Reading, ...]  # of their columns only places are left
    names: tuple[str, ...]  # of the files
    offsets: Ints  # row of the first frame of each file, and the number of all frames
    start_ns: int
    end_ns: int  # latest frame
    times_ns: Ints
    keys: NDArray[np.uint32]  # identifier, highest bit set if extended
    lengths: NDArray[np.uint8]
    data: NDArray[np.uint8] | Payloads
    channels: NDArray[np.uint16]  # by the numbering of each file
    sampled: tuple[Sampled, ...] = ()  # of all files

    def content(self, layout: MessageLayout, rows: Ints) -> tuple[MessageLayout, NDArray[np.uint8]]:
        """Where which signals stand in what was kept of a message, and that of its good frames in these rows."""
        if not isinstance(self.data, Payloads):
            return layout, payloads(layout, self.data, rows)
        cut = self.told(layout, rows, DATA)
        return (layout, self.data[rows]) if cut is None else (self.data.long[layout.key].excerpt.left, cut)

    def told(self, layout: MessageLayout, rows: Ints, what: str) -> NDArray[Any] | None:
        """What was told of the payloads of good frames of a message before they were cut; None: they were not."""
        if not isinstance(self.data, Payloads) or layout.key not in self.data.long:
            return None
        return self.data.long[layout.key].column(what, self.data.at[rows])

    def flaws(
        self, layout: MessageLayout, signal: SignalLayout, rows: Ints
    ) -> tuple[NDArray[np.bool_], list[Flaw]]:
        """What is wrong with a signal that was only looked at, and in which of these rows it is, if anything is."""
        if not isinstance(self.data, Payloads):
            raise ValueError("all of each payload was kept")
        return self.data.long[layout.key].flaws(signal, self.data.at[rows])

    def repeats(self, layout: MessageLayout, rows: Ints) -> NDArray[np.bool_]:
        """Which payloads of good frames of a message are that of the frame before."""
        told = self.told(layout, rows, DIGEST)
        told = _words(self.data[rows]) if told is None else told[:, None]
        return np.concatenate(([False], (told[1:] == told[:-1]).all(axis=1)))

    def file_of(self, rows: Ints) -> Ints:
        """Index of the file that each row comes from."""
        return np.searchsorted(self.offsets, rows, side="right") - 1

    def place(self, row: int) -> str:
        """Where in which file the frame of this row stands."""
        file = int(np.searchsorted(self.offsets, row, side="right")) - 1
        columns = self.readings[file].columns
        return self.spot(file, int(columns.places[row - int(self.offsets[file])]))

    def spot(self, file: int, place: int) -> str:
        """A place in a file, as told to people."""
        kind = self.readings[file].columns.place_is
        return f"{self.names[file]}:{place}" if kind == "line" else f"{self.names[file]} at {kind} {place}"


def _words(block: NDArray[np.uint8]) -> NDArray[np.uint64]:
    """Payloads of any width in words of eight bytes, filled up with zeros."""
    short = -block.shape[1] % 8
    whole = np.pad(block, ((0, 0), (0, short))) if short else block
    return np.ascontiguousarray(whole).view(np.uint64)


@dataclass(frozen=True, slots=True, eq=False)
class Stream:
    """All frames with the identifier of one message, in the order of time (of equal stamps: as read)."""

    layout: MessageLayout
    rows: Ints  # of the log
    times_ns: Ints
    good: NDArray[
        np.bool_
    ]  # as long as the DBC says, or padded to the length that a CAN FD frame must then have
    sampled: Sampled | None = None  # what the rows hold if they are no frames

    @property
    def good_rows(self) -> Ints:
        """Rows of the good frames."""
        return self.rows if self.good.all() else self.rows[self.good]

    @property
    def good_times_ns(self) -> Ints:
        """Stamps of the good frames."""
        return self.times_ns if self.good.all() else self.times_ns[self.good]


@dataclass(frozen=True, slots=True)
class Unknown:
    """Frames whose identifier the DBC does not describe."""

    key: int
    count: int
    first_row: int
    first_ns: int
    last_ns: int


def gather(paths: Sequence[Path], readings: Sequence[Reading], *, one_zero: bool = False) -> Log:
    """All readings on one time base; LogError if more than one file is given and one has no date.

    `one_zero`: it is known that the stamps of all files without a date count from the same instant.
    """
    undated = [path for path, reading in zip(paths, readings, strict=True) if not reading.columns.absolute]
    if undated and len(paths) > 1 and not (one_zero and len(undated) == len(paths)):
        raise UndatedError(
            f"{undated[0]}: its stamps do not say the time of day, so it cannot be joined with other files of the run; "
            "give this file alone, or export it with absolute time"
        )
    parts = [reading.columns for reading in readings]
    start = min(int(part.times_ns.min()) for part in parts)
    times = _since(start, [part.times_ns for part in parts])
    return Log(
        readings=tuple(replace(one, columns=slim(one.columns, places=True)) for one in readings),
        names=tuple(path.name for path in paths),
        offsets=np.cumsum([0, *(len(part.times_ns) for part in parts)]),
        start_ns=start,
        end_ns=int(times.max()),
        times_ns=times,
        keys=np.concatenate(_keys(readings)),
        lengths=_joined([part.lengths for part in parts]),
        data=_data(parts),
        channels=_joined([part.channels for part in parts]),
        sampled=tuple(group for reading in readings for group in reading.sampled),
    )


def _keys(readings: Sequence[Reading]) -> list[NDArray[np.uint32]]:
    """The key of each row, file by file; groups of samples are numbered through all files."""
    keys: list[NDArray[np.uint32]] = []
    groups = 0
    for reading in readings:
        part = reading.columns
        if reading.sampled:
            numbered: NDArray[np.uint32] = (part.idents + np.uint32(_DECODED + groups)).astype(np.uint32)
            keys.append(numbered)
            groups += len(reading.sampled)
        else:
            keys.append(_keys_of(part))
    return keys


def _keys_of(part: Columns) -> NDArray[np.uint32]:
    keys: NDArray[np.uint32] = part.idents | part.extended.astype(np.uint32) << np.uint32(31)
    return keys


def _since(start_ns: int, parts: Sequence[Ints]) -> Ints:
    whole = parts[0] if len(parts) == 1 else np.concatenate(parts)
    return whole - start_ns if start_ns else whole


def _joined(parts: "list[NDArray[_Number]]") -> "NDArray[_Number]":
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def _data(parts: Sequence[Columns]) -> NDArray[np.uint8] | Payloads:
    """The payloads of all files."""
    if len(parts) == 1:
        return parts[0].payloads or parts[0].data
    if not any(part.payloads for part in parts):
        width = max(part.data.shape[1] for part in parts)
        return _joined([_widened(part.data, width) for part in parts])
    return joined([(_keys_of(part), part.payloads or plain(part.data)) for part in parts])


def _widened(data: NDArray[np.uint8], width: int) -> NDArray[np.uint8]:
    return np.pad(data, ((0, 0), (0, width - data.shape[1]))) if data.shape[1] < width else data


def streams_of(log: Log, dbc: Mapping[int, MessageLayout]) -> tuple[dict[str, Stream], tuple[Unknown, ...]]:
    """The frames of each message that the log holds, and the identifiers that the DBC does not describe."""
    keys, groups = _grouped(log.keys)
    streams: dict[str, Stream] = {}
    unknown: list[Unknown] = []
    for key, rows in zip(keys, groups, strict=True):
        if key >> 30 == 1:
            group = log.sampled[int(key) - _DECODED]
            _add_sampled(streams, log, group, rows)
            continue
        layout = dbc.get(int(key))
        if layout is None:
            times = log.times_ns[rows]
            unknown.append(Unknown(int(key), len(rows), int(rows[0]), int(times.min()), int(times.max())))
            continue
        streams[layout.name] = _stream(log, layout, rows)
    return streams, tuple(unknown)


def _add_sampled(streams: dict[str, Stream], log: Log, group: Sampled, rows: Ints) -> None:
    there, stream = streams.get(group.message), replace(_stream(log, layout_of(group), rows), sampled=group)
    if there is None:
        streams[group.message] = stream
        return
    first = there.sampled
    if first is None or first.described is None or not fit([first, group]):
        raise LogError(
            f"{log.place(int(rows[0]))}: two sources bear the name {group.message}; give each file a name of its own"
        )
    rows, whole = together(first, there.rows, group, stream.rows, log.times_ns)
    streams[group.message] = Stream(
        layout_of(whole), rows, log.times_ns[rows], np.ones(len(rows), np.bool_), whole
    )


def _stream(log: Log, layout: MessageLayout, rows: Ints) -> Stream:
    times = log.times_ns[rows]
    if (times[1:] < times[:-1]).any():
        order = np.argsort(times, kind="stable")
        rows, times = rows[order], times[order]
    good = (log.lengths[rows] == layout.length) | (log.lengths[rows] == layout.sent_length)
    return Stream(layout, rows, times, good | (layout.role == "sync"))  # SYNC may carry a counter, or nothing


def on_bus(log: Log, stream: Stream, bus: str) -> Stream:
    """The frames of a message that came over one bus, as its logger names it; those of other buses are left out."""
    files = log.file_of(stream.rows)
    there = np.zeros(len(stream.rows), np.bool_)
    for file, reading in enumerate(log.readings):
        if bus in reading.channels:
            there |= (files == file) & (log.channels[stream.rows] == reading.channels.index(bus))
    rows, times, good = stream.rows[there], stream.times_ns[there], stream.good[there]
    return replace(stream, rows=rows, times_ns=times, good=good)


def _grouped(keys: NDArray[np.uint32]) -> tuple[NDArray[np.uint32], list[Ints]]:
    """The different keys in ascending order, and the rows of each in ascending order."""
    order = np.argsort(_short(keys), kind="stable")
    ordered = keys[order]
    cuts = np.flatnonzero(ordered[1:] != ordered[:-1]) + 1
    different = ordered[np.concatenate(([0], cuts))] if len(ordered) else ordered
    if len(np.unique(different)) < len(different):  # two keys share a short number
        order = np.argsort(keys, kind="stable")
        ordered = keys[order]
        cuts = np.flatnonzero(ordered[1:] != ordered[:-1]) + 1
        different = ordered[np.concatenate(([0], cuts))]
    groups = np.split(order, cuts) if len(ordered) else []
    ascending = np.argsort(different)
    return different[ascending], [groups[at] for at in ascending]


def _short(keys: NDArray[np.uint32]) -> NDArray[np.uint16]:
    """A number of sixteen bits for each key, as these are sorted in linear time; seldom the same for two keys."""
    if not (keys >> 16).any():
        return keys.astype(np.uint16)
    return (keys * np.uint32(0x9E3779B1) >> np.uint32(16)).astype(np.uint16)
