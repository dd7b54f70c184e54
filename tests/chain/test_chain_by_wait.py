"""Guards that a timer frees: the lock holds by the clock or not, against a walk whose clock ticks.

ISO 14119:2013, 4.3 and 5.7 (guard locking; time-delayed unlocking, from memory): freed no sooner than the hazard is
over. All times are invented.
"""

from itertools import product

import numpy as np
import pytest
from chain_naive_wait import TickingWorld
from chain_shapes import judged, not_passed, of, shape

from interlock.bench import Bench
from interlock.chain import check
from interlock.chain.by_wait import drives_too_long, held
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.fault_check import judge_faults
from interlock.chain.lock_rules import timers
from interlock.chain.narrowed import narrowed
from interlock.chain.requirement import Requirement
from interlock.chain.timed_locks import lock_delay_ns, timed_locks
from interlock.chain.watched import Watched, watch
from interlock.verdict import Verdict

NAME = "lock_freed_by_a_relay"
SECOND = 10**9
COIL, PERMIT = "k2.coil: k1.out_a and k1.out_b", "guard.permit: not k2.out_a and not k2.out_b"
SHORT = [
    ("off_delay: 15 s", "off_delay: 3 s"),
    ("coast_down: 6 s", "coast_down: 2 s"),
    ("unlock: 200 ms", "unlock: 1 s"),
]
COILS = {
    "by the relay that takes the torque": (COIL, False),
    "by one contact of it": ("k2.coil: k1.out_a", False),
    "by the relay or the torque itself": ("k2.coil: k1.out_a or pump.torque", False),
    "by the torque itself": ("k2.coil: pump.torque", False),
    "by the halt button alone": ("k2.coil: halt.a", False),
    "from the request on": ("k2.coil: not guard.asked", True),
    "not at all": ("k2.coil: never", True),
    "while the reset is pressed": ("k2.coil: not reset.pressed", True),
}  # fmt: skip


def freed(bench: Bench) -> Verdict:
    return of(check(bench, faults=0), "locked_until_standstill").verdict


@pytest.mark.parametrize("name", COILS)
def test_it_depends_on_when_the_timer_begins_to_run(name: str) -> None:
    coil, early = COILS[name]
    bench = shape(NAME, *SHORT, (COIL, coil))
    assert freed(bench) is (Verdict.FAIL if early else Verdict.PASS)
    assert TickingWorld(bench, {"k2"}, "guard", "shaft").frees_a_turning_shaft() is early


@pytest.mark.parametrize("timer, run_down", [*product((1, 2, 3), (1, 2, 3))])
def test_the_timer_must_take_no_less_than_the_run_down(timer: int, run_down: int) -> None:
    times = [("off_delay: 15 s", f"off_delay: {timer} s"), ("coast_down: 6 s", f"coast_down: {run_down} s")]
    bench = shape(NAME, *times, ("unlock: 200 ms", "unlock: 1 s"))
    early = TickingWorld(bench, {"k2"}, "guard", "shaft").frees_a_turning_shaft()
    assert early is (timer <= run_down)  # at the same moment the timer may be first
    assert freed(bench) is (Verdict.FAIL if early else Verdict.PASS)


BRAKED = [
    ("drive_unit", "drive_ramp_stop"),
    ("name: drive motor}", "name: drive motor, delays: {stop_time: 2 s}}"),
]


@pytest.mark.parametrize("timer", [2, 3, 4, 5])
def test_a_motor_that_brakes_first_is_driven_for_that_long(timer: int) -> None:
    """The ramp of 2 s and then a run-down of 2 s: a timer that starts with the ramp must take longer."""
    times = [("off_delay: 15 s", f"off_delay: {timer} s"), ("coast_down: 6 s", "coast_down: 2 s")]
    bench = shape(NAME, *BRAKED, *times, ("unlock: 200 ms", "unlock: 1 s"))
    early = TickingWorld(bench, {"k2"}, "guard", "shaft").frees_a_turning_shaft()
    assert early is (timer <= 4)
    assert freed(bench) is (Verdict.FAIL if early else Verdict.PASS)


def test_two_timers_in_a_row_do_not_add_up() -> None:
    """They would in truth; the check stays on the safe side and DESCRIBE.md says so."""
    row = [
        (
            "  k2: {kind",
            "  k3: {kind: off_delay_relay, name: second timer, delays: {off_delay: 5 s}}\n  k2: {kind",
        ),
        ("off_delay: 15 s", "off_delay: 5 s"),
        (COIL, f"{COIL}\n  k3.coil: k2.out_a"),
        (PERMIT, "guard.permit: not k3.out_a"),
    ]
    assert freed(shape(NAME, *row)) is Verdict.FAIL


def test_a_second_timer_that_has_no_part_in_it_changes_nothing() -> None:
    other = (
        "  k2: {kind",
        "  k3: {kind: off_delay_relay, name: fan timer, delays: {off_delay: 60 s}}\n  k2: {kind",
    )
    bench = shape(NAME, other, (COIL, f"{COIL}\n  k3.coil: halt.a"))
    assert not_passed(check(bench, faults=0)) == {}
    assert lock_delay_ns(bench, "guard_stop") == 15 * SECOND


def test_the_result_says_on_which_times_the_lock_rests() -> None:
    [said] = [one for one in judged(NAME).assumptions if "freed by time" in one]
    assert "off_delay of the timer relay counts as no shorter than the 15 s" in said
    assert "no longer than 6 s" in said
    assert not any("freed by time" in one for one in judged("guard_locking").assumptions)


def test_what_is_too_short_is_told_with_the_time_that_it_must_take() -> None:
    found = of(judged(NAME, ("off_delay: 15 s", "off_delay: 5 s")), "locked_until_standstill")
    assert "only if it starts no sooner than the drive goes off" in found.sentence
    assert "takes longer than the run-down of 6 s" in found.sentence
    assert found.acts[-1].device == "guard"


def test_a_lock_freed_at_standstill_is_told_without_any_timer() -> None:
    found = of(
        judged("guard_locking", ("guard.permit: shaft.still", "guard.permit: always")),
        "locked_until_standstill",
    )
    assert "timer" not in found.sentence


@pytest.mark.parametrize(
    "name, changes, delay",
    [
        (NAME, [], 15 * SECOND),
        (NAME, [("off_delay: 15 s", "off_delay: 7 s")], 7 * SECOND),
        (NAME, [("off_delay: 15 s", "off_delay: 6 s")], None),
        (NAME, [(PERMIT, "guard.permit: shaft.still")], None),
        (NAME, [(PERMIT, f"{PERMIT} and shaft.still")], None),
        ("guard_locking", [], None),
        ("guard_bolt", [], None),
        ("three_doors", [], None),
    ],
)
def test_how_long_the_guard_stays_locked_by_time(
    name: str, changes: list[tuple[str, str]], delay: int | None
) -> None:
    bench = shape(name, *changes)
    assert {lock_delay_ns(bench, one) for one in bench.required.functions} <= {delay, None}
    assert any(lock_delay_ns(bench, one) == delay for one in bench.required.functions)


def test_without_a_stated_run_down_no_time_is_looked_at() -> None:
    bench = shape(
        NAME,
        ("watched_shaft, name: shaft, delays: {coast_down: 6 s}", "shaft, name: shaft"),
        ("  shaft.driven: pump.torque\n", ""),
    )
    found = of(check(bench, faults=0), "locked_until_standstill")
    assert "no device tells when the shaft stands" in found.requirement
    assert not list(timed_locks(Requirement(bench, compile_bench(bench))))


def test_a_search_that_ended_early_decides_nothing() -> None:
    found = of(check(shape(NAME), limit=30, faults=0), "locked_until_standstill")
    assert found.verdict is Verdict.INCONCLUSIVE


FAULTS = {one.set: {effect for _, effect in one.effects} for one in judge_faults(shape(NAME), 2).faults}


@pytest.mark.parametrize(
    "fault",
    [
        "k2.no_delay",
        "k2.does_not_pick",
        "k2.wire_coil_break",
        "guard.bolt_breaks",
        "guard.wire_permit_short_to_supply",
    ],
)
def test_a_fault_that_ends_the_wait_too_early_loses_the_lock(fault: str) -> None:
    assert "locked_until_standstill" in FAULTS[fault,]


@pytest.mark.parametrize(
    "fault",
    [
        "k2.stays_in",
        "k2.out_a_welds",
        "k1.out_a_welds",
        "pump.sto_a_dead",
        "shaft.still_always",
        "guard.does_not_unlock",
    ],
)
def test_a_fault_that_only_keeps_the_guard_locked_or_is_caught_does_not(fault: str) -> None:
    assert "locked_until_standstill" not in FAULTS[fault,]


def test_two_faults_that_drive_the_shaft_on_while_the_timer_runs_do() -> None:
    assert "locked_until_standstill" in FAULTS["pump.sto_a_dead", "pump.sto_b_dead"]


def product_of(bench: Bench) -> tuple[Requirement, Watched]:
    required = Requirement(bench, compile_bench(bench))
    return required, watch(required.compiled.chain, explore(required.compiled.chain, 10**6), (), 10**6)


def test_a_product_without_no_edges_is_the_same_product() -> None:
    _, whole = product_of(shape(NAME))
    same = narrowed(whole, np.zeros(len(whole.source), np.bool_))
    assert np.array_equal(same.edges, np.arange(len(whole.source)))
    for part in ("state", "memory", "source", "step", "target", "parent", "expanded"):
        assert np.array_equal(getattr(same.watched, part), getattr(whole, part))


@pytest.mark.parametrize("seed", range(5))
def test_a_product_without_some_edges_holds_what_a_plain_walk_reaches(seed: int) -> None:
    _, whole = product_of(shape(NAME))
    barred = np.random.default_rng(seed).random(len(whole.source)) < 0.3
    left, met, todo = narrowed(whole, barred), {0}, [0]
    while todo:
        node = todo.pop()
        after = {int(whole.target[edge]) for edge in np.flatnonzero((whole.source == node) & ~barred)}
        todo += after - met
        met |= after
    assert {int(one) for one in left.watched.state} == {int(whole.state[one]) for one in met}
    assert not barred[left.edges].any()
    assert np.array_equal(whole.step[left.edges], left.watched.step)
    assert (np.diff(left.watched.source) >= 0).all()
    for node in range(1, len(left.watched.state)):
        way = left.watched.way_to(node)
        told = left.told(way)
        assert told is not None
        assert int(whole.target[told[-1]]) == int(np.flatnonzero(whole.state == left.watched.state[node])[0])


def test_the_longest_timers_hold_and_the_others_are_let_come_at_any_time() -> None:
    required, whole = product_of(shape(NAME))
    [one] = timers(required.functions["guard_stop"], required)
    assert (one.delay_ns, one.run_down_ns) == (15 * SECOND, 6 * SECOND)
    assert drives_too_long(one).within_ns == 9 * SECOND - 1
    assert held(whole, required.compiled.chain.events, [one]).timers == (one,)
    assert held(whole, required.compiled.chain.events, []).timers == ()
