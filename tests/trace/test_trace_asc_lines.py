"""Dates and single lines of ASC logs."""

from datetime import UTC, datetime
from pathlib import Path

import can
import pytest

from interlock.trace.asc_lines import date_ns, grammar, looks_like, short_fraction
from interlock.trace.shape import Kind, Shape

DAY = int(datetime(2026, 9, 21, tzinfo=UTC).timestamp()) * 10**9
HOUR = 3600 * 10**9


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Mon Sep 21 14:13:20.000 2026", DAY + 14 * HOUR + 800 * 10**9),
        ("Mon Sep 21 02:13:20.000 pm 2026", DAY + 14 * HOUR + 800 * 10**9),
        ("Mon Sep 21 12:00:00 am 2026", DAY),
        ("Mon Sep 21 12:00:00 PM 2026", DAY + 12 * HOUR),
        ("Mon Sep 21 00:00:00.5 2026", DAY + 5 * 10**6),
        ("Mon Sep 21 00:00:00.30 2026", DAY + 30 * 10**6),
        ("Mon Sep 21 00:00:00.500 2026", DAY + 500 * 10**6),
        ("Mon Sep 21 00:00:00.123456 2026", DAY + 123_456_000),
        ("Mo Sep 21 00:00:00 2026", DAY),
        ("Mon Sept 21 00:00:00 2026", None),
        ("Mon Sep 31 00:00:00 2026", None),
        ("Mon Sep 21 24:00:00 2026", None),
        ("Mon Sep 21 00:00:00 1902", None),
        ("21.09.2026 00:00:00", None),
        ("", None),
    ],
)
def test_dates_are_read_as_utc_or_not_at_all(text: str, expected: int | None) -> None:
    assert date_ns(text.encode()) == expected


@pytest.mark.parametrize(
    ("name", "month"), [("Mär", 3), ("Mrz", 3), ("Mai", 5), ("Okt", 10), ("Dez", 12), ("Feb", 2)]
)
@pytest.mark.parametrize("encoding", ["utf-8", "latin-1"])
def test_german_months(name: str, month: int, encoding: str) -> None:
    expected = int(datetime(2026, month, 2, tzinfo=UTC).timestamp()) * 10**9
    assert date_ns(f"Mo {name} 2 00:00:00 2026".encode(encoding)) == expected


@pytest.mark.parametrize("millisecond", [0, 3, 30, 300, 999])
def test_date_as_python_can_writes_it(tmp_path: Path, millisecond: int) -> None:
    when = datetime(2026, 9, 21, 14, 13, 20, millisecond * 1000).astimezone()  # its writer uses local time
    path = tmp_path / "a.asc"
    with can.ASCWriter(path) as writer:
        writer.on_message_received(can.Message(timestamp=when.timestamp(), arbitration_id=1))
    line = next(line for line in path.read_bytes().splitlines() if line.startswith(b"Begin"))
    text = line.removeprefix(b"Begin Triggerblock ")
    assert date_ns(text) == DAY + 14 * HOUR + (800_000 + millisecond) * 10**6
    assert short_fraction(text) == (0 < millisecond < 100)


def test_date_of_undecodable_bytes_is_no_date() -> None:
    assert date_ns(b"Mo \xff\xfe\xfd 2 00:00:00 2026") is None


def test_fields_of_a_frame_stand_where_the_shape_says() -> None:
    line = b" 12.000133 3  1ABx            Rx   d 2 44 0A"
    shape = grammar(b"hex")(line)
    assert isinstance(shape, Shape)
    assert shape.kind is Kind.FRAME
    assert (line[slice(*shape.seconds)], line[slice(*shape.fraction)]) == (b"12", b"000133")
    assert (line[slice(*shape.ident)], shape.extended, shape.channel) == (b"1AB", True, b"3")
    assert [line[slice(*span)] for span in shape.payload] == [b"44", b"0A"]


def test_same_line_means_other_numbers_in_the_other_base() -> None:
    line = b"1.0 1 100 Rx d 1 10"
    hexadecimal, decimal = grammar(b"hex")(line), grammar(b"dec")(line)
    assert isinstance(hexadecimal, Shape)
    assert isinstance(decimal, Shape)
    assert (hexadecimal.ident_base, decimal.ident_base) == (16, 10)
    assert (hexadecimal.encoding, decimal.encoding) == ("hex", "dec")


@pytest.mark.parametrize("spaces", [100, 1900])
def test_long_runs_of_blanks_are_refused_fast(spaces: int) -> None:
    for line in (
        b"begin triggerblock" + b" " * spaces,
        b"1.0 1 1 Rx d 1" + b" " * spaces,
        b" " * spaces + b"x",
    ):
        grammar(b"hex")(line)
        looks_like(line)
