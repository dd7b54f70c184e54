"""The further built-in kinds on benches of other shapes: each bench passes, its twin of one wrong line fails.

The benches are invented; what counts as right is common practice (no source) unless their files name a standard.
"""

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from chain_machines import MachineBench
from chain_naive import Judge, World
from chain_naive_rules import soonest
from chain_naive_wait import TickingWorld

from interlock.bench import Bench, builtin_kinds, load_bench, parse_bench
from interlock.bench.expr import evaluate
from interlock.chain import CheckResult, PropertyResult, check
from interlock.chain.fault_check import judge_faults
from interlock.verdict import Verdict

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"
EXPECTED: dict[str, Any] = yaml.safe_load((SHAPES / "expected.yaml").read_text("utf-8"))
NAMES = sorted(EXPECTED)


def text_with(name: str, old: str, new: str) -> str:
    """The bench file with one line replaced, which stands there once."""
    lines = (SHAPES / name).read_text("utf-8").splitlines()
    assert lines.count(old) == 1, old
    return "\n".join(new if line == old else line for line in lines) + "\n"


def with_line(name: str, old: str, new: str) -> CheckResult:
    return check(parse_bench(name, text_with(name, old, new)))


@cache
def twin(name: str) -> Bench:
    """The bench with its one wrong line."""
    return parse_bench(name, text_with(name, EXPECTED[name]["mend"], EXPECTED[name]["wrong"]))


@cache
def checked_twin(name: str) -> CheckResult:
    return check(twin(name))


def failures(result: CheckResult) -> list[PropertyResult]:
    return [one for one in result.properties if one.verdict is Verdict.FAIL]


def failing(result: CheckResult) -> list[str]:
    return list(dict.fromkeys(one.id for one in failures(result)))


def test_every_shape_has_a_wrong_twin() -> None:
    assert sorted(path.name for path in SHAPES.glob("*.yaml")) == sorted([*NAMES, "expected.yaml"])


@pytest.mark.parametrize("name", NAMES)
def test_a_right_bench_passes_whole(name: str) -> None:
    result = check(load_bench(SHAPES / name))
    assert [one.sentence for one in result.properties if one.verdict is not Verdict.PASS] == []
    assert result.whole


@pytest.mark.parametrize("name", NAMES)
def test_the_wrong_twin_fails_by_the_right_property(name: str) -> None:
    first = failures(checked_twin(name))[0]
    found = {"id": first.id, "function": first.function, "subject": first.subject, "steps": len(first.acts)}
    assert found == EXPECTED[name]["first"]


@pytest.mark.parametrize("name", NAMES)
def test_no_other_acts_get_there_sooner(name: str) -> None:
    expected = EXPECTED[name]["first"]
    steps = soonest(Judge(World(twin(name))), expected["id"], expected["function"], expected["subject"])
    assert steps == expected["steps"]


# Many states with what is remembered of the way: slow for the plain judge (three_doors has 12,738).
LARGE = {"three_doors.yaml", "two_zones.yaml", "two_emergency_stops.yaml", "jog_mode.yaml"}


@pytest.mark.parametrize("name", [name for name in NAMES if name not in LARGE])
def test_the_plain_judge_finds_no_fault_with_a_right_bench(name: str) -> None:
    bench = load_bench(SHAPES / name)
    judge = Judge(World(bench))
    for one in check(bench).properties:
        if (name, one.id) == ("lock_freed_by_a_relay.yaml", "locked_until_standstill"):
            assert not TickingWorld(bench, {"k2"}, "guard", "shaft").frees_a_turning_shaft()  # by the clock
        else:
            assert soonest(judge, one.id, one.function, one.subject) is None, one.title


@pytest.mark.parametrize("name", NAMES)
def test_the_counterexample_can_be_walked_with_the_declared_machines(name: str) -> None:
    machines = MachineBench(twin(name))
    for act in failures(checked_twin(name))[0].acts:
        before = machines.state
        ends = []
        for device, trigger in machines.possible():
            machines.put(before)
            if device == act.device:
                machines.fire(device, trigger)
                ends.append(machines.state)
        assert act.after in ends, act.words
        machines.put(act.after)


def test_each_further_kind_is_on_a_right_bench() -> None:
    """Those of the demo and the sample are proved there."""
    used = {device.kind for name in NAMES for device in load_bench(SHAPES / name).devices.values()}
    of_the_sample = {"dc_bus", "reference_store", "shaft"}
    assert set(builtin_kinds()) - used - of_the_sample == set()


# Guard locking (ISO 14119:2013, 4.3 and 5.7, from memory): freed only when the danger is gone.


def test_a_guard_that_asks_for_torque_off_only_may_be_freed_while_the_shaft_coasts() -> None:
    result = with_line("guard_locking.yaml", "  guard.permit: shaft.still", "  guard.permit: not pump.torque")
    assert failing(result) == ["locked_until_standstill"]
    [one] = failures(result)
    assert one.sentence == "After these 6 steps the chamber guard is freed although the shaft still turns."


def test_without_a_standstill_monitor_the_lock_is_judged_by_the_torque_alone() -> None:
    plain = text_with(
        "guard_locking.yaml",
        "  shaft: {kind: watched_shaft, name: shaft, delays: {coast_down: 6 s}}",
        "  shaft: {kind: shaft, name: shaft}",
    ).replace("  shaft.driven: pump.torque\n", "")
    by_torque = plain.replace("guard.permit: shaft.still", "guard.permit: not pump.torque")
    result = check(parse_bench("bench.yaml", by_torque))
    assert result.verdict is Verdict.PASS
    [one] = [one for one in result.properties if one.id == "locked_until_standstill"]
    assert "no device tells when the shaft stands" in one.requirement
    always = plain.replace("guard.permit: shaft.still", "guard.permit: always")
    assert failing(check(parse_bench("bench.yaml", always))) == ["locked_until_standstill"]


def test_a_bolt_slower_than_the_shaft_but_outside_the_stop_circuit_fails() -> None:
    result = with_line("guard_bolt.yaml", "  k1.channel_a: guard.a", "  k1.channel_a: always")
    assert {"torque_off", "recovers"} & set(failing(result))


def test_a_guard_that_can_be_unlocked_only_without_torque_still_counts_as_put_to_the_test() -> None:
    result = check(load_bench(SHAPES / "guard_locking.yaml"))
    [one] = [one for one in result.properties if (one.id, one.function) == ("torque_off", "guard_stop")]
    assert one.verdict is Verdict.PASS
    assert [witness.what for witness in one.premise] == ["the chamber guard demands the stop"]


def test_the_bolt_that_opens_its_contacts_first_is_tested_under_torque() -> None:
    result = check(load_bench(SHAPES / "guard_bolt.yaml"))
    [one] = [one for one in result.properties if one.id == "torque_off"]
    assert [witness.what for witness in one.premise] == [
        "the chamber guard demands the stop while the drive motor makes torque"
    ]


# Stop category 1 (IEC 60204-1:2016, 9.2.2): torque until standstill, then none.


@pytest.mark.parametrize(("stop_time", "verdict"), [("1000 ms", Verdict.PASS), ("1001 ms", Verdict.FAIL)])
def test_the_ramp_may_take_the_limit_and_no_more(stop_time: str, verdict: Verdict) -> None:
    line: str = EXPECTED["stop_category_1.yaml"]["mend"]
    result = with_line("stop_category_1.yaml", line, line.replace("800 ms", stop_time))
    assert result.verdict is verdict


def test_the_other_unit_of_the_same_bench_has_to_stop_at_once() -> None:
    """Its relay contact bridged, it makes torque for good: no ramp of the other one excuses that."""
    result = with_line("stop_category_1.yaml", "  load.sto_a: k1.out_a", "  load.sto_a: always")
    assert "torque_off_inputs" in failing(result)


LONG_BRAKING = "  drive: {kind: drive_stop_input, name: drive motor, delays: {stop_time: 20 s}}"


def test_braking_that_takes_too_long_is_ended_by_the_delay_relay_unless_a_quick_reset_keeps_it_in() -> None:
    """The relay stays in if its coil comes back before its delay is over: then nothing ends the braking in time.

    And if it does not come back, the delay is shorter than the ramp, which is told first.
    """
    line = LONG_BRAKING.replace("20 s", "700 ms")
    result = with_line("stop_input_and_delay.yaml", line, LONG_BRAKING)
    assert failing(result) == ["ramp_completed", "stop_completes"]


def test_without_the_delay_relay_nothing_ends_it() -> None:
    text = text_with("stop_input_and_delay.yaml", LONG_BRAKING.replace("20 s", "700 ms"), LONG_BRAKING)
    text = text.replace("k2.coil: k1.out_a and k1.out_b", "k2.coil: always")
    assert "torque_off" in failing(check(parse_bench("bench.yaml", text)))


# Two relays that see different stop devices: what the one has locked out, stops seen by the other do not end.


def test_a_lock_out_of_one_relay_is_no_fault_of_the_bench() -> None:
    result = check(load_bench(SHAPES / "emergency_stop_of_each_drive.yaml"))
    [one] = [one for one in result.properties if one.id == "reset_restores"]
    assert one.verdict is Verdict.PASS


def test_a_lock_out_by_a_normal_stop_still_is() -> None:
    """Channel b of the hood is not wired: the relay never sees both open."""
    result = with_line(
        "emergency_stop_of_each_drive.yaml", "  k1.channel_b: hood.b", "  k1.channel_b: always"
    )
    assert "reset_restores" in failing(result)


@pytest.mark.parametrize(("state", "on"), [("released", False), ("held", True), ("through", False)])
def test_the_enabling_button_is_on_in_its_centre_alone(state: str, on: bool) -> None:
    """IEC 60947-5-8: off, on, off; and no contact closes on the way back (from memory)."""
    kind = builtin_kinds()["enabling_button"]
    assert {evaluate(kind.outputs[contact], state.__eq__) for contact in ("a", "b")} == {on}
    assert [step.to for step in kind.transitions if "through" in step.source] == ["released"]


def test_no_name_stands_in_both_files_of_kinds() -> None:
    folder = Path(load_bench.__code__.co_filename).parent
    names = [
        name
        for file in ("kinds.yaml", "kinds_more.yaml")
        for name in yaml.safe_load((folder / file).read_text("utf-8"))
    ]
    assert len(names) == len(set(names)) == len(builtin_kinds())


@pytest.mark.parametrize("name", sorted(builtin_kinds()))
def test_every_fault_names_its_source_and_says_that_it_is_from_memory(name: str) -> None:
    for fault in builtin_kinds()[name].faults.values():
        assert "from memory" in fault.source


# The lock under faults: what frees the guard on a turning shaft loses the function.


def lost_by(name: str) -> dict[str, set[str]]:
    """For each single fault the effects of the guard's function that it loses."""
    report = judge_faults(load_bench(SHAPES / name), 1)
    return {
        fault.set[0]: {effect for function, effect in fault.effects if function == "guard_stop"}
        for fault in report.faults
        if fault.lost
    }


def test_faults_that_free_the_guard_on_a_turning_shaft_are_losses() -> None:
    lost = lost_by("guard_locking.yaml")
    unlocked = {"locked_until_standstill"}
    assert lost["guard.wire_permit_short_to_supply"] == lost["shaft.still_always"] == unlocked
    assert lost["guard.bolt_breaks"] == {"torque_off", *unlocked}
    assert "guard.does_not_unlock" not in lost


def test_a_bolt_whose_contacts_do_not_follow_loses_the_stop_and_with_it_the_lock() -> None:
    lost = lost_by("guard_bolt.yaml")
    assert lost == {"guard.contacts_do_not_follow": {"torque_off", "locked_until_standstill"}}


# Contacts straight in the lines to the torque-off inputs. Common practice for small drives; no source.

INTO_THE_DRIVE = ("  drive.sto_a: door.a and estop.a", "  drive.sto_b: door.b and estop.b")


@pytest.mark.parametrize(
    ("line", "first"),
    [
        ("  drive.sto_b: always", "torque_off"),
        ("  drive.sto_b: estop.b", "torque_off"),
        ("  drive.sto_b: door.a and estop.b", "torque_off"),
        ("  drive.sto_b: door.b", "torque_off_inputs"),
        ("  drive.sto_b: (door.b or go.pressed) and estop.b", "torque_off_inputs"),
        ("  drive.sto_b: (door.b or drive.enabled) and estop.b", "torque_off_inputs"),
    ],
    ids=["bridged", "door missing", "one contact twice", "stop missing", "past the door", "sealed in"],
)
def test_an_input_that_stays_on_when_both_contacts_are_open_is_found(line: str, first: str) -> None:
    assert first in failing(with_line("contacts_into_the_drive.yaml", INTO_THE_DRIVE[1], line))


def test_contacts_of_a_door_need_not_move_at_once_but_only_where_no_relay_stands_between() -> None:
    """Behind a relay, or with a way past the contact, both inputs must go off at the first contact."""
    name, both = "contacts_into_the_drive.yaml", INTO_THE_DRIVE
    assert failing(with_line(name, both[0], "  drive.sto_a: estop.a and door.a")) == []
    beside = with_line(name, both[0], "  drive.sto_a: (door.a or go.pressed) and estop.a")
    assert "torque_off_inputs" in failing(beside)


# Who has asked for a guard to be freed may withdraw that: it is no stop device operated again.


def test_a_bench_that_stops_when_the_guard_is_asked_for_can_be_reset_after_that() -> None:
    assert failing(check(load_bench(SHAPES / "lock_freed_on_request.yaml"))) == []


@pytest.mark.parametrize("channel", ["a", "b"])
def test_a_request_that_opens_one_channel_only_locks_the_relay_out(channel: str) -> None:
    """The relay waits for both channels to open, and no withdrawing does that."""
    line = f"  k1.channel_{channel}: guard.{channel} and halt.{channel} and not guard.asked"
    result = with_line("lock_freed_on_request.yaml", line, line.removesuffix(" and not guard.asked"))
    assert failing(result) == ["reset_restores"]
    [one] = failures(result)
    assert [act.words for act in one.acts] == ["ask for the chamber guard to be unlocked"]
