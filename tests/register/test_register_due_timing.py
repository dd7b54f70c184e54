"""A guard that unlocks by time is due to be timed anew: when its times no longer count, or something was changed."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from due_registers import described, items
from hypothesis import given
from hypothesis import strategies as st
from register_lines import at, changed, replaced

from interlock.rating.inputs import RatingInputs
from interlock.rating.inputs_guard import UnlockTimed
from interlock.rating.rate_guard import judge_guard
from interlock.rating.step import Trail
from interlock.register import Register, create, load_register
from interlock.register.due import Due, due_of
from interlock.verdict import Verdict

TIMED = {"times_s": [7.1, 6.6, 6.9], "uncertain_s": 0.3, "day": "2026-03-01", "how": "stopwatch"}


def rating(timed: dict[str, Any] | None = TIMED, **guard: Any) -> RatingInputs:
    """The built-in bench's section, its hood timed so, or with another guard."""
    _, _, stated = described()
    hood = stated.functions["hood_stop"]
    assert hood.guard is not None
    found = None if timed is None else UnlockTimed(**timed)
    new = hood.guard.model_copy(update={"unlock_timed": found, **guard})
    functions = {**stated.functions, "hood_stop": hood.model_copy(update={"guard": new})}
    return stated.model_copy(update={"functions": functions})


def timing(folder: Path, *contents: Any, today: str = "2026-06-01", **more: Any) -> Due:
    return items(folder, *contents, today=today, rating=rating(**more))["hood"]


@pytest.mark.parametrize(
    ("today", "verdict", "due", "says"),
    [
        ("2026-02-28", "inconclusive", None, "which is after 2026-02-28: correct the day"),
        (
            "2026-03-01",
            "pass",
            "2027-04-05",
            "its unlocking was timed on 2026-03-01, which counts until 2027-04-05",
        ),
        ("2027-04-04", "pass", "2027-04-05", "counts until 2027-04-05"),
        ("2027-04-05", "fail", "2027-04-05", "that day has come (2027-04-05)"),
        ("2030-01-01", "fail", "2027-04-05", "that day has come"),
    ],
)
def test_the_times_count_for_400_days(
    tmp_path: Path, today: str, verdict: str, due: str | None, says: str
) -> None:
    found = timing(tmp_path, today=today)
    assert (found.kind, str(found.verdict)) == ("timing", verdict)
    assert (None if found.due is None else found.due.isoformat()) == due
    assert says in found.sentence


def test_another_number_of_days_may_be_stated(tmp_path: Path) -> None:
    assert timing(tmp_path, timed={**TIMED, "holds_days": 92.5}).due == date(2026, 6, 1)


def test_what_was_never_timed_is_due_at_once(tmp_path: Path) -> None:
    found = timing(tmp_path, timed=None)
    assert (found.verdict, found.due) == (Verdict.FAIL, None)
    assert "never timed: time it now" in found.sentence


@pytest.mark.parametrize("unlock", ["none", "standstill"])
def test_only_a_guard_that_unlocks_by_time_is_timed(tmp_path: Path, unlock: str) -> None:
    other = rating(None, unlock=unlock, unlock_delay_s=None)
    assert "hood" not in items(tmp_path, rating=other)


@pytest.mark.parametrize(
    ("entry", "verdict"),
    [
        (changed("2026-02-28"), "pass"),  # before it was timed
        (changed("2026-03-02"), "fail"),
        (replaced("2026-03-02", "hood"), "fail"),
        (replaced("2026-02-28", "hood"), "pass"),
        (replaced("2026-03-02", "contactor"), "pass"),  # has nothing to do with it
    ],
    ids=["changed before", "changed since", "replaced since", "replaced before", "another part"],
)
def test_what_was_changed_since_is_timed_anew(tmp_path: Path, entry: Any, verdict: str) -> None:
    found = timing(tmp_path, entry)
    assert str(found.verdict) == verdict
    assert ("since, so it is to be timed now" in found.sentence) == (verdict == "fail")


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Register:
    """A register in which nothing was entered."""
    path = tmp_path_factory.mktemp("register") / "r.jsonl"
    create(path, now=at("2025-01-01"))
    return load_register(path)


@given(st.integers(-30, 900), st.integers(1, 800))
def test_what_is_not_due_yet_still_counts_for_the_rating(empty: Register, days: int, holds: int) -> None:
    """The day on which it is due is no later than the last one on which `rate` takes the times."""
    bench, fingerprint, _ = described()
    stated = rating({**TIMED, "holds_days": holds})
    guard, today = stated.functions["hood_stop"].guard, date(2026, 3, 1) + timedelta(days=days)
    assert guard is not None
    (found,) = (one for one in due_of(empty, bench, fingerprint, stated, today) if one.kind == "timing")
    rated = judge_guard(guard, 5.3, None, "d", Trail(), today).verdict
    assert (found.verdict is Verdict.PASS) <= (rated is Verdict.PASS)
    assert (found.verdict is Verdict.PASS) == (0 <= days < holds)
