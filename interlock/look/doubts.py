"""The doubts about a log that need no bench description: what each reader, the DBC and the stamps contradict."""

from collections.abc import Iterator, Sequence
from typing import Final

from interlock.timing.stamps import blocked
from interlock.trace import checks, quality
from interlock.trace.canopen import node_facts
from interlock.trace.gather import Log, Stream, Unknown
from interlock.trace.model import Quality

__all__ = ["block_notes", "log_doubts", "stream_doubts"]

_TRIED: Final = 1 << 18  # frames of a message that are looked at for blocks
_NAMED: Final = 3  # messages; more are counted


def log_doubts(log: Log, streams: Sequence[Stream], *, judged: bool) -> Iterator[Quality]:
    """Each doubt about the log as a whole; `judged` False: there is no DBC that identifiers could contradict."""
    yield from quality.unread(log)
    yield from quality.backwards(log)
    yield from quality.oddities(log)
    if judged:
        yield from quality.unknown_identifiers(log, tuple(map(_unknown, filter(_nameless, streams))))


def stream_doubts(log: Log, stream: Stream, values: Sequence[Quality]) -> Iterator[Quality]:
    """Each doubt about one message, in which stand those about its values."""
    yield from quality.mixed_buses(log, stream)
    yield from quality.mixed_files(log, stream)
    if not _nameless(stream):
        yield from checks.wrong_lengths(log, stream)
        yield from values
        yield from node_facts(log, stream)


def block_notes(streams: Sequence[Stream]) -> Iterator[str]:
    """What is to be said if frames stand in blocks: a recorder may have stamped what it had gathered."""
    framed = [one for one in streams if one.sampled is None or one.sampled.described is not None]
    tried = ((one.layout.name.lstrip("#"), blocked(one.times_ns[:_TRIED])) for one in framed)
    found = {name: blocks for name, blocks in tried if blocks is not None}
    if not found:
        return
    names, more = list(found)[:_NAMED], len(found) - _NAMED
    told = ", ".join(names) + (f" and {more} more" if more > 0 else "")
    size = max(one.size for one in found.values())
    every_ns = max(one.every_ns for one in found.values())
    yield (
        f"frames of {told} stand in blocks of up to {size}, {every_ns / 1e6:.4g} ms apart: if the recorder stamps what "
        "it has gathered, add so much to 'most' of 'stamp_delay' and to each 'longest_gap'; if each stands "
        "twice, export it once; if they are sent in bursts, nothing is wrong"
    )


def _nameless(stream: Stream) -> bool:
    return stream.layout.name.startswith("#")


def _unknown(stream: Stream) -> Unknown:
    times = stream.times_ns
    return Unknown(stream.layout.key, len(times), int(stream.rows.min()), int(times[0]), int(times[-1]))
