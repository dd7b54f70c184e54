"""Damaged BLF files: read up to the break and beyond it, each break listed with its byte."""

import random
import struct
import time
import zlib
from pathlib import Path

import pytest
from blf_kit import can_message, container, fd_message_64, frames, header, thing
from trace_kit import DATA, read

from interlock.errors import LogError
from interlock.trace.model import QualityKind
from interlock.trace.reading import Reading


def damaged(tmp_path: Path, body: bytes) -> Reading:
    path = tmp_path / "a.blf"
    path.write_bytes(header(body))
    return read(path)


def numbers(reading: Reading) -> list[int]:
    return reading.columns.data[:, 0].tolist()


FIRST, SECOND, THIRD = (container(frames(5, first=first)) for first in (0, 5, 10))


def flipped(content: bytes, at: int) -> bytes:
    return content[:at] + bytes([content[at] ^ 0x55]) + content[at + 1 :]


@pytest.mark.parametrize(
    ("second", "reason"),
    [
        (flipped(SECOND, 60), "cannot be unpacked|as many bytes"),
        (flipped(SECOND, len(SECOND) - 6), "cannot be unpacked"),
        (flipped(SECOND, 16), "packed in an unknown way"),
        (flipped(SECOND, 24), "as many bytes"),
        (container(frames(5, first=5), claimed=1 << 31), "claims to hold"),
        (flipped(SECOND, 0), "belong to no object"),
        (flipped(SECOND, 8), "length cannot be|as many bytes|cannot be unpacked"),
        (SECOND[:100], "cannot be unpacked|as many bytes"),
        (b"", None),
        (b"\xff" * 300, "belong to no object"),
        (struct.pack("<4sHHII", b"LOBJ", 16, 1, 0, 10) + bytes(40), "length cannot be"),
        (struct.pack("<4sHHII", b"LOBJ", 16, 1, 0, 1) + bytes(40), "length cannot be"),
    ],
)
def test_bad_container_is_listed_and_the_rest_is_read(
    tmp_path: Path, second: bytes, reason: str | None
) -> None:
    reading = damaged(tmp_path, FIRST + second + THIRD)
    assert numbers(reading) == [0, 1, 2, 3, 4, 10, 11, 12, 13, 14]
    if reason is None:
        assert not reading.rejected
        return
    assert any(word in reading.rejected[0].why for word in reason.split("|"))
    assert all(144 + len(FIRST) <= piece.place <= 144 + len(FIRST + second) for piece in reading.rejected)
    assert all((piece.row, piece.kind) == (5, QualityKind.UNREADABLE) for piece in reading.rejected)


def test_object_that_spans_into_a_bad_container_is_lost_on_both_sides(tmp_path: Path) -> None:
    content = frames(30)
    first, second, third = (container(content[at : at + 490]) for at in range(0, 1440, 490))
    reading = damaged(tmp_path, first + flipped(second, 60) + third)
    assert numbers(reading) == [*range(10), *range(21, 30)]
    end, middle, beginning = (piece.why for piece in reading.rejected)
    assert end == "an object whose end is lost"
    assert middle.startswith("a container that cannot be unpacked")
    assert beginning == "the rest of an object whose beginning is lost"


@pytest.mark.parametrize("kept", [31, 33, 45, 90, 120])
def test_container_cut_by_the_end_of_the_file_is_read_up_to_the_break(tmp_path: Path, kept: int) -> None:
    reading = damaged(tmp_path, FIRST + container(frames(200, first=5))[:kept])
    got = numbers(reading)
    assert got == list(range(len(got)))
    assert len(got) >= 5
    last = reading.rejected[-1]
    assert (last.kind, last.until_end) == (QualityKind.TRUNCATED, True)


def test_objects_that_cannot_be_are_rejected_one_by_one(tmp_path: Path) -> None:
    good = thing(1, can_message(0x123, b"\1"))
    bad = [
        (thing(1, can_message(0x900, b"\1")), "identifier"),
        (thing(1, can_message(0xA0000000, b"\1")), "identifier"),
        (thing(1, can_message(0x123, b"\1", dlc=16)), "data length"),
        (thing(1, can_message(0x123, b"\1"), flags=3), "time stamp"),
        (thing(1, can_message(0x123, b"\1"), stamp=2**63), "time stamp"),
        (thing(1, can_message(0x123, b"\1"), stamp=10**15, flags=1), "time stamp"),
        (thing(101, fd_message_64(0x123, b"\1" * 12, dlc=10)), "data length"),
        (thing(1, b"\1\0"), "too short"),
        (thing(1, can_message(0x123, b"\1"), version=2)[:6] + b"\3\0" + thing(1, bytes(24))[8:], "header"),
    ]
    reading = damaged(tmp_path, container(good + b"".join(one + good for one, _ in bad)))
    assert reading.ledger.frames == len(bad) + 1
    assert [piece.row for piece in reading.rejected] == list(range(1, len(bad) + 1))
    for piece, (_, reason) in zip(reading.rejected, bad, strict=True):
        assert reason in piece.why


def test_length_zero_and_lengths_beyond_the_file_end_the_walk_not_the_program(tmp_path: Path) -> None:
    for size in (0, 1, 15, 31, 2**31, 2**32 - 1):
        evil = struct.pack("<4sHHII", b"LOBJ", 32, 1, size, 1) + bytes(20)
        reading = damaged(tmp_path, container(frames(3) + evil * 3 + frames(3, first=3)))
        assert numbers(reading)[:3] == [0, 1, 2]
        assert reading.rejected


def test_bomb_is_refused_without_being_unpacked(tmp_path: Path) -> None:
    body = zlib.compress(bytes(50_000_000))
    inner = struct.pack("<H6xI4x", 2, 1000) + body
    bomb = struct.pack("<4sHHII", b"LOBJ", 16, 1, 16 + len(inner), 10) + inner
    started = time.perf_counter()
    reading = damaged(tmp_path, FIRST + bomb + THIRD)
    assert time.perf_counter() - started < 1
    assert "as many bytes" in reading.rejected[0].why


@pytest.mark.parametrize("kind", [0, 1, 11, 65, 86, 115, 2**31])
def test_container_that_calls_itself_something_else_is_not_skipped_in_silence(
    tmp_path: Path, kind: int
) -> None:
    other = SECOND[:12] + struct.pack("<I", kind) + SECOND[16:]
    reading = damaged(tmp_path, FIRST + other + THIRD)
    assert numbers(reading) == [0, 1, 2, 3, 4, 10, 11, 12, 13, 14]
    assert {piece.row for piece in reading.rejected} == {5}


@pytest.mark.parametrize("seed", range(8))
def test_any_bytes_after_a_header_end_in_a_reading_or_a_clear_error(tmp_path: Path, seed: int) -> None:
    random_bytes = random.Random(seed)
    source = (DATA / "short.blf").read_bytes()
    for _ in range(25):
        content = bytearray(source[: random_bytes.randrange(200, 9000)])
        for _ in range(random_bytes.randrange(1, 40)):
            content[random_bytes.randrange(144, len(content))] = random_bytes.randrange(256)
        path = tmp_path / "a.blf"
        path.write_bytes(content)
        try:
            reading = read(path)
        except LogError as error:
            assert "a.blf" in str(error)
        else:
            assert reading.rejected
