"""Torque off and staying off: what one unit, or its torque-enable line, can do wrong at any moment of a stop."""

import numpy as np
import pytest
from replay_tape import BUTTON, COVER, COVER_3, ESTOP, Case, Moments, found, heard, lines, sound

from interlock.verdict import Verdict

CURRENTS = {"DrvCurrent": "drive", "LodCurrent": "load"}


def late(signal: str, by: float, stop: Moments = COVER) -> Case:
    return Case(
        f"{signal} gone {by * 1000:g} ms later",
        lambda tape: tape.move(signal, by, stop.on, stop.on + 0.6),
        "fail",
        {COVER: "cover_stop", BUTTON: "button_stop", ESTOP: "emergency_stop"}[stop],
        CURRENTS[signal],
        "torque_off",
        r"without torque for good only .* after the demand; 100 ms are allowed",
    )


@pytest.mark.parametrize(
    "case",
    [
        late(signal, by, stop)
        for signal in CURRENTS
        for by, stop in ((0.12, COVER), (0.25, BUTTON), (0.4, ESTOP))
    ],
    ids=str,
)
def test_torque_that_goes_too_late_fails_and_names_unit_and_function(case: Case) -> None:
    said = case.check()
    (slow,) = found(said, "torque_off", subject=case.subject, verdict=Verdict.FAIL)
    assert slow.latency is not None
    assert slow.latency.lo > 100_000_000
    other = {"drive": "load", "load": "drive"}[case.subject]
    assert not found(said, "torque_off", subject=other, verdict=Verdict.FAIL)


@pytest.mark.parametrize("signal", CURRENTS)
@pytest.mark.parametrize(
    ("by", "verdict"), [(0.03, "pass"), (0.05, "pass"), (0.08, "inconclusive"), (0.13, "fail")]
)
def test_near_the_limit_the_samples_decide_only_what_they_can(signal: str, by: float, verdict: str) -> None:
    said = heard(sound().move(signal, by, COVER.on, COVER.on + 0.6))
    assert said.verdict.value == verdict
    (one,) = found(said, "torque_off", subject=CURRENTS[signal], near=COVER.on)
    assert one.verdict.value == verdict
    if verdict == "inconclusive":
        assert "too coarse" in one.sentence


def pulse(signal: str, at: float, lasts: float, amps: float = 3.0) -> Case:
    return Case(
        f"{signal} {amps:g} A for {lasts * 1000:g} ms at {at:g} s",
        lambda tape: tape.add(signal, amps, COVER.on + at, COVER.on + at + lasts),
        "fail",
        "cover_stop",
        CURRENTS[signal],
        "stays_off",
        r"torque of the \w+ unit had come back before the lawful reset",
    )


@pytest.mark.parametrize("signal", CURRENTS)
@pytest.mark.parametrize(
    ("at", "lasts"),
    [
        (0.15, 0.02),
        (0.2, 0.05),
        (1.5, 0.1),
        (2.9, 0.3),
        (2.995, 0.02),
        (3.3, 0.02),
        (3.9, 0.05),
    ],
)
def test_torque_that_returns_within_the_stop_fails(signal: str, at: float, lasts: float) -> None:
    """Early and late, at the release of the demand, before and while reset is pressed."""
    said = pulse(signal, at, lasts).check()
    for_good = found(said, "torque_off", subject=CURRENTS[signal], near=COVER.on)
    assert [one.verdict for one in for_good] == [Verdict.FAIL]


@pytest.mark.parametrize("signal", CURRENTS)
@pytest.mark.parametrize(("at", "lasts"), [(0.035, 0.02), (0.05, 0.03)])
def test_torque_that_returns_and_goes_in_the_time_allowed_decides_nothing(
    signal: str, at: float, lasts: float
) -> None:
    """It may be a stop that let go for a moment or a shaft that rings: gone for good in time, and yet no pass."""
    said = heard(sound().add(signal, 3.0, COVER.on + at, COVER.on + at + lasts))
    assert [one.verdict for one in found(said, "torque_off", subject=CURRENTS[signal], near=COVER.on)] == [
        Verdict.PASS
    ]
    (kept,) = found(said, "stays_off", subject=CURRENTS[signal], near=COVER.on)
    assert kept.verdict is Verdict.INCONCLUSIVE
    assert "went for good in the time allowed" in kept.sentence
    assert said.verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize("signal", CURRENTS)
def test_pulses_at_many_moments_never_pass(signal: str) -> None:
    """From 140 ms after the onset to 20 ms before the start; 25 ms long, so that samples of 5 ms cannot miss it."""
    part = sound().drop(None, COVER.start + 0.6)
    for at in np.random.default_rng(5).uniform(COVER.on + 0.14, COVER.start - 0.05, 60):
        said = heard(part.copy().add(signal, 2.0, at, at + 0.025))
        failed = {one.effect for one in said.findings if one.verdict is Verdict.FAIL}
        assert failed & {"stays_off", "restart"}, at
        assert {one.subject for one in said.findings if one.verdict is Verdict.FAIL} == {CURRENTS[signal]}, at


@pytest.mark.parametrize(
    "case",
    [
        Case(
            "half an ampere",
            lambda t: t.add("DrvCurrent", 0.5, COVER.on + 0.03, COVER.release),
            "fail",
            "cover_stop",
            "drive",
            "torque_off",
            "drive unit was without torque for a time only",
        ),
        Case(
            "half an ampere backwards",
            lambda t: t.add("LodCurrent", -0.5, COVER.on + 0.03, COVER.release),
            "fail",
            "cover_stop",
            "load",
            "torque_off",
            "for a time only",
        ),
        Case(
            "within the uncertainty",
            lambda t: t.add("DrvCurrent", 0.27, COVER.on + 0.03, COVER.release),
            "inconclusive",
            "cover_stop",
            "drive",
            "torque_off",
            "cannot be said",
        ),
        Case(
            "a sensor 0.25 A off",
            lambda t: t.add("LodCurrent", -0.25),
            "inconclusive",
            "cover_stop",
            "load",
            "torque_off",
            "cannot be said",
        ),
        Case("a sensor 0.6 A off", lambda t: t.add("DrvCurrent", 0.6), "fail"),
        Case(
            "never gone",
            lambda t: t.add("LodCurrent", 8, ESTOP.on, ESTOP.release),
            "fail",
            "emergency_stop",
            "load",
            "torque_off",
            "It was not seen",
        ),
        Case(
            "no more than noise", lambda t: t.add("DrvCurrent", 0.05, COVER.on + 0.03, COVER.release), "pass"
        ),
    ],
    ids=str,
)
def test_small_currents(case: Case) -> None:
    case.check()


@pytest.mark.parametrize(
    "case",
    [
        Case(
            "the load's line 50 ms later",
            lambda t: t.move("TorqueEnableLod", 0.05, COVER.on, COVER.on + 1),
            "pass",
        ),
        Case(
            "the load's line 80 ms later",
            lambda t: t.move("TorqueEnableLod", 0.08, COVER.on, COVER.on + 1),
            "inconclusive",
            "cover_stop",
            "load",
            "enable_off",
            "too coarse",
        ),
        Case(
            "the load's line 0.3 s later",
            lambda t: t.move("TorqueEnableLod", 0.3, COVER.on, COVER.on + 1),
            "fail",
            "cover_stop",
            "load",
            "enable_off",
            "torque-enable line of the load unit was off for good only",
        ),
        Case(
            "the drive's line 0.3 s later",
            lambda t: t.move("TorqueEnableDrv", 0.3, COVER.on, COVER.on + 1),
            "fail",
            "cover_stop",
            "drive",
            "enable_off",
            "drive unit",
        ),
        Case(
            "a line that never falls",
            lambda t: lines(t, 1, ESTOP.on, ESTOP.release, units="Drv"),
            "fail",
            "emergency_stop",
            "drive",
            "enable_off",
            "not seen",
        ),
        Case(
            "a line that bounces late",
            lambda t: lines(t, 1, BUTTON.on + 0.3, BUTTON.on + 0.32),
            "fail",
            "button_stop",
            "drive",
            "stays_off",
            "the torque-enable line of the drive unit had come back",
        ),
        Case(
            "one line that bounces early",
            lambda t: lines(t, 1, BUTTON.on + 0.05, BUTTON.on + 0.08, units="Lod"),
            "fail",
            "button_stop",
            "load",
            "stays_off",
            "load unit had come back",
        ),
    ],
    ids=str,
)
def test_enable_lines(case: Case) -> None:
    case.check()


@pytest.mark.parametrize("units", ["Drv", "Lod", "DrvLod"])
@pytest.mark.parametrize(
    ("what", "since"),
    [
        ("while the demand lasts", COVER.on + 1),
        ("at the release", COVER.gone),
        ("before reset", COVER.gone + 0.05),
        ("at the press", COVER.press),
    ],
)
def test_enable_lines_that_return_before_the_reset_fail(units: str, what: str, since: float) -> None:
    said = heard(lines(sound(), 1, since, COVER.release + 0.1, units=units))
    named = {one.subject for one in found(said, "stays_off", verdict=Verdict.FAIL, near=COVER.on)}
    assert named == {{"Drv": "drive", "Lod": "load"}[units[k : k + 3]] for k in range(0, len(units), 3)}, what
    assert said.verdict is Verdict.FAIL


def test_a_stop_that_did_not_find_torque_on_does_not_exercise_torque_off() -> None:
    """The last cover stop only; it is the other cover stops that show the function."""
    said = heard(sound().put("DrvCurrent", 0.0, COVER_3.on - 3, COVER_3.on + 1))
    assert found(said, "torque_off", subject="drive", near=COVER_3.on) == []
    assert found(said, "torque_off", subject="load", near=COVER_3.on) != []
    assert said.verdict is Verdict.PASS


def test_without_any_torque_the_function_is_not_observed() -> None:
    said = heard(sound().put("DrvCurrent", 0.0))
    assert said.verdict is Verdict.NOT_OBSERVED
    unseen = [one for one in said.findings if one.verdict is Verdict.NOT_OBSERVED]
    assert {(one.subject, one.effect) for one in unseen} == {("drive", "torque_off"), ("drive", "restart")}
    assert all("no demand" in one.sentence for one in unseen)


@pytest.mark.parametrize("before", [0.05, 0.2, 0.7])
def test_torque_gone_just_before_the_demand_was_seen_is_no_evidence_of_the_stop(before: float) -> None:
    """As if the demand were shown late: the bench may have been slow, and nobody could tell."""
    tape = sound().add("DrvCurrent", 0.0, BUTTON.on - before, BUTTON.on)
    for signal in CURRENTS:
        tape.move(signal, -before, BUTTON.on - before, BUTTON.on + 0.1)
        tape.put(signal, 0.0, BUTTON.on - before + 0.03, BUTTON.on + 0.1)
    said = heard(tape)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert {one.verdict for one in found(said, "torque_off", near=BUTTON.on)} == {Verdict.INCONCLUSIVE}
    assert "repeat the demand while it is running" in found(said, "torque_off", near=BUTTON.on)[0].sentence


def test_a_second_demand_soon_after_a_stop_is_not_taken_for_one_shown_late() -> None:
    """A hasty stop, reset after half a second, and the cover opened again at once: nothing in it is unclear."""
    tape = sound().cut_out(COVER.gone + 0.1, COVER.press - 0.1).cut_out(COVER.on + 0.3, COVER.gone - 0.1)
    again = COVER.on + 0.98  # torque has been off for less than a second, and the lines have come on again
    tape.put("CoverA", 0, again, again + 0.1).put("CoverB", 0, again, again + 0.1)
    lines(tape, 0, again + 0.011, again + 4).put("DrvCurrent", 0, again, again + 4).put(
        "LodCurrent", 0, again, again + 4
    )
    said = heard(tape)
    assert found(said, "enable_off", verdict=Verdict.PASS, near=again) != []
    assert found(said, "torque_off", near=again) == []
    assert all("repeat the demand" not in one.sentence for one in said.findings)
