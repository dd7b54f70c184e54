"""The search under faults against a second opinion that shares no code with it: states, losses, shortest ways."""

import pytest
from chain_benches import sample
from chain_fault_benches import faulty_benches, only, small
from chain_fault_naive import FaultJudge
from hypothesis import HealthCheck, assume, given, settings

from interlock.bench import Bench
from interlock.chain.bent import compile_faulty
from interlock.chain.fault_list import considered, faults_of
from interlock.chain.fault_sets import FaultSets
from interlock.chain.fault_table import Explored, explore_faults
from interlock.chain.hunt import MOST_BYTES, Ground, Hunt, spread_all
from interlock.chain.losses import fault_observers, losses
from interlock.chain.spread import Spread


def searched(bench: Bench, most: int) -> Explored:
    return explore_faults(compile_faulty(bench, considered(bench)), most, MOST_BYTES)


def states(bench: Bench, most: int) -> set[tuple[tuple[str, ...], frozenset[str]]]:
    """Every state of the devices and the faults under which it is met, each fault a class of its own."""
    out = {one.fault for one in bench.exclusions}
    faulty = compile_faulty(bench, tuple(one for one in faults_of(bench) if one.id not in out))
    sought = losses(faulty)
    sets = FaultSets([one.id for one in faulty.faults], most)
    ground = Ground(faulty, sets, fault_observers(faulty.person, [loss.term for loss in sought]))
    spread = Spread(ground.steps, ground.events, arriving=True, most_bytes=MOST_BYTES)
    spread_all(spread, Hunt(ground, sought, ()))
    named = [frozenset(sets.faults[at] for at in one) for one in sets.sets]
    found = set()
    held = sets.unpack(spread.met.bits)
    for row, word in enumerate(spread.met.words.tolist()):
        state = ground.layout.unpack(word)
        devices = tuple(state[name] for name in bench.devices)
        found |= {(devices, named[at]) for at in held[row].nonzero()[0]}
    return found


def same(bench: Bench, most: int) -> None:
    """Same states under the same sets; the same effects lost, after as many steps."""
    judge = FaultJudge(bench, most)
    assert states(bench, most) == {(node.state, node.faults) for node in judge.nodes}
    explored = searched(bench, most)
    class_of = {one.id: at for at, group in enumerate(explored.groups.alike) for one in group}
    expected = judge.soonest()
    found, hidden = {}, {one for one in judge.sets if masked(judge, one, set(class_of))}
    for one in judge.sets:
        classes = {class_of[name] for name in one if name in class_of}
        for effect, lost in explored.lost.items():
            if (number := explored.sets.number[tuple(sorted(classes))]) in lost:
                steps = lost[number].steps
                alike = len(classes) < sum(
                    name in class_of for name in one
                )  # each of them arrives for itself
                found[one, *effect] = expected.get((one, *effect), steps) if alike else steps
    told = {key: steps for key, steps in found.items() if key[0] not in hidden}
    assert {key: steps for key, steps in expected.items() if key[0] not in hidden} == told
    beside = {key: steps for key, steps in expected.items() if key[0] in hidden}
    assert beside.keys() <= found.keys(), "the fault that was left out does harm beside another"
    assert all(steps >= found[key] for key, steps in beside.items())


def masked(judge: FaultJudge, one: frozenset[str], considered_: set[str]) -> bool:
    """A fault that alone is the wiring itself bends the port of another one of the set.

    It may hide the other (a short to the supply beside a break of the same bridged input). The search leaves it out
    of every set and tells the other alone; so it may tell a loss too many or too soon, never miss one.
    """
    ports = {
        name: {
            (name.partition(".")[0], at) for at in (*judge.faults[name].inputs, *judge.faults[name].outputs)
        }
        for name in one
    }
    return any(
        ports[name] & ports[other] for name in one - considered_ for other in one if other in considered_
    )


@pytest.mark.parametrize("most", [1, 2])
def test_small_bench_with_all_its_faults(most: int) -> None:
    same(small(), most)


def test_small_bench_with_three_faults_at_a_time() -> None:
    kept = ["stop.a_stays_closed", "stop.b_stays_closed", "relay.out_a_welds", "unit.sto_b_dead"]
    same(only(small(), *kept), 3)


@pytest.mark.parametrize(
    "kept",
    [
        ["contactor.welds", "contactor.aux_stays_closed"],
        ["supply_on.stays_pressed", "estop.stays_latched"],
    ],
    ids=" ".join,
)
def test_sample_with_two_faults(kept: list[str]) -> None:
    same(only(sample(), *kept), 2)


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow]
)
@given(faulty_benches())
def test_random_benches(bench: Bench) -> None:
    explored = searched(bench, 2)
    assume(not explored.restless.any())
    assume(sum(len(one.spread.met.words) for one in explored.search.parts) < 400)
    same(bench, 2)


def fed_by_a_bridge(*kept: str) -> Bench:
    """A relay held by a bridged coil: once it drops out its break contacts bridge the stop."""
    relay = {"watch": {"kind": "plain_relay", "name": "watching relay"}}
    wiring = {
        "watch.coil": "always",
        "unit.sto_a": "relay.out_a or not watch.out_a",
        "unit.sto_b": "relay.out_b or not watch.out_b",
    }
    return only(small(devices=relay, wiring=wiring), *kept)


SHORT, BREAK = "watch.wire_coil_short_to_supply", "watch.wire_coil_break"


@pytest.mark.parametrize("kept", [[BREAK], [SHORT], [SHORT, BREAK]], ids=" ".join)
def test_a_bridged_input_broken_and_shorted_to_the_supply(kept: list[str]) -> None:
    bench = fed_by_a_bridge(*kept)
    same(bench, 2)
    lost = searched(bench, 2).lost["halt", "torque_off"]
    assert bool(lost) is (BREAK in kept)


def test_the_short_wins_and_the_break_alone_is_told() -> None:
    bench = fed_by_a_bridge(SHORT, BREAK)
    assert [one.id for one in considered(bench)] == [BREAK]
    told = {faults for faults, *_ in FaultJudge(bench, 2).soonest()}
    assert told == {frozenset({BREAK})}  # with the short as well the bench is as it was without both
