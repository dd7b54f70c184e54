"""Benches for the tests of procedures, and a walker over the chain that shares nothing with the planner.

The walker runs the faulty chain by the plain reference interpreter, one state at a time.
"""

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from interlock.bench import Bench, load_bench
from interlock.chain import ir, reference
from interlock.chain.bent import PRESENT, Faulty, compile_faulty
from interlock.chain.fault_list import BenchFault
from interlock.procedure import Plan, derive
from interlock.procedure.features import seen_ports

ROOT = Path(__file__).parents[2]
DEMO = "interlock/demo/bench.yaml"
SAMPLE = "tests/benches/sample/bench.yaml"
WRONG = "tests/benches/wrong/"


@cache
def bench_of(name: str) -> Bench:
    return load_bench(ROOT / name)


@cache
def plan_of(name: str) -> Plan:
    return derive(bench_of(name))


class Person:
    """Somebody at a bench, with a fault or without, who acts and waits."""

    def __init__(self, bench: Bench, fault: BenchFault | None) -> None:
        self._faulty: Faulty = compile_faulty(bench, () if fault is None else (fault,))
        self._ports = seen_ports(bench)
        chain = self._faulty.chain
        first = {field.name: field.start for field in chain.fields}
        if fault is not None:
            first[fault.field] = PRESENT
        self.state = self._rested(reference.settle(chain, first))

    def act(self, device: str, does: Iterable[str]) -> bool:
        """Whether every act was possible; one that is not leaves the bench as it is."""
        done = True
        for trigger in does:
            event = next(
                one for one in self._faulty.chain.events if (one.device, one.trigger) == (device, trigger)
            )
            after = self._taken(self.state, event)
            done &= after is not None
            self.state = self.state if after is None else after
        self.state = self._rested(self.state)
        return done

    def sees(self) -> tuple[bool, ...]:
        outputs = self._faulty.truth.compiled.outputs
        return tuple(reference.holds(outputs[port], self.state, self.state) for port in self._ports)

    def _taken(self, state: reference.State, event: ir.Event) -> reference.State | None:
        step = reference.step_taken(event, state)
        if step is None:
            return None
        return reference.settle(self._faulty.chain, {**state, event.device: step.to})

    def _rested(self, state: reference.State) -> reference.State:
        late = sorted(
            (one for one in self._faulty.chain.events if one.kind is ir.EventKind.LATE),
            key=lambda one: one.delay_ns,
        )
        while True:
            after = next((got for one in late if (got := self._taken(state, one)) is not None), None)
            if after is None:
                return state
            state = after


def seen_along(
    bench: Bench, plan: Plan, fault: BenchFault | None, *, backwards: bool = False
) -> list[tuple[bool, ...]]:
    """What is seen after each step; `backwards`: contacts that move together move in the other order."""
    person = Person(bench, fault)
    seen = [person.sees()]
    for step in plan.steps[1:]:
        person.act(step.device, reversed(step.does) if backwards else step.does)
        seen.append(person.sees())
    return seen
