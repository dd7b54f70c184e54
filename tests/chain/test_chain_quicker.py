"""What is over by the time that an act is done: two delays in a row may outlast a hand that is slower than each.

The cases are worked out by hand from the delays; the law is held against a walk by the clock that shares no code.
"""

import random
from typing import Any

import pytest
from chain_benches import WRONG, patched, random_benches
from chain_naive import State, World
from chain_over import Over
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from interlock.bench import Bench
from interlock.bench.kind import Transition
from interlock.chain import check
from interlock.chain.compile import compile_bench
from interlock.verdict import Verdict

HAND_MS = 200  # what unlatching the emergency stop takes
ROW = WRONG / "96_delays_in_a_row_outlast_the_hand.yaml"


def row(off_delay: int, drop_out: int, **wiring: str) -> Bench:
    """The contactor behind the timer relay, with these delays in milliseconds."""
    delays = {"k2": {"off_delay": f"{off_delay} ms"}, "q1": {"drop_out": f"{drop_out} ms"}}
    devices = {name: {"delays": own} for name, own in delays.items()}
    return patched(ROW, {"devices": devices, "wiring": {**PLAIN, **wiring}})


PLAIN: dict[str, str] = {}
SIDE_BY_SIDE = {"q1.coil": "estop.c and (supply_on.pressed or q1.aux)"}
ROUND = {"k2.coil": "q1.aux", "q1.coil": "not k2.out_a"}


def over(bench: Bench, device: str = "estop", act: str = "release") -> set[str]:
    kind = World(bench).kinds[list(bench.devices).index(device)]
    step = next(one for one in kind.transitions if one.act == act)
    return {delay for _, delay in Over(bench).by(device, step)}


@pytest.mark.parametrize(
    ("off_delay", "drop_out", "wiring", "expected"),
    [
        pytest.param(150, 150, {}, {"pick_up", "off_delay"}, id="in a row they outlast the hand"),
        pytest.param(20, 150, {}, {"pick_up", "off_delay", "drop_out"}, id="in a row, and together quicker"),
        pytest.param(50, 150, {}, {"pick_up", "off_delay"}, id="in a row, as long as the hand"),
        pytest.param(150, 150, SIDE_BY_SIDE, {"pick_up", "off_delay", "drop_out"}, id="side by side"),
        pytest.param(250, 20, SIDE_BY_SIDE, {"pick_up", "drop_out"}, id="one slower than the hand"),
        pytest.param(250, 20, {}, set(), id="behind one slower than the hand"),
        pytest.param(20, 20, ROUND, set(), id="in a circle there is no end"),
    ],
)
def test_which_delays_are_over_when_the_emergency_stop_is_unlatched(
    off_delay: int, drop_out: int, wiring: dict[str, str], expected: set[str]
) -> None:
    assert over(row(off_delay, drop_out, **wiring)) == expected


def test_what_no_time_is_taken_for_finds_everything_still_to_come() -> None:
    assert over(row(20, 20), "estop", "press") == set()


@pytest.mark.parametrize(
    ("off_delay", "drop_out", "wiring", "expected"),
    [
        pytest.param(150, 150, {}, Verdict.FAIL, id="in a row"),
        pytest.param(20, 150, {}, Verdict.PASS, id="in a row, and together quicker"),
        pytest.param(150, 150, SIDE_BY_SIDE, Verdict.PASS, id="side by side"),
        pytest.param(20, 250, {}, Verdict.FAIL, id="the contactor alone slower"),
    ],
)
def test_a_contactor_that_is_still_closed_seals_in_again(
    off_delay: int, drop_out: int, wiring: dict[str, str], expected: Verdict
) -> None:
    """ISO 13850:2015, 4.1.4: unlatching must not bring the supply back."""
    found = check(row(off_delay, drop_out, **wiring), faults=0)
    assert found.verdict is expected
    failed = {one.id for one in found.properties if one.verdict is not Verdict.PASS}
    assert ("supply_stays_off" in failed) is (expected is Verdict.FAIL)


def test_the_act_itself_says_what_must_be_over() -> None:
    """Of the two contactor delays only the one that surely is over bars the act while it waits."""
    chain = compile_bench(row(150, 150)).chain
    release = next(one for one in chain.events if (one.device, one.trigger) == ("estop", "release"))
    assert release.steps[0].takes_ns == HAND_MS * 10**6
    assert "'waiting'" in repr(release.steps[0].guard)
    assert "'opening'" not in repr(release.steps[0].guard)


def longer(bench: Bench) -> Bench:
    """The same with short delays of 120 ms, so that two of them outlast an act of 200 ms."""
    devices = {
        name: one.model_copy(
            update={"delays": {delay: max(ns, 120 * 10**6) for delay, ns in one.delays.items()}}
        )
        for name, one in bench.devices.items()
    }
    return bench.model_copy(update={"devices": devices})


@settings(max_examples=10)
@given(random_benches(), st.randoms(use_true_random=False))
def test_by_the_clock_nothing_that_counts_as_over_still_waits(bench: Bench, chance: random.Random) -> None:
    try:
        world = World(longer(bench))
        states = sorted(world.reachable())
    except RecursionError:  # a loop that never comes to rest
        assume(False)
    for state in chance.sample(states, min(len(states), 3)):
        for at, kind in enumerate(world.kinds):
            for step in kind.transitions:
                if step.act is not None and step.takes and world.can_begin(step, state, at):
                    waits = while_it_takes(world, state, at, step, chance)
                    assert not waits & world.over.by(world.names[at], step)


def while_it_takes(world: World, state: State, at: int, step: Transition, chance: random.Random) -> set[Any]:
    """What waits when the act is done, nobody doing anything else; nothing if it cannot be done any more."""
    now, ends = 0, dict[tuple[str, str], int]()
    while True:
        due = world.waiting(state)
        for one in due - set(ends):
            longest = world.bench.devices[one[0]].delays[one[1]]
            ends[one] = now + (longest if chance.random() < 0.7 else chance.randint(1, longest))
        ends = {one: end for one, end in ends.items() if one in due}
        first = min(ends, key=ends.__getitem__, default=None)
        if first is None or ends[first] > step.takes:
            return due
        now = ends.pop(first)
        moved = next(move for move in world.moves(state) if (move.device, move.trigger) == first)
        state = moved.after
        if not world.can_begin(step, state, at):
            return set()
