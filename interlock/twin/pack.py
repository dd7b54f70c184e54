"""Packs whole columns of signal values into payloads, by the layout that a DBC text states."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from cantools.database.can import Database
from numpy.typing import NDArray

from interlock.twin.kernel import Floats

__all__ = ["Bytes", "Layout", "Place", "layouts", "pack"]

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a signal's bits lie and how its value is scaled."""

    start: int  # DBC numbering: least significant bit (Intel), most significant bit (Motorola)
    length: int
    motorola: bool
    signed: bool
    scale: float
    offset: float

    def raw(self, values: Floats) -> NDArray[np.int64]:
        """Nearest raw numbers, held within what the bits can carry."""
        low = -(1 << (self.length - 1)) if self.signed else 0
        high = low + (1 << self.length) - 1
        numbers = np.rint((values - self.offset) / self.scale)
        return np.clip(numbers, low, high).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Layout:
    """A message's identifier, length in bytes and signals."""

    frame_id: int
    extended: bool
    length: int
    signals: Mapping[str, Place]


def layouts(dbc: str) -> dict[str, Layout]:
    """Every message of a DBC text of classic CAN."""
    base = Database()
    base.add_dbc_string(dbc)
    return {
        message.name: Layout(
            message.frame_id,
            message.is_extended_frame,
            message.length,
            {
                s.name: Place(s.start, s.length, s.byte_order == "big_endian", s.is_signed, s.scale, s.offset)
                for s in message.signals
            },
        )
        for message in base.messages
    }


def pack(layout: Layout, values: Mapping[str, Floats]) -> Bytes:
    """Payloads `uint8[n, length]` of `n` frames; bits of no signal are 0.

    Raises KeyError for a signal that the message does not have.
    """
    n = len(next(iter(values.values())))
    intel, motorola = np.zeros(n, np.uint64), np.zeros(n, np.uint64)
    for name, column in values.items():
        place = layout.signals[name]
        bits = place.raw(column).astype(np.uint64) & np.uint64((1 << place.length) - 1)
        if place.motorola:
            from_top = 8 * (place.start // 8) + 7 - place.start % 8
            motorola |= bits << np.uint64(64 - from_top - place.length)
        else:
            intel |= bits << np.uint64(place.start)
    little = intel.astype("<u8").view(np.uint8).reshape(n, 8)
    big = motorola.astype(">u8").view(np.uint8).reshape(n, 8)
    packed: Bytes = (little | big)[:, : layout.length]
    return packed
