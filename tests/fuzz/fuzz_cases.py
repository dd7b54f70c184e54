"""What the readers are tried with: a small sound file of each format, changed at random, and what must hold of it."""

import gzip
import io
import random
import tempfile
import zipfile
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Final

import can

from interlock.errors import LogError
from interlock.trace import CsvColumns, LogFile
from interlock.trace.readers import read_log

__all__ = ["PLANS", "SEEDS", "TABLE", "changed", "held", "spoiled", "spoiled_within"]

DATA = Path(__file__).resolve().parents[1] / "data"
_SHORT = 3000  # bytes of the text logs

VCD = (
    b"$timescale 1 us $end\n$var wire 1 ! EN $end\n$var wire 4 # P $end\n$enddefinitions $end\n"
    b"#0\n0!\n#5\n1!\nb01 #\n#9\n"
)
TABLE = b"t,A,B\n0.001,1,2\n0.002,1,2\n0.003,,2\n0.004,1.5e1,2\n"
FD = (
    b"(1790000000.000100) can0 120##5" + b"A5" * 64 + b"\n(1790000000.000200) can1 1ABCDEF0##001020304\n"
    b"(1790000000.000300) can0 120#R8\n(1790000000.000400) can0 20000004#0000000000000000\n"
    b"(1790000000.000500) can0 7FF#\n(1790000000.000600) can0 120#0102030405060708\n"
) * 3


def _plain_blf() -> bytes:
    """A BLF file whose containers are not packed, so that accidents meet the objects: classic, FD, error and remote."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plain.blf"
        with can.BLFWriter(path, compression_level=0) as writer:
            for at in range(40):
                fd, remote = at % 4 == 1, at % 10 == 3
                message = can.Message(
                    timestamp=1.79e9 + at / 100,
                    arbitration_id=0x120 + at % 3,
                    is_extended_id=at % 5 == 0,
                    is_fd=fd and not remote,
                    is_error_frame=at % 10 == 2,
                    is_remote_frame=remote,
                    data=None if remote else bytes(range(48 if fd else 8)),
                    channel=at % 2,
                )
                writer.on_message_received(message)
        return path.read_bytes()


SEEDS: Final[Mapping[str, bytes]] = {
    "short.log": (DATA / "short.log").read_bytes()[:_SHORT],
    "shown.log": b" (1790000000.000100)  can0  RX - -  120   [2]  01 02   '..'\n" * 9
    + b"  can0  120   [1]  01\n",
    "fd.log": FD,
    "short.asc": (DATA / "short.asc").read_bytes()[:_SHORT],
    "short.csv": (DATA / "short.csv").read_bytes()[:_SHORT],
    "short.trc": (DATA / "short.trc").read_bytes()[:_SHORT],
    "short.blf": (DATA / "short.blf").read_bytes(),
    "plain.blf": _plain_blf(),
    "steps.sr": (DATA / "motion_steps.sr").read_bytes(),
    "lines.vcd": VCD,
    "packed.log.gz": gzip.compress((DATA / "short.log").read_bytes()[:_SHORT]),
}
PLANS: Final = (
    CsvColumns({"A": "A", "B": 3}, time="t"),
    CsvColumns({"A": 2}, period_s=Fraction(1, 3), heading_row=0, first_row=1),
    CsvColumns({"A": 2}, time=1, delimiter=";", decimal=",", heading_row=0, first_row=1, time_unit="us"),
)
_SIZES: Final = (0, 1, 7, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 1 << 31, (1 << 31) - 1, (1 << 32) - 1, (1 << 63) - 1)
_TELLING: Final = b"0123456789abcdefxXrRdD \t\r\n.,;:#()[]/-+eE\0\xff"
_LENGTHS: Final = (1, 1, 2, 4, 8, 40, 400)


def changed(content: bytes, changes: list[tuple[int, int, bytes]]) -> bytes:
    """The content with these bytes in place of so many others, wherever it has such a place."""
    for place, size, junk in changes:
        at = place % (len(content) + 1)
        content = content[:at] + junk + content[at + size :]
    return content


def spoiled_within(archive: bytes, chance: random.Random) -> bytes:
    """A zip archive whose members, but for one that has an accident, are as they were, with sums that fit."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(archive)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        hit = chance.choice(old.namelist())
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, spoiled(content, archive, chance) if name == hit else content)
    return out.getvalue()


def spoiled(content: bytes, other: bytes, chance: random.Random) -> bytes:
    """The content after one to five accidents: bytes lost, doubled, moved, flipped, overwritten; sizes; a cut."""
    for _ in range(chance.choice((1, 1, 1, 2, 3, 5))):
        at, size = chance.randrange(len(content) + 1), chance.choice(_LENGTHS)
        piece = content[at : at + size]
        width = chance.choice((2, 4, 8))
        number = (chance.choice(_SIZES) & ((1 << 8 * width) - 1)).to_bytes(width, "little")
        kind = chance.randrange(9)
        if kind == 0:
            content = content[:at]
        elif kind == 1 and piece:
            content = content[:at] + bytes([piece[0] ^ 1 << chance.randrange(8)]) + content[at + 1 :]
        else:
            away = chance.randrange(len(other) + 1)
            junk = (
                b"",
                piece * 2,
                chance.randbytes(len(piece)),
                bytes(chance.choices(_TELLING, k=min(size, 8))),
                number,
                other[away : away + size],
                piece[::-1],
            )[kind - 2]
            content = content[:at] + junk + content[at + (width if junk is number else size) :]
    return content


def held(file: LogFile) -> bool:
    """Read a file whose content nobody vouches for: True if it was read, False if it was refused by one clear error.

    Raises AssertionError if its counts do not add up, or whatever else a reader lets through.
    """
    try:
        reading, source = read_log(file)
    except LogError as error:
        assert str(file.path) in str(error) or "columns of a table" in str(error)
        return False
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert source.frames == ledger.frames
    rows = len(reading.columns.times_ns)
    assert rows == len(reading.columns.idents) == len(reading.columns.places) == len(reading.columns.data)
    assert all(0 <= piece.row <= piece.last_row <= rows for piece in reading.rejected)
    return True
