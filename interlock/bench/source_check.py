"""Whether the sources of a bench's logs fit each other, its messages and the signals that it shows."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from interlock.bench.observe import Condition
from interlock.bench.refusal import advise, quoted
from interlock.bench.shows_models import Shows
from interlock.bench.source_models import Source, StatedClock
from interlock.bench.sources import reference_of, source_of
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["SourceSignal", "check_edges", "check_sources", "source_signals"]

_AT: Final[Path] = ("shows", "sources")


@dataclass(frozen=True, slots=True)
class SourceSignal:
    """A signal of a source, in the terms in which a signal of a DBC is compared with what is said of it."""

    name: str
    unit: str
    is_float: bool  # False: 0 or 1
    length: int = 1
    scale: int = 1
    offset: int = 0
    is_signed: bool = False


def source_signals(shows: Shows) -> Mapping[str, Mapping[str, SourceSignal]]:
    """The signals of each source that holds signals, by the source's id and their own."""
    return {
        name: {
            key: SourceSignal(key, one.shown_unit, one.high_from is None and source.kind not in {"sr", "vcd"})
            for key, one in source.signals.items()
        }
        for name, source in shows.sources.items()
        if source.sampled
    }


def check_sources(shows: Shows) -> Iterator[Mistake]:
    """Every source without a clock too many or too few, and every message whose source is not there."""
    if not shows.sources:
        yield from _messages(shows, {})
        return
    yield from _clocks(shows.sources)
    frames = {name: one for name, one in shows.sources.items() if not one.sampled}
    if not frames and shows.messages:
        why = "none of them holds CAN frames, and messages come in such"
        yield Mistake(_AT, "sources", why, "add one of 'kind: can'", at_key=True)
        return
    yield from _messages(shows, frames)
    for name in sorted(set(shows.messages) & set(shows.sources)):
        why = "a source bears this name; its period and gap stand there"
        instead = "remove it here, or rename the source"
        yield Mistake(("shows", "messages", name), f"message {quoted(name)}", why, instead, at_key=True)
    for name, source in shows.sources.items():
        yield from _delay(source, (*_AT, name, "stamp_delay"))


def _clocks(sources: Mapping[str, Source]) -> Iterator[Mistake]:
    without = [name for name, source in sources.items() if source.clock is None]
    if not without:
        name = next(iter(sources))
        instead = "remove 'clock' from the one by whose time the others are told"
        yield Mistake((*_AT, name, "clock"), "clock", "every source has one", instead, at_key=True)
    for name in without[1:]:
        why = f"like {quoted(without[0])} it has no 'clock', so nothing says how far apart the two are"
        instead = "add 'clock: {drift: 100 ppm, edges: [...]}', or an offset"
        yield Mistake((*_AT, name), f"source {quoted(name)}", why, instead, at_key=True)


def _messages(shows: Shows, frames: Mapping[str, Source]) -> Iterator[Mistake]:
    for name, message in shows.messages.items():
        at: Path = ("shows", "messages", name)
        if message.source is not None and message.source not in frames:
            why = "there is no source of CAN frames of this name"
            instead = advise(message.source, frames) if frames else "describe it under shows, sources"
            yield Mistake((*at, "source"), quoted(message.source), why, instead)
        elif message.source is None and len(frames) > 1:
            why = f"it may come from {' or '.join(map(quoted, frames))}"
            yield Mistake(at, f"message {quoted(name)}", why, "add 'source'", at_key=True)


def _delay(source: Source, at: Path) -> Iterator[Mistake]:
    if source.stamp_delay is not None and source.stamp_delay.least > source.stamp_delay.most:
        yield Mistake(
            (*at, "least"), "least", "it is longer than 'most'", "swap the two", also=((*at, "most"),)
        )


def check_edges(shows: Shows) -> Iterator[Mistake]:
    """Every condition of a common edge that is of another source than it must be; names of messages are known."""
    for name, source in shows.sources.items():
        if source.clock is not None and any(one.clock is None for one in shows.sources.values()):
            yield from _edges(shows, name, source.clock)


def _edges(shows: Shows, name: str, clock: StatedClock) -> Iterator[Mistake]:
    for index, edge in enumerate(clock.edges):
        at: Path = (*_AT, name, "clock", "edges", index)
        yield from _of(shows, edge.here, name, (*at, "here"))
        yield from _of(shows, edge.there, reference_of(shows), (*at, "there"))


def _of(shows: Shows, condition: Condition, wanted: str, at: Path) -> Iterator[Mistake]:
    messages = list(dict.fromkeys(one.name.message for one in condition.comparisons))
    for message in messages:
        known = message in shows.messages or message in source_signals(shows)
        if not known:
            why = "it is neither a source nor listed under messages, with its period and longest gap"
            yield Mistake(at, f"message {quoted(message)}", why, "list it there", word=message)
        elif source_of(shows, message) != wanted:
            why = f"it is recorded by {quoted(source_of(shows, message))}, and this is an edge of {quoted(wanted)}"
            yield Mistake(at, f"message {quoted(message)}", why, "name a signal of that source", word=message)
    if len(messages) > 1:
        why = f"signals of {' and '.join(messages)} do not come at the same time"
        yield Mistake(at, str(at[-1]), why, "use signals of one message", word=messages[1])
