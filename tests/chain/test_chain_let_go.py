"""People who act just before another one ends an act: what they begin then is not over, however quick it is.

The law is a walk by the clock that shares no code with what it is held against, and takes only times that the bench
file allows. Delays of 45 ms against a button that nobody lets go sooner than 50 ms after pressing it.
"""

import random
from itertools import pairwise
from typing import Any

import pytest
from chain_benches import EXPECTED, WRONG, patched, random_benches
from chain_naive import Judge, State, World
from chain_shapes import SHAPES
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from interlock.bench import Bench, load_bench
from interlock.bench.kind import Transition
from interlock.chain import CheckResult, check
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.let_go import parted
from interlock.chain.reference import WiringLoop
from interlock.chain.requirement import Requirement
from interlock.verdict import Verdict

MS = 10**6
BEHIND = WRONG / "98_reset_before_the_contactor_drops.yaml"
DIRECT = EXPECTED[BEHIND.name]["mend"]
STATION = {  # a start relay that seals itself in before the contactors have closed
    "devices": {
        "go": {"kind": "push_button", "name": "start button"},
        "k2": {"kind": "plain_relay", "name": "start relay"},
    },
    "wiring": {"k2.coil": "k1.out_a and (go.pressed or k2.out_a)", "drive.run": "k2.out_b"},
}


def behind(drop_out: str = "45 ms", **more: Any) -> Bench:
    return patched(BEHIND, {"devices": {"q1": {"delays": {"drop_out": drop_out}}}, **more})


def required(bench: Bench) -> Requirement:
    return Requirement(bench, compile_bench(bench))


def failed(result: CheckResult) -> set[str]:
    return {one.id for one in result.properties if one.verdict is Verdict.FAIL}


def acts_parted(bench: Bench) -> set[str]:
    """The devices whose acts are parted."""
    other = parted(required(bench)) or bench
    return {name for name, device in other.devices.items() if device.kind != bench.devices[name].kind}


def test_a_reset_counts_though_the_demand_came_before_it_was_let_go() -> None:
    """ISO 13849-1:2015, 5.2.2: a reset only with no demand present, however short the time until that shows."""
    result = check(behind(), faults=0)
    assert failed(result) == {"no_reset_under_demand", "stays_off"}
    first = next(one for one in result.properties if one.verdict is Verdict.FAIL)
    assert [act.words for act in first.acts[1:]] == [
        "press the reset button",
        "wait as long as it takes to let the reset button go",
        "the thermal switch opens by heat",
        "let the reset button go",
    ]
    assert [act.after["reset"] for act in first.acts] == ["released", *["pressed"] * 3, "released"]
    assert first.story is not None


@pytest.mark.parametrize(
    ("drop_out", "steps"),
    [
        pytest.param("1 ms", 5, id="much quicker"),
        pytest.param("49 ms", 5, id="quicker"),
        pytest.param("50 ms", 4, id="as slow as the finger: no need to wait"),
        pytest.param("60 ms", 4, id="slower"),
    ],
)
def test_how_quick_the_contactor_is_changes_the_way_and_not_the_verdict(drop_out: str, steps: int) -> None:
    result = check(behind(drop_out), faults=0)
    first = next(one for one in result.properties if one.verdict is Verdict.FAIL)
    assert (first.id, len(first.acts)) == ("no_reset_under_demand", steps)


def test_with_the_demand_at_the_relay_itself_the_same_contactor_does_no_harm() -> None:
    mended = behind(**DIRECT)
    assert acts_parted(mended) == {"reset"}
    assert check(mended, faults=0).verdict is Verdict.PASS


@pytest.mark.parametrize("name", ["contactor_pair", "single_contactor", "old_drive_behind_a_contactor"])
def test_the_contactors_behind_the_relay_are_looked_at_too_and_harm_nobody(name: str) -> None:
    bench = load_bench(SHAPES / f"{name}.yaml")
    assert acts_parted(bench) == {"reset"}
    assert check(bench, faults=0).verdict is Verdict.PASS


def test_where_no_other_act_begins_a_delay_nothing_is_looked_at_twice() -> None:
    """While the emergency stop is latched the contactor's coil is off, whatever else is done."""
    assert acts_parted(patched(WRONG / "01_latch_not_sealed.yaml", {})) == set()
    assert acts_parted(load_bench(SHAPES / "two_zones.yaml")) == set()
    assert (
        acts_parted(behind("50 ms", devices={"q1": {"delays": {"drop_out": "50 ms", "pick_up": "50 ms"}}}))
        == set()
    )


def test_a_start_button_let_go_during_the_reset_counts_as_a_start_and_says_so() -> None:
    bench = patched(SHAPES / "line_motor_by_two_contactors.yaml", {})
    assert acts_parted(bench) == set()
    result = check(bench, faults=0)
    assert result.verdict is Verdict.PASS
    assert any("nor lets it go just then" in one for one in result.assumptions)


@pytest.mark.parametrize("limit", [3, 1_000])
def test_what_was_not_looked_at_to_the_end_does_not_pass(limit: int) -> None:
    result = check(behind(**DIRECT), faults=0, limit=limit)
    assert (result.verdict is Verdict.PASS) == result.whole == (limit > 3)


def test_a_limit_between_the_two_looks_leaves_it_inconclusive() -> None:
    """The bench itself has fewer states than the one in which the act is parted."""
    states = check(behind(**DIRECT), faults=0).states
    result = check(behind(**DIRECT), faults=0, limit=states)
    assert (result.states, result.whole, result.verdict) == (states, False, Verdict.INCONCLUSIVE)


def as_told(state: State) -> State:
    return tuple(one.split()[0] for one in state)


Moves = set[tuple[State, State]]


def moves_of(world: World) -> Moves:
    states = world.reachable()
    return {(as_told(state), as_told(move.after)) for state in states for move in world.moves(state)}


def possible(bench: Bench) -> Moves:
    """Every move of the second opinion, also by acts just before another one ends."""
    plain = World(bench)
    other = Judge(plain).parted
    return moves_of(plain) | (set() if other is None else moves_of(other.world))


class ByClock:
    """Several people at once, each act in its time, each late reaction by its time."""

    def __init__(self, bench: Bench, chance: random.Random) -> None:
        self.world, self.bench, self.chance = World(bench), bench, chance
        self.starting = set(required(bench).start_buttons())
        self.now, self.state = 0, self.world.start
        self.ends = dict[tuple[str, str], int]()
        self.since = dict[tuple[int, int], int]()
        self.note(None)

    def note(self, moved: str | None) -> None:
        """When what waits now ends, and since when each act has been possible."""
        due = self.world.waiting(self.state)
        self.ends = {one: self.ends[one] if one in self.ends else self.now + self.lasts(one) for one in due}
        self.since = {
            (at, number): self.since.get((at, number), self.now) if name != moved else self.now
            for at, name in enumerate(self.world.names)
            for number, step in self.acts(at)
        }

    def lasts(self, late: tuple[str, str]) -> int:
        longest = self.bench.devices[late[0]].delays[late[1]]
        return longest if self.chance.random() < 0.7 else self.chance.randint(1, longest)

    def acts(self, at: int) -> list[tuple[int, Transition]]:
        """By number, the step that each act of the device takes now."""
        found = dict[str, tuple[int, Transition]]()
        for number, step in enumerate(self.world.kinds[at].transitions):
            if step.act is not None and self.world.can_begin(step, self.state, at):
                found.setdefault(step.act, (number, step))
        return list(found.values())

    def allowed(self, until: int) -> list[tuple[int, int, Transition]]:
        """Time, device and step of each act that may come before `until`."""
        return [
            (start, at, step)
            for at, name in enumerate(self.world.names)
            for number, step in self.acts(at)
            for start in [max(self.now, self.since[at, number] + step.takes)]
            if start < until
            if name not in self.starting
            or not self.world.waiting(self.state) & self.world.over.by(name, step)
        ]

    def go_on(self) -> None:
        first = min(self.ends, key=self.ends.__getitem__, default=None)
        until = self.now + 3600 * 10**9 if first is None else self.ends[first]
        acts = self.allowed(until)
        if acts and (first is None or self.chance.random() < 0.6):
            start, at, step = self.chance.choice(acts)
            self.now = self.chance.choice(
                [start, self.chance.randint(start, min(until, start + 100 * MS) - 1)]
            )
            self.state = self.world.settle((*self.state[:at], step.to, *self.state[at + 1 :]))
            self.note(self.world.names[at])
        elif first is not None:
            self.now = self.ends.pop(first)
            moves = self.world.moves(self.state)
            self.state = next(one for one in moves if (one.device, one.trigger) == first).after
            self.note(first[0])

    def walk(self, steps: int) -> Moves:
        states = [self.state]
        for _ in range(steps):
            self.go_on()
            states.append(self.state)
        return {(was, now) for was, now in pairwise(states) if was != now}


def walked(bench: Bench, chance: random.Random, walks: int = 20, steps: int = 30) -> Moves:
    return Moves().union(*(ByClock(bench, chance).walk(steps) for _ in range(walks)))


def test_by_the_clock_the_relay_is_reset_while_it_is_hot() -> None:
    """Looked at once only, the bench would never get there."""
    bench = behind()
    met, plain = walked(bench, random.Random(1), walks=60), moves_of(World(bench))
    assert {move for move in met - plain if move[1][0] == "hot" and move[1][1] == "released"}
    assert met <= possible(bench)


@pytest.mark.parametrize(
    "name", ["contactor_pair", "emergency_stop_by_supply", "ramp_beside_sto", "old_drive_behind_a_contactor"]
)
def test_no_clock_gets_further_on_benches_as_they_are_built(name: str) -> None:
    bench = load_bench(SHAPES / f"{name}.yaml")
    assert walked(bench, random.Random(2)) <= possible(bench)


@settings(max_examples=8, deadline=None)
@given(random_benches(), st.randoms(use_true_random=False))
def test_no_clock_gets_further_on_random_benches(bench: Bench, chance: random.Random) -> None:
    try:
        assume(explore(compile_bench(bench).chain, 150).whole)
    except WiringLoop:  # it never comes to rest
        assume(False)
    assert walked(bench, chance, walks=5) <= possible(bench)
