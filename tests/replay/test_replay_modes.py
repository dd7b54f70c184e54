"""Modes in a log: when a function is required, what the selector showed at an instant, what the change may do."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from loggen_rig import Rig
from replay_rigs import told, told_with

from interlock.bench.expr import Name, evaluate
from interlock.bench.required_models import Mode, Modes
from interlock.replay import Finding, Judgement
from interlock.replay.modes import applies, at_samples, mode_changes, narrowed
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track
from interlock.verdict import Verdict

MS = 1_000_000


def modes_of(*names: str) -> Modes:
    each = {name: Mode.model_construct(title=name, selected=Name(f"key.{name}")) for name in names}
    return Modes.model_construct(by="key", change="stops", each=each, source="x")


@pytest.mark.parametrize(
    ("own", "selected", "required"),
    [
        # own modes of the function, modes that the selector shows, whether it is required (by the text of DESCRIBE)
        (("work",), ("work",), True),
        (("work",), ("set_up",), False),
        (("work",), (), True),
        (("set_up",), (), True),
        (("work", "clean"), ("clean",), True),
        (("work", "clean"), ("set_up",), False),
        (("work",), ("work", "set_up"), True),
        (("clean",), ("work", "set_up"), False),
        (("work", "set_up", "clean"), ("clean",), True),
        (("work", "set_up", "clean"), (), True),
    ],
)
def test_a_function_is_required_in_its_modes_and_where_none_is_selected(
    own: tuple[str, ...], selected: tuple[str, ...], required: bool
) -> None:
    expr = applies(modes_of("work", "set_up", "clean"), own)
    assert evaluate(expr, lambda port: port.removeprefix("key.") in selected) is required


def track(message: str, every_ms: int, states: list[int], first_ms: int = 0, most_ms: int = 4) -> Track:
    stamps = (np.arange(len(states), dtype=np.int64) * every_ms + first_ms) * MS
    return Track(message, message, stamps, np.array(states, np.int8), Clock(0, most_ms * MS, 0))


STATES = st.lists(st.sampled_from([YES, NO, UNKNOWN, BLIND]), min_size=1, max_size=12)


@given(STATES, STATES, st.integers(0, 30), st.integers(0, 30))
def test_what_another_message_showed_by_brute_force(
    mine: list[int], its: list[int], shift_ms: int, other_ms: int
) -> None:
    """For each sample: every instant at which it may have been taken, and each sample of the other one about it."""
    one, other = track("a", 10, mine, shift_ms), track("b", 7, its, other_ms)
    got = at_samples(one, other)
    for stamp, shown in zip(one.stamps_ns.tolist(), got.tolist(), strict=True):
        taken = one.clock.sampled(stamp)
        assert taken.hi is not None
        sampled = [other.clock.sampled(int(t)) for t in other.stamps_ns]
        before = [k for k, at in enumerate(sampled) if at.hi is not None and at.hi <= taken.lo]
        later = [k for k, at in enumerate(sampled) if at.lo >= taken.hi]
        around = other.states[(before[-1] if before else 0) : (later[0] + 1 if later else None)].tolist()
        if shown in (YES, NO):
            assert before
            assert later
            assert set(around) == {shown}
        elif shown == UNKNOWN:
            assert BLIND not in around
        else:
            assert BLIND in around


@given(STATES, STATES)
def test_a_narrowed_condition_holds_only_if_both_do_and_ends_if_either_does(
    mine: list[int], its: list[int]
) -> None:
    one, other = track("a", 10, mine, 5, 0), track("b", 10, its, 0, 0)
    got, shown = narrowed(one, other), at_samples(one, other)
    assert (got.stamps_ns == one.stamps_ns).all()
    for first, second, both in zip(mine, shown.tolist(), got.states.tolist(), strict=True):
        assert (both == YES) == (first == second == YES)
        assert both != NO or NO in (first, second)
        assert (first != BLIND) or both == BLIND


def test_leaving_one_mode_and_entering_another_at_one_sample_is_one_change() -> None:
    work, set_up = track("key", 10, [1, 1, 0, 0, 0, 1]), track("key", 10, [0, 0, 1, 1, 0, 0])
    assert [one.first_new for one in mode_changes([work, set_up])] == [2, 4, 5]


def of(said: Judgement, function: str, effect: str, verdict: Verdict | None = None) -> list[Finding]:
    return [
        one
        for one in said.findings
        if (one.function, one.effect) == (function, effect) and verdict in (None, one.verdict)
    ]


def quiet(lo: float, hi: float, *ports: str) -> Callable[[Rig], None]:
    """Nothing changes at these ports from `lo` to `hi`."""

    def change(rig: Rig) -> None:
        for port in ports:
            rig.steps[port] = [(at, value) for at, value in rig.steps[port] if not lo <= at < hi]

    return change


def test_a_demand_in_a_mode_in_which_it_is_not_required_is_no_stop() -> None:
    """The hood stands open at set-up from 17.5 s on, while the motor runs."""
    said = told("set_up_mode")
    hood = of(said, "hood_stop", "torque_off")
    assert [one.demand.lo // 10**9 for one in hood if one.demand] == [3]
    assert all(one.verdict is Verdict.PASS for one in hood)


def test_a_function_not_put_to_the_test_in_one_of_its_modes_is_not_observed() -> None:
    """The emergency stop at set-up is left out, and with it what follows by it."""
    said = told_with(
        "set_up_mode", quiet(31, 35.5, "estop.actuated", "drive.enabled", "drive.torque", "reset.pressed")
    )
    assert said.verdict is Verdict.NOT_OBSERVED
    (one,) = [one for one in said.findings if one.verdict is Verdict.NOT_OBSERVED]
    assert (one.function, one.subject, one.effect) == ("emergency_stop", "drive", "torque_off")
    assert one.requirement == "torque off: drive motor, in mode 'set-up'"


@pytest.mark.parametrize("defect", ["estop_dead_in_set_up"])
def test_a_stop_that_is_dead_in_one_mode_fails_there_though_it_works_in_the_other(defect: str) -> None:
    found = of(told("set_up_mode", defect), "emergency_stop", "torque_off")
    assert [one.verdict for one in found] == [Verdict.PASS, Verdict.FAIL]


def test_a_contact_of_the_selector_that_does_not_close_selects_no_mode_so_all_is_required() -> None:
    """Then the open hood demands a stop at set-up, and the motor that runs all the same is a failure."""

    def broken(rig: Rig) -> None:
        rig.steps["key.setup_b"] = [(-1.0, False)]

    said = told_with("set_up_mode", broken)
    assert of(said, "hood_stop", "stays_off", Verdict.FAIL)
    assert said.verdict is Verdict.FAIL


def test_the_change_of_the_mode_is_a_stop_of_its_own() -> None:
    said = told("set_up_mode")
    (off,) = of(said, "mode_change", "torque_off")
    assert off.demand is not None
    assert off.demand.lo // 10**9 == 15  # just before 16 s
    assert "mode_change" not in said.observation.bench.required.functions


def test_a_log_without_any_change_of_the_mode_leaves_the_change_and_the_other_mode_unobserved() -> None:
    def stays(rig: Rig) -> None:
        for port, steps in rig.steps.items():
            rig.steps[port] = [step for step in steps if step[0] < 15.5]

    said = told_with("set_up_mode", stays, end=15.5)
    assert said.verdict is Verdict.NOT_OBSERVED
    missing = {(one.function, one.effect) for one in said.findings if one.verdict is Verdict.NOT_OBSERVED}
    assert {
        ("mode_change", "torque_off"),
        ("mode_change", "stays_off"),
        ("mode_change", "starts_nothing"),
    } <= missing
    assert ("enabling_stop", "torque_off") in missing
    assert ("hood_stop", "torque_off") not in missing


@pytest.mark.parametrize(
    ("after", "verdict"), [(0.05, "fail"), (0.15, "fail"), (0.19, "inconclusive"), (0.3, "pass")]
)
def test_a_unit_that_starts_too_soon_after_the_change(after: float, verdict: str) -> None:
    """Where the change need not stop the bench (`change: starts_nothing`); a person needs 200 ms."""

    def starts(rig: Rig) -> None:
        rig.steps["drive.enabled"] = [(at, value) for at, value in rig.steps["drive.enabled"] if at < 40] + [
            (40.3, True)
        ]
        rig.steps["drive.torque"] = [(at, value) for at, value in rig.steps["drive.torque"] if at < 40] + [
            (40.404 + after, True)
        ]

    loose = ("bench\n  effects", "bench\n    change: starts_nothing\n  effects")
    found = of(told_with("set_up_mode", starts, changed=(loose,)), "mode_change", "starts_nothing")
    assert found[-1].verdict.value == verdict, found[-1].sentence


def test_the_mode_of_each_demand_stands_in_the_document() -> None:
    from interlock.replay import document

    told_of = document(told("set_up_mode"), "x")["demands"]
    shown = [(one["function"], one["mode"]) for one in told_of]
    assert ("hood_stop", "work") in shown
    assert ("emergency_stop", "work") in shown
    assert ("emergency_stop", "set-up") in shown
    assert {mode for function, mode in shown if function == "mode_change"} == {None}
    assert all("mode" not in one for one in document(told("two_zones"), "x")["demands"])
