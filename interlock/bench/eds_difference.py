"""What changed in the object dictionary of a CANopen node, entry by entry."""

import hashlib
from collections.abc import Iterator
from pathlib import Path as FilePath

from interlock.bench.eds import Dictionary, Entry, read_eds
from interlock.bench.refusal import Refusal
from interlock.errors import InterlockError

__all__ = ["eds_changes"]

EdsChange = tuple[str, str | None, str | None]  # what, as it was, as it is


def eds_changes(old: tuple[FilePath, int], new: tuple[FilePath, int]) -> Iterator[EdsChange]:
    """Each entry that differs between two files (EDS or DCF), each with the number of its node.

    Files of other bytes whose entries are alike differ by their checksums. Nothing only if the bytes are the same.
    Raises InterlockError for a file that cannot be read.
    """
    contents = [_bytes(path) for path, _ in (old, new)]
    if contents[0] == contents[1]:
        return
    before, after = _read(*old), _read(*new)
    found = [
        (_place(place), _said(before, place), _said(after, place))
        for place in sorted({*before.entries, *after.entries})
        if _said(before, place) != _said(after, place)
    ]
    sums = [f"SHA-256 {hashlib.sha256(content).hexdigest()}" for content in contents]
    yield from found or [("content", sums[0], sums[1])]


def _bytes(path: FilePath) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise InterlockError(f"{path}: it cannot be read ({error.strerror}); put it back") from error


def _read(path: FilePath, node: int) -> Dictionary:
    try:
        return read_eds(path, node)
    except Refusal as refusal:
        raise InterlockError(f"{path}: {refusal.why}; {refusal.instead}") from refusal


def _place(place: tuple[int, int]) -> str:
    return f"{place[0]:04X}h sub {place[1]}"


def _said(dictionary: Dictionary, place: tuple[int, int]) -> str | None:
    entry: Entry | None = dictionary.entries.get(place)
    if entry is None:
        return None
    value = "no value" if entry.value is None else f"{entry.value} ({entry.value:X}h)"
    return f"{entry.name}, type {entry.kind:04X}h, {value}"
