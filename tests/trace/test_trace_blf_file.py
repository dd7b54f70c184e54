"""The outer layer of BLF files: header, containers, streams without a break and with."""

import struct
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import can
import pytest
from blf_kit import START, container, frames, header, thing
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import DATA

from interlock.errors import LogError
from interlock.trace import blf_file
from interlock.trace.blf_file import Broken, Stretch, stretches

PATH = Path("a.blf")


@dataclass
class Stream:
    """Stretches that go on with each other."""

    flat: bool
    data: bytes = b""
    offsets: list[int] = field(default_factory=list)
    places: list[int] = field(default_factory=list)


def streams(text: bytes, start: int) -> tuple[list[Stream | Broken], int]:
    """What a reader makes of the stretches, and how many containers were opened."""
    found: list[Stream | Broken] = []
    pieces = list(stretches(text, start))
    for piece in pieces:
        if isinstance(piece, Broken):
            found.append(piece)
            continue
        last = found[-1] if found else None
        if not isinstance(last, Stream) or last.flat != piece.flat:
            last = Stream(piece.flat)
            found.append(last)
        last.offsets.append(len(last.data))
        last.places.append(piece.place)
        last.data += piece.data
    return found, sum(isinstance(piece, Stretch) and piece.opened for piece in pieces)


def test_header_says_what_python_can_reads_in_it() -> None:
    path = DATA / "short.blf"
    mine = blf_file.header(path, path.read_bytes())
    with can.BLFReader(path) as reference:
        assert (mine.file_size, mine.objects) == (reference.file_size, reference.object_count)
        assert mine.uncompressed_size == reference.uncompressed_size
        assert mine.start_ns is not None
        assert mine.start_ns / 1e9 == reference.start_timestamp


def test_date_is_exact_to_the_millisecond() -> None:
    content = header(b"", date=(2026, 9, 1, 21, 14, 13, 20, 987))
    assert blf_file.header(PATH, content).start_ns == START + 987_000_000


@pytest.mark.parametrize("size", [0, 71, 4097, 2**32 - 1])
def test_header_length_that_cannot_be(size: int) -> None:
    content = bytearray(header(b""))
    content[4:8] = struct.pack("<I", size)
    with pytest.raises(LogError, match="byte 4"):
        blf_file.header(PATH, bytes(content))


@pytest.mark.parametrize("first", [b"LOGX", b"\0\0\0\0", b"logg"])
def test_signature_that_is_none(first: bytes) -> None:
    with pytest.raises(LogError, match="not a BLF file"):
        blf_file.header(PATH, first + header(b"")[4:])


@settings(max_examples=60, deadline=None)
@given(
    sizes=st.lists(st.integers(1, 700), min_size=1, max_size=8),
    packed=st.lists(st.booleans(), min_size=8, max_size=8),
)
def test_whole_containers_make_one_stream(sizes: list[int], packed: list[bool]) -> None:
    content = frames(20)
    cuts = [min(sum(sizes[:n]), len(content)) for n in range(len(sizes))] + [len(content)]
    parts = [content[a:b] for a, b in pairwise(cuts)]
    body = b"".join(container(part, packed=way) for part, way in zip(parts, packed, strict=False))
    found, opened = streams(body, 0)
    (stream,) = found
    assert isinstance(stream, Stream)
    assert bytes(stream.data) == content[cuts[0] :]
    assert opened == len(parts)
    assert stream.offsets == [cut - cuts[0] for cut in cuts[:-1]]


def test_stretches_of_a_stream_know_their_container() -> None:
    first, second = container(frames(2)), container(frames(3, first=2))
    (stream,), _ = streams(first + second, 0)
    assert isinstance(stream, Stream)
    assert stream.places == [0, len(first)]
    assert stream.offsets == [0, 96]


def test_break_parts_the_stream() -> None:
    good, bad = container(frames(2)), container(frames(2))[:-20] + bytes(20)
    found, opened = streams(good + bad + good, 0)
    assert [type(part) for part in found] == [Stream, Broken, Stream]
    assert opened == 2


def test_objects_inside_and_outside_of_containers_are_kept_apart() -> None:
    found, _ = streams(frames(2) + container(frames(2)) + thing(65, b"text"), 0)
    assert [part.flat for part in found if isinstance(part, Stream)] == [True, False, True]


@pytest.mark.parametrize("cut", range(1, 200, 7))
def test_file_that_ends_early_is_a_break_at_its_end(cut: int) -> None:
    whole = container(frames(2)) + container(frames(300, first=2))
    kept = whole[: len(container(frames(2))) + cut]
    found, _ = streams(kept, 0)
    last = found[-1]
    assert isinstance(last, Broken)
    assert last.at_end


@given(data=st.binary(max_size=1500))
@settings(max_examples=200, deadline=None)
def test_any_bytes_end_in_streams_and_breaks(data: bytes) -> None:
    data = data.replace(b"\1\2", b"LOBJ").replace(b"\3\4", struct.pack("<HHII", 16, 1, 60, 10))
    found, _ = streams(data, 0)
    for part in found:
        places = part.places if isinstance(part, Stream) else [part.place]
        assert all(0 <= place <= len(data) for place in places)


def test_padding_between_containers_is_no_break() -> None:
    body = container(frames(1)) + bytes(3) + container(frames(1))
    found, opened = streams(body, 0)
    assert [type(part) for part in found] == [Stream]
    assert opened == 2


def test_zeros_for_kilobytes_are_a_break() -> None:
    found, _ = streams(container(frames(1)) + bytes(3000) + container(frames(1)), 0)
    assert [type(part) for part in found] == [Stream, Broken, Stream]
