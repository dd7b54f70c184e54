"""Walking a stream of BLF objects: every byte is in an object, in a listed break, or in the tail."""

import struct
import time

import pytest
from blf_kit import can_message, thing
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.trace.blf_objects import AHEAD, Pieces, walk

SMALL = thing(1, can_message(1, b"\1"))
LARGE = thing(65, b"some text, longer than a frame, of odd length.")
FORM_SIZE, FORM_KIND = 2, 3


def offsets(pieces: Pieces) -> list[int]:
    return sorted(int(offset) for _, run in pieces.runs for offset in run)


def slow_walk(data: bytes) -> list[int]:
    """Offsets of whole objects, one by one, as the structure says: for streams without breaks."""
    found, at = [], 0
    while at + 16 <= len(data):
        at = data.index(b"LOBJ", at)
        size = struct.unpack_from("<I", data, at + 8)[0]
        if at + size > len(data):
            break
        found.append(at)
        at += size
        while at < len(data) and data[at] == 0:
            at += 1
    return found


@settings(max_examples=60, deadline=None)
@given(
    kinds=st.lists(st.tuples(st.sampled_from([SMALL, LARGE]), st.integers(1, 200)), min_size=1, max_size=8),
    cut=st.integers(0, 60),
)
def test_runs_of_any_length_are_found_whole(kinds: list[tuple[bytes, int]], cut: int) -> None:
    data = b"".join(one * count for one, count in kinds)
    data = data[: len(data) - cut]
    pieces = walk(data)
    assert offsets(pieces) == slow_walk(data)
    assert not pieces.broken
    for (head, version, size, kind), run in pieces.runs:
        assert (head, version) == (32, 1)
        for offset in run.tolist():
            assert struct.unpack_from("<II", data, offset + 8) == (size, kind)


@given(junk=st.binary(max_size=300))
@settings(max_examples=200, deadline=None)
def test_junk_between_objects_is_listed_and_the_walk_goes_on(junk: bytes) -> None:
    pieces = walk(SMALL + junk + SMALL)
    found = offsets(pieces)
    assert found[0] == 0
    if b"LOBJ" not in junk:
        assert found[-1] == len(SMALL) + len(junk)
        assert len(found) == 2
        assert (
            bool(pieces.broken) == (bool(junk.strip(b"\0")) and junk.find(b"\0" * 0) == 0) or len(junk) <= 4
        )


@given(data=st.binary(max_size=2000))
@settings(max_examples=200, deadline=None)
def test_any_bytes_end_in_pieces(data: bytes) -> None:
    data = data.replace(b"\1\2", b"LOBJ")
    pieces = walk(data)
    for at in (*offsets(pieces), *(at for at, _ in pieces.broken)):
        assert 0 <= at < len(data)
    assert pieces.tail is None or 0 <= pieces.tail < len(data)


@pytest.mark.parametrize("count", [1, AHEAD - 1, AHEAD, AHEAD + 1, 5 * AHEAD, 4000])
def test_long_runs_are_few_pieces(count: int) -> None:
    pieces = walk(SMALL * count)
    assert sum(len(run) for _, run in pieces.runs) == count
    assert len(pieces.runs) <= 12


@pytest.mark.parametrize("size", [0, 1, 16, 31])
def test_objects_too_short_are_breaks(size: int) -> None:
    evil = struct.pack("<4sHHII", b"LOBJ", 32, 1, size, 1) + bytes(32)
    pieces = walk(SMALL + evil + SMALL)
    assert len(offsets(pieces)) == 2
    assert pieces.broken[0] == (len(SMALL), "an object whose length cannot be")


@pytest.mark.parametrize("kept", range(1, len(SMALL)))
def test_object_that_is_not_whole_is_the_tail(kept: int) -> None:
    pieces = walk(SMALL + SMALL[:kept])
    assert offsets(pieces) == [0]
    assert pieces.tail is not None or pieces.broken


def test_many_false_beginnings_take_no_quadratic_time() -> None:
    data = b"LOBJ" * 200_000
    started = time.perf_counter()
    pieces = walk(data)
    assert time.perf_counter() - started < 5
    assert pieces.broken
