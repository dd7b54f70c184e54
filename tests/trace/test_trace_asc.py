"""ASC logs: header, trigger blocks, absolute and relative stamps, frames of both kinds, events."""

from pathlib import Path

import can
import pytest
from trace_kit import DATA, by_python_can, read, rows_of

from interlock.errors import LogError
from interlock.trace.model import QualityKind

HEAD = (
    "date Mon Sep 21 14:13:20.000 2026\n"
    "base hex  timestamps absolute\n"
    "internal events logged\n"
    "// version 9.0.0\n"
    "Begin Triggerblock Mon Sep 21 14:13:20.000 2026\n"
    "   0.000000 Start of measurement\n"
)
TAIL = "End TriggerBlock\n"
START = 1_790_000_000_000_000_000  # 2026-09-21T14:13:20Z


def write(tmp_path: Path, body: str, *, head: str = HEAD, tail: str = TAIL) -> Path:
    path = tmp_path / "a.asc"
    path.write_bytes((head + body + tail).encode("latin-1"))
    return path


def us(microseconds: int) -> int:
    return START + 1000 * microseconds


@pytest.mark.parametrize(
    ("line", "frame"),
    [
        (" 0.000133 1  310             Rx   d 4 44 00 00 0A", (us(133), 0x310, False, b"\x44\0\0\x0a")),
        ("0.5 2 310 Tx d 0", (us(500_000), 0x310, False, b"")),
        ("12.123456789 1 18ABCDEFx Rx d 2 ff FF", (us(12_123_456) + 789, 0x18ABCDEF, True, b"\xff\xff")),
        ("\t1.0\t1\t310\tRx\td\t1\tAB\t", (us(10**6), 0x310, False, b"\xab")),
        (
            "1.0 1 310 Rx d 1 AB  Length = 232000 BitCount = 120 ID = 784",
            (us(10**6), 0x310, False, b"\xab"),
        ),
        ("1.0 1 310x Rx d 1 AB  Length = 1 BitCount = 2 ID = 784x", (us(10**6), 0x310, True, b"\xab")),
        ("1.0 1 310 Rx d f 01 02 03 04 05 06 07 08", (us(10**6), 0x310, False, bytes(range(1, 9)))),
        (
            "1.0 CANFD 1 Rx 310 0 0 9 12 " + "0A " * 12 + "130000 130 303000 e0006659",
            (us(10**6), 0x310, False, b"\x0a" * 12),
        ),
        (
            "1.0 CANFD 2 Tx 18ABCDEFx Some_Name 1 0 2 2 01 02 0 0 1000 0 0 0 0 0",
            (us(10**6), 0x18ABCDEF, True, b"\1\2"),
        ),
    ],
)
def test_frame_lines(tmp_path: Path, line: str, frame: object) -> None:
    reading = read(write(tmp_path, line + "\n"))
    assert rows_of(reading.columns) == [frame]
    assert not reading.rejected
    assert reading.ledger.non_frames == 7


@pytest.mark.parametrize(
    "line",
    [
        "",
        "// a comment",
        "no internal events logged",
        " 2.501 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%",
        " 2.501 CAN 1 Status:chip status error active",
        " 2.501 1 OverloadFrame",
        " 2.501 log trigger event",
        " 2.501 SV: 1 0 1 ::name = 1",
        " 2.501 1 310 TxRq d 1 00",
        " 2.501 J1939TP FEE3p 6 0 0 - Rx d 23 A0 0F",
    ],
)
def test_events_and_comments_are_known_non_frames(tmp_path: Path, line: str) -> None:
    reading = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n" + line + "\n"))
    assert reading.ledger.non_frames == 8
    assert not reading.rejected


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("0,000133 1 310 Rx d 1 44", "decimal comma"),
        ("0.0001331234 1 310 Rx d 1 44", "more than nine digits"),
        ("1.0 1 310 Rx d 2 44", "not as many data bytes"),
        ("1.0 1 310 Rx d 1 44 55", "not as many data bytes"),
        ("1.0 1 310 Rx d 1 4", "neither a frame nor an event"),
        ("1.0 1 810 Rx d 1 44", "beyond 11 bits"),
        ("1.0 1 20000000x Rx d 1 44", "beyond 29 bits"),
        ("1.0 1 SAFE_State Rx d 1 44", "neither a frame nor an event"),
        ("1.0 CANFD 1 Rx 310 0 0 9 12 00", "not as many data bytes"),
        ("1.0 CANFD 1 Rx 310 0 0 9 13 " + "00 " * 13, "not as many data bytes"),
        ("1.0 CANFD 1 Rx 310 0 0 2 2 00 000", "a data byte that is none"),
        ("1.0 CANFD 1 Rx 310 0 0 2 2 00 0g", "that is n"),
        ("2000000000.0 1 310 Rx d 1 44", "beyond thirty years"),
        ("1.0 and something else", "neither a frame nor an event"),
        ("anything", "neither a header nor"),
    ],
)
def test_other_lines_are_rejected(tmp_path: Path, line: str, reason: str) -> None:
    good = " 1.0 1 310 Rx d 1 00\n"
    reading = read(write(tmp_path, good + line + "\n" + good))
    (piece,) = reading.rejected
    assert (piece.place, piece.row, piece.count) == (8, 1, 1)
    assert reason in piece.why


def test_error_and_remote_frames(tmp_path: Path) -> None:
    body = (
        " 1.0 1 310 Rx d 1 00\n"
        " 1.1 1 ErrorFrame\n"
        " 1.2 CANFD 1 Rx ErrorFrame Not Acknowledge error\n"
        " 1.3 1 310 Rx r\n"
        " 1.4 1 310x Rx r 8 Length = 0 BitCount = 0\n"
        " 1.5 CANFD 1 Rx 310 0 0 8 0\n"
    )
    reading = read(write(tmp_path, body))
    assert [(o.what, o.count) for o in reading.oddities] == [("error frames", 2), ("remote frames", 3)]
    assert reading.channels == ("1",)


def test_decimal_base(tmp_path: Path) -> None:
    head = HEAD.replace("base hex", "base dec")
    reading = read(write(tmp_path, "1.0 1 784 Rx d 3 255 0 07\n1.1 1 419419x Rx d 1 16\n", head=head))
    assert [row[1:] for row in rows_of(reading.columns)] == [
        (784, False, b"\xff\x00\x07"),
        (419419, True, b"\x10"),
    ]


def test_decimal_base_refuses_hexadecimal_digits_and_large_bytes(tmp_path: Path) -> None:
    head = HEAD.replace("base hex", "base dec")
    body = "1.0 1 784 Rx d 1 1\n" * 8 + "1.0 1 3A0 Rx d 1 1\n1.0 1 784 Rx d 1 256\n1.0 1 784 Rx d 1 F0\n"
    assert [piece.place for piece in read(write(tmp_path, body, head=head)).rejected] == [15, 16, 17]


def test_without_base_nothing_can_be_read(tmp_path: Path) -> None:
    head = HEAD.replace("base hex  timestamps absolute\n", "")
    with pytest.raises(LogError, match="without a readable line 'base hex"):
        read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", head=head))


def test_two_bases_are_an_error(tmp_path: Path) -> None:
    body = " 1.0 1 310 Rx d 1 00\nbase dec  timestamps absolute\n"
    with pytest.raises(LogError, match=r"a\.asc:8: a second, different 'base' line"):
        read(write(tmp_path, body))


def test_header_silent_on_stamps_puts_time_in_doubt(tmp_path: Path) -> None:
    head = HEAD.replace("base hex  timestamps absolute", "base hex")
    (doubt,) = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", head=head)).rejected
    assert doubt.kind is QualityKind.TIME_RELATIVE
    assert (doubt.from_start, doubt.until_end) == (True, True)


RELATIVE = HEAD.replace("timestamps absolute", "timestamps relative")


def test_relative_stamps_are_added_up_over_every_stamped_line(tmp_path: Path) -> None:
    body = " 0.25 1 310 Rx d 1 00\n 0.5 1 ErrorFrame\n 0.125 1 310 Rx d 1 00\n// note\n 0.0 1 310 Rx d 1 00\n"
    reading = read(write(tmp_path, body, head=RELATIVE))
    assert reading.columns.times_ns.tolist() == [us(250_000), us(875_000), us(875_000)]
    assert not reading.rejected


def test_rejected_line_puts_all_later_relative_stamps_in_doubt(tmp_path: Path) -> None:
    good = " 0.25 1 310 Rx d 1 00\n"
    reading = read(write(tmp_path, good + "0,25 1 310 Rx d 1 00\n" + good, head=RELATIVE))
    lost, later = reading.rejected
    assert (lost.kind, lost.row) == (QualityKind.UNREADABLE, 1)
    assert (later.kind, later.row, later.until_end) == (QualityKind.TIME_RELATIVE, 1, True)
    assert (later.place, later.last) == (lost.place, lost.last) == (RELATIVE.count("\n") + 2,) * 2


def test_relative_stamps_that_add_up_too_far_are_an_error(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="more than thirty years"):
        read(write(tmp_path, " 900000000.0 1 310 Rx d 1 00\n" * 20, head=RELATIVE))


def test_missing_end_is_told(tmp_path: Path) -> None:
    (piece,) = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", tail="")).rejected
    assert (piece.kind, piece.row, piece.until_end) == (QualityKind.TRUNCATED, 1, True)
    assert "End TriggerBlock" in piece.why


def test_end_without_line_end_is_an_end(tmp_path: Path) -> None:
    assert not read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", tail="End TriggerBlock")).rejected


def test_torn_last_line_is_told_besides_the_missing_end(tmp_path: Path) -> None:
    first = " 1.0 1 310 Rx d 1 00\n"
    for last, told in ((" 2.0 1 310 Rx d 1 0", [1, 0]), (" 2.0 1 310 Rx d 1 00", [0])):
        pieces = read(write(tmp_path, first + last, tail="")).rejected
        assert [(piece.count, piece.kind) for piece in pieces] == [
            (one, QualityKind.TRUNCATED) for one in told
        ]
    head = HEAD.replace("base hex", "base dec")
    decimal = read(write(tmp_path, first + " 2.0 1 310 Rx d 1 17", head=head, tail="")).rejected
    assert [piece.count for piece in decimal] == [1, 0]  # of 170, say


def test_second_trigger_block_has_its_own_date_and_a_doubt_in_between(tmp_path: Path) -> None:
    body = (
        " 1.0 1 310 Rx d 1 00\nEnd TriggerBlock\n"
        "Begin Triggerblock Mon Sep 21 14:13:30.000 2026\n 1.0 1 310 Rx d 1 00\n"
    )
    reading = read(write(tmp_path, body))
    assert reading.columns.times_ns.tolist() == [us(10**6), us(11 * 10**6)]
    (piece,) = reading.rejected
    assert (piece.kind, piece.place, piece.row) == (QualityKind.TIME_RELATIVE, 9, 1)


def test_date_of_the_trigger_block_outranks_the_header(tmp_path: Path) -> None:
    head = HEAD.replace("date Mon Sep 21 14:13:20", "date Wed Nov 25 05:35:34")
    assert read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n")).notes[1:] == ()
    reading = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", head=head))
    assert reading.columns.times_ns.tolist() == [us(10**6)]
    assert "no time zone" in reading.notes[0]


def test_short_fraction_of_the_date_is_noted(tmp_path: Path) -> None:
    head = HEAD.replace(
        "Begin Triggerblock Mon Sep 21 14:13:20.000", "Begin Triggerblock Mon Sep 21 14:13:20.2"
    )
    reading = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", head=head))
    assert reading.columns.times_ns.tolist() == [us(1_002_000)]
    assert "read as milliseconds" in reading.notes[1]


@pytest.mark.parametrize("begin", ["", "Begin Triggerblock\n"])
def test_header_date_serves_without_another(tmp_path: Path, begin: str) -> None:
    head = "".join(line + "\n" for line in HEAD.splitlines()[:2]) + begin
    reading = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", head=head, tail=TAIL if begin else ""))
    assert reading.columns.times_ns.tolist() == [us(10**6)]
    assert not reading.rejected
    assert "header is taken" in reading.notes[1]


def test_without_date_the_time_of_day_is_not_known(tmp_path: Path) -> None:
    head = "base hex  timestamps absolute\n"
    reading = read(write(tmp_path, " 1.0 1 310 Rx d 1 00\n", head=head, tail=""))
    assert reading.columns.times_ns.tolist() == [10**9]
    assert not reading.columns.absolute


def test_same_frames_as_python_can() -> None:
    path = DATA / "short.asc"
    reading = read(path)
    messages = list(can.ASCReader(path))
    mine = rows_of(reading.columns)
    assert [row[1:] for row in mine] == by_python_can(messages)
    assert [row[0] - START for row in mine] == [
        round(message.timestamp * 10**6) * 1000 for message in messages
    ]
    assert reading.resolution_ns == 1000


def test_same_fd_frames_as_python_can_wrote(tmp_path: Path) -> None:
    path = tmp_path / "fd.asc"
    sent = [
        can.Message(
            timestamp=0.001 * n,
            arbitration_id=0x18FF0000 + n if n % 2 else 0x100 + n,
            is_extended_id=bool(n % 2),
            is_fd=True,
            bitrate_switch=bool(n % 3),
            data=bytes((n * k) & 255 for k in range(size)),
            channel=0,
        )
        for n, size in enumerate((1, 8, 12, 16, 20, 24, 32, 48, 64) * 5)
    ]
    with can.ASCWriter(path) as writer:
        for message in sent:
            writer.on_message_received(message)
    assert [row[1:] for row in rows_of(read(path).columns)] == by_python_can(sent)
