"""An emergency stop that takes the supply alone, reset by supply-on: the torque-enable line may stay on meanwhile.

The sample log, spoilt so that the lines do not fall at the emergency stop, before a bench file that asks for no more.
"""

import functools

import pytest
import yaml
from replay_tape import BENCH_FILE, COVER, ESTOP, Tape, sound

from interlock.bench import Bench, parse_bench
from interlock.replay import Finding, Judgement, judge_trace
from interlock.verdict import Verdict

LINES = ("TorqueEnableDrv", "TorqueEnableLod")


@functools.cache
def supply_only(*, zeroes: bool = True) -> Bench:
    data = yaml.safe_load(BENCH_FILE.read_text("utf-8"))
    data.pop("rating")
    stop = data["required"]["functions"]["emergency_stop"]
    stop["reset_by"] = "supply_on"
    stop["effects"] = [one for one in stop["effects"] if zeroes or one != "references_zero"]
    return parse_bench("supply_only.yaml", yaml.safe_dump(data, sort_keys=False))


def enabled_all_the_time() -> Tape:
    """After the emergency stop no reset of the relay is needed: its lines never fell."""
    tape = sound()
    for line in LINES:
        tape.put(line, 1, ESTOP.on - 0.1, ESTOP.start)
    return tape


def references_kept(tape: Tape) -> Tape:
    """What zeroes them are the lines, and these stay on."""
    for signal in ("SpeedRef", "TorqueRef"):
        tape.hold(signal, ESTOP.on - 0.1, ESTOP.start + 0.7)
    return tape


def judged(tape: Tape, *, zeroes: bool = True) -> Judgement:
    return judge_trace(supply_only(zeroes=zeroes), tape.trace())


def of_the_stop(judgement: Judgement, effect: str) -> list[Finding]:
    return [one for one in judgement.findings if one.function == "emergency_stop" and one.effect == effect]


def test_lines_that_stay_on_are_no_failure() -> None:
    found = of_the_stop(judged(enabled_all_the_time()), "stays_off")
    assert {one.verdict for one in found} == {Verdict.PASS}
    assert {one.subject for one in found} == {"drive", "load"}


@pytest.mark.parametrize("zeroes", [True, False])
def test_the_whole_log_passes(zeroes: bool) -> None:
    """No finding asks for lines that fall, nor for references that were not said to go to zero."""
    tape = enabled_all_the_time()
    said = judged(tape if zeroes else references_kept(tape), zeroes=zeroes)
    assert [one.sentence for one in said.findings if one.verdict is not Verdict.PASS] == []
    assert of_the_stop(said, "enable_off") == []
    assert {one.subject for one in of_the_stop(said, "torque_off")} == {"drive", "load"}


def test_references_that_were_said_to_go_to_zero_fail_if_they_are_kept() -> None:
    said = judged(references_kept(enabled_all_the_time()))
    assert {one.verdict for one in of_the_stop(said, "references_zero")} == {Verdict.FAIL}
    assert {one.verdict for one in of_the_stop(said, "restart")} == {Verdict.FAIL}


def test_lines_that_stay_on_after_another_stop_still_fail() -> None:
    tape = enabled_all_the_time().put(LINES[1], 1, COVER.on - 0.1, COVER.start)
    failed = [one for one in judged(tape).findings if one.verdict is Verdict.FAIL]
    assert ("cover_stop", "load", "enable_off") in {(one.function, one.subject, one.effect) for one in failed}


def test_the_same_lines_fail_a_stop_that_is_reset_by_the_button_of_the_bench() -> None:
    data = yaml.safe_load(BENCH_FILE.read_text("utf-8"))
    bench = parse_bench("bench.yaml", yaml.safe_dump(data, sort_keys=False))
    found = of_the_stop(judge_trace(bench, enabled_all_the_time().trace()), "stays_off")
    assert {one.verdict for one in found} == {Verdict.FAIL}


@pytest.mark.parametrize("signal", ["DrvCurrent", "LodCurrent"])
def test_torque_before_supply_on_fails(signal: str) -> None:
    tape = enabled_all_the_time().add(signal, 3.0, ESTOP.gone - 1.0, ESTOP.gone - 0.5)
    failed = {one.effect for one in judged(tape).findings if one.verdict is Verdict.FAIL}
    assert failed & {"stays_off", "torque_off"}


def test_the_supply_that_comes_back_by_the_release_fails() -> None:
    tape = enabled_all_the_time().put("MainContactorFb", 1, ESTOP.gone + 0.05, ESTOP.press)
    assert {one.verdict for one in of_the_stop(judged(tape), "supply_stays_off")} == {Verdict.FAIL}


def test_nobody_is_asked_to_show_that_supply_on_acts_when_let_go() -> None:
    assert of_the_stop(judged(enabled_all_the_time()), "reset_on_release") == []


def test_other_stops_are_judged_by_their_lines_as_before() -> None:
    tape = enabled_all_the_time()
    tape.put(LINES[0], 1, COVER.on + 0.5, COVER.on + 0.8)
    failed = [one for one in judged(tape).findings if one.verdict is Verdict.FAIL]
    assert ("cover_stop", "stays_off") in {(one.function, one.effect) for one in failed}
