"""MF4 measurement files (ASAM MDF 4) by the library asammdf: raw CAN frames, or channels already decoded."""

import importlib
import io
import sys
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.apart import Died, apart
from interlock.trace.inputs import LogFile, plain_name
from interlock.trace.mf4_blocks import fits_together
from interlock.trace.mf4_frames import Events, Frames, events_of, frames_of, numbers_of
from interlock.trace.model import Columns, Ledger, QualityKind
from interlock.trace.reading import Oddity, Reading, Rejected, Sampled
from interlock.trace.sampled import sampled_reading

__all__ = ["looks_like", "read"]

Ints = NDArray[np.int64]

SHORTEST_S: Final = 30.0
"""Seconds that the library may take for any file."""
SLOWEST: Final = 1_000_000.0
"""Bytes a second that it surely reads; a sound file is read a hundred times as fast."""
_EXACT_NS: Final = 1 << 51
"""Up to here a time in seconds as a float, rounded, is the nanosecond that was meant."""
_NUMBERS: Final = "iufb"
_FLOATS: Final = (4, 5)  # data types of real numbers in MDF 4


@dataclass(frozen=True, slots=True)
class _Group:
    """One channel group with a time axis."""

    index: int
    name: str
    times_ns: Ints
    lost: int  # records that the file speaks of and lacks


def looks_like(text: bytes) -> bool:
    """Whether the content begins as an MDF file does, finished or not."""
    return text[:8] in (b"MDF     ", b"UnFinMF ")


def read(file: LogFile, text: bytes) -> Reading:
    """Reads all CAN frames if the file holds any, else all channels of numbers."""
    try:
        library = importlib.import_module("asammdf")
    except ImportError as error:
        raise LogError(
            f"{file.path}: reading MF4 needs the library asammdf; install it with: pip install 'interlock[mf4]'"
        ) from error
    if fits_together(text):
        return _by_library(file, library, text)
    seconds = SHORTEST_S + len(text) / SLOWEST
    try:  # led astray by a damaged file the library may crash, or never end
        return apart(lambda: _by_library(file, library, text), seconds)
    except Died as error:
        raise LogError(
            f"{file.path}: the library that reads MF4 files failed on this one: {error}; the file is damaged, "
            "export it again"
        ) from error


def _by_library(file: LogFile, library: Any, text: bytes) -> Reading:
    shown = sys.unraisablehook
    sys.unraisablehook = _ignored  # the library stumbles once more when it drops what it could not read
    try:
        with library.MDF(io.BytesIO(text)) as mdf:
            return _read(file, mdf, finished=text[:8] == b"MDF     ")
    except LogError:
        raise
    except Exception as error:  # whatever the library stumbles over, the file cannot be read
        why = repr(error)
        traceback.clear_frames(error.__traceback__)
        raise LogError(f"{file.path}: an MF4 file that cannot be read ({why}); export it again") from error
    finally:
        sys.unraisablehook = shown


def _ignored(_: object) -> None:
    """Says nothing of an error that nobody can catch."""


def _read(file: LogFile, mdf: Any, *, finished: bool) -> Reading:
    events = [events_of(mdf, index) for index in range(len(mdf.groups))]
    groups = [_group(file.path, mdf, index, event) for index, event in enumerate(events)]
    width = max((_width_ns(mdf, group) for group in groups), default=1)
    frames = [
        None if event is None else frames_of(file.path, group.index, event, group.times_ns)
        for group, event in zip(groups, events, strict=True)
    ]
    doubts = _doubts(groups, finished=finished)
    if any(part is not None and part.kind == "data" for part in frames):
        return _of_frames(mdf, [part for part in frames if part is not None], doubts, width)
    sampled, skipped = _channels(file, mdf, groups)
    if not sampled:
        raise LogError(f"{file.path}: an MF4 file without CAN frames and without channels of numbers")
    rows = np.concatenate([np.arange(len(group.times_ns)) for group in sampled])
    return sampled_reading(
        "mf4",
        sampled,
        rows,
        Ledger(len(rows), len(rows), 0, 0),
        rejected=doubts,
        notes=(*_zone(mdf), *([f"{skipped} channels hold no plain numbers: skipped"] if skipped else [])),
        resolution_ns=width,
        start_ns=int(mdf.header.abs_time),
        place_is="record",
    )


def _group(path: Path, mdf: Any, index: int, event: Events | None) -> _Group:
    group = mdf.groups[index]
    seconds = event.seconds if event is not None and event.members else mdf.get_master(index)
    scaled = np.asarray(seconds, np.float64) * 1e9
    if len(scaled) and (not np.isfinite(scaled).all() or float(np.abs(scaled).max()) >= _EXACT_NS):
        raise LogError(f"{path}: channel group {index}: times that cannot be told to the nanosecond")
    name = getattr(group.channel_group, "acq_name", "") or ""
    lost = max(0, int(group.channel_group.cycles_nr) - len(scaled))
    return _Group(index, name, np.rint(scaled).astype(np.int64), lost)


def _width_ns(mdf: Any, group: _Group) -> int:
    """One step of the time axis: as the file says of one that counts steps, else the largest that all stamps fit."""
    master = mdf.masters_db.get(group.index)
    if master is None or len(group.times_ns) < 2:
        return 1
    channel = mdf.groups[group.index].channels[master]
    if channel.data_type not in _FLOATS:
        step = float(getattr(channel.conversion, "b", 0.0) or 0.0)
        return max(1, ceil(abs(step) * 1e9 - 1e-6))
    apart = np.diff(group.times_ns)
    others = apart[apart != apart[0]]  # two distances: an even raster, which says nothing of the clock's step
    return max(1, int(np.gcd.reduce(apart))) if len(others) and (others != others[0]).any() else 1


def _doubts(groups: Sequence[_Group], *, finished: bool) -> tuple[Rejected, ...]:
    """What concerns the whole file."""
    lost = sum(group.lost for group in groups)
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
    if any((np.diff(group.times_ns) < 0).any() for group in groups):
        why = "the times of a channel group run backwards"
        doubts.append(
            Rejected(0, 0, 0, 0, 0, why, QualityKind.TIME_BACKWARDS, until_end=True, from_start=True)
        )
    return tuple(doubts)


def _zone(mdf: Any) -> tuple[str, ...]:
    local = int(getattr(mdf.header, "time_flags", 0)) & 1
    return ("the start of the file is in local time: read as UTC",) if local else ()


def _of_frames(mdf: Any, parts: list[Frames], doubts: tuple[Rejected, ...], width: int) -> Reading:
    data = [part for part in parts if part.kind == "data"]
    times = np.concatenate([part.times_ns for part in data])
    order = np.argsort(times, kind="stable")  # groups lie one after another in the file
    bytes_wide = max(8, *(part.data.shape[1] for part in data))
    buses = np.concatenate([part.channels for part in data])[order]
    names = np.unique(buses)
    others = {what: sum(len(p.times_ns) for p in parts if p.kind == what) for what in ("error", "remote")}
    columns = Columns(
        times_ns=times[order] + int(mdf.header.abs_time),
        idents=np.concatenate([part.idents for part in data])[order],
        extended=np.concatenate([part.extended for part in data])[order],
        lengths=np.concatenate([part.lengths for part in data])[order],
        data=np.concatenate([np.pad(p.data, ((0, 0), (0, bytes_wide - p.data.shape[1]))) for p in data])[
            order
        ],
        places=order,
        channels=np.searchsorted(names, buses).astype(np.uint16),
        absolute=True,
        place_is="record",
    )
    return Reading(
        format="mf4",
        columns=columns,
        ledger=Ledger(len(times) + sum(others.values()), len(times), sum(others.values()), 0),
        rejected=tuple(_at_end(doubt, len(times)) for doubt in doubts),
        oddities=tuple(
            Oddity(QualityKind.ERROR_FRAME, f"{what} frames", count, 0, 0, len(times) - 1)
            for what, count in others.items()
            if count
        ),
        channels=tuple(str(name) for name in names),
        notes=_zone(mdf),
        resolution_ns=width,
    )


def _at_end(doubt: Rejected, rows: int) -> Rejected:
    if doubt.from_start:
        return doubt
    return Rejected(rows, rows, 0, rows, rows, doubt.why, doubt.kind, until_end=True)


def _channels(file: LogFile, mdf: Any, groups: list[_Group]) -> tuple[tuple[Sampled, ...], int]:
    """Channels of numbers by group, and how many others there are."""
    found, skipped = [], 0
    names = [group.name for group in groups]
    for group in groups:
        unique = group.name and names.count(group.name) == 1 and len(groups) > 1
        message = LogFile(file.path, group.name).message if unique else file.message
        if not unique and len(groups) > 1:
            message = f"{message}_{group.index}"
        values, units = {}, {}
        for number, channel in enumerate(mdf.groups[group.index].channels):
            if number == mdf.masters_db.get(group.index) or not file.wants(channel.name):
                continue
            samples, unit = _samples(mdf, group, number)
            if samples is None:
                skipped += 1
                continue
            values[plain_name(channel.name)], units[plain_name(channel.name)] = samples, unit
        if values and len(group.times_ns):
            found.append(Sampled(message, group.times_ns, values, units, continuous=False))
    return tuple(found), skipped


def _samples(mdf: Any, group: _Group, number: int) -> tuple[NDArray[np.float64] | None, str]:
    """The physical values of one channel, NaN where the file says that they are not valid."""
    samples, signal = numbers_of(mdf, group.index, number)
    if samples.ndim != 1 or samples.dtype.kind not in _NUMBERS or len(samples) != len(group.times_ns):
        return None, ""
    values = samples.astype(np.float64)
    if signal.invalidation_bits is not None:
        values[np.asarray(signal.invalidation_bits, np.bool_)] = np.nan
    return values, signal.unit or ""
