"""How far the reading of long logs is: a bar with rate and remaining time, on a terminal only."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TextIO

__all__ = ["LONG", "reading_bar"]

LONG: Final = 1 << 24
"""Bytes of a file from which on its reading takes long enough for a bar."""


@contextmanager
def reading_bar(*, as_json: bool, stream: TextIO | None = None) -> Iterator[None]:
    """While this lasts, the reading of each long file shows on standard error; nothing of it stays there.

    It shows if that is a terminal, and with `--json` only if standard output is one as well.
    """
    out = sys.stderr if stream is None else stream
    if not out.isatty() or (as_json and not sys.stdout.isatty()):
        yield
        return
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, TaskID, TextColumn, TimeRemainingColumn
    from rich.progress import TransferSpeedColumn as Rate

    from interlock.trace.progress import watching

    left = TimeRemainingColumn(compact=True)
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        DownloadColumn(),
        Rate(),
        TextColumn("left"),
        left,
    )
    bar = Progress(*columns, console=Console(file=out, markup=False), transient=True, auto_refresh=False)
    tasks: dict[Path, TaskID] = {}

    def watcher(path: Path, done: int, total: int) -> None:
        if total < LONG:
            return
        if not tasks:
            bar.start()
        if path not in tasks:
            tasks[path] = bar.add_task(path.name, total=total)
        bar.update(tasks[path], completed=done, total=total)
        if done >= total:
            bar.update(tasks[path], description=f"{path.name} is read; working on it")
        bar.refresh()

    try:
        with watching(watcher):
            yield
    finally:
        if tasks:
            bar.stop()
