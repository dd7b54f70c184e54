"""How long an effect must last: until supply or motion may lawfully have come back."""

from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, COVER, ESTOP, Tape, heard, lines, press, sound

from interlock.interval import Interval
from interlock.replay import Judgement, judge_trace
from interlock.replay.stops import Stop
from interlock.replay.windows import blind_between, until_motion, until_reset, until_supply
from interlock.timing.track import BLIND, NO, Clock, Track
from interlock.trace import Quality, QualityKind


def first(said: Judgement, function: str) -> Stop:
    return next(one for one in said.stops if one.name == function and one.demand is not None)


def since_start(said: Judgement, at: float) -> int:
    return round((1_790_000_000 + at) * 1e9) - said.observation.trace.start_ns


def test_supply_may_return_when_supply_on_is_pressed_anew() -> None:
    said = heard(sound())
    end = until_supply(said.observation, first(said, "emergency_stop")).window.end
    assert end is not None
    assert since_start(said, ESTOP.on + 7.5) in end
    assert since_start(said, ESTOP.on + 3.0) not in end  # pressed while latched: that one is dead


def test_without_a_supply_rule_it_is_the_reset_that_ends_the_wait() -> None:
    said = heard(sound())
    stop = first(said, "cover_stop")
    assert until_supply(said.observation, stop) == until_reset(stop)


@pytest.mark.parametrize("until", [ESTOP.gone - 1, ESTOP.gone + 0.5])
def test_a_demand_that_lasts_or_a_supply_that_stays_off_has_no_end_in_the_log(until: float) -> None:
    said = heard(sound().drop(None, until))
    assert until_supply(said.observation, first(said, "emergency_stop")).window.end is None


def doubted(tape: Tape, lo: float, hi: float | None) -> Judgement:
    trace = tape.trace()
    began = (trace.start_ns - 1_790_000_000 * 10**9) / 1e9
    span = Interval(round((lo - began) * 1e9), None if hi is None else round((hi - began) * 1e9))
    gap = Quality(QualityKind.GAP, "SAFE_State", None, span, "x:1", True, "It is gone.")
    return judge_trace(BENCH, replace(trace, quality=(gap,)))


@pytest.mark.parametrize(
    ("lo", "hi", "hides"),
    [
        (ESTOP.on + 2, ESTOP.on + 2.1, False),  # nobody lets go, switches on and demands again in 0.1 s
        (ESTOP.on + 2, ESTOP.on + 3, True),
        (ESTOP.on + 2, None, True),
        (ESTOP.on - 3, ESTOP.on - 1, False),  # before the demand
        (ESTOP.gone + 3, ESTOP.gone + 4, False),  # after the end of the wait
    ],
)
def test_out_of_sight_the_supply_may_have_been_switched_on(lo: float, hi: float | None, hides: bool) -> None:
    said = doubted(sound(), lo, hi)
    end = until_supply(said.observation, first(said, "emergency_stop")).window.end
    assert end is not None
    assert (abs(end.lo - since_start(said, lo)) < 30_000_000) == hides


def test_motion_may_return_when_torque_or_references_do_after_the_reset() -> None:
    said = heard(sound())
    end = until_motion(said.observation, first(said, "cover_stop")).window.end
    assert end is not None
    assert abs(end.lo - since_start(said, COVER.start)) < 30_000_000
    early = heard(sound().put("SpeedRef", 900, COVER.release + 0.4, COVER.start))
    end = until_motion(early.observation, first(early, "cover_stop")).window.end
    assert end is not None
    assert abs(end.lo - since_start(early, COVER.release + 0.4)) < 30_000_000


def test_without_a_reset_no_motion_may_return() -> None:
    said = heard(sound().drop(None, COVER.press))
    assert until_motion(said.observation, first(said, "cover_stop")).window.end is None


def test_a_second_reset_changes_neither() -> None:
    said = heard(press(sound(), COVER.release + 0.2, COVER.release + 0.4))
    end = until_motion(said.observation, first(said, "cover_stop")).window.end
    assert end is not None
    assert abs(end.lo - since_start(said, COVER.start)) < 30_000_000


@pytest.mark.parametrize(
    ("lo", "hi", "sure"),
    [
        (COVER.on - 2, COVER.on - 1, True),  # before the demand
        (COVER.on + 1, COVER.on + 1.1, False),
        (COVER.gone + 0.1, COVER.gone + 0.4, False),
        (COVER.press + 0.1, COVER.release + 0.1, False),  # the release itself
        (COVER.start + 1, COVER.start + 2, True),  # after the reset
    ],
)
def test_a_window_is_sure_only_if_what_bounds_it_was_seen_throughout(
    lo: float, hi: float, sure: bool
) -> None:
    said = doubted(sound(), lo, hi)
    stop = first(said, "cover_stop")
    assert until_reset(stop).sure is sure
    assert until_motion(said.observation, stop).sure is sure


def test_a_reset_that_may_not_have_been_lawful_leaves_the_end_unsure() -> None:
    lo, hi = COVER.gone - 0.3, COVER.gone + 0.3
    obeyed = heard(lines(press(sound(), lo, hi), 1, hi + 0.04, COVER.release))
    assert until_reset(first(obeyed, "cover_stop")).sure is False
    ignored = heard(press(sound(), lo, hi))
    assert until_reset(first(ignored, "cover_stop")).sure is True


STAMPS = np.arange(0, 1000, 100)  # of samples taken 3 to 20 before, stamps to the nearest 1


@pytest.mark.parametrize(
    ("blind", "lo", "end", "hidden"),
    [
        (200, 250, Interval(500, 600), True),  # the sample before: what it hides may last on
        (100, 250, Interval(500, 600), False),  # one before that: the next one shows again
        (200, 200, Interval(500, 600), True),
        (100, 200, Interval(500, 600), True),
        (600, 250, Interval(500, 600), True),
        (600, 250, Interval(500, 580), True),  # sampled at 579 at the earliest
        (600, 250, Interval(500, 578), False),
        (700, 250, Interval(500, 600), False),
        (900, 250, Interval(500, None), True),
        (900, 250, None, True),
        (0, 0, None, True),
        (0, 150, None, False),
    ],
)
def test_evidence_is_missing_between_two_instants_if_a_sample_that_may_be_of_them_hides_it(
    blind: int, lo: int, end: Interval | None, hidden: bool
) -> None:
    states = np.where(blind == STAMPS, BLIND, NO).astype(np.int8)
    track = Track("guard.a", "GUARD", STAMPS, states, Clock(3, 20, 1))
    sound_one = Track("guard.b", "GUARD", STAMPS, np.full(len(STAMPS), NO, np.int8), Clock(3, 20, 1))
    assert blind_between([track], lo, end) is hidden
    assert blind_between([None, sound_one, track], lo, end) is hidden
    assert not blind_between([None, sound_one], lo, end)
