"""How far a search is, told to whoever watches."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final

__all__ = ["tell", "watching"]

Watcher = Callable[[str, int], None]
"""Called with what is searched, in words, and how many situations of it were met so far."""

_WATCHER: Final[ContextVar[Watcher | None]] = ContextVar("watcher", default=None)


@contextmanager
def watching(watcher: Watcher) -> Iterator[None]:
    """While this lasts the watcher is told of each step of a search."""
    token = _WATCHER.set(watcher)
    try:
        yield
    finally:
        _WATCHER.reset(token)


def tell(what: str, met: int) -> None:
    """Called by searches now and then."""
    if (watcher := _WATCHER.get()) is not None:
        watcher(what, met)
