"""CAN frames out of the bus events of an MF4 file (ASAM MDF bus logging: CAN_DataFrame and its members)."""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError

__all__ = ["Frames", "frames_of", "numbers_of"]

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


def numbers_of(mdf: Any, index: int, number: int) -> tuple[NDArray[Any], Any]:
    """The samples of one channel with conversions to numbers done and those to text left out, and its signal."""
    signal = mdf.get(group=index, index=number, raw=True, ignore_invalidation_bits=True)
    return _numbers(signal), signal


def _numbers(signal: Any) -> NDArray[Any]:
    samples = signal.samples
    if signal.conversion is not None:
        samples = signal.conversion.convert(samples, ignore_value2text_conversions=True)
    return np.asarray(samples)


def frames_of(mdf: Any, index: int, times_ns: NDArray[np.int64]) -> Frames | None:
    """The bus events of a channel group, None if it holds none."""
    numbers = {channel.name: number for number, channel in enumerate(mdf.groups[index].channels)}
    event = next((name for name in _KINDS if name in numbers or f"{name}.ID" in numbers), None)
    if event is None or not len(times_ns):
        return None
    count = len(times_ns)
    if _KINDS[event] != "data":
        none = np.zeros(count, np.uint32)
        return Frames(
            _KINDS[event],
            times_ns,
            none,
            none > 0,
            none.astype(np.uint8),
            np.zeros((count, 8), np.uint8),
            none.astype(np.uint16),
        )

    wanted = [name for name in _MEMBERS if f"{event}.{name}" in numbers]
    signals = mdf.select(  # one pass over the records for all members
        [(None, index, numbers[f"{event}.{name}"]) for name in wanted], raw=True, copy_master=False
    )
    members = dict(zip(wanted, map(_numbers, signals), strict=True))
    for name, samples in members.items():
        if len(samples) != count:
            raise LogError(f"channel group {index}: {event}.{name} has not as many values as times")
    return _data(index, times_ns, *(members.get(name) for name in _MEMBERS))


def _data(
    index: int,
    times_ns: NDArray[np.int64],
    ident: NDArray[Any] | None,
    extended: NDArray[Any] | None,
    length: NDArray[Any] | None,
    data: NDArray[Any] | None,
    bus: NDArray[Any] | None,
) -> Frames:
    if ident is None or data is None or length is None:
        raise LogError(f"channel group {index}: CAN frames without identifier, length or data")
    block = np.ascontiguousarray(data.reshape(len(times_ns), -1), np.uint8)
    lengths = length.astype(np.uint8)
    if int(lengths.max(initial=0)) > block.shape[1]:
        raise LogError(f"channel group {index}: CAN frames longer than their data")
    block = block[:, : 8 if int(lengths.max(initial=0)) <= 8 else 64].copy()
    block[np.arange(block.shape[1]) >= lengths[:, None]] = 0
    number = ident.astype(np.uint32)
    wide = number > 0x7FF if extended is None else extended.astype(np.bool_)
    wide |= number >> 31 == 1
    number &= np.uint32(0x1FFFFFFF)
    if (number > np.where(wide, 0x1FFFFFFF, 0x7FF)).any():
        raise LogError(f"channel group {index}: identifiers beyond 11 bits in standard frames")
    channels = np.zeros(len(times_ns), np.uint16) if bus is None else bus.astype(np.uint16)
    return Frames("data", times_ns, number, wide, lengths, block, channels)
