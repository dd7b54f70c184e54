"""Remembered heads of lines, not compiled: what is told of a head is what was said of the very same characters."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from interlock.trace import head_kernel, kernel_compiler, kernels

pytestmark = pytest.mark.skipif(
    kernel_compiler.COMPILER is not None, reason="compiled into the loops, which are tested as a whole"
)

LONGEST = 32
BEHIND = b"\n" + b"#" * kernels.AHEAD
HEAD = st.text("can01 310#x\t", max_size=40).map(str.encode)


@pytest.fixture(autouse=True)
def no_warnings() -> Iterator[None]:
    """Words overflow on purpose."""
    with np.errstate(over="ignore"):
        yield


def words_of(text: bytes) -> Any:
    return np.ndarray((len(text) - 7,), "<u8", text, 0, (1,))


def known_in(heads: Any, text: bytes, size: int) -> tuple[int, tuple[int, int, int, int]]:
    """The size of the head that is remembered of a text, and what it tells."""
    words = words_of(text + BEHIND)
    slot = head_kernel.slot_of(words, 0, size)
    return head_kernel.remembered(words, 0, heads, slot), head_kernel.told_by(heads, slot)


@given(st.lists(st.tuples(HEAD, st.binary(max_size=9)), min_size=1, max_size=40))
@example([(b" can0 310#", b""), (b" can0 31", b"0#00"), (b" can0 310#", b"FF"), (b" can1 310#", b"FF")])
def test_a_head_tells_what_was_said_of_the_same_characters(lines: list[tuple[bytes, bytes]]) -> None:
    heads, said = head_kernel.no_heads(), dict[bytes, tuple[int, int, int, int]]()
    sizes = (0, 0)
    for number, (head, behind) in enumerate(lines):
        text = head + behind
        known, told = known_in(heads, text, sizes[0])
        if known:
            assert told == said[text[:known]]
            sizes = (sizes[0], 0)
            continue
        said[head] = (number, number + 1, number + 2, number + 3)
        head_kernel.remember(words_of(text + BEHIND), 0, len(head), heads, said[head])
        sizes = head_kernel.unusual(sizes, len(head))
        assert known_in(heads, text, len(head))[0] in (len(head) if 0 < len(head) <= LONGEST else 0, 0)


@given(st.binary(max_size=60))
@example(b"\0" * 40)
def test_nothing_is_known_before_the_first_line(text: bytes) -> None:
    for size in (0, 5, 8, 16, 40):
        assert known_in(head_kernel.no_heads(), text, size)[0] == 0


@pytest.mark.parametrize("size", [0, 1, 7, 8, 9, 16, 31, 32, 33, 40])
def test_only_heads_of_some_size_are_remembered(size: int) -> None:
    heads, text = head_kernel.no_heads(), bytes(range(65, 65 + size))
    head_kernel.remember(words_of(text + BEHIND), 0, size, heads, (1, 2, 3, 4))
    known, told = known_in(heads, text, size)
    assert known == (size if 0 < size <= LONGEST else 0)
    assert not known or told == (1, 2, 3, 4)


@pytest.mark.parametrize("size", [1, 8, 13, 32])
def test_each_character_of_a_head_counts_and_none_behind_it(size: int) -> None:
    text = bytearray(range(65, 65 + size + 3))
    heads = head_kernel.no_heads()
    head_kernel.remember(words_of(bytes(text) + BEHIND), 0, size, heads, (1, 2, 3, 4))
    for place in range(len(text)):
        other = bytearray(text)
        other[place] ^= 1
        words = words_of(bytes(other) + BEHIND)
        slot = head_kernel.slot_of(words_of(bytes(text) + BEHIND), 0, size)
        assert head_kernel.remembered(words, 0, heads, slot) == (0 if place < size else size)


def test_a_size_is_sought_when_it_came_twice_in_a_row() -> None:
    sizes = (0, 0)
    met = []
    for size in (10, 10, 12, 10, 12, 12):
        sizes = head_kernel.unusual(sizes, size)
        met.append(sizes[0])
    assert met == [0, 10, 10, 10, 10, 12]
