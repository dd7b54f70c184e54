"""A judged log as an entry: nothing better than its findings, the right bench, the right day, each log by its hash."""

import json
from datetime import date
from typing import Any

import jsonschema
import pytest

from interlock.cautions import CAUTIONS
from interlock.errors import RegisterError
from interlock.register.judged import proof_test
from interlock.replay import replay_schema
from interlock.verdict import Verdict

FUNCTIONS = {"cover_stop": None, "button_stop": None}


def finding(function: str, effect: str, verdict: str, latency: list | None = None) -> dict[str, Any]:
    return {
        "function": function,
        "subject": "drive",
        "effect": effect,
        "verdict": verdict,
        "demand_ns": [0, 5],
        "latency_ns": latency,
        "limit_ns": None if latency is None else 80_000_000,
        "requirement": "r",
        "source": "s",
        "sentence": "x",
    }


def result(*findings: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A result as replay prints one; held against its published schema."""
    worst = next(
        (v for v in ("fail", "inconclusive", "not_observed") if v in [f["verdict"] for f in findings]), "pass"
    )
    document = {
        "schema": "interlock replay 1",
        "software": "0.1.0",
        "verdict": worst,
        "bench": {"id": "press_2", "name": "Press", "place": "hall", "fingerprint": "a" * 64},
        "trace_start": "2025-03-02T23:59:59.000000000Z",
        "duration_ns": 5,
        "sources": [
            {
                "path": path,
                "sha256": digit * 64,
                "format": "candump",
                "lines_or_objects": 1,
                "frames": 1,
                "non_frames": 0,
                "rejected": 0,
            }
            for path, digit in (("C:\\logs\\one.log", "1"), ("runs/two.log", "2"))
        ],
        "notes": [],
        "demands": [],
        "findings": list(findings),
        "quality": [],
        "cautions": list(CAUTIONS),
        **more,
    }
    schema = replay_schema()
    for name in schema["required"]:  # lists that say nothing of a verdict stay empty
        document.setdefault(name, [])
    jsonschema.validate(document, schema)
    return document


SOUND = (
    finding("cover_stop", "torque_off", "pass", [1_000_000, 30_000_000]),
    finding("cover_stop", "torque_off", "pass", [2_000_000, 41_000_000]),
    finding("cover_stop", "stays_off", "pass"),
    finding("button_stop", "torque_off", "pass", [1_000_000, 30_000_000]),
    finding("recording", "data_complete", "pass"),
)


def entry(document: dict[str, Any], **more: Any):
    return proof_test("result.json", json.dumps(document), FUNCTIONS, **more)


def test_a_sound_test_is_kept_with_its_intervals_and_logs() -> None:
    bench, test = entry(result(*SOUND))
    assert (bench.id, bench.fingerprint) == ("press_2", "a" * 64)
    assert (test.verdict, test.rest) == (Verdict.PASS, Verdict.PASS)
    assert [one.latency_ns for one in test.functions["cover_stop"].timings] == [
        (1_000_000, 30_000_000),
        (2_000_000, 41_000_000),
    ]
    assert [(log.name, log.sha256[0]) for log in test.logs] == [("one.log", "1"), ("two.log", "2")]
    assert test.date == date(2025, 3, 2)
    assert test.counts is None


def test_a_latency_without_upper_bound_stays_without() -> None:
    _, test = entry(result(finding("cover_stop", "torque_off", "fail", [90_000_000, None])))
    assert test.functions["cover_stop"].timings[0].latency_ns == (90_000_000, None)


@pytest.mark.parametrize("verdict", ["fail", "inconclusive", "not_observed"])
def test_each_function_has_the_worst_of_its_own_findings(verdict) -> None:
    _, test = entry(result(*SOUND, finding("cover_stop", "restart", verdict)))
    assert test.functions["cover_stop"].verdict == verdict
    assert test.functions["button_stop"].verdict is Verdict.PASS
    assert (test.verdict, test.rest) == (verdict, Verdict.PASS)


@pytest.mark.parametrize("function", ["recording", "bench", "unheard_of"])
def test_what_belongs_to_no_function_is_the_rest(function) -> None:
    _, test = entry(result(*SOUND, finding(function, "explained", "fail")))
    assert {one.verdict for one in test.functions.values()} == {Verdict.PASS}
    assert (test.verdict, test.rest) == (Verdict.FAIL, Verdict.FAIL)


def test_a_required_function_without_any_finding_was_not_observed() -> None:
    _, test = entry(result(SOUND[0], SOUND[-1]))
    assert test.functions["button_stop"].verdict is Verdict.NOT_OBSERVED


def test_a_result_without_a_word_on_the_recording_is_no_evidence_of_it() -> None:
    _, test = entry(result(*SOUND[:-1]))
    assert test.rest is Verdict.NOT_OBSERVED


@pytest.mark.parametrize("stated", ["pass", "not_observed"])
def test_a_result_better_than_its_findings_is_refused(stated) -> None:
    document = result(*SOUND, finding("cover_stop", "restart", "inconclusive"))
    with pytest.raises(RegisterError, match=f"states {stated}, its findings give inconclusive"):
        entry({**document, "verdict": stated})


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        ({"schema": "interlock rate 1"}, "'schema'"),
        ({"findings": []}, "'findings'"),
        ({"sources": []}, "'sources'"),
        ({"verdict": "passed"}, "'verdict'"),
        ({"bench": {"id": "x"}}, "'bench.name'"),
    ],
)
def test_what_is_no_result_is_one_clear_error(spoil, says) -> None:
    with pytest.raises(RegisterError, match="give what interlock replay --json prints") as error:
        entry({**result(*SOUND), **spoil})
    assert says in str(error.value)


def test_what_is_no_json_is_one_clear_error() -> None:
    with pytest.raises(RegisterError, match="no result of replay"):
        proof_test("r.json", "(0.1) can0 120#00", FUNCTIONS)


# the day


@pytest.mark.parametrize("day", ["2025-03-01", "2025-03-02", "2025-03-03"])
def test_the_day_may_be_that_of_another_zone(day) -> None:
    assert entry(result(*SOUND), day=date.fromisoformat(day))[1].date.isoformat() == day


@pytest.mark.parametrize("day", ["2025-02-28", "2025-03-04", "2026-03-02"])
def test_a_day_that_is_not_the_logs_own_is_refused(day) -> None:
    with pytest.raises(RegisterError, match="by its stamps the log is of 2025-03-02"):
        entry(result(*SOUND), day=date.fromisoformat(day))


def test_a_log_without_date_needs_one() -> None:
    dateless = result(*SOUND, trace_start=None)
    with pytest.raises(RegisterError, match="--date"):
        entry(dateless)
    assert entry(dateless, day=date(2025, 4, 1))[1].date == date(2025, 4, 1)


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("trace_start", "yesterday"),
        ("trace_start", "2025-02-30T00:00:00Z"),
        ("software", ""),
        ("bench", {"id": "", "name": "Press", "fingerprint": "a" * 64}),
        ("bench", {"id": "press_2", "name": "Press", "fingerprint": "zz"}),
        ("sources", [{"path": "one.log", "sha256": "1"}]),
        ("sources", [{"path": "", "sha256": "1" * 64}]),
    ],
    ids=["no_day", "no_such_day", "no_software", "no_bench", "no_fingerprint", "no_hash", "no_path"],
)
def test_an_entry_that_the_register_could_not_hold_is_one_clear_error(where, value) -> None:
    text = json.dumps({**result(finding("cover_stop", "torque_off", "pass")), where: value})
    with pytest.raises(RegisterError, match=r"^here: .*make|^here: no result of replay: "):
        proof_test("here", text, FUNCTIONS)
