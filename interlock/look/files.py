"""What became of each line or object of a file."""

from collections.abc import Iterator
from typing import Final

from interlock.look.seen import FileSeen, Piece
from interlock.trace.model import Source
from interlock.trace.reading import Reading, Rejected

__all__ = ["MOST_LISTED", "file_seen"]

MOST_LISTED: Final = 10_000
"""A file with more unread lines than this has its runs of them told as one piece each."""


def file_seen(reading: Reading, source: Source) -> FileSeen:
    """The file with each piece that became no frame: frames, non-frames and the pieces' counts add up to the file."""
    place_is = reading.columns.place_is
    several = place_is == "line" and source.rejected <= MOST_LISTED
    return FileSeen(
        path=source.path,
        sha256=source.sha256,
        format=source.format,
        lines_or_objects=source.lines_or_objects,
        frames=source.frames,
        non_frames=source.non_frames,
        findings=tuple(
            piece for group in reading.rejected for piece in _pieces(group, place_is, several=several)
        ),
    )


def _pieces(group: Rejected, place_is: str, *, several: bool) -> Iterator[Piece]:
    """Each line by itself where its number is known; a doubt that concerns no piece of its own gives none."""
    if several and group.last - group.place + 1 == group.count:
        for line in range(group.place, group.last + 1):
            yield Piece(line, place_is, 1, group.kind, group.why)
    elif group.count:
        yield Piece(group.place, place_is, group.count, group.kind, group.why)
