"""Whether what a bench says of its log fits its devices, and itself."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.models import Message, Shows
from interlock.bench.names import Names, unknown
from interlock.bench.observe import Condition
from interlock.bench.refusal import advise, near_words, quoted
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_shows"]

_AT: Final[Path] = ("shows",)


def check_shows(shows: Shows, names: Names) -> list[Mistake]:
    """Every output, value or message that is shown and not there, and every time that contradicts another."""
    return [*_delay(shows), *_ports(shows, names), *_listed(shows, names), *_messages(shows)]


def _delay(shows: Shows) -> Iterator[Mistake]:
    if shows.stamp_delay.least > shows.stamp_delay.most:
        yield Mistake((*_AT, "stamp_delay", "least"), "least", "it is longer than 'most'", "swap the two")


def _ports(shows: Shows, names: Names) -> Iterator[Mistake]:
    outputs = names.ports(lambda kind: kind.outputs)
    values = names.ports(lambda kind: kind.values)
    for port in sorted(names.strange(shows.states, outputs)):
        yield from unknown((*_AT, "states", port), "output", {port}, outputs, at_key=True)
    for port in sorted(names.strange(shows.values, values)):
        yield from unknown((*_AT, "values", port), "value", {port}, values, at_key=True)


def _listed(shows: Shows, names: Names) -> Iterator[Mistake]:
    if names.source.is_broken((*_AT, "messages")):
        return
    for port, condition in shows.states.items():
        at: Path = (*_AT, "states", port)
        messages = _of(condition)
        for message in messages:
            yield from _unlisted(at, message, shows)
        if len(messages) > 1:
            why = f"it compares signals of {' and '.join(messages)}, which do not come at the same time"
            yield Mistake(at, port, why, "use signals of one message")
    for port, name in shows.values.items():
        yield from _unlisted((*_AT, "values", port), name.message, shows)


def _of(condition: Condition) -> list[str]:
    return list(dict.fromkeys(comparison.name.message for comparison in condition.comparisons))


def _unlisted(at: Path, message: str, shows: Shows) -> Iterator[Mistake]:
    if message not in shows.messages:
        why = "it is not listed under messages, with its period and longest gap"
        near = near_words(message, shows.messages)
        instead = advise(message, shows.messages) if near else "list it there"
        yield Mistake(at, f"message {quoted(message)}", why, instead, word=message)


def _messages(shows: Shows) -> Iterator[Mistake]:
    for name, message in shows.messages.items():
        yield from _times(message, (*_AT, "messages", name))


def _times(message: Message, at: Path) -> Iterator[Mistake]:
    if message.longest_gap < message.period:
        yield Mistake(
            (*at, "longest_gap"), "longest_gap", "it is shorter than the period", "write a longer time"
        )
    for signal, still in message.moves.items():
        if still < message.period:
            why = "it is shorter than the period: even a signal that moves with each frame would seem frozen"
            yield Mistake((*at, "moves", signal), f"moves {quoted(signal)}", why, "write a longer time")
