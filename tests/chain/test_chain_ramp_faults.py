"""Faults that cut the ramp of a stop of category 1 short: torque goes, and sooner than the drive has braked.

IEC 60204-1:2016, 9.2.2: power stays on until the stop is achieved. A ramp that is cut falls to category 0, which is no
lost stop; whether it may happen is for the bench file to say (`single_fault_keeps: [braking]`). Invented benches.
"""

from functools import cache

import pytest
from chain_fault_benches import only
from chain_shapes import shape

from interlock.bench import Bench
from interlock.chain import FaultReport, check, judge_faults
from interlock.chain.fault_property import fault_properties
from interlock.verdict import Verdict

Change = tuple[str, str]
TIMER = "  k2: {kind: off_delay_relay, name: delay relay, delays: {off_delay: 900 ms}}\n"
Q1 = "  q1: {kind: contactor, name: motor contactor, delays: {pick_up: 30 ms, drop_out: 60 ms}}\n"
SAFE_OFF = "  drive.sto_a: k2.out_a\n  drive.sto_b: k2.out_b\n"
BRIDGED = "  drive.sto_a: always\n  drive.sto_b: always\n"
KEEPS: Change = ("      stop_category: 1\n", "      stop_category: 1\n      single_fault_keeps: [braking]\n")
BY_CONTACTOR: list[Change] = [
    (TIMER, TIMER + Q1),
    (SAFE_OFF, f"{BRIDGED}  q1.coil: k2.out_a\n"),
    ("drive.supply: always", "drive.supply: q1.main"),
    KEEPS,
]
BY_TWO_TIMERS: list[Change] = [
    (TIMER, TIMER + TIMER.replace("k2", "k3").replace("delay relay", "second delay relay") + Q1),
    (SAFE_OFF, f"{BRIDGED}  k3.coil: k1.out_a and k1.out_b\n  q1.coil: k2.out_a or k3.out_a\n"),
    *BY_CONTACTOR[2:],
]


def bench(changes: list[Change]) -> Bench:
    return shape("stop_input_and_delay", *changes)


@cache
def report(*changes: Change) -> FaultReport:
    return judge_faults(bench(list(changes)), 1)


def cutting(changes: list[Change]) -> set[str]:
    return {
        one.set[0] for one in report(*changes).faults if "ramp_completed" in {rule.id for rule in one.rules}
    }


def verdicts(changes: list[Change]) -> dict[str, Verdict]:
    found = fault_properties(bench(changes), report(*changes))
    return {one.id: one.verdict for one in found}


@pytest.mark.parametrize("changes", [[KEEPS], BY_CONTACTOR, BY_TWO_TIMERS], ids=["inputs", "one", "two"])
def test_without_a_fault_each_ramp_comes_to_its_end(changes: list[Change]) -> None:
    assert {
        one.verdict for one in check(bench(changes), faults=0).properties if one.id[-11:] != "under_fault"
    } == {Verdict.PASS}


def test_should_fail_where_the_only_timer_drops_out_at_once() -> None:
    """The contactor then opens 60 ms after the demand, and the ramp takes 700 ms."""
    assert cutting(BY_CONTACTOR) == {"k2.no_delay"}
    assert verdicts(BY_CONTACTOR)["ramp_completed_under_fault"] is Verdict.FAIL


def test_should_pass_where_a_second_timer_keeps_the_power_on() -> None:
    assert cutting(BY_TWO_TIMERS) == set()
    assert verdicts(BY_TWO_TIMERS)["ramp_completed_under_fault"] is Verdict.PASS


def test_torque_that_goes_before_any_braking_is_another_rule() -> None:
    """Without a contactor the timer takes the torque in the same moment, so that no ramp begins."""
    [found] = [one for one in report(KEEPS).faults if one.set == ("k2.no_delay",)]
    assert {one.id for one in found.rules} == {"braking"}
    assert cutting([KEEPS]) == set()
    assert verdicts([KEEPS]) == {
        "braking_under_fault": Verdict.FAIL,
        "ramp_completed_under_fault": Verdict.PASS,
    }


@pytest.mark.parametrize("fault", ["q1.wire_coil_break", "k2.wire_coil_break", "drive.wire_sto_a_break"])
def test_a_fault_that_stops_the_unit_by_itself_is_none_that_cuts_its_ramp(fault: str) -> None:
    """It arrives, and 60 ms later the contactor opens, whether or not somebody asks for the stop meanwhile."""
    assert fault in {one.set[0] for one in report(*BY_CONTACTOR).faults}
    assert fault not in cutting(BY_CONTACTOR)


@pytest.mark.parametrize(
    ("ramp", "drop_out", "cut"),
    [
        ("700 ms", "60 ms", True),
        ("50 ms", "60 ms", False),
        ("60 ms", "60 ms", False),
        ("61 ms", "60 ms", True),
    ],
    ids=["long", "short", "same moment", "just longer"],
)
def test_by_the_stated_times_and_no_others(ramp: str, drop_out: str, cut: bool) -> None:
    """Of what comes in the same moment the end of the ramp comes first, as on the sound bench."""
    times = [("stop_time: 700 ms", f"stop_time: {ramp}"), ("drop_out: 60 ms", f"drop_out: {drop_out}")]
    assert (cutting([*BY_CONTACTOR, *times]) == {"k2.no_delay"}) is cut


def test_it_is_told_as_what_it_is_with_the_acts_that_show_it() -> None:
    [one] = [one for one in report(*BY_CONTACTOR).faults if one.set == ("k2.no_delay",)]
    assert one.lost == ()
    assert one.sentence.startswith(
        "It loses no function. The stop by the guard hood may take the torque of the drive"
    )
    assert "before its ramp has come to its end, by the stated times" in one.sentence
    assert "which falls to category 0. Reckon stopping times and distances of guards without" in one.sentence
    assert one.breaks == ("hood_stop: the ramp of the drive motor is cut short",)
    assert one.as_json()["rules"] == [
        {"rule": "ramp_completed", "function": "hood_stop", "mode": None, "unit": "drive"}
    ]
    assert one.acts[-2].words.startswith("open the guard hood")
    assert "drive motor: brakes to standstill by its control" in one.acts[-2].changes
    assert (
        one.acts[-1].changes
        == ("motor contactor: open", "drive motor: torque off")[-len(one.acts[-1].changes) :]
    )
    assert one.story is not None
    rows = {row.words: row.high for row in one.story.signals}
    assert rows["drive motor makes torque"][-2:] == (True, False)


def test_a_bench_that_does_not_ask_for_it_is_told_and_does_not_fail() -> None:
    plain = [one for one in BY_CONTACTOR if one is not KEEPS]
    assert cutting(plain) == {"k2.no_delay"}
    assert verdicts(plain) == {}


def test_the_result_says_under_which_faults_ramps_are_judged() -> None:
    """A fault that arrives in the midst of a ramp, and two at a time, are not: nobody may take them for judged."""
    [first, *_] = check(only(bench([KEEPS]), "k2.no_delay"), faults=1).assumptions
    assert (
        "(that a ramp comes to its end by the stated times: under each single fault that is there when the stop is "
        "demanded)" in first
    )


def test_a_stop_of_category_0_has_no_ramp() -> None:
    plain = [one for one in BY_CONTACTOR if one is not KEEPS]
    assert cutting([*plain, ("stop_category: 1", "stop_category: 0")]) == set()
