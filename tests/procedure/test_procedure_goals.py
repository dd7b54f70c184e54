"""Goals and the trial: what counts for a function, and what does not."""

import pytest
from plan_benches import DEMO, bench_of

from interlock.procedure.costs import costs_of
from interlock.procedure.faulted import faulted
from interlock.procedure.features import features_of
from interlock.procedure.goals import IDLE, Goal, GoalKind, Goals, Trial, goals_of
from interlock.procedure.moves import moves_of, table_of
from interlock.procedure.walkway import walkway

RUN = [
    "reset.press",
    "reset.release",
    "supply_on.press",
    "supply_on.release",
    "setpoints.set",
    "prime.start",
    "brake.start",
]
OPEN, CLOSE = "hood.open_a+open_b", "hood.close_a+close_b"


class Hand:
    """Moves at the sound bench, with the trial and the goals reached so far."""

    def __init__(self, features, table, moves) -> None:
        self.features, self.table = features, table
        self.rows = {move.id: n for n, move in enumerate(moves)}
        self.moves = {move.id: move for move in moves}
        self.goals = Goals(bench_of(DEMO), features)
        self.state, self.trial, self.reached = int(table.rest[0]), IDLE, []

    def does(self, *names: str) -> "Hand":
        for name in names:
            after = int(self.table.target[self.rows[name], self.state])
            self.trial, found = self.goals.step(self.trial, self.state, after)
            self.reached += [goal.id for goal in found]
            self.state = after
        return self

    def may(self, name: str) -> bool:
        return self.goals.lawful(
            self.moves[name], self.state, int(self.table.target[self.rows[name], self.state])
        )


@pytest.fixture(scope="module")
def parts():
    bench, moves = bench_of(DEMO), moves_of(bench_of(DEMO))
    chain = faulted(bench)
    table = table_of(chain.graph, chain.faulty.chain.events, moves, 0)
    return features_of(bench, chain, table.rest), table, moves


@pytest.fixture
def hand(parts) -> Hand:
    return Hand(*parts)


def test_a_demand_without_torque_exercises_nothing(hand: Hand) -> None:
    assert hand.does(OPEN, CLOSE, "reset.press", "reset.release").reached == []


def test_a_demand_with_one_unit_only_exercises_nothing(hand: Hand) -> None:
    assert hand.does(*RUN[:-1], OPEN).reached == []


def test_a_demand_that_finds_the_bench_running_begins_a_trial(hand: Hand) -> None:
    assert hand.does(*RUN, OPEN).reached == ["stop:hood_stop"]
    assert hand.trial == Trial(("hood_stop",))


def test_a_second_demand_meanwhile_ends_the_trial(hand: Hand) -> None:
    assert hand.does(*RUN, OPEN, "stop_button.press", CLOSE).reached == ["stop:hood_stop"]
    assert hand.trial == IDLE


def test_the_whole_trial_in_order(hand: Hand) -> None:
    hand.does(*RUN, OPEN, "reset.press", "reset.release", CLOSE, "reset.press", "reset.release")
    hand.does("setpoints.set", "prime.start", "brake.start")
    kinds = ["stop", "reset_barred", "release", "press_only", "reset", "restart"]
    assert hand.reached == [f"{kind}:hood_stop" for kind in kinds]
    assert hand.trial == IDLE


def test_supply_rules_belong_to_the_emergency_stop(hand: Hand) -> None:
    hand.does(*RUN, "emergency.press", "supply_on.press", "supply_on.release", "emergency.release")
    hand.does("supply_on.press")
    assert hand.reached[1:] == [
        "supply_on_dead:emergency_stop",
        "release:emergency_stop",
        "supply_on_anew:emergency_stop",
    ]


def test_a_held_button_is_let_go_before_anything_else(hand: Hand) -> None:
    hand.does("reset.press")
    assert not hand.may(OPEN)
    assert hand.may("reset.release")


def test_units_are_started_with_the_references_set(hand: Hand) -> None:
    hand.does(*RUN[:4])
    assert not hand.may("prime.start")
    assert hand.does("setpoints.set").may("prime.start")


def test_goals_of_the_demo_by_name() -> None:
    goals = goals_of(bench_of(DEMO))
    assert len(goals) == 3 * 6 + 2  # six of each function, two more of the one with a supply rule
    assert Goal(GoalKind.SUPPLY_DEAD, "emergency_stop") in goals
    assert len(goals_of(bench_of(DEMO), ["a", "b"])) == len(goals) + 3


def test_costs_of_ways_depend_on_load_and_device(parts) -> None:
    features, table, moves = parts
    paths = walkway(bench_of(DEMO), features, moves, table, costs_of())
    found: dict[str, set[int]] = {}
    for way in paths.ways:
        found.setdefault(moves[way.move].id, set()).add(way.cost)
    assert found["emergency.press"] == {6, 100}
    assert found[OPEN] == {4, 14}
    assert found["stop_button.press"] == {1, 10}
    assert found["supply_on.press"] == {3}
    assert found["reset.press"] == {1}


def test_a_cost_by_the_name_of_an_act_rules(parts) -> None:
    features, table, moves = parts
    paths = walkway(bench_of(DEMO), features, moves, table, costs_of({"reset.press": 9}))
    assert {way.cost for way in paths.ways if moves[way.move].id == "reset.press"} == {9}
