"""What a line is, in and out of one number."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace import forms
from interlock.trace.forms import COMMENT, ERROR, EVENT, FRAME, REJECTED, REMOTE
from interlock.trace.lane import Found, renumbered
from interlock.trace.lines import MOST_BUSES, Table
from interlock.trace.shape import Kind

KINDS = {
    FRAME: Kind.FRAME,
    REMOTE: Kind.REMOTE,
    ERROR: Kind.ERROR,
    EVENT: Kind.EVENT,
    COMMENT: Kind.COMMENT,
    REJECTED: Kind.REJECTED,
}
LINE = st.tuples(
    st.integers(0, MOST_BUSES), st.sampled_from(sorted(KINDS)), st.booleans(), st.integers(0, 64)
)


@given(st.lists(LINE))
def test_a_number_tells_all_that_went_in(lines: list[tuple[int, int, bool, int]]) -> None:
    columns = np.array(lines, np.int32).reshape(-1, 4).T
    bus, kind, wide, length = columns
    codes = forms.code_of(bus, kind + wide, length)
    assert codes.dtype == np.int32
    assert (codes > 0).all()
    assert forms.bus_of(codes).tolist() == bus.tolist()
    assert forms.wide_of(codes).tolist() == (wide != 0).tolist()
    assert forms.length_of(codes).tolist() == length.tolist()
    for one in KINDS:
        assert forms.are(codes, one).tolist() == (kind == one).tolist()
    assert [
        int(forms.code_of(*line)) for line in zip(bus, kind + wide, length, strict=True)
    ] == codes.tolist()


def test_no_kind_is_that_of_an_unread_line() -> None:
    none = np.zeros(1, np.int32)
    assert not any(forms.are(none, kind)[0] for kind in KINDS)
    assert {kind // 2 for kind in KINDS} == {int(kind) for kind in Kind} - {int(Kind.UNREAD)}


@given(
    st.lists(st.sampled_from([b"a", b"b", b"c", b"01", b"1"]), max_size=6),
    st.lists(st.integers(0, 5), max_size=30),
)
def test_buses_get_the_numbers_of_the_table(names: list[bytes], which: list[int]) -> None:
    table = Table.empty(1)
    table.bus(b"c")
    table.bus(b"x")
    numbers = [number for number in which if number < len(names)]
    codes = forms.code_of(np.array(numbers, np.int32), FRAME + 1, np.int32(8))
    moved = renumbered(table, names, codes)
    assert [list(table.buses)[bus] for bus in forms.bus_of(moved).tolist()] == [
        names[number] for number in numbers
    ]
    assert (moved & 0x7FF).tolist() == (codes & 0x7FF).tolist()


def found(codes: list[int], digits: int = 6) -> Found:
    count = np.arange(len(codes))
    return Found(
        names=[b"can1", b"can0"],
        codes=np.array(codes, np.int32),
        times_ns=count + 100,
        idents=(count + 200).astype(np.uint32),
        data=(count + 300).astype(np.uint64),
        digits=digits,
    )


def test_only_rows_that_are_ok_are_written() -> None:
    table = Table.empty(5)
    table.bus(b"can0")
    codes = [forms.code_of(bus, FRAME, 4) for bus in (0, 1, 0)]
    found(codes).put(table, np.array([1, 2, 4]), np.array([True, False, True]))
    assert table.times_ns.tolist() == [0, 100, 0, 0, 102]
    assert table.idents.tolist() == [0, 200, 0, 0, 202]
    assert table.data.tolist() == [0, 300, 0, 0, 302]
    assert forms.bus_of(table.codes).tolist() == [0, 1, 0, 0, 1]
    assert list(table.buses) == [b"can0", b"can1"]
    assert table.digits == 6


@pytest.mark.parametrize("ok", [[], [False, False]])
def test_no_rows_tell_no_digits(ok: list[bool]) -> None:
    table = Table.empty(2)
    found([forms.code_of(0, FRAME, 1)] * len(ok)).put(table, np.arange(len(ok)), np.array(ok, np.bool_))
    assert table.digits == 0
    assert not table.codes.any()


@pytest.mark.parametrize(("decimals", "digits"), [(9, 6), (6, 9)])
def test_the_digits_of_stamps_make_up_the_resolution(decimals: int, digits: int) -> None:
    table = Table.empty(1)
    table.stamped(6, decimals)
    table.stamped(1, decimals)
    assert table.digits == digits
