"""How far the reading of a file is, told to whoever watches."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import BinaryIO, Final, Protocol

__all__ = ["Digest", "Watched", "watching"]

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
    """A stream whose reading is watched, read once and in its order; each piece goes into the digest as well."""

    def __init__(self, path: Path, stream: BinaryIO, size: int, digest: Digest) -> None:
        self.path, self.size = path, size
        self._stream, self._digest = stream, digest
        self.done = 0

    def read(self, size: int = -1, /) -> bytes:
        """At most so many bytes; none at the end."""
        piece = self._stream.read(size)
        self._digest.update(piece)
        self.done += len(piece)
        self.tell(self.done)
        return piece

    def tell(self, done: int) -> None:
        """So many bytes of the file are read."""
        watcher = _WATCHER.get()
        if watcher is not None:
            watcher(self.path, done, max(self.size, done))
