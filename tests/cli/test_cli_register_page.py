"""A register in words: every number with its unit and its doubt, nothing that was missing shown as found."""

import io
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from interlock.cli.due_page import show as show_due
from interlock.cli.register_page import added, show, verified
from interlock.register import (
    BenchName,
    Operations,
    Person,
    ProofTest,
    Register,
    append,
    create,
    load_register,
)
from interlock.register.due import Due
from interlock.register.entries import ContactorCount, FunctionTest, LogCount, LogFile, Timing
from interlock.register.shown import NOT_SHOWN
from interlock.verdict import Verdict

NOW = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)
BENCH = BenchName(id="press_2", name="Press", fingerprint="ab" * 32)


def page() -> Console:
    return Console(file=io.StringIO(), width=400, highlight=False)


def text(of: Console) -> str:
    assert isinstance(of.file, io.StringIO)
    return of.file.getvalue()


def timing(low: float, high: float | None, limit: float | None = 80.0, verdict: str = "pass") -> Timing:
    return Timing(
        effect="torque_off",
        subject="drive",
        verdict=Verdict(verdict),
        latency_ns=(int(low * 1e6), None if high is None else int(high * 1e6)),
        limit_ns=None if limit is None else int(limit * 1e6),
    )


def proof(*timings: Timing, counts: LogCount | None = None, **more: Any) -> ProofTest:
    values: dict[str, Any] = {
        "date": date(2026, 1, 1),
        "verdict": Verdict.PASS,
        "rest": Verdict.PASS,
        "functions": {"cover_stop": FunctionTest(verdict=Verdict.PASS, timings=timings)},
        "logs": (LogFile(name="run.log", sha256="cd" * 32),),
        "counts": counts,
        "software": "0",
    }
    return ProofTest(**{**values, **more})


def shown(folder: Path, content: Any, **more: Any) -> str:
    path = folder / "r.jsonl"
    create(path, now=NOW)
    register, entry = append(path, BENCH, content, now=NOW, **more)
    out = page()
    added(out, register, entry)
    return text(out)


@pytest.mark.parametrize(
    ("timings", "words"),
    [
        ([timing(1, 28.41)], "torque off at most 28.5 ms of 80 ms"),  # rounded up
        ([timing(1, 28.4)], "torque off at most 28.4 ms of 80 ms"),
        ([timing(1, 20), timing(3, 41)], "torque off at most 41 ms of 80 ms"),  # the longest
        ([timing(1, 20), timing(3, None)], "torque off without bound of 80 ms"),  # one open end opens all
        ([timing(1, 20, None)], "torque off at most 20 ms)"),
        ([timing(1, 20), timing(1, 20, 60)], "of 60 ms"),  # the tightest limit
    ],
)
def test_latencies(tmp_path, timings, words):
    assert words in shown(tmp_path, proof(*timings))


def test_a_function_without_any_latency_has_no_numbers(tmp_path):
    assert "cover_stop: pass\n" in shown(tmp_path, proof())


@pytest.mark.parametrize("verdict", ["fail", "inconclusive", "not_observed"])
def test_no_verdict_is_shown_as_another(tmp_path, verdict):
    functions = {"cover_stop": FunctionTest(verdict=Verdict(verdict), timings=())}
    said = shown(tmp_path, proof(functions=functions, verdict=Verdict(verdict)))
    assert f"proof test of 2026-01-01: {verdict.replace('_', ' ')}" in said
    assert f"cover_stop: {verdict.replace('_', ' ')}" in said
    assert "recording and all else: pass" in said


def counts(whole: bool = True, **more: Any) -> LogCount:
    one = {"openings": 2, "under_load": 1, "doubtful": 0, "whole": True, **more}
    return LogCount(demands={"cover": 3, "estop": 1}, whole=whole, contactors={"k1": ContactorCount(**one)})


@pytest.mark.parametrize(
    ("counted", "words", "doubt"),
    [
        (counts(), "k1 openings 2, of these under load 1\n", False),
        (counts(doubtful=1), "k1 openings 2, of these under load 1, 1 perhaps\n", False),
        (
            counts(whole=False),
            "demands: cover 3, estop 1; evidence is missing, there may have been more",
            True,
        ),
        (LogCount(demands={}, whole=True, contactors={}), "counted in this log alone: demands: \n", False),
    ],
)
def test_counts_of_a_log(tmp_path, counted, words, doubt):
    said = shown(tmp_path, proof(counts=counted))
    assert words in said
    assert ("there may have been more" in said) is doubt


def test_a_contactor_seen_in_part_may_have_opened_more_often(tmp_path):
    one = ContactorCount(openings=2, under_load=1, doubtful=0, whole=False)
    said = shown(tmp_path, proof(counts=LogCount(demands={}, whole=True, contactors={"k1": one})))
    assert "of these under load 1; evidence is missing, there may have been more" in said


def test_without_counts_none_are_shown(tmp_path):
    assert "counted in this log" not in shown(tmp_path, proof())


@pytest.mark.parametrize(
    ("by", "words"),
    [
        (None, "entered 2026-01-02 03:04Z, bench abababababababab…"),
        (Person(name="A. Tester"), "03:04Z by A. Tester, bench"),
        (Person(role="tester"), "03:04Z by tester, bench"),
        (Person(name="A. Tester", role="tester"), "03:04Z by A. Tester, tester, bench"),
    ],
)
def test_who_entered_it(tmp_path, by, words):
    assert words in shown(tmp_path, proof(), by=by)


def test_what_somebody_wrote_is_shown_as_it_is(tmp_path):
    """Square brackets are no markup."""
    days = {"since": date(2025, 1, 1), "until": date(2025, 6, 1)}
    count = Operations(device="k1", operations=1, load_breaks=2, source="[red]counter[/red]", **days)
    said = shown(tmp_path, count, note="[bold]see[/bold] page 3")
    assert "([red]counter[/red])" in said
    assert "note: [bold]see[/bold] page 3" in said


def register_of(folder: Path) -> Register:
    create(folder / "r.jsonl", now=NOW)
    return load_register(folder / "r.jsonl")


def test_the_hash_to_note_stands_under_everything(tmp_path):
    register = register_of(tmp_path)
    for view in (
        lambda out: show(out, register, ()),
        lambda out: added(out, register, None),
        lambda out: verified(out, "r.jsonl", register, (Verdict.PASS, (NOT_SHOWN,))),
    ):
        out = page()
        view(out)
        assert f"hash of the last line {register.sha256}" in text(out)
        assert "Note this hash in the signed report" in text(out)


def test_a_broken_register_has_no_hash_to_note():
    out = page()
    verified(out, "r.jsonl", None, (Verdict.FAIL, ("r.jsonl:2: changed",)))
    assert "r.jsonl: fail" in text(out)
    assert "hash of the last line" not in text(out)


# what is due


def due(subject: str, day: date | None, verdict: str) -> Due:
    return Due("press_2", "proof_test", subject, day, Verdict(verdict), f"because of {subject}.", "[ISO]")


def test_what_is_due_first_stands_first(tmp_path):
    items = [
        due("late", date(2027, 1, 1), "pass"),
        due("soon", date(2026, 2, 1), "inconclusive"),
        due("over", date(2025, 1, 1), "fail"),
        due("never_tested", None, "fail"),
        due("unknown", None, "inconclusive"),
    ]
    out = page()
    show_due(out, register_of(tmp_path), items, date(2026, 1, 1), None)
    heads = [line for line in text(out).splitlines() if "proof test of" in line]
    assert [line.split()[0] for line in heads] == ["at", "?", "2025-01-01", "2026-02-01", "2027-01-01"]
    assert [line.rsplit(": ", 1)[1] for line in heads] == [
        "due now",
        "cannot be said",
        "due now",
        "cannot be said",
        "not yet",
    ]
    assert "because of over. [[ISO]]" in text(out)
    assert "Verdict: fail" in text(out)
    assert "tried each channel by itself, the register does not know" in text(out)
