"""ASC headers as programs and editors leave them: tabs, indents, marks, split lines; and dates without a zone.

The lines of the header are those that python-can's ASCWriter and the README of the open vector_asc reader show; how
editors change them is common practice, no source.
"""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from trace_kit import read, rows_of

from interlock.errors import LogError
from interlock.trace.local_time import local_notes
from interlock.trace.model import QualityKind
from interlock.trace.reading import Reading

DATE = "Mon Sep 21 14:13:20.000 2026"
HEAD = f"date {DATE}\nbase hex  timestamps absolute\nno internal events logged\n"
BEGIN, START, END = f"Begin Triggerblock {DATE}\n", "   0.000000 Start of measurement\n", "End TriggerBlock\n"
FRAMES = "   0.010000 1  120             Rx   d 2 01 02\n   0.020000 1  120             Rx   d 2 03 04\n"
START_NS = 1_790_000_000_000_000_000  # 2026-09-21T14:13:20Z
WHOLE = [(START_NS + 10**7, 0x120, False, b"\1\2"), (START_NS + 2 * 10**7, 0x120, False, b"\3\4")]


def reading_of(tmp_path: Path, text: str | bytes) -> Reading:
    path = tmp_path / "a.asc"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read(path)


STARTS = {
    "as_written": START,
    "tab_after": "   0.000000\tStart of measurement\n",
    "tabs": "\t0.000000\t\tStart\tof\tmeasurement\t\n",
    "many_blanks": "0.000000          start   of   Measurement   \n",
    "no_stamp": "Start of measurement\n",
    "no_stamp_tab": "\tStart of measurement\n",
    "whole_second": "   0 Start of measurement\n",
    "blank_that_does_not_break": "   0.000000\u00a0Start of\u00a0measurement\n",
    "full_stop": "   0.000000 Start of measurement.\n",
}


@pytest.mark.parametrize("name", STARTS)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_the_start_of_the_measurement_is_read_as_what_it_is(tmp_path: Path, name: str, ending: str) -> None:
    reading = reading_of(tmp_path, (HEAD + BEGIN + STARTS[name] + FRAMES + END).replace("\n", ending))
    assert reading.rejected == ()
    assert rows_of(reading.columns) == WHOLE
    assert reading.ledger.non_frames == 6


def test_the_same_in_windows_1252(tmp_path: Path) -> None:
    text = HEAD + BEGIN + STARTS["blank_that_does_not_break"] + FRAMES + END
    assert reading_of(tmp_path, text.encode("cp1252")).rejected == ()


@pytest.mark.parametrize(
    "line", ["   7 Start of measurement\n", "Started of measurement\n", "Start\n", "x Start of measurement\n"]
)
def test_what_only_looks_like_it_is_listed(tmp_path: Path, line: str) -> None:
    (piece,) = reading_of(tmp_path, HEAD + BEGIN + line + FRAMES + END).rejected
    assert (piece.place, piece.kind) == (5, QualityKind.UNREADABLE)


def test_its_stamp_counts_where_stamps_are_distances(tmp_path: Path) -> None:
    relative = HEAD.replace("absolute", "relative")
    late = "   0.500000\u00a0Start of measurement\n"
    reading = reading_of(tmp_path, relative + BEGIN + late + FRAMES + END)
    assert (reading.columns.times_ns - START_NS).tolist() == [510_000_000, 530_000_000]


HEADS = {
    "tabs": HEAD.replace(" ", "\t", 1).replace(
        "base hex  timestamps absolute", "base\thex\ttimestamps\tabsolute"
    ),
    "indented": "".join(f"  {line}\n" for line in HEAD.splitlines()),
    "tab_indented": "".join(f"\t{line}\n" for line in HEAD.splitlines()),
    "marked": "\ufeff" + HEAD,
    "split": HEAD.replace("  timestamps", "\ntimestamps"),
    "continued": HEAD + "previous log file: run_1.asc\n",
    "commented": HEAD + "// version 13.0.0\n  // written by hand\n",
    "capitals": HEAD.replace("base hex", "BASE HEX").replace("date", "Date"),
}


@pytest.mark.parametrize("name", HEADS)
def test_headers_mean_the_same_however_they_are_set(tmp_path: Path, name: str) -> None:
    reading = reading_of(tmp_path, HEADS[name] + BEGIN + START + FRAMES + END)
    assert reading.rejected == ()
    assert rows_of(reading.columns) == WHOLE


def test_indented_trigger_blocks_are_seen_wherever_they_stand(tmp_path: Path) -> None:
    many = "".join(f"   {row / 1000:.6f} 1 120 Rx d 0\n" for row in range(150))
    text = HEAD + "  " + BEGIN + many + "\t" + END + "\t" + BEGIN + FRAMES + "  " + END
    reading = reading_of(tmp_path, text)
    assert [piece.why for piece in reading.rejected] == [
        "a new trigger block: how its stamps continue the former ones is not certain"
    ]
    assert reading.rejected[0].place == 156
    assert len(reading.columns.times_ns) == 152


def test_an_indented_block_without_its_end_is_said(tmp_path: Path) -> None:
    (piece,) = reading_of(tmp_path, HEAD + "\t" + BEGIN + FRAMES).rejected
    assert piece.kind is QualityKind.TRUNCATED


def test_a_second_base_that_is_another_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogError, match=r"a\.asc:4: a second, different 'base' line"):
        reading_of(tmp_path, HEAD + "  base dec timestamps absolute\n" + FRAMES)


def test_a_date_says_that_it_has_no_zone(tmp_path: Path) -> None:
    said = "the date of the log carries no time zone, nor whether daylight-saving time held: read as UTC"
    assert reading_of(tmp_path, HEAD + BEGIN + START + FRAMES + END).notes == (said,)


def ns(*when: int) -> int:
    return int(datetime(*when, tzinfo=UTC).timestamp()) * 10**9


@pytest.mark.parametrize(
    ("when", "doubtful"),
    [
        ((2026, 10, 25, 2, 30), True),  # European Union: last Sunday of October, 03:00 becomes 02:00
        ((2026, 3, 29, 2, 30), True),  # and of March, 02:00 becomes 03:00 (directive 2000/84/EC)
        ((2026, 11, 1, 1, 30), True),  # United States: first Sunday of November (Energy Policy Act of 2005)
        ((2026, 3, 8, 2, 0), True),
        ((2026, 10, 25, 4, 0), False),
        ((2026, 10, 26, 2, 30), False),
        ((2026, 7, 5, 2, 30), False),
    ],
)
def test_a_night_in_which_clocks_change_is_said(when: tuple[int, ...], doubtful: bool) -> None:
    notes = local_notes("the date", [ns(2026, 7, 1, 12, 0), ns(*when)])
    assert [("clocks" in note) for note in notes] == ([False, True] if doubtful else [False])


def test_the_night_is_said_of_a_log(tmp_path: Path) -> None:
    text = (HEAD + BEGIN + START + FRAMES + END).replace(DATE, "Sun Oct 25 02:30:00.000 2026")
    assert "an hour may be missing, or be there twice" in reading_of(tmp_path, text).notes[1]
