"""Reading the results' JSON: one clear error for each mistake, and no verdict better than its parts."""

import copy
import math
from collections.abc import Callable
from typing import Any

import pytest
from evidence_material import BENCH, CHECK, FINGERPRINT, sample
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import EvidenceError
from interlock.evidence.fields import Fields
from interlock.evidence.material import read
from interlock.interval import Interval
from interlock.verdict import Verdict, worst


def test_the_sample_is_read_whole() -> None:
    got = read(sample())
    assert len(got.findings) == 18
    assert [f.number for f in got.findings] == list(range(1, 19))
    assert got.findings[6].verdict is Verdict.FAIL
    assert got.findings[6].latency == Interval(228_000_000, 251_300_000)
    assert got.findings[17].demand is None
    assert got.demands[0].onset == Interval(6_000_000_000, 6_009_800_000)
    assert [p.label for p in got.demands[0].pictures] == [
        "enable line, drive",
        "phase current, drive",
        "speed",
    ]
    assert got.quality[0].about == "PSU_Bus.BusVoltage"
    assert got.quality[0].blinds == "bus_discharged"
    assert (got.chain_verdict, got.trace_verdict) == (Verdict.NOT_OBSERVED, Verdict.FAIL)


def test_work_that_was_not_done_is_not_observed() -> None:
    got = read(sample(check=None, replay=None))
    assert (got.chain_verdict, got.trace_verdict) == (Verdict.NOT_OBSERVED, Verdict.NOT_OBSERVED)


def changed(change: Callable[[dict[str, Any]], None]) -> str:
    replay = copy.deepcopy(dict(sample().replay or {}))
    change(replay)
    with pytest.raises(EvidenceError) as caught:
        read(sample(replay=replay))
    return str(caught.value)


def _set(path: list[str | int], value: Any) -> Callable[[dict[str, Any]], None]:
    def change(document: Any) -> None:
        for key in path[:-1]:
            document = document[key]
        document[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("path", "value", "where"),
    [
        (["verdict"], "ok", "replay.verdict"),
        (["findings"], {}, "replay.findings"),
        (["findings", 3], "x", "replay.findings[3]"),
        (["findings", 0, "verdict"], None, "replay.findings[0].verdict"),
        (["findings", 0, "verdict"], "PASS", "replay.findings[0].verdict"),
        (["findings", 0, "effect"], "", "replay.findings[0].effect"),
        (["findings", 0, "function"], 3, "replay.findings[0].function"),
        (["findings", 0, "limit_ns"], 1.5, "replay.findings[0].limit_ns"),
        (["findings", 0, "limit_ns"], True, "replay.findings[0].limit_ns"),
        (["findings", 0, "latency_ns"], [2, 1], "replay.findings[0].latency_ns"),
        (["findings", 0, "latency_ns"], [1], "replay.findings[0].latency_ns"),
        (["findings", 0, "latency_ns"], [math.nan, 1], "replay.findings[0].latency_ns"),
        (["findings", 0, "demand_ns"], [None, 1], "replay.findings[0].demand_ns"),
        (["findings", 0, "sentence"], ["x"], "replay.findings[0].sentence"),
        (["demands", 1, "onset_ns"], "soon", "replay.demands[1].onset_ns"),
        (["demands", 0, "pictures", 2, "values"], [1.0], "replay.demands[0].pictures[2]"),
        (["demands", 0, "pictures", 0, "times_ns"], ["x"] * 64, "replay.demands[0].pictures[0]"),
        (["quality", 0, "span_ns"], [5, 1], "replay.quality[0].span_ns"),
    ],
)
def test_a_mistake_is_named_by_its_place(path: list[str | int], value: Any, where: str) -> None:
    assert changed(_set(path, value)).startswith(where + ":")


@pytest.mark.parametrize("key", ["id", "name", "fingerprint"])
def test_a_bench_without_identity_gives_no_report(key: str) -> None:
    for bench in (BENCH | {key: " "}, {k: v for k, v in BENCH.items() if k != key}):
        with pytest.raises(EvidenceError, match=key):
            read(sample(bench=bench))


# honesty


def test_results_of_another_bench_are_refused() -> None:
    assert "fingerprint" in changed(_set(["bench", "fingerprint"], "ff" * 32))
    with pytest.raises(EvidenceError, match="fingerprint"):
        read(sample(check=CHECK | {"fingerprint": "ff" * 32}))
    assert read(sample(check=CHECK | {"fingerprint": FINGERPRINT}))


def test_a_log_that_changed_between_judging_and_reporting_is_refused() -> None:
    inputs = [dict(item) for item in sample().inputs]
    inputs[2]["sha256"] = "00" * 32
    for listed in (inputs, inputs[:2], []):
        with pytest.raises(EvidenceError, match="not among the inputs"):
            read(sample(inputs=listed))


verdicts = st.sampled_from(Verdict)


@given(verdicts, st.lists(verdicts, max_size=4))
def test_an_overall_verdict_is_never_better_than_its_parts(stated: Verdict, parts: list[Verdict]) -> None:
    """Also with no parts at all: nothing judged is not a pass."""
    rows = [CHECK["properties"][0] | {"verdict": str(part)} for part in parts]
    check = {"verdict": str(stated), "states": 1, "properties": rows}
    if worst([stated, worst(parts)]) is stated:
        assert read(sample(check=check)).chain_verdict is stated
    else:
        with pytest.raises(EvidenceError, match="worst of its parts"):
            read(sample(check=check))


def test_missing_values_of_a_signal_stay_missing() -> None:
    replay = copy.deepcopy(dict(sample().replay or {}))
    picture = replay["demands"][0]["pictures"][0]
    picture["values"][:3] = [None, math.nan, math.inf]
    assert read(sample(replay=replay)).demands[0].pictures[0].values[:4] == (None, None, None, 1.0)


# the reader of fields


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, ""),
        ("text", "text"),
        (7, "7"),
        (2.5, "2.5"),
        (math.nan, "not a number"),
        (True, "yes"),
        (["a", "b"], "a, b"),
        ({"line_no": 3, "file": "x.asc"}, "line no: 3, file: x.asc"),
    ],
)
def test_loose_entries_become_words(value: Any, words: str) -> None:
    assert Fields({"k": value}, "here").loose("k") == words


def test_what_is_not_json_has_no_words() -> None:
    with pytest.raises(EvidenceError, match="JSON"):
        Fields({"k": {1, 2}}, "here").loose("k")
