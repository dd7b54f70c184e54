"""What the bench description expects of each message in the log."""

from collections.abc import Iterator

from interlock.bench.shows_models import Message, Shows
from interlock.bench.sources import bus_of, delay_of, message_of, source_of
from interlock.trace import Expected

__all__ = ["expected_messages"]


def expected_messages(shows: Shows, source: str | None = None) -> list[Expected]:
    """Every message that is evidence (of one source, or of all), with what a healthy log shows of it."""
    return [
        _expected(
            shows, name, message_of(shows, name), None if name in shows.sources else bus_of(shows, name)
        )
        for name in _names(shows)
        if source in (None, source_of(shows, name))
    ]


def _names(shows: Shows) -> Iterator[str]:
    yield from shows.messages
    yield from (name for name, source in shows.sources.items() if source.sampled)


def _expected(shows: Shows, name: str, message: Message, bus: str | None) -> Expected:
    still = {signal: max(2, span // message.period) for signal, span in message.moves.items()}
    delay = delay_of(shows, name)
    return Expected(
        name,
        message.longest_gap,
        message.period,
        message.alive,
        message.alive_modulo,
        still,
        message.e2e,
        bus,
        stamp_spread_ns=delay.most - delay.least,
        evidence=_evidence(shows, name),
    )


def _evidence(shows: Shows, message: str) -> frozenset[str]:
    """The signals of a message by which something is judged."""
    named = [one.name for state in shows.states.values() for one in state.comparisons]
    return frozenset(one.signal for one in (*named, *shows.values.values()) if one.message == message)
