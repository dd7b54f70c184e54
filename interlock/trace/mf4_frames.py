"""CAN frames out of the bus events of an MF4 file (ASAM MDF bus logging: CAN_DataFrame and its members)."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError

__all__ = ["Events", "Frames", "events_of", "frames_of", "kind_of", "numbers_of"]

_DATA: Final = "CAN_DataFrame"
_KINDS: Final = {_DATA: "data", "CAN_ErrorFrame": "error", "CAN_RemoteFrame": "remote"}
_MEMBERS: Final = ("ID", "IDE", "DataLength", "DataBytes", "BusChannel")


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """CAN data frames of one channel group."""

    times_ns: NDArray[np.int64]
    idents: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    lengths: NDArray[np.uint8]
    data: NDArray[np.uint8]
    channels: NDArray[np.uint16]


def numbers_of(
    mdf: Any, index: int, number: int, first: int = 0, count: int | None = None
) -> tuple[NDArray[Any], Any]:
    """Samples of one channel with conversions to numbers done and those to text left out, and its signal.

    Of so many records from the first on, else of all.
    """
    signal = mdf.get(
        group=index,
        index=number,
        raw=True,
        ignore_invalidation_bits=True,
        record_offset=first,
        record_count=count,
    )
    return _numbers(signal), signal


def _numbers(signal: Any) -> NDArray[Any]:
    samples = signal.samples
    if signal.conversion is not None:
        samples = signal.conversion.convert(samples, ignore_value2text_conversions=True)
    return np.asarray(samples)


@dataclass(frozen=True, slots=True, eq=False)
class Events:
    """The data frames of one channel group as the library gives them."""

    members: dict[str, NDArray[Any]]  # by name
    seconds: NDArray[np.float64]


def kind_of(mdf: Any, index: int) -> str:
    """What bus events a channel group holds: data, error or remote; empty if none."""
    if not mdf.groups[index].channel_group.cycles_nr:
        return ""
    names = _numbered(mdf, index)
    return next((kind for name, kind in _KINDS.items() if name in names or f"{name}.ID" in names), "")


def _numbered(mdf: Any, index: int) -> dict[str, int]:
    return {channel.name: number for number, channel in enumerate(mdf.groups[index].channels)}


def events_of(mdf: Any, index: int, first: int, count: int) -> Events:
    """The data frames in so many records of a channel group that holds such."""
    numbers = _numbered(mdf, index)
    wanted = [name for name in _MEMBERS if f"{_DATA}.{name}" in numbers]
    if not wanted:
        return Events({}, mdf.get_master(index, record_offset=first, record_count=count))
    signals = mdf.select(  # one pass over the records for all members and their times
        [(None, index, numbers[f"{_DATA}.{name}"]) for name in wanted],
        raw=True,
        copy_master=False,
        record_offset=first,
        record_count=count,
    )
    return Events(dict(zip(wanted, map(_numbers, signals), strict=True)), signals[0].timestamps)


def frames_of(path: Path, index: int, events: Events, times_ns: NDArray[np.int64]) -> Frames:
    """The frames of a channel group; LogError if they lack what makes a frame."""
    for name, samples in events.members.items():
        if len(samples) != len(times_ns):
            raise LogError(
                f"{path}: channel group {index}: {_DATA}.{name} has not as many values as times; export it again"
            )
    return _data(f"{path}: channel group {index}", times_ns, *(events.members.get(name) for name in _MEMBERS))


def _data(
    where: str,
    times_ns: NDArray[np.int64],
    ident: NDArray[Any] | None,
    extended: NDArray[Any] | None,
    length: NDArray[Any] | None,
    data: NDArray[Any] | None,
    bus: NDArray[Any] | None,
) -> Frames:
    if ident is None or data is None or length is None:
        raise LogError(f"{where}: CAN frames without identifier, length or data; export it again")
    block = np.ascontiguousarray(data.reshape(len(times_ns), -1), np.uint8)
    lengths = length.astype(np.uint8)
    if int(lengths.max(initial=0)) > block.shape[1]:
        raise LogError(f"{where}: CAN frames longer than their data; export it again")
    block = block[:, : 8 if int(lengths.max(initial=0)) <= 8 else 64].copy()
    block[np.arange(block.shape[1]) >= lengths[:, None]] = 0
    number = ident.astype(np.uint32)
    wide = number > 0x7FF if extended is None else extended.astype(np.bool_)
    wide |= number >> 31 == 1
    number &= np.uint32(0x1FFFFFFF)
    if (number > np.where(wide, 0x1FFFFFFF, 0x7FF)).any():
        raise LogError(f"{where}: identifiers beyond 11 bits in standard frames; export it again")
    channels = np.zeros(len(times_ns), np.uint16) if bus is None else bus.astype(np.uint16)
    return Frames(times_ns, number, wide, lengths, block, channels)
