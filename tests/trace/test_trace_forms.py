"""The numbers of forms and the shapes that they stand for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace.forms import (
    COMMENT,
    ERROR,
    ERROR_WIDE,
    EVENT,
    FRAME,
    KINDS,
    LENGTHS,
    REMOTE,
    Forms,
    code_of,
)
from interlock.trace.lines import Table
from interlock.trace.shape import Kind

CHANNELS = [b"can0", b"can1", b"7"]
FORMS = Forms(CHANNELS, digits=6)


@given(channel=st.integers(0, 2), kind=st.integers(0, KINDS - 1), length=st.integers(0, LENGTHS - 1))
def test_a_number_tells_channel_kind_and_length(channel: int, kind: int, length: int) -> None:
    shape = FORMS.shape(int(code_of(channel, kind, length)))
    if kind == COMMENT:
        assert (shape.kind, shape.length, shape.channel) == (Kind.COMMENT, 0, b"")
        return
    assert shape.length == length
    assert shape.channel == (b"" if kind in (ERROR, EVENT) else CHANNELS[channel])
    assert shape.extended == (kind in (FRAME + 1, REMOTE + 1, ERROR_WIDE))
    assert shape.kind == {0: Kind.FRAME, 1: Kind.REMOTE, 2: Kind.ERROR, 3: Kind.EVENT}[kind // 2]


def test_no_two_forms_share_a_number_and_none_is_zero() -> None:
    channel, kind, length = np.meshgrid(np.arange(16), np.arange(KINDS), np.arange(LENGTHS))
    codes = code_of(channel, kind, length)
    assert len(set(codes.ravel().tolist())) == codes.size
    assert codes.min() == 1


def test_rows_of_no_form_stay_unread_and_long_payloads_are_told() -> None:
    table = Table.empty(6)
    which = np.array([0, code_of(1, FRAME, 8), code_of(0, FRAME + 1, 12), 0, code_of(0, FRAME, 64)])
    long, lengths = FORMS.note(table, np.arange(5), which)
    assert long.tolist() == [2, 4]
    assert lengths.tolist() == [12, 64]
    forms = list(table.forms)
    assert [forms[form] for form in table.form_of.tolist()] == [
        (Kind.UNREAD, False, 0, b""),
        (Kind.FRAME, False, 8, b"can1"),
        (Kind.FRAME, True, 12, b"can0"),
        (Kind.UNREAD, False, 0, b""),
        (Kind.FRAME, False, 64, b"can0"),
        (Kind.UNREAD, False, 0, b""),
    ]


@pytest.mark.parametrize(("decimals", "digits"), [(9, 6), (6, 9)])
def test_the_digits_of_stamps_make_up_the_resolution(decimals: int, digits: int) -> None:
    table = Table.empty(1)
    Forms(CHANNELS, 6, decimals).note(table, np.arange(1), np.array([code_of(0, FRAME, 1)]))
    assert table.digits == digits


def test_remarks_have_no_stamp_and_tell_no_digits() -> None:
    table = Table.empty(1)
    FORMS.note(table, np.arange(1), np.array([code_of(0, COMMENT, 0)]))
    assert table.digits == 0


def test_no_rows_are_no_forms() -> None:
    table = Table.empty(0)
    long, lengths = FORMS.note(table, np.arange(0), np.zeros(0, np.int32))
    assert len(long) == len(lengths) == 0
    assert len(table.forms) == 1
