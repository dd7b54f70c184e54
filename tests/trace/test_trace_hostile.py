"""Files as they come from mail, shells and broken disks, in each format: read as they are, or one error that says what.

Signatures of packings: RFC 1952 (gzip), and the formats' own descriptions for bzip2, xz, zstd, 7z and zip; byte order
marks: Unicode, section 23.8 (from memory).
"""

import bz2
import gzip
import io
import lzma
import os
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from fuzz.fuzz_cases import DATA, SEEDS, held
from needed import need_extra
from trace_kit import payloads

from interlock.errors import LogError
from interlock.look import look
from interlock.trace import LogFile
from interlock.trace.readers import read_log
from interlock.trace.recognise import recognise

BOM = b"\xef\xbb\xbf"
NAMES = ("short.log", "short.asc", "short.csv", "short.trc", "short.blf", "steps.sr", "lines.vcd")
LOGS = {Path(name).suffix[1:]: SEEDS[name] for name in NAMES}
TEXTS = ("log", "asc", "csv", "trc", "vcd")


def zipped(content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("run.log", content)
    return out.getvalue()


def utf16(content: bytes) -> bytes:
    return content.decode("latin-1").encode("utf-16")


REFUSED: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "nothing": (lambda _: b"", "the file is empty; give a log with frames in it"),
    "bzip2": (bz2.compress, "this is a file packed with bzip2; it is not read here: unpack it"),
    "xz": (lzma.compress, "this is a file packed with xz"),
    "zstd": (lambda content: b"\x28\xb5\x2f\xfd" + content, "this is a file packed with zstd"),
    "7z": (lambda content: b"7z\xbc\xaf\x27\x1c" + content, "this is a 7z archive"),
    "twice": (lambda content: gzip.compress(gzip.compress(content)), "this is a file that was packed twice"),
    "zip": (zipped, "a zip archive that is no logic capture .* unpack it and give the log in it"),
    "web page": (
        lambda _: b"<!DOCTYPE html>\n<html>404</html>\n",
        "this is a web page; .* give the log itself",
    ),
    "sqlite": (
        lambda _: b"SQLite format 3\0" + bytes(84),
        "an SQLite database, as python-can's SqliteWriter",
    ),
    "gvret": (lambda _: b"Time Stamp,ID,Extended,Dir,Bus,LEN,D1\n1,120,false,Rx,0,1,00\n", "a GVRET table"),
}


@pytest.mark.parametrize("kind", REFUSED)
@pytest.mark.parametrize("suffix", LOGS)
def test_what_is_no_log_is_named(suffix: str, kind: str, tmp_path: Path) -> None:
    spoil, said = REFUSED[kind]
    path = tmp_path / f"run.{suffix}"
    path.write_bytes(spoil(LOGS[suffix]))
    with pytest.raises(LogError, match=rf"run\.{suffix}: .*{said}"):
        read_log(path)
    with pytest.raises(LogError, match=rf"run\.{suffix}: .*{said}"):
        look([path])


@pytest.mark.parametrize("suffix", TEXTS)
def test_text_in_utf16_is_named(suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"run.{suffix}"
    path.write_bytes(utf16(LOGS[suffix]))
    with pytest.raises(LogError, match=r"this is text in UTF-16.* save it as plain text"):
        read_log(path)
    with pytest.raises(LogError, match="this is text in UTF-16"):
        recognise(path)


@pytest.mark.parametrize("packed", [False, True], ids=["plain", "packed"])
@pytest.mark.parametrize("named", [True, False], ids=["suffix", "content"])
@pytest.mark.parametrize("suffix", TEXTS)
def test_a_byte_order_mark_changes_nothing(suffix: str, named: bool, packed: bool, tmp_path: Path) -> None:
    found = []
    for mark in (b"", BOM):
        content = mark + LOGS[suffix]
        path = tmp_path / f"run.{suffix if named else 'txt'}"
        path.write_bytes(gzip.compress(content) if packed else content)
        reading, source = read_log(path)
        assert recognise(path).format == source.format
        found.append((source.format, reading.ledger, reading.rejected, reading.columns))
    (plain, marked) = found
    assert plain[:3] == marked[:3]
    assert plain[3].times_ns.tolist() == marked[3].times_ns.tolist()
    assert plain[3].places.tolist() == marked[3].places.tolist()
    assert payloads(plain[3]) == payloads(marked[3])


def test_a_byte_order_mark_within_a_log_is_no_frame(tmp_path: Path) -> None:
    lines = LOGS["log"].splitlines(keepends=True)[:6]
    path = tmp_path / "run.log"
    path.write_bytes(b"".join([*lines[:3], BOM + lines[3], *lines[4:]]))
    reading, _ = read_log(path)
    assert reading.ledger.frames == 5
    assert [piece.place for piece in reading.rejected] == [4]


SPOILT: dict[str, Callable[[bytes], bytes]] = {
    "first byte": lambda content: content[:1],
    "first line": lambda content: content.split(b"\n")[0],
    "cut in its head": lambda content: content[:37],
    "cut": lambda content: content[: len(content) // 2 + 3],
    "packed, cut in its head": lambda content: gzip.compress(content)[:9],
    "packed, cut": lambda content: gzip.compress(content)[:-20],
    "packed, junk behind": lambda content: gzip.compress(content) + b"junk",
    "zeros": lambda _: bytes(5000),
    "ones": lambda _: b"\xff" * 5000,
    "line ends": lambda _: b"\n" * 5000,
    "one long line": lambda _: b"A" * 300_000,
    "twice": lambda content: content * 2,
    "CRLF": lambda content: content.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"),
    "CR": lambda content: content.replace(b"\r\n", b"\n").replace(b"\n", b"\r"),
    "tabs": lambda content: content.replace(b" ", b"\t"),
}


@pytest.mark.parametrize("kind", SPOILT)
@pytest.mark.parametrize("suffix", LOGS)
@pytest.mark.parametrize("wrong", [False, True], ids=["suffix", "wrong suffix"])
def test_what_is_spoilt_adds_up_or_is_refused(suffix: str, kind: str, wrong: bool, tmp_path: Path) -> None:
    path = tmp_path / f"run.{'trc' if wrong else suffix}"
    path.write_bytes(SPOILT[kind](LOGS[suffix]))
    held(LogFile(path))


@pytest.mark.parametrize("number", [0, 1 << 31, (1 << 32) - 1], ids=["none", "2^31", "most"])
@pytest.mark.parametrize("place", [4, 16, 32, 144, 148, 152, 160, 176])
def test_sizes_of_a_blf_file_that_cannot_be(place: int, number: int, tmp_path: Path) -> None:
    """Sizes of the header (4), of the file (16), its objects (32); of the first container and what it holds."""
    content = bytearray(LOGS["blf"])
    content[place : place + 4] = struct.pack("<I", number)
    path = tmp_path / "run.blf"
    path.write_bytes(content)
    sound = read_log(LogFile(DATA / "short.blf"))[0].ledger.frames
    if not held(LogFile(path)):
        assert place == 4
        return
    reading, _ = read_log(path)
    told = [piece for piece in reading.rejected if piece.until_end or piece.count]
    assert reading.ledger.frames == sound or told


NO_MDF = [b"", b"MDF", b"\0" * 100, b"MDF4" + bytes(100), b"mdf     4.10" + bytes(100)]


@pytest.mark.parametrize("content", NO_MDF, ids=["empty", "cut", "zeros", "other", "small letters"])
def test_what_is_no_mf4_file_is_refused_before_the_library_sees_it(content: bytes, tmp_path: Path) -> None:
    need_extra("asammdf")
    path = tmp_path / "run.mf4"
    path.write_bytes(content)
    with pytest.raises(
        LogError, match=r"the file is empty|does not begin with 'MDF' or 'UnFinMF'; export it again"
    ):
        read_log(path)


@pytest.mark.parametrize("place", [8, 64, 88, 96])
@pytest.mark.parametrize("number", [0, 8, 1 << 31, (1 << 63) - 1], ids=["none", "itself", "2^31", "2^63"])
def test_links_of_an_mf4_file_that_lead_nowhere(place: int, number: int, tmp_path: Path) -> None:
    need_extra("asammdf")
    content = bytearray((DATA / "two_buses.mf4").read_bytes())
    content[place : place + 8] = struct.pack("<Q", number)
    path = tmp_path / "run.mf4"
    path.write_bytes(content)
    try:
        read_log(path)
    except LogError as error:
        assert str(error).startswith(f"{path}: ")
        assert "_io." not in str(error)  # no name of an object of Python
        assert "'7'" not in str(error)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_look_does_not_wait_for_a_pipe(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "run.log")
    with pytest.raises(LogError, match="this is a pipe or a device, not a file"):
        look([tmp_path / "run.log"])
