"""Cutting text into lines, and the table that the lines become."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lane_kit import kind_of

from interlock.trace import lines as lines_module
from interlock.trace.lines import Table, TooManyBusesError, split
from interlock.trace.shape import Kind, Shape


@given(st.binary(max_size=200))
def test_lines_are_what_splitting_at_line_feeds_gives(text: bytes) -> None:
    lines = split(text)
    expected = text.split(b"\n")
    if expected[-1] == b"":
        expected.pop()
    mine = [lines.line(row) for row in range(len(lines))]
    without_return = [
        line.removesuffix(b"\r") if number < text.count(b"\n") else line
        for number, line in enumerate(expected)
    ]
    assert mine in (without_return, [line.removesuffix(b"\r") for line in expected])
    assert lines.complete == (text.endswith(b"\n") or not text)


@given(st.lists(st.binary(max_size=5).map(lambda b: b.replace(b"\n", b"")), min_size=1))
def test_first_bytes(parts: list[bytes]) -> None:
    lines = split(b"\n".join(parts) + b"\n")
    expected = [(part + b"\n")[0] for part in parts]
    assert lines.first_bytes().tolist() == expected


def test_rejection_outranks_what_was_noted() -> None:
    table = Table.empty(3)
    table.note(np.array([0, 1]), Shape(Kind.FRAME, length=4, channel=b"can0"))
    table.reject(1, "no")
    assert [kind_of(table, row) for row in range(3)] == [Kind.FRAME, Kind.REJECTED, Kind.UNREAD]
    assert table.bad().tolist() == [1]
    assert list(table.reasons)[table.reason_of[1]] == "no"


def test_rejecting_no_row_makes_no_reason() -> None:
    table = Table.empty(1)
    table.reject(np.array([], np.int64), "never")
    assert "never" not in table.reasons


def test_more_buses_than_a_bench_has_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lines_module, "MOST_BUSES", 3)
    table = Table.empty(1)
    assert [table.bus(name) for name in (b"a", b"b", b"c", b"b")] == [0, 1, 2, 1]
    with pytest.raises(TooManyBusesError):
        table.bus(b"e")


@pytest.mark.parametrize("digits", [1, 6, 9])
def test_most_digits_of_any_stamp_are_kept(digits: int) -> None:
    table = Table.empty(2)
    table.note(0, Shape(Kind.FRAME, fraction=(5, 5 + digits)))
    table.note(1, Shape(Kind.FRAME, fraction=(5, 6)))
    assert table.digits == digits
