"""After the reset: torque waits for a person, who starts and sets the references anew."""

import re

import numpy as np
import pytest
from replay_tape import BENCH, BUTTON, COVER, ESTOP, REFS, Case, Moments, Tape, found, heard, press, sound
from replay_variant import variant

from interlock.replay import Judgement, judge_trace
from interlock.verdict import Verdict


def torque(tape: Tape, lo: float, hi: float, signal: str = "DrvCurrent") -> Tape:
    return tape.add(signal, 2.0, lo, hi)


def fails(words: str, subject: str = "drive", function: str = "cover_stop") -> dict[str, str]:
    return {"function": function, "subject": subject, "effect": "restart", "words": words}


SOON = "sooner than a person could have started it"
UNSET = "before or without the references being set anew"


@pytest.mark.parametrize("signal", ["DrvCurrent", "LodCurrent"])
@pytest.mark.parametrize("lasts", [0.02, 0.1, 0.3])
@pytest.mark.parametrize("after", [-0.005, 0.0, 0.03, 0.1, 0.15])
def test_torque_that_the_reset_alone_brings_back_fails(signal: str, lasts: float, after: float) -> None:
    lo = COVER.release + after
    unit = {"DrvCurrent": "drive", "LodCurrent": "load"}[signal]
    said = Case(
        "by the reset", lambda t: torque(t, lo, lo + lasts, signal), "fail", **fails(SOON, unit)
    ).check()
    (one,) = found(said, "stays_off", subject=unit, near=COVER.on)
    assert one.verdict is Verdict.FAIL
    assert "with no start by a person" in one.sentence


@pytest.mark.parametrize("after", [0.03, 0.15, 0.4, 0.6])
def test_the_sentence_tells_how_long_after_the_reset_it_was(after: float) -> None:
    lo = COVER.release + after
    (one,) = found(heard(torque(sound(), lo, lo + 0.05)), "restart", subject="drive", near=COVER.on)
    told = re.search(r"made torque again (\S+) to (\S+) ms after the reset", one.sentence)
    assert told is not None, one.sentence
    least, most = float(told[1]), float(told[2])
    assert least <= after * 1000 <= most <= least + 60


@pytest.mark.parametrize("after", [0.25, 0.4, 0.6])
def test_torque_later_but_with_references_still_zero_fails(after: float) -> None:
    lo = COVER.release + after
    Case("no references", lambda t: torque(t, lo, lo + 0.05), "fail", **fails(UNSET)).check()


@pytest.mark.parametrize(
    ("ahead", "verdict"), [(0.005, "pass"), (0.08, "inconclusive"), (0.12, "inconclusive"), (0.3, "fail")]
)
def test_torque_that_lasts_until_the_references_are_set(ahead: float, verdict: str) -> None:
    """Both may be one act of a person; the log cannot tell, if torque came first by less than a person acts twice."""
    lo = COVER.start - ahead
    tape = torque(sound(), lo, COVER.start).add("LodCurrent", 1.0, lo, COVER.start)
    said = heard(tape)
    assert said.verdict.value == verdict
    if verdict == "fail":
        Case("alone", lambda _: tape, "fail", **fails(UNSET)).check()


@pytest.mark.parametrize("seconds", [0.02, 0.05, 0.1])
def test_a_pulse_shortly_before_the_start_is_no_part_of_it(seconds: float) -> None:
    lo = COVER.start - seconds - 0.05
    Case("pulse", lambda t: torque(t, lo, lo + 0.026), "fail", **fails(UNSET)).check()


@pytest.mark.parametrize("seconds", [0.02, 0.06, 0.2])
def test_a_log_that_ends_or_goes_blind_at_the_start_does_not_say_that_references_were_missing(
    seconds: float,
) -> None:
    said = heard(sound().drop(None, COVER.start + 0.012))
    assert Verdict.FAIL not in {one.verdict for one in said.findings}
    tape = sound().drop(REFS, COVER.start - seconds / 2, COVER.start + seconds)
    assert Verdict.FAIL not in {one.verdict for one in found(heard(tape), "restart", near=COVER.on)}


def test_torque_about_as_soon_as_a_person_can_is_left_open() -> None:
    lo = COVER.release + 0.2
    tape = torque(sound(), lo, COVER.start).put("SpeedRef", 900, lo - 0.01, COVER.start)
    (one,) = found(heard(tape), "restart", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "perhaps sooner" in one.sentence


@pytest.mark.parametrize("after", [0.4, 0.5])
def test_a_person_who_sets_the_references_and_starts_is_waited_for(after: float) -> None:
    lo = COVER.release + after
    tape = torque(sound(), lo, COVER.start).add("LodCurrent", 1.0, lo, COVER.start)
    assert heard(tape.put("SpeedRef", 900, lo - 0.02, COVER.start)).verdict is Verdict.PASS


def test_torque_with_kept_references_is_no_start_anew() -> None:
    tape = sound().hold("SpeedRef", COVER.on - 0.1, COVER.start + 0.1)
    said = heard(tape)
    for unit in ("drive", "load"):
        (one,) = found(said, "restart", subject=unit, near=COVER.on)
        assert (one.verdict, UNSET in one.sentence) == (Verdict.FAIL, True)
        (one,) = found(said, "stays_off", subject=unit, near=COVER.on)
        assert one.verdict is Verdict.PASS  # the unit did wait; it is the references that did not go


def test_references_unclear_at_the_reset_leave_the_restart_open() -> None:
    """They change just when reset is let go."""
    tape = sound().put("SpeedRef", 900, COVER.release - 0.03, COVER.release + 0.003)
    verdicts = {one.verdict for one in found(heard(tape), "restart", near=COVER.on)}
    assert verdicts <= {Verdict.INCONCLUSIVE, Verdict.FAIL}


def test_it_is_the_last_reset_before_the_start_that_counts() -> None:
    """A needless second reset soon after the first: torque right after it came by the reset."""
    again = COVER.release + 0.4
    tape = torque(press(sound(), again - 0.2, again), again + 0.04, again + 0.1)
    (one,) = found(heard(tape), "restart", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL
    assert SOON in one.sentence
    assert heard(press(sound(), again - 0.2, again)).verdict is Verdict.PASS


def test_a_stop_after_which_nobody_started_says_nothing_of_the_restart() -> None:
    """Cover opened again before anybody started: the torque after that belongs to the later stop."""
    tape = sound().put("CoverA", 0, COVER.start - 0.3, COVER.start - 0.2)
    tape.put("CoverB", 0, COVER.start - 0.3, COVER.start - 0.2)
    said = heard(tape)
    assert found(said, "restart", near=COVER.on) == []
    (one,) = found(said, "stays_off", subject="drive", near=COVER.start - 0.3)
    assert one.verdict is Verdict.FAIL  # that stop was not latched: torque came without a reset


@pytest.mark.parametrize("stop", [COVER, BUTTON, ESTOP], ids=["cover", "button", "estop"])
def test_pulses_at_any_moment_between_reset_and_start_never_pass(stop: Moments) -> None:
    for at in np.random.default_rng(8).uniform(stop.release - 0.01, stop.start - 0.05, 30):
        part = sound().drop(None, stop.start + 0.5).drop(None, -1, stop.on - 1)
        said = heard(torque(part, at, at + 0.025))
        assert found(said, "restart", subject="drive", verdict=Verdict.FAIL, near=stop.on) != [], at


@pytest.mark.parametrize("amps", [0.27, 0.45])
def test_a_current_that_may_or_may_not_be_torque_before_the_start(amps: float) -> None:
    tape = sound().add("DrvCurrent", amps, COVER.release + 0.3, COVER.start)
    (one,) = found(heard(tape), "restart", subject="drive", near=COVER.on)
    assert one.verdict is (Verdict.FAIL if amps > 0.4 else one.verdict)
    assert one.verdict is not Verdict.PASS


GO = (
    "  reset: {kind: push_button",
    "  go: {kind: push_button, name: start button}\n  reset: {kind: push_button",
)
GO_SHOWN = ("    reset.pressed:", "    go.pressed: SAFE_State.SupplyOnPb is 1\n    reset.pressed:")


def pressed_again(ahead: float, lasts: float = 0.3) -> Tape:
    """Reset is pressed once more, so long before torque comes, and still held then."""
    return press(sound(), COVER.start - ahead, COVER.start - ahead + lasts)


def restarts(said: Judgement) -> set[str]:
    return {one.verdict.value for one in found(said, "restart", near=COVER.on)}


@pytest.mark.parametrize(
    ("ahead", "verdict"), [(0.03, "inconclusive"), (0.15, "inconclusive"), (0.25, "pass")]
)
def test_torque_that_comes_just_as_reset_is_pressed_again_may_be_its_doing(
    ahead: float, verdict: str
) -> None:
    said = judge_trace(BENCH, pressed_again(ahead).trace())
    assert restarts(said) == {verdict}
    told = [one.sentence for one in found(said, "restart", near=COVER.on)]
    assert all(("just as reset was pressed once more" in one) == (verdict != "pass") for one in told)


def test_a_start_button_that_is_seen_pressed_explains_it() -> None:
    """The start button is SupplyOnPb here, which the bench shows as both."""
    bench, tape = variant(GO, GO_SHOWN), pressed_again(0.1)
    assert restarts(judge_trace(bench, tape.trace())) == {"inconclusive"}
    assert restarts(
        judge_trace(bench, tape.put("SupplyOnPb", 1, COVER.start - 0.06, COVER.start + 0.1).trace())
    ) == {"pass"}
    early = pressed_again(0.1).put("SupplyOnPb", 1, COVER.start - 0.5, COVER.start - 0.3)
    assert restarts(judge_trace(bench, early.trace())) == {"inconclusive"}


def test_a_press_after_the_start_is_no_matter() -> None:
    assert restarts(judge_trace(BENCH, press(sound(), COVER.start + 0.1, COVER.start + 0.4).trace())) == {
        "pass"
    }
