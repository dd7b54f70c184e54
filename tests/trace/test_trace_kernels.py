"""The pieces of the compiled loops, not compiled, against what Python itself says of the same characters."""

import base64
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from interlock.trace import asc_kernel, csv_kernel, kernel_compiler, kernels, trc_kernel, word_kernel
from interlock.trace.reading import LENGTHS_FD

pytestmark = pytest.mark.skipif(
    kernel_compiler.COMPILER is not None, reason="compiled into the loops, which are tested as a whole"
)

BEHIND = b"\n" + b"#" * kernels.AHEAD
WORD = st.binary(min_size=8, max_size=8)
DIGIT = st.sampled_from(b"0123456789abcdefABCDEF")
HEXISH = st.lists(st.one_of(DIGIT, DIGIT, DIGIT, st.integers(0, 255)), min_size=8, max_size=8).map(bytes)
LINE = st.text("0123456789.abfgxF \t#", max_size=40).map(str.encode)


@pytest.fixture(autouse=True)
def no_warnings() -> Iterator[None]:
    """Words overflow on purpose."""
    with np.errstate(over="ignore"):
        yield


def words_of(text: bytes) -> Any:
    return np.ndarray((len(text) - 7,), "<u8", text, 0, (1,))


def word(text: bytes) -> np.uint64:
    return np.uint64(int.from_bytes(text, "little"))


def is_hex(text: bytes) -> bool:
    return re.fullmatch(rb"[0-9a-fA-F]*", text) is not None


@given(HEXISH)
@example(b"0123abCD")
@example(b"ffffffff")
@example(b"gggggggg")
@example(b"@ABCDEF`")
@example(b"/0123456")
def test_eight_digits_are_four_bytes_or_wrong(text: bytes) -> None:
    value, wrong = word_kernel.hex_word(word(text))
    assert (wrong == 0) == is_hex(text)
    if is_hex(text):
        assert int(value).to_bytes(4, "little") == bytes.fromhex(text.decode())
        assert word_kernel.swapped(value) == int(text, 16)


@pytest.mark.parametrize("character", range(256))
def test_every_character_is_a_digit_or_none(character: int) -> None:
    one = bytes([character])
    assert (word_kernel.HEX[character] < 16) == is_hex(one)
    for place in range(8):
        text = b"0" * place + one + b"0" * (7 - place)
        assert (word_kernel.hex_word(word(text))[1] == 0) == is_hex(one)


@given(HEXISH, st.integers(0, 8))
def test_what_stands_behind_the_digits_does_not_matter(text: bytes, count: int) -> None:
    value, wrong = word_kernel.short_hex(word(text), count)
    assert (wrong == 0) == is_hex(text[:count])
    if is_hex(text[:count]):
        assert int(value).to_bytes(4, "little") == bytes.fromhex(text[:count].decode().ljust(8, "0"))


@given(st.integers(0, 99_999_999))
def test_eight_decimal_digits_are_a_number(number: int) -> None:
    apart = word(b"%08d" % number) ^ word_kernel.ZEROS
    assert word_kernel.number_of(apart) == number


@given(st.binary(max_size=8), st.binary(min_size=0, max_size=6))
def test_bytes_behind_single_blanks_are_read_at_once(data: bytes, behind: bytes) -> None:
    text = b"".join(b" %02x" % one for one in data) + behind + BEHIND
    found, good = word_kernel.even_at(words_of(text), 0, len(data))
    assert good
    assert int(found).to_bytes(8, "little") == data.ljust(8, b"\0")


@given(data=st.binary(min_size=1, max_size=8), place=st.integers(0, 23), character=st.integers(0, 255))
def test_one_wrong_character_is_seen(data: bytes, place: int, character: int) -> None:
    text = bytearray(b"".join(b" %02X" % one for one in data) + BEHIND)
    place %= 3 * len(data)
    text[place] = character
    good = is_hex(bytes([character])) if place % 3 else character == ord(" ")
    assert word_kernel.even_at(words_of(bytes(text)), 0, len(data))[1] == good


@given(
    data=st.binary(max_size=64),
    blanks=st.lists(st.sampled_from([b" ", b"  ", b"\t", b" \t ", b" " * 11]), min_size=64, max_size=64),
)
def test_bytes_behind_any_blanks_are_read(data: bytes, blanks: list[bytes]) -> None:
    line = b"".join(gap + b"%02x" % one for gap, one in zip(blanks, data, strict=False))
    text = line + BEHIND
    found, end = kernels.parted_at(text, words_of(text), 0, len(line), len(data))
    assert end == len(line)
    assert int(found).to_bytes(8, "little") == data[:8].ljust(8, b"\0")
    block = np.zeros((1, len(data)), np.uint8)
    kernels.long_hex(text, np.array([0]), block)
    assert block.tobytes() == data
    assert kernels.parted_at(text, words_of(text), 0, len(line), len(data) + 1)[1] == -1


@given(st.lists(LINE, min_size=1, max_size=6), st.sampled_from([6, 9]))
@example([b"1790000000.5", b"1790000000.25", b"1790000000.123456789"], 9)
@example([b"123456789012.1", b"123456789013.1", b"1234567890123.1"], 9)
@example([b"7.123456", b"7.1234567", b"7.12345"], 6)
@example([b"1790000000.25x", b"1790000001.2x", b"1790000000.25"], 6)
def test_stamps_are_read_whatever_stood_before(lines: list[bytes], places: int) -> None:
    """What is remembered of one line never changes what the next one says."""
    last = kernels.no_stamp()
    for line in lines:
        text = line + BEHIND
        seconds, fraction, end, last = kernels.stamp_at(text, words_of(text), 0, len(line), places, last)
        match = re.match(rb"([0-9]{1,12})\.([0-9]+)", line)
        if match is None or len(match[2]) > places:
            assert min(seconds, fraction) < 0
            continue
        assert (seconds, fraction) == (int(match[1]), int(match[2].ljust(places, b"0")))
        assert (end, last[4]) == (match.end(), len(match[2]))


@given(LINE)
@example(b"310 ")
@example(b"0310 ")
@example(b"18FF50E5x")
@example(b"1234567890")
@example(b"")
def test_identifiers_end_where_their_digits_end(line: bytes) -> None:
    text = line + BEHIND
    ident, end = kernels.ident_at(text, 0, len(line))
    digits = re.match(rb"[0-9a-fA-F]{0,9}", line)[0]
    assert (ident, end) == (int(digits or b"0", 16), len(digits))


def test_channels_are_told_apart_and_beyond_the_last_one_refused() -> None:
    names = [b"can0", b"can1", b"can", b"longchannel0", b"longchannel1", b"c"]
    text = b" ".join(names * 3) + BEHIND
    places = [(match.start(), match.end()) for match in re.finditer(rb"[a-z0-9]+", text[: -len(BEHIND)])]
    for most, told in ((16, [0, 1, 2, 3, 4, 5] * 3), (2, [0, 1, -1, -1, -1, -1] * 3)):
        slots, kept = np.zeros((most, 2), np.int64), np.zeros(most, np.uint64)
        found = [kernels.channel_at(text, words_of(text), *place, slots, kept) for place in places]
        assert found == told


@given(st.binary(max_size=64), st.data())
def test_base64_is_what_the_standard_library_writes(payload: bytes, data: st.DataObject) -> None:
    """RFC 4648, section 4, as Python's own module."""
    line = base64.b64encode(payload)
    length, found = csv_kernel.unpacked(line + BEHIND, 0, len(line))
    assert (length, int(found).to_bytes(8, "little")) == (len(payload), payload[:8].ljust(8, b"\0"))
    block = np.zeros((1, len(payload)), np.uint8)
    csv_kernel.long_base64(line + BEHIND, np.array([0]), block)
    assert block.tobytes() == payload
    if line:
        place, character = data.draw(st.integers(0, len(line) - 1)), data.draw(st.integers(0, 255))
        spoilt = line[:place] + bytes([character]) + line[place + 1 :]
        form = rb"(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{3}=|[A-Za-z0-9+/]{2}==)?"
        good = re.fullmatch(form, spoilt) is not None
        assert (csv_kernel.unpacked(spoilt + BEHIND, 0, len(spoilt))[0] >= 0) == good


@pytest.mark.parametrize("size", range(-1, 70))
def test_lengths_of_trc_frames(size: int) -> None:
    """Codes 9 to 15 stand for 12 to 64 bytes (ISO 11898-1:2015, data length code)."""
    data, flexible, remote = 1, 2, 3
    assert trc_kernel.length_of(remote, 8, size) == 0
    if size >= 0:
        assert trc_kernel.length_of(data, 3, size) == (size if size in LENGTHS_FD else -1)
    by_code = LENGTHS_FD[size] if 0 <= size <= 15 else -1
    assert trc_kernel.length_of(flexible, size, -1) == by_code
    assert trc_kernel.length_of(data, size, -1) == (size if 0 <= size <= 8 else -1)


@pytest.mark.parametrize(
    ("line", "good"),
    [
        (b" 1 2f 0123456789ab", True),
        (b"", True),
        (b"  ", True),
        (b" 0123456789abc", False),
        (b" 1 g", False),
        (b"1 2", False),
    ],
)
def test_the_rest_of_a_flexible_frame_is_hexadecimal(line: bytes, good: bool) -> None:
    text = line + BEHIND
    assert asc_kernel.all_hex(text, words_of(text), 0, len(line)) == good


@pytest.mark.parametrize(
    ("line", "end"),
    [(b" Name_1 0", 7), (b" 0 0", 0), (b" _x9", 4), (b" 9a", 0), (b"", 0), (b" Z", 2)],
)
def test_a_symbolic_name_is_passed_over(line: bytes, end: int) -> None:
    text = line + BEHIND
    assert asc_kernel.behind_name(text, words_of(text), 0, len(line)) == end
