"""The compiled loop over BLF objects finds the frames, refusals and breaks that the walk by numpy finds."""

import random
import struct

import numpy as np
import pytest
from blf_kit import can_message, can_message2, container, fd_message_64, frames, header, thing
from hypothesis import example, given, settings
from hypothesis import strategies as st
from trace_kit import read, rows_of

from interlock.trace import blf, blf_lane
from interlock.trace import lane as lane_module
from interlock.trace.blf_lane import linked
from interlock.trace.blf_objects import walk
from interlock.trace.blf_payload import Block, block_of
from interlock.trace.payloads import filled

FD_LENGTHS = (*range(9), 12, 16, 20, 24, 32, 48, 64)
IDENTS = (0, 0x7FF, 0x800, 0x80000000, 0x9FFFFFFF, 0xA0000000, 0xFFFFFFFF, 0x123)
STAMPS = (0, 1, 10**14, 10**14 + 1, 10**18, 10**18 + 1, 2**63, 2**64 - 1)


def fd_message(ident: int, payload: bytes, *, dlc: int, there: int, flags: int = 0) -> bytes:
    """The body of a CAN_FD_MESSAGE (type 100); `there` bytes of the payload are really written."""
    return struct.pack("<HBBIIBBB5x", 1, flags, dlc, ident, 0, 0, 0, len(payload)) + payload[:there]


def some_object(source: random.Random) -> bytes:
    """One object of any kind; some are spoilt."""
    kind = source.choice([1, 1, 1, 86, 86, 100, 101, 2, 73, 10, 104, 999])
    payload = source.randbytes(source.choice(FD_LENGTHS if kind in (100, 101) else range(9)))
    code = FD_LENGTHS.index(len(payload)) if len(payload) in FD_LENGTHS else 15
    code = source.choice([code] * 9 + [15, 16, 255])
    ident, there = source.choice(IDENTS), source.choice([len(payload)] * 5 + [0, 64])
    body = {
        1: can_message(ident, payload, dlc=code, flags=source.choice([0, 0, 0x80, 0x7F]), channel=0x1234),
        86: can_message2(ident, payload),
        100: fd_message(ident, payload, dlc=code, there=there, flags=source.choice([0, 0x80])),
        101: fd_message_64(ident, payload, dlc=code, there=there, flags=source.choice([0x1000, 0x10])),
    }.get(kind, source.randbytes(16))
    body = source.choice([body] * 9 + [body[:-1], body[:3], body + b"LOBJ"])
    version, flags = source.choice([1, 1, 1, 2, 3, 0]), source.choice([2, 2, 2, 1, 0, 3])
    one = thing(kind, body, stamp=source.choice(STAMPS), flags=flags, version=version)
    if source.random() < 0.06:
        one = one[:8] + struct.pack("<I", source.choice([0, 8, 31, 33, 2**31, len(one) + 9])) + one[12:]
    return one + source.choice([b""] * 12 + [b"\0" * 3, b"x" * 4, b"LOB", b"\0" * 9, b"12345"])


def said(data: bytes, *, compiled: bool, more: bool = False) -> tuple[object, ...]:
    """Each object with all that is read of it, the breaks, and where the tail begins; chains may be cut anywhere."""
    pieces = walk(data, more=more, linker=linked if compiled else None)
    objects, others = [], dict[int, int]()
    for chain in pieces.chains:
        with np.errstate(over="ignore"):  # where the loop is not compiled
            block = block_of(data, chain, chain.offsets)
        objects.extend(one for one in told(block) if one[1] != Block.OTHER)
        for kind, rows, count in chain.by_kind():
            assert rows is None or len(rows) == count
            others[kind] = others.get(kind, 0) + count
    unframed = {kind: n for kind, n in others.items() if kind not in (1, 86, 100, 101)}
    return objects, unframed, pieces.broken, pieces.tail


def told(block: Block) -> list[tuple[object, ...]]:
    """Place and status of each object, and of a frame all else."""
    columns = (block.times_ns, block.flags, block.idents, block.extended, block.lengths, block.channels)
    rows = zip(block.places.tolist(), block.status.tolist(), *(one.tolist() for one in columns), strict=True)
    payloads = [row.tobytes().rstrip(b"\0") for row in filled(block.data, block.wide)]
    return [
        (*row, payload) if row[1] == Block.FRAME else row[:2]
        for row, payload in zip(rows, payloads, strict=True)
    ]


def compare(data: bytes) -> None:
    for more in (False, True):
        with np.errstate(over="ignore"):
            assert said(data, compiled=True, more=more) == said(data, compiled=False, more=more)


@pytest.mark.parametrize("seed", range(25))
def test_objects_of_every_kind_are_read_as_by_numpy(seed: int) -> None:
    source = random.Random(seed)
    compare(b"".join(some_object(source) for _ in range(60)))


def test_only_four_types_of_object_hold_frames() -> None:
    """CAN_MESSAGE, CAN_MESSAGE2, CAN_FD_MESSAGE and CAN_FD_MESSAGE_64, by their numbers in python-can's reader."""
    body = can_message(0x123, b"12345678") + bytes(120)
    kinds = [kind for kind in (*range(300), 1 << 8 | 1, 1 << 31 | 1) if kind != 10]  # 10: a container
    data = b"".join(thing(kind, body, stamp=7, flags=2) for kind in kinds)
    compare(data)
    for compiled in (False, True):
        _, unframed, broken, tail = said(data, compiled=compiled)
        assert sorted(unframed) == sorted(set(kinds) - {1, 86, 100, 101})
        assert (broken, tail) == ([], None)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    changes=st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 255)), max_size=8),
    cut=st.integers(0, 400),
)
@example(
    seed=62, changes=[(675, 99)], cut=0
)  # an object of type 99, which stands right before those of frames
def test_changed_and_cut_streams_are_read_as_by_numpy(
    seed: int, changes: list[tuple[int, int]], cut: int
) -> None:
    source = random.Random(seed)
    data = bytearray(b"".join(some_object(source) for _ in range(25)))
    for place, value in changes:
        data[place % len(data)] = value
    compare(bytes(data[: len(data) - cut] or b"LOBJ"))


def test_a_stream_of_frames_is_one_chain() -> None:
    data = frames(300)
    pieces = walk(data, linker=linked)
    assert [len(chain.offsets) for chain in pieces.chains] == [300]
    assert pieces.broken == []
    assert pieces.tail is None


def test_a_payload_of_which_a_part_is_missing_is_zero_there() -> None:
    whole = bytes(range(1, 65))
    for there in (0, 3, 8, 9, 40, 64):
        data = thing(101, fd_message_64(0x123, whole, dlc=15, there=there))
        (chain,) = walk(data, linker=linked).chains
        with np.errstate(over="ignore"):
            found = block_of(data, chain, chain.offsets)
        (row,) = filled(found.data, found.wide)
        assert row.tobytes() == whole[:there].ljust(64, b"\0")


def test_a_file_is_read_alike_with_and_without_the_loop(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = random.Random(7)
    content = b"".join(some_object(source) for _ in range(200)) + frames(40, first=9)
    parts = [content[at : at + 500] for at in range(0, len(content), 500)]
    path = tmp_path / "log.blf"
    path.write_bytes(header(b"".join(map(container, parts)), objects=10**6))
    monkeypatch.setattr(blf, "TOGETHER", 3000)
    plain = read(path)
    monkeypatch.setattr(blf, "linker_for", lambda _: linked)
    with np.errstate(over="ignore"):
        looped = read(path)
    assert rows_of(looped.columns) == rows_of(plain.columns)
    assert looped.ledger == plain.ledger
    assert looped.rejected == plain.rejected
    assert (looped.oddities, looped.notes) == (plain.oddities, plain.notes)
    assert (looped.channels, looped.resolution_ns) == (plain.channels, plain.resolution_ns)


def test_the_loop_is_taken_once_a_compiler_would_have_paid(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lane_module, "_SEEN", [0])
    monkeypatch.setattr(lane_module, "MANY", 150)
    data = frames(100)
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    assert blf_lane.linker_for(data) is None
    monkeypatch.setattr("importlib.util.find_spec", lambda _: object())
    assert [blf_lane.linker_for(data) for _ in range(2)] == [None, linked]


def test_what_the_loop_leaves_unwritten_tells_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    # Found by reading a torn log with the loop: the step of the stamps was that of whatever the memory held.
    data = b"".join([thing(86, can_message2(1, b"ab"), flags=2), thing(65, bytes(16), flags=2)] * 3)
    monkeypatch.setattr(blf_lane.np, "empty", lambda shape, dtype: np.full(shape, 1, dtype))
    chain = linked(data, 0)
    monkeypatch.undo()
    assert block_of(data, chain, chain.offsets).flags.tolist() == [2, 0] * 3
