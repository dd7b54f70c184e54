"""Frames out of runs of BLF objects, against python-can on random objects."""

from pathlib import Path

import can
import numpy as np
import pytest
from blf_kit import can_message, can_message2, container, fd_message_64, header, thing
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import by_python_can, read, rows_of

from interlock.trace.blf_objects import Chain
from interlock.trace.blf_payload import Block, block_of
from interlock.trace.payloads import filled

FD = (*range(9), 12, 16, 20, 24, 32, 48, 64)


@st.composite
def things(draw: st.DrawFn) -> bytes:
    kind = draw(st.sampled_from([1, 86, 101]))
    ident = draw(st.one_of(st.integers(0, 0x7FF), st.integers(0, 0x1FFFFFFF).map(lambda n: n | 1 << 31)))
    dlc = draw(st.integers(0, 15 if kind == 101 else 8))
    payload = draw(st.binary(min_size=FD[dlc], max_size=FD[dlc]))
    flags = draw(st.sampled_from([1, 2]))
    stamp = draw(st.integers(0, 10**13))
    body = {1: can_message, 86: can_message2}.get(kind)
    content = fd_message_64(ident, payload, dlc=dlc) if body is None else body(ident, payload)
    return thing(kind, content, stamp=stamp, flags=flags, version=draw(st.sampled_from([1, 2])))


@settings(max_examples=80, deadline=None)
@given(objects=st.lists(things(), min_size=1, max_size=20))
def test_any_objects_are_read_as_python_can_reads_them(
    objects: list[bytes], tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = Path(tmp_path_factory.getbasetemp()) / "random.blf"
    path.write_bytes(header(container(b"".join(objects)), objects=len(objects)))
    reading = read(path)
    with can.BLFReader(path) as reader:
        messages = list(reader)
    mine = rows_of(reading.columns)
    assert [row[1:] for row in mine] == by_python_can(messages)
    for row, message in zip(mine, messages, strict=True):
        assert abs(row[0] / 1e9 - message.timestamp) < 1e-6
    assert not reading.rejected


def block(body: bytes, *, kind: int = 1, version: int = 1) -> Block:
    data = thing(kind, body, version=version)
    form = (32 if version == 1 else 40, version, len(data) - len(data) % 4, kind)
    return block_of(data, Chain(np.array([0]), (form,)), np.array([0]))


def why(found: Block) -> list[str]:
    return [Block.WHY[status] for status in found.status.tolist()]


@pytest.mark.parametrize(("kind", "size"), [(1, 15), (86, 8), (100, 19), (101, 39)])
def test_objects_too_short_for_their_type_are_refused_as_a_whole(kind: int, size: int) -> None:
    assert why(block(bytes(size // 4 * 4), kind=kind)) == ["an object too short for its type"]


def test_unknown_object_header_is_refused() -> None:
    data = thing(1, can_message(1, b""))
    found = block_of(data, Chain(np.array([0]), ((32, 7, 48, 1),)), np.array([0]))
    assert why(found) == ["an object with an unknown header"]


def test_some_rows_of_a_block_keep_every_column_in_step() -> None:
    data = b"".join(thing(1, can_message(n, bytes([n])), stamp=n) for n in range(6))
    whole = block_of(data, Chain(48 * np.arange(6), ((32, 1, 48, 1),)), np.arange(6))
    part = whole.only(np.array([False, False, True, True, True, False]))
    assert part.idents.tolist() == part.times_ns.tolist() == part.places.tolist() == [2, 3, 4]
    assert part.data[:, 0].tolist() == [2, 3, 4]


def test_some_rows_of_a_block_keep_their_long_payloads() -> None:
    sizes = [8, 64, 12, 3, 24, 64]
    data = [
        thing(101, fd_message_64(1, bytes([n + 1]) * size, dlc=FD.index(size)))
        for n, size in enumerate(sizes)
    ]
    lengths = [len(one) for one in data]
    forms = tuple((32, 1, length, 101) for length in lengths)
    offsets = np.cumsum([0, *lengths[:-1]])
    whole = block_of(b"".join(data), Chain(offsets, forms, np.arange(6, dtype=np.uint8)), offsets)
    kept = np.array([True, False, True, True, False, True])
    for found, rows in ((whole, range(6)), (whole.only(kept), np.flatnonzero(kept).tolist())):
        assert found.data.shape == (len(rows), 8)
        payloads = filled(found.data, found.wide)
        assert [one.tobytes() for one in payloads] == [
            (bytes([n + 1]) * sizes[n]).ljust(64, b"\0") for n in rows
        ]
    assert whole.only(np.zeros(6, np.bool_)).places.tolist() == []


@pytest.mark.parametrize("there", range(13))
def test_fd_payload_written_in_part_is_filled_up(there: int) -> None:
    found = block(fd_message_64(1, b"\xaa" * 12, dlc=9, there=there - there % 4), kind=101)
    assert found.lengths.tolist() == [12]
    assert filled(found.data, found.wide)[0, :12].tobytes() == b"\xaa" * (there - there % 4) + bytes(
        12 - (there - there % 4)
    )
