"""Signals out of payload columns, by shift and mask; cantools is the reference that the tests compare with."""

from collections.abc import Callable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.layout import MessageLayout, SignalLayout

__all__ = ["decode", "one_by_one", "padded", "payloads", "presence", "raw_values"]

BLOCK: Final = 1 << 16  # rows that are decoded together
_FLOATS: Final = {16: (np.uint16, np.float16), 32: (np.uint32, np.float32), 64: (np.uint64, np.float64)}

Block = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Words = NDArray[np.uint64]
Unsigned = NDArray[np.unsignedinteger]  # of any width


def decode(layout: MessageLayout, data: Block) -> dict[str, tuple[Mask, NDArray[np.float64]]]:
    """For each signal: in which rows it is present, and its physical value in those rows."""
    return {name: (here, values) for name, here, values in one_by_one(layout, data)}


def one_by_one(layout: MessageLayout, data: Block) -> Iterator[tuple[str, Mask, NDArray[np.float64]]]:
    """The same, signal by signal: a long log has no memory for all of them at once."""
    data = padded(layout, data)
    present = presence(layout, data)
    for signal in layout.signals:
        here = present(signal)
        yield signal.name, here, _in_blocks(signal, data, here)


def presence(layout: MessageLayout, data: Block) -> Callable[[SignalLayout], Mask]:
    """In which rows a signal is present, whose selectors are all in the layout; `data` as wide as `padded` gives it."""
    signals = {signal.name: signal for signal in layout.signals}
    selectors = {signal.selector for signal in layout.signals}
    found: dict[str, Mask] = {}  # of selectors only: a message may have many pages

    def of(signal: SignalLayout) -> Mask:
        if signal.selector is None:
            return found.setdefault("", np.ones(len(data), np.bool_))
        if signal.name in found:
            return found[signal.name]
        selector = signals[signal.selector]
        here = np.isin(raw_values(selector, data), np.array(signal.selected_by, np.uint64))
        here &= of(selector)
        if signal.name in selectors:
            found[signal.name] = here
        return here

    return of


def _in_blocks(signal: SignalLayout, data: Block, here: Mask) -> NDArray[np.float64]:
    """The physical value in each of these rows, some at a time: a long log has no memory for all steps at once."""
    if signal.selector is not None:
        return physical(signal, _raw(signal, data)[here])
    if len(data) <= BLOCK:
        return physical(signal, _raw(signal, data))
    values = np.empty(len(data), np.float64)
    for at in range(0, len(data), BLOCK):
        values[at : at + BLOCK] = physical(signal, _raw(signal, data[at : at + BLOCK]))
    return values


def payloads(layout: MessageLayout, data: Block, rows: NDArray[np.int64]) -> Block:
    """The payloads of some rows, no wider than the message needs if that saves work: frames beside it may be longer."""
    if layout.length > 8 or data.shape[1] % 8 or not data.flags.c_contiguous:
        return data[rows]
    return data.view(np.uint64)[:, 0][rows].view(np.uint8).reshape(-1, 8)


def padded(layout: MessageLayout, data: Block) -> Block:
    """The payloads as wide as the message and at least eight bytes, as `raw_values` needs them."""
    width = max(8, layout.length)
    if data.shape[1] >= width and data.flags.c_contiguous:
        return data
    wide = np.zeros((len(data), max(width, data.shape[1])), np.uint8)
    wide[:, : data.shape[1]] = data
    return wide


def raw_values(signal: SignalLayout, data: Block) -> Words:
    """The bits of a signal in each row as an unsigned number; `data` is at least eight bytes wide."""
    return _raw(signal, data).astype(np.uint64, copy=False)


def _raw(signal: SignalLayout, data: Block) -> Unsigned:
    """The same, in as few bytes as hold the signal where it stands: these are the fewer, the faster."""
    first, last = signal.start, signal.start + signal.length - 1
    if signal.big_endian:  # counted as sent
        first = 8 * (signal.start // 8) + 7 - signal.start % 8
        last = first + signal.length - 1
    for size in (1, 2, 4, 8):
        if first // (8 * size) == last // (8 * size) and not data.shape[1] % size:
            shift = 8 * size - 1 - last % (8 * size) if signal.big_endian else first % (8 * size)
            words = data.view(f"{'>' if signal.big_endian else '<'}u{size}")[:, first // (8 * size)]
            words = words.astype(words.dtype.newbyteorder("="), copy=False)
            value: Unsigned = words >> words.dtype.type(shift)
            value &= words.dtype.type((1 << signal.length) - 1)
            return value
    if signal.big_endian:
        return _bits(data, last // 8, 7 - last % 8, signal.length, backwards=True)
    return _bits(data, first // 8, first % 8, signal.length, backwards=False)


def _bits(data: Block, byte: int, shift: int, length: int, *, backwards: bool) -> Words:
    """`length` bits upwards from bit `shift` of `byte`; further bytes are higher in index, or lower if `backwards`."""
    kind = ">u8" if backwards else "<u8"
    last = data.shape[1] - 8
    start = max(byte - 7, 0) if backwards else min(byte, last)
    start = min(start, last)
    behind = (start + 7 - byte) if backwards else (byte - start)
    shift += 8 * behind
    word = np.ascontiguousarray(data[:, start : start + 8]).view(kind)[:, 0].astype(np.uint64)
    value: Words = word >> np.uint64(shift)
    missing = shift + length - 64
    if missing > 0:
        ninth = data[:, start - 1 if backwards else start + 8].astype(np.uint64)
        value |= ninth << np.uint64(64 - shift)
    if length < 64:
        value &= np.uint64((1 << length) - 1)
    return value


def physical(signal: SignalLayout, raw: Unsigned) -> NDArray[np.float64]:
    """Physical values: raw times scale plus offset, or what the raw number stands for."""
    number: NDArray[np.float64]
    if signal.codes:
        number = np.array(signal.codes)[raw]
        return number
    if signal.is_float:
        unsigned, real = _FLOATS[signal.length]
        with np.errstate(invalid="ignore"):
            number = raw.astype(unsigned).view(real).astype(np.float64)
    elif signal.signed:
        lift, whole = 8 * raw.itemsize - signal.length, np.dtype(f"i{raw.itemsize}")
        number = ((raw << raw.dtype.type(lift)).view(whole) >> whole.type(lift)).astype(np.float64)
    else:
        number = raw.astype(np.float64)
    with np.errstate(invalid="ignore", over="ignore"):  # what is no number stays none, and is found as such
        if signal.scale != 1.0:
            number *= signal.scale
        if signal.offset != 0.0:
            number += signal.offset
    return number
