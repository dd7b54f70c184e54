"""What is due when: by the last pass of this very description, never by a doubtful, old, failed or undone one."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from due_registers import FUNCTIONS, described, items, name, test_of
from register_lines import at, changed, counted, replaced

from interlock.rating.inputs import RatingInputs
from interlock.register import append, create, load_register
from interlock.register.due import due_of
from interlock.register.entries import Withdrawn
from interlock.verdict import Verdict


def hood(folder: Path, *contents: Any, **more: Any) -> tuple[str, str | None]:
    one = items(folder, *contents, **more)["hood_stop"]
    return str(one.verdict), None if one.due is None else one.due.isoformat()


def test_each_function_and_each_worn_part_in_order(tmp_path):
    found = items(tmp_path, test_of("2026-03-31"))
    assert list(found) == [*FUNCTIONS, "contactor", "hood"]
    assert {one.verdict for one in found.values()} == {Verdict.PASS}
    assert [one.kind for one in found.values()] == ["proof_test"] * 3 + ["replacement", "timing"]
    assert {found[each].due for each in FUNCTIONS} == {date(2027, 3, 31)}  # 12 months by the bench file


DAYS = {
    "the day before": ("2026-03-31", "2027-03-30", ("pass", "2027-03-31")),
    "the day itself": ("2026-03-31", "2027-03-31", ("fail", "2027-03-31")),
    "long after": ("2026-03-31", "2029-03-31", ("fail", "2027-03-31")),
    "tested today": ("2026-03-31", "2026-03-31", ("pass", "2027-03-31")),
    "tested after today": ("2026-03-31", "2026-03-30", ("inconclusive", None)),
    "a leap day has none a year later": ("2024-02-29", "2024-06-01", ("pass", "2025-02-28")),
}


@pytest.mark.parametrize("case", DAYS)
def test_days(tmp_path, case):
    day, today, expected = DAYS[case]
    assert hood(tmp_path, test_of(day), today=today) == expected


HISTORIES = {  # entries: what is to be said of the hood on 2026-06-01
    "never tested": ([], ("fail", None)),
    "another function failed": ([test_of("2026-03-01", button_stop="fail")], ("pass", "2027-03-01")),
    "failed": ([test_of("2026-03-01", hood_stop="fail")], ("fail", None)),
    "inconclusive": ([test_of("2026-03-01", hood_stop="inconclusive")], ("fail", None)),
    "not observed": ([test_of("2026-03-01", hood_stop="not_observed")], ("fail", None)),
    "a doubtful recording": ([test_of("2026-03-01", rest="inconclusive")], ("fail", None)),
    "motion that nothing explains": ([test_of("2026-03-01", rest="fail")], ("fail", None)),
    "passed twice": ([test_of("2025-09-01"), test_of("2026-03-01")], ("pass", "2027-03-01")),
    "entered out of order": ([test_of("2026-03-01"), test_of("2025-09-01")], ("pass", "2027-03-01")),
    "passed, then failed": ([test_of("2026-03-01"), test_of("2026-04-01", hood_stop="fail")], ("fail", None)),
    "failed, then passed": (
        [test_of("2026-03-01", hood_stop="fail"), test_of("2026-04-01")],
        ("pass", "2027-04-01"),
    ),
    "failed and passed on one day": (
        [test_of("2026-03-01", hood_stop="fail"), test_of("2026-03-01")],
        ("pass", "2027-03-01"),
    ),
    "passed and failed on one day": (
        [test_of("2026-03-01"), test_of("2026-03-01", hood_stop="fail")],
        ("fail", None),
    ),
    "passed, then not shown": (
        [test_of("2026-03-01"), test_of("2026-04-01", hood_stop="not_observed")],
        ("pass", "2027-03-01"),
    ),
    "withdrawn": ([test_of("2026-03-01"), Withdrawn(withdraws=1, reason="wrong log")], ("fail", None)),
    "the failure withdrawn": (
        [test_of("2026-03-01"), test_of("2026-04-01", hood_stop="fail"), Withdrawn(withdraws=2, reason="x")],
        ("pass", "2027-03-01"),
    ),
    "rewired since": ([test_of("2026-03-01"), changed("2026-03-02")], ("fail", None)),
    "rewired before": ([changed("2026-03-02"), test_of("2026-03-03")], ("pass", "2027-03-03")),
    "rewired that day, then tested": ([changed("2026-03-02"), test_of("2026-03-02")], ("pass", "2027-03-02")),
    "tested that day, then rewired": ([test_of("2026-03-02"), changed("2026-03-02")], ("fail", None)),
    "rewired, entered late": ([test_of("2026-03-03"), changed("2026-03-02")], ("pass", "2027-03-03")),
    "a part replaced since": ([test_of("2026-03-01"), replaced("2026-03-02")], ("fail", None)),
    "only counted since": (
        [test_of("2026-03-01"), counted("2026-03-01", "2026-05-01")],
        ("pass", "2027-03-01"),
    ),
}


@pytest.mark.parametrize("case", HISTORIES)
def test_histories(tmp_path, case):
    contents, expected = HISTORIES[case]
    assert hood(tmp_path, *contents) == expected


@pytest.mark.parametrize(
    ("contents", "says"),
    [
        ([], "never tested by this register"),
        (
            [test_of("2026-03-01", hood_stop="not_observed")],
            "the last test, of 2026-03-01 (entry 1), is not observed",
        ),
        ([test_of("2026-03-01"), changed("2026-03-02")], "changed on 2026-03-02 (entry 2: rewired) since"),
        ([test_of("2026-03-01"), replaced("2026-03-02")], "k1 replaced on 2026-03-02 (entry 2) since"),
        (
            [test_of("2026-03-01"), test_of("2026-04-01", hood_stop="fail")],
            "but failed on 2026-04-01 (entry 2)",
        ),
        ([test_of("2026-03-01")], "the next test is due by 2027-03-01, 12 month(s) later"),
    ],
)
def test_the_reason_is_said(tmp_path, contents, says):
    assert says in items(tmp_path, *contents)["hood_stop"].sentence


# another description, another bench


def test_a_test_of_another_description_is_no_pass_of_this_one(tmp_path):
    other = name(fingerprint="c" * 64)
    found = items(tmp_path, test_of("2026-03-01"), bench=other)["hood_stop"]
    assert (found.verdict, found.due) == (Verdict.INCONCLUSIVE, date(2027, 3, 1))
    assert "another description of the bench (cccccccccccc…)" in found.sentence


def test_and_once_its_day_has_come_it_is_due(tmp_path):
    other = name(fingerprint="c" * 64)
    assert hood(tmp_path, test_of("2026-03-01"), bench=other, today="2027-03-01") == ("fail", "2027-03-01")


def test_an_older_test_of_this_description_counts_before_a_newer_one_of_another(tmp_path):
    path = tmp_path / "r.jsonl"
    create(path, now=at("2025-01-01"))
    append(path, name(), test_of("2026-03-01"), now=at("2027-12-31"))
    append(path, name(fingerprint="c" * 64), test_of("2026-05-01"), now=at("2027-12-31"))
    bench, fingerprint, rating = described()
    found = next(iter(due_of(load_register(path), bench, fingerprint, rating, date(2026, 6, 1))))
    assert (found.verdict, found.due) == (Verdict.PASS, date(2027, 3, 1))


def test_a_test_of_another_bench_is_none(tmp_path):
    assert hood(tmp_path, test_of("2026-03-01"), bench=name(id="cell_5")) == ("fail", None)


# the interval


def with_interval(months: float | None, level: str = "S2") -> RatingInputs:
    """The section with another interval; level S2 F1 P2 is PL d, S2 F2 P2 is PL e by the risk graph."""
    _, _, rating = described()
    function = rating.functions["hood_stop"]
    required = function.required.model_copy(update={"frequency": "F2" if level == "e" else "F1"})
    changes = {"proof_test_months": months, "required": required}
    functions = {**rating.functions, "hood_stop": function.model_copy(update=changes)}
    return rating.model_copy(update={"functions": functions})


@pytest.mark.parametrize(
    ("months", "level", "expected", "by"),
    [
        (12.0, "d", "2027-03-01", "bench description"),
        (6.0, "d", "2026-09-01", "bench description"),
        (24.0, "d", "2027-03-01", "ISO 14119"),  # PL d: every 12 months (CNB/M/11.050; ISO 14119:2013, 8.2)
        (None, "d", "2027-03-01", "ISO 14119"),
        (12.0, "e", "2026-04-01", "ISO 14119"),  # PL e: every month
        (0.5, "d", "2026-03-15", "bench description"),  # a part of a month counts as of 28 days
        (1.5, "d", "2026-04-15", "bench description"),
    ],
)
def test_the_shorter_of_what_is_stated_and_what_the_standard_names(tmp_path, months, level, expected, by):
    found = items(tmp_path, test_of("2026-03-01"), today="2026-03-02", rating=with_interval(months, level))
    assert found["hood_stop"].due == date.fromisoformat(expected)
    assert found["hood_stop"].source.startswith(by)


def test_without_any_interval_nothing_passes(tmp_path):
    path = tmp_path / "r.jsonl"
    create(path, now=at("2025-01-01"))
    append(path, name(), test_of("2026-03-01"), now=at("2027-12-31"))
    bench, fingerprint, _ = described()
    found = list(due_of(load_register(path), bench, fingerprint, None, date(2026, 6, 1)))
    assert [(one.verdict, one.due) for one in found] == [(Verdict.INCONCLUSIVE, None)] * 3
    assert "proof_test_months" in found[0].sentence


# wear


def test_wear_counts_the_register(tmp_path):
    """20000 load breaks are the contactor's life: 6000 a year use it up in 3.3 years."""
    busy = counted("2025-01-02", "2026-01-02", 100, 6000, device="contactor")
    found = items(tmp_path, busy)["contactor"]
    assert found.verdict is Verdict.PASS
    assert date(2027, 3, 1) < found.due < date(2027, 7, 1)  # installed 2024-03-01
    assert "register r.jsonl, entry 1" in found.sentence


def test_a_worn_part_is_due_and_a_new_one_is_not(tmp_path):
    busy = counted("2025-01-02", "2026-01-02", 100, 6000, device="contactor")
    (tmp_path / "old").mkdir()
    assert items(tmp_path / "old", busy, today="2027-12-30")["contactor"].verdict is Verdict.FAIL
    new = replaced("2027-06-01", device="contactor")
    assert items(tmp_path, busy, new, today="2027-12-30")["contactor"].verdict is Verdict.PASS


def dated(**parts: dict[str, Any]) -> RatingInputs:
    """The demo's rating with entries of some parts of its channels."""
    _, _, stated = described()
    changed_parts = {
        part: one.model_copy(update=parts[part]) if part in parts else one
        for part, one in stated.parts.items()
    }
    return stated.model_copy(update={"parts": changed_parts})


def test_a_part_of_a_channel_is_due_by_its_mission_time_if_its_day_is_known(tmp_path):
    """20 years of 365 days (ISO 13849-1, 4.5.4); parts of which no day is stated are not listed."""
    rating = dated(hood_switch_a={"installed": date(2024, 3, 1)})
    found = items(tmp_path, rating=rating)
    assert "hood_switch_b" not in found
    one = found["hood_switch_a"]
    assert (one.kind, one.verdict, one.due) == ("replacement", Verdict.PASS, date(2044, 2, 25))
    (tmp_path / "late").mkdir()
    late = items(tmp_path / "late", rating=rating, today="2044-02-25")["hood_switch_a"]
    assert late.verdict is Verdict.FAIL


def test_a_replacement_entered_for_its_device_begins_anew(tmp_path):
    new = replaced("2026-05-01", device="hood")
    found = items(tmp_path, new, rating=dated(hood_switch_a={"installed": date(2024, 3, 1)}))
    assert {found[name].due for name in ("hood_switch_a", "hood_switch_b")} == {date(2046, 4, 26)}


def test_counts_of_its_device_may_wear_it_out_sooner(tmp_path):
    """A typical position switch lives 2e6 operations: 400 000 a year as counted take it in 5 years."""
    busy = counted("2025-01-02", "2026-01-02", 400_000, 0, device="hood")
    found = items(tmp_path, busy, rating=dated(hood_switch_a={"installed": date(2024, 3, 1)}))[
        "hood_switch_a"
    ]
    assert date(2028, 10, 1) < found.due < date(2029, 3, 2)
    assert "T10d decides" in found.sentence
