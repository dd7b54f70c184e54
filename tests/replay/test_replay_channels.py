"""The two channels of the cover: apart for longer than 50 ms is a fault of the switch, and must lock the bench out."""

from collections.abc import Callable

import pytest
from replay_tape import BUTTON, COVER, COVER_2, COVER_3, Case, Tape, found, heard, lines, press, sound

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
    locked = found(said, "locks_out")
    assert {(one.subject, one.verdict) for one in locked} == {("drive", Verdict.FAIL), ("load", Verdict.FAIL)}
    assert all("in spite of it" in one.sentence for one in locked)


def idle(tape: Tape, lo: float, hi: float) -> Tape:
    for signal in ("DrvCurrent", "LodCurrent", "SpeedRef", "TorqueRef", "DrvSpeed"):
        tape.put(signal, 0, lo, hi)
    return lines(tape, 0, lo, hi)


def test_a_bench_locked_out_to_the_end_of_the_log_is_not_said_to_pass() -> None:
    tape = idle(sound().put("CoverB", 1, COVER_3.on, COVER_3.gone + 0.1), COVER_3.gone, 99)
    locked = found(heard(tape), "locks_out")
    assert {one.verdict for one in locked} == {Verdict.INCONCLUSIVE}
    assert all("not seen to the end" in one.sentence for one in locked)


def test_both_seen_open_and_a_reset_end_the_lock_out() -> None:
    """Channel B stuck closed in one stop; both open in the next, and only then a reset works."""
    tape = idle(sound().put("CoverB", 1, COVER.on, COVER.gone + 0.1), COVER.gone, COVER_2.start - 0.1)
    said = heard(tape)
    locked = found(said, "locks_out")
    assert {one.verdict for one in locked} == {Verdict.PASS}
    assert {one.effect for one in said.findings if one.verdict is Verdict.FAIL} == {"channels_agree"}


def test_a_lag_on_closing_needs_a_new_opening() -> None:
    tape = lag("B", 0.3, COVER.gone)(sound())
    locked = found(heard(tape), "locks_out")
    assert {one.verdict for one in locked} == {Verdict.FAIL}
    assert all(one.demand is None for one in locked)  # closing the cover is no demand
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
