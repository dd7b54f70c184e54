"""Where the signals stand in a message: what a DBC file says, in the few terms that decoding needs."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cantools

from interlock.bench.dbc import dbc_text
from interlock.errors import LogError
from interlock.trace.reading import LENGTHS_FD

__all__ = ["MessageLayout", "SignalLayout", "all_layouts", "layout_of", "load_dbc"]


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
    labels: Mapping[float, str] = field(default_factory=dict)  # what values are called (value table)
    codes: tuple[float, ...] = ()  # if any: the value for each raw number, NaN for one that means nothing

    @property
    def bytes(self) -> range:
        """The bytes of the message in which it stands."""
        first = self.start
        if self.big_endian:  # counted as sent
            first = 8 * (self.start // 8) + 7 - self.start % 8
        return range(first // 8, (first + self.length - 1) // 8 + 1)


@dataclass(frozen=True, slots=True)
class MessageLayout:
    """One message of a DBC."""

    name: str
    ident: int
    extended: bool
    length: int
    signals: tuple[SignalLayout, ...]
    role: str = ""  # in its protocol, if that gives it one (see `interlock.bench.canopen_messages`)
    set_up: tuple[
        tuple[int, int, int, str], ...
    ] = ()  # likewise: object, sub-object, value, message that it shapes

    def only(self, names: Collection[str]) -> "MessageLayout":
        """The message with the signals of these names, and those that say whether one of them is present."""
        signals = {signal.name: signal for signal in self.signals}
        asked, kept = [name for name in names if name in signals], set[str | None]()
        while asked:
            name = asked.pop()
            selector = signals[name].selector
            if selector is not None and selector not in kept:
                asked.append(selector)
            kept.add(name)
        return replace(self, signals=tuple(signal for signal in self.signals if signal.name in kept))

    @property
    def sent_length(self) -> int:
        """Bytes of a frame that carries it: CAN FD has few lengths above 8 (ISO 11898-1), the rest is padding."""
        return next((size for size in LENGTHS_FD if size >= self.length), self.length)

    @property
    def key(self) -> int:
        """One number for identifier and its kind."""
        return self.ident | (self.extended << 31)


def load_dbc(path: Path) -> Mapping[int, MessageLayout]:
    """The messages of a DBC file by their key; LogError names file, line (if one is known) and reason."""
    try:
        text = dbc_text(path.read_bytes())
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


def all_layouts(dbc: Path | None, described: Sequence[MessageLayout]) -> dict[int, MessageLayout]:
    """The messages of the DBC, if there is one, and those described beside it that it leaves out; raises LogError."""
    layouts = {} if dbc is None else dict(load_dbc(dbc))
    names = {one.name for one in layouts.values()}
    return {**{one.key: one for one in described if one.name not in names}, **layouts}


def _check_lengths(path: Path, layout: MessageLayout) -> None:
    for signal in layout.signals:
        if not 1 <= signal.length <= 64 or (signal.is_float and signal.length not in (16, 32, 64)):
            what = f"signal {signal.name} of {layout.name} is {signal.length} bits long"
            raise LogError(f"{path}: {what}; 1 to 64 bits can be decoded, of a float 16, 32 or 64")


def _where(path: Path, text: str, error: Exception) -> str:
    """The message of an error in one line, with the line of the file: the parser's own, or that of a name in it."""
    reason = " ".join((str(error) or type(error).__name__).split())
    stated = re.search(r"\bline (\d+)", reason)
    if stated:
        return f"{path}:{stated[1]}: {reason}"
    number = _line_of(text, {word.strip("\"'.,:") for word in reason.split()})
    return f"{path}:{number}: {reason}" if number else f"{path}: {reason}"


def _line_of(text: str, words: set[str]) -> int:
    """The first line that the words are about: of a signal, else of a message, else of a value table; 0: of none."""
    found: dict[str, int] = {}
    message = ""
    for number, line in enumerate(text.splitlines(), 1):
        fields = [field.rstrip(":;") for field in line.split()[:3]]
        if len(fields) < 3:
            continue
        kind, first, second = fields
        if kind == "BO_":
            message = second
        named = {
            "SG_": {first, message} <= words,
            "BO_": second in words,
            "VAL_": {kind, first, second} <= words,
        }
        if named.get(kind):
            found.setdefault(kind, number)
    return next((found[kind] for kind in ("SG_", "BO_", "VAL_") if kind in found), 0)


def layout_of(message: Any) -> MessageLayout:
    """The layout of a message as cantools holds it, or of one of the same shape that a bench describes."""
    return MessageLayout(
        name=message.name,
        ident=message.frame_id,
        extended=message.is_extended_frame,
        length=message.length,
        signals=tuple(_signal(signal) for signal in message.signals),
        role=getattr(message, "role", ""),
        set_up=getattr(message, "set_up", ()),
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
        labels={
            float(raw) * float(signal.scale) + float(signal.offset): str(label)
            for raw, label in (signal.choices or {}).items()
        },
        codes=getattr(signal, "codes", ()),
    )
