"""Logic captures in the open archive form `.sr` (version 2): a zip of `metadata` and pieces `logic-1-1`, ..."""

import configparser
import lzma
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from io import BufferedReader, RawIOBase
from math import ceil
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.inputs import LogFile, plain_name
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.paged import PAGE
from interlock.trace.pieces import allowed, too_many
from interlock.trace.reading import Reading, Rejected, Sampled, grouped
from interlock.trace.sampled import sampled_reading
from interlock.trace.table import row_times_ns

__all__ = ["looks_like", "read"]

LARGEST: Final = 1 << 34
"""Bytes of samples; no capture is unpacked beyond."""
_TORN: Final = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    KeyError,
    NotImplementedError,
    OSError,
    OverflowError,
    RuntimeError,
    ValueError,
)
"""What Python's zipfile raises on damaged archives."""
_STEP: Final = 1 << 22
_RATE: Final = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(|k|M|G)Hz\s*")
_FACTOR: Final = {"": 1, "k": 10**3, "M": 10**6, "G": 10**9}

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Capture:
    """What `metadata` says."""

    rate_hz: Fraction
    wires: dict[str, int]  # bit of each wanted probe
    unit: int  # bytes of one sample
    pieces: list[str]
    others: int  # members of the archive that hold no logic samples


Words = NDArray[Any]
"""Unsigned numbers of one, two, four or eight bytes."""


@dataclass(slots=True)
class _Found:
    """The samples on both sides of each change, the first and the last of what is whole, and what was lost."""

    index: list[Ints] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    last: tuple[int, Words, bool] | None = (
        None  # number and word of the last sample; whether it is among them
    )
    samples: int = 0
    rows: int = 0
    lost: int = 0
    rejected: tuple[Rejected, ...] = ()

    def put(self, index: Ints, words: Words) -> None:
        """Keep these."""
        self.index.append(index)
        self.words.append(words)
        self.rows += len(index)

    def close(self) -> None:
        """What follows does not go on from the last sample: it is kept."""
        if self.last is not None and not self.last[2]:
            self.put(np.array([self.last[0]], np.int64), self.last[1])
        self.last = None


def looks_like(text: bytes) -> bool:
    """Whether the content is a zip archive."""
    return text[:4] == b"PK\x03\x04"


def read(file: LogFile, stream: RawIOBase, _: int) -> Reading:
    """Reads every sample and keeps those before and after each change; stamps count from the first sample."""
    try:
        archive = zipfile.ZipFile(BufferedReader(stream, PAGE // 4))
    except _TORN as error:
        raise LogError(f"{file.path}: a torn or damaged archive ({error}); save the capture again") from error
    capture = _capture(file, archive)
    found = _Found()
    for name in capture.pieces:
        _take(file, archive, name, capture, found)
    found.close()
    if not found.rows:
        raise LogError(f"{file.path}: a capture without any sample; save it again")
    index, words = np.concatenate(found.index), np.concatenate(found.words)
    found.index.clear()
    found.words.clear()
    values = {
        name: (words & words.dtype.type(1 << bit) != 0).astype(np.float64)
        for name, bit in capture.wires.items()
    }
    del words
    times = row_times_ns(index, 1 / capture.rate_hz)
    group = Sampled(file.message, times, values, dict.fromkeys(values, ""), continuous=True)
    return sampled_reading(
        "sr",
        (group,),
        index,
        Ledger(found.samples + found.lost + capture.others, found.samples, capture.others, found.lost),
        rejected=found.rejected,
        resolution_ns=1 if (10**9 / capture.rate_hz).denominator == 1 else 2,
        notes=("the capture does not say when it began", f"sampled every {ceil(10**9 / capture.rate_hz)} ns"),
        place_is="sample",
    )


def _capture(file: LogFile, archive: zipfile.ZipFile) -> _Capture:
    if "metadata" not in archive.namelist():
        raise LogError(
            f"{file.path}: a zip archive that is no logic capture (it has no 'metadata'); unpack it and give the "
            "log in it"
        )
    try:
        parser = configparser.ConfigParser(interpolation=None, strict=False)
        with archive.open("metadata") as member:
            parser.read_string(member.read(1 << 20).decode("utf-8"))
        device = parser["device 1"]
        match = _RATE.fullmatch(device["samplerate"])
        unit, prefix = int(device["unitsize"]), device["capturefile"]
    except (*_TORN, configparser.Error) as error:
        raise LogError(
            f"{file.path}: an archive whose 'metadata' describes no logic capture ({error}); save the capture again"
        ) from error
    probes = {value: int(key[5:]) - 1 for key, value in device.items() if re.fullmatch(r"probe[1-9]\d?", key)}
    lost = file.lacks(probes)
    if (
        match is None
        or Fraction(match[1]) <= 0
        or not 1 <= unit <= 8
        or lost
        or not probes
        or max(probes.values()) >= 8 * unit
    ):
        what = (
            f"no probe named {', '.join(sorted(lost))}"
            if lost
            else "a sample rate, sample size or probes that cannot be"
        )
        raise LogError(f"{file.path}: {what}; its probes are {', '.join(probes) or 'not named'}")
    pieces = _pieces(archive, prefix)
    wires = {plain_name(name): bit for name, bit in probes.items() if file.wants(name)}
    return _Capture(
        Fraction(match[1]) * _FACTOR[match[2]], wires, unit, pieces, len(archive.namelist()) - len(pieces)
    )


def _pieces(archive: zipfile.ZipFile, prefix: str) -> list[str]:
    """The members with samples in the order in which they were taken."""
    numbered = {}
    for name in archive.namelist():
        match = re.fullmatch(re.escape(prefix) + r"(?:-(\d{1,9}))?", name)
        if match is not None:
            numbered[int(match[1] or 0)] = name
    return [numbered[number] for number in sorted(numbered)]


def _take(file: LogFile, archive: zipfile.ZipFile, name: str, capture: _Capture, found: _Found) -> None:
    """The samples of one piece; what cannot be unpacked is skipped over by the size that the archive states."""
    stated = archive.getinfo(name).file_size // capture.unit
    first = found.samples + found.lost
    if (first + stated) * capture.unit > LARGEST:
        raise LogError(f"{file.path}: it unpacks to more than {LARGEST} bytes; save a shorter capture")
    taken, why = 0, ""
    most = allowed(named=bool(file.wanted))
    wide = min(size for size in (1, 2, 4, 8) if size >= capture.unit)
    mask = np.array(sum(1 << bit for bit in capture.wires.values()), f"<u{wide}")
    try:
        for block in _blocks(archive, name, capture.unit, wide):
            _keep(found, block & mask, first + taken)
            taken += len(block)
            if too_many(found.rows, len(capture.wires), most=most):
                raise LogError(
                    f"{file.path}: more than {found.rows} changes; save a shorter capture, or name only the wires that "
                    "are needed, in a bench file under shows, sources"
                )
    except _TORN as error:
        why = f"a piece of the capture that cannot be unpacked ({error})"
    found.samples += min(taken, stated)
    found.lost += stated - min(taken, stated)
    if why or taken != stated:
        why = why or "a piece of the capture that is not as long as the archive says"
        count = stated - min(taken, stated)
        found.close()
        from_row = found.rows - (found.rows > 0)
        piece = Rejected(
            first, first, count, 0, from_row, why, QualityKind.UNREADABLE, from_start=True, until_end=True
        )
        found.rejected = grouped((*found.rejected, piece))


def _blocks(archive: zipfile.ZipFile, name: str, unit: int, wide: int) -> Iterator[Words]:
    """The samples of a piece, some at a time, in words of so many bytes."""
    with archive.open(name) as member:
        while chunk := member.read(_STEP // unit * unit):
            whole = len(chunk) // unit
            block = np.frombuffer(chunk, np.uint8, whole * unit).reshape(whole, unit)
            if wide > unit:
                block = np.pad(block, ((0, 0), (0, wide - unit)))
            yield block.reshape(-1).view(f"<u{wide}")


def _keep(found: _Found, block: Words, first: int) -> None:
    """Keep the samples on both sides of each change; the last one waits for the one that follows."""
    if not len(block):
        return
    edges = np.flatnonzero(block[1:] != block[:-1])
    kept = np.stack([edges, edges + 1], axis=1).reshape(-1)
    kept = kept[np.concatenate([[True], kept[1:] != kept[:-1]])[: len(kept)]]
    if found.last is None or found.last[1][0] != block[0]:
        found.close()
        kept = kept if len(kept) and kept[0] == 0 else np.concatenate([[0], kept])
    among = bool(len(kept)) and int(kept[-1]) == len(block) - 1
    found.last = first + len(block) - 1, block[-1:].copy(), among
    found.put(kept + first, block[kept])
