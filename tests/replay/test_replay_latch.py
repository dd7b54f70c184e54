"""The latch: nothing but a lawful reset ends a stop, and it acts by the release of its button."""

import pytest
from replay_tape import BUTTON, COVER, COVER_3, SAFE, Case, Tape, found, heard, lines, press, sound

from interlock.verdict import Verdict


def enabled(tape: Tape, since: float, units: str = "DrvLod") -> Tape:
    return lines(tape, 1, since, COVER.release + 0.1, units=units)


def reset(words: str, subject: str = "load") -> dict[str, str]:
    return {"function": "cover_stop", "subject": subject, "effect": "reset_on_release", "words": words}


def stays(words: str, subject: str = "load") -> dict[str, str]:
    return {"function": "cover_stop", "subject": subject, "effect": "stays_off", "words": words}


def idle(tape: Tape, lo: float, hi: float) -> Tape:
    """A bench that stays off in the window, whatever anybody does."""
    for signal in ("DrvCurrent", "LodCurrent", "SpeedRef", "TorqueRef"):
        tape.put(signal, 0, lo, hi)
    return lines(tape, 0, lo, hi)


UNITS = pytest.mark.parametrize("units", ["DrvLod", "Lod"])


@UNITS
@pytest.mark.parametrize("after", [0.0, 0.005, 0.04, 0.1, 0.25])
def test_a_reset_that_acts_by_its_press_fails(units: str, after: float) -> None:
    case = Case(
        "press acts",
        lambda t: enabled(t, COVER.press + after, units),
        "fail",
        **stays("the torque-enable line of the load unit had come back before the lawful reset"),
    )
    said = case.check()
    if after > 0.01:
        (one,) = found(said, "reset_on_release", subject="load", near=COVER.on)
        assert one.verdict is Verdict.FAIL
        assert "while the reset button was still pressed" in one.sentence


@pytest.mark.parametrize("before", [0.011, 0.02, 0.05])
def test_even_a_sample_before_the_release_is_too_early(before: float) -> None:
    Case(
        "just before", lambda t: enabled(t, COVER.release - before), "fail", **reset("still pressed")
    ).check()


def test_at_the_same_sample_as_the_release_nobody_can_tell() -> None:
    case = Case(
        "same sample", lambda t: enabled(t, COVER.release), "inconclusive", **reset("at the same sample")
    )
    case.check()


def test_the_next_sample_after_the_release_is_enough() -> None:
    said = heard(enabled(sound(), COVER.release + 0.011))
    assert said.verdict is Verdict.PASS


@UNITS
@pytest.mark.parametrize(("lo", "hi"), [(0.5, 0.8), (1.0, 1.3), (2.0, 2.95)])
def test_a_reset_while_the_demand_is_present_must_do_nothing(units: str, lo: float, hi: float) -> None:
    on = COVER.on
    assert heard(press(sound(), on + lo, on + hi)).verdict is Verdict.PASS
    said = heard(enabled(press(sound(), on + lo, on + hi), on + hi + 0.04, units))
    assert said.verdict is Verdict.FAIL
    for effect, words in (
        ("stays_off", "before the lawful reset"),
        ("reset_on_release", "by a reset pressed or released while a demand was present"),
    ):
        (one,) = found(said, effect, subject="load", near=on)
        assert one.verdict is Verdict.FAIL
        assert words in one.sentence


def test_a_reset_while_another_demand_is_present_must_do_nothing() -> None:
    def held(tape: Tape) -> Tape:
        return tape.put("TorqueOffPb", 0, COVER.gone - 0.5, COVER.release + 0.3)

    Case("button still pressed", held, "fail").check()  # the sound log's reset, now unlawful, brought it back
    said = heard(idle(held(sound()), COVER.release, BUTTON.release))
    assert not found(said, "stays_off", verdict=Verdict.FAIL)
    assert not found(said, "reset_on_release", verdict=Verdict.FAIL)


@pytest.mark.parametrize(
    ("what", "lo", "hi"),
    [
        ("pressed before the demand went, let go after", COVER.gone - 0.3, COVER.gone + 0.3),
        ("pressed all the time, let go after", COVER.on + 0.5, COVER.gone + 0.3),
        ("pressed before the demand came", COVER.on - 0.3, COVER.gone + 0.3),
    ],
)
def test_a_press_that_began_before_the_demand_went_may_be_ignored_but_not_obeyed(
    what: str, lo: float, hi: float
) -> None:
    """Whether such a reset is lawful is left open: a bench that ignores it passes, one that obeys it does not."""
    assert heard(press(sound(), lo, hi)).verdict is Verdict.PASS, what
    said = heard(enabled(press(sound(), lo, hi), hi + 0.04))
    assert said.verdict is Verdict.INCONCLUSIVE, what
    (one,) = found(said, "reset_on_release", subject="drive", near=COVER.on)
    assert "while the demand may still have been present" in one.sentence
    (one,) = found(said, "stays_off", subject="drive", near=COVER.on)
    assert "was pressed while the demand may still have been present" in one.sentence


def test_a_press_before_the_demand_let_go_within_it_is_no_reset() -> None:
    lo, hi = COVER.on - 0.3, COVER.on + 0.3
    assert heard(press(sound(), lo, hi)).verdict is Verdict.PASS
    Case(
        "obeyed",
        lambda t: enabled(press(t, lo, hi), hi + 0.04),
        "fail",
        **reset("while a demand was present"),
    ).check()


@pytest.mark.parametrize("since", [COVER.gone + 0.02, COVER.gone + 0.5])
def test_a_latch_that_is_not_there_fails(since: float) -> None:
    Case("no latch", lambda t: enabled(t, since), "fail", **stays("before the lawful reset", "drive")).check()
    never = enabled(sound(), since).put("ResetPb", 0, COVER.press - 0.1, COVER.release + 0.1)
    (one,) = found(heard(never), "stays_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL


def test_a_button_that_sticks_never_resets() -> None:
    """Pressed at reset and never let go again: enabled all the same."""
    said = heard(sound().put("ResetPb", 1, COVER.press, 99))
    for unit in ("drive", "load"):
        (one,) = found(said, "stays_off", subject=unit, near=COVER.on)
        assert one.verdict is Verdict.FAIL
    stuck = sound().put("ResetPb", 1, COVER_3.press, 99).put("DrvSpeed", 0, COVER_3.start, 99)
    said = heard(idle(stuck, COVER_3.on + 0.1, 99))
    assert said.verdict is Verdict.INCONCLUSIVE
    (one,) = found(said, "stays_off", subject="drive", near=COVER_3.on)
    assert "ends before a reset" in one.sentence


def test_a_tap_of_reset_too_short_to_tell_press_from_release_shows_nothing() -> None:
    tape = sound()
    for stop in tape.stops:
        tape.put("ResetPb", 0, stop.press - 0.1, stop.release - 0.05)
    said = heard(tape)
    assert said.verdict is Verdict.NOT_OBSERVED
    assert {one.effect for one in said.findings if one.verdict is not Verdict.PASS} == {"reset_on_release"}
    one_tap = heard(sound().put("ResetPb", 0, COVER.press - 0.1, COVER.release - 0.05))
    assert one_tap.verdict is Verdict.PASS  # the other cover stops show it


def test_a_second_press_at_which_it_comes_on_is_not_covered_by_the_first_reset() -> None:
    """The first reset did nothing; the bench was enabled while the button was pressed once more."""
    tape = lines(sound(), 0, COVER.release, COVER.release + 0.34)
    tape = press(tape, COVER.release + 0.3, COVER.release + 0.5)
    Case("second press", lambda _: tape, "inconclusive", **reset("pressed once more")).check()


def test_a_second_reset_that_works_after_a_first_that_did_not_is_lawful() -> None:
    tape = lines(sound(), 0, COVER.release, COVER.release + 0.44)
    assert heard(press(tape, COVER.release + 0.2, COVER.release + 0.4)).verdict is Verdict.PASS


def test_each_function_is_held_to_the_rule_by_its_own_stops() -> None:
    said = heard(lines(sound(), 1, BUTTON.press + 0.04, BUTTON.release))
    assert {one.function for one in said.findings if one.verdict is Verdict.FAIL} == {"button_stop"}


def started_near(tape: Tape, ahead: float) -> Tape:
    """Nobody sees when in 0.3 s the cover opened; torque comes on within, so long before it truly did."""
    tape.drop(SAFE, COVER.on - 0.3, COVER.on + 0.005)
    for signal in ("DrvCurrent", "LodCurrent"):
        tape.put(signal, 0, COVER.on - 1.5, COVER.on - ahead)
    return tape


@pytest.mark.parametrize("ahead", [0.25, 0.15, 0.05])
def test_torque_that_came_on_near_the_demand_did_not_surely_come_back(ahead: float) -> None:
    said = heard(started_near(sound(), ahead))
    told = found(said, "stays_off", near=COVER.on - 0.15)
    assert {one.verdict for one in told} == {Verdict.INCONCLUSIVE}
    assert all(
        "nobody can tell whether before it or after it; repeat the demand" in one.sentence for one in told
    )
    assert [one.sentence for one in said.findings if one.verdict is Verdict.FAIL] == []


def test_torque_that_comes_back_after_all_of_that_fails() -> None:
    tape = started_near(sound(), 0.15)
    tape.add("DrvCurrent", 3.0, COVER.on + 0.5, COVER.on + 0.6)
    told = found(heard(tape), "stays_off", subject="drive", near=COVER.on - 0.15)
    assert {one.verdict for one in told} == {Verdict.FAIL}


@pytest.mark.parametrize("before", [0.5, 2.5])
def test_a_stop_that_finds_the_units_off_does_not_show_that_they_stay_so(before: float) -> None:
    """Nothing was asked of the latch; a pass needs a stop that took something away."""
    said = heard(idle(sound(), COVER.on - before, COVER.start))
    assert found(said, "stays_off", near=COVER.on) == []
    for later in (BUTTON, COVER_3):
        assert len(found(said, "stays_off", near=later.on, verdict=Verdict.PASS)) == 2
