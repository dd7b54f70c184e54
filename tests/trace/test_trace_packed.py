"""gzip: every format packed is the same reading; torn, damaged and monstrous files are told apart."""

import gzip
import io
import random
import time
import zlib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest
from trace_kit import DATA, DBC, EXPECTED, frames_by_message, read, rows_of

from interlock.errors import LogError
from interlock.trace import QualityKind, load
from interlock.trace.packed import STEEPEST, Unpacking, is_packed

FILES = ["short.log", "short.asc", "short.csv", "short.blf", "short.trc"]
HERE = Path("x.gz")


@dataclass(frozen=True)
class Unpacked:
    """The content of a packed file, and what is wrong with it."""

    content: bytes
    doubt: str
    anywhere: bool


def unpacked(path: Path, packed: bytes) -> Unpacked:
    source = Unpacking(path, io.BytesIO(packed))
    content = source.read()
    return Unpacked(content, source.doubt, source.anywhere)


@pytest.mark.parametrize("file", FILES)
def test_packed_file_is_the_same_reading(tmp_path: Path, file: str) -> None:
    path = tmp_path / (file + ".gz")
    path.write_bytes(gzip.compress((DATA / file).read_bytes()))
    plain, packed = read(DATA / file), read(path)
    assert rows_of(packed.columns) == rows_of(plain.columns)
    assert (packed.ledger, packed.rejected, packed.format) == (plain.ledger, plain.rejected, plain.format)


def test_hash_is_that_of_the_file_as_stored(tmp_path: Path) -> None:
    import hashlib

    path = tmp_path / "a.log.gz"
    path.write_bytes(gzip.compress((DATA / "short.log").read_bytes()))
    trace = load([path], DBC, messages=EXPECTED)
    assert trace.sources[0].sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert trace.quality == ()


def test_members_one_after_another_are_one_file() -> None:
    # RFC 1952, section 2.2: a file is a series of members.
    assert unpacked(HERE, gzip.compress(b"one ") + gzip.compress(b"two")).content == b"one two"


def test_zeros_behind_the_end_are_filling_anything_else_is_told() -> None:
    packed = gzip.compress(b"one")
    assert unpacked(HERE, packed + bytes(700)).doubt == ""
    assert "behind" in unpacked(HERE, packed + b"more").doubt


@pytest.mark.parametrize("file", FILES)
def test_torn_at_every_997th_byte_is_read_up_to_the_tear_and_told(tmp_path: Path, file: str) -> None:
    content = gzip.compress((DATA / file).read_bytes())
    path = tmp_path / (file + ".gz")
    whole = frames_by_message(DATA / file)
    for cut in range(20, len(content), 997):
        path.write_bytes(content[:cut])
        try:
            trace = load([path], DBC, messages=EXPECTED)
        except LogError as error:
            assert str(path) in str(error)
            continue
        torn = [finding for finding in trace.quality if finding.kind is QualityKind.TRUNCATED]
        assert any(finding.blinds and finding.message is None and finding.span.hi is None for finding in torn)
        for name, frames in frames_by_message(path).items():
            assert not frames - whole[name]


def test_tear_inside_the_trailer_is_a_tear_too() -> None:
    packed = gzip.compress(b"line\n" * 50)
    for lost in range(1, 9):
        found = unpacked(HERE, packed[:-lost])
        assert found.content == b"line\n" * 50
        assert "ends before" in found.doubt


@pytest.mark.parametrize("seed", range(30))
def test_flipped_bits_never_pass_unnoticed(tmp_path: Path, seed: int) -> None:
    source = random.Random(seed)
    packed = bytearray(gzip.compress((DATA / "short.log").read_bytes(), mtime=0))
    packed[source.randrange(12, len(packed))] ^= 1 << source.randrange(8)
    path = tmp_path / "flipped.log.gz"
    path.write_bytes(packed)
    try:
        trace = load([path], DBC, messages=EXPECTED)
    except LogError:
        return
    whole = frames_by_message(DATA / "short.log")
    read_now = frames_by_message(path)
    same = all(read_now.get(name, Counter()) == frames for name, frames in whole.items())
    doubted = any(
        f.blinds and f.message is None and f.span.lo == 0 and f.span.hi is None for f in trace.quality
    )
    assert same or doubted


def test_wrong_check_sum_puts_all_of_the_content_in_doubt() -> None:
    packed = bytearray(gzip.compress(b"line\n" * 50))
    packed[-6] ^= 1
    found = unpacked(HERE, bytes(packed))
    assert found.anywhere
    assert "damaged" in found.doubt


def test_bomb_is_refused_before_it_grows(tmp_path: Path) -> None:
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    first, again = (packer.compress(bytes(1 << 24)) + packer.flush(zlib.Z_FULL_FLUSH) for _ in range(2))
    bomb = first + 63 * again + packer.flush()  # after a full flush each piece unpacks by itself
    assert len(zlib.decompressobj(31).decompress(first + again, 1 << 26)) == 1 << 25
    assert len(bomb) < 1 << 21
    path = tmp_path / "bomb.log.gz"
    path.write_bytes(bomb)
    started = time.perf_counter()
    with pytest.raises(LogError, match=r"bomb\.log\.gz: it unpacks to more than"):
        read(path)
    assert time.perf_counter() - started < 5


def test_sound_logs_are_far_from_the_limit() -> None:
    for file in FILES:
        content = (DATA / file).read_bytes()
        assert len(content) < STEEPEST / 4 * len(gzip.compress(content))
    steady = b"".join(b"(1790000000.%06d) can0 120#0000000000000000\n" % n for n in range(0, 10**6, 10))
    assert len(steady) < STEEPEST / 4 * len(gzip.compress(steady))


@pytest.mark.parametrize("content", [b"", b"\x1f\x8b", b"(1790000000.0)", b"\x1f\x8b\x07"])
def test_what_is_not_packed(content: bytes) -> None:
    assert not is_packed(content)


def test_packed_nothing_is_an_empty_file(tmp_path: Path) -> None:
    path = tmp_path / "a.log.gz"
    path.write_bytes(gzip.compress(b""))
    with pytest.raises(LogError, match="empty"):
        read(path)


@pytest.mark.parametrize("step", [1, 7, 100, 10**6])
@pytest.mark.parametrize("tail", [b"", bytes(300), b"junk", gzip.compress(b"more", mtime=0)])
def test_content_is_the_same_in_steps_of_any_size(step: int, tail: bytes) -> None:
    content = (DATA / "short.csv").read_bytes()[:20_000]
    packed = gzip.compress(content) + tail
    whole, source, found = unpacked(HERE, packed), Unpacking(HERE, io.BytesIO(packed)), []
    while piece := source.read(step):
        assert len(piece) <= step
        found.append(piece)
    assert b"".join(found) == whole.content
    assert all(len(piece) == step for piece in found[:-1])
    assert (source.doubt, source.anywhere) == (whole.doubt, whole.anywhere)
