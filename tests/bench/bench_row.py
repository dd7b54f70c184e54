"""One row of a benchmark: what was measured here, what the peer needed in the same run, and how they compare."""

import re
import resource
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

__all__ = ["Row", "Size", "compared", "cpu_seconds", "peak_mib", "skipped", "within"]


@dataclass(frozen=True)
class Size:
    """How much work a row does; `quick` only shows that the row runs, its ratio says nothing."""

    quick: bool

    def of(self, full: int, quick: int) -> int:
        """The number to use."""
        return quick if self.quick else full


@dataclass(frozen=True)
class Row:
    """`ours` and `peer` in the same unit, lower is better; `ratio` of at least `goal` is wanted."""

    name: str
    work: str
    ours: float | None
    peer: float | None
    ratio: float | None  # how many times better than the peer
    goal: float | None
    unit: str = "s of CPU"
    more: dict[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """The row as plain data."""
        keys = ("name", "ours", "peer", "ratio", "goal", "unit", "work")
        return {**{key: getattr(self, key) for key in keys}, **self.more}


def compared(name: str, work: str, ours: float, peer: float, goal: float, **more: Any) -> Row:
    """A row of two times."""
    return Row(name, work, ours, peer, peer / ours, goal, more=more)


def within(name: str, work: str, seconds: float, most: float, unit: str = "s", **more: Any) -> Row:
    """A row whose peer is a number of seconds that must not be passed."""
    return Row(name, f"{work}; peer: {most:g} s", seconds, most, most / seconds, 1.0, unit, more)


def skipped(name: str, work: str, why: str, goal: float | None = None) -> Row:
    """A row that could not be measured here, with the reason."""
    return Row(name, work, None, None, None, goal, more={"skipped": why})


def cpu_seconds(call: Callable[[], object], *, times: int = 1) -> float:
    """The least processor time of so many calls, their child processes included: other work does not count."""
    spent = []
    for _ in range(times):
        begun = _spent()
        call()
        spent.append(_spent() - begun)
    return min(spent)


def _spent() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def peak_mib() -> float:
    """The most resident memory that this process ever had, without what its parent had when it was started."""
    status = Path("/proc/self/status")
    if status.exists():
        found = re.search(r"^VmHWM:\s+([0-9]+) kB$", status.read_text(encoding="ascii"), flags=re.M)
        if found is not None:
            return int(found[1]) / 1024
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1 << 20 if sys.platform == "darwin" else 1 << 10)
