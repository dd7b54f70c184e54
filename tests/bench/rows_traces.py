"""Log file to all signals of the DBC: this package against python-can's reader with cantools' decoding."""

import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

import can
import cantools

from interlock.trace import blf_file, lane, load
from tests.bench.bench_logs import DBC, written
from tests.bench.bench_row import Row, Size, compared, cpu_seconds

__all__ = ["NAMES", "rows"]

NAMES = {"candump": ".log", "asc": ".asc", "blf": ".blf"}
_GOAL = 25.0
_GOAL_WITH_EXTRA = 40.0


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """A row for each wanted format."""
    count = size.of(200_000, 3_000)
    with tempfile.TemporaryDirectory() as folder:
        for name in [name for name in NAMES if name in wanted]:
            path = written(Path(folder), NAMES[name], count)
            yield _row(name, path, count, repeats=size.of(3, 1))


def _row(name: str, path: Path, count: int, repeats: int) -> Row:
    """What numpy alone does, and beside it what the extra `fast` does if it is installed."""
    with _without_extra():
        ours = cpu_seconds(lambda: _ours(path, count), times=repeats)
    more = {"frames_per_s": round(count / ours)}
    peer = cpu_seconds(lambda: _peer(path, count))
    if find_spec("numba") is not None:
        _ours(path, count)  # compiles, or loads what was compiled before
        fast = cpu_seconds(lambda: _ours(path, count), times=repeats)
        more |= {"ratio_with_extra": peer / fast, "goal_with_extra": _GOAL_WITH_EXTRA}
    work = f"{count} frames of a {name} file to all signals of the DBC"
    return compared(name, work, ours, peer, _GOAL, **more)


@contextmanager
def _without_extra() -> Iterator[None]:
    there = lane.MANY, blf_file.FASTER
    lane.MANY, blf_file.FASTER = sys.maxsize, None
    try:
        yield
    finally:
        lane.MANY, blf_file.FASTER = there


def _ours(path: Path, count: int) -> None:
    trace = load([path], DBC, messages=[])
    if sum(source.frames for source in trace.sources) != count:
        raise AssertionError(f"{path}: not every frame was read")


def _peer(path: Path, count: int) -> None:
    base = cantools.database.load_file(DBC)
    signals: dict[str, list[float]] = defaultdict(list)
    stamps: dict[int, list[float]] = defaultdict(list)
    frames = 0
    with can.LogReader(path) as reader:
        for message in reader:
            frames += 1
            stamps[message.arbitration_id].append(message.timestamp)
            decoded = base.decode_message(message.arbitration_id, message.data, decode_choices=False)
            for name, value in decoded.items():
                signals[name].append(value)
    if frames != count:
        raise AssertionError(f"{path}: the peer read {frames} frames of {count}")
