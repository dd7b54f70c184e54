"""The frames of a comma-separated log with payloads in base64 (RFC 4648) read by a compiled loop."""

from string import ascii_lowercase, ascii_uppercase, digits
from typing import Any

import numpy as np

from interlock.trace.forms import ERROR, FRAME, REMOTE
from interlock.trace.kernel_compiler import U, compiled, part
from interlock.trace.kernels import (
    AHEAD,
    FD_LENGTH,
    LARGEST_IDENT,
    LARGEST_SHORT,
    MAX_SECONDS,
    ident_at,
    no_stamp,
    put,
    stamp_at,
)
from interlock.trace.word_kernel import ZERO

__all__ = ["csv", "long_base64"]

_COMMA, _NULL, _X, _EQUAL = 44, 48, 120, 61
_ALPHABET = ascii_uppercase + ascii_lowercase + digits + "+/"
BASE64 = np.array([_ALPHABET.find(chr(one)) if one < 128 else -1 for one in range(256)], np.int64)


@part
def flag_at(text: Any, at: int) -> int:
    """What a comma and a 0 or 1 say; -1: they do not stand here."""
    return text[U(at + 1)] - _NULL if text[U(at)] == _COMMA and _NULL <= text[U(at + 1)] <= _NULL + 1 else -1


@part
def unpacked(text: Any, at: int, stop: int) -> tuple[int, Any]:
    """How many bytes base64 writes here up to the stop, and the first eight of them as a word; -1: it is none."""
    size = stop - at
    if size % 4 or size > 88:
        return -1, ZERO
    pads = 0
    while pads < 2 and pads < size and text[U(stop - 1 - pads)] == _EQUAL:
        pads += 1
    word, length = ZERO, size // 4 * 3 - pads
    for group in range(size // 4):
        bits = 0
        for place in range(4):
            here = at + 4 * group + place
            value = BASE64[text[U(here)]] if here < stop - pads else 0
            if value < 0:
                return -1, ZERO
            bits = bits << 6 | value
        for place in range(3):
            number = 3 * group + place
            if number < min(length, 8):
                word |= np.uint64(bits >> (16 - 8 * place) & 0xFF) << np.uint64(8 * number)
    return length, word


@compiled
def long_base64(text: Any, places: Any, block: Any) -> None:
    """Payloads that are known to stand at these places."""
    for row in range(len(places)):
        for number in range(block.shape[1]):
            at = places[row] + number // 3 * 4 + number % 3
            shift = 2 + 2 * (number % 3)
            low = max(BASE64[text[U(at + 1)]], 0)
            block[row, number] = (BASE64[text[U(at)]] << shift | low >> (6 - shift)) & 0xFF


@part
def fields_at(text: Any, first: int, stop: int) -> tuple[int, int, int, int, int, int]:
    """Identifier, whether it is extended, of a remote frame, of an error frame, the length that is stated, and where
    the data begin (-1: something of it does not stand here).
    """
    ident, at = ident_at(text, first, stop)
    wide, remote, error = flag_at(text, at), flag_at(text, at + 2), flag_at(text, at + 4)
    if not 0 < at - first <= 8 or min(wide, remote, error) < 0 or at + 7 >= stop or text[U(at + 6)] != _COMMA:
        return 0, 0, 0, 0, 0, -1
    at += 7
    stated: Any = np.int64(text[U(at)]) - _NULL
    good = 0 <= stated <= 9
    at += 1
    if at < stop and _NULL <= text[U(at)] <= _NULL + 9:
        stated = 10 * stated + (np.int64(text[U(at)]) - _NULL)
        at += 1
    good = (
        good
        and at < stop
        and text[U(at)] == _COMMA
        and ident <= (LARGEST_IDENT if wide == 1 else LARGEST_SHORT)
    )
    return ident, wide, remote, error, stated, at + 1 if good else -1


@compiled
def csv(text: Any, words: Any, lines: Any, out: Any, channels: Any) -> None:  # noqa: ARG001 - as all kernels
    """Lines `stamp,0xidentifier,extended,remote,error,length,data`."""
    starts, stops, rows = lines
    last = no_stamp()
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        if stop + AHEAD > len(text):
            continue
        seconds, fraction, at, last = stamp_at(text, words, starts[row], stop, 9, last)
        if min(seconds, fraction) < 0 or seconds > MAX_SECONDS:
            continue
        if text[U(at)] != _COMMA or text[U(at + 1)] != _NULL or text[U(at + 2)] != _X:
            continue
        ident, wide, remote, error, stated, at = fields_at(text, at + 3, stop)
        length, word = unpacked(text, at, stop) if at >= 0 else (-1, ZERO)
        kind = FRAME
        if error == 1 or remote == 1:
            kind, length, word = ERROR if error == 1 else REMOTE, min(length, 0), ZERO
        elif length != stated or length > 64 or FD_LENGTH[length] == 0:
            continue
        if length < 0:
            continue
        time_ns = seconds * 1_000_000_000 + fraction
        put(out, row, time_ns, ident, word, (0, kind + wide, length), (last[4], at))
