"""MF4 with raw frames to the signals of the DBC: this package against asammdf's own extraction."""

import tempfile
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

from interlock.trace import load
from tests.bench.bench_logs import DBC, written
from tests.bench.bench_row import Row, Size, compared, cpu_seconds, skipped

__all__ = ["NAMES", "rows"]

NAMES = {"mf4": "raw CAN frames of an MF4 file to all signals of the DBC"}
_GOAL = 1.0


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """The one row."""
    if "mf4" not in wanted:
        return
    if find_spec("asammdf") is None:
        yield skipped("mf4", NAMES["mf4"], "asammdf is not installed", _GOAL)
        return
    count = size.of(200_000, 3_000)
    with tempfile.TemporaryDirectory() as folder:
        path = written(Path(folder), ".mf4", count)
        ours = cpu_seconds(lambda: _same(_ours(path), count), times=size.of(3, 1))
        peer = cpu_seconds(lambda: _same(_peer(path), count), times=size.of(3, 1))
    yield compared("mf4", f"{count} {NAMES['mf4']}", ours, peer, _GOAL, frames_per_s=round(count / ours))


def _same(found: int, count: int) -> None:
    if found != count:
        raise AssertionError(f"{found} frames were decoded of {count}")


def _ours(path: Path) -> int:
    return sum(len(stamps) for stamps in load([path], DBC, messages=[]).messages.values())


def _peer(path: Path) -> int:
    """Each decoded channel is asked for its physical values, as ours are."""
    from asammdf import MDF

    with MDF(path) as mdf, mdf.extract_bus_logging({"CAN": [(str(DBC), 0)]}) as decoded:
        for signal in decoded.iter_channels():
            signal.samples.astype(float)
        return sum(group.channel_group.cycles_nr for group in decoded.groups)
