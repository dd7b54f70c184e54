"""Large logs of the sample bench, made from a small one of the second generator (tests/loggen)."""

import re
import sys
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import can

TESTS = Path(__file__).resolve().parents[1]
sys.path.append(str(TESTS / "loggen"))

import loggen  # noqa: E402 - found by the line above

__all__ = ["BENCH", "DBC", "candump_log", "frames_of", "written"]

BENCH = TESTS / "benches" / "sample" / "bench.yaml"
DBC = BENCH.with_name("bench.dbc")
_SECONDS = 60  # of the small log that are repeated; every period divides it
_COUNTED = 100 * _SECONDS  # frames of SAFE_State in them, by its counter
_ALIVE = re.compile(rb"( 120#[0-9A-F]{14})([0-9A-F]{2})")


@cache
def _by_second() -> tuple[list[bytes], int]:
    """The lines of each second of a sound log without their whole seconds, and the number of lines."""
    text, _ = loggen.make(1)
    seconds = [bytearray() for _ in range(_SECONDS)]
    count = 0
    for line in text.encode().splitlines(keepends=True):
        at = int(line[1:11]) - loggen.EPOCH
        if at < _SECONDS:
            seconds[at] += line
            count += 1
    return [bytes(one) for one in seconds], count


def candump_log(path: Path, frames: int) -> int:
    """A candump log of at least so many frames; the number that it holds."""
    seconds, count = _by_second()
    written, copy = 0, 0
    with path.open("wb") as out:
        while written < frames:
            for at, lines in enumerate(seconds):
                now = loggen.EPOCH + at
                out.write(_counted(lines, copy).replace(b"(%d." % now, b"(%d." % (now + copy * _SECONDS)))
            written, copy = written + count, copy + 1
    return written


def _counted(lines: bytes, copy: int) -> bytes:
    """The lines with the counter of SAFE_State gone on from copy to copy: else the recording would look cut."""
    ahead = copy * _COUNTED

    def onward(found: re.Match[bytes]) -> bytes:
        return b"%s%02X" % (found[1], (int(found[2], 16) + ahead) % 256)

    return _ALIVE.sub(onward, lines) if ahead % 256 else lines


def frames_of(path: Path, most: int) -> Iterator[can.Message]:
    """The first frames of a log as python-can reads them."""
    with can.LogReader(path) as reader:
        for number, message in enumerate(reader):
            if number == most:
                return
            yield message


def written(folder: Path, suffix: str, frames: int) -> Path:
    """A log of exactly so many frames, in the format of the suffix; by python-can but for candump."""
    text = folder / "all.log"
    if not text.exists():
        candump_log(text, frames)
    path = folder / f"log{suffix}"
    if suffix == ".log":
        with text.open("rb") as lines, path.open("wb") as out:
            for number, line in enumerate(lines):
                if number == frames:
                    break
                out.write(line)
        return path
    with can.Logger(path) as writer:
        later = time.time() - loggen.EPOCH if suffix == ".mf4" else 0.0  # python-can begins such a file now
        for message in frames_of(text, frames):
            message.timestamp += later
            writer.on_message_received(message)
    return path
