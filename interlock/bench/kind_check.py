"""Whether the parts of a device kind fit each other."""

from collections.abc import Iterator, Mapping

from interlock.bench.expr import names
from interlock.bench.kind import Kind
from interlock.bench.names import unknown
from interlock.bench.refusal import quoted
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_kinds"]


def check_kinds(kinds: Mapping[str, Kind], at: Path) -> list[Mistake]:
    """Every state, input, output or delay that a kind names but does not have."""
    return [mistake for name, kind in kinds.items() for mistake in _kind(kind, (*at, name))]


def _kind(kind: Kind, at: Path) -> Iterator[Mistake]:
    yield from unknown((*at, "start"), "state", {kind.start}, kind.states)
    for name, expr in kind.outputs.items():
        yield from unknown((*at, "outputs", name), "state", names(expr), kind.states)
    if kind.demand is not None:
        yield from unknown((*at, "demand"), "output", names(kind.demand), kind.outputs)
    for index, channel in enumerate(kind.channels):
        yield from unknown((*at, "channels", index), "output", {channel}, kind.outputs)
    if len(set(kind.channels)) not in {0, 2} or len(kind.channels) > 2:
        yield Mistake((*at, "channels"), "channels", "two outputs make a pair", "write two different outputs")
    for index, channel in enumerate(kind.off_channels):
        yield from unknown((*at, "off_channels", index), "input", {channel}, kind.inputs)
    for index, delay in enumerate(kind.delays):
        if delay in kind.delays[:index]:
            yield Mistake(
                (*at, "delays", index), f"delay {quoted(delay)}", "it stands here twice", "keep one"
            )
    yield from _transitions(kind, at)


def _transitions(kind: Kind, at: Path) -> Iterator[Mistake]:
    for index, step in enumerate(kind.transitions):
        here = (*at, "transitions", index)
        yield from unknown((*here, "from"), "state", step.source, kind.states)
        yield from unknown((*here, "to"), "state", {step.to}, kind.states)
        if step.when is not None:
            yield from unknown((*here, "when"), "input", names(step.when), kind.inputs)
        if step.after is not None:
            yield from unknown((*here, "after"), "delay", {step.after}, kind.delays)
