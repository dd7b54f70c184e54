"""Whether what a bench says of its log fits its devices, and itself."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.names import Names
from interlock.bench.observe import Condition
from interlock.bench.refusal import advise, near_words, quoted
from interlock.bench.shows_models import Message, Shows
from interlock.bench.source_check import check_edges, check_sources
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_shows"]

_AT: Final[Path] = ("shows",)


def check_shows(shows: Shows, names: Names) -> list[Mistake]:
    """Every output, value or message that is shown and not there, and every time that contradicts another."""
    found = [*_delay(shows), *_ports(shows, names), *_listed(shows, names), *_messages(shows)]
    source = names.source
    if not any(
        source.is_broken(at) or source.holds_broken(at) for at in ((*_AT, "sources"), (*_AT, "messages"))
    ):
        found += [*check_sources(shows), *check_edges(shows)]
    return found


def _delay(shows: Shows) -> Iterator[Mistake]:
    if shows.stamp_delay.least > shows.stamp_delay.most:
        at: Path = (*_AT, "stamp_delay")
        why = "it is longer than 'most'"
        yield Mistake((*at, "least"), "least", why, "swap the two", also=((*at, "most"),))


def _ports(shows: Shows, names: Names) -> Iterator[Mistake]:
    outputs = names.ports(lambda kind: kind.outputs)
    values = names.ports(lambda kind: kind.values)
    for port in shows.states:
        yield from names.strays((*_AT, "states", port), "output", {port}, outputs, at_key=True)
    for port in shows.values:
        yield from names.strays((*_AT, "values", port), "value", {port}, values, at_key=True)


def _listed(shows: Shows, names: Names) -> Iterator[Mistake]:
    if names.source.is_broken((*_AT, "messages")):
        return
    if not shows.messages and not any(source.sampled for source in shows.sources.values()):
        yield _none_listed(shows)
        return
    used = [((*_AT, "states", port), _of(condition)) for port, condition in shows.states.items()]
    used += [((*_AT, "values", port), [name.message]) for port, name in shows.values.items()]
    seen = {*shows.messages, *(name for name, source in shows.sources.items() if source.sampled)}
    for at, messages in used:
        for message in messages:
            if message not in seen:
                yield _unlisted(at, message, shows)
        seen |= set(messages)
        if len(messages) > 1:
            why = f"signals of {' and '.join(messages)} do not come at the same time"
            yield Mistake(at, str(at[-1]), why, "use signals of one message", word=messages[1])


def _none_listed(shows: Shows) -> Mistake:
    if "messages" in shows.model_fields_set:
        return Mistake((*_AT, "messages"), "messages", "it is empty", "write at least one entry", at_key=True)
    return Mistake(_AT, "missing entry 'messages'", "'shows' needs it", "add 'messages:'", at_key=True)


def _of(condition: Condition) -> list[str]:
    return list(dict.fromkeys(comparison.name.message for comparison in condition.comparisons))


def _unlisted(at: Path, message: str, shows: Shows) -> Mistake:
    """Said once a message, where it is first used."""
    why = "it is not listed under messages, with its period and longest gap"
    near = near_words(message, shows.messages)
    instead = advise(message, shows.messages) if near else "list it there"
    return Mistake(at, f"message {quoted(message)}", why, instead, word=message)


def _messages(shows: Shows) -> Iterator[Mistake]:
    for name, message in shows.messages.items():
        yield from _times(message, (*_AT, "messages", name))


def _times(message: Message, at: Path) -> Iterator[Mistake]:
    instead, also = "write a longer time", ((*at, "period"),)
    if message.longest_gap < message.period:
        here: Path = (*at, "longest_gap")
        yield Mistake(here, "longest_gap", "it is shorter than the period", instead, also=also)
    for signal, still in message.moves.items():
        if still < message.period:
            why = "it is shorter than the period: even a signal that moves with each frame would seem frozen"
            yield Mistake((*at, "moves", signal), f"moves {quoted(signal)}", why, instead, also=also)
