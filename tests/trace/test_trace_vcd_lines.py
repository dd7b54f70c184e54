"""Lines of a value change dump read many at once: as they are read one by one, whatever they are."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace import vcd_lines
from interlock.trace.lines import split
from interlock.trace.vcd_header import Wire
from interlock.trace.vcd_lines import TORN, Codes, Taken, take

WIRES = {
    b"!": Wire("EN", 1, False, True),
    b'"': Wire("STEP", 1, False, False),
    b"#a": Wire("POS", 12, False, True),
    b"%": Wire("U", 64, True, True),
    b"code_of_many_characters": Wire("LONG", 4, False, True),
    b"wide": Wire("WIDE", 99, False, True),
    b"none": Wire("NONE", 0, False, True),
}
LINES = [
    b"#0",
    b"#12",
    b"#999999999999999999",
    b"#18446744073709551615",
    b"#9999999999999999999",
    b"#1x",
    b"#",
    b"1!",
    b'0"',
    b"x!",
    b'Z"',
    b"z!",
    b"2!",
    b"1?",
    b"1%",
    b"1none",
    b"1wide",
    b"1 !",
    b"1!\t",
    b"1code_of_many_characters",
    b"b101 #a",
    b"B101  #a",
    b"b101\t#a",
    b"b1x01 #a",
    b"b0000000000101 #a",
    b"b1 !",
    b"b10 !",
    b"b1 %",
    b"b12 #a",
    b"b #a",
    b"b",
    b"b" + b"10" * 30 + b" wide",
    b"b" + b"1" * 53 + b" wide",
    b"b1 code_of_many_characters",
    b"r1.5 %",
    b"r1_5 %",
    b"r1.5 !",
    b"rabc %",
    b"$dumpvars",
    b"$end",
    b"$nonsense",
    b"",
    b"   ",
    b" #7",
    b"hello",
    b"\xff\xfe",
]


def seen(taken: Taken) -> tuple[object, ...]:
    values = [None if np.isnan(value) else value for value in taken.values.tolist()]
    return (
        taken.stamp_rows.tolist(),
        taken.stamps.tolist(),
        taken.change_rows.tolist(),
        taken.wires.tolist(),
        values,
        taken.rejected,
    )


def one_by_one(text: bytes, first: int) -> Taken:
    """As `take`, without its ways to read many lines at once."""
    with pytest.MonkeyPatch.context() as patch:
        for way in ("_stamps", "_scalars", "_vectors"):
            patch.setattr(vcd_lines, way, lambda _: None)
        return take(split(text), first, Codes(WIRES))


TEXTS = st.lists(st.one_of(st.sampled_from(LINES), st.binary(max_size=12)), max_size=30)


@given(TEXTS, st.sampled_from([b"", b"\n", b"\r\n"]), st.integers(0, 3))
def test_many_at_once_as_one_by_one(lines: list[bytes], end: bytes, first: int) -> None:
    text = (end.strip(b"\n") + b"\n").join(lines) + end
    assert seen(take(split(text), first, Codes(WIRES))) == seen(one_by_one(text, first))


@pytest.mark.parametrize("seed", range(6))
def test_long_texts_as_one_by_one(seed: int) -> None:
    source = random.Random(seed)
    text = b"".join(line + b"\n" for line in source.choices(LINES, k=3000))
    assert seen(take(split(text), 0, Codes(WIRES))) == seen(one_by_one(text, 0))


def test_what_lines_of_each_kind_are() -> None:
    taken = take(split(b'#5\n1!\nb101 #a\nr-2.5 %\nx"\n#7\n$end\n\nhm\n#6'), 0, Codes(WIRES))
    assert (taken.stamp_rows.tolist(), taken.stamps.tolist()) == ([0, 5], [5, 7])
    assert taken.wires.tolist() == [0, 1, 2, -1]  # STEP is not wanted
    assert taken.values.tolist()[:3] == [1.0, 5.0, -2.5]
    assert np.isnan(taken.values[3])
    assert [(row, why[:12]) for row, why in taken.rejected] == [(8, "neither a ti"), (9, TORN[:12])]


@pytest.mark.parametrize("bits", [1, 12, 52, 53, 54, 64, 99])
def test_vectors_hold_the_number_that_their_digits_write(bits: int) -> None:
    number = random.Random(bits).getrandbits(bits) | 1 << (bits - 1)
    taken = take(split(f"b{number:b} wide\n".encode()), 0, Codes(WIRES))
    assert taken.values.tolist() == [float(number)]


def test_rows_before_the_first_are_not_looked_at() -> None:
    taken = take(split(b"junk\n#1\n1!\n"), 1, Codes(WIRES))
    assert (taken.stamp_rows.tolist(), taken.change_rows.tolist(), taken.rejected) == ([1], [2], [])


def test_no_wires_no_changes() -> None:
    taken = take(split(b"1!\n"), 0, Codes({}))
    assert [row for row, _ in taken.rejected] == [0]
