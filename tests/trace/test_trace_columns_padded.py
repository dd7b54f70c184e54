"""Decimal fields with blanks in place of zeros: read together as each would be read alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace import columns
from interlock.trace.asc_lines import grammar
from interlock.trace.bulk import tabulate
from interlock.trace.lines import split
from interlock.trace.shape import Kind, Shape


def matches(lines: list[bytes], *spans: tuple[int, int]) -> list[bool]:
    """Which lines are like the first one, if these spans are loose digits that may be padded."""
    text = b"\n".join(lines) + b"\n" + bytes(columns.AHEAD)
    starts = np.arange(len(lines), dtype=np.int64) * (len(lines[0]) + 1)
    shape = Shape(Kind.FRAME, loose=spans, padded=True)
    return columns.matching(columns.gather_text(text, starts, len(lines[0])), lines[0], shape).tolist()


@pytest.mark.parametrize(
    ("field", "good"),
    [
        (b"123", True),
        (b" 23", True),
        (b"  3", True),
        (b"003", True),
        (b"   ", False),
        (b"1 3", False),
        (b" 1 ", False),
        (b"12 ", False),
        (b"\t23", False),
        (b"!23", False),
        (b" !3", False),
        (b"x23", False),
        (b"12x", False),
        (b"0:3", False),
        (b"\x0023", False),
        (b"\xa023", False),
        (b"-23", False),
    ],
)
@pytest.mark.parametrize("before", range(9))
def test_blanks_may_only_lead(field: bytes, good: bool, before: int) -> None:
    head = b"a" * before
    assert matches([head + b"123z", head + field + b"z"], (before, before + 3)) == [True, good]


@given(st.lists(st.binary(min_size=3, max_size=3), min_size=1, max_size=8), st.integers(0, 12))
def test_any_bytes_match_if_and_only_if_they_are_a_padded_number(fields: list[bytes], before: int) -> None:
    fields = [field.replace(b"\n", b"n") for field in fields]
    head = b"b" * before
    lines = [head + b"  7;", *(head + field + b";" for field in fields)]
    expected = [field.lstrip(b" ").isdigit() and field.isascii() for field in fields]
    assert matches(lines, (before, before + 3))[1:] == expected


BYTES = st.lists(st.integers(0, 255), min_size=1, max_size=8)


@given(st.lists(st.tuples(st.integers(0, 9999), BYTES, st.booleans()), min_size=1, max_size=30))
def test_padded_and_ragged_decimal_lines_hold_the_same(frames: list[tuple[int, list[int], bool]]) -> None:
    lines = []
    for second, data, padded in frames:
        form = "{:3d}" if padded else "{:d}"
        payload = " ".join(form.format(byte) for byte in data)
        stamp = f"{second:{9 if padded else 0}}.{second:06}"
        lines.append(f"{stamp} 1  {second % 2048:<15} Rx   d {len(data)} {payload}\n".encode())
    table = tabulate(split(b"".join(lines)), grammar(b"dec"))
    assert not table.reason_of.any()
    assert table.times_ns.tolist() == [second * 10**9 + second * 1000 for second, _, _ in frames]
    assert table.idents.tolist() == [second % 2048 for second, _, _ in frames]
    assert table.data.tolist() == [int.from_bytes(bytes(data), "little") for _, data, _ in frames]
