"""Numbers out of columns of text, against Python's own int() and base64."""

import base64

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace import columns
from interlock.trace.shape import Kind, Shape


def text_of(lines: list[bytes]) -> columns.Text:
    joined = b"\n".join(lines) + bytes(17)
    starts = np.cumsum([0, *(len(line) + 1 for line in lines[:-1])])
    return columns.gather_text(joined, starts, len(lines[0]))


@given(
    before=st.integers(0, 20),
    after=st.integers(0, 10),
    digits=st.integers(1, 16),
    numbers=st.lists(st.integers(0, 10**16 - 1), min_size=1, max_size=9),
)
def test_decimal_is_what_int_says(before: int, after: int, digits: int, numbers: list[int]) -> None:
    written = [str(number % 10**digits).zfill(digits) for number in numbers]
    text = text_of([("9" * before + one + "7" * after).encode() for one in written])
    assert columns.decimal(text, (before, before + digits)).tolist() == [int(one) for one in written]


@given(
    before=st.integers(0, 12),
    words=st.integers(1, 12).flatmap(
        lambda size: st.lists(
            st.text("0123456789abcdefABCDEF", min_size=size, max_size=size), min_size=1, max_size=9
        )
    ),
)
def test_hexadecimal_is_what_int_says(before: int, words: list[str]) -> None:
    text = text_of([("x" * before + word + "x").encode() for word in words])
    numbers, wrong = columns.hexadecimal(text, (before, before + len(words[0])))
    assert not wrong.any()
    assert numbers.tolist() == [int(word, 16) for word in words]


@given(st.lists(st.binary(min_size=4, max_size=4), min_size=1, max_size=20))
def test_what_is_no_hexadecimal_number_is_marked(lines: list[bytes]) -> None:
    text = text_of(lines)
    allowed = set(b"0123456789abcdefABCDEF")
    _, wrong = columns.hexadecimal(text, (0, 3))
    assert wrong.tolist() == [not set(line[:3]) <= allowed for line in lines]
    _, wrong = columns.hex_bytes(text, ((0, 2), (2, 4)))
    assert wrong.tolist() == [not set(line) <= allowed for line in lines]


@given(st.lists(st.binary(min_size=7, max_size=7), min_size=1, max_size=9))
def test_hex_bytes_with_blanks_between(payloads: list[bytes]) -> None:
    text = text_of([payload.hex(" ").encode() for payload in payloads])
    block, wrong = columns.hex_bytes(text, [(3 * n, 3 * n + 2) for n in range(7)])
    assert not wrong.any()
    assert [row.tobytes() for row in block] == payloads


@given(
    st.integers(1, 64).flatmap(
        lambda size: st.lists(st.binary(min_size=size, max_size=size), min_size=1, max_size=9)
    )
)
def test_base64_is_what_the_standard_library_decodes(payloads: list[bytes]) -> None:
    lines = [base64.b64encode(payload) for payload in payloads]
    block, wrong = columns.base64_bytes(text_of(lines), (0, len(lines[0])), len(payloads[0]), lines[0])
    assert not wrong.any()
    assert [row.tobytes() for row in block] == payloads


def test_base64_with_padding_in_the_wrong_place_is_marked() -> None:
    lines = [b"AAAAAAA=", b"AA=AAAA=", b"A A AAA=", b"AAAAAA=="]
    _, wrong = columns.base64_bytes(text_of(lines), (0, 8), 5, lines[0])
    assert wrong.tolist() == [False, True, True, True]


@pytest.mark.parametrize("bad", range(256))
def test_only_digits_match_a_decimal_field(bad: int) -> None:
    shape = Shape(Kind.FRAME, seconds=(1, 10), fraction=(11, 12))
    model = b"(123456789.0)"
    lines = [model, model[:4] + bytes([bad]) + model[5:]]
    matching = columns.matching(text_of(lines), model, shape)
    assert matching.tolist() == [True, bad in b"0123456789"]


@pytest.mark.parametrize("place", [0, 10, 12])
@pytest.mark.parametrize("bad", [0, 48, 200, 255])
def test_bytes_outside_of_fields_must_be_the_same(place: int, bad: int) -> None:
    shape = Shape(Kind.FRAME, seconds=(1, 10), fraction=(11, 12))
    model = b"(123456789.0)"
    lines = [model, model[:place] + bytes([bad]) + model[place + 1 :]]
    assert columns.matching(text_of(lines), model, shape).tolist() == [True, False]


def test_last_line_of_the_text_is_gathered_whole() -> None:
    padded = b"abcdefgh" + bytes(16)
    text = columns.gather_text(padded, np.array([0]), 8)
    assert text[0, :8].tobytes() == b"abcdefgh"
    assert text.shape[1] % 8 == 0
