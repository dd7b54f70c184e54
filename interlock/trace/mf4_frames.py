"""CAN frames out of the bus events of an MF4 file (ASAM MDF bus logging: CAN_DataFrame and its members)."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError

__all__ = ["Events", "Frames", "events_of", "frames_of", "kind_of", "numbers_of"]

_KINDS: Final = {"CAN_DataFrame": "data", "CAN_ErrorFrame": "error", "CAN_RemoteFrame": "remote"}
_MEMBERS: Final = ("ID", "IDE", "DataLength", "DataBytes", "BusChannel")


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """Bus events of one channel group; without identifiers and data unless `kind` is "data"."""

    kind: str  # data, error or remote
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
    """The bus events of one channel group as the library gives them."""

    name: str  # of the event
    members: dict[str, NDArray[Any]]  # of data frames, by name
    seconds: NDArray[np.float64]  # of data frames


def kind_of(mdf: Any, index: int) -> str:
    """What bus events a channel group holds: data, error or remote; empty if none."""
    event = _event(_numbered(mdf, index))
    return _KINDS[event] if event and mdf.groups[index].channel_group.cycles_nr else ""


def _numbered(mdf: Any, index: int) -> dict[str, int]:
    return {channel.name: number for number, channel in enumerate(mdf.groups[index].channels)}


def _event(numbers: dict[str, int]) -> str:
    return next((name for name in _KINDS if name in numbers or f"{name}.ID" in numbers), "")


def events_of(mdf: Any, index: int, first: int = 0, count: int | None = None) -> Events | None:
    """The bus events in so many records of a channel group, None if it holds none."""
    numbers = _numbered(mdf, index)
    event = _event(numbers)
    if not event or not mdf.groups[index].channel_group.cycles_nr:
        return None
    wanted = [name for name in _MEMBERS if f"{event}.{name}" in numbers]
    if _KINDS[event] != "data" or not wanted:
        return Events(event, {}, np.zeros(0))
    signals = mdf.select(  # one pass over the records for all members and their times
        [(None, index, numbers[f"{event}.{name}"]) for name in wanted],
        raw=True,
        copy_master=False,
        record_offset=first,
        record_count=count,
    )
    return Events(event, dict(zip(wanted, map(_numbers, signals), strict=True)), signals[0].timestamps)


def frames_of(path: Path, index: int, events: Events, times_ns: NDArray[np.int64]) -> Frames | None:
    """The frames of a channel group, None if it holds none after all."""
    count = len(times_ns)
    if not count:
        return None
    if _KINDS[events.name] != "data":
        none = np.zeros(count, np.uint32)
        return Frames(
            _KINDS[events.name],
            times_ns,
            none,
            none > 0,
            none.astype(np.uint8),
            np.zeros((count, 8), np.uint8),
            none.astype(np.uint16),
        )
    for name, samples in events.members.items():
        if len(samples) != count:
            raise LogError(
                f"{path}: channel group {index}: {events.name}.{name} has not as many values as times; export it again"
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
    return Frames("data", times_ns, number, wide, lengths, block, channels)
