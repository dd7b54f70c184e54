"""A message of the log in the shape that cantools gives its messages, for those that no DBC describes."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

__all__ = ["NO_CODE", "DescribedMessage", "DescribedSignal"]

NO_CODE: Final = math.nan
"""Stands for raw bits that mean nothing: whoever sends them is not believed."""


@dataclass(frozen=True, slots=True)
class DescribedSignal:
    """One signal, little endian; its fields bear the names that cantools gives them."""

    name: str
    start: int  # bit of lowest weight
    length: int  # bits
    is_signed: bool = False
    is_float: bool = False
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    minimum: float | None = None
    maximum: float | None = None
    choices: Mapping[int, str] | None = None  # what values are called
    codes: tuple[float, ...] = ()  # the value for each raw number, where bits tell a state
    byte_order: str = "little_endian"
    multiplexer_signal: str | None = None
    multiplexer_ids: tuple[int, ...] | None = None


@dataclass(frozen=True, slots=True)
class DescribedMessage:
    """One message, under the name that the bench gives it."""

    name: str
    frame_id: int
    is_extended_frame: bool
    length: int  # bytes
    signals: tuple[DescribedSignal, ...] = field(default=())
    role: str = ""  # what it is for in its protocol, if anybody asks for it: "emergency", "heartbeat"
    # for requests to set up a node: each entry that concerns its process data, its value, and the message it shapes
    set_up: tuple[tuple[int, int, int, str], ...] = ()
