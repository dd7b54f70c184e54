"""What the sources of a bench's logs say of each message: who records it, how late, how often.

A message of the DBC comes from a source of CAN frames; a source that holds signals is a message of its own.
"""

from collections.abc import Mapping
from math import ceil
from typing import Final

from interlock.bench.shows_models import Message, Shows
from interlock.bench.source_models import Source, StampDelay

__all__ = ["ONLY", "bus_of", "delay_of", "message_of", "reference_of", "source_of", "sources_of"]

_DAY_NS: Final = 86_400 * 10**9
ONLY: Final = "log"
"""The source of all files of a bench that describes none: one recorder of CAN frames."""


def sources_of(shows: Shows) -> Mapping[str, Source]:
    """Every source by its id."""
    return shows.sources or {ONLY: Source(kind="can")}


def reference_of(shows: Shows) -> str:
    """The source by whose clock all is told: the one that does not say how its clock compares."""
    return next(name for name, source in sources_of(shows).items() if source.clock is None)


def source_of(shows: Shows, message: str) -> str:
    """The source that records a message (of the DBC, or the source itself where it holds signals)."""
    if message in shows.sources:
        return message
    stated = shows.messages[message].source if message in shows.messages else None
    return stated or next(name for name, source in sources_of(shows).items() if not source.sampled)


def delay_of(shows: Shows, message: str) -> StampDelay:
    """How late after its sampling the content of a message is stamped."""
    return sources_of(shows)[source_of(shows, message)].stamp_delay or shows.stamp_delay


def bus_of(shows: Shows, message: str) -> str | None:
    """The bus on which a message comes; None: any."""
    stated = shows.messages[message].bus if message in shows.messages else None
    return stated or sources_of(shows)[source_of(shows, message)].bus


def message_of(shows: Shows, name: str) -> Message:
    """What is stated of a message; of a source that holds signals the same, gathered from its entries.

    One that records changes only may begin or end by the shortest of the longest gaps besides the run.
    """
    if name in shows.messages:
        return shows.messages[name]
    source = shows.sources[name]
    channels = source.signals.items()
    return Message.model_construct(
        period=source.period or _row_ns(source),
        longest_gap=_stale_ns(shows) if source.changes_only else source.longest_gap or 2 * _row_ns(source),
        moves={key: one.moves for key, one in channels if one.moves is not None},
        uncertain={key: one.uncertain for key, one in channels if one.uncertain is not None},
    )


def _stale_ns(shows: Shows) -> int:
    return min((message.longest_gap for message in shows.messages.values()), default=0)


def _row_ns(source: Source) -> int:
    """The time from row to row of a table without stamps; a day where only changes are recorded."""
    rate = None if source.table is None else source.table.sample_rate
    return _DAY_NS if rate is None else max(1, ceil(10**9 / rate.value))
