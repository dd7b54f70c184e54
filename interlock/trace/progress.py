"""How far the reading of a file is, told to whoever watches."""

import errno
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from io import SEEK_CUR, SEEK_END, SEEK_SET, RawIOBase
from pathlib import Path
from typing import Any, BinaryIO, Final, Protocol

__all__ = ["Again", "Digest", "Watched", "watching"]

Watcher = Callable[[Path, int, int], None]
"""Called with the file, the bytes of it that are read, and all of its bytes."""

_WATCHER: Final[ContextVar[Watcher | None]] = ContextVar("watcher", default=None)


@contextmanager
def watching(watcher: Watcher) -> Iterator[None]:
    """While this lasts the watcher is told of each piece of a file that is read."""
    token = _WATCHER.set(watcher)
    try:
        yield
    finally:
        _WATCHER.reset(token)


class Digest(Protocol):
    """Something that sums up bytes."""

    def update(self, data: bytes, /) -> None:
        """Take these bytes in."""


class Watched:
    """The bytes that a file had when it was opened, read once and in their order.

    The reading is watched, and each piece goes into the digest as well.
    """

    def __init__(self, path: Path, stream: BinaryIO, size: int, digest: Digest) -> None:
        self.path, self.size = path, size
        self._stream, self._digest = stream, digest
        self.done = 0
        self._told = 0
        self._parts: int | None = None  # of the work, of which this reading is the first; nobody knows yet

    def read(self, size: int = -1, /) -> bytes:
        """At most so many bytes; none at the end."""
        left = self.size - self.done
        piece = self._stream.read(left if size < 0 else min(size, left))
        self._digest.update(piece)
        self.done += len(piece)
        self._tell()
        return piece

    def begin(self, *, again: bool) -> None:
        """From now on it is told how far the reading is; `again`: what is read must be gone through once more."""
        self._parts = 2 if again else 1
        self._tell()

    def end(self) -> None:
        """All is done."""
        self._tell(self.size)

    def again(self, at: int, size: int) -> None:
        """When it is gone through again, so many of so many bytes are done."""
        self._tell(self.size * min(at, size) // max(size, 1))

    def _tell(self, more: int = 0) -> None:
        watcher = _WATCHER.get()
        if watcher is not None and self._parts is not None:
            self._told = max(self._told, min(self.size, (self.done + more) // self._parts))
            watcher(self.path, self._told, self.size)


class Again(RawIOBase):
    """The first `size` bytes of a stream, read anywhere; whoever watches the file is told how many of them are read."""

    def __init__(self, stream: BinaryIO, size: int, watched: Watched) -> None:
        self._stream, self._size, self._watched = stream, size, watched
        self._at = self._read = 0

    def readable(self) -> bool:
        """It is."""
        return True

    def seekable(self) -> bool:
        """It is."""
        return True

    def tell(self) -> int:
        """Where the next byte is read."""
        return self._at

    def seek(self, offset: int, whence: int = SEEK_SET, /) -> int:
        """Go to a byte."""
        base = {SEEK_SET: 0, SEEK_CUR: self._at, SEEK_END: self._size}[whence]
        if base + offset < 0:
            raise OSError(errno.EINVAL, "a place before the first byte")  # as files do
        self._at = base + offset
        return self._at

    def readinto(self, buffer: Any, /) -> int:
        """Fill the buffer as far as there are bytes."""
        self._stream.seek(self._at)
        piece = self._stream.read(max(0, min(len(buffer), self._size - self._at)))
        buffer[: len(piece)] = piece
        self._at += len(piece)
        self._read += len(piece)
        self._watched.again(self._read, self._size)
        return len(piece)
