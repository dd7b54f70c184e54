"""Logs as benches leave them: two buses, both directions, long, remote and error frames, remarks, uneven columns."""

import random
import re
from collections.abc import Iterator
from pathlib import Path

import can

from tests.bench.bench_logs import candump_log, frames_of

__all__ = ["mixed", "written_mixed"]

_FD_LENGTHS = (3, 8, 12, 16, 20, 24, 32, 48, 64)
_UNKNOWN = 0x5A0  # an identifier that the DBC does not describe
_ERROR = 0x80  # a bus error
_PLAIN_ONLY = {".trc"}  # python-can writes nothing else into it
_REMARKS = {".asc": b"// a remark\n", ".trc": b"; a remark\n"}
_COLUMNS = {".log": 3, ".asc": 3, ".trc": 4}  # where the blanks may be more; behind them stand data bytes


def mixed(path: Path, most: int, *, plain_only: bool) -> Iterator[can.Message]:
    """The first frames of a log over two buses; of each hundred three become CAN FD, one remote, one an error."""
    source = random.Random(5)
    for number, message in enumerate(frames_of(path, most)):
        place = 0 if plain_only else number % 100
        bus = {"channel": source.choice(("can0", "can0", "can0", "can1")), "is_rx": source.random() < 0.9}
        stamp = {"timestamp": message.timestamp, "arbitration_id": _UNKNOWN, "is_extended_id": False}
        if place in (7, 41, 73):
            data = source.randbytes(source.choice(_FD_LENGTHS))
            yield can.Message(**stamp, **bus, is_fd=True, data=data, bitrate_switch=place == 7)
        elif place == 23:
            yield can.Message(**stamp, **bus, is_remote_frame=True, dlc=source.randrange(9))
        elif place == 59:
            error = stamp | {"arbitration_id": _ERROR, "is_extended_id": True}
            yield can.Message(**error, **bus, is_error_frame=True)
        else:
            message.channel, message.is_rx = bus["channel"], bus["is_rx"]
            yield message


def written_mixed(folder: Path, suffix: str, count: int) -> Path:
    """A log of so many frames, remote and error frames among them, in the format of the suffix."""
    text, path = folder / "all.log", folder / f"mixed{suffix}"
    if not text.exists():
        candump_log(text, count)
    with can.Logger(path) as writer:
        for message in mixed(text, count, plain_only=suffix in _PLAIN_ONLY):
            writer.on_message_received(message)
    if suffix in _COLUMNS:
        path.write_bytes(b"".join(_uneven(path.read_bytes().splitlines(keepends=True), suffix)))
    return path


def _uneven(lines: list[bytes], suffix: str) -> Iterator[bytes]:
    """The lines of a text log, some with wider columns or small digits, with remarks between them."""
    source = random.Random(6)
    for line in lines:
        if not re.match(rb"\s*\(?\d", line):
            yield line
            continue
        if suffix in _REMARKS and source.random() < 0.01:
            yield _REMARKS[suffix]
        small = line if source.random() < 0.85 else re.sub(rb"(?<=[ #])[0-9A-F#]+(?=[ #\n])", _lower, line)
        more = 0 if source.random() < 0.9 else source.randrange(1, _COLUMNS[suffix])
        yield re.sub(rb"(?<=\S) (?=\S)", b"  ", small, count=more) if more else small


def _lower(match: "re.Match[bytes]") -> bytes:
    return match[0].lower()
