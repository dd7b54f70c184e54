"""What must be said of a file because it does not say it itself."""

import re
import stat
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO

from interlock.errors import LogError

__all__ = ["CsvColumns", "LogFile", "Meaning", "opened", "plain_name"]

_UNITS = {"s": 9, "ms": 6, "us": 3, "µs": 3, "ns": 0}


@dataclass(frozen=True, slots=True)
class CsvColumns:
    """How a table of samples is laid out. Columns are named by their heading or by their number, from 1."""

    signals: Mapping[str, str | int]  # the name of each signal and its column
    time: str | int | None = None  # the column with the time of each row
    period_s: Fraction | None = None  # else the time from row to row
    time_unit: str = "s"
    delimiter: str = ","
    decimal: str = "."
    heading_row: int = 1  # line with the headings, from 1; 0: there is none
    first_row: int = 2  # line with the first samples
    units: Mapping[str, str] = field(default_factory=dict)  # of the signals
    unit_row: int = 0  # line with the units, which must be these; 0: there is none
    changes_only: bool = False  # between two rows nothing changed

    def __post_init__(self) -> None:
        if (self.time is None) == (self.period_s is None):
            raise LogError("columns of a table: give either the time column or the period of the rows")
        if self.time_unit not in _UNITS:
            raise LogError(
                f"columns of a table: time unit {self.time_unit!r}; write one of {', '.join(_UNITS)}"
            )
        if len(self.delimiter) != 1 or self.decimal not in (".", ",") or self.delimiter == self.decimal:
            raise LogError(
                "columns of a table: delimiter and decimal sign are one character each, and different"
            )
        if not self.signals:
            raise LogError("columns of a table: name at least one signal and its column")
        if self.first_row < 1 or not 0 <= self.heading_row < self.first_row:
            raise LogError("columns of a table: the headings stand above the first row of samples")
        if self.period_s is not None and self.period_s <= 0:
            raise LogError("columns of a table: the period of the rows is more than zero")

    @property
    def unit_ns(self) -> int:
        """Nanoseconds in one unit of the time column."""
        return int(10 ** _UNITS[self.time_unit])


@dataclass(frozen=True, slots=True)
class Meaning:
    """What the numbers of a channel mean: value = factor · number + offset, or a logic level by two bounds."""

    channel: str  # as the file names it
    unit: str = ""
    scaled: bool = False  # the file may hold it in another unit
    factor: float = 1.0
    offset: float = 0.0
    levels: tuple[float, float] | None = None  # 0 up to the first, 1 from the second on
    inverted: bool = False
    shortest_ns: int = 0  # a level that lasts shorter counts as not known


@dataclass(frozen=True, slots=True)
class LogFile:
    """A log, the name under which signals that it holds decoded go in the trace, and which of them are wanted."""

    path: Path
    name: str = ""  # empty: the name of the file without its suffixes
    columns: CsvColumns | None = None  # of a table of samples
    wanted: tuple[str, ...] = ()  # empty: all
    meanings: Mapping[str, Meaning] = field(default_factory=dict)  # of each wanted signal, by its new name

    @property
    def message(self) -> str:
        """The name of its signals' message."""
        return plain_name(self.name or self.path.name.split(".")[0])

    def wants(self, name: str) -> bool:
        """Whether this signal is wanted, by its own name or by the plain one."""
        return not self.wanted or name in self.wanted or plain_name(name) in self.wanted

    def lacks(self, names: Iterable[str]) -> list[str]:
        """Signals that are wanted and not among these."""
        there = {*names}
        there |= {plain_name(name) for name in there}
        return [name for name in self.wanted if name not in there]


def opened(path: Path) -> BinaryIO:
    """A log file, opened to be read; LogError if there is none or it is no file: a pipe might never end."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise LogError(f"{path}: this is a folder; give the log files in it")
        if not stat.S_ISREG(mode):
            raise LogError(
                f"{path}: this is a pipe or a device, not a file; save the log in a file and give that"
            )
        return path.open("rb")
    except OSError as error:
        raise LogError(f"{path}: cannot be opened: {error.strerror}; check path and rights") from error


def plain_name(text: str) -> str:
    """The name as a bench description can write it: letters, digits and underscores."""
    name = re.sub(r"[^A-Za-z0-9]+", "_", text).strip("_")
    return f"s_{name}" if name[:1].isdigit() else name or "unnamed"
