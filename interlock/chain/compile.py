"""From a bench's declarations to a chain: wiring put in place of inputs, states in place of outputs."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, Protocol, assert_never

from transitions import Machine

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import And, Const, Expr, Name, Not, Or, evaluate
from interlock.bench.kind import Transition
from interlock.chain import ir
from interlock.chain.machines import REACT, declare, guard_name
from interlock.chain.quicker import run_out

__all__ = ["Bend", "Compiled", "compile_bench", "without_times"]


@dataclass(frozen=True, slots=True)
class Compiled:
    """A bench's chain, and its outputs and inputs as terms over the states of its devices."""

    chain: ir.Chain
    outputs: Mapping[str, ir.Term]  # "device.output"
    inputs: Mapping[str, ir.Term]  # "device.input": what reaches it


class Bend(Protocol):
    """What may come between the devices: it changes what they show, what reaches them, what they can do."""

    def outputs(self, straight: Mapping[str, ir.Term]) -> Mapping[str, ir.Term]:
        """The outputs as all else sees them."""

    def inputs(self, straight: Mapping[str, ir.Term]) -> Mapping[str, ir.Term]:
        """The inputs as they reach their devices."""

    def free(self, device: str, step: Transition) -> ir.Term:
        """When the transition is possible at all."""


class _Straight:
    """A sound bench: nothing comes between."""

    def outputs(self, straight: Mapping[str, ir.Term]) -> Mapping[str, ir.Term]:
        return straight

    def inputs(self, straight: Mapping[str, ir.Term]) -> Mapping[str, ir.Term]:
        return straight

    def free(self, device: str, step: Transition) -> ir.Term:
        return ir.TRUE


_STRAIGHT: Final = _Straight()


def compile_bench(bench: Bench, bend: Bend = _STRAIGHT) -> Compiled:
    """The bench as a chain; every step of every device's declared machine is in it.

    What is over by the time that an act is done is told by the sound bench, whatever bends it.
    """
    hasty = without_times(bench, bend)
    sound = hasty if bend is _STRAIGHT else without_times(bench)
    events = (_in_time(hasty.chain, sound.chain, at) for at in range(len(hasty.chain.events)))
    return replace(hasty, chain=replace(hasty.chain, events=tuple(events)))


def _in_time(hasty: ir.Chain, sound: ir.Chain, number: int) -> ir.Event:
    """The event, if it is an act, at its end: nothing then still waits that is over by then."""
    event = hasty.events[number]
    steps = (
        replace(step, guard=ir.all_of([step.guard, *(ir.no(waits(hasty.events[one])) for one in over)]))
        for step, plain in zip(event.steps, sound.events[number].steps, strict=True)
        for over in [run_out(sound, event.device, plain)]
    )
    return replace(event, steps=tuple(steps))


def without_times(bench: Bench, bend: Bend = _STRAIGHT) -> Compiled:
    """The bench as if acts took no time."""
    kinds = kinds_of(bench)
    kind_of = {name: kinds[device.kind] for name, device in bench.devices.items()}
    outputs = bend.outputs(
        {port: term for name, kind in kind_of.items() for port, term in _outputs(name, kind)}
    )
    inputs = bend.inputs(
        {port: term for name, kind in kind_of.items() for port, term in _inputs(bench, name, kind, outputs)}
    )
    machines = {name: declare(kinds[name])[0] for name in {device.kind for device in bench.devices.values()}}
    reactions: list[ir.Reactions] = []
    late: list[ir.Event] = []
    acts: list[ir.Event] = []
    for name, device in bench.devices.items():
        unit = _Device(name, kind_of[name], machines[device.kind], inputs, bend)
        if steps := unit.steps(REACT):
            reactions.append(ir.Reactions(name, tuple(steps)))
        late += [unit.late(delay, device.delays[delay]) for delay in device.delays]
        acts += [
            ir.Event(name, act, ir.EventKind.ACT, tuple(unit.steps(f"act_{act}"))) for act in unit.acts()
        ]
    late = [event for event in late if event.steps]
    fields = tuple(ir.Field(name, tuple(kind.states), kind.start) for name, kind in kind_of.items())
    return Compiled(ir.Chain(fields, tuple(reactions), (*acts, *late)), outputs, inputs)


@dataclass(frozen=True, slots=True)
class _Device:
    name: str
    kind: Kind
    machine: Machine
    inputs: Mapping[str, ir.Term]
    bend: Bend

    def acts(self) -> list[str]:
        return list(dict.fromkeys(step.act for step in self.kind.transitions if step.act is not None))

    def late(self, delay: str, delay_ns: int) -> ir.Event:
        return ir.Event(self.name, delay, ir.EventKind.LATE, tuple(self.steps(f"late_{delay}")), delay_ns)

    def steps(self, trigger: str) -> list[ir.Step]:
        """The steps that the machine declares for a trigger, in the order declared."""
        declared = self.machine.events[trigger].transitions if trigger in self.machine.events else {}
        found = []
        for index, step in enumerate(self.kind.transitions):
            sources = frozenset(
                source
                for source, transitions in declared.items()
                for transition in transitions
                if [condition.func for condition in transition.conditions] == [guard_name(index)]
            )
            if sources:
                guard = ir.TRUE if step.when is None else substitute(step.when, self._input)
                possible = ir.all_of([guard, self.bend.free(self.name, step)])
                found.append(ir.Step(sources, possible, step.to, step.words, step.takes))
        return found

    def _input(self, name: str) -> ir.Term:
        return self.inputs[f"{self.name}.{name}"]


def waits(event: ir.Event) -> ir.Term:
    """The late reaction is still to come."""
    return ir.any_of(ir.all_of([ir.Now(event.device, step.sources), step.guard]) for step in event.steps)


def substitute(expr: Expr, term: Callable[[str], ir.Term]) -> ir.Term:
    """The expression as a term, each name replaced by what `term` gives for it."""
    match expr:
        case Const(truth):
            return ir.Const(truth)
        case Name(name):
            return term(name)
        case Not(part):
            return ir.no(substitute(part, term))
        case And(parts):
            return ir.all_of(substitute(part, term) for part in parts)
        case Or(parts):
            return ir.any_of(substitute(part, term) for part in parts)
        case _:
            assert_never(expr)


def _outputs(name: str, kind: Kind) -> Iterator[tuple[str, ir.Term]]:
    for output, expr in kind.outputs.items():
        yield f"{name}.{output}", state_term(name, kind, expr)


def state_term(name: str, kind: Kind, expr: Expr) -> ir.Term:
    """An expression over the kind's states as a term about the device."""
    states = frozenset(state for state in kind.states if evaluate(expr, state.__eq__))
    return ir.Now(name, states) if states else ir.FALSE


def _inputs(
    bench: Bench, name: str, kind: Kind, outputs: Mapping[str, ir.Term]
) -> Iterator[tuple[str, ir.Term]]:
    for needed, default in kind.inputs.items():
        port = f"{name}.{needed}"
        wired = bench.wiring.get(port)
        yield port, ir.Const(default == "always") if wired is None else substitute(wired, outputs.__getitem__)
