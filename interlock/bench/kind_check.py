"""Whether the parts of a device kind fit each other."""

from collections.abc import Iterable, Iterator, Mapping

from interlock.bench.expr import names
from interlock.bench.fault_check import check_faults
from interlock.bench.kind import Kind, Transition
from interlock.bench.names import unknown
from interlock.bench.refusal import quoted
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_kinds"]


def check_kinds(kinds: Mapping[str, Kind], at: Path) -> list[Mistake]:
    """Every state, input, output or delay that a kind names but does not have."""
    return [mistake for name, kind in kinds.items() for mistake in _kind(kind, (*at, name))]


def _kind(kind: Kind, at: Path) -> Iterator[Mistake]:
    yield from _refers(at, ("start",), "state", {kind.start}, kind.states)
    for name, expr in kind.outputs.items():
        yield from _refers(at, ("outputs", name), "state", names(expr), kind.states)
    if kind.braking is not None:
        yield from _refers(at, ("braking",), "state", names(kind.braking), kind.states)
    if kind.demand is not None:
        yield from _refers(at, ("demand",), "output", names(kind.demand), kind.outputs)
    for index, channel in enumerate(kind.channels):
        yield from _refers(at, ("channels", index), "output", {channel}, kind.outputs)
    for index, channel in enumerate(kind.off_channels):
        yield from _refers(at, ("off_channels", index), "input", {channel}, kind.inputs)
    if len(set(kind.channels)) not in {0, 2} or len(kind.channels) > 2:
        yield Mistake((*at, "channels"), "channels", "two outputs make a pair", "write two different outputs")
    for index, delay in enumerate(kind.delays):
        if delay in kind.delays[:index]:
            yield Mistake(
                (*at, "delays", index), f"delay {quoted(delay)}", "it stands here twice", "keep one"
            )
    for index, step in enumerate(kind.transitions):
        yield from _transition(kind, step, at, ("transitions", index))
    yield from check_faults(kind, at)


def _transition(kind: Kind, step: Transition, at: Path, here: Path) -> Iterator[Mistake]:
    for index, state in enumerate(step.source):
        yield from _refers(at, (*here, "from", index), "state", {state}, kind.states)
    yield from _refers(at, (*here, "to"), "state", {step.to}, kind.states)
    if step.when is not None:
        yield from _refers(at, (*here, "when"), "input", names(step.when), kind.inputs)
    if step.after is not None:
        yield from _refers(at, (*here, "after"), "delay", {step.after}, kind.delays)


def _refers(at: Path, here: Path, what: str, used: Iterable[str], known: Iterable[str]) -> Iterator[Mistake]:
    """References from one part of the kind at `at` to another; nothing is said if that one is broken itself."""
    return unknown((*at, *here), what, used, known, also=((*at, f"{what}s"),))
