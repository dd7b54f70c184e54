"""The signals of a drafted bench description that may be contacts, currents, speeds or voltages: all undecided."""

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Final

from interlock.bench.quantity import UNITS, same_unit
from interlock.look.seen import Look, SignalSeen

__all__ = ["state_lines", "value_lines"]


Sampled = Mapping[SignalSeen, str]
"""How conditions name the signals that a recorder had decoded."""
_NONE: Final[Sampled] = MappingProxyType({})


def state_lines(seen: Look, sampled: Sampled = _NONE) -> Iterator[str]:
    """The section `states`: each two-valued signal, each logic level, and each current as what may show torque."""
    known = _known(seen, sampled)
    contacts = [one for one in known if one.two_valued or (one in sampled and _is(one, "voltage"))]
    currents = [one for one in known if not one.two_valued and _is(one, "current")]
    names = _names([*contacts, *currents])
    if not names:
        yield "  states: {}"
        return
    yield "  states:  # true when; write device.output before the colon, take the word out, mind the polarity;"
    yield "    # remove the line of a signal that shows nothing of the bench"
    for one in contacts:
        yield f"    {names[one]}: {_written(_shown(one, sampled))}  # {_history(one)}"
    if currents:
        yield "    # Where a current shows torque, write the bound that a unit without torque stays below."
    for one in currents:
        yield f"    {names[one]}: {_written(f'|{_full(one, sampled)}| > bound {one.unit}')}  # {_range(one)}"


def value_lines(seen: Look, sampled: Sampled = _NONE) -> Iterator[str]:
    """The section `values`: each speed and each voltage."""
    kept = [
        one
        for one in _known(seen, sampled)
        if not one.two_valued and (_is(one, "speed") or _is(one, "voltage"))
    ]
    names = _names(kept)
    if not names:
        return
    yield "  values:  # write device.value before the colon and take the word out; remove what is none"
    for one in kept:
        yield f"    {names[one]}: undecided {_full(one, sampled)}  # {_range(one)}"


def _known(seen: Look, sampled: Sampled) -> list[SignalSeen]:
    """Signals that the DBC describes and that neither count nor tell which others a frame holds; those of recorders."""
    counters = {(message.name, counter.where) for message in seen.messages for counter in message.counters}
    return [
        one
        for one in seen.signals
        if (one in sampled or one.bits is not None)
        and not one.selects
        and (one.message, one.name) not in counters
    ]


def _is(signal: SignalSeen, dimension: str) -> bool:
    return any(same_unit(signal.unit, unit) for unit in UNITS[dimension])


def _names(signals: Iterable[SignalSeen]) -> dict[SignalSeen, str]:
    """A key for each signal, of the form that a bench file wants, no two the same."""
    taken: dict[str, SignalSeen] = {}
    for signal in signals:
        word = _snake(signal.name)
        if word in taken:
            word = f"{_snake(signal.message)}_{word}"
        while word in taken:
            word += "_"
        taken[word] = signal
    return {signal: f"undecided.{word}" for word, signal in taken.items()}


def _snake(name: str) -> str:
    parted = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name).lower().strip("_")
    return parted if re.match("[a-z]", parted) else f"s_{parted}"


def _full(signal: SignalSeen, sampled: Sampled) -> str:
    return sampled.get(signal, f"{signal.message}.{signal.name}")


def _shown(signal: SignalSeen, sampled: Sampled) -> str:
    """A condition that is true for the greater of the two values, for the high level, or while a quantity is not 0."""
    full = _full(signal, sampled)
    if signal in sampled and (not signal.two_valued or not signal.unit):
        return f"{full} is 1"
    if signal.bits == 1 or signal.most is None:
        return f"{full} is {1 if signal.most in (0, None) else signal.most:g}"
    if not signal.unit and (signal.least, signal.most) == (0, 1):
        return f"{full} is 1"
    if 0 in (signal.least, signal.most):
        return f"|{full}| > 0 {signal.unit}".rstrip()
    return f"{full} is {signal.most:g} {signal.unit}".rstrip()


def _written(condition: str) -> str:
    """Undecided, and in quotes where YAML would take the condition for something else once the word is out."""
    text = f"undecided {condition}"
    return json.dumps(text, ensure_ascii=False) if condition.startswith("|") else text


def _history(signal: SignalSeen) -> str:
    if signal.edges is None:
        return _range(signal)
    if not signal.edges:
        return f"never anything but {signal.least:g} in the log" if signal.least is not None else "no value"
    shown = [f"{edge.span.hi / 1e9:.3f} s" for edge in signal.edges[:4] if edge.span.hi is not None]
    more = f" and {len(signal.edges) - 4} more" if len(signal.edges) > 4 else ""
    return f"changed at {', '.join(shown)}{more}"


def _range(signal: SignalSeen) -> str:
    if signal.least is None or signal.most is None:
        return "no number in the log"
    return f"measured: {signal.least:g} to {signal.most:g} {signal.unit}".rstrip()
