"""The rule for repeated stops: stated in the bench file, judged by findings of its own, never better than the stops.

How many stops the largest needs: ln(1 - confidence) / ln(share), rounded up (elementary; 29 for 90/95, 59 for 95/95,
common tables of distribution-free tolerance bounds, from memory). Normal: scipy's non-central t.
"""

import re
from math import ceil, log, sqrt
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_tape import BENCH, BENCH_FILE, heard, sound
from scipy.stats import nct, norm

from interlock.bench import Bench, parse_bench
from interlock.bench.fingerprint import fingerprint
from interlock.bench.required_models import Repeats
from interlock.errors import BenchError
from interlock.interval import Interval
from interlock.replay import Finding, document, judge_trace, replay_schema
from interlock.replay.repeat_rule import by_rule
from interlock.verdict import Verdict, worst

MS = 1_000_000
LIMIT = 100 * MS
PAGE = Path(__file__).parents[2] / "interlock" / "bench" / "DESCRIBE.md"
LARGEST = Repeats(basis="largest", source="s")
NORMAL = Repeats(basis="normal", source="s")
AT = "  functions:\n    cover_stop:"


def stop(
    low: float | None, high: float | None = None, verdict: Verdict = Verdict.PASS, effect: str = "torque_off"
) -> Finding:
    """One judged stop; milliseconds."""
    latency = None if low is None else Interval(round(low * MS), None if high is None else round(high * MS))
    return Finding("f", "drive", effect, verdict, "r", "s", "t", Interval(0, 1), latency, LIMIT)


def ruled(rule: Repeats, stops: list[Finding]) -> Finding:
    (one,) = by_rule(rule, stops)
    return one


def bench_with(line: str) -> Bench:
    text = BENCH_FILE.read_text("utf-8")
    assert AT in text
    return parse_bench("bench.yaml", text.replace(AT, f"{line}\n{AT}", 1), folder=BENCH_FILE.parent)


def test_without_a_rule_there_is_no_such_finding() -> None:
    assert list(by_rule(None, [stop(1, 2)] * 80)) == []
    assert all("_repeated" not in one.effect for one in heard(sound()).findings)


@pytest.mark.parametrize(("share", "confidence"), [(0.95, 0.95), (0.9, 0.95), (0.99, 0.95), (0.5, 0.5)])
def test_the_largest_needs_so_many_stops(share: float, confidence: float) -> None:
    needed = ceil(log(1 - confidence) / log(share))
    rule = Repeats(basis="largest", share=share, confidence=confidence, source="s")
    assert ruled(rule, [stop(10, 90)] * needed).verdict is Verdict.PASS
    if needed > 1:
        few = ruled(rule, [stop(10, 90)] * (needed - 1))
        assert few.verdict is Verdict.INCONCLUSIVE
        assert f"{needed - 1} stops, but {needed} are needed" in few.sentence


@pytest.mark.parametrize("above", [False, True])
def test_the_normal_bound_decides(above: bool) -> None:
    """Ten stops whose mean + k s lies just within the limit, or just above it: k by the non-central t."""
    spread = np.array([-3, -2, -1.5, -1, -0.5, 0.5, 1, 1.5, 2, 3])
    k = float(nct.ppf(0.95, 9, norm.ppf(0.95) * sqrt(10))) / sqrt(10)
    mean = 100 - k * float(np.std(spread, ddof=1)) + (0.01 if above else -0.01)
    found = ruled(NORMAL, [stop(mean + v, mean + v) for v in spread])
    assert found.verdict is (Verdict.INCONCLUSIVE if above else Verdict.PASS)
    assert ("above the limit" in found.sentence) is above


def test_stops_that_are_not_normal_have_no_normal_bound() -> None:
    skewed = [stop(v, v) for v in (1, 1.1, 1.2, 1.1, 1.3, 1.2, 1.1, 1.2, 1.1, 40)]
    found = ruled(NORMAL, skewed)
    assert found.verdict is Verdict.INCONCLUSIVE
    assert "the stops are not normal (Shapiro-Wilk" in found.sentence


@pytest.mark.parametrize("rule", [LARGEST, NORMAL], ids=["largest", "normal"])
@pytest.mark.parametrize(
    ("odd", "verdict"),
    [
        (stop(101, 102, Verdict.FAIL), Verdict.FAIL),
        (stop(1, 2, Verdict.FAIL), Verdict.FAIL),
        (stop(90, 101, Verdict.INCONCLUSIVE), Verdict.INCONCLUSIVE),
        (stop(1, 2, Verdict.INCONCLUSIVE), Verdict.INCONCLUSIVE),
        (stop(5, None, Verdict.INCONCLUSIVE), Verdict.INCONCLUSIVE),
        (stop(None, None, Verdict.INCONCLUSIVE), Verdict.INCONCLUSIVE),
        (stop(None, None, Verdict.PASS), Verdict.INCONCLUSIVE),
    ],
    ids=["too_long", "failed", "wide", "in_doubt", "open", "untimed", "untimed_pass"],
)
def test_one_odd_stop_among_eighty_is_never_a_pass(rule: Repeats, odd: Finding, verdict: Verdict) -> None:
    good = [stop(v, v) for v in np.random.default_rng(1).normal(20, 2, 80)]
    assert ruled(rule, good).verdict is Verdict.PASS
    assert ruled(rule, [*good[:40], odd, *good[40:]]).verdict is verdict


@given(
    st.lists(
        st.builds(
            stop,
            st.none() | st.floats(0, 120),
            st.none(),
            st.sampled_from(list(Verdict)),
        ),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from(["largest", "normal"]),
)
def test_the_rule_never_makes_it_better(stops: list[Finding], basis: str) -> None:
    rule = Repeats(basis=basis, share=0.5, confidence=0.5, source="s")
    found = ruled(rule, stops)
    together = worst([found.verdict, *(one.verdict for one in stops)])
    assert together in {found.verdict, Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}
    if found.verdict is Verdict.PASS:
        assert {one.verdict for one in stops} == {Verdict.PASS}


@pytest.mark.parametrize(
    ("chain_ms", "verdict"), [(0, Verdict.PASS), (10, Verdict.PASS), (10.1, Verdict.INCONCLUSIVE)]
)
def test_the_bound_keeps_clear_of_the_limit_by_the_stated_measuring_chain(
    chain_ms: float, verdict: Verdict
) -> None:
    """Ten stops whose mean + k s is 90 ms: k by the non-central t. 100 ms allowed."""
    spread = np.array([-3, -2, -1.5, -1, -0.5, 0.5, 1, 1.5, 2, 3])
    k = float(nct.ppf(0.95, 9, norm.ppf(0.95) * sqrt(10))) / sqrt(10)
    mean = 89.99 - k * float(np.std(spread, ddof=1))
    stops = [stop(mean + v, mean + v) for v in spread]
    (found,) = by_rule(NORMAL, stops, round(chain_ms * MS))
    assert found.verdict is verdict
    assert found.limit_ns == LIMIT


def test_each_effect_of_each_function_is_judged_apart() -> None:
    found = list(by_rule(LARGEST, [stop(1, 2), stop(1, 2, effect="standstill"), stop(3, 4)]))
    assert [one.effect for one in found] == ["torque_off_repeated", "standstill_repeated"]
    assert all(one.demand is None and one.latency is None and one.source == "s" for one in found)
    assert found[0].requirement == (
        "torque off within 100 ms in 95 % of all such stops with 95 % confidence, "
        "by the largest of enough stops, whatever their distribution"
    )


def test_a_sound_log_of_six_stops_does_not_bound_95_percent() -> None:
    """Should fail: each stop passes, the log alone would pass; too few for the rule that the bench states."""
    bench = bench_with("  repeats: {basis: largest, source: the bench's engineer}")
    judgement = judge_trace(bench, sound().trace())
    told = [one for one in judgement.findings if one.effect.endswith("_repeated")]
    assert judgement.verdict is Verdict.INCONCLUSIVE
    assert {one.verdict for one in told} == {Verdict.INCONCLUSIVE}
    assert {one.verdict for one in judgement.findings if one not in told} == {Verdict.PASS}
    assert any("3 stops, but 59 are needed" in one.sentence for one in told)
    schema = replay_schema()
    rows = {"$defs": schema["$defs"], **schema["properties"]["findings"]}
    jsonschema.validate(document(judgement, "0" * 64)["findings"], rows, jsonschema.Draft202012Validator)


def test_a_rule_that_so_few_stops_can_meet_is_met() -> None:
    bench = bench_with(
        "  repeats: {basis: largest, share: 0.5, confidence: 0.5, source: the bench's engineer}"
    )
    assert judge_trace(bench, sound().trace()).verdict is Verdict.PASS


def test_the_example_of_the_page_is_read_and_counts_as_content() -> None:
    [line] = re.findall(r"<!-- rule: repeats -->\n```yaml\n(.*?)\n```", PAGE.read_text("utf-8"), re.DOTALL)
    bench = bench_with(line)
    assert bench.required.repeats == Repeats(
        basis="largest", share=0.9, confidence=0.95, source="risk assessment, item 11"
    )
    assert fingerprint(bench) != fingerprint(BENCH)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("{basis: mean, source: s}", "'mean' is none of the choices"),
        (
            "{basis: largest, share: 95, source: s}",
            "'95' is no share; write 0.5 to 0.999, such as 0.95 for 95 %",
        ),
        ("{basis: largest, confidence: 1.0, source: s}", "'1.0' is no share"),
        ("{basis: largest, share: 0.3, source: s}", "'0.3' is no share"),
        ("{basis: largest, share: .nan, source: s}", "no finite number"),
        ("{basis: largest}", "missing entry 'source'"),
        ("{basis: largest, size: 3, source: s}", "unknown key 'size'"),
    ],
)
def test_what_is_no_rule_is_refused_with_its_place(entry: str, said: str) -> None:
    with pytest.raises(BenchError, match=r"bench\.yaml:\d+:\d+") as refused:
        bench_with(f"  repeats: {entry}")
    assert said in str(refused.value)
