"""What candump shows on a screen, with every kind of stamp; can-utils' own log form of the same frames as reference.

The forms follow can-utils' `candump.c` and `lib.c` (sprint_long_canframe); `-t` and `-x`, `-a` as its help says.
"""

from pathlib import Path

import pytest
from trace_kit import DATA, read, rows_of

from interlock.errors import LogError
from interlock.trace.candump_shown import is_dated, is_unstamped, looks_like, shape_of
from interlock.trace.model import QualityKind
from interlock.trace.shape import Kind, Shape

START = 1_790_000_000_000_000_000
LINES = (DATA / "short.log").read_text().splitlines()


def shown(line: str, *, stamp: str | None = None, between: str = "  ", after: str = "") -> str:
    """A line of the log form as candump shows it."""
    given, channel, frame = line.split()[:3]
    ident, data = frame.split("#")
    pairs = " ".join(data[at : at + 2] for at in range(0, len(data), 2))
    return f" {given if stamp is None else stamp}  {channel}{between}{ident}   [{len(data) // 2}]  {pairs}{after}\n"


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "a.txt"
    path.write_text(text)
    return path


@pytest.mark.parametrize("between", ["  ", "  RX - -  ", "  TX B E  "])
@pytest.mark.parametrize("after", ["", "   '.......'", "   '(1.0) can0'"])
def test_same_frames_as_in_the_log_form(tmp_path: Path, between: str, after: str) -> None:
    path = write(tmp_path, "".join(shown(line, between=between, after=after) for line in LINES))
    reading, reference = read(path), read(DATA / "short.log")
    assert rows_of(reading.columns) == rows_of(reference.columns)
    assert (reading.format, reading.rejected, reading.resolution_ns) == ("candump", (), 1000)
    assert reading.columns.absolute


def test_same_frames_with_dates(tmp_path: Path) -> None:
    lines = []
    for line in LINES:
        seconds = int(line[1:11]) - 1_790_000_000 + 20  # 14:13:20 UTC is 1,790,000,000
        date = f"(2026-09-21 14:{13 + seconds // 60:02}:{seconds % 60:02}{line[11:18]})"
        lines.append(shown(line, stamp=date))
    reading = read(write(tmp_path, "".join(lines)))
    assert rows_of(reading.columns) == rows_of(read(DATA / "short.log").columns)
    assert reading.notes == ("the dates of the log carry no time zone: read as UTC",)
    assert reading.rejected == ()


def test_dates_across_minutes_and_midnight(tmp_path: Path) -> None:
    stamps = ["2026-09-21 23:59:58", "2026-09-21 23:59:59", "2026-09-22 00:00:00", "2026-09-22 00:01:10"]
    text = "".join(f" ({stamp}.000001)  can0  120   [1]  0A\n" for stamp in stamps)
    times = read(write(tmp_path, text)).columns.times_ns
    assert (times - times[0]).tolist() == [0, 10**9, 2 * 10**9, 72 * 10**9]
    assert int(times[0]) == START + (9 * 3600 + 46 * 60 + 38) * 10**9 + 1000


def test_time_since_the_start_is_read_as_such(tmp_path: Path) -> None:
    text = "".join(f" (000.{n:06})  can0  120   [1]  0A\n" for n in range(0, 900_000, 1000))
    reading = read(write(tmp_path, text))
    assert not reading.columns.absolute
    assert reading.rejected == ()


def test_distances_are_never_believed(tmp_path: Path) -> None:
    text = "".join(f" (000.{1000 + n % 7:06})  can0  120   [1]  0A\n" for n in range(900))
    assert [piece.kind for piece in read(write(tmp_path, text)).rejected] == [QualityKind.TIME_RELATIVE]


def test_without_stamps_there_is_no_log(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no time stamp: record with candump -l"):
        read(write(tmp_path, "  can0  120   [2]  01 02\n" * 20))


def test_a_single_line_without_a_stamp_is_told(tmp_path: Path) -> None:
    good = shown(LINES[0])
    (piece,) = read(write(tmp_path, good + "  can0  120   [2]  01 02\n" + good)).rejected
    assert (piece.place, piece.row) == (2, 1)


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        (b" (1.000000)  can0  120   [0]  remote request", Kind.REMOTE),
        (b" (1.000000)  can0  20000004   [8]  00 04 00 00 00 00 00 00   ERRORFRAME", Kind.ERROR),
        (b" (1.000000)  can0  120   [0] ", Kind.FRAME),
        (b" (1.000000)  can0  120  [12]  " + b"0A " * 12, Kind.FRAME),
        (b" (1.000000)  can0  18FF1234   [1]  0A", Kind.FRAME),
        (b"\t(1.000000)\tcan0\t120\t[1]\t0A", Kind.FRAME),
    ],
)
def test_kinds_of_lines(line: bytes, kind: Kind) -> None:
    shape = shape_of(line)
    assert isinstance(shape, Shape)
    assert shape.kind is kind
    assert looks_like(line)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b" (1.000000)  can0  120   [2]  0A", "not as many data bytes"),
        (b" (1.000000)  can0  120   [9]  " + b"0A " * 9, "not as many data bytes"),
        (b" (2026-02-30 14:13:20.000000)  can0  120   [1]  0A", "a date that is none"),
        (b" (2026-09-21 24:13:20.000000)  can0  120   [1]  0A", "a date that is none"),
        (b" (2026-09-21 14:13:200.000000)  can0  120   [1]  0A", "a date that is none"),
    ],
)
def test_lines_that_say_something_impossible(line: bytes, reason: str) -> None:
    answer = shape_of(line)
    assert isinstance(answer, str)
    assert reason in answer


@pytest.mark.parametrize(
    "line", [b"", b"(1.000000) can0 120#0A", b" (2026-09-21 14:61:20.0)  can0  120   [1]  0A", b"can0"]
)
def test_other_lines_are_left_to_others(line: bytes) -> None:
    assert shape_of(line) is None
    assert not is_unstamped(line)


def test_dated() -> None:
    assert is_dated(b"junk\n (2026-09-21 14:13:20.000001)  can0\n")
    assert not is_dated(b" (1790000000.000001)  can0  120   [1]  0A\n")
