"""A guard that unlocks some time after the stop: what was timed, what is stated, and how long the stop takes."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from interlock.rating.chain_facts import Lock
from interlock.rating.inputs_guard import Guard, UnlockTimed
from interlock.rating.rate_guard import judge_guard
from interlock.rating.step import Trail
from interlock.verdict import Verdict, worst

TODAY = date(2026, 3, 1)
TIMED = {
    "times_s": [7.1, 6.6, 6.9],
    "uncertain_s": 0.3,
    "day": "2026-02-01",
    "how": "stopwatch, by the fitter",
}
HELD = Lock(Verdict.PASS, "the chamber guard is not freed while the shaft still turns")


def guard(stated=6.0, **timed):
    entry = {**TIMED, **timed}
    return Guard(
        distance_mm=400.0,
        approach_speed_mm_s=1600.0,
        intrusion_mm=0.0,
        unlock="delay",
        unlock_delay_s=stated,
        unlock_timed=None if entry["times_s"] is None else UnlockTimed(**entry),
    )


def judged(stop=5.3, *, stated=6.0, lock=None, required="d", today=TODAY, trail=None, **timed):
    return judge_guard(
        guard(stated, **timed), stop, lock, required, Trail() if trail is None else trail, today
    )


# what a guard is said to do, and what shows it

ROWS = [
    # stop, stated, timed, verdict, what is said
    (5.3, 6.0, {}, "pass", "the shortest of 3 openings took 6.6 s, uncertain by 0.3 s."),
    (6.0, 6.0, {}, "pass", "no sooner than 6 s"),
    (6.3, 6.3, {}, "pass", "the stop takes at most 6.300 s"),  # 6.6 s less 0.3 s
    (5.3, 6.0, {"times_s": None}, "not_observed", "open the guard three times or more"),
    (5.3, 600.0, {"times_s": None}, "not_observed", "write the times under unlock_timed"),
    (6.0001, 6.0, {}, "fail", "at most 6.001 s: make it 6.1 s or more"),
    (27.41, 6.0, {"times_s": None}, "fail", "make it 27.5 s or more"),
    (5.3, 6.4, {}, "inconclusive", "so it surely held for 6.3 s only"),
    (5.3, 6.9, {}, "inconclusive", "state no more than that, or time it more exactly"),
    (5.3, 7.0, {}, "fail", "which is shorter than stated"),
    (5.3, 6.0, {"times_s": [60.0, 60.0, 5.0]}, "fail", "the shortest of 3 openings took 5 s"),
    (5.3, 6.0, {"times_s": [6.29, 60.0, 60.0]}, "inconclusive", "so it surely held for 5.99 s only"),
    (5.3, 6.0, {"uncertain_s": 8.0}, "inconclusive", "so it surely held for 0 s only"),
    (5.3, 6.0, {"day": "2026-03-02"}, "inconclusive", "that day is after 2026-03-01: correct it"),
    (5.3, 6.0, {"day": "2026-03-01"}, "pass", "timed on 2026-03-01 (stopwatch, by the fitter)"),
    (5.3, 6.0, {"day": "2025-01-25"}, "pass", "timed on 2025-01-25"),  # 400 days
    (5.3, 6.0, {"day": "2025-01-24"}, "inconclusive", "401 days ago and counts for 400: time it anew"),
    (5.3, 6.0, {"day": "2025-01-24", "holds_days": 401}, "pass", "timed on 2025-01-24"),
]


@pytest.mark.parametrize(("stop", "stated", "timed", "verdict", "says"), ROWS)
def test_a_delay_counts_as_timed(stop, stated, timed, verdict, says) -> None:
    """ISO 14119:2013, guard locking: the guard stays locked until the hazard is over (clause from memory)."""
    found = judged(stop, stated=stated, **timed)
    assert (found.about, found.verdict) == ("unlock delay", verdict)
    assert says in found.sentence


def test_a_stated_delay_alone_never_passes_however_long() -> None:
    """Rule 1: what was not exercised is not observed."""
    for stated in (5.3, 6.0, 3600.0):
        assert judged(stated=stated, times_s=None).verdict is Verdict.NOT_OBSERVED


def test_without_a_measured_stop_there_is_nothing_to_compare_with() -> None:
    assert judged(None).verdict is Verdict.NOT_OBSERVED


def test_without_the_day_of_judging_an_old_timing_cannot_be_told_from_a_new_one() -> None:
    assert judged(today=None).verdict is Verdict.INCONCLUSIVE


def test_each_step_can_be_followed() -> None:
    trail = Trail()
    judged(5.2876, trail=trail)
    steps = {one.title: one for one in trail.steps}
    assert steps["guard: least delay before unlocking"].result == 5.3
    held = steps["guard: time for which it surely held"]
    assert (held.result, held.unit) == (6.3, "s")
    assert "stopwatch, by the fitter" in held.source
    assert "2026-02-01" in held.source


# a device of the chain that locks the guard


@pytest.mark.parametrize(
    ("lock", "required", "verdict", "says"),
    [
        (HELD, "d", "pass", "the chain shows its lock: the chamber guard is not freed"),
        (HELD._replace(takes_s=6.0), "d", "pass", "the chain shows its lock"),
        (HELD._replace(takes_s=6.1), "d", "inconclusive", "proved with 6.1 s until the guard is free"),
        (HELD._replace(freed_by=("the timer is quick",)), "c", "pass", "One fault may free it"),
        (HELD._replace(freed_by=("the timer is quick",)), "d", "inconclusive", "For PL d mend that"),
        (Lock(Verdict.FAIL, "it is freed at once"), "a", "fail", "does not hold: it is freed at once"),
        (Lock(Verdict.INCONCLUSIVE, "too many states"), "a", "inconclusive", "too many states"),
        (Lock(Verdict.NOT_OBSERVED, "it is never freed"), "a", "not_observed", "it is never freed"),
    ],
)
def test_a_lock_of_the_chain_counts_beside_the_timing(lock, required, verdict, says) -> None:
    found = judged(lock=lock, required=required)
    assert found.verdict == verdict
    assert says in found.sentence


@pytest.mark.parametrize("required", ["a", "e"])
def test_a_lock_that_the_chain_shows_does_not_replace_the_timing(required) -> None:
    """The chain takes a timer's setting as stated; whether the timer keeps it is seen at the bench."""
    assert judged(lock=HELD, required=required, times_s=None).verdict is Verdict.NOT_OBSERVED


# laws

tenths = st.integers(1, 200).map(lambda n: n / 10)
several = st.lists(tenths, min_size=3, max_size=5)


@given(tenths, tenths, several, tenths)
def test_the_verdict_is_that_of_exact_decimals(stop, stated, times, wrong) -> None:
    """Against decimal arithmetic (IEEE 754-2008 decimals of Python's standard library): pass needs both bounds."""
    t, u, s = Decimal(str(min(times))), Decimal(str(wrong)), Decimal(str(stated))
    if s < Decimal(str(stop)) or t + u < s:
        expected = Verdict.FAIL
    else:
        expected = Verdict.PASS if t - u >= s else Verdict.INCONCLUSIVE
    assert judged(stop, stated=stated, times_s=times, uncertain_s=wrong).verdict is expected


@given(tenths, tenths, several, tenths, tenths)
def test_nothing_worse_at_the_guard_improves_the_verdict(stop, stated, times, wrong, more) -> None:
    """A longer stop, one more opening, a less exact watch."""
    before = judged(stop, stated=stated, times_s=times, uncertain_s=wrong).verdict
    longer = judged(stop + more, stated=stated, times_s=times, uncertain_s=wrong).verdict
    quicker = judged(stop, stated=stated, times_s=[*times, more], uncertain_s=wrong).verdict
    vaguer = judged(stop, stated=stated, times_s=times, uncertain_s=wrong + more).verdict
    assert worst([before, longer]) is longer
    assert worst([before, quicker]) is quicker
    assert (vaguer is Verdict.PASS) <= (before is Verdict.PASS)


@given(st.integers(-900, 900), st.integers(1, 800))
def test_a_timing_counts_from_its_day_for_as_long_as_it_holds(ago, holds) -> None:
    day = (TODAY - timedelta(days=ago)).isoformat()
    passes = judged(day=day, holds_days=holds).verdict is Verdict.PASS
    assert passes == (0 <= ago <= holds)


# what is written


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ({"times_s": []}, "at least 3 items"),
        ({"times_s": [6.6, 6.7]}, "at least 3 items"),
        ({"times_s": [6.6, 6.7, 0.0]}, "greater than 0"),
        ({"times_s": [6.6, 6.7, float("inf")]}, "finite"),
        ({"times_s": 6.6}, "list"),
        ({"uncertain_s": 0.0}, "greater than 0"),
        ({"day": "1 February"}, "write it in quotes"),
        ({"how": ""}, "at least 1 character"),
        ({"holds_days": 0}, "greater than 0"),
    ],
)
def test_a_timing_says_how_often_how_exactly_when_and_how(entry, says) -> None:
    with pytest.raises(ValidationError, match=says):
        UnlockTimed(**{**TIMED, **entry})


@pytest.mark.parametrize("missing", ["times_s", "uncertain_s", "day", "how"])
def test_none_of_it_may_be_left_out(missing) -> None:
    with pytest.raises(ValidationError, match=missing):
        UnlockTimed(**{name: value for name, value in TIMED.items() if name != missing})


@pytest.mark.parametrize("unlock", ["none", "standstill"])
def test_a_timing_belongs_to_a_delay(unlock) -> None:
    with pytest.raises(ValidationError, match="unlock_timed goes with unlock: delay"):
        Guard(
            distance_mm=400.0,
            approach_speed_mm_s=1600.0,
            intrusion_mm=0.0,
            unlock=unlock,
            unlock_timed=UnlockTimed(**TIMED),
        )
