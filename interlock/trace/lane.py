"""What the fast lanes of the text formats share: which lines go through, and how they get into the table."""

import importlib
import importlib.util
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.forms import Forms
from interlock.trace.lines import Lines, Table

__all__ = ["MARGIN", "Kernel", "Lane", "Lanes", "Rows", "model_of", "put", "worth_compiling"]

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

_LOOKED_AT: Final = 50


def model_of(lines: Lines, rows: Rows, pattern: "re.Pattern[bytes]") -> "re.Match[bytes] | None":
    """How the pattern matches the beginning of the first of these lines that it matches, if it is soon."""
    for row in rows[:_LOOKED_AT].tolist():
        match = pattern.match(lines.line(row))
        if match is not None:
            return match
    return None


def put(
    table: Table,
    rows: Rows,
    ok: NDArray[np.bool_],
    forms: Forms,
    which: NDArray[np.integer],
    times_ns: NDArray[np.int64],
    idents: NDArray[np.uint32] | NDArray[np.uint64],
    data: NDArray[np.uint64],
) -> None:
    """Write the rows that are ok; each has the form of this number."""
    if not ok.all():
        rows, which, times_ns, idents, data = rows[ok], which[ok], times_ns[ok], idents[ok], data[ok]
    forms.note(table, rows, which)
    table.times_ns[rows] = times_ns
    table.idents[rows] = idents
    table.data[rows] = data


@dataclass(frozen=True, slots=True)
class Kernel:
    """A lane that a compiler makes of a loop over characters (see `interlock.trace.kernels`)."""

    module: str  # that holds the loop
    loop: str  # its name there
    channel: Callable[[bytes], bytes] = bytes  # what a channel is called that is written so
    nameless: bytes = b""  # the channel of lines that tell none
    decimals: int = 9  # of the stamps, see `Shape`
    spread: tuple[str, str] = (
        "kernels",
        "long_hex",
    )  # likewise: the loop that reads payloads over eight bytes
    more: tuple[Any, ...] = ()  # what else the loop must know

    def __call__(self, lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
        """As a `Lane`."""
        kernels = importlib.import_module("interlock.trace.kernels")
        if len(lines.text) < kernels.AHEAD:
            return np.zeros(len(rows), np.bool_)
        text: Any = lines.text if kernels.COMPILER is None else np.frombuffer(lines.text, np.uint8)
        words = np.ndarray((len(lines.text) - 7,), "<u8", lines.text, 0, (1,))
        which, tails = np.empty(len(rows), np.int32), np.empty(len(rows), np.int64)
        slots = np.zeros((kernels.MOST_CHANNELS, 2), np.int64)
        names, most = np.zeros(len(slots), np.uint64), np.zeros(1, np.int64)
        out = (table.times_ns, table.idents, table.data, which, tails)
        cut = (lines.starts, lines.stops, rows)
        _loop(self.module, self.loop)(text, words, cut, out, (slots, names), most, *self.more)
        channels = [
            self.channel(lines.text[at : at + size]) if size else self.nameless for at, size in slots.tolist()
        ]
        forms = Forms(channels, int(most[0]), self.decimals)
        long, lengths = forms.note(table, rows, which)
        for length in np.unique(lengths).tolist():
            here = long[lengths == length]
            block = np.empty((len(here), length), np.uint8)
            _loop(*self.spread)(text, tails[here], block)
            table.wide.append((rows[here], block))
        read: NDArray[np.bool_] = which > 0
        return read


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
    """The two lanes of a format. They read the same; which one is faster depends on how much there is to read."""

    plain: Lane | None
    kernel: Lane

    def compiled(self, lines: Lines) -> bool:
        """Whether the kernel is to be used."""
        return worth_compiling(len(lines))
