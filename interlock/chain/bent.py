"""A bench with its faults compiled in: each fault is a field that is absent or present, and bends the chain.

Where several faults force the same port, those that force it on or off win over an expression. Of two that
contradict each other, off wins at an output and on at an input (where the short lies nearest): the set then
behaves like the set without one of the two, so that no minimal set is missed either way.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import Const, Expr, Name
from interlock.bench.kind import Transition
from interlock.chain import ir
from interlock.chain.compile import Compiled, compile_bench, state_term, substitute
from interlock.chain.fault_list import BenchFault
from interlock.chain.lock_rules import timers
from interlock.chain.property import Timer
from interlock.chain.requirement import Requirement
from interlock.chain.timed_locks import TimedLock, timed_locks

__all__ = ["ABSENT", "PRESENT", "Faulty", "compile_faulty", "present"]

ABSENT: Final = "absent"
PRESENT: Final = "present"


def present(fault: BenchFault) -> ir.Term:
    """The fault is there."""
    return ir.Now(fault.field, frozenset({PRESENT}))


@dataclass(frozen=True, slots=True)
class Faulty:
    """A bench with faults: `person` speaks of what people do, `truth` of what the devices then make of it.

    Demands and presses are those of the person: a contact that fails does not undo them. Torque, permission,
    supply and references are what is there in truth, faults included.
    """

    faults: tuple[BenchFault, ...]
    person: Requirement
    truth: Requirement
    locks: tuple[TimedLock, ...] = ()
    """The timers that keep guards locked. In the chain they run out at standstill alone; that they have the time for it
    is one of the losses, or where something else keeps the guard locked as well, a doubt: under the faults that raise
    it the timer may run out at any time."""

    @property
    def chain(self) -> ir.Chain:
        """The chain, whose last fields are the faults."""
        return self.truth.compiled.chain


def compile_faulty(
    bench: Bench, faults: tuple[BenchFault, ...], doubts: Mapping[int, ir.Term] = MappingProxyType({})
) -> Faulty:
    """The bench with these faults as fields; with all of them absent it is the sound bench.

    `doubts`: by the event of a timer, under which faults it may run out while the shaft turns.
    """
    sound, bent = compile_bench(bench), compile_bench(bench, _Bend(bench, faults))
    fields = tuple(ir.Field(one.field, (ABSENT, PRESENT), ABSENT) for one in faults)
    chain = replace(bent.chain, fields=(*bent.chain.fields, *fields))
    person = Requirement(bench, sound)
    truth = Requirement(bench, Compiled(chain, bent.outputs, bent.inputs))
    locks = tuple(_timers(person, truth))
    for one in locks:
        chain = _at_rest_only(chain, one.timer, doubts.get(one.timer.event, ir.FALSE))
    compiled = Compiled(chain, bent.outputs, bent.inputs)
    return Faulty(faults, person, Requirement(bench, compiled), locks)


def _timers(person: Requirement, truth: Requirement) -> Iterator[TimedLock]:
    """The timers that keep a guard of the sound bench locked, told by what is there in truth."""
    for sound in timed_locks(person, redundant=True):
        for timer in timers(person.functions[sound.function], person, truth):
            if timer.event == sound.timer.event:
                yield replace(sound, timer=timer)


def _at_rest_only(chain: ir.Chain, timer: Timer, doubt: ir.Term) -> ir.Chain:
    events, event = list(chain.events), chain.events[timer.event]
    free = ir.any_of([ir.no(timer.moving), doubt])
    steps = (replace(step, guard=ir.all_of([step.guard, free])) for step in event.steps)
    events[timer.event] = replace(event, steps=tuple(steps))
    return replace(chain, events=tuple(events))


@dataclass(frozen=True, slots=True)
class _Bend:
    bench: Bench
    faults: tuple[BenchFault, ...]

    def outputs(self, straight: Mapping[str, ir.Term]) -> Mapping[str, ir.Term]:
        return {port: self._output(port, straight) for port in straight}

    def inputs(self, straight: Mapping[str, ir.Term]) -> Mapping[str, ir.Term]:
        return {port: self._input(port, straight) for port in straight}

    def free(self, device: str, step: Transition) -> ir.Term:
        """No fault of the device blocks the step; a way between two states is blocked from that state alone."""
        return ir.all_of(
            ir.no(ir.all_of([present(one), _blocked(device, step, block)]))
            for one in self.faults
            if one.device == device
            for block in one.fault.blocks
        )

    def _output(self, port: str, straight: Mapping[str, ir.Term]) -> ir.Term:
        device, _, output = port.partition(".")
        kind = self._kind(device)

        def meant(name: str) -> ir.Term:
            if name in kind.outputs:
                return straight[f"{device}.{name}"]
            return state_term(device, kind, Name(name))

        forced = [(one, one.fault.outputs[output]) for one in self._of(device) if output in one.fault.outputs]
        found, on, off = _forced(straight[port], forced, meant)
        found = self._crossed(port, found, straight)
        return ir.all_of([*off, ir.any_of([*on, found])])

    def _input(self, port: str, straight: Mapping[str, ir.Term]) -> ir.Term:
        device, _, needed = port.partition(".")
        forced = [(one, one.fault.inputs[needed]) for one in self._of(device) if needed in one.fault.inputs]
        found, on, off = _forced(straight[port], forced, lambda name: straight[f"{device}.{name}"])
        found = self._crossed(port, found, straight)
        return ir.any_of([*on, ir.all_of([*off, found])])

    def _crossed(self, port: str, found: ir.Term, straight: Mapping[str, ir.Term]) -> ir.Term:
        """The port as shorts within cables bend it further; the other line is taken as it is without faults."""
        for one in self.faults:
            if port in one.ports:
                instead = substitute(one.ports[port], lambda name: self._line(name, straight))
                found = ir.any_of(
                    [ir.all_of([present(one), instead]), ir.all_of([ir.no(present(one)), found])]
                )
        return found

    def _line(self, port: str, straight: Mapping[str, ir.Term]) -> ir.Term:
        """What a line carries, told from among the outputs or inputs at hand, else as its kind or wiring states."""
        if port in straight:
            return straight[port]
        device, _, name = port.partition(".")
        kind = self._kind(device)
        if name in kind.outputs:
            return state_term(device, kind, kind.outputs[name])
        wired = self.bench.wiring.get(port)
        default = ir.Const(kind.inputs[name] == "always")
        return default if wired is None else substitute(wired, straight.__getitem__)

    def _of(self, device: str) -> list[BenchFault]:
        return [one for one in self.faults if one.device == device]

    def _kind(self, device: str) -> Kind:
        return kinds_of(self.bench)[self.bench.devices[device].kind]


def _forced(
    straight: ir.Term, forced: Iterable[tuple[BenchFault, Expr]], meant: Callable[[str], ir.Term]
) -> tuple[ir.Term, list[ir.Term], list[ir.Term]]:
    """The port as expressions bend it; when it is forced on; when it is not forced off."""
    found, on, off = straight, list[ir.Term](), list[ir.Term]()
    for one, expr in forced:
        match expr:
            case Const(True):
                on.append(present(one))
            case Const(False):
                off.append(ir.no(present(one)))
            case _:
                instead = ir.all_of([present(one), substitute(expr, meant)])
                found = ir.any_of([instead, ir.all_of([ir.no(present(one)), found])])
    return found, on, off


def _blocked(device: str, step: Transition, block: str) -> ir.Term:
    source, _, to = block.partition(" to ")
    if to:
        here = source in step.source and step.to == to
        return ir.Now(device, frozenset({source})) if here else ir.FALSE
    return ir.Const(block in {step.act, step.after})
