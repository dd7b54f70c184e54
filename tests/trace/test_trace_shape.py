"""Values of one line, exactly."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace.shape import MAX_SECONDS, BadField, Kind, Shape, fields_of


@given(st.integers(0, MAX_SECONDS), st.text("0123456789", min_size=1, max_size=9))
def test_stamps_are_exact_to_the_nanosecond(seconds: int, fraction: str) -> None:
    line = f"{seconds}.{fraction}".encode()
    point = line.index(b".")
    shape = Shape(Kind.EVENT, seconds=(0, point), fraction=(point + 1, len(line)))
    expected = seconds * 10**9 + int(fraction.ljust(9, "0"))
    assert fields_of(line, shape).time_ns == expected
    assert expected < 2**63


def test_stamp_that_a_float_cannot_hold() -> None:
    line = b"1790000000.123456789"
    assert fields_of(line, Shape(Kind.EVENT, seconds=(0, 10), fraction=(11, 20))).time_ns % 1000 == 789


@pytest.mark.parametrize(
    ("line", "shape", "reason"),
    [
        (b"800", Shape(Kind.FRAME, ident=(0, 3)), "beyond 11 bits"),
        (b"20000000", Shape(Kind.FRAME, ident=(0, 8), extended=True), "beyond 29 bits"),
        (b"9000000001", Shape(Kind.FRAME, seconds=(0, 10)), "beyond the year"),
        (b"256", Shape(Kind.FRAME, payload=((0, 3),), encoding="dec", length=1), "beyond 255"),
    ],
)
def test_values_that_cannot_be(line: bytes, shape: Shape, reason: str) -> None:
    with pytest.raises(BadField, match=reason):
        fields_of(line, shape)


@pytest.mark.parametrize(
    ("line", "encoding", "payload"),
    [(b"0aFF", "hex", ((0, 2), (2, 4))), (b"10255", "dec", ((0, 2), (2, 5))), (b"Cv8=", "base64", ((0, 4),))],
)
def test_payload_in_each_encoding(line: bytes, encoding: str, payload: tuple[tuple[int, int], ...]) -> None:
    assert (
        fields_of(line, Shape(Kind.FRAME, payload=payload, encoding=encoding, length=2)).payload
        == b"\x0a\xff"
    )
