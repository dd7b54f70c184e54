"""Channels of an MF4 file that are decoded already, some records at a time."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.inputs import LogFile, plain_name
from interlock.trace.mf4_axis import Axis, spans, times_of
from interlock.trace.mf4_frames import numbers_of
from interlock.trace.pieces import allowed, too_many
from interlock.trace.reading import Sampled

__all__ = ["channels_of"]

_NUMBERS: Final = "iufb"

Floats = NDArray[np.float64]


def channels_of(file: LogFile, mdf: Any, axes: Sequence[Axis]) -> tuple[tuple[Sampled, ...], int]:
    """Channels of numbers by group, and how many others there are; LogError if there is no room for them."""
    found, skipped = [], 0
    names = [getattr(mdf.groups[axis.index].channel_group, "acq_name", "") or "" for axis in axes]
    for axis, name in zip(axes, names, strict=True):
        unique = name and names.count(name) == 1 and len(axes) > 1
        message = LogFile(file.path, name).message if unique else file.message
        if not unique and len(axes) > 1:
            message = f"{message}_{axis.index}"
        wanted = _wanted(file, mdf, axis)
        _refuse_many(file, axis, len(wanted))
        blocks = list(times_of(file.path, mdf, axis))
        times = np.concatenate(blocks) if blocks else np.zeros(0, np.int64)
        values, units = {}, {}
        for number, channel in wanted:
            samples, unit = _samples(mdf, axis, number)
            if samples is None:
                skipped += 1
                continue
            values[channel], units[channel] = samples, unit
        if values and len(times):
            group = plain_name(name) if name else ""
            found.append(Sampled(message, times, values, units, continuous=False, group=group))
    return tuple(found), skipped


def _wanted(file: LogFile, mdf: Any, axis: Axis) -> list[tuple[int, str]]:
    """Number and plain name of each wanted channel of the group."""
    return [
        (number, plain_name(channel.name))
        for number, channel in enumerate(mdf.groups[axis.index].channels)
        if number != mdf.masters_db.get(axis.index) and file.wants(channel.name)
    ]


def _refuse_many(file: LogFile, axis: Axis, channels: int) -> None:
    if too_many(axis.records, channels, most=allowed(named=False)):
        raise LogError(
            f"{file.path}: channel group {axis.index}: the memory of this machine has no room for {axis.records} "
            f"records of {channels} channels; name fewer channels, or export a shorter part of it"
        )


def _samples(mdf: Any, axis: Axis, number: int) -> tuple[Floats | None, str]:
    """The physical values of one channel, NaN where the file says that they are not valid."""
    blocks, unit = [], ""
    for samples, signal in _pieces(mdf, axis, number):
        if samples.ndim != 1 or samples.dtype.kind not in _NUMBERS:
            return None, ""
        values = samples.astype(np.float64)
        if signal.invalidation_bits is not None:
            values[np.asarray(signal.invalidation_bits, np.bool_)] = np.nan
        blocks.append(values)
        unit = unit or signal.unit or ""
    whole = np.concatenate(blocks) if blocks else np.zeros(0)
    return (whole, unit) if len(whole) == axis.rows else (None, "")


def _pieces(mdf: Any, axis: Axis, number: int) -> Iterator[tuple[NDArray[Any], Any]]:
    for first, count in spans(axis, axis.rows):
        yield numbers_of(mdf, axis.index, number, first, count)
