"""The two channels of the cover: apart for longer than 50 ms is a fault of the switch, and must lock the bench out."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from loggen import EPOCH
from replay_tape import (
    BENCH,
    BUTTON,
    COVER,
    COVER_2,
    COVER_3,
    SAFE,
    Case,
    Tape,
    found,
    heard,
    lines,
    press,
    sound,
)
from replay_variant import hidden, variant

from interlock.interval import Interval
from interlock.replay import Judgement, judge_trace
from interlock.trace import Quality, QualityKind
from interlock.verdict import Verdict

APART = {"function": "cover_stop", "subject": "cover", "effect": "channels_agree"}


def lag(channel: str, by: float, at: float) -> Callable[[Tape], Tape]:
    return lambda tape: tape.move(f"Cover{channel}", by, at - 0.05, at + by + 0.3)


@pytest.mark.parametrize("channel", ["A", "B"])
@pytest.mark.parametrize(
    "at", [COVER.on, COVER.gone, COVER_3.on], ids=["opening", "closing", "opening again"]
)
@pytest.mark.parametrize(
    ("by", "verdict"), [(0.02, "pass"), (0.05, "inconclusive"), (0.1, "fail"), (0.3, "fail")]
)
def test_a_channel_that_lags(channel: str, at: float, by: float, verdict: str) -> None:
    said = heard(lag(channel, by, at)(sound()))
    judged = found(said, "channels_agree")
    assert [one.verdict.value for one in judged if one.verdict is not Verdict.PASS] == (
        [verdict] if verdict != "pass" else []
    )
    assert said.verdict.value == verdict


@pytest.mark.parametrize("channel", ["A", "B"])
def test_a_channel_that_never_opens(channel: str) -> None:
    """Everything else works, reset included: the discrepancy did not lock the bench out."""
    case = Case(
        "stuck",
        lambda t: t.put(f"Cover{channel}", 1, COVER.on, COVER.gone + 0.1),
        "fail",
        **APART,
        words="On opening, the two channels of the chamber cover changed .* apart",
    )
    said = case.check()
    assert {one.verdict for one in found(said, "torque_off")} == {Verdict.PASS}
    apart = found(said, "locks_out")
    assert {(one.subject, one.verdict) for one in apart} == {("drive", Verdict.FAIL), ("load", Verdict.FAIL)}
    assert all(", in spite of it" in one.sentence for one in apart)
    for one in apart:
        told = re.search(r"was enabled at (\S+) s", one.sentence)
        assert told is not None
        assert float(told[1]) == pytest.approx(COVER.release, abs=0.2)


def idle(tape: Tape, lo: float, hi: float) -> Tape:
    """Nothing is done there; the shaft coasts down first, from 3 s after a demand, where it still turns."""
    for signal in ("DrvCurrent", "LodCurrent", "SpeedRef", "TorqueRef"):
        tape.put(signal, 0, lo, hi)
    return lines(tape.put("DrvSpeed", 0, lo + 1.7, hi), 0, lo, hi)


def test_a_bench_locked_out_to_the_end_of_the_log_is_not_said_to_pass() -> None:
    tape = idle(sound().put("CoverB", 1, COVER_3.on, COVER_3.gone + 0.1), COVER_3.gone, 99)
    apart = found(heard(tape), "locks_out")
    assert {one.verdict for one in apart} == {Verdict.INCONCLUSIVE}
    assert all("not seen to the end" in one.sentence for one in apart)


def test_both_seen_open_and_a_reset_end_the_lock_out() -> None:
    """Channel B stuck closed in one stop; both open in the next, and only then a reset works."""
    tape = idle(sound().put("CoverB", 1, COVER.on, COVER.gone + 0.1), COVER.gone, COVER_2.start - 0.1)
    said = heard(tape)
    apart = found(said, "locks_out")
    assert {one.verdict for one in apart} == {Verdict.PASS}
    assert {one.effect for one in said.findings if one.verdict is Verdict.FAIL} == {"channels_agree"}


def test_a_lag_on_closing_needs_a_new_opening() -> None:
    tape = lag("B", 0.3, COVER.gone)(sound())
    apart = found(heard(tape), "locks_out")
    assert {one.verdict for one in apart} == {Verdict.FAIL}
    assert all(one.demand is None for one in apart)  # closing the cover is no demand
    patient = idle(tape, COVER.gone + 0.3, COVER_2.release)
    assert {one.verdict for one in found(heard(patient), "locks_out")} == {Verdict.PASS}


def test_a_lag_on_opening_is_over_once_both_are_open() -> None:
    said = heard(lag("B", 0.3, COVER.on)(sound()))
    assert {one.verdict for one in found(said, "locks_out")} == {Verdict.PASS}


def test_a_reset_pressed_before_both_were_open_does_not_end_the_lock_out() -> None:
    tape = lag("B", 0.4, COVER.on)(sound())
    tape = lines(press(tape, COVER.on + 0.1, COVER.on + 0.3), 1, COVER.on + 0.33, COVER.release)
    assert Verdict.FAIL in {one.verdict for one in found(heard(tape), "locks_out")}


@pytest.mark.parametrize("channel", ["A", "B"])
def test_channels_that_disagree_when_the_log_begins(channel: str) -> None:
    said = heard(sound().put(f"Cover{channel}", 1, 0, 0.5))
    (one,) = found(said, "channels_agree", verdict=Verdict.FAIL)
    assert one.sentence.startswith(
        "When the log begins, the two channels of the chamber cover changed more than"
    )
    assert one.demand is None
    brief = heard(sound().drop(None, -1, 0.46).put(f"Cover{channel}", 1, 0.4, 0.5))
    (one,) = [one for one in found(brief, "channels_agree") if one.verdict is not Verdict.PASS]
    assert one.verdict is Verdict.INCONCLUSIVE  # nobody knows since when


def test_channels_that_disagree_when_the_log_ends() -> None:
    said = heard(sound().drop(None, COVER_3.on + 0.4).put("CoverB", 1, COVER_3.on, 99))
    assert Verdict.FAIL in {one.verdict for one in found(said, "channels_agree")}
    said = heard(sound().drop(None, COVER_3.on + 0.04).put("CoverB", 1, COVER_3.on, 99))
    assert Verdict.INCONCLUSIVE in {one.verdict for one in found(said, "channels_agree")}


def test_channels_that_never_agree_fail() -> None:
    said = heard(sound().put("CoverA", 1).put("CoverB", 0))
    (one,) = found(said, "channels_agree", verdict=Verdict.FAIL)
    assert one.latency is not None
    assert one.latency.hi is None


def test_a_channel_that_opens_for_a_moment_is_a_demand() -> None:
    said = heard(sound().put("CoverB", 0, 12.0, 12.011))
    assert Verdict.FAIL in {
        one.verdict for one in found(said, "torque_off", function="cover_stop", near=12.0)
    }


def test_only_the_cover_has_channels_to_compare() -> None:
    said = heard(sound())
    assert {one.function for one in found(said, "channels_agree")} == {"cover_stop"}
    assert [one.demand is None for one in found(said, "channels_agree")].count(False) == 3
    assert found(said, "channels_agree", near=BUTTON.on) == []


LAGGING = lag("B", 0.3, COVER.on)
"""Both are open at last, so that a reset pressed and released after it ends the lock."""


def enabled_early(tape: Tape) -> Tape:
    """The lines come on a second before the reset that is seen."""
    return lines(LAGGING(tape), 1, COVER.press - 1.0 + 0.03, COVER.release)


def locked(said: Judgement) -> list[tuple[str, str]]:
    return [(one.verdict.value, one.sentence) for one in found(said, "locks_out", near=COVER.on)]


def test_lines_that_come_on_before_a_reset_that_would_show_fail() -> None:
    told = locked(heard(enabled_early(sound())))
    assert {verdict for verdict, _ in told} == {"fail"}
    assert all("in spite of it" in sentence for _, sentence in told)


def test_a_reset_that_may_lie_in_a_gap_leaves_it_open() -> None:
    """The same lines, with the frames lost in which somebody may have reset."""
    lo, hi = COVER.on + 1.0, COVER.press - 1.0 + 0.02
    trace = enabled_early(sound()).drop(SAFE, lo, hi).trace()
    start_ns = trace.start_ns - EPOCH * 10**9
    lost = Interval(round((lo - 0.01) * 1e9) - start_ns, round((hi + 0.01) * 1e9) - start_ns)
    doubt = Quality(QualityKind.GAP, "SAFE_State", None, lost, "a.log:9", True, "Frames are lost.")
    told = locked(judge_trace(BENCH, replace(trace, quality=(doubt,))))
    assert {verdict for verdict, _ in told} == {"inconclusive"}
    assert all("the reset may have been pressed unseen" in sentence for _, sentence in told)


def test_a_bench_that_does_not_show_the_reset_is_told_what_to_add() -> None:
    said = judge_trace(variant(hidden("reset.pressed")), LAGGING(sound()).trace())
    told = locked(said)
    assert {verdict for verdict, _ in told} == {"inconclusive"}
    assert all("add 'reset.pressed' under shows, states" in sentence for _, sentence in told)
    assert [
        one for one in said.findings if one.verdict is Verdict.FAIL and one.effect != "channels_agree"
    ] == []


def test_a_reset_that_may_lie_between_two_samples_leaves_it_open() -> None:
    """A person is said to press for 5 ms: samples 10 ms apart may miss it."""
    quick = variant(("acts_on: release,", "acts_on: release, shortest_press: 5 ms,"))
    told = locked(judge_trace(quick, enabled_early(sound()).trace()))
    assert {verdict for verdict, _ in told} == {"inconclusive"}
    assert all("log its message more often than every 5 ms" in sentence for _, sentence in told)


def test_no_reset_ends_it_before_both_were_open() -> None:
    """Channel B stays closed: what nobody sees of the button excuses nothing."""
    quick = variant(("acts_on: release,", "acts_on: release, shortest_press: 5 ms,"))
    tape = sound().put("CoverB", 1, COVER.on, COVER.gone + 0.1)
    told = locked(judge_trace(quick, tape.trace()))
    assert {verdict for verdict, _ in told} == {"fail"}
