"""Demands, resets and the stops that they bound: which reset is lawful, and what nobody can know."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_tape import BENCH, BUTTON, COVER, COVER_3, ESTOP, SAFE, Tape, heard, lines, press, sound

from interlock.replay.attempts import Attempt, attempts
from interlock.replay.periods import Period
from interlock.timing.edges import before, changes
from interlock.timing.track import BLIND, NO, YES, Clock, Track

PERSON_NS = 200
EXACT = Clock(0, 0, 0)


def track(states: list[int], message: str = "M") -> Track:
    return Track("t", message, np.arange(len(states)) * 10, np.array(states, dtype=np.int8), EXACT)


def demand(states: list[int], message: str = "M") -> list[Period]:
    """The periods of one demand, made from its changes as the judge does it."""
    shown, onset, found = track(states, message), None, []
    for edge in changes(shown):
        if edge.to:
            onset = edge
        else:
            found.append(Period("d", onset, edge))
            onset = None
    if states[-1] == YES:
        found.append(Period("d", onset, None))
    return found


# Frames:       0  1  2  3  4  5  6  7  8  9
PRESENT = [0, 0, 0, 1, 1, 1, 1, 0, 0, 0]


@pytest.mark.parametrize(
    ("reset", "lawful"),
    [
        ([0, 0, 0, 0, 0, 0, 0, 0, 1, 0], True),  # pressed and let go after the demand went
        ([0, 0, 0, 0, 1, 0, 0, 0, 0, 0], False),  # both within the demand
        ([0, 1, 1, 1, 1, 0, 0, 0, 0, 0], False),  # pressed before it came, let go within
        ([0, 0, 0, 0, 1, 1, 1, 1, 0, 0], None),  # pressed within, let go after
        ([0, 1, 1, 1, 1, 1, 1, 1, 0, 0], None),  # pressed before, let go after
        ([0, 1, 0, 0, 0, 0, 0, 0, 0, 0], True),  # over before it came
        ([0, 1, 1, 0, 0, 0, 0, 0, 0, 0], None),  # let go at the sample at which it came
        ([0, 0, 0, 1, 0, 0, 0, 0, 0, 0], False),  # pressed at the sample at which it came
        ([0, 0, 0, 0, 0, 0, 0, 1, 0, 0], None),  # pressed at the sample at which it went
        ([0, 0, 0, 0, 0, 0, 1, 0, 0, 0], None),  # let go at the sample at which it went
        ([1, 0, 0, 0, 0, 0, 0, 0, 0, 0], None),  # nobody saw the press
        ([1, 1, 1, 1, 1, 0, 0, 0, 0, 0], False),
        ([1, 1, 1, 1, 1, 1, 1, 1, 0, 0], None),
    ],
)
def test_which_reset_is_lawful(reset: list[int], lawful: bool | None) -> None:
    (one,) = attempts(track(reset), demand(PRESENT), PERSON_NS)
    assert one.lawful is lawful


@pytest.mark.parametrize(
    ("present", "lawful"),
    [
        ([0, 0, 0, 0, 0, 0, 0, 0, 0, 0], True),
        ([1, 1, 1, 1, 1, 1, 1, 1, 1, 1], False),  # from before the log to its end
        ([1, 1, 0, 0, 0, 0, 0, 0, 0, 0], True),
        ([1, 1, 1, 1, 1, 0, 0, 0, 0, 0], None),
        ([0, 0, 0, 0, 0, 0, 0, 1, 1, 1], True),
        ([0, 0, 0, 0, 0, 1, 1, 1, 1, 1], False),
    ],
)
def test_a_demand_older_than_the_log_or_lasting_to_its_end(present: list[int], lawful: bool | None) -> None:
    (one,) = attempts(track([0, 0, 0, 0, 1, 1, 0, 0, 0, 0]), demand(present), PERSON_NS)
    assert one.lawful is lawful


def test_every_demand_must_have_gone() -> None:
    reset = [0, 0, 0, 0, 0, 0, 0, 0, 1, 0]
    other = [0, 0, 0, 0, 0, 0, 0, 1, 1, 1]
    (one,) = attempts(track(reset), demand(PRESENT) + demand(other), PERSON_NS)
    assert one.lawful is False


@given(st.lists(st.booleans(), min_size=3, max_size=14), st.lists(st.booleans(), min_size=14, max_size=14))
def test_lawful_means_clear_of_every_demand_frame_by_frame(pressed: list[bool], present: list[bool]) -> None:
    """Oracle: within one message, the frames from press to release and those of the demand."""
    size = len(pressed)
    states = [int(one) for one in present[:size]]
    for one in attempts(track([int(p) for p in pressed]), demand(states), PERSON_NS):
        first = 0 if one.press is None else one.press.last_old
        within = states[first : one.release.first_new + 1]
        if one.lawful is True:
            assert one.press is not None
            assert not any(within)
        if one.lawful is False:
            assert states[one.release.last_old]
            assert states[one.release.first_new]


@pytest.mark.parametrize(
    ("blind", "expected"),
    [((2, 3), 1), ((4, 6), 2), ((8, 9), 1), ((), 0)],
)
def test_a_reset_that_may_have_gone_unseen_is_an_attempt(blind: tuple[int, ...], expected: int) -> None:
    states = [BLIND if k in blind else NO for k in range(10)]
    found = attempts(track(states), demand(PRESENT), 5)
    assert len(found) == expected
    assert all(one.lawful is None and one.press is None for one in found)


def test_no_person_lets_go_resets_and_demands_again_within_a_moment() -> None:
    states = [0, 0, 0, 0, BLIND, 0, 0, 0, 0, 0]
    assert [one.lawful for one in attempts(track(states), demand(PRESENT), 50)] == [False]
    assert [one.lawful for one in attempts(track(states), demand(PRESENT), 5)] == [None]
    after = [0, 0, 0, 0, 0, 0, 0, 0, BLIND, 0]
    assert [one.lawful for one in attempts(track(after), demand(PRESENT), 50)] == [None]


def test_attempts_come_in_order_and_those_of_other_messages_need_the_whole_interval() -> None:
    states = [0, 1, 0, 0, BLIND, 0, 1, 1, 0, 0]
    found = attempts(track(states), [], PERSON_NS)
    assert [one.release.first_new for one in found] == sorted(one.release.first_new for one in found)
    assert len(found) == 3
    wide = Clock(0, 40, 0)
    reset = Track("r", "N", np.arange(10) * 10, np.array([0, 0, 0, 0, 0, 0, 0, 0, 1, 0], np.int8), wide)
    (one,) = attempts(reset, demand(PRESENT), PERSON_NS)
    assert one.lawful is None  # 40 ns of delay: the press may have been within the demand


def stops_of(tape: Tape) -> list[tuple[str, bool, bool]]:
    """Function, whether the log shows the onset, and whether a lawful reset was found."""
    return [
        (one.name, one.demand is not None, one.reset is not None and one.reset.lawful is True)
        for one in heard(tape).stops
    ]


def test_the_stops_of_a_sound_log() -> None:
    """At power-up all three devices demand, as their contacts are not yet read."""
    assert sorted(stops_of(sound())[:3]) == [
        ("button_stop", False, True),
        ("cover_stop", False, True),
        ("emergency_stop", False, True),
    ]
    order = ["cover_stop", "button_stop", "cover_stop", "emergency_stop", "button_stop", "cover_stop"]
    assert stops_of(sound())[3:] == [(name, True, True) for name in order]


def test_every_onset_holds_the_truth_and_every_window_ends_with_the_reset() -> None:
    tape = sound()
    start = int(tape.us.min()) * 1000
    for shown, true in zip(heard(tape).stops[3:], tape.stops, strict=True):
        assert shown.demand is not None
        assert round(true.on * 1e9) - start in shown.demand
        assert shown.window.end is not None
        assert round(true.release * 1e9) - start in shown.window.end


def test_demands_during_a_stop_prolong_it() -> None:
    """Button pressed while the cover is open, let go after it closed: both stops end with the same reset."""
    tape = sound().put("TorqueOffPb", 0, COVER.on + 1, COVER.gone + 0.4)
    said = heard(tape)
    assert said.verdict.value == "pass"
    cover, button = said.stops[3:5]
    assert (cover.name, button.name) == ("cover_stop", "button_stop")
    assert cover.reset == button.reset


@pytest.mark.parametrize(
    ("what", "signal", "lo", "hi", "verdict"),
    [
        ("a button 10 ms after the cover", "TorqueOffPb", COVER.on + 0.01, COVER.on + 1.5, "pass"),
        ("a button pressed twice in a stop", "TorqueOffPb", COVER.on + 0.5, COVER.on + 0.7, "pass"),
        (
            "a button from the stop until after the reset",
            "TorqueOffPb",
            COVER.gone - 0.1,
            COVER.start - 0.2,
            "fail",
        ),
        (
            "an emergency stop in a cover stop, the supply staying on",
            "EmStop",
            COVER.on + 0.5,
            COVER.on + 1,
            "fail",
        ),
        ("a button for one frame, nothing happens", "TorqueOffPb", 12.0, 12.01, "fail"),
        ("an emergency stop for one frame, nothing happens", "EmStop", 12.0, 12.01, "fail"),
        ("a button in the last frames", "TorqueOffPb", 60.5, 99, "inconclusive"),
    ],
)
def test_demands_at_odd_moments(what: str, signal: str, lo: float, hi: float, verdict: str) -> None:
    assert heard(sound().put(signal, 0, lo, hi)).verdict.value == verdict, what


def test_a_demand_of_a_single_frame_that_the_bench_obeyed_is_a_whole_stop() -> None:
    tape = sound().put("TorqueOffPb", 1, BUTTON.on + 0.0115, BUTTON.gone)
    said = heard(tape)
    assert said.verdict.value == "pass"
    (stop,) = [one for one in said.stops if one.demand and one.name == "button_stop" and one.demand.lo < 20e9]
    assert stop.period.gone is not None
    assert before(stop.period.gone, stop.reset.press) is True  # type: ignore[union-attr, arg-type]


@pytest.mark.parametrize(
    "seconds", [5.0, COVER.gone + 0.2, COVER.press + 0.1, COVER.release + 0.015, COVER.start - 0.1]
)
def test_a_log_that_begins_between_two_stops_judges_the_rest(seconds: float) -> None:
    assert heard(sound().drop(None, -1, seconds)).verdict.value == "pass"


@pytest.mark.parametrize("after", [0.008, 0.03, 0.05, 1.0])
def test_a_log_that_begins_within_a_stop_never_passes_it(after: float) -> None:
    """Onset unseen: torque, references or the coast-down may have been too late already."""
    said = heard(sound().drop(None, -1, COVER.on + after))
    assert said.verdict.value == "inconclusive"
    assert all(one.demand is None for one in said.findings if one.verdict.value == "inconclusive")


def test_a_log_that_begins_with_torque_on_in_a_stop_fails_once_the_limit_has_passed() -> None:
    tape = sound().move("DrvCurrent", 0.5, COVER.on - 0.1, COVER.on + 1).drop(None, -1, COVER.on + 0.1)
    said = heard(tape)
    (one,) = [one for one in said.findings if one.effect == "torque_off" and one.verdict.value == "fail"]
    assert (one.subject, one.demand) == ("drive", None)


@pytest.mark.parametrize("after", [0.015, 0.06, 0.5, 2.98, 3.2, 3.5, 4.1])
def test_a_log_that_ends_within_a_stop_never_passes_it(after: float) -> None:
    said = heard(sound().drop(None, COVER_3.on + after))
    assert said.verdict.value == "inconclusive"
    assert {one.function for one in said.findings if one.verdict.value == "inconclusive"} == {"cover_stop"}


@pytest.mark.parametrize("after", [0.015, 0.06, 3.1, 5.5, 6.6, 7.4, 7.51, 8.6])
def test_a_log_that_ends_within_the_emergency_stop_never_passes(after: float) -> None:
    assert heard(sound().drop(None, ESTOP.on + after)).verdict.value in {"inconclusive", "not_observed"}


def test_every_bound_of_a_stop_comes_from_the_log_alone() -> None:
    """The same frames at another date give the same stops."""
    tape = sound()
    later = tape.copy()
    later.us = later.us + 86_400_000_000
    assert [one.demand for one in heard(tape).stops] == [one.demand for one in heard(later).stops]
    assert BENCH.required.restart.no_sooner_than == 200_000_000


@pytest.mark.parametrize(("alone", "unit"), list(product(["Drv", "Lod"], [0.05, 0.2])))
def test_a_doubtful_reset_ends_the_stop_only_if_something_came_of_it(alone: str, unit: float) -> None:
    """A reset begun within the demand: ignored, the later one counts; obeyed by one unit, it is doubtful for all."""
    lo, hi = COVER.gone - 0.3, COVER.gone + 0.3
    ignored = heard(press(sound(), lo, hi)).stops[3]
    assert ignored.reset is not None
    assert ignored.reset.lawful is True
    obeyed = heard(lines(press(sound(), lo, hi), 1, hi + unit, hi + unit + 0.1, units=alone)).stops[3]
    assert obeyed.reset is not None
    assert obeyed.reset.lawful is None
    assert isinstance(obeyed.reset, Attempt)
    assert len(sound().rows(SAFE)) > 6000
