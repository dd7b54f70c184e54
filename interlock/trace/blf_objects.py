"""The objects in a BLF stream, walked by their own lengths: those that follow each other unbroken make a chain."""

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["ERRORS", "FRAMES", "LARGEST", "Chain", "Form", "Linker", "Pieces", "Read", "walk"]

_BASE: Final = struct.Struct("<4sHHII")
SMALLEST: Final = 32  # base header and the first version of the object header
LARGEST: Final = 1 << 26
"""Bytes of one object; no object that a logger writes is longer."""
AHEAD: Final = 64  # objects of one form looked for at first; doubled while it pays
_WINDOW: Final = (
    1 << 16
)  # bytes in which objects of many forms are looked for at first; doubled while it pays
_WIDEST: Final = 1 << 20
_SIGN: Final = int.from_bytes(b"LOBJ", "little")
_FILLING: Final = 4  # bytes that may lie between two objects
_MOST_FORMS: Final = 255  # in one chain

FRAMES: Final = {1: "CAN message", 86: "CAN message 2", 100: "CAN FD message", 101: "CAN FD message 64"}
ERRORS: Final = (2, 73, 104)
"""Object types of error frames (CAN_ERROR, CAN_ERROR_EXT, CAN_FD_ERROR_64)."""

Form = tuple[int, int, int, int]  # header size, header version, object size, object type
Ints = NDArray[np.int64]

_FORM: Final = np.dtype(
    {
        "names": ["first", "second", "head", "version", "size", "kind"],
        "formats": ["<u8", "<u8", "<u2", "<u2", "<u4", "<u4"],
        "offsets": [0, 8, 4, 6, 8, 12],
        "itemsize": 16,
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """What a compiled loop read of each object of a chain while it walked; see `blf_payload.Block` for its fields."""

    kinds: NDArray[np.uint32]
    status: NDArray[np.int8]
    times_ns: Ints
    flags: NDArray[np.uint32]
    idents: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    lengths: NDArray[np.uint8]
    words: NDArray[np.uint64]  # the first eight bytes of data
    channels: NDArray[np.uint16]
    spans: Ints  # [n, 2] where the data stand, and how many of them there are


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Objects that follow each other, at ascending offsets from the beginning of the stream."""

    offsets: Ints
    forms: tuple[Form, ...]
    which: NDArray[np.uint8] | None = None  # the form of each object; None: all are of the first
    read: Read | None = None  # what is read of them already; then their forms are not told

    def by_kind(self) -> Iterator[tuple[int, NDArray[np.intp] | None, int]]:
        """Each object type, the objects in the chain that have it (None: all), and how many they are."""
        if self.read is None:
            for form, rows, offsets in self.by_form():
                yield form[3], rows, len(offsets)
            return
        odd = np.flatnonzero(~np.isin(self.read.kinds, list(FRAMES)))
        for kind in np.unique(self.read.kinds[odd]).tolist():
            rows = odd[self.read.kinds[odd] == kind]
            yield kind, rows, len(rows)

    def by_form(self) -> Iterator[tuple[Form, NDArray[np.intp] | None, Ints]]:
        """Each form with the objects in the chain that have it (None: all) and their offsets."""
        if self.which is None:
            yield self.forms[0], None, self.offsets
            return
        for number, form in enumerate(self.forms):
            rows = np.flatnonzero(self.which == number)
            yield form, rows, self.offsets[rows]


@dataclass(slots=True, eq=False)
class Pieces:
    """What one stream was found to hold; offsets count from the stream's beginning."""

    chains: list[Chain] = field(default_factory=list)
    broken: list[tuple[int, str]] = field(default_factory=list)
    tail: int | None = None  # where an object begins that the stream does not hold whole


Linker = Callable[[bytes | bytearray, int], Chain]
"""Makes the chain of objects from the good one at this offset on."""


def walk(data: bytes | bytearray, *, more: bool = False, linker: Linker | None = None) -> Pieces:
    """Every object of a stream; bytes between objects are `broken`.

    `more`: the stream goes on after these data, and what they leave open is the tail, to be walked with the rest.
    `linker` makes the chains, if one is given.
    """
    pieces, at, ahead, window = Pieces(), 0, AHEAD, _WINDOW
    end = len(data)
    while at < end:
        here = data.find(b"LOBJ", at, at + 4 + _FILLING)
        if here < 0:
            if more and (end - at < 4 + _FILLING or data.find(b"LOBJ", at) < 0):
                pieces.tail = at
                break
            here = _resync(data, at, pieces)
            if here < 0:
                break
        if here + _BASE.size > end:
            pieces.tail = here
            break
        _, head, version, size, kind = _BASE.unpack_from(data, here)
        too_long = here + size > end
        if not SMALLEST <= head <= size <= LARGEST or (
            too_long and not more and data.find(b"LOBJ", here + 4) >= 0
        ):
            pieces.broken.append((here, "an object whose length cannot be"))
            at = here + 4
            continue
        if too_long:
            pieces.tail = here
            break
        if linker is not None:
            chain = linker(data, here)
            pieces.chains.append(chain)
            at = _behind(data, chain)
            continue
        count = _alike(data, here, size, ahead)
        if count >= AHEAD:
            offsets = here + (size + size % 4) * np.arange(count, dtype=np.int64)
            pieces.chains.append(Chain(offsets, ((head, version, size, kind),)))
            ahead = min(count * 2, 1 << 14) if count == ahead else AHEAD
            at = int(offsets[-1]) + size
            continue
        chain = _linked(data, here, window)
        pieces.chains.append(chain)
        passed = int(chain.offsets[-1]) - here
        window = min(window * 2, _WIDEST) if 2 * passed > window else _WINDOW
        at = _behind(data, chain)
    return pieces


def _behind(data: bytes | bytearray, chain: Chain) -> int:
    """Where the last object of a chain ends."""
    last = int(chain.offsets[-1])
    return last + int(_BASE.unpack_from(data, last)[3])


def _resync(data: bytes | bytearray, at: int, pieces: Pieces) -> int:
    here = data.find(b"LOBJ", at)
    rest = bytes(data[at:] if here < 0 else data[at:here])
    if rest.strip(b"\0") or len(rest) > 8:
        if here < 0 and len(rest) < 4 and b"LOBJ".startswith(rest.lstrip(b"\0")):
            pieces.tail = at
        else:
            pieces.broken.append((at, "bytes that belong to no object"))
    return here


def _alike(data: bytes | bytearray, here: int, size: int, ahead: int) -> int:
    """How many objects in a row, at most `ahead`, have the same header as the one here."""
    step = size + size % 4
    count = min(ahead, (len(data) - here - size) // step + 1)
    if count <= 1:
        return 1
    same = np.ones(count, np.bool_)
    for at in (here, here + 8):
        words = np.ndarray((count,), "<u8", data, at, (step,))
        same &= words == words[0]
    return int(count if same.all() else np.argmin(same))


def _linked(data: bytes | bytearray, here: int, window: int) -> Chain:
    """The chain of objects of any form from a good one here on, as far as the window reaches."""
    stop = min(here + window, len(data) - _BASE.size + 1)
    marks = _marks(data, here, stop)
    heads = np.ndarray((len(data) - _BASE.size + 1,), f"V{_BASE.size}", data, 0, (1,))[marks].view(_FORM)
    ends = marks + heads["size"]
    good = (heads["head"] >= SMALLEST) & (heads["head"] <= heads["size"]) & (heads["size"] <= LARGEST)
    good &= ends <= len(data)
    apart = marks[1:] - ends[:-1]
    follows = good[1:] & (apart >= 0) & (apart <= _FILLING)
    count = len(marks) if follows.all() else int(np.argmin(follows)) + 1
    which, firsts = _forms(heads["first"][:count], heads["second"][:count])
    forms = tuple(_form(heads[at]) for at in firsts)
    return Chain(marks[: len(which)], forms, which if len(forms) > 1 else None)


def _forms(first: NDArray[np.uint64], second: NDArray[np.uint64]) -> tuple[NDArray[np.uint8], list[int]]:
    """The number of each object's form, and where each form comes first; as far as there are few forms."""
    which = np.full(len(first), _MOST_FORMS, np.uint8)
    firsts: list[int] = []
    at = 0
    while len(firsts) < _MOST_FORMS:
        same = first == first[at]
        same &= second == second[at]
        which[same] = len(firsts)
        firsts.append(at)
        left = which[at:] == _MOST_FORMS
        step = int(np.argmax(left))
        if not left[step]:
            return which, firsts
        at += step
    return which[:at], firsts


def _form(head: np.void) -> Form:
    return int(head["head"]), int(head["version"]), int(head["size"]), int(head["kind"])


def _marks(data: bytes | bytearray, here: int, stop: int) -> Ints:
    """Where objects may begin before `stop`: at even distances from the first one, as filling keeps them."""
    found = []
    for start in (here, here + 2):
        count = max(0, (stop - start + 3) // 4)
        count = min(count, (len(data) - start) // 4)
        words = np.ndarray((count,), "<u4", data, start)
        found.append(start + 4 * np.flatnonzero(words == _SIGN))
    marks = np.concatenate(found)
    return np.sort(marks) if len(found[1]) else found[0]
