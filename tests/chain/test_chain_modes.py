"""Modes: what is required in which, what a change of mode must do, and what must be held where a guard is suspended.

The benches are invented. Clauses: IEC 60204-1:2016, 9.2.3.5 (mode selection) and 9.2.3.6 (suspended functions), ISO
12100:2010, 6.2.11.9 (control mode for setting), all from memory.
"""

import pytest
from chain_naive import Judge, World
from chain_naive_rules import soonest_of_all
from chain_shapes import judged, not_passed, of, shape

from interlock.bench import Bench
from interlock.chain.compile import compile_bench
from interlock.chain.fault_check import judge_faults
from interlock.chain.reference import holds, start
from interlock.chain.requirement import Requirement
from interlock.verdict import Verdict

MODED = "set_up_mode"
# The same bench, its relay blind to the key: a change of mode opens nothing.
KEY_PAST_THE_RELAY = (
    (
        "k1.channel_a: estop.a and (key.work_a and hood.a or key.setup_a)",
        "k1.channel_a: estop.a and (hood.a or not key.work_a)",
    ),
    (
        "k1.channel_b: estop.b and (key.work_b and hood.b or key.setup_b)",
        "k1.channel_b: estop.b and (hood.b or not key.work_b)",
    ),
)
NOTHING_HELD = (
    ("drive.sto_a: k1.out_a and (key.work_a or enable.a)", "drive.sto_a: k1.out_a"),
    ("drive.sto_b: k1.out_b and (key.work_b or enable.b)", "drive.sto_b: k1.out_b"),
)
STARTS_BY_THE_KEY = (
    ("  drive.supply: always", "  drive.supply: always\n  drive.run: key.setup_a and hood.a"),
)
LENIENT = (("    by: key\n", "    by: key\n    change: starts_nothing\n"),)


def requirement(bench: Bench) -> Requirement:
    return Requirement(bench, compile_bench(bench))


def applies(bench: Bench, function: str, key: str) -> bool:
    required = requirement(bench)
    state = {**start(required.compiled.chain), "key": key}
    return holds(required.applies(function), state, state)


@pytest.mark.parametrize(
    ("key", "hood", "enabling", "emergency"),
    [("work", True, False, True), ("setup", False, True, True), ("between", True, True, True)],
)
def test_a_function_is_required_in_its_modes_and_where_no_mode_is_selected(
    key: str, hood: bool, enabling: bool, emergency: bool
) -> None:
    bench = shape(MODED)
    found = [applies(bench, name, key) for name in ("hood_stop", "enabling_stop", "emergency_stop")]
    assert found == [hood, enabling, emergency]


def test_the_right_bench_puts_each_function_to_the_test_in_each_of_its_modes() -> None:
    result = judged(MODED)
    assert not_passed(result) == {}
    said = {
        one.function: [witness.what for witness in one.premise]
        for one in result.properties
        if one.id == "torque_off"
    }
    assert said == {
        "hood_stop": [
            "channel a of the guard hood opens alone while the drive motor makes torque, in mode 'work'",
            "channel b of the guard hood opens alone while the drive motor makes torque, in mode 'work'",
        ],
        "enabling_stop": [
            "the enabling button demands the stop while the drive motor makes torque, in mode 'set-up'"
        ],
        "emergency_stop": [
            "the emergency stop demands the stop while the drive motor makes torque, in mode 'work'",
            "the emergency stop demands the stop while the drive motor makes torque, in mode 'set-up'",
        ],
    }


def test_a_function_never_put_to_the_test_in_one_of_its_modes_does_not_pass() -> None:
    """At set-up the motor has no torque at all, so nothing there stops it: not observed, never passed."""
    result = judged(
        MODED, ("drive.sto_a: k1.out_a and (key.work_a or enable.a)", "drive.sto_a: k1.out_a and key.work_a")
    )
    assert of(result, "torque_off", "emergency_stop").verdict is Verdict.NOT_OBSERVED
    assert of(result, "torque_off", "hood_stop").verdict is Verdict.PASS
    assert "in mode 'set-up'" in of(result, "torque_off", "emergency_stop").sentence


def test_a_hood_that_may_be_open_at_set_up_must_still_stop_when_the_key_is_turned_back() -> None:
    """The relay sees the hood at work only while the key stands at work: with a bridge it misses the way back."""
    wrong = (
        (
            "drive.sto_a: k1.out_a and (key.work_a or enable.a)",
            "drive.sto_a: k1.out_a and (key.work_a or enable.a or hood.a)",
        ),
    )
    assert "torque_off_inputs" in not_passed(judged(MODED, *wrong))


def test_a_change_of_mode_must_stop_the_bench() -> None:
    result = judged(MODED, *KEY_PAST_THE_RELAY)
    found = of(result, "mode_change_stops")
    assert found.verdict is Verdict.FAIL
    assert found.acts[-1].device == "key"
    assert "nobody has reset since" in found.sentence


def test_where_the_risk_assessment_allows_it_a_change_may_leave_the_bench_running() -> None:
    result = judged(MODED, *KEY_PAST_THE_RELAY, *LENIENT)
    assert "mode_change_stops" not in {one.id for one in result.properties}
    assert of(result, "mode_change_never_starts").verdict is Verdict.PASS


@pytest.mark.parametrize("lenient", [(), LENIENT], ids=["stops", "starts nothing"])
def test_the_act_on_the_key_must_not_start_the_motor(lenient: tuple[tuple[str, str], ...]) -> None:
    """Enabled and permitted at set-up, the motor starts by the key's contact as soon as the key comes round."""
    wiring = (
        ("k1.channel_a: estop.a and (key.work_a and hood.a or key.setup_a)", "k1.channel_a: estop.a"),
        ("k1.channel_b: estop.b and (key.work_b and hood.b or key.setup_b)", "k1.channel_b: estop.b"),
    )
    result = judged(MODED, *wiring, *STARTS_BY_THE_KEY, *lenient)
    found = of(result, "mode_change_never_starts")
    assert found.verdict is Verdict.FAIL
    assert found.acts[-1].device == "key"
    assert of(judged(MODED, *lenient), "mode_change_never_starts").verdict is Verdict.PASS


def test_where_the_hood_is_suspended_somebody_must_hold_a_device() -> None:
    result = judged(MODED, *NOTHING_HELD)
    found = of(result, "held_in_mode")
    assert found.verdict is Verdict.FAIL
    assert "in mode 'set-up' although nobody has to hold a device" in found.sentence


def test_a_mode_without_any_device_to_hold_fails_though_the_wiring_has_one() -> None:
    """Only what is required counts: the enabling button is wired, but no function asks for it at set-up."""
    result = judged(MODED, ("in_modes: [set_up]", "in_modes: [work]"))
    assert of(result, "held_in_mode").verdict is Verdict.FAIL


def test_a_suspended_enabling_button_is_no_suspended_guard() -> None:
    subjects = [one.title for one in judged(MODED).properties if one.id == "held_in_mode"]
    assert subjects == ["set-up: the drive motor makes torque only while a person holds a device for it"]


def test_an_enabling_button_needs_no_reset_but_a_start() -> None:
    result = judged(MODED)
    asked = {one.id for one in result.properties if one.function == "enabling_stop"}
    assert asked == {"torque_off", "torque_off_inputs", "stays_off", "brief_stop_completes"}
    starts = judged(
        MODED, ("  drive.supply: always", "  drive.supply: always\n  drive.run: key.setup_a and enable.a")
    )
    assert "start_by_person" in not_passed(starts)


def test_a_hold_to_run_button_may_start_and_must_stop() -> None:
    """Its kind says that who presses it means to start; an enabling button's kind does not."""
    assert not_passed(judged("jog_mode")) == {}
    keeps = [
        ("drive.sto_a: k1.out_a and (key.work_a or jog.a)", "drive.sto_a: k1.out_a"),
        ("drive.sto_b: k1.out_b and (key.work_b or jog.b)", "drive.sto_b: k1.out_b"),
    ]
    failed = not_passed(judged("jog_mode", *keeps))
    assert {"torque_off", "stays_off", "held_in_mode"} <= set(failed)
    plain = ("jog: {kind: hold_to_run_button,", "jog: {kind: enabling_button,")
    by_enabling = judged("jog_mode", plain, ("key.setup_a and jog.pressed", "key.setup_a and jog.a"))
    assert "start_by_person" in not_passed(by_enabling)


def test_the_result_says_which_functions_a_mode_suspends_and_what_the_model_lacks() -> None:
    said = " ".join(judged(MODED).assumptions)
    assert (
        "In mode 'set-up' these are not required: 'at work, opening the guard hood takes the torque away'"
        in said
    )
    assert "Reduced speed, torque or travel" in said
    assert "Reduced speed" not in " ".join(judged("two_zones").assumptions)


def test_the_disagreement_of_two_channels_is_watched_within_one_mode() -> None:
    one_channel = (
        "k1.channel_b: estop.b and (key.work_b and hood.b or key.setup_b)",
        "k1.channel_b: estop.b and (key.work_b and hood.a or key.setup_b)",
    )
    assert "torque_off" in not_passed(judged(MODED, one_channel))
    automatic = ("  k1: {kind: safety_relay,", "  k1: {kind: plain_relay,")
    wiring = [
        (
            "k1.channel_a: estop.a and (key.work_a and hood.a or key.setup_a)",
            "k1.coil: hood.a and hood.b and estop.a and key.work_a",
        )
    ]
    wiring += [
        ("  k1.channel_b: estop.b and (key.work_b and hood.b or key.setup_b)\n", ""),
        ("  k1.reset: reset.pressed\n", ""),
    ]
    lost = not_passed(
        judged(
            MODED,
            automatic,
            *wiring,
            ("drive.supply: always", "drive.supply: reset.pressed or not reset.pressed"),
        )
    )
    assert lost["channels_disagree"] is Verdict.FAIL


def test_faults_of_the_key_lose_the_function_of_a_mode() -> None:
    """A key of one contact a position: bridged, it suspends the hood at work; two contacts each withstand that."""
    both = {one.set[0]: one for one in judge_faults(shape(MODED), 1).faults}
    assert both["key.setup_a_stays_closed"].lost == ()
    single = shape(MODED, ("key.work_b and hood.b or key.setup_b", "key.work_b and hood.b or key.setup_a"))
    found = {one.set[0]: one for one in judge_faults(single, 1).faults}
    assert found["key.setup_a_stays_closed"].lost == ("hood_stop",)


@pytest.mark.parametrize(
    "changes", [NOTHING_HELD, STARTS_BY_THE_KEY], ids=["nothing held", "starts by the key"]
)
def test_the_plain_judge_agrees_on_wrong_benches(changes: tuple[tuple[str, str], ...]) -> None:
    """The second opinion shares no rule and no compiled form with the prover."""
    bench = shape(MODED, *changes)
    judge = Judge(World(bench))
    failed = [one for one in judged(MODED, *changes).properties if one.verdict is Verdict.FAIL]
    for one in failed:
        if one.id not in {"reset_restores", "recovers"}:
            assert soonest_of_all(judge, one.id, one.function, one.subject) == len(one.acts), one.title
    assert failed
