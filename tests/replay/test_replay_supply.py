"""Rules of the main supply: dead while the emergency stop is latched, and not back before supply-on is pressed anew."""

from collections.abc import Callable

import pytest
from replay_tape import ESTOP, Case, Tape, found, heard, sound

from interlock.verdict import Verdict

FB, ON = "MainContactorFb", "SupplyOnPb"
TRIED, ANEW = ESTOP.on + 3.0, ESTOP.on + 7.5  # the two presses of supply-on in the log
DEAD, STAYS = "supply_on_dead", "supply_stays_off"


def supply(effect: str, words: str) -> dict[str, str]:
    return {"function": "emergency_stop", "subject": "contactor", "effect": effect, "words": words}


def closed(lo: float, hi: float) -> Callable[[Tape], Tape]:
    return lambda tape: tape.put(FB, 1, lo, hi)


@pytest.mark.parametrize(
    "case",
    [
        Case(
            "supply-on works while latched",
            closed(TRIED + 0.03, TRIED + 0.28),
            "fail",
            **supply(DEAD, "closed at .* while the demand was latched"),
        ),
        Case("for one sample", closed(TRIED + 0.03, TRIED + 0.041), "fail", **supply(DEAD, "closed at")),
        Case("and stays", closed(TRIED + 0.03, ANEW), "fail", **supply(DEAD, "closed at")),
        Case(
            "closed by itself while latched",
            closed(ESTOP.on + 1, ESTOP.on + 1.1),
            "fail",
            **supply(DEAD, "closed at"),
        ),
        Case("never seen open", closed(ESTOP.on, 99), "fail"),
        Case(
            "back at the release",
            closed(ESTOP.gone + 0.005, ANEW + 0.1),
            "fail",
            **supply(STAYS, "closed at .* after its release"),
        ),
        Case(
            "back with the release",
            closed(ESTOP.gone, ANEW + 0.1),
            "fail",
            **supply(STAYS, "closed at .* after its release"),
        ),
        Case(
            "back soon after it",
            closed(ESTOP.gone + 0.03, ESTOP.gone + 0.05),
            "fail",
            **supply(STAYS, "after its release"),
        ),
        Case("back later", closed(ESTOP.gone + 0.6, ANEW), "fail", **supply(STAYS, "after its release")),
        Case(
            "back one sample before the press",
            closed(ANEW - 0.011, ANEW + 0.1),
            "fail",
            **supply(STAYS, "just before supply-on was pressed anew"),
        ),
        Case(
            "back at the sample of the press",
            closed(ANEW, ANEW + 0.1),
            "inconclusive",
            **supply(STAYS, "at the same sample"),
        ),
        Case("back a sample after the press", closed(ANEW + 0.011, ANEW + 0.1), "pass"),
    ],
    ids=str,
)
def test_the_contactor_against_the_supply_rules(case: Case) -> None:
    case.check()


def test_nobody_who_presses_supply_on_while_latched_leaves_it_unobserved() -> None:
    said = heard(sound().put(ON, 0, TRIED - 0.1, TRIED + 0.4))
    assert said.verdict is Verdict.NOT_OBSERVED
    assert {(one.effect, one.verdict) for one in said.findings if one.verdict is not Verdict.PASS} == {
        (DEAD, Verdict.NOT_OBSERVED)
    }


@pytest.mark.parametrize(
    ("what", "lo", "hi"),
    [
        ("pressed too shortly", TRIED, TRIED + 0.03),
        ("pressed just before the release", ESTOP.gone - 0.04, ESTOP.gone + 0.2),
    ],
)
def test_a_press_too_short_for_the_contactor_shows_nothing(what: str, lo: float, hi: float) -> None:
    """The data sheet gives it 50 ms to pick up."""
    tape = sound().put(ON, 0, TRIED - 0.1, TRIED + 0.4).put(ON, 1, lo, hi)
    (one,) = found(heard(tape), DEAD)
    assert one.verdict is Verdict.INCONCLUSIVE, what
    assert "too shortly" in one.sentence


def test_a_log_that_ends_right_after_the_press_shows_nothing() -> None:
    (one,) = found(heard(sound().drop(None, TRIED + 0.03)), DEAD)
    assert (one.verdict, "too shortly" in one.sentence) == (Verdict.INCONCLUSIVE, True)
    (one,) = found(heard(sound().drop(None, TRIED + 0.2)), DEAD)
    assert one.verdict is Verdict.PASS


def test_one_press_long_enough_is_enough() -> None:
    tape = sound().put(ON, 1, ESTOP.on + 4, ESTOP.on + 4.02)
    assert heard(tape).verdict is Verdict.PASS


@pytest.mark.parametrize(
    ("until", "verdict", "words"),
    [
        (
            ESTOP.gone - 0.1,
            Verdict.NOT_OBSERVED,
            "no demand by the emergency stop that puts this to the test",
        ),
        (ESTOP.gone + 0.1, Verdict.INCONCLUSIVE, "ends before supply-on was pressed anew"),
        (ANEW - 0.05, Verdict.INCONCLUSIVE, "ends before supply-on was pressed anew"),
        (ANEW + 0.05, Verdict.PASS, "stayed open after its release"),
    ],
)
def test_a_log_that_ends_within_the_observation(until: float, verdict: Verdict, words: str) -> None:
    (one,) = found(heard(sound().drop(None, until)), STAYS)
    assert one.verdict is verdict
    assert words in one.sentence


def test_supply_on_held_while_the_stop_is_released_does_not_count_as_pressed_anew() -> None:
    def held(tape: Tape) -> Tape:
        return tape.put(ON, 1, ESTOP.gone - 0.5, ESTOP.gone + 0.3)

    assert heard(held(sound())).verdict is Verdict.PASS
    Case(
        "held",
        lambda t: held(t).put(FB, 1, ESTOP.gone + 0.03, ANEW),
        "fail",
        **supply(STAYS, "after its release"),
    ).check()


def test_supply_on_pressed_at_once_leaves_open_what_the_release_alone_would_do() -> None:
    tape = sound().put(ON, 1, ESTOP.gone + 0.02, ESTOP.gone + 0.3).put(FB, 1, ESTOP.gone + 0.05, ANEW)
    (one,) = found(heard(tape), STAYS)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "before the main contactor could have closed by the release alone" in one.sentence


def test_a_stop_that_began_before_the_log_is_only_told_if_it_fails() -> None:
    late = ESTOP.on + 1.5
    assert found(heard(sound().drop(None, -1, late)), STAYS, verdict=Verdict.PASS) == []
    said = heard(sound().drop(None, -1, late).put(FB, 1, ESTOP.gone + 0.03, ANEW))
    (one,) = found(said, STAYS, verdict=Verdict.FAIL)
    assert one.demand is None
