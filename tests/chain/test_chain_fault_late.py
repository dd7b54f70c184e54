"""A fault that does harm first and shows then is told as that: not as noticed, and not as one that nothing shows."""

from functools import cache
from pathlib import Path

import pytest

from interlock.bench import parse_bench
from interlock.chain import FaultReport, FaultResult, judge_faults

SHAPE = Path(__file__).parents[1] / "benches" / "shapes" / "diagnostic_feedback.yaml"
FEEDBACK = "  k1.feedback: pump.sto_shown and load.sto_shown\n"
"""Both drives' report that their torque is off, without which the logic does not start."""
SECOND = {  # a second drive beside the first, so that one of them stops
    "  k1.feedback: pump.sto_shown\n": FEEDBACK,
    "  pump: {kind: drive_unit_single, name: pump motor}\n": (
        "  pump: {kind: drive_unit_single, name: pump motor}\n  load: {kind: drive_unit_single, name: load motor}\n"
    ),
    "  pump.supply: always\n": (
        "  pump.supply: always\n  load.sto: k1.out_a and k1.out_b\n  load.supply: always\n"
    ),
    "of: [pump]": "of: [pump, load]",
}


@cache
def report(feedback: str = FEEDBACK) -> FaultReport:
    text = SHAPE.read_text("utf-8")
    for old, new in SECOND.items():
        assert old in text
        text = text.replace(old, new)
    return judge_faults(parse_bench("bench.yaml", text.replace(FEEDBACK, feedback)), 2)


def single(fault: str, feedback: str = FEEDBACK) -> FaultResult:
    [found] = [one for one in report(feedback).faults if one.set == (fault,)]
    return found


def test_with_the_report_a_dead_input_bars_the_next_start_and_without_it_nothing_shows() -> None:
    """The first demand finds the input dead, which is harm; the report then bars the start, so no second demand."""
    with_it, without = single("pump.sto_dead"), single("pump.sto_dead", "  k1.feedback: always\n")
    assert with_it.lost == without.lost != ()
    assert not with_it.detected
    assert not without.detected
    assert with_it.at is not None
    assert "the bench can no longer be reset and started" in with_it.at
    assert without.at is None


def test_the_sentence_says_when() -> None:
    said = single("pump.sto_dead").sentence
    assert "Nothing shows it before somebody is in danger. It shows only then: after the" in said
    assert "It shows" not in single("pump.sto_dead", "  k1.feedback: always\n").sentence


@pytest.mark.parametrize("feedback", [FEEDBACK, "  k1.feedback: always\n"], ids=["reported", "not reported"])
def test_only_what_is_lost_shows_late(feedback: str) -> None:
    """What shows before harm says so by `detected`; a set of several never has an act without it."""
    for one in report(feedback).faults:
        if one.at is not None and not one.detected:
            assert len(one.set) == 1
            assert one.lost
        if one.detected:
            assert one.at


def test_a_set_names_only_the_acts_that_show_a_fault_before_harm() -> None:
    for one in report().faults:
        if len(one.set) == 2 and one.detected:
            late = [each for each in one.set if not single(each).detected]
            words = [words for each, words in zip(one.set, one.words, strict=True) if each in late]
            assert not [text for text in words if one.at is not None and f"{text}: " in one.at]


def test_two_faults_of_which_the_first_is_hidden_again_say_so() -> None:
    """One stuck contact of a door is noticed at that door, and hidden by opening another one in series; then the
    second may come (ISO/TR 24119). Two dead inputs of relay lines in nobody's series are hidden by nothing."""
    shape = SHAPE.with_name("three_doors.yaml")
    found = {
        one.set: one for one in judge_faults(parse_bench("bench.yaml", shape.read_text("utf-8")), 2).faults
    }
    pair = found["door_1.a_stays_closed", "door_1.b_stays_closed"]
    assert pair.detected
    assert pair.masked
    assert "hides it (ISO/TR 24119)" in pair.sentence
    for one in found.values():
        if len(one.set) == 2 and one.masked:
            assert any(found[each,].masked for each in one.set)
