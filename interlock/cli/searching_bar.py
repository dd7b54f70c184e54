"""How far a long search of a bench is: one line that changes, on a terminal only."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final, TextIO

__all__ = ["searching_bar"]

_LONG_S: Final = 3.0


@contextmanager
def searching_bar(
    *, as_json: bool, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic
) -> Iterator[None]:
    """While this lasts, a search of more than some seconds shows on standard error; nothing of it stays there.

    It shows if that is a terminal, and with `--json` only if standard output is one as well.
    """
    out = sys.stderr if stream is None else stream
    if not out.isatty() or (as_json and not sys.stdout.isatty()):
        yield
        return
    from rich.console import Console

    from interlock.chain.watching import watching

    began, status = clock(), Console(file=out, markup=False, emoji=False).status("searching")
    shown = False

    def watcher(what: str, met: int) -> None:
        nonlocal shown
        passed = clock() - began
        if passed < _LONG_S:
            return
        status.update(f"{what}: {met:,} situations met so far, after {passed:.0f} s")
        if not shown:
            shown = True
            status.start()

    try:
        with watching(watcher):
            yield
    finally:
        if shown:
            status.stop()
