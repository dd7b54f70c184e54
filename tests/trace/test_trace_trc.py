"""TRC logs, all versions: each line accounted for, the start exact, python-can as oracle.

The example lines follow the public description of the format, "PEAK CAN TRC File Format", and python-can's writer.
"""

from pathlib import Path

import can
import pytest
from trace_kit import DATA, by_python_can, read, rows_of

from interlock.errors import LogError
from interlock.trace.model import QualityKind
from interlock.trace.trc import start_ns

START = 1_790_000_000_000_000_000
DAYS = b"46286.592592592592592593"  # START in days since 1899-12-30
V10 = b"     1)      1841  0001  8  00 01 02 03 04 05 06 FF\n"
V11 = b"     1)      1059.9  Rx         0300  7  00 00 00 00 04 00 01\n"
V13 = b"     1)      1059.900 1  Rx        0300 -  7    00 00 00 00 04 00 01\n"
V20 = b"      1      1059.900 DT     0300 Rx 7  00 00 00 00 04 00 01\n"
V21 = b"      1      1059.900 DT 1      0300 Rx -  7    00 00 00 00 04 00 01\n"
HEADS = {
    b"1.0": b"",
    b"1.1": b";$FILEVERSION=1.1\n;$STARTTIME=" + DAYS + b"\n",
    b"1.3": b";$FILEVERSION=1.3\n;$STARTTIME=" + DAYS + b"\n",
    b"2.0": b";$FILEVERSION=2.0\n;$STARTTIME=" + DAYS + b"\n;$COLUMNS=N,O,T,I,d,l,D\n",
    b"2.1": b";$FILEVERSION=2.1\n;$STARTTIME=" + DAYS + b"\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n",
}
GOOD = {b"1.0": V10, b"1.1": V11, b"1.3": V13, b"2.0": V20, b"2.1": V21}
LATER = 1_059_900_000


def write(tmp_path: Path, content: bytes) -> Path:
    path = tmp_path / "a.trc"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("version", [b"1.1", b"1.3", b"2.0", b"2.1"])
def test_a_frame_in_each_version(tmp_path: Path, version: bytes) -> None:
    reading = read(write(tmp_path, HEADS[version] + GOOD[version]))
    assert rows_of(reading.columns) == [(START + LATER, 0x300, False, bytes([0, 0, 0, 0, 4, 0, 1]))]
    assert reading.columns.absolute
    assert reading.channels == ("1",)
    assert reading.resolution_ns == (100_000 if version == b"1.1" else 1000)


def test_the_first_version_stamps_in_whole_milliseconds(tmp_path: Path) -> None:
    reading = read(write(tmp_path, b";   Start time: 21.09.2026 14:13:20.0\n" + V10))
    assert rows_of(reading.columns) == [(START + 1_841_000_000, 1, False, bytes([0, 1, 2, 3, 4, 5, 6, 255]))]
    assert reading.resolution_ns == 10**6


def test_without_any_start_the_time_of_day_is_not_known(tmp_path: Path) -> None:
    reading = read(write(tmp_path, V10))
    assert not reading.columns.absolute
    assert reading.columns.times_ns.tolist() == [1_841_000_000]
    assert "time of day" in reading.notes[0]


@pytest.mark.parametrize(
    ("line", "payload", "extended"),
    [
        (b"1 1.0 DT 1 00000300 Rx - 2 00 01", b"\0\1", True),
        (b"1 1.0 DT 1 0123456 Rx - 0", b"", True),
        (b"1 1.0 DT 1 0300 Tx - 0", b"", False),
        (b"1 1.0 DT 2 0300 Rx - 9 00 01 02 03 04 05 06 07", bytes(range(8)), False),
        (b"1 1.0 FD 1 0300 Rx - 9 " + b"0A " * 12, b"\x0a" * 12, False),
        (b"1 1.0 FB 1 0300 Rx - 15 " + b"0A " * 64, b"\x0a" * 64, False),
        (b"1 1.0 FE 1 1FFFFFFF Rx - 13 " + b"0A " * 32, b"\x0a" * 32, True),
        (b"1 1.0 BI 1 0300 Rx - 3 01 02 03", b"\1\2\3", False),
        (b"1 1.0 DT 1 0300 Rx - 12 " + b"0A " * 12, b"\x0a" * 12, False),  # as python-can writes FD frames
    ],
)
def test_frames_of_version_2(tmp_path: Path, line: bytes, payload: bytes, extended: bool) -> None:
    ((_, _, wide, data),) = rows_of(read(write(tmp_path, HEADS[b"2.1"] + line + b"\n")).columns)
    assert (data, wide) == (payload, extended)


@pytest.mark.parametrize(
    ("version", "line", "what"),
    [
        (b"1.0", b"     4)     4073  FFFFFFFF  4  00 00 00 04 -- -- -- --  BUSHEAVY", ""),
        (b"1.0", b"     4)     4073  0300  4  RTR", "remote frames"),
        (b"1.1", b"     5)      2124.5  Warng  FFFFFFFF  4  00 00 00 08  BUSHEAVY", ""),
        (b"1.1", b"     5)      2124.5  Error      0008  4  00 19 08 08", "error frames"),
        (b"1.3", b"     5)      2124.500 1  Error     0008 -  4    00 19 08 08", "error frames"),
        (b"1.3", b"     5)      2124.500 1  Rx        0300 -  4    RTR", "remote frames"),
        (b"2.0", b"      5      2124.500 ST          Rx    00 00 00 08", ""),
        (b"2.0", b"      5      2124.500 RR     0300 Rx 4", "remote frames"),
        (b"2.1", b"      5      2124.500 ER 1         - Rx -  5    04 00 02 00 00", "error frames"),
        (b"2.1", b"      5      2124.500 EC 1         - Rx -  2    02 02", ""),
        (b"2.1", b"      5      2124.500 EV User-defined event", ""),
        (b"2.1", b"; a comment", ""),
        (b"2.1", b"", ""),
    ],
)
def test_known_lines_that_are_no_data_frames(tmp_path: Path, version: bytes, line: bytes, what: str) -> None:
    reading = read(write(tmp_path, HEADS[version] + GOOD[version] + line + b"\n" + GOOD[version]))
    assert reading.rejected == ()
    assert reading.ledger.frames == 2
    assert [oddity.what for oddity in reading.oddities] == ([what] if what else [])


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"1 1059,900 DT 1 0300 Rx - 1 00", "decimal comma"),
        (b"1 1059.9000001 DT 1 0300 Rx - 1 00", "more than six digits"),
        (b"1 1059.900 DT 1 0300 Rx - 2 00", "not as many data bytes"),
        (b"1 1059.900 DT 1 0300 Rx - 1 00 01", "not as many data bytes"),
        (b"1 1059.900 FD 1 0300 Rx - 9 00 01", "not as many data bytes"),
        (b"1 1059.900 FD 1 0300 Rx - 16 00 01", "not as many data bytes"),
        (b"1 1059.900 DT 1 0900 Rx - 1 00", "beyond 11 bits"),
        (b"1 1059.900 DT 1 20000000 Rx - 1 00", "beyond 29 bits"),
        (b"1 1059.900 XX 1 0300 Rx - 1 00", "not of the form"),
        (b"1) 1059.900 DT 1 0300 Rx - 1 00", "not of the form"),
        (b"1 1059.900 DT 0300 Rx 1 00", "not of the form"),
        (b"1 999999999999.900 DT 1 0300 Rx - 1 00", "time stamp beyond"),
    ],
)
def test_any_other_line_is_rejected(tmp_path: Path, line: bytes, reason: str) -> None:
    reading = read(write(tmp_path, HEADS[b"2.1"] + V21 + line + b"\n" + V21))
    (piece,) = reading.rejected
    assert (piece.place, piece.row, piece.kind) == (5, 1, QualityKind.UNREADABLE)
    assert reason in piece.why


def test_a_torn_last_line_is_no_evidence(tmp_path: Path) -> None:
    for lost in (2, 3, 9, 40):
        (piece,) = read(write(tmp_path, HEADS[b"2.1"] + V21 + V21[:-lost])).rejected
        assert (piece.kind, piece.until_end) == (QualityKind.TRUNCATED, True)
    assert read(write(tmp_path, HEADS[b"2.1"] + V21 + V21[:-1])).rejected == ()  # all seven bytes are there


@pytest.mark.parametrize(
    ("head", "reason"),
    [
        (b";$FILEVERSION=2.1\n", "columns that cannot be read"),
        (b";$FILEVERSION=2.1\n;$COLUMNS=N,O,T,Q,D\n", "columns that cannot be read"),
        (b";$FILEVERSION=2.1\n;$COLUMNS=N,O,I,L,D,d\n", "columns that cannot be read"),
        (b";$FILEVERSION=3.0\n;$COLUMNS=N,O,T,I,d,l,D\n", "version 3.0"),
        (b";$FILEVERSION=1.1\n;$FILEVERSION=2.1\n", "more than one format version"),
    ],
)
def test_headers_that_do_not_say_enough_are_errors(tmp_path: Path, head: bytes, reason: str) -> None:
    with pytest.raises(LogError, match=reason):
        read(write(tmp_path, head + V21))


def test_start_is_exact_where_a_float_of_days_is_not() -> None:
    # From memory: a float of 46,286 days steps by 0.6 microseconds; the text is taken digit by digit.
    assert start_ns(DAYS, b"") == START
    assert start_ns(b"25569", b"") == 0  # 1970-01-01 is day 25,569 (common practice, no source)


def test_start_in_days_and_in_words_of_the_published_example_agree() -> None:
    # The example header of the format's description: 37704.5364870833 is 24.03.2003 12:52:32.484.
    by_days, by_words = start_ns(b"37704.5364870833", b""), start_ns(b"", b"24.03.2003 12:52:32.484")
    assert by_days is not None
    assert by_words is not None
    assert abs(by_days - by_words) < 10**6


@pytest.mark.parametrize("words", [b"", b"yesterday", b"31.02.2026 00:00:00.0", b"\xff"])
def test_start_that_is_none(words: bytes) -> None:
    assert start_ns(b"", words) is None


def test_two_starts_that_contradict_leave_the_time_of_day_unknown(tmp_path: Path) -> None:
    words = b";   Start time: 21.09.2026 14:14:20.000\n"
    reading = read(write(tmp_path, HEADS[b"2.1"] + words + V21))
    assert not reading.columns.absolute
    assert "two different start times" in reading.notes[0]


@pytest.mark.parametrize("words", [b"21.09.2026 14:13:20.000", b"21.09.2026 16:13:20.000"])
def test_two_starts_may_be_in_two_zones(tmp_path: Path, words: bytes) -> None:
    reading = read(write(tmp_path, HEADS[b"2.1"] + b";   Start time: " + words + b"\n" + V21))
    assert reading.columns.absolute
    assert reading.notes == (
        "the start time of the log carries no time zone, nor whether daylight-saving time held: read as UTC",
    )


def test_same_frames_as_python_can() -> None:
    path = DATA / "short.trc"
    reading = read(path)
    messages = list(can.TRCReader(path))
    mine = rows_of(reading.columns)
    assert [row[1:] for row in mine] == by_python_can(messages)
    for (time_ns, *_), message in zip(mine, messages, strict=True):
        assert abs(time_ns - message.timestamp * 1e9) < 2000  # python-can counts days in a float


@pytest.mark.parametrize("version", [b"1.1", b"1.3", b"2.0", b"2.1"])
def test_same_frames_as_python_can_reads_of_each_version(tmp_path: Path, version: bytes) -> None:
    shape = GOOD[version].replace(b"00 00 00 00 04 00 01", b"%s")
    lines = [
        shape.replace(b"0300", b"%04X" % (n % 2000)) % b" ".join(b"%02X" % (n * k % 256) for k in range(7))
        for n in range(300)
    ]
    path = write(tmp_path, HEADS[version] + b"".join(lines))
    assert [row[1:] for row in rows_of(read(path).columns)] == by_python_can(can.TRCReader(path))


def test_same_frames_as_python_can_wrote_in_version_1(tmp_path: Path) -> None:
    path = tmp_path / "one.trc"
    sent = [
        can.Message(
            timestamp=1.79e9 + n / 1000,
            arbitration_id=n * 99991,
            is_extended_id=n * 99991 > 0x7FF,
            data=bytes([n] * (n % 9)),
        )
        for n in range(200)
    ]
    writer = can.TRCWriter(path)
    writer.file_version = can.TRCFileVersion.V1_0
    for message in sent:
        writer.on_message_received(message)
    writer.stop()
    reading = read(path)
    assert [row[1:] for row in rows_of(reading.columns)] == by_python_can(sent)
    assert reading.columns.times_ns.tolist() == [START + n * 10**6 for n in range(200)]
    assert reading.columns.absolute
