"""The judgement as a whole: what is missing is said, the worst verdict rules, and nothing takes for ever."""

import time
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, BITS, COVER, ESTOP, SAFE, Tape, found, heard, sound

from interlock.errors import InterlockError
from interlock.replay import Judgement, judge_trace
from interlock.verdict import Verdict, worst

EFFECTS = {
    "cover_stop": {
        "torque_off",
        "references_zero",
        "standstill",
        "stays_off",
        "reset_on_release",
        "restart",
        "channels_agree",
    },
    "button_stop": {
        "torque_off",
        "references_zero",
        "standstill",
        "stays_off",
        "reset_on_release",
        "restart",
    },
    "emergency_stop": {
        *("torque_off", "references_zero", "standstill", "contactor_open", "bus_discharged", "stays_off"),
        *("reset_on_release", "restart", "supply_on_dead", "supply_stays_off"),
    },
}


def test_a_sound_log_shows_every_effect_of_every_function() -> None:
    said = heard(sound())
    assert said.verdict is Verdict.PASS
    for function, effects in EFFECTS.items():
        assert {one.effect for one in said.findings if one.function == function} == effects | {"enable_off"}


def test_the_findings_of_each_stop_are_as_many_as_the_requirements() -> None:
    said = heard(sound())
    counted = Counter((one.function, one.effect) for one in said.findings)
    assert counted["cover_stop", "torque_off"] == 3 * 2
    assert counted["button_stop", "references_zero"] == 2
    assert counted["emergency_stop", "bus_discharged"] == 1
    assert counted["cover_stop", "channels_agree"] == 3 + 4  # openings, and closings from power-up on


@pytest.mark.parametrize(
    ("hi", "unseen"),
    [
        (COVER.start + 1, {"button_stop", "emergency_stop"}),
        (ESTOP.on - 1, {"emergency_stop"}),
        (5.9, {"cover_stop", "button_stop", "emergency_stop"}),
    ],
)
def test_a_function_that_the_log_never_exercises_is_not_observed(hi: float, unseen: set[str]) -> None:
    said = heard(sound().drop(None, hi))
    assert said.verdict is Verdict.NOT_OBSERVED
    missing = [one for one in said.findings if one.verdict is Verdict.NOT_OBSERVED]
    assert {one.function for one in missing} == unseen
    for function in unseen:
        assert {one.effect for one in missing if one.function == function} == EFFECTS[function]
    assert all((one.demand, one.latency) == (None, None) for one in missing)


def test_each_effect_that_is_left_out_is_named_alone() -> None:
    """An emergency stop with the supply off already: the rest of it is judged."""
    said = heard(sound().put("MainContactorFb", 0).put("BusVoltage", 0))
    missing = {one.effect for one in said.findings if one.verdict is Verdict.NOT_OBSERVED}
    assert missing == {"contactor_open", "bus_discharged"}


def test_the_verdict_is_the_worst_of_the_findings() -> None:
    for tape in (sound(), sound().drop(None, 40), sound().put("CoverB", 1, COVER.on, COVER.gone)):
        said = heard(tape)
        assert said.verdict is worst(one.verdict for one in said.findings)


def test_a_fail_is_not_hidden_by_data_in_doubt_elsewhere() -> None:
    tape = sound().hold("SpeedRef", COVER.on - 0.1, COVER.start).late(SAFE, 0.05, 48, 48.5)
    said = heard(tape)
    assert said.verdict is Verdict.FAIL
    assert found(said, "data_complete", verdict=Verdict.INCONCLUSIVE) != []


def test_a_bench_that_does_not_say_how_it_shows_cannot_be_judged() -> None:
    blind = BENCH.model_copy(update={"shows": None})
    with pytest.raises(
        InterlockError, match="bench 'sample': it has no section 'shows'; add it to judge logs"
    ):
        judge_trace(blind, sound().trace())


def silent(tape: Tape, *ports: str) -> Judgement:
    """Judged by a description that says nothing of some outputs."""
    shows = BENCH.shows
    assert shows is not None
    told = {port: how for port, how in shows.states.items() if port not in ports}
    values = {port: how for port, how in shows.values.items() if port not in ports}
    bench = BENCH.model_copy(update={"shows": shows.model_copy(update={"states": told, "values": values})})
    return judge_trace(bench, tape.trace())


@pytest.mark.parametrize(
    ("ports", "unseen"),
    [
        (("drive.torque",), {"torque_off", "restart"}),
        (("references.set",), {"references_zero"}),
        (("contactor.main",), {"contactor_open", "supply_on_dead", "supply_stays_off"}),
        (("supply_on.pressed",), {"supply_on_dead", "supply_stays_off"}),
        (("shaft.speed",), {"standstill"}),
        (("bus.voltage",), {"bus_discharged"}),
        (("cover.b",), EFFECTS["cover_stop"]),
        (("estop.actuated",), EFFECTS["emergency_stop"]),
        (("reset.pressed",), {"reset_on_release", "restart"}),
    ],
)
def test_what_the_description_does_not_show_is_never_passed(ports: tuple[str, ...], unseen: set[str]) -> None:
    said = silent(sound(), *ports)
    assert said.verdict is not Verdict.PASS
    open_ = {Verdict.NOT_OBSERVED, Verdict.INCONCLUSIVE}
    missing = {one.effect for one in said.findings if one.verdict in open_}
    assert unseen <= missing
    assert not [one.sentence for one in said.findings if one.verdict is Verdict.FAIL]


def test_without_enable_lines_the_torque_alone_is_judged() -> None:
    said = silent(sound(), "drive.enabled", "load.enabled")
    assert said.verdict in {Verdict.PASS, Verdict.NOT_OBSERVED}
    assert {one.verdict for one in found(said, "stays_off")} == {Verdict.PASS}
    tape = sound().add("LodCurrent", 3, COVER.on + 1, COVER.on + 1.1)
    assert silent(tape, "drive.enabled", "load.enabled").verdict is Verdict.FAIL


def chatter(bits: tuple[str, ...], until: float = 20.0) -> Tape:
    """Some contacts that change at every other frame."""
    rng, tape = np.random.default_rng(1), sound().drop(None, until)
    rows = tape.rows(SAFE)
    for name in bits:
        byte, bit = BITS[name]
        noise = (rng.integers(0, 2, len(rows)) << bit).astype(np.uint8)
        tape.data[rows, byte] = tape.data[rows, byte] & (255 - (1 << bit)) | noise
    return tape


@pytest.mark.parametrize(
    "bits", [("CoverA",), ("ResetPb",), ("CoverA", "TorqueOffPb", "EmStop", "ResetPb"), tuple(BITS)], ids=len
)
def test_chattering_contacts_are_judged_in_bounded_time_and_never_pass(bits: tuple[str, ...]) -> None:
    began = time.process_time()
    said = heard(chatter(bits))
    assert time.process_time() - began < 20
    assert said.verdict in {Verdict.FAIL, Verdict.INCONCLUSIVE}


def test_more_demands_than_are_judged_make_the_log_inconclusive() -> None:
    said = heard(chatter(("CoverA",), until=40.0))
    (one,) = [one for one in found(said, "data_complete") if "only the first" in one.sentence]
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "Judge it in pieces" in one.sentence


def test_random_frames_never_pass_and_never_crash() -> None:
    for seed in range(3):
        tape = sound().drop(None, 8)
        tape.data[:] = np.random.default_rng(seed).integers(0, 256, tape.data.shape)
        assert heard(tape).verdict is not Verdict.PASS


def test_the_same_trace_is_judged_the_same_twice() -> None:
    trace = sound().trace()
    assert judge_trace(BENCH, trace).findings == judge_trace(BENCH, replace(trace)).findings
