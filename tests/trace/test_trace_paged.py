"""A file read where it is looked at answers as its bytes in memory do."""

import io
from pathlib import Path

import pytest
from blf_kit import can_message, container, frames, header, thing
from hypothesis import given, settings
from hypothesis import strategies as st
from trace_kit import DATA, rows_of

from interlock.trace import blf, paged
from interlock.trace.paged import Paged, is_zero, place_of
from interlock.trace.reading import Reading

PATH = Path("a.blf")
CONTENT = bytes(range(256)) * 9 + b"LOBJ" + bytes(700) + b"LOB" + bytes(90) + b"LOBJ"


@pytest.fixture(params=[40, 512, 1 << 20])
def page(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(paged, "PAGE", request.param)


@settings(max_examples=150, deadline=None)
@given(start=st.integers(0, 4000), stop=st.integers(0, 4000), page=st.sampled_from([1, 64, 999, 1 << 20]))
def test_each_slice_is_that_of_the_bytes(start: int, stop: int, page: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(paged, "PAGE", page)
        file = Paged(io.BytesIO(CONTENT), len(CONTENT))
        assert file[start:stop] == CONTENT[start:stop]
        assert file[start : start + 16] == CONTENT[start : start + 16]
        assert file[:stop] == CONTENT[:stop]
        assert len(file) == len(CONTENT)


def test_only_whole_stretches_are_read() -> None:
    with pytest.raises(ValueError, match="in their order"):
        Paged(io.BytesIO(CONTENT), 5)[::2]


def test_bytes_beyond_the_size_are_not_there() -> None:
    assert Paged(io.BytesIO(CONTENT), 10)[4:20] == CONTENT[4:10]


@settings(max_examples=150, deadline=None)
@given(start=st.integers(0, 4000), length=st.one_of(st.none(), st.integers(0, 4000)))
def test_a_sign_is_found_where_it_is_in_the_bytes(start: int, length: int | None) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(paged, "PAGE", 64)  # signs lie across the edges of what is read together
        file = Paged(io.BytesIO(CONTENT), len(CONTENT))
        stop = None if length is None else start + length
        assert place_of(b"LOBJ", file, start, stop) == CONTENT.find(b"LOBJ", start, stop)


@pytest.mark.usefixtures("page")
def test_zeros_are_told_from_what_is_none() -> None:
    file = Paged(io.BytesIO(bytes(500) + b"\1" + bytes(99)), 600)
    assert is_zero(file, 0, 500) == (True, 500)
    assert is_zero(file, 3, 600) == (False, 500)
    assert is_zero(file, 501, 600) == (True, 600)


def same(one: Reading, other: Reading) -> None:
    assert rows_of(one.columns) == rows_of(other.columns)
    assert one.columns.places.tolist() == other.columns.places.tolist()
    assert one.columns.channels.tolist() == other.columns.channels.tolist()
    assert (one.ledger, one.rejected, one.oddities) == (other.ledger, other.rejected, other.oddities)
    assert (one.channels, one.notes, one.resolution_ns) == (other.channels, other.notes, other.resolution_ns)


def torn_log() -> bytes:
    """Objects of many kinds in containers of odd sizes, junk within and between them, a torn end."""
    objects = [
        frames(3),
        thing(65, b"text of an odd length"),
        thing(1, can_message(0x120, b"", flags=0x80)),
        thing(73, bytes(40)),
        b"junk that begins nothing",
        thing(2, bytes(20)),
        thing(1, can_message(0x7FFFFFFF, b"12345678")),
        thing(86, can_message(1, b"too short for its kind")[:8]),
        frames(30, first=3),
    ]
    content = b"".join(objects) * 6
    cuts = list(range(0, len(content), 777))
    body = b"".join(container(content[at : at + 777], packed=at % 2 == 0) for at in cuts[:-2])
    return header(body + bytes(30) + container(content)[:-300] + frames(2) + container(content)[:500])


@pytest.mark.parametrize("together", [1, 100, 3000, 1 << 16])
@pytest.mark.parametrize("content", [(DATA / "short.blf").read_bytes(), torn_log()], ids=["sound", "torn"])
def test_a_file_walked_in_parts_is_the_same_reading(
    content: bytes, together: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = blf.read(PATH, content)
    monkeypatch.setattr(blf, "TOGETHER", together)
    same(blf.read(PATH, content), whole)
    monkeypatch.setattr(paged, "PAGE", 4096)
    same(blf.read(PATH, Paged(io.BytesIO(content), len(content))), whole)


def test_the_parts_of_a_torn_log_add_up() -> None:
    reading = blf.read(PATH, torn_log())
    ledger = reading.ledger
    assert ledger.lines_or_objects == ledger.frames + ledger.non_frames + ledger.rejected
    assert ledger.rejected == sum(piece.count for piece in reading.rejected)
    assert [one.what for one in reading.oddities] == ["error frames", "remote frames"]


def test_error_frames_of_two_kinds_in_one_chain_are_hulled() -> None:
    # Found by fuzzing: the last of one kind was taken for the last of all.
    content = frames(2) + thing(73, bytes(40)) + frames(2) + thing(2, bytes(20)) + frames(2)
    content += thing(73, bytes(40)) + frames(1)
    (seen,) = blf.read(PATH, header(container(content))).oddities
    assert (seen.count, seen.first_row, seen.last_row) == (3, 2, 6)


def test_a_run_of_objects_that_cannot_be_is_told_from_its_first_to_its_last() -> None:
    # Found by fuzzing: its last one was said to be where its first one is.
    bad = thing(1, can_message(0x7FFFFFFF, b""))
    first, second = container(frames(2) + bad), container(bad * 2 + frames(2, first=2))
    (piece,) = blf.read(PATH, header(first + second)).rejected
    assert (piece.place, piece.last, piece.count) == (144, 144 + len(first), 3)


def test_the_rest_of_a_torn_object_is_called_so_however_the_stream_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Found by fuzzing: a first part that held nothing yet made the rest look like mere junk.
    content = frames(9)
    torn = header(
        container(content[:100]) + b"between" + container(content[110:130]) + container(content[130:])
    )
    whole = blf.read(PATH, torn)
    assert any("beginning is lost" in piece.why for piece in whole.rejected)
    monkeypatch.setattr(blf, "TOGETHER", 1)
    same(blf.read(PATH, torn), whole)
