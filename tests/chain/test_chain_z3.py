"""A third opinion from z3: the compiled chain means what kinds and wiring say, in every state there could be.

The encoding is written from the kinds and the wiring alone. z3 proves that each compiled step is possible in
exactly the same states, reachable or not; and, unrolling it, that no shorter acts break a rule than those told.
"""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from chain_benches import EXPECTED, sample, wrong
from chain_over import Over
from needed import need_module

from interlock.bench import Bench, kinds_of
from interlock.bench.expr import And, Const, Expr, Name, Not, Or
from interlock.bench.kind import Transition
from interlock.chain import ir
from interlock.chain.compile import compile_bench

z3 = need_module("z3")

Truth = Any  # z3 has no types
ROUNDS = 6  # reactions come to rest within these; the unrolling asserts it


class Encoded:
    """A bench as formulas over the bits of its devices' states at numbered moments."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.over = bench, Over(bench)
        self.kinds = {name: kinds_of(bench)[device.kind] for name, device in bench.devices.items()}
        self.states = {name: list(kind.states) for name, kind in self.kinds.items()}

    def moment(self, number: int) -> "Moment":
        return Moment(self, {name: z3.BitVec(f"{name}_{number}", 3) for name in self.kinds})

    def start(self) -> Truth:
        """Moment 0 is power-up, before anything has reacted."""
        return z3.And([self.moment(0).at(name, kind.start) for name, kind in self.kinds.items()])

    def triggers(self) -> Iterator[tuple[str, str]]:
        for name, kind in self.kinds.items():
            for trigger in dict.fromkeys(step.act or step.after for step in kind.transitions):
                if trigger is not None:
                    yield name, trigger

    def number(self, name: str, state: str) -> Truth:
        return z3.BitVecVal(self.states[name].index(state), 3)


class Moment:
    """The states of all devices at one moment, and what follows from them."""

    def __init__(self, encoded: Encoded, value: dict[str, Truth]) -> None:
        self.encoded, self.value = encoded, value

    def at(self, name: str, state: str) -> Truth:
        return self.value[name] == self.encoded.number(name, state)

    def real(self) -> Truth:
        """Every device is in one of its states."""
        return z3.And([z3.ULT(self.value[name], len(states)) for name, states in self.encoded.states.items()])

    def same(self, other: "Moment") -> Truth:
        return z3.And([self.value[name] == other.value[name] for name in self.value])

    def output(self, port: str) -> Truth:
        device, output = port.split(".")
        return _encode(self.encoded.kinds[device].outputs[output], lambda state: self.at(device, state))

    def input(self, port: str) -> Truth:
        device, needed = port.split(".")
        if port in self.encoded.bench.wiring:
            return _encode(self.encoded.bench.wiring[port], self.output)
        return z3.BoolVal(self.encoded.kinds[device].inputs[needed] == "always")

    def demand(self, function: str) -> Truth:
        device = self.encoded.bench.required.functions[function].demand
        wanted = self.encoded.kinds[device].demand
        assert wanted is not None
        return _encode(wanted, lambda output: self.output(f"{device}.{output}"))

    def steps(self, name: str, trigger: str | None) -> list[tuple[Truth, str]]:
        """When each step of a trigger (None: reactions) is possible, in their order, and where it leads."""
        return [
            (z3.And(self._ready(name, step), self._run_out(name, step)), step.to)
            for step in self.encoded.kinds[name].transitions
            if (step.act or step.after) == trigger
        ]

    def after(self, name: str, trigger: str | None) -> Truth:
        """The device's state after its first possible step; as before if there is none."""
        value = self.value[name]
        for possible, to in reversed(self.steps(name, trigger)):
            value = z3.If(possible, self.encoded.number(name, to), value)
        return value

    def can(self, name: str, trigger: str) -> Truth:
        return z3.Or([possible for possible, _ in self.steps(name, trigger)])

    def round(self) -> "Moment":
        return Moment(self.encoded, {name: self.after(name, None) for name in self.value})

    def moved(self, name: str, trigger: str) -> "Moment":
        return Moment(self.encoded, {**self.value, name: self.after(name, trigger)})

    def _ready(self, name: str, step: Transition) -> Truth:
        when = (
            True if step.when is None else _encode(step.when, lambda needed: self.input(f"{name}.{needed}"))
        )
        return z3.And(z3.Or([self.at(name, source) for source in step.source]), when)

    def _run_out(self, device: str, done: Transition) -> Truth:
        over = self.encoded.over.by(device, done)
        waiting = [
            self._ready(name, step)
            for name, kind in self.encoded.kinds.items()
            for step in kind.transitions
            if step.after is not None and (name, step.after) in over
        ]
        return z3.Not(z3.Or(waiting))


def _encode(expr: Expr, name: Callable[[str], Truth]) -> Truth:
    match expr:
        case Const(truth):
            return z3.BoolVal(truth)
        case Name(one):
            return name(one)
        case Not(part):
            return z3.Not(_encode(part, name))
        case And(parts):
            return z3.And([_encode(part, name) for part in parts])
        case Or(parts):
            return z3.Or([_encode(part, name) for part in parts])
    raise AssertionError(expr)


def compiled(term: ir.Term, moment: Moment) -> Truth:
    """A guard of the compiled chain over the same variables."""
    match term:
        case ir.Const(truth):
            return z3.BoolVal(truth)
        case ir.Now(field, values):
            return z3.Or([moment.at(field, value) for value in values])
        case ir.No(part):
            return z3.Not(compiled(part, moment))
        case ir.All(parts):
            return z3.And([compiled(part, moment) for part in parts])
        case ir.Any(parts):
            return z3.Or([compiled(part, moment) for part in parts])
    raise AssertionError(term)


def compiled_after(steps: tuple[ir.Step, ...], name: str, moment: Moment) -> tuple[Truth, Truth]:
    """Whether some compiled step is possible, and the device's state after the first one."""
    value, any_ = moment.value[name], z3.BoolVal(False)
    for step in reversed(steps):
        possible = compiled(ir.all_of([ir.Now(name, step.sources), step.guard]), moment)
        value = z3.If(possible, moment.encoded.number(name, step.to), value)
        any_ = z3.Or(any_, possible)
    return any_, value


def holds_everywhere(claim: Truth, moment: Moment) -> bool:
    solver = z3.Solver()
    solver.add(moment.real(), z3.Not(claim))
    return bool(solver.check() == z3.unsat)


@pytest.mark.parametrize("name", [None, *sorted(EXPECTED)])
def test_every_compiled_step_is_possible_exactly_where_it_should_be(name: str | None) -> None:
    bench = sample() if name is None else wrong(name)
    chain, encoded = compile_bench(bench).chain, Encoded(bench)
    here = encoded.moment(0)
    assert {(event.device, event.trigger) for event in chain.events} == set(encoded.triggers())
    for event in chain.events:
        possible, after = compiled_after(event.steps, event.device, here)
        direct = here.can(event.device, event.trigger), here.after(event.device, event.trigger)
        assert holds_everywhere(z3.And(possible == direct[0], after == direct[1]), here), event
    reactions = {device.device: device.steps for device in chain.reactions}
    for device in encoded.kinds:
        _, after = compiled_after(reactions.get(device, ()), device, here)
        assert holds_everywhere(after == here.after(device, None), here), device


def test_z3_would_notice_a_difference() -> None:
    bench = sample()
    here = Encoded(bench).moment(0)
    other = bench.model_copy(update={"wiring": {**bench.wiring, "relay.channel_a": Name("cover.a")}})
    there = Moment(Encoded(other), here.value)
    assert not holds_everywhere(here.after("relay", None) == there.after("relay", None), here)
    assert holds_everywhere(here.after("drive", None) == there.after("drive", None), here)


class Unrolled:
    """All walks of up to some number of events from power-up."""

    def __init__(self, bench: Bench) -> None:
        self.encoded = Encoded(bench)
        self.solver = z3.Solver()
        self.rest = [self._settled(self.encoded.moment(0), 0)]
        self.solver.add(self.encoded.start())

    def extend(self) -> None:
        """One more event, after which everything has settled."""
        last, number = self.rest[-1], 100 * len(self.rest)
        first = self.encoded.moment(number)
        ways = [z3.And(last.can(*event), first.same(last.moved(*event))) for event in self.encoded.triggers()]
        self.solver.add(z3.Or(ways))
        self.rest.append(self._settled(first, number))

    def possible(self, bad: Callable[[Moment], Truth]) -> bool:
        """Whether the last moment can be bad."""
        self.solver.push()
        self.solver.add(bad(self.rest[-1]))
        found = self.solver.check()
        self.solver.pop()
        assert found != z3.unknown
        return bool(found == z3.sat)

    def _settled(self, moment: Moment, number: int) -> Moment:
        for turn in range(1, ROUNDS + 1):
            after = self.encoded.moment(number + turn)
            self.solver.add(after.same(moment.round()))
            moment = after
        self.solver.add(moment.same(moment.round()))
        return moment


STOPS = [name for name in sorted(EXPECTED) if EXPECTED[name]["first"]["id"] == "torque_off"]


@pytest.mark.parametrize("name", STOPS)
def test_no_shorter_walk_gives_torque_under_demand(name: str) -> None:
    first = EXPECTED[name]["first"]
    unrolled = Unrolled(wrong(name))

    def bad(moment: Moment) -> Truth:
        return z3.And(moment.demand(first["function"]), moment.output(f"{first['subject']}.torque"))

    for _ in range(first["steps"]):
        assert not unrolled.possible(bad)
        unrolled.extend()
    assert unrolled.possible(bad)


def test_no_walk_of_six_events_gives_torque_under_demand_on_the_sample() -> None:
    unrolled = Unrolled(sample())
    for _ in range(6):
        unrolled.extend()
        for function in sample().required.functions:
            for unit in ("drive", "load"):
                bad = [unrolled.rest[-1].demand(function), unrolled.rest[-1].output(f"{unit}.torque")]
                assert not unrolled.possible(lambda _, both=bad: z3.And(both))
    assert unrolled.possible(lambda moment: moment.output("drive.torque"))
