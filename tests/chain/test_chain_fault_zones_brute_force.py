"""The search under faults against the second opinion, on random benches with zones, modes, own resets and cables."""

from chain_fault_naive_zones import ZonedFaultJudge
from chain_zoned_benches import benches_with_modes, two_zones, zoned_benches
from hypothesis import HealthCheck, assume, given, settings
from test_chain_fault_brute_force import searched, states

from interlock.bench import Bench
from interlock.chain.losses import Loss

SLOW = [HealthCheck.filter_too_much, HealthCheck.too_slow]
MOST_STATES = 900


def same(bench: Bench, most: int) -> None:
    """Same states under the same sets; each unit of each function lost, and started unasked, after as many steps."""
    judge = ZonedFaultJudge(bench, most)
    assert states(bench, most) == {(node.state, node.faults) for node in judge.nodes}
    explored = searched(bench, most)
    class_of = {one.id: at for at, group in enumerate(explored.groups.alike) for one in group}
    lost, started = judge.soonest_by_unit(), judge.soonest_start()
    for one in judge.sets:
        classes = {class_of[name] for name in one if name in class_of}
        if len(classes) < len(one):
            continue  # idle ones, or several that act alike: told of the smaller set
        number = explored.sets.number[tuple(sorted(classes))]
        found = {
            (loss.function, loss.device): at[number].steps
            for loss, at in explored.search.each()
            if isinstance(loss, Loss) and number in at and loss.rule is None
        }
        assert found == {key[1:]: steps for key, steps in lost.items() if key[0] == one}
        units = {unit: at[number].steps for unit, at in explored.restarted.items() if number in at}
        assert units == {unit: steps for (faults, unit), steps in started.items() if faults == one}


def judged(bench: Bench) -> None:
    explored = searched(bench, 2)
    assume(not explored.restless.any())
    assume(sum(len(one.spread.met.words) for one in explored.search.parts) < MOST_STATES)
    same(bench, 2)


@settings(max_examples=10, deadline=None, suppress_health_check=SLOW)
@given(zoned_benches())
def test_random_benches_with_zones_and_own_resets(bench: Bench) -> None:
    judged(bench)


@settings(max_examples=10, deadline=None, suppress_health_check=SLOW)
@given(benches_with_modes())
def test_random_benches_with_modes(bench: Bench) -> None:
    judged(bench)


NONE: frozenset[str] = frozenset()
WELDED = frozenset({"left_relay.welds"})
FED = frozenset({"cable.short_reset_pressed_left_relay_held"})


def test_a_welded_relay_loses_its_own_zone_alone() -> None:
    """Welded from power-up on, one press of the stop that is to take the left torque away shows it."""
    bench = two_zones("again", *WELDED)
    assert ZonedFaultJudge(bench, 1).soonest_by_unit() == {(WELDED, "stop", "left"): 1}
    same(bench, 1)


def test_the_button_of_another_zone_must_not_reset() -> None:
    """Press and release of the common reset bring the left relay back, though its stop asks for its own button."""
    wrong = two_zones("reset", *WELDED)
    lost = ZonedFaultJudge(wrong, 1).soonest_by_unit()
    assert {key[1:] for key in lost if key[0] == NONE} == {("stop", "left")}
    same(wrong, 1)


def test_two_lines_that_touch_feed_each_other() -> None:
    """While the reset is held the left relay does not see its stop: on by its own reset (2), hold (3), stop (4).

    And the stop then resets the right relay: halt (1), let go (2), the fault arrives (3), press the stop (4).
    """
    bench = two_zones("again", *FED)
    lost = ZonedFaultJudge(bench, 1).soonest_by_unit()
    assert lost == {(FED, "stop", "left"): 4, (FED, "halt", "right"): 4}
    same(bench, 1)
