"""What the fast lanes of the text formats share: which lines go through, and how they get into the table."""

import importlib
import importlib.util
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace import columns
from interlock.trace.cursor import Cursor
from interlock.trace.forms import FRAME, are, bus_of, code_of, length_of
from interlock.trace.lines import Lines, Table

__all__ = ["MARGIN", "Found", "Kernel", "Lane", "Lanes", "Rows", "model_of", "worth_compiling"]

Rows = NDArray[np.int64]
Lane = Callable[[Lines, Table, Rows], NDArray[np.bool_]]
"""Puts those of some lines, in ascending order, into the table that it surely reads as the grammar does; which ones.

A lane may leave any line to the grammar, but never read one otherwise.
"""

MARGIN: Final = 1024
"""Bytes of the text before and behind a line that a lane may look at: more than a cursor goes, whatever it meets."""

MANY: Final = 1_000_000
"""Lines from which on a compiler is loaded, which takes as long as to read some millions without it; when it is used
first after it was installed, it works for some seconds more, and keeps what it made."""

_BLANK: Final = np.isin(np.arange(256), list(b" \t"))
_LOOKED_AT: Final = 200


def model_of(lines: Lines, rows: Rows, pattern: "re.Pattern[bytes]") -> "re.Match[bytes] | None":
    """How the pattern matches the beginning of the first that it matches of some of these lines, evenly spread."""
    for row in rows[:: 1 + len(rows) // _LOOKED_AT].tolist():
        match = pattern.match(lines.line(row))
        if match is not None:
            return match
    return None


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What a lane made of some lines; the numbers in `codes` are those of `names`."""

    names: list[bytes]  # of buses
    codes: NDArray[np.int32]
    times_ns: NDArray[np.int64]
    idents: NDArray[np.uint32]
    data: NDArray[np.uint64]
    digits: int  # behind the points of all stamps

    def put(self, table: Table, rows: Rows, ok: NDArray[np.bool_]) -> None:
        """Write the rows that are ok."""
        here = slice(None) if ok.all() else ok
        rows = rows[here]
        table.codes[rows] = renumbered(table, self.names, self.codes[here])
        table.times_ns[rows] = self.times_ns[here]
        table.idents[rows] = self.idents[here]
        table.data[rows] = self.data[here]
        if len(rows):
            table.stamped(self.digits, 9)


def long_payloads(
    text: bytes, table: Table, rows: Rows, here: Cursor, lengths: NDArray[np.int64], *, apart: int
) -> NDArray[np.uint64]:
    """The first eight bytes of payloads of any length that begin at the places, hexadecimal with so many blanks before
    each byte; lines in which none stand are dropped. Those over eight bytes go into the table."""
    data, step = np.zeros(len(rows), np.uint64), 2 + apart
    for length in np.unique(lengths[here.ok]).tolist():
        chosen = np.flatnonzero(here.ok & (lengths == length))
        characters = columns.gather_text(text, here.at[chosen], step * length)
        block, wrong = columns.hex_bytes(
            characters, [(at + apart, at + step) for at in range(0, step * length, step)]
        )
        for at in range(0, step * length if apart else 0, step):
            wrong |= ~_BLANK[characters[:, at]]
        here.ok[chosen[wrong]] = False
        chosen, block = chosen[~wrong], block[~wrong]
        eight = np.zeros((len(block), 8), np.uint8)
        eight[:, : block.shape[1]] = block[:, :8]
        data[chosen] = eight.view("<u8")[:, 0]
        if length > 8:
            table.wide.append((rows[chosen], block))
    return data


def renumbered(table: Table, names: list[bytes], codes: NDArray[np.int32]) -> NDArray[np.int32]:
    """The codes with the numbers that these buses have in the table."""
    numbers = np.array([table.bus(name) for name in names], np.int32)
    if (numbers == np.arange(len(numbers))).all():
        return codes
    steps = code_of(numbers - np.arange(len(numbers), dtype=np.int32), 0, 0)[bus_of(codes)]
    moved: NDArray[np.int32] = np.where(are(codes, FRAME), codes + steps, codes)  # others tell no bus
    return moved


@dataclass(frozen=True, slots=True)
class Kernel:
    """A lane that a compiler makes of a loop over characters (see `interlock.trace.kernels`)."""

    module: str  # that holds the loop
    loop: str  # its name there
    channel: Callable[[bytes], bytes] = bytes  # what a channel is called that is written so
    nameless: bytes = b""  # the channel of lines that tell none
    decimals: int = 9  # of the stamps, see `Shape`
    spread: tuple[str, str] = ("kernels", "long_hex")  # the loop that reads payloads over eight bytes
    more: tuple[Any, ...] = ()  # what else the loop must know

    def __call__(self, lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
        """As a `Lane`."""
        kernels = importlib.import_module("interlock.trace.kernels")
        if len(lines.text) < kernels.AHEAD:
            return np.zeros(len(rows), np.bool_)
        compiler = importlib.import_module("interlock.trace.kernel_compiler").COMPILER
        text: Any = lines.text if compiler is None else np.frombuffer(lines.text, np.uint8)
        words = np.ndarray((len(lines.text) - 7,), "<u8", lines.text, 0, (1,))
        slots = np.zeros((kernels.MOST_CHANNELS, 2), np.int64)
        names, counts = np.zeros(len(slots), np.uint64), np.zeros(2, np.int64)
        long = np.empty((len(rows), 2), np.int64)
        out = (table.codes, table.times_ns, table.idents, table.data, long, counts)
        cut = (lines.starts, lines.stops, rows)
        _loop(self.module, self.loop)(text, words, cut, out, (slots, names), *self.more)
        buses = [self.channel(lines.text[at : at + size]) for at, size in slots.tolist() if size]
        codes = table.codes[rows]
        moved = renumbered(table, buses or [self.nameless], codes)
        if moved is not codes:
            table.codes[rows] = moved
        if counts[0]:
            table.stamped(int(counts[0]) - 1, self.decimals)
        self._spread(text, table, *long[: counts[1]].T)
        read: NDArray[np.bool_] = codes > 0
        return read

    def _spread(self, text: Any, table: Table, rows: Rows, places: NDArray[np.int64]) -> None:
        """Put payloads over eight bytes, which stand at these places, into the table."""
        lengths = length_of(table.codes[rows])
        for length in np.unique(lengths).tolist():
            here = lengths == length
            block = np.empty((int(here.sum()), length), np.uint8)
            _loop(*self.spread)(text, places[here], block)
            table.wide.append((rows[here], block))


def _loop(module: str, name: str) -> Callable[..., None]:
    loop: Callable[..., None] = getattr(importlib.import_module(f"interlock.trace.{module}"), name)
    return loop


_SEEN: Final = [0]  # lines and objects that were read without a compiler that is there


def worth_compiling(count: int) -> bool:
    """Whether to read so many lines or objects by a compiled loop: there is a compiler, and what was read without it
    would have paid for loading it (so nobody waits longer than twice what would have been best)."""
    if not importlib.util.find_spec("numba"):
        return False
    _SEEN[0] += count
    return _SEEN[0] >= MANY


@dataclass(frozen=True, slots=True)
class Lanes:
    """The lanes of a format. They read the same; which one is faster depends on how much there is to read."""

    plain: tuple[Lane, ...]  # one after another
    kernel: Lane

    def compiled(self, lines: Lines) -> bool:
        """Whether the kernel is to be used."""
        return worth_compiling(len(lines))
