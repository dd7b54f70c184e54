"""One run written in every format by python-can is the same frames: CAN FD, extended identifiers, several buses.

python-can (general-purpose reference library) writes; error and remote frames are counted and are no data frames.
"""

import gzip
import random
from pathlib import Path

import can
import pytest
from trace_kit import by_python_can, payloads, read

from interlock.trace import QualityKind
from interlock.trace.reading import LENGTHS_FD, Reading

START = 1_790_000_000
WRITERS = {
    "log": can.CanutilsLogWriter,
    "asc": can.ASCWriter,
    "blf": can.BLFWriter,
    "csv": can.CSVWriter,
    "trc": can.TRCWriter,
}
STEP_NS = {"log": 1000, "asc": 1000, "blf": 1000, "csv": 1000, "trc": 1000}
"""Steps of the stamps that these writers write (of BLF and CSV: of the float that they begin with)."""


def messages(seed: int, *, fd: bool, count: int = 400) -> list[can.Message]:
    """Data frames of many lengths and both kinds of identifier over two buses."""
    source = random.Random(seed)
    made = []
    for n in range(count):
        extended, long = source.random() < 0.4, fd and source.random() < 0.5
        size = source.choice(LENGTHS_FD) if long else source.randrange(9)
        made.append(
            can.Message(
                timestamp=START + n / 1000,
                arbitration_id=source.randrange(1 << (29 if extended else 11)),
                is_extended_id=extended,
                is_fd=long,
                bitrate_switch=long and source.random() < 0.5,
                data=source.randbytes(size),
                channel=n % 2,
            )
        )
    return made


def written(tmp_path: Path, suffix: str, frames: list[can.Message]) -> Path:
    path = tmp_path / f"run.{suffix}"
    writer = WRITERS[suffix](path)
    for frame in frames:
        writer.on_message_received(frame)
    writer.stop()
    return path


def content(reading: Reading) -> list[tuple[int, bool, bytes]]:
    columns = reading.columns
    return list(zip(columns.idents.tolist(), columns.extended.tolist(), payloads(columns), strict=True))


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize(
    ("suffix", "fd"),
    [
        (suffix, fd) for suffix in WRITERS for fd in (False, True) if not (fd and suffix == "trc")
    ],  # not in its writer
)
def test_same_frames_in_every_format(tmp_path: Path, suffix: str, fd: bool, packed: bool) -> None:
    sent = messages(1, fd=fd)
    path = written(tmp_path, suffix, sent)
    if packed:
        path = tmp_path / f"run.{suffix}.gz"
        path.write_bytes(gzip.compress((tmp_path / f"run.{suffix}").read_bytes()))
    reading = read(path)
    assert content(reading) == [(m.arbitration_id, m.is_extended_id, bytes(m.data)) for m in sent]
    assert reading.rejected == ()
    assert reading.ledger.rejected == 0


@pytest.mark.parametrize("suffix", WRITERS)
def test_stamps_in_every_format(tmp_path: Path, suffix: str) -> None:
    reading = read(written(tmp_path, suffix, messages(2, fd=False)))
    times = reading.columns.times_ns
    exact = [n * 10**6 for n in range(len(times))]
    assert max(abs(int(t - times[0]) - e) for t, e in zip(times, exact, strict=True)) <= STEP_NS[suffix]
    assert reading.columns.absolute


@pytest.mark.parametrize("suffix", ["log", "asc", "blf", "trc"])  # the CSV has no bus
def test_two_buses_are_told_apart(tmp_path: Path, suffix: str) -> None:
    reading = read(written(tmp_path, suffix, messages(3, fd=suffix != "trc")))
    assert len(reading.channels) == 2
    assert reading.columns.channels.tolist() == [n % 2 for n in range(400)]


@pytest.mark.parametrize("suffix", ["log", "asc", "blf", "csv"])
def test_error_and_remote_frames_are_facts(tmp_path: Path, suffix: str) -> None:
    data = messages(4, fd=False, count=60)
    error = can.Message(timestamp=START + 0.0205, is_error_frame=True, arbitration_id=0, channel=0)
    remote = can.Message(
        timestamp=START + 0.0305,
        is_remote_frame=True,
        arbitration_id=0x123,
        is_extended_id=False,
        dlc=4,
        channel=0,
    )
    reading = read(written(tmp_path, suffix, [*data[:21], error, *data[21:31], remote, *data[31:]]))
    assert content(reading) == [(m.arbitration_id, m.is_extended_id, bytes(m.data)) for m in data]
    assert {(oddity.kind, oddity.what, oddity.count) for oddity in reading.oddities} == {
        (QualityKind.ERROR_FRAME, "error frames", 1),
        (QualityKind.ERROR_FRAME, "remote frames", 1),
    }


def test_fd_frames_in_trc(tmp_path: Path) -> None:
    sent = [m for m in messages(6, fd=True) if m.is_fd]
    head = ";$FILEVERSION=2.1\n;$STARTTIME=46286.592592592592592593\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n"
    lines = [
        f"{n:7} {n:9}.000 {'FB' if m.bitrate_switch else 'FD'} 1"
        f"  {m.arbitration_id:0{8 if m.is_extended_id else 4}X} Rx -"
        f"  {can.util.len2dlc(m.dlc):2}   {m.data.hex(' ').upper()}\n"
        for n, m in enumerate(sent)
    ]
    path = tmp_path / "fd.trc"
    path.write_text(head + "".join(lines))
    assert content(read(path)) == [(m.arbitration_id, m.is_extended_id, bytes(m.data)) for m in sent]
    assert content(read(path)) == by_python_can(can.TRCReader(path))


def test_fd_frames_in_asc_decimal(tmp_path: Path) -> None:
    sent = [m for m in messages(5, fd=True) if m.is_fd]
    hexadecimal = written(tmp_path, "asc", sent).read_text()
    path = tmp_path / "decimal.asc"
    path.write_text("".join(_decimal(line) for line in hexadecimal.splitlines(keepends=True)))
    assert content(read(path)) == [(m.arbitration_id, m.is_extended_id, bytes(m.data)) for m in sent]


def _decimal(line: str) -> str:
    """An ASC line with identifiers and data in decimal; the length code stays hexadecimal in FD lines."""
    if line.startswith("base hex"):
        return line.replace("base hex", "base dec")
    words = line.split()
    if len(words) < 10 or words[1] != "CANFD":
        return line
    ident = words[4].rstrip("x")
    words[4] = f"{int(ident, 16)}{'x' * words[4].endswith('x')}"
    first = words.index(words[8], 8) + 1
    size = int(words[8])
    words[first : first + size] = [str(int(word, 16)) for word in words[first : first + size]]
    return " ".join(words) + "\n"
