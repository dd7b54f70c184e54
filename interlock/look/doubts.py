"""The doubts about a log that need no bench description: what each reader, the DBC and the stamps contradict."""

from collections.abc import Iterator, Mapping, Sequence

from interlock.look.signals import Decoded
from interlock.trace import checks, quality
from interlock.trace.canopen import node_facts
from interlock.trace.gather import Log, Stream, Unknown
from interlock.trace.model import Quality

__all__ = ["doubts_of"]


def doubts_of(
    log: Log, streams: Sequence[Stream], signals: Mapping[str, Decoded], *, judged: bool
) -> Iterator[Quality]:
    """Each doubt; `judged` False: there is no DBC that lengths, ranges and identifiers could contradict."""
    yield from quality.unread(log)
    if not _groups(streams):
        yield from quality.backwards(log)
    yield from quality.oddities(log)
    nameless = [stream for stream in streams if stream.layout.name.startswith("#")]
    if judged:
        yield from quality.unknown_identifiers(log, tuple(map(_unknown, nameless)))
    for stream in streams:
        yield from quality.mixed_buses(log, stream)
        yield from quality.mixed_files(log, stream)
        if stream not in nameless:
            yield from checks.wrong_lengths(log, stream)
            for signal in stream.layout.signals:
                yield from checks.impossible_values(log, signal, *signals[stream.layout.name][signal.name])
            yield from node_facts(log, stream)


def _groups(streams: Sequence[Stream]) -> bool:
    """Whether the rows are those of several groups of channels, one group after another, each of them in order."""
    sampled = [stream for stream in streams if stream.sampled is not None]
    ordered = all(bool((stream.times_ns[1:] >= stream.times_ns[:-1]).all()) for stream in sampled)
    return len(sampled) == len(streams) > 1 and ordered


def _unknown(stream: Stream) -> Unknown:
    times = stream.times_ns
    return Unknown(stream.layout.key, len(times), int(stream.rows.min()), int(times[0]), int(times[-1]))
