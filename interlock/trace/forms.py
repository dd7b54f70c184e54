"""What a line is as one number: its kind, whether the identifier is extended, bytes of data, and number of the bus."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.shape import Kind

__all__ = [
    "BUS",
    "COMMENT",
    "ERROR",
    "EVENT",
    "FRAME",
    "KIND",
    "REJECTED",
    "REMOTE",
    "are",
    "bus_of",
    "code_of",
    "length_of",
    "wide_of",
]

FRAME, REMOTE, ERROR, EVENT, COMMENT, REJECTED = (
    2 * kind for kind in (Kind.FRAME, Kind.REMOTE, Kind.ERROR, Kind.EVENT, Kind.COMMENT, Kind.REJECTED)
)
"""Kinds of lines as the numbers hold them; FRAME + 1 is a frame with an extended identifier. Of lines that are no
frames nothing but their kind is told."""

KIND: Final = 7  # bits of the length; one for the identifier and three for the kind follow
BUS: Final = 11
_LENGTH: Final = (1 << KIND) - 1
_WIDE: Final = 1 << KIND
_KINDS: Final = (1 << BUS) - 2 * _WIDE

Codes = NDArray[np.int32]


def code_of(bus: Any, kind: Any, length: Any) -> Any:
    """The number of a line, or of many; 0 is a line that nobody read yet."""
    return bus << BUS | kind << KIND | length


def length_of(codes: Codes) -> NDArray[np.uint8]:
    """Bytes of data of each line."""
    return (codes & _LENGTH).astype(np.uint8)


def wide_of(codes: Codes) -> NDArray[np.bool_]:
    """Whether the identifier is an extended one."""
    return (codes & _WIDE).astype(np.bool_)


def bus_of(codes: Codes) -> NDArray[np.uint16]:
    """The number of the bus."""
    return (codes >> BUS).astype(np.uint16)


def are(codes: Codes, kind: int) -> NDArray[np.bool_]:
    """Which lines are of this kind."""
    alike: NDArray[np.bool_] = (codes & _KINDS) == kind << KIND
    return alike
