"""From the log files of one run, and a DBC if there is one, to what is in them."""

from collections.abc import Sequence
from pathlib import Path

from interlock.errors import LogError
from interlock.look.doubts import doubts_of
from interlock.look.files import file_seen
from interlock.look.messages import message_seen, nameless
from interlock.look.seen import Look
from interlock.look.signals import decoded, summaries
from interlock.trace.gather import gather, streams_of
from interlock.trace.layout import load_dbc
from interlock.trace.readers import read_log

__all__ = ["look"]


def look(paths: Sequence[Path], dbc: Path | None = None) -> Look:
    """What is in these logs of one run; raises LogError if a file cannot be read or they cannot be joined.

    Without a DBC there are no signals (but those that a recorder had decoded), and lengths are not judged.
    """
    if not paths:
        raise LogError("no log file given; name at least one")
    layouts = {} if dbc is None else load_dbc(dbc)
    pairs = [read_log(path) for path in paths]
    log = gather(paths, [reading for reading, _ in pairs])
    streams, _ = streams_of(log, {**nameless(log), **layouts})
    ordered = sorted(streams.values(), key=lambda one: (one.sampled is not None, one.layout.key))
    signals = {stream.layout.name: decoded(log, stream) for stream in ordered}
    return Look(
        files=tuple(file_seen(reading, source) for reading, source in pairs),
        dbc=None if dbc is None else str(dbc),
        start_ns=log.start_ns,
        absolute=all(reading.columns.absolute for reading in log.readings),
        duration_ns=log.end_ns,
        messages=tuple(message_seen(log, stream, signals[stream.layout.name]) for stream in ordered),
        signals=tuple(one for stream in ordered for one in summaries(stream, signals[stream.layout.name])),
        doubts=tuple(doubts_of(log, ordered, signals, judged=dbc is not None)),
        notes=tuple(dict.fromkeys(note for reading in log.readings for note in reading.notes)),
    )
