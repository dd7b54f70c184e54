"""CSV as python-can writes it: exact stamps, base64 payloads, every line accounted for."""

from pathlib import Path

import can
import pytest
from trace_kit import DATA, by_python_can, read, rows_of

from interlock.errors import LogError
from interlock.trace.csvlog import HEADER
from interlock.trace.model import QualityKind

HEAD = HEADER.decode() + "\n"
GOOD = "1790000000.25,0x120,0,0,0,2,AP8=\n"
START = 1_790_000_000_000_000_000


def write(tmp_path: Path, body: str, *, head: str = HEAD) -> Path:
    path = tmp_path / "a.csv"
    path.write_bytes((head + body).encode())
    return path


@pytest.mark.parametrize(
    ("line", "frame"),
    [
        (GOOD, (START + 250_000_000, 0x120, False, b"\x00\xff")),
        ("1790000000.0007784,0x18abcdef,1,0,0,1,/w==\n", (START + 778_400, 0x18ABCDEF, True, b"\xff")),
        ("1790000000.0,0x7ff,0,0,0,0,\n", (START, 0x7FF, False, b"")),
        ("1790000000.0,0x7ff,0,0,0,3,+/+/\n", (START, 0x7FF, False, b"\xfb\xff\xbf")),
    ],
)
def test_frame_lines(tmp_path: Path, line: str, frame: object) -> None:
    reading = read(write(tmp_path, line))
    assert rows_of(reading.columns) == [frame]
    assert (reading.ledger.frames, reading.ledger.non_frames) == (1, 1)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("1790000000,25,0x120,0,0,0,2,AP8=\n", "decimal comma"),
        ("1790000000.0001234567,0x120,0,0,0,2,AP8=\n", "more than nine digits"),
        ("1.79e9,0x120,0,0,0,2,AP8=\n", "exponent"),
        ("1790000000.25,0x120,0,0,0,3,AP8=\n", "not as long as the line says"),
        ("1790000000.25,0x120,0,0,0,2,AP8\n", "not of the form"),
        ("1790000000.25,0x120,0,0,0,2,A=8=\n", "not of the form"),
        ("1790000000.25,288,0,0,0,2,AP8=\n", "not of the form"),
        ("1790000000.25;0x120;0;0;0;2;AP8=\n", "not of the form"),
        ("1790000000.25,0x820,0,0,0,2,AP8=\n", "beyond 11 bits"),
    ],
)
def test_other_lines_are_rejected(tmp_path: Path, line: str, reason: str) -> None:
    reading = read(write(tmp_path, GOOD + line + GOOD))
    (piece,) = reading.rejected
    assert (piece.place, piece.row) == (3, 1)
    assert reason in piece.why


def test_header_is_not_needed(tmp_path: Path) -> None:
    assert read(write(tmp_path, GOOD, head="")).ledger.frames == 1


def test_error_and_remote_frames(tmp_path: Path) -> None:
    body = GOOD + "1790000000.3,0x0,0,0,1,0,\n" + "1790000000.4,0x120,0,1,0,8,\n"
    assert [(o.what, o.count) for o in read(write(tmp_path, body)).oddities] == [
        ("error frames", 1),
        ("remote frames", 1),
    ]


def test_torn_end(tmp_path: Path) -> None:
    for lost in (2, 3, 4, 8):
        (piece,) = read(write(tmp_path, GOOD + GOOD[:-lost])).rejected
        assert (piece.kind, piece.place) == (QualityKind.TRUNCATED, 3)
    whole = read(write(tmp_path, GOOD + GOOD[:-1]))  # the length of the payload stands before it
    assert (whole.rejected, whole.ledger.frames) == ((), 2)


def test_header_alone_holds_no_frame(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no data frame"):
        read(write(tmp_path, ""))


def test_same_frames_as_python_can() -> None:
    path = DATA / "short.csv"
    reading = read(path)
    messages = list(can.CSVReader(path))
    mine = rows_of(reading.columns)
    assert [row[1:] for row in mine] == by_python_can(messages)
    assert all(abs(row[0] - m.timestamp * 1e9) < 500 for row, m in zip(mine, messages, strict=True))


def test_same_fd_frames_as_python_can_wrote(tmp_path: Path) -> None:
    path = tmp_path / "fd.csv"
    sent = [
        can.Message(timestamp=1.79e9 + n, arbitration_id=n, is_fd=True, data=bytes(range(n, n + size)))
        for n, size in enumerate((0, 1, 2, 3, 8, 12, 16, 20, 24, 32, 48, 64) * 8)
    ]
    with can.CSVWriter(path) as writer:
        for message in sent:
            writer.on_message_received(message)
    assert [row[1:] for row in rows_of(read(path).columns)] == by_python_can(sent)
