"""Log file to all signals of the DBC: this package against python-can's reader with cantools' decoding.

Even logs, as one logger writes them, and mixed ones (see `bench_mixed`).
"""

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
from tests.bench.bench_mixed import written_mixed
from tests.bench.bench_row import Row, Size, compared, cpu_seconds

__all__ = ["NAMES", "rows"]

_EVEN = {"candump": ".log", "asc": ".asc", "blf": ".blf"}
_MIXED = {"candump_mixed": ".log", "asc_mixed": ".asc", "blf_mixed": ".blf", "trc": ".trc", "csv": ".csv"}
NAMES = {**_EVEN, **_MIXED}
_GOAL = 25.0
_GOAL_WITH_EXTRA = {True: 40.0, False: 25.0}  # of even logs, and of mixed ones


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """A row for each wanted format."""
    count = size.of(200_000, 3_000)
    with tempfile.TemporaryDirectory() as folder:
        for name in [name for name in NAMES if name in wanted]:
            write = written if name in _EVEN else written_mixed
            path = write(Path(folder), NAMES[name], count)
            yield _row(name, path, repeats=size.of(5, 1))


def _row(name: str, path: Path, repeats: int) -> Row:
    """What numpy alone does, and beside it what the extra `fast` does, once loaded, if it is installed."""
    with _extra(used=False):
        ours = cpu_seconds(lambda: _ours(path), times=repeats)
        frames = _ours(path)
    more = {"frames_per_s": round(frames / ours)}
    peer = cpu_seconds(lambda: _peer(path, frames))
    if find_spec("numba") is not None:
        with _extra(used=True):
            if _ours(path) != frames:  # compiles, or loads what was compiled before
                raise AssertionError(f"{path}: with the extra another number of frames is read")
            fast = cpu_seconds(lambda: _ours(path), times=repeats)
        more |= {"ratio_with_extra": peer / fast, "goal_with_extra": _GOAL_WITH_EXTRA[name in _EVEN]}
    mixed = "" if name in _EVEN else "mixed "
    work = f"{frames} frames of a {mixed}{path.suffix[1:]} file to all signals of the DBC"
    return compared(name, work, ours, peer, _GOAL, **more)


@contextmanager
def _extra(*, used: bool) -> Iterator[None]:
    """The extra `fast` left out, or used from the first line on."""
    there = lane.MANY, blf_file.FASTER
    lane.MANY, blf_file.FASTER = (0, blf_file.FASTER) if used else (sys.maxsize, None)
    try:
        yield
    finally:
        lane.MANY, blf_file.FASTER = there


def _ours(path: Path) -> int:
    return sum(source.frames for source in load([path], DBC, messages=[]).sources)


def _peer(path: Path, ours: int) -> None:
    base = cantools.database.load_file(DBC)
    known = {message.frame_id for message in base.messages}
    signals: dict[str, list[float]] = defaultdict(list)
    stamps: dict[int, list[float]] = defaultdict(list)
    frames = 0
    with can.LogReader(path) as reader:
        for message in reader:
            if message.is_error_frame or message.is_remote_frame:
                continue
            frames += 1
            stamps[message.arbitration_id].append(message.timestamp)
            if message.arbitration_id not in known:
                continue
            decoded = base.decode_message(message.arbitration_id, message.data, decode_choices=False)
            for name, value in decoded.items():
                signals[name].append(value)
    if frames != ours:
        raise AssertionError(f"{path}: {ours} frames were read, and by the peer {frames}")
