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
    found = {}
    for one in judge.sets:
        classes = {class_of[name] for name in one if name in class_of}
        for effect, lost in explored.lost.items():
            if (number := explored.sets.number[tuple(sorted(classes))]) in lost:
                steps = lost[number].steps
                alike = len(classes) < sum(
                    name in class_of for name in one
                )  # each of them arrives for itself
                found[one, *effect] = expected.get((one, *effect), steps) if alike else steps
    assert found == expected


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
    assume(len(explored.spread.met.words) < 400)
    same(bench, 2)
