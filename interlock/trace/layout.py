"""Where the signals stand in a message: what a DBC file says, in the few terms that decoding needs."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cantools

from interlock.errors import LogError

__all__ = ["MessageLayout", "SignalLayout", "layout_of", "load_dbc"]


@dataclass(frozen=True, slots=True)
class SignalLayout:
    """One signal: `start` is the bit of lowest weight (little endian) or of highest weight (big endian) as in a DBC."""

    name: str
    unit: str
    start: int
    length: int
    big_endian: bool
    signed: bool
    is_float: bool
    scale: float
    offset: float
    minimum: float | None  # None: the DBC states no range
    maximum: float | None
    selector: str | None = None  # the signal that says whether this one is present
    selected_by: tuple[int, ...] = ()  # raw values of the selector for which it is


@dataclass(frozen=True, slots=True)
class MessageLayout:
    """One message of a DBC."""

    name: str
    ident: int
    extended: bool
    length: int
    signals: tuple[SignalLayout, ...]

    @property
    def key(self) -> int:
        """One number for identifier and its kind."""
        return self.ident | (self.extended << 31)


def load_dbc(path: Path) -> Mapping[int, MessageLayout]:
    """The messages of a DBC file by their key; LogError names file, line (if one is known) and reason."""
    try:
        text = path.read_bytes().decode("cp1252")
    except OSError as error:
        raise LogError(f"{path}: cannot be opened: {error.strerror}; check path and rights") from error
    except UnicodeDecodeError as error:
        raise LogError(f"{path}: byte {error.start}: not text in Windows-1252, as a DBC file is") from error
    try:
        database = cantools.database.can.Database()
        database.add_dbc_string(text)
    except Exception as error:
        raise LogError(_where(path, text, error)) from error
    layouts = [layout_of(message) for message in database.messages]
    keys = [layout.key for layout in layouts]
    for layout in layouts:
        _check_lengths(path, layout)
        if keys.count(layout.key) > 1:
            raise LogError(f"{path}: identifier {layout.ident:#x} belongs to two messages; keep one of them")
    return {layout.key: layout for layout in layouts}


def _check_lengths(path: Path, layout: MessageLayout) -> None:
    for signal in layout.signals:
        if not 1 <= signal.length <= 64 or (signal.is_float and signal.length not in (16, 32, 64)):
            what = f"signal {signal.name} of {layout.name} is {signal.length} bits long"
            raise LogError(f"{path}: {what}; 1 to 64 bits can be decoded, of a float 16, 32 or 64")


def _where(path: Path, text: str, error: Exception) -> str:
    """The message of an error with the line that it is about: the parser's own, or that of a name in it."""
    reason = str(error) or type(error).__name__
    stated = re.search(r"\bline (\d+)", reason)
    if stated:
        return f"{path}:{stated[1]}: {reason}"
    words = set(reason.replace('"', " ").replace("'", " ").split())
    for number, line in enumerate(text.splitlines(), 1):
        fields = line.split()
        if len(fields) > 2 and fields[0] in ("BO_", "SG_") and words & {fields[1], fields[2].rstrip(":")}:
            return f"{path}:{number}: {reason}"
    return f"{path}: {reason}"


def layout_of(message: Any) -> MessageLayout:
    """The layout of a message as cantools holds it."""
    return MessageLayout(
        name=message.name,
        ident=message.frame_id,
        extended=message.is_extended_frame,
        length=message.length,
        signals=tuple(_signal(signal) for signal in message.signals),
    )


def _signal(signal: Any) -> SignalLayout:
    low, high = signal.minimum, signal.maximum
    stated = not (low in (None, 0) and high in (None, 0))
    return SignalLayout(
        name=signal.name,
        unit=signal.unit or "",
        start=signal.start,
        length=signal.length,
        big_endian=signal.byte_order == "big_endian",
        signed=signal.is_signed,
        is_float=signal.is_float,
        scale=float(signal.scale),
        offset=float(signal.offset),
        minimum=float(low) if stated and low is not None else None,
        maximum=float(high) if stated and high is not None else None,
        selector=signal.multiplexer_signal,
        selected_by=tuple(signal.multiplexer_ids or ()),
    )
