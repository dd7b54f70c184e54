"""What CiA 402 (IEC 61800-7-201) gives names to: the states of a drive, its modes, the objects that hold them.

The state is told by some bits of the status word only, so each state stands for several words. Masks, modes and object
numbers are those of CiA 402 / IEC 61800-7-201, clause on the status word (object 6041h); clause numbers from memory.
"""

from collections.abc import Mapping
from typing import Final

from interlock.bench.described import NO_CODE

__all__ = [
    "AXES",
    "MODES",
    "MODE_OBJECTS",
    "STATES",
    "STATE_BITS",
    "STATE_OF_BITS",
    "STATUS_WORD",
    "axis_object",
]

STATUS_WORD: Final = 0x6041
MODE_OBJECTS: Final = (0x6060, 0x6061)
"""Mode of operation: as commanded, as displayed."""

AXES: Final = 8
"""A device has up to so many axes; the objects of each lie 800h above those of the one before."""

STATES: Final[Mapping[int, str]] = {
    0: "not ready to switch on",
    1: "switch on disabled",
    2: "ready to switch on",
    3: "switched on",
    4: "operation enabled",
    5: "quick stop active",
    6: "fault reaction active",
    7: "fault",
}
"""The standard gives the states no numbers: these are ours, in the order of its diagram."""

STATE_BITS: Final = 7
"""The lowest bits of the status word that tell the state (bit 4, voltage, tells nothing of it)."""

_MASKS: Final = (  # mask, value under it
    (0x4F, 0x00),
    (0x4F, 0x40),
    (0x6F, 0x21),
    (0x6F, 0x23),
    (0x6F, 0x27),
    (0x6F, 0x07),
    (0x4F, 0x0F),
    (0x4F, 0x08),
)

MODES: Final[Mapping[int, str]] = {
    0: "no mode",
    1: "profile position",
    2: "velocity",
    3: "profile velocity",
    4: "torque profile",
    6: "homing",
    7: "interpolated position",
    8: "cyclic synchronous position",
    9: "cyclic synchronous velocity",
    10: "cyclic synchronous torque",
    11: "cyclic synchronous torque with commutation angle",
}
"""Negative numbers are the maker's own modes."""


def _state(bits: int) -> float:
    matching = [state for state, (mask, value) in enumerate(_MASKS) if bits & mask == value]
    return float(matching[0]) if matching else NO_CODE


STATE_OF_BITS: Final = tuple(_state(bits) for bits in range(1 << STATE_BITS))
"""The state for each value of those bits; NO_CODE where the standard knows none."""


def axis_object(index: int) -> int:
    """The object of the first axis that means the same as this one of any axis; other objects stay as they are."""
    return 0x6000 + (index - 0x6000) % 0x800 if 0x6000 <= index < 0x6000 + 0x800 * AXES else index
