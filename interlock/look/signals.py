"""The decoded signals of one message, one after the other: a long log has no room for all at once."""

from dataclasses import dataclass, replace

from interlock.look.counters import counter_in
from interlock.look.seen import Counter, SignalSeen
from interlock.look.values import summary
from interlock.trace.checks import impossible_values
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import SignalLayout
from interlock.trace.model import Quality, Samples
from interlock.trace.wanted import signals_of

__all__ = ["Figures", "figures_of"]


@dataclass(frozen=True, slots=True)
class Figures:
    """What the signals of one message show, each in the order of its description."""

    signals: tuple[SignalSeen, ...]
    counters: tuple[Counter, ...]  # signals that look like an alive counter
    doubts: tuple[Quality, ...]  # values that cannot be


def figures_of(log: Log, stream: Stream) -> Figures:
    """Every signal in figures, from the frames of the right length or from what the recorder had decoded."""
    layouts = {signal.name: signal for signal in stream.layout.signals}
    selectors = {signal.selector for signal in layouts.values()}
    signals, counters, doubts = list[SignalSeen](), list[Counter](), list[Quality]()
    for name, rows, samples in signals_of(log, stream, layouts.keys()):
        bits = layouts[name].length if stream.sampled is None or stream.sampled.described else None
        signals.append(replace(summary(samples, bits), selects=name in selectors))
        doubts += impossible_values(log, layouts[name], rows, samples)
        counter = None
        if stream.sampled is None and name not in selectors:  # what selects pages counts nothing
            counter = _counter(layouts[name], samples)
        counters += [counter] if counter is not None else []
    return Figures(tuple(signals), tuple(counters), tuple(doubts))


def _counter(signal: SignalLayout, samples: Samples) -> Counter | None:
    plain = signal.scale == 1 and signal.offset == 0 and not signal.is_float and not signal.signed
    if not plain or signal.length > 32 or signal.codes or signal.selector is not None:
        return None
    return counter_in(signal.name, samples.values, signal.length)
