"""Logic captures in the open archive form `.sr` (version 2): a zip of `metadata` and pieces `logic-1-1`, ..."""

import configparser
import io
import lzma
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.inputs import LogFile, plain_name
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.reading import Reading, Rejected, Sampled
from interlock.trace.sampled import sampled_reading
from interlock.trace.table import row_times_ns

__all__ = ["looks_like", "read"]

LARGEST: Final = 1 << 34
"""Bytes of samples; no capture is unpacked beyond."""
MOST_ROWS: Final = 20_000_000
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


@dataclass(slots=True)
class _Found:
    """Samples next to which a wire changed, and what was lost."""

    index: list[Ints] = field(default_factory=list)
    words: list[NDArray[np.uint64]] = field(default_factory=list)
    samples: int = 0
    rows: int = 0
    lost: int = 0
    rejected: list[Rejected] = field(default_factory=list)


def looks_like(text: bytes) -> bool:
    """Whether the content is a zip archive."""
    return text[:4] == b"PK\x03\x04"


def read(file: LogFile, text: bytes) -> Reading:
    """Reads every sample and keeps those before and after each change; stamps count from the first sample."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(text))
    except _TORN as error:
        raise LogError(f"{file.path}: a torn or damaged archive ({error}); save the capture again") from error
    capture = _capture(file, archive)
    found = _Found()
    for name in capture.pieces:
        _take(file, archive, name, capture, found)
    if not found.rows:
        raise LogError(f"{file.path}: a capture without any sample; save it again")
    index, words = np.concatenate(found.index), np.concatenate(found.words)
    values = {
        name: (words >> np.uint64(bit) & np.uint64(1)).astype(np.float64)
        for name, bit in capture.wires.items()
    }
    times = row_times_ns(index, 1 / capture.rate_hz)
    group = Sampled(file.message, times, values, dict.fromkeys(values, ""), continuous=True)
    return sampled_reading(
        "sr",
        (group,),
        index,
        Ledger(found.samples + found.lost + capture.others, found.samples, capture.others, found.lost),
        rejected=tuple(found.rejected),
        resolution_ns=1 if (10**9 / capture.rate_hz).denominator == 1 else 2,
        notes=("the capture does not say when it began", f"sampled every {ceil(10**9 / capture.rate_hz)} ns"),
        place_is="sample",
    )


def _capture(file: LogFile, archive: zipfile.ZipFile) -> _Capture:
    try:
        parser = configparser.ConfigParser(interpolation=None, strict=False)
        with archive.open("metadata") as member:
            parser.read_string(member.read(1 << 20).decode("utf-8"))
        device = parser["device 1"]
        match = _RATE.fullmatch(device["samplerate"])
        unit, prefix = int(device["unitsize"]), device["capturefile"]
    except (*_TORN, configparser.Error) as error:
        raise LogError(
            f"{file.path}: an archive whose 'metadata' describes no logic capture ({error})"
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
    mask = np.uint64(sum(1 << bit for bit in capture.wires.values()))
    try:
        for block in _blocks(archive, name, capture.unit):
            _keep(file, found, block & mask, first + taken)
            taken += len(block)
    except _TORN as error:
        why = f"a piece of the capture that cannot be unpacked ({error})"
    found.samples += min(taken, stated)
    found.lost += stated - min(taken, stated)
    if why or taken != stated:
        why = why or "a piece of the capture that is not as long as the archive says"
        count = stated - min(taken, stated)
        from_row = found.rows - (found.rows > 0)
        found.rejected.append(
            Rejected(
                first, first, count, 0, from_row, why, QualityKind.UNREADABLE, from_start=True, until_end=True
            )
        )


def _blocks(archive: zipfile.ZipFile, name: str, unit: int) -> Iterator[NDArray[np.uint64]]:
    with archive.open(name) as member:
        while chunk := member.read(_STEP // unit * unit):
            whole = len(chunk) // unit
            wide = np.zeros((whole, 8), np.uint8)
            wide[:, :unit] = np.frombuffer(chunk, np.uint8, whole * unit).reshape(whole, unit)
            yield wide.view("<u8")[:, 0]


def _keep(file: LogFile, found: _Found, block: NDArray[np.uint64], first: int) -> None:
    """Keep the samples on both sides of each change, and the ends of the block."""
    if not len(block):
        return
    edges = np.flatnonzero(block[1:] != block[:-1])
    kept = np.unique(np.concatenate(([0, len(block) - 1], edges, edges + 1)))
    found.index.append(kept + first)
    found.words.append(block[kept].astype(np.uint64))
    found.rows += len(kept)
    if found.rows > MOST_ROWS:
        raise LogError(f"{file.path}: more than {MOST_ROWS} changes; name only the wires that are needed")
