"""candump text: every line is a frame, a known other, or rejected with its number and reason."""

from pathlib import Path

import can
import pytest
from trace_kit import DATA, by_python_can, read, rows_of

from interlock.errors import LogError
from interlock.trace.candump import looks_like
from interlock.trace.model import QualityKind

GOOD = b"(1790000000.000100) can0 120#0102030405060708 R\n"
START = 1_790_000_000_000_000_000


def write(tmp_path: Path, content: bytes) -> Path:
    path = tmp_path / "a.log"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("line", "frame"),
    [
        (b"(1790000000.000001) can0 123#00FF", (START + 1000, 0x123, False, b"\x00\xff")),
        (b"(1790000000.5) can0 123#00ff T", (START + 500_000_000, 0x123, False, b"\x00\xff")),
        (b"(1790000000.123456789) vcan-1 7FF#", (START + 123_456_789, 0x7FF, False, b"")),
        (b"(1790000000.000000) can0 1FFFFFFF#AB R", (START, 0x1FFFFFFF, True, b"\xab")),
        (b"(1790000000.000000) can0 00000123#AB R", (START, 0x123, True, b"\xab")),
        (b"\t(1790000000.000000)\tcan0 \t 123#AB\tR  ", (START, 0x123, False, b"\xab")),
        (b"(1790000000.000000) can0 123##1" + b"0A" * 12, (START, 0x123, False, b"\x0a" * 12)),
        (b"(1790000000.000000) can0 123##0" + b"0A" * 64, (START, 0x123, False, b"\x0a" * 64)),
        (b"(1790000000.000000) can0 123#0102030405060708_B", (START, 0x123, False, bytes(range(1, 9)))),
    ],
)
def test_well_formed_line_is_a_frame(tmp_path: Path, line: bytes, frame: object) -> None:
    reading = read(write(tmp_path, line + b"\n"))
    assert rows_of(reading.columns) == [frame]
    assert reading.ledger.frames == 1
    assert not reading.rejected


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_line_ends_of_both_kinds(tmp_path: Path, end: bytes) -> None:
    reading = read(write(tmp_path, GOOD.rstrip() + end + end + GOOD.rstrip() + end))
    assert (reading.ledger.frames, reading.ledger.non_frames) == (2, 1)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"(1790000000,000100) can0 120#0102 R", "decimal comma"),
        (b"1790000000.000100 can0 120#0102 R", "no time stamp"),
        (b"(1790000000.0001001234) can0 120#0102 R", "more than nine digits"),
        (b"(-1.000100) can0 120#0102 R", "no time stamp"),
        (b"(1790000000.000100) can0 120#010 R", "not of the form"),
        (b"(1790000000.000100) can0 120#01 02 R", "not of the form"),
        (b"(1790000000.000100) can0 120#010203040506070809 R", "of a length that no frame has"),
        (b"(1790000000.000100) can0 120##0" + b"00" * 9, "of a length that no frame has"),
        (b"(1790000000.000100) can0 12#0102 R", "not of the form"),
        (b"(1790000000.000100) can0 800#0102 R", "beyond 11 bits"),
        (b"(1790000000.000100) can0 40000120#0102 R", "beyond 29 bits"),
        (b"(9999999999.000100) can0 120#0102 R", "beyond the year"),
        (b"(1790000000.000100)  120#0102 R", "not of the form"),
        (b"(1790000000.000100) can0 120#0102 X", "not of the form"),
        (b"(1790000000.000100) can0 120#01\x0002 R", "not of the form"),
        (b"*** garbage ***", "no time stamp"),
        (b"x" * 5000, "longer than 2000 bytes"),
    ],
)
def test_any_other_line_is_rejected_with_place_and_reason(tmp_path: Path, line: bytes, reason: str) -> None:
    reading = read(write(tmp_path, GOOD + line + b"\n" + GOOD))
    (piece,) = reading.rejected
    assert (piece.place, piece.count, piece.row, piece.kind) == (2, 1, 1, QualityKind.UNREADABLE)
    assert reason in piece.why
    assert reading.ledger.frames == 2


def test_error_and_remote_frames_are_facts_not_frames(tmp_path: Path) -> None:
    # 0x20000000 is CAN_ERR_FLAG of Linux <linux/can.h>; `#R` a remote frame (can-utils, candump -L).
    error = b"(1790000000.000200) can0 20000080#0000000000000000 R\n"
    remote = b"(1790000000.000300) can0 123#R8\n"
    reading = read(write(tmp_path, GOOD + error + error + remote + GOOD))
    assert (reading.ledger.frames, reading.ledger.non_frames) == (2, 3)
    assert [(o.what, o.count, o.place, o.first_row) for o in reading.oddities] == [
        ("error frames", 2, 2, 1),
        ("remote frames", 1, 4, 1),
    ]


def test_neighbouring_rejected_lines_are_told_as_one(tmp_path: Path) -> None:
    reading = read(write(tmp_path, GOOD + b"junk\nmore junk\n" + GOOD + b"junk\n" + GOOD))
    assert [(p.place, p.last, p.count, p.row, p.last_row) for p in reading.rejected] == [
        (2, 3, 2, 1, 1),
        (5, 5, 1, 2, 2),
    ]


@pytest.mark.parametrize("kept", [1, 20, len(GOOD) - 5, len(GOOD) - 4])
def test_last_line_without_line_end_is_no_evidence(tmp_path: Path, kept: int) -> None:
    reading = read(write(tmp_path, GOOD + GOOD[:kept]))
    assert reading.ledger.frames == 1
    (piece,) = reading.rejected
    assert (piece.kind, piece.place, piece.row, piece.until_end) == (QualityKind.TRUNCATED, 2, 1, True)


@pytest.mark.parametrize(
    ("last", "frames"),
    [
        (b"can0 120#0102030405060708 R", 2),
        (b"can0 120#0102030405060708", 2),
        (b"can0 120##1" + b"0A" * 64, 2),
        (b"can0  120   [2]  01 02", 2),
        (b"can0  120  [12]  01 02 03 04 05 06 07 08 09 0A 0B 0C", 2),
        # more may have followed
        (b"can0 120#01020304050607", 1),
        (b"can0 120##1" + b"0A" * 12, 1),
        (b"can0 120#", 1),
        (b"can0  120   [2]  01 0", 1),
        (b"can0  120   [2]  01", 1),
    ],
    ids=str,
)
def test_a_last_line_without_line_end_is_a_frame_if_all_of_it_is_there(
    tmp_path: Path, last: bytes, frames: int
) -> None:
    reading = read(write(tmp_path, GOOD + b"(1790000000.000900) " + last))
    assert reading.ledger.frames == frames
    assert len(reading.rejected) == 2 - frames
    assert reading.ledger.lines_or_objects == 2


def test_distances_are_never_read_as_absolute(tmp_path: Path) -> None:
    lines = b"".join(b"(0.%06d) can0 120#00 R\n" % (900 + 37 * (n % 7)) for n in range(60))
    reading = read(write(tmp_path, lines))
    (doubt,) = reading.rejected
    assert doubt.kind is QualityKind.TIME_RELATIVE
    assert doubt.from_start
    assert doubt.until_end
    assert not reading.columns.absolute


def test_equal_distances_are_never_read_as_absolute(tmp_path: Path) -> None:
    reading = read(write(tmp_path, b"(0.001000) can0 120#00 R\n" * 50))
    assert [piece.kind for piece in reading.rejected] == [QualityKind.TIME_RELATIVE]


def test_stamps_that_grow_from_zero_are_time_since_the_start(tmp_path: Path) -> None:
    reading = read(write(tmp_path, b"".join(b"(0.%06d) can0 120#00 R\n" % (1000 * n) for n in range(60))))
    assert not reading.rejected
    assert not reading.columns.absolute
    assert "since the start" in reading.notes[0]


def test_two_interfaces_are_told_apart(tmp_path: Path) -> None:
    reading = read(write(tmp_path, GOOD + GOOD.replace(b"can0", b"can1") + GOOD))
    assert reading.channels == ("can0", "can1")
    assert reading.columns.channels.tolist() == [0, 1, 0]


@pytest.mark.parametrize("content", [b"\n\n", b"(1790000000,000100) can0 120#0102 R\n" * 5, b"\n\0\n"])
def test_file_without_any_frame_is_an_error_that_says_so(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(LogError, match=r"no data frame|no line of it holds a data frame"):
        read(write(tmp_path, content))


def test_same_frames_as_python_can() -> None:
    path = DATA / "short.log"
    reading = read(path)
    messages = list(can.CanutilsLogReader(path))
    mine = rows_of(reading.columns)
    assert [row[1:] for row in mine] == by_python_can(messages)
    for (time_ns, *_), message in zip(mine, messages, strict=True):
        assert abs(time_ns - message.timestamp * 1e9) < 500  # a float of this size steps by 238 ns
    assert reading.resolution_ns == 1000
    assert reading.columns.absolute


def test_looks_like_only_its_own_lines() -> None:
    assert looks_like(GOOD.strip())
    assert not looks_like(b" 0.004252 1  120             Rx   d 8 00 00 00 00 00 00 00 00")


def test_a_long_frame_that_is_torn_and_alone_is_an_error_and_no_traceback(tmp_path: Path) -> None:
    # Found by fuzzing: its payload was to be put among the frames, of which there are none.
    path = tmp_path / "torn.log"
    path.write_bytes(b"(1790000000.136661) can0 30A##1" + b"0A" * 12)
    with pytest.raises(LogError, match=r"torn\.log:1: .*the file ends inside this line"):
        read(path)


def test_an_interface_is_named_in_plain_characters_in_any_company(tmp_path: Path) -> None:
    # Found by fuzzing: among lines of many lengths any name did.
    lines = [b"(1790000000.%06d) can0 120#%s\n" % (n, b"00" * (n % 9)) for n in range(500)]
    lines[250] = lines[250].replace(b"can0", b"c\xe4n0")
    path = tmp_path / "names.log"
    path.write_bytes(
        b"".join(line.replace(b" can0", b" " * (n % 5 + 1) + b"can0") for n, line in enumerate(lines))
    )
    reading = read(path)
    assert [piece.place for piece in reading.rejected] == [251]
    assert reading.channels == ("can0",)
