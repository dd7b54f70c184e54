"""A tape in the three formats, and what may happen to such a file on its way."""

import io
import re
from pathlib import Path

import can
import loggen
import numpy as np
from replay_tape import BUS, Tape


def as_log(tape: Tape) -> bytes:
    return tape.text().encode()


def as_asc(tape: Tape) -> bytes:
    """As loggers of cars write it, stamps since the start of the measurement."""
    head = [
        "date Mon Sep 21 14:13:20.0 2026",
        "base hex  timestamps absolute",
        "internal events logged",
        "Begin Triggerblock Mon Sep 21 14:13:20.0 2026",
        "   0.000000 Start of measurement",
    ]
    rows = []
    for us, ident, data in zip(tape.us.tolist(), tape.ident.tolist(), tape.data, strict=True):
        size = 4 if ident == BUS else 8
        shown = " ".join(f"{one:02X}" for one in data[:size].tolist())
        rows.append(
            f"{us // 1_000_000:4d}.{us % 1_000_000:06d} 1  {ident:03X}             Rx   d {size} {shown}"
        )
    return "\n".join([*head, *rows, "End TriggerBlock", ""]).encode()


def as_blf(tape: Tape, folder: Path) -> bytes:
    """Written by python-can, a general library that shares nothing with this package's reader."""
    path = folder / "written.blf"
    with can.BLFWriter(path) as writer:
        for us, ident, data in zip(tape.us.tolist(), tape.ident.tolist(), tape.data, strict=True):
            size = 4 if ident == BUS else 8
            stamp = loggen.EPOCH + us / 1e6
            message = can.Message(
                timestamp=stamp, arbitration_id=ident, data=data[:size].tobytes(), is_extended_id=False
            )
            writer.on_message_received(message)
    return path.read_bytes()


def written(tape: Tape, suffix: str, folder: Path) -> bytes:
    """The tape as a file of that format."""
    return {".log": as_log, ".asc": as_asc}[suffix](tape) if suffix != ".blf" else as_blf(tape, folder)


def flipped(content: bytes, rng: np.random.Generator, count: int = 1) -> bytes:
    """Some bits of it turned over."""
    spoiled = bytearray(content)
    for at in rng.integers(0, len(spoiled), count).tolist():
        spoiled[at] ^= 1 << int(rng.integers(0, 8))
    return bytes(spoiled)


def swapped(content: bytes, rng: np.random.Generator) -> bytes:
    """Two neighbouring lines, or two distant ones, exchanged."""
    lines = content.split(b"\n")
    one = int(rng.integers(10, len(lines) - 30))
    other = one + int(rng.choice([1, 2, 20]))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def with_tabs(content: bytes) -> bytes:
    return re.sub(rb" +", b"\t", content)


def with_commas(content: bytes) -> bytes:
    return re.sub(rb"(\d)\.(\d{6})", rb"\1,\2", content)


def with_crlf(content: bytes) -> bytes:
    return content.replace(b"\n", b"\r\n")


def relative(content: bytes) -> bytes:
    """Candump stamps counted from the frame above."""
    last, rows = None, io.StringIO()
    for line in content.decode().splitlines():
        stamp, rest = line.split(" ", 1)
        seconds, micro = stamp[1:-1].split(".")
        now = int(seconds) * 1_000_000 + int(micro)
        by, last = (0 if last is None else now - last), now
        rows.write(f"({by // 1_000_000:03d}.{by % 1_000_000:06d}) {rest}\n")
    return rows.getvalue().encode()
