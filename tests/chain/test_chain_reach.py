"""The search without edges: by bits and by words it meets what the plain interpreter meets, and knows its limits."""

from collections import deque
from pathlib import Path

import pytest
from chain_benches import random_benches, sample, wrong
from hypothesis import given, settings

from interlock.bench import Bench, load_bench
from interlock.chain import inputs, ir, reference
from interlock.chain.compile import compile_bench
from interlock.chain.reach import reach
from interlock.chain.reference import WiringLoop

DEMO = Path(__file__).parents[2] / "interlock" / "demo" / "bench.yaml"
BOTH = pytest.mark.parametrize("by_bits", [True, False], ids=["bits", "words"])
Frozen = frozenset[tuple[str, str]]


def plainly(chain: ir.Chain) -> set[Frozen]:
    start = reference.start(chain)
    met, todo = {frozenset(start.items())}, deque([start])
    while todo:
        for _, after in reference.successors(chain, todo.popleft()):
            if (frozen := frozenset(after.items())) not in met:
                met.add(frozen)
                todo.append(after)
    return met


def met(chain: ir.Chain, *, by_bits: bool) -> set[Frozen]:
    found = reach(chain, by_bits=by_bits)
    states = [frozenset(state.items()) for state in found.each()]
    assert not found.shortfall
    assert len(states) == len(set(states)) == found.states
    return set(states)


@BOTH
def test_sample(by_bits: bool) -> None:
    chain = compile_bench(sample()).chain
    assert met(chain, by_bits=by_bits) == plainly(chain)


@BOTH
@pytest.mark.parametrize("name", ["03_one_sto_input_bridged.yaml", "18_contactor_slower_than_the_hand.yaml"])
def test_wrong_benches(name: str, by_bits: bool) -> None:
    chain = compile_bench(wrong(name)).chain
    assert met(chain, by_bits=by_bits) == plainly(chain)


@settings(max_examples=30)
@given(random_benches())
def test_random_benches(bench: Bench) -> None:
    chain = compile_bench(bench).chain
    try:
        expected = plainly(chain)
    except WiringLoop:
        for by_bits in (True, False):
            with pytest.raises(WiringLoop):
                reach(chain, by_bits=by_bits)
        return
    assert met(chain, by_bits=True) == met(chain, by_bits=False) == expected


def switches(count: int, lamps: tuple[ir.Reactions, ...] = (), values: int = 2) -> ir.Chain:
    """Independent switches that a hand turns round, and lamps that react to them."""
    names = tuple(f"v{number}" for number in range(values))
    fields = [ir.Field(f"s{number}", names, "v0") for number in range(count)]
    turn = tuple(
        ir.Step(frozenset({a}), ir.TRUE, b) for a, b in zip(names, names[1:] + names[:1], strict=True)
    )
    events = tuple(ir.Event(field.name, "turn", ir.EventKind.ACT, turn) for field in fields)
    fields += [ir.Field(lamp.device, ("off", "on"), "off") for lamp in lamps]
    return ir.Chain(tuple(fields), lamps, events)


def lamp(name: str, lit: ir.Term) -> ir.Reactions:
    steps = (ir.Step(frozenset({"off"}), lit, "on"), ir.Step(frozenset({"on"}), ir.no(lit), "off"))
    return ir.Reactions(name, steps)


def at(name: str, *values: str) -> ir.Term:
    return ir.Now(name, frozenset(values))


@BOTH
@pytest.mark.parametrize(
    ("count", "values"), [(1, 2), (6, 2), (7, 2), (13, 2), (3, 3), (7, 3), (4, 5), (2, 16)]
)
def test_independent_switches_are_in_every_combination(count: int, values: int, by_bits: bool) -> None:
    """The bits of three-valued switches do not fill up the words, and fields lie across their sixth bit."""
    all_on = ir.all_of(at(f"s{number}", "v1") for number in range(count))
    chain = switches(count, (lamp("lamp", all_on),), values)
    assert reach(chain, by_bits=by_bits).states == values**count


def test_a_million_states_take_less_memory_than_their_words() -> None:
    chain = switches(20, (lamp("lamp", ir.all_of(at(f"s{number}", "v1") for number in range(20))),))
    found = reach(chain, most_bytes=1 << 26)
    assert found.states == 1 << 20
    assert not found.shortfall


@pytest.mark.parametrize("most", [1, 4, 8])
def test_more_inputs_than_are_numbered_together(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inputs, "_MOST_BITS", most)
    chain = switches(4, (lamp("lamp", ir.any_of([at("s0", "v1"), at("s3", "v2")])),), 3)
    assert met(chain, by_bits=True) == plainly(chain)


@pytest.mark.parametrize("most", [1, 4, 8])
def test_inputs_that_fall_into_too_many_classes(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each switch has a lamp of its own, so that nothing can be told alike."""
    monkeypatch.setattr(inputs, "_MOST_CLASSES", most)
    chain = switches(4, tuple(lamp(f"l{number}", at(f"s{number}", "v1")) for number in range(4)))
    assert met(chain, by_bits=True) == plainly(chain)


@BOTH
def test_a_loop_is_found_where_it_can_be_reached(by_bits: bool) -> None:
    never_rests = lamp("buzzer", ir.all_of([at("s0", "v1"), at("s1", "v1"), at("buzzer", "off")]))
    with pytest.raises(WiringLoop) as caught:
        reach(switches(2, (never_rests,)), by_bits=by_bits)
    assert caught.value.devices == {"buzzer"}


@BOTH
def test_a_loop_that_nothing_reaches_is_no_loop(by_bits: bool) -> None:
    """The second switch can be turned only while the first one is off."""
    chain = switches(2, (lamp("buzzer", ir.all_of([at("s0", "v1"), at("s1", "v1"), at("buzzer", "off")])),))
    first, second = chain.events
    off = [at("s1", "v0"), at("s0", "v0")]
    events = tuple(
        ir.Event(
            one.device, "turn", one.kind, tuple(ir.Step(step.sources, guard, step.to) for step in one.steps)
        )
        for one, guard in zip((first, second), off, strict=True)
    )
    found = reach(ir.Chain(chain.fields, chain.reactions, events), by_bits=by_bits)
    assert found.states == 3


@BOTH
def test_too_little_memory_is_named_and_what_was_met_is_right(by_bits: bool) -> None:
    chain = switches(13)
    found = reach(chain, most_bytes=2048, by_bits=by_bits)
    assert "memory" in found.shortfall
    assert "0.001953 MiB" in found.shortfall
    assert 1 <= found.states < 1 << 13
    assert found.states == len({frozenset(state.items()) for state in found.each()})


def test_a_chain_in_which_nothing_can_happen_has_one_state() -> None:
    still = ir.Chain((ir.Field("shaft", ("still",), "still"),), (), ())
    assert [reach(still, by_bits=by_bits).states for by_bits in (True, False)] == [1, 1]


def test_the_demo_by_both() -> None:
    chain = compile_bench(load_bench(DEMO)).chain
    assert met(chain, by_bits=True) == met(chain, by_bits=False)
