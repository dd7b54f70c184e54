"""What no demand, reset or start explains is told, and is never a pass."""

import pytest
from replay_tape import BUTTON, COVER, COVER_3, Case, Tape, found, heard, lines, press, sound
from replay_variant import NO_REFERENCES, UNITLESS, hidden, variant

from interlock.replay import judge_trace
from interlock.verdict import Verdict


def explained(words: str, subject: str = "drive") -> dict[str, str]:
    return {"function": "bench", "subject": subject, "effect": "explained", "words": words}


def idle(tape: Tape, lo: float, hi: float) -> Tape:
    for signal in ("DrvCurrent", "LodCurrent"):
        tape.put(signal, 0, lo, hi)
    return tape


def test_a_sound_log_is_explained_without_a_word() -> None:
    assert found(heard(sound()), "explained") == []


@pytest.mark.parametrize(("units", "subject"), [("Drv", "drive"), ("Lod", "load")])
def test_an_enable_line_that_falls_with_no_demand(units: str, subject: str) -> None:
    def fallen(tape: Tape) -> Tape:
        return idle(lines(tape, 0, 12.0, BUTTON.release, units=units), 12.02, BUTTON.start - 0.02)

    case = Case(
        "fell", fallen, "inconclusive", **explained("fell at 12.* with no demand in the log", subject)
    )
    case.check()


def test_an_enable_line_that_falls_as_late_as_torque_may_is_explained_by_a_demand_that_is_over() -> None:
    """A demand of one frame, and the lines 60 ms after it."""
    tape = sound().put("TorqueOffPb", 1, BUTTON.on + 0.0115, BUTTON.gone)
    tape.move("TorqueEnableDrv", 0.05, BUTTON.on, BUTTON.on + 0.3)
    assert found(heard(tape), "explained") == []


def test_an_enable_line_that_comes_on_without_a_reset_outside_of_every_stop() -> None:
    """Power-up seen from after the last demand: the lines come on though nobody pressed reset."""
    tape = sound().drop(None, -1, 1.0).put("ResetPb", 0, 1.0, 3.0)
    said = heard(tape)
    assert said.verdict is Verdict.INCONCLUSIVE
    told = found(said, "explained")
    assert {(one.subject, one.verdict) for one in told} == {
        ("drive", Verdict.INCONCLUSIVE),
        ("load", Verdict.INCONCLUSIVE),
    }
    assert all("with no reset in the log before it" in one.sentence for one in told)


def test_a_reset_right_before_the_log_begins_is_not_missed() -> None:
    tape = sound()
    assert found(heard(tape.drop(None, -1, 2.805)), "explained") == []


def test_a_line_that_falls_and_rises_by_itself_is_told_twice() -> None:
    said = heard(lines(sound(), 0, 12.0, 12.2, units="Lod"))
    told = [one.sentence for one in found(said, "explained", subject="load")]
    assert len(told) == 2
    assert "fell at" in told[0]
    assert "came on at" in told[1]
    assert said.verdict is not Verdict.PASS


@pytest.mark.parametrize("signal", ["DrvCurrent", "LodCurrent"])
def test_torque_while_the_enable_line_is_off_fails_even_outside_of_a_stop(signal: str) -> None:
    """After the reset the line stays off, and the unit makes torque at the start all the same."""
    units = signal[:3].title()
    subject = {"Drv": "drive", "Lod": "load"}[units]

    def unpermitted(tape: Tape) -> Tape:
        return lines(tape, 0, COVER.release, BUTTON.on + 0.1, units=units)

    case = Case(
        "not permitted",
        unpermitted,
        "fail",
        **explained("made torque at .* while its torque-enable line was off", subject),
    )
    case.check()


def test_torque_within_a_stop_is_told_once_by_the_stop() -> None:
    said = heard(sound().add("DrvCurrent", 3, COVER.on + 1, COVER.on + 1.1))
    assert found(said, "explained") == []


@pytest.mark.parametrize("lost", [0.15, 0.5, 1.5])
def test_units_that_lose_their_torque_while_running(lost: float) -> None:
    case = Case(
        "lost", lambda t: idle(t, 12.0, 12.0 + lost), "inconclusive", **explained("lost their torque at 12")
    )
    case.check()


@pytest.mark.parametrize(
    ("what", "spoil"),
    [
        ("for a moment only", lambda t: idle(t, 12.0, 12.08)),
        ("one unit only", lambda t: t.put("LodCurrent", 0, 12.0, 12.5)),
        (
            "with the references at zero",
            lambda t: idle(t, 12.0, 12.5).put("SpeedRef", 0, 11.9, 12.5).put("TorqueRef", 0, 11.9, 12.5),
        ),
        ("after the last stop", lambda t: t.drop(None, COVER_3.start + 1)),
    ],
)
def test_what_may_well_be_somebody_stopping_the_bench_is_not_told(what: str, spoil) -> None:  # type: ignore[no-untyped-def]
    assert found(heard(spoil(sound())), "explained") == [], what


def test_a_reset_that_nobody_needed_explains_nothing_new() -> None:
    assert found(heard(press(sound(), 12.0, 12.3)), "explained") == []


def test_a_chattering_line_is_told_a_bounded_number_of_times() -> None:
    tape = sound()
    for k in range(700):
        lines(tape, k % 2, 7 + 0.011 * k, 7 + 0.011 * (k + 1))
    assert 0 < len(found(heard(tape), "explained")) <= 400


def stopped_by_control(tape: Tape) -> Tape:
    """The control lets the units go for a while; no stop device is used, and every line stays on."""
    for signal in ("DrvCurrent", "LodCurrent", "SpeedRef", "TorqueRef"):
        tape.put(signal, 0, 12.5, 13.2)
    return tape


@pytest.mark.parametrize("units", [(), UNITLESS], ids=["two units", "one unit"])
@pytest.mark.parametrize("references", [(), NO_REFERENCES], ids=["references", "none shown"])
def test_a_stop_by_the_control_needs_no_explanation_where_the_lines_are_shown(units, references) -> None:
    said = judge_trace(variant(*units, *references), stopped_by_control(sound()).trace())
    assert found(said, "explained") == []
    assert said.verdict is Verdict.PASS


def test_with_neither_references_nor_lines_shown_it_is_told_what_would_show_it() -> None:
    bench = variant(*UNITLESS, *NO_REFERENCES, hidden("drive.enabled"))
    (one,) = found(judge_trace(bench, stopped_by_control(sound()).trace()), "explained")
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "with 'drive.enabled' under shows, states" in one.sentence


def test_torque_lost_with_references_set_is_still_told() -> None:
    (one,) = found(judge_trace(variant(*UNITLESS), idle(sound(), 12.5, 13.2).trace()), "explained")
    assert "with references set, enable lines on and no demand in the log" in one.sentence
