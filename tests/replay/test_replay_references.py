"""References: zero in time after every stop, and not back before a person sets them anew."""

import pytest
from replay_tape import BUTTON, COVER, ESTOP, Case, Tape, found, heard, press, sound

from interlock.verdict import Verdict

SET = "SpeedRef"


def kept(signals: str, until: float) -> Case:
    def spoil(tape: Tape) -> Tape:
        for signal in signals.split():
            tape.hold(signal, COVER.on - 0.1, until)
        return tape

    return Case(
        f"{signals} kept",
        spoil,
        "fail",
        "cover_stop",
        "references",
        "references_zero",
        "not seen that the references were zero",
    )


@pytest.mark.parametrize("signals", ["SpeedRef", "TorqueRef", "SpeedRef TorqueRef"])
def test_kept_references_fail_though_torque_went(signals: str) -> None:
    said = kept(signals, COVER.start + 0.7).check()
    assert {one.verdict for one in found(said, "torque_off")} == {Verdict.PASS}
    restarted = found(said, "restart", near=COVER.on)
    assert {one.verdict for one in restarted} == {Verdict.FAIL}
    assert "before or without the references being set anew" in restarted[0].sentence


@pytest.mark.parametrize(
    "case",
    [
        Case("0.15 s later", lambda t: t.move(SET, 0.1, COVER.on, COVER.on + 1), "pass"),
        Case(
            "at the limit",
            lambda t: t.move(SET, 0.15, COVER.on, COVER.on + 1),
            "inconclusive",
            "cover_stop",
            "references",
            "references_zero",
            "too coarse",
        ),
        Case(
            "0.23 s later",
            lambda t: t.move(SET, 0.23, COVER.on, COVER.on + 1),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            r"zero for good only .* 200 ms are allowed",
        ),
        Case(
            "the torque reference only, later",
            lambda t: t.move("TorqueRef", 0.23, BUTTON.on, BUTTON.on + 1),
            "fail",
            "button_stop",
            "references",
            "references_zero",
            "for good only",
        ),
        Case(
            "the smallest speed that can be told from zero",
            lambda t: t.put(SET, 0.25, ESTOP.on, ESTOP.gone),
            "fail",
            "emergency_stop",
            "references",
            "references_zero",
            "for good only",
        ),
        Case(
            "backwards",
            lambda t: t.put(SET, -300, COVER.on, COVER.gone),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            "for good only",
        ),
        Case(
            "back for one frame",
            lambda t: t.put(SET, 100, COVER.on + 1, COVER.on + 1.021),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            "for good only",
        ),
        Case(
            "the torque reference back for a while",
            lambda t: t.put("TorqueRef", 2, COVER.on + 1, COVER.on + 2),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            "for good only",
        ),
        Case(
            "back at the release of the demand",
            lambda t: t.put(SET, 900, COVER.gone + 0.02, COVER.start),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            "zero for a time only",
        ),
        Case(
            "back at the press of reset",
            lambda t: t.put(SET, 900, COVER.press + 0.02, COVER.start),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            "zero for a time only",
        ),
        Case(
            "set by a person, but before the reset",
            lambda t: t.put(SET, 900, COVER.gone + 0.5, COVER.start),
            "fail",
            "cover_stop",
            "references",
            "references_zero",
            "zero for a time only",
        ),
    ],
    ids=str,
)
def test_references_within_the_stop(case: Case) -> None:
    case.check()


@pytest.mark.parametrize("signal", ["SpeedRef", "TorqueRef"])
@pytest.mark.parametrize("after", [0.005, 0.04, 0.1, 0.15])
def test_references_back_sooner_after_the_reset_than_a_person_can_set_them_fail(
    signal: str, after: float
) -> None:
    """Masked, not zeroed: they come back with the enable lines, by nobody's hand."""
    case = Case(
        "by themselves",
        lambda t: t.put(signal, 6, COVER.release + after, COVER.start + 0.62),
        "fail",
        "cover_stop",
        "references",
        "references_zero",
        r"came back .* after the reset, sooner than a person could have set them anew",
    )
    said = case.check()
    (one,) = found(said, "references_zero", near=COVER.on)
    assert one.latency is not None
    assert one.latency.hi is not None
    assert one.latency.hi < 200_000_000  # they had been zero in time


@pytest.mark.parametrize(("after", "verdict"), [(0.2, "inconclusive"), (0.25, "pass"), (0.4, "pass")])
def test_references_set_as_soon_as_a_person_can(after: float, verdict: str) -> None:
    said = heard(sound().put(SET, 900, COVER.release + after, COVER.start))
    (one,) = found(said, "references_zero", near=COVER.on)
    assert one.verdict.value == verdict
    if verdict == "inconclusive":
        assert "perhaps sooner" in one.sentence


def test_references_that_were_zero_at_the_demand_and_come_on_by_themselves_fail() -> None:
    tape = sound().put(SET, 0, 13.0, BUTTON.press).put("TorqueRef", 0, 13.0, BUTTON.press)
    said = heard(tape.put(SET, 900, BUTTON.release + 0.04, BUTTON.start))
    (one,) = found(said, "references_zero", near=BUTTON.on)
    assert one.verdict is Verdict.FAIL
    assert one.latency is None
    assert said.verdict is Verdict.FAIL


def test_references_that_were_zero_at_the_demand_do_not_exercise_the_rule() -> None:
    tape = sound()
    for stop in tape.stops:
        tape.put(SET, 0, stop.on - 0.1, stop.on + 0.1).put("TorqueRef", 0, stop.on - 0.1, stop.on + 0.1)
    said = heard(tape)
    assert said.verdict is Verdict.NOT_OBSERVED
    unseen = {one.function for one in found(said, "references_zero", verdict=Verdict.NOT_OBSERVED)}
    assert unseen == {"cover_stop", "button_stop", "emergency_stop"}


def test_the_last_of_two_resets_is_the_one_that_counts_for_a_person() -> None:
    """A second, needless reset shortly before the references are set: they could come by that reset alone."""
    again = COVER.release + 0.5
    tape = press(sound(), again - 0.2, again).put(SET, 900, again + 0.04, COVER.start)
    (one,) = found(heard(tape), "references_zero", near=COVER.on)
    assert one.verdict is Verdict.FAIL
