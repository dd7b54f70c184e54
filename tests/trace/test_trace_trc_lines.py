"""Single TRC lines: header patterns, and the shape of a frame line however it is spaced."""

import pytest

from interlock.trace.shape import Kind, Shape, fields_of
from interlock.trace.trc_lines import COLUMNS, START, STARTED, VERSION, grammar, looks_like

V21 = [b"N", b"O", b"T", b"B", b"I", b"d", b"R", b"L", b"D"]


@pytest.mark.parametrize(
    "line",
    [
        b";$FILEVERSION=2.1",
        b";$STARTTIME=43008.920986006946",
        b";$COLUMNS=N,O,T,B,I,d,R,L,D",
        b"     1)      1841  0001  8  00 00 00 00 00 00 00 00",
        b"     1)      1059.9  Rx         0300  7  00 00 00 00 04 00 00",
        b"     1)      1059.900 1  Rx        0300 -  7    00 00 00 00 04 00 00",
        b"      1      1059.900 DT     0300 Rx 7  00 00 00 00 04 00 00",
        b"      1      1059.900 DT 1      0300 Rx -  7    00 00 00 00 04 00 00  ",
    ],
)
def test_looks_like_its_own_lines(line: bytes) -> None:
    assert looks_like(line)


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"; a comment",
        b"(1790000000.000100) can0 120#0102 R",
        b" 0.004252 1  120             Rx   d 8 00 00 00 00 00 00 00 00",
        b"1790000000.25,0x120,0,0,0,2,AP8=",
        b"  can0  120   [2]  01 02",
    ],
)
def test_looks_like_no_line_of_another_format(line: bytes) -> None:
    assert not looks_like(line)


def test_header_lines() -> None:
    match = STARTED.fullmatch(b";   Start time: 24.03.2003 12:52:32.484")
    assert match is not None
    assert match[1] == b"24.03.2003 12:52:32.484"
    assert VERSION.fullmatch(b";$FILEVERSION=1.1")
    assert START.fullmatch(b";$STARTTIME=37704.5364870833")
    assert not START.fullmatch(b";$STARTTIME=37704,5364870833")
    assert COLUMNS.fullmatch(b";$COLUMNS=N,O,T,I,d,l,D")


@pytest.mark.parametrize("blank", [b" ", b"   ", b"\t", b" \t "])
def test_blanks_and_tabs_alike(blank: bytes) -> None:
    line = blank.join([b"", b"17", b"2.5", b"DT", b"2", b"0123", b"Rx", b"-", b"2", b"0A", b"fF"])
    shape = grammar(V21, numbered=False)(line)
    assert isinstance(shape, Shape)
    assert (shape.kind, shape.channel, shape.extended) == (Kind.FRAME, b"2", False)
    fields = fields_of(line, shape)
    assert (fields.time_ns, fields.ident, fields.payload) == (2_500_000, 0x123, b"\x0a\xff")


def test_number_may_be_missing_where_the_columns_say_so() -> None:
    shape = grammar([b"O", b"T", b"I", b"d", b"l", b"D"], numbered=False)(b" 2.5 DT 0123 Rx 1 0A")
    assert isinstance(shape, Shape)
    assert shape.loose == ()


def test_lines_that_differ_in_number_stamp_and_data_have_one_shape() -> None:
    read = grammar(V21, numbered=False)
    assert read(b"  10   1.500 DT 1 0123 Rx - 2 0A 0B") == read(b"  99   7.999 DT 1 0777 Rx - 2 FF 00")
