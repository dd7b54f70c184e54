"""An effect timed from its origin: what counts as exercised, what as blind, and what the sentence says."""

import re
from dataclasses import replace

import pytest
from replay_tape import BENCH, COVER, Tape, found, heard, sound

from interlock.interval import Interval
from interlock.replay import Finding, Judgement, judge_trace
from interlock.replay.timed import Wanted, capital, finding_of, timed
from interlock.replay.windows import Lasting
from interlock.timing.settle import Window
from interlock.timing.track import BLIND
from interlock.trace import Quality, QualityKind
from interlock.verdict import Verdict

WANTED = Wanted("torque_off", "drive", 100_000_000, "it is off", "a source", "the drive was off")


def judged_with(tape: Tape, message: str, lo: float, hi: float) -> Judgement:
    trace = tape.trace()
    began = (trace.start_ns - 1_790_000_000 * 10**9) / 1e9
    span = Interval(round((lo - began) * 1e9), round((hi - began) * 1e9))
    gap = Quality(QualityKind.GAP, message, None, span, "x:1", True, "It is gone.")
    return judge_trace(BENCH, replace(trace, quality=(gap,)))


def torque(said: Judgement) -> Finding:
    (one,) = found(said, "torque_off", subject="drive", near=COVER.on)
    return one


@pytest.mark.parametrize(
    ("message", "lo", "hi"),
    [
        ("DRV_Actual", -0.02, 0.05),  # around the demand and the effect
        ("DRV_Actual", -0.03, 0.0),  # only just before the demand
        ("DRV_Actual", 0.005, 0.06),  # between demand and effect
        ("SAFE_State", -0.03, 0.015),  # the demand itself
        ("DRV_Actual", 0.005, 8.0),  # from the effect to after the stop: what lacks is evidence, not time
    ],
)
def test_a_blind_stretch_between_demand_and_effect_is_no_pass(message: str, lo: float, hi: float) -> None:
    one = torque(judged_with(sound(), message, COVER.on + lo, COVER.on + hi))
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "frames are missing or not to be trusted there" in one.sentence


def test_a_blind_stretch_elsewhere_leaves_the_latency_as_it_was() -> None:
    assert (
        torque(judged_with(sound(), "DRV_Actual", COVER.on + 1, COVER.on + 1.2)).verdict
        is Verdict.INCONCLUSIVE
    )
    clear, other = (
        torque(heard(sound())),
        torque(judged_with(sound(), "DRV_Actual", COVER.on - 3, COVER.on - 1)),
    )
    assert clear == other


def test_torque_seen_too_late_fails_whatever_is_missing_before() -> None:
    """A gap of one message does not stop the clock: torque at its other end, long after the limit, is a violation."""
    tape = sound().move("DrvCurrent", 0.4, COVER.on, COVER.on + 1)
    one = torque(judged_with(tape, "DRV_Actual", COVER.on + 0.02, COVER.on + 0.3))
    assert one.verdict is Verdict.FAIL
    assert one.latency is not None
    assert one.latency.lo > 300_000_000


def test_across_a_silence_of_the_whole_recording_it_does_not() -> None:
    tape = sound().move("DrvCurrent", 0.4, COVER.on, COVER.on + 1).drop(None, COVER.on + 0.02, COVER.on + 0.3)
    assert torque(heard(tape)).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize(
    ("limit", "verdict", "words"),
    [
        (100_000_000, Verdict.PASS, r"The drive was off .* after the demand; 100 ms are allowed\."),
        (1_000_000, Verdict.FAIL, r"The drive was off for good only .* after the demand; 1 ms are allowed\."),
        (
            20_000_000,
            Verdict.INCONCLUSIVE,
            r"Whether the drive was off in time cannot be said .* too coarse to tell",
        ),
    ],
)
def test_the_sentence_says_how_long_after_what_and_how_long_is_allowed(
    limit: int, verdict: Verdict, words: str
) -> None:
    said = heard(sound())
    stop = next(one for one in said.stops if one.demand is not None)
    track = said.observation.tracks["drive.torque"]
    wanted = replace(WANTED, limit_ns=limit)
    (one,) = timed(said.observation, stop, wanted, track, Lasting(stop.window, True), stop.onset)
    assert one.verdict is verdict
    assert re.match(words, one.sentence)


@pytest.mark.parametrize(
    ("back_s", "words"),
    [
        (
            0.0,
            r"It was not seen that the drive unit was without torque, more than [\d.]+ ms after the demand; ",
        ),
        (
            1.0,
            r"The drive unit was without torque for a time only, and no longer so more than [\d.]+ ms after ",
        ),
    ],
    ids=["never off", "back before the reset"],
)
def test_torque_that_came_back_is_not_said_never_to_have_gone(back_s: float, words: str) -> None:
    one = torque(heard(sound().put("DrvCurrent", 5.0, COVER.on + back_s, COVER.start)))
    assert one.verdict is Verdict.FAIL
    assert re.match(words, one.sentence), one.sentence


def test_a_window_whose_end_is_not_sure_does_not_pass() -> None:
    said = heard(sound())
    stop = next(one for one in said.stops if one.demand is not None)
    track = said.observation.tracks["drive.torque"]
    (one,) = timed(said.observation, stop, WANTED, track, Lasting(stop.window, False), stop.onset)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "how long it had to last is not certain" in one.sentence


def test_a_window_that_ends_too_soon_leaves_it_open() -> None:
    said = heard(sound())
    stop = next(one for one in said.stops if one.demand is not None)
    track = said.observation.tracks["drive.torque"]
    end = Interval(stop.onset.lo + 12_000_000, stop.onset.hi)
    (one,) = timed(said.observation, stop, WANTED, track, Lasting(Window(stop.onset, end), True), stop.onset)
    assert (one.verdict, one.latency and one.latency.hi) == (Verdict.INCONCLUSIVE, None)
    assert "the log ends, or the bench was used again" in one.sentence


def test_what_is_not_known_before_the_demand_is_not_taken_for_off() -> None:
    said = judged_with(sound(), "DRV_Actual", COVER.on - 0.2, COVER.on + 0.5)
    (one,) = found(said, "torque_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert BLIND in said.observation.tracks["drive.torque"].states


def test_a_finding_takes_its_words_from_what_was_wanted() -> None:
    stop = next(one for one in heard(sound()).stops if one.demand is not None)
    one = finding_of(stop, WANTED, Verdict.FAIL, None, "It was on.")
    assert (one.function, one.subject, one.effect, one.limit_ns) == (
        "cover_stop",
        "drive",
        "torque_off",
        100_000_000,
    )
    assert (one.requirement, one.source, one.demand) == ("it is off", "a source", stop.demand)
    assert capital("the drive") == "The drive"
