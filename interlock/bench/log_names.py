"""Whether the messages and signals that a bench names exist in its DBC or EDS, in the units it writes."""

from collections.abc import Iterator, Mapping
from pathlib import Path as FilePath
from typing import Any, Final

from interlock.bench.decides import check_decides, check_label
from interlock.bench.log_messages import log_messages
from interlock.bench.names import Names
from interlock.bench.observe import Condition, SignalName
from interlock.bench.protection_check import check_protection
from interlock.bench.quantity import same_unit
from interlock.bench.refusal import advise, quoted
from interlock.bench.shows_models import Message, Shows
from interlock.bench.source_check import SourceSignal, source_signals
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_described", "check_log_names"]

_AT: Final[Path] = ("shows",)
_CODED: Final = frozenset({"cia402"})  # values that are codes and have no unit

Signals = Mapping[str, Mapping[str, Any]]  # message name to signal name to cantools signal


def check_described(shows: Shows, folder: FilePath, names: Names) -> list[Mistake]:
    """Every message, signal or unit of `shows` that the files in `folder` contradict, or why they cannot be read."""
    found = log_messages(shows, folder)
    return list(found.mistakes) or check_log_names(shows, found, names)


def check_log_names(shows: Shows, database: Any, names: Names) -> list[Mistake]:
    """Every message, signal or unit of `shows` that the messages of the database contradict."""
    framed = {
        message.name: {signal.name: signal for signal in message.signals} for message in database.messages
    }
    broken = names.source.holds_broken
    sound = {key: one for key, one in source_signals(shows).items() if not broken((*_AT, "sources", key))}
    signals: Signals = {**framed, **sound}
    return [
        *_sources(shows, framed),
        *_messages(shows, framed),
        *_states(shows, signals),
        *_values(shows, signals, names),
        *_edges(shows, signals),
    ]


def _sources(shows: Shows, framed: Signals) -> Iterator[Mistake]:
    for name in sorted(set(shows.sources) & set(framed)):
        why = "a message of the DBC bears this name"
        yield Mistake((*_AT, "sources", name), f"source {quoted(name)}", why, "choose another", at_key=True)


def _messages(shows: Shows, signals: Signals) -> Iterator[Mistake]:
    for name, message in shows.messages.items():
        at: Path = (*_AT, "messages", name)
        if name not in signals:
            where = "neither DBC nor EDS has a" if shows.canopen else "the DBC has no"
            why = f"{where} message of this name"
            yield Mistake(at, f"message {quoted(name)}", why, advise(name, signals), at_key=True)
        else:
            yield from _message(message, at, signals[name])


def _message(message: Message, at: Path, signals: Mapping[str, Any]) -> Iterator[Mistake]:
    if message.alive is not None:
        yield from _signal((*at, "alive"), message.alive, signals)
        counter = signals.get(message.alive)
        if counter is not None and message.alive_modulo > 2**counter.length:
            why = f"{quoted(message.alive)} has {counter.length} bits and never reaches {message.alive_modulo - 1}"
            yield Mistake((*at, "alive_modulo"), "alive_modulo", why, f"write {2**counter.length} or less")
    yield from check_protection(at, message, signals)
    for signal in message.moves:
        yield from _signal((*at, "moves", signal), signal, signals, at_key=True)
    for signal, amount in message.uncertain.items():
        here = (*at, "uncertain", signal)
        yield from _signal(here, signal, signals, at_key=True)
        if signal in signals:
            yield from _unit(here, amount.unit, signals[signal])


def _states(shows: Shows, signals: Signals) -> Iterator[Mistake]:
    for port, condition in shows.states.items():
        yield from _condition((*_AT, "states", port), condition, signals)


def _condition(at: Path, condition: Condition, signals: Signals) -> Iterator[Mistake]:
    for comparison in condition.comparisons:
        yield from _find(at, comparison.name, signals)
        signal = signals.get(comparison.name.message, {}).get(comparison.name.signal)
        if signal is not None and comparison.label:
            yield from check_label(at, comparison, signal)
        elif signal is not None:
            yield from _unit(at, comparison.unit, signal)
            yield from check_decides(at, comparison, signal)


def _edges(shows: Shows, signals: Signals) -> Iterator[Mistake]:
    for name, source in shows.sources.items():
        for index, edge in enumerate([] if source.clock is None else source.clock.edges):
            at: Path = (*_AT, "sources", name, "clock", "edges", index)
            yield from _condition((*at, "here"), edge.here, signals)
            yield from _condition((*at, "there"), edge.there, signals)


def _values(shows: Shows, signals: Signals, names: Names) -> Iterator[Mistake]:
    for port, name in shows.values.items():
        at: Path = (*_AT, "values", port)
        yield from _find(at, name, signals)
        device, _, value = port.partition(".")
        unit = names.devices[device].values.get(value) if device in names.devices else None
        signal = signals.get(name.message, {}).get(name.signal)
        if signal is not None and unit is not None and not _fits(unit, signal.unit or ""):
            why = f"the DBC gives it in {quoted(signal.unit or '')}, and {port} is a value in {quoted(unit)}"
            yield Mistake(at, quoted(name), why, f"name a signal in {unit}, or mend the DBC")


def _find(at: Path, name: SignalName, signals: Signals) -> Iterator[Mistake]:
    if name.message in signals:  # else it is said where the message is listed, or that it is not
        yield from _signal(at, name.signal, signals[name.message], word=str(name))


def _signal(
    at: Path, name: str, signals: Mapping[str, Any], *, at_key: bool = False, word: str = ""
) -> Iterator[Mistake]:
    if name not in signals:
        holder = "source" if any(isinstance(one, SourceSignal) for one in signals.values()) else "DBC"
        why = f"the {holder} has no signal of this name in the message"
        yield Mistake(at, f"signal {quoted(name)}", why, advise(name, signals), at_key, word)


def _unit(at: Path, unit: str, signal: Any) -> Iterator[Mistake]:
    given = signal.unit or ""
    if same_unit(unit, given):
        return
    what = f"unit {quoted(unit)}" if unit else f"no unit for {quoted(signal.name)}"
    holder = "source" if isinstance(signal, SourceSignal) else "DBC"
    why = f"the {holder} gives {signal.name} " + (f"in {quoted(given)}" if given else "no unit")
    instead = f"write the number in {given}" if given else "write the number without unit"
    yield Mistake(at, what, why, instead, word=unit)


def _fits(unit: str, given: str) -> bool:
    return unit in _CODED or same_unit(unit, given)
