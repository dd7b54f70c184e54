"""Small changes to a right bench: each that changes what it does breaks a property, or is known to be harmless."""

from functools import cache

import pytest
from chain_benches import EXPECTED, SAMPLE, WRONG, patched
from chain_mutants import mutants

from interlock.bench import Bench
from interlock.chain import check
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.errors import BenchError
from interlock.verdict import Verdict

SMALL = patched(WRONG / "01_latch_not_sealed.yaml", EXPECTED["01_latch_not_sealed.yaml"]["mend"])
LARGE = patched(SAMPLE, {})
FEWER_ACTS = "only takes a person's act away"
NO_WORK = "safe, but the supply holds only while supply-on is held"
OTHER_FEED = (
    "the requirement says that the contactor opens and the bus empties, not that a unit has no other feed"
)
NO_DIFFERENCE = "what it permits falls back at once"
HARMLESS_SMALL = {
    "hood: no step from b_open to open": FEWER_ACTS,
    "hood: no step from a_open to open": FEWER_ACTS,
    "hood: no step from open to b_open": FEWER_ACTS,
    "hood: no step from a_open to closed": FEWER_ACTS,
    "hood: no step from open to a_open": FEWER_ACTS,
    "hood: no step from b_open to closed": FEWER_ACTS,
    "pump: no step from running to ready": FEWER_ACTS,
    "setpoints: no step from set to zero": FEWER_ACTS,
    "setpoints: no guard from zero to set": NO_DIFFERENCE,
}
HARMLESS_LARGE = {
    "contactor.coil: estop.c and (supply_on.pressed or never)": NO_WORK,
    "contactor.coil: estop.c and (supply_on.pressed or not contactor.aux)": NO_WORK,
    "drive.supply: always": OTHER_FEED,
    "load.supply: always": OTHER_FEED,
}


@cache
def relation(bench: Bench) -> frozenset[tuple[int, int, int]]:
    """What the bench does: every state, event and state after it."""
    graph = explore(compile_bench(bench).chain, 1_000_000)
    states = graph.states.tolist()
    steps = zip(graph.source.tolist(), graph.event.tolist(), graph.target.tolist(), strict=True)
    return frozenset((states[source], event, states[target]) for source, event, target in steps)


def survives(right: Bench, mutant: Bench) -> bool:
    """The mutant passes although it behaves differently."""
    try:
        if check(mutant).verdict is not Verdict.PASS:
            return False
    except BenchError:  # a loop in the wiring: refused, which is found too
        return False
    return relation.__wrapped__(mutant) != relation.__wrapped__(right)


ALL_SMALL = {name: mutant for name, mutant in mutants(SMALL) if not name.startswith("brake: ")}  # as the pump
ALL_LARGE = {
    name: mutant
    for name, mutant in mutants(LARGE)
    if name.startswith(("contactor.coil", "bus.feed", "drive.supply", "load.supply"))
}


def test_the_right_benches_pass() -> None:
    assert check(SMALL).verdict is Verdict.PASS
    assert check(LARGE).verdict is Verdict.PASS


def test_there_are_enough_mutants_to_mean_something() -> None:
    assert len(ALL_SMALL) > 80
    assert len(ALL_LARGE) > 10


def test_mutants_of_the_small_bench() -> None:
    found = {name for name, mutant in ALL_SMALL.items() if survives(SMALL, mutant)}
    assert found - set(HARMLESS_SMALL) == set()
    assert set(HARMLESS_SMALL) - found == set()


def test_mutants_of_the_wiring_of_the_sample() -> None:
    found = {name for name, mutant in ALL_LARGE.items() if survives(LARGE, mutant)}
    assert found == {name for name in HARMLESS_LARGE if name in ALL_LARGE}


@pytest.mark.parametrize(
    ("mutant", "broken"),
    [
        ("k1.reset: not acknowledge.pressed", "reset_acts_on_release"),
        ("k1.channel_a: hood.a and always", "reset_restores"),
        ("pump.sto_a: always", "torque_off_inputs"),
        ("k1: from armed to energised when reset", "reset_acts_on_release"),
        ("k1: from closed to ready when not never", "stuck_reset"),
        ("pump: from ready to running when always and supply", "reset_never_starts"),
    ],
)
def test_a_mutant_breaks_the_property_that_one_would_expect(mutant: str, broken: str) -> None:
    found = [one.id for one in check(ALL_SMALL[mutant]).properties if one.verdict is Verdict.FAIL]
    assert broken in found
