"""One guard at a time: distance, locking, delay, with their steps."""

import pytest

from interlock.rating.chain_facts import Lock
from interlock.rating.inputs_guard import Guard
from interlock.rating.rate_guard import judge_guard
from interlock.rating.step import Trail
from interlock.verdict import Verdict

HELD = Lock(Verdict.PASS, "it is never freed while the shaft turns")


def judged(stop, locked=None, required="d", **entry):
    base = {"distance_mm": 680.0, "approach_speed_mm_s": 1600.0, "intrusion_mm": 120.0}
    trail = Trail()
    finding = judge_guard(Guard(**{**base, **entry}), stop, locked, required, trail)
    return finding, {step.title: step for step in trail.steps}


def test_distance_by_hand() -> None:
    """1600 · 0.35 + 120 = 680 mm (ISO 13855:2010, clause 9, computed)."""
    finding, steps = judged(0.35)
    assert finding.verdict is Verdict.PASS
    assert steps["guard: least distance"].result == pytest.approx(680)
    assert steps["guard: longest stop without locking"].result == pytest.approx(0.35)


def test_one_millisecond_more_fails() -> None:
    finding, _ = judged(0.351)
    assert finding.verdict is Verdict.FAIL
    assert "682 mm needed for a stop of at most 0.351 s, 680 mm there" in finding.sentence
    assert "after 0.35 s: guard locking is needed" in finding.sentence


def test_opening_time_is_credited() -> None:
    finding, steps = judged(0.45, opening_time_s=0.1)
    assert finding.verdict is Verdict.PASS
    assert steps["guard: longest stop without locking"].result == pytest.approx(0.45)
    for stop in (0.05, 0.1):
        finding, steps = judged(stop, opening_time_s=0.1)
        assert finding.verdict is Verdict.PASS
    assert steps["guard: least distance"].result == 120


def test_hand_speed() -> None:
    finding, _ = judged(0.28, approach_speed_mm_s=2000.0)
    assert finding.verdict is Verdict.PASS
    finding, _ = judged(0.281, approach_speed_mm_s=2000.0)
    assert finding.verdict is Verdict.FAIL


def test_openings_that_use_up_the_distance() -> None:
    finding, steps = judged(0.01, intrusion_mm=850.0)
    assert finding.verdict is Verdict.FAIL
    assert steps["guard: longest stop without locking"].result == "none"


def test_without_a_measured_stop_nothing_is_observed() -> None:
    for unlock in ({}, {"unlock": "delay", "unlock_delay_s": 30.0}):
        finding, steps = judged(None, **unlock)
        assert finding.verdict is Verdict.NOT_OBSERVED
        assert set(steps) == {"guard: longest stop without locking"}


def test_standstill() -> None:
    finding, _ = judged(27.41, unlock="standstill")
    assert (finding.verdict, finding.about) == (Verdict.NOT_OBSERVED, "guard locking")
    finding, _ = judged(None, locked=HELD, unlock="standstill")
    assert finding.verdict is Verdict.PASS
    assert "was shown: it is never freed while the shaft turns" in finding.sentence


@pytest.mark.parametrize("verdict", [Verdict.FAIL, Verdict.NOT_OBSERVED, Verdict.INCONCLUSIVE])
def test_the_lock_counts_as_the_chain_has_it(verdict) -> None:
    finding, _ = judged(None, locked=Lock(verdict, "because"), unlock="standstill")
    assert finding.verdict is verdict
    assert finding.sentence.endswith(": because.")
    assert ("does not hold" in finding.sentence) == (verdict is Verdict.FAIL)


def test_shown_locking_does_not_help_an_unlocked_guard() -> None:
    finding, _ = judged(12, locked=HELD)
    assert finding.verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("required", "verdict"),
    [("a", "pass"), ("c", "pass"), ("d", "inconclusive"), ("e", "inconclusive")],
)
def test_a_lock_that_one_fault_frees_is_enough_up_to_level_c(required, verdict) -> None:
    """One channel reaches c at most (ISO 13849-1:2015, 6.2.4, category 1)."""
    weak = HELD._replace(freed_by=("the standstill monitor always says still",))
    finding, _ = judged(None, locked=weak, required=required, unlock="standstill")
    assert finding.verdict == verdict
    assert "the standstill monitor always says still" in finding.sentence
    sound, _ = judged(None, locked=HELD, required=required, unlock="standstill")
    assert sound.verdict is Verdict.PASS


def test_a_lock_that_does_not_hold_is_no_better_for_a_low_level() -> None:
    broken = Lock(Verdict.FAIL, "it is freed at once", ("the bolt breaks",))
    assert judged(None, locked=broken, required="a", unlock="standstill")[0].verdict is Verdict.FAIL
