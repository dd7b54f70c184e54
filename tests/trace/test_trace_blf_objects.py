"""Walking a stream of BLF objects: every byte is in an object, in a listed break, or in the tail."""

import random
import struct
import time

import pytest
from blf_kit import can_message, thing
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.trace.blf_objects import AHEAD, Pieces, walk

SMALL = thing(1, can_message(1, b"\1"))
LARGE = thing(65, b"some text, longer than a frame, of odd length.")


def offsets(pieces: Pieces) -> list[int]:
    return sorted(int(offset) for chain in pieces.chains for offset in chain.offsets)


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
    for chain in pieces.chains:
        for form, _, run in chain.by_form():
            for offset in run.tolist():
                assert struct.unpack_from("<HHII", data, offset + 4) == form


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
    assert sum(len(chain.offsets) for chain in pieces.chains) == count
    assert len(pieces.chains) <= 12


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


def things_of(seed: int) -> bytes:
    """Objects of many sizes and forms; some hold what looks like the beginning of another."""
    source = random.Random(seed)
    found = []
    for _ in range(source.randrange(1, 300)):
        body = source.randbytes(source.choice([0, 4, 16, 16, 16, 17, 30, 63, 80]))
        if source.random() < 0.1:
            body = b"ab" * source.randrange(3) + b"LOBJ" + body
        found.append(thing(source.choice([1, 86, 65]), body, version=source.choice([1, 1, 1, 2])))
    return b"".join(found)


@pytest.mark.parametrize("seed", range(25))
def test_objects_of_mixed_forms_are_found_as_one_by_one(seed: int) -> None:
    data = things_of(seed)
    pieces = walk(data)
    assert offsets(pieces) == slow_walk(data)
    for chain in pieces.chains:
        rows = [row for _, part, _ in chain.by_form() if part is not None for row in part.tolist()]
        assert sorted(rows) == ([] if chain.which is None else list(range(len(chain.offsets))))


@pytest.mark.parametrize("seed", range(25))
def test_a_stream_walked_in_parts_holds_the_same_objects(seed: int) -> None:
    source = random.Random(seed)
    data = things_of(seed)
    if seed % 2:
        at = source.randrange(len(data))
        data = data[:at] + source.randbytes(source.randrange(30)) + data[at:]
    whole, found, broken, rest, at = walk(data), [], [], b"", 0
    while at < len(data):
        step = source.choice([1, 50, 700, 5000])
        begin, rest, at = at - len(rest), rest + data[at : at + step], at + step
        pieces = walk(rest, more=at < len(data))
        found += [begin + offset for offset in offsets(pieces)]
        broken += [(begin + place, why) for place, why in pieces.broken]
        tail = pieces.tail
        rest = b"" if tail is None else rest[tail:]
    assert found == offsets(whole)
    assert broken == whole.broken


def test_more_forms_than_are_told_apart_in_one_chain() -> None:
    data = b"".join(thing(65, bytes(4 * n)) for n in range(400))
    pieces = walk(data)
    assert offsets(pieces) == slow_walk(data)
    assert len(pieces.chains) > 1
