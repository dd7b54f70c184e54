"""The stated decision rule on findings: it makes none milder; its table says of each kind the time that fares worst.

JCGM 106:2012, 8.3 (acceptance up to limit - w), with the worked figures of the project's reference: limit 200 ms,
u 4.5 ms, so U 9 ms: 191 ms is accepted by a guard band w = U and carries 2.28 %, 200 ms by simple acceptance and 50 %.
Bounded errors as a rectangular distribution: JCGM 100:2008, 4.3.7.
"""

import re
from dataclasses import replace
from math import sqrt
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_coasts import judged_sound
from replay_tape import BENCH, BENCH_FILE, heard, sound

from interlock.bench import Bench, parse_bench
from interlock.bench.fingerprint import fingerprint
from interlock.bench.required_models import Decision
from interlock.errors import BenchError
from interlock.interval import Interval
from interlock.replay import Finding, document, judge_trace, replay_schema
from interlock.replay.coasting import coast_downs
from interlock.replay.decided import decided
from interlock.replay.decision_rule import by_decision
from interlock.timing.rule import GUARDED, SIMPLE
from interlock.verdict import Verdict, worst

MS = 1_000_000
LIMIT = 200 * MS
PAGE = Path(__file__).parents[2] / "interlock" / "bench" / "DESCRIBE.md"
AT = "  functions:\n    cover_stop:"


def ruled_by(name: str, chain_ms: float = 0.0) -> Decision:
    return Decision(rule=name, measuring_chain=f"{chain_ms:g} ms", source="item 12")


def timed(
    low: float, high: float | None, verdict: Verdict = Verdict.PASS, effect: str = "torque_off"
) -> Finding:
    """One judged stop; milliseconds."""
    span = Interval(round(low * MS), None if high is None else round(high * MS))
    return Finding("f", "drive", effect, verdict, "r", "s", "It took so long.", Interval(0, 1), span, LIMIT)


def one_by(stated: Decision | None, finding: Finding) -> Finding:
    (found,) = by_decision(stated, [finding])
    return found


@pytest.mark.parametrize(
    ("name", "at_ms", "verdict"),
    [
        ("guard band", 191.0, Verdict.PASS),
        ("guard band", 191.001, Verdict.INCONCLUSIVE),
        ("simple acceptance", 191.0, Verdict.PASS),
        ("simple acceptance", 191.001, Verdict.INCONCLUSIVE),  # 200.001 with the chain: not wholly within
    ],
)
def test_a_time_known_but_for_its_measuring_chain(name, at_ms, verdict) -> None:
    """U 9 ms by the chain alone. What lies above the limit at 95 % passes by neither rule."""
    found = one_by(ruled_by(name, 9.0), timed(at_ms, at_ms))
    assert found.verdict is verdict
    assert ("[item 12]" in found.sentence) is (verdict is not Verdict.PASS)


def test_a_guard_band_asks_for_more_than_the_interval_alone() -> None:
    """Half width a = 10 ms: U = 2 a/sqrt(3) = 11.547 ms, so middles are accepted up to 188.453 ms, not up to 190."""
    edge = 200 - 20 / sqrt(3)
    assert edge == pytest.approx(188.453, abs=1e-3)
    guarded, simple = ruled_by("guard band"), ruled_by("simple acceptance")
    for middle, verdict in ((edge - 0.001, Verdict.PASS), (edge + 0.001, Verdict.INCONCLUSIVE)):
        found = timed(middle - 10, middle + 10)
        assert one_by(guarded, found).verdict is verdict
        assert one_by(simple, found) == found
        assert one_by(None, found) == found
    said = one_by(guarded, timed(179.5, 199.5)).sentence
    assert said.startswith(
        "It took so long. But the stated guard band accepts 189.5 ms up to 188.5 ms only (U 11.5 ms)"
    )


@pytest.mark.parametrize("name", ["simple acceptance", "guard band"])
@pytest.mark.parametrize(
    "finding",
    [
        timed(
            150, 250, Verdict.INCONCLUSIVE
        ),  # simple acceptance alone would take its middle, right at the limit
        timed(100, 210, Verdict.INCONCLUSIVE),
        timed(201, 202, Verdict.FAIL),
        timed(1, 2, Verdict.FAIL),
        timed(1, None, Verdict.INCONCLUSIVE),
        replace(timed(1, 2, Verdict.NOT_OBSERVED), latency=None),
        replace(timed(1, 2), limit_ns=None),
    ],
)
def test_what_is_no_pass_or_has_no_limit_stays_as_it_is(name, finding) -> None:
    assert one_by(ruled_by(name, 5.0), finding) == finding


@given(
    low=st.integers(0, 260),
    wide=st.integers(0, 60) | st.none(),
    verdict=st.sampled_from(list(Verdict)),
    name=st.sampled_from(["simple acceptance", "guard band"]),
    chain=st.integers(0, 50),
)
def test_no_rule_makes_a_finding_milder(low, wide, verdict, name, chain) -> None:
    finding = timed(low, None if wide is None else low + wide, verdict)
    found = one_by(ruled_by(name, chain), finding)
    assert worst([found.verdict, finding.verdict]) is found.verdict
    if finding.verdict is not Verdict.PASS:
        assert found == finding
    if found.verdict is Verdict.PASS and wide is not None:
        assert low + wide + chain <= 200


@given(low=st.integers(0, 210), wide=st.integers(0, 60), chain=st.integers(0, 40), more=st.integers(0, 40))
def test_stricter_rules_and_longer_chains_never_pass_more(low, wide, chain, more) -> None:
    finding = timed(low, low + wide)
    passed = {
        (name, ms): one_by(ruled_by(name, ms), finding).verdict is Verdict.PASS
        for name in ("simple acceptance", "guard band")
        for ms in (chain, chain + more)
    }
    for ms in (chain, chain + more):
        assert passed["simple acceptance", ms] or not passed["guard band", ms]
    for name in ("simple acceptance", "guard band"):
        assert passed[name, chain] or not passed[name, chain + more]


def test_the_table_shows_the_time_that_fares_worst_of_each_kind() -> None:
    stops = [timed(10, 20), timed(150, 199), timed(195, 199.5), timed(5, 6, effect="standstill")]
    torque, still = decided(None, stops)
    assert (torque.what, torque.count, torque.measured) == ("torque_off", 3, Interval(150 * MS, 199 * MS))
    assert (still.what, still.count) == ("standstill", 1)
    assert (torque.accepted(SIMPLE), torque.accepted(GUARDED), torque.whole) == (True, False, True)
    open_end = decided(None, [*stops, timed(1, None, Verdict.INCONCLUSIVE)])[0]
    assert (open_end.figures, open_end.whole, open_end.accepted(SIMPLE)) == (None, False, None)
    assert open_end.as_json()["false_acceptance"] is None


def test_where_simple_acceptance_would_take_less_than_the_interval_proves_the_interval_decides() -> None:
    """Should fail: middle 190 of 150 to 230 ms. Accepted by the rule with a risk of 3 in 8, and inconclusive here."""
    stated, finding = ruled_by("simple acceptance"), timed(150, 230, Verdict.INCONCLUSIVE)
    (row,) = decided(stated, by_decision(stated, [finding]))
    assert (row.accepted(SIMPLE), row.whole, row.by) == (True, False, "whole interval")
    assert row.as_json()["false_acceptance"] == pytest.approx(30 / 80)
    (within,) = decided(stated, [timed(150, 190)])
    assert (within.by, within.as_json()["false_acceptance"]) == ("simple acceptance", 0.0)


@pytest.mark.parametrize(("at_ms", "risk"), [(191.0, 0.0228), (190.0, 0.0131), (200.0, 0.5)])
def test_worked_risks(at_ms, risk) -> None:
    """JCGM 106, reference figures 7.13 to 7.15: 97.72 %, 98.69 % and 50 % conforming at u 4.5 ms."""
    (row,) = decided(ruled_by("guard band", 9.0), [timed(at_ms, at_ms)])
    assert row.as_json()["false_acceptance"] == pytest.approx(risk, abs=1e-4)
    assert row.as_json()["expanded_uncertainty_ns"] == 9 * MS
    most = row.as_json()["largest_false_acceptance"]
    assert most == {"simple acceptance": 0.5, "guard band": pytest.approx(0.02275, abs=1e-5)}


def bench_with(line: str) -> Bench:
    text = BENCH_FILE.read_text("utf-8")
    assert AT in text
    return parse_bench("bench.yaml", text.replace(AT, f"{line}\n{AT}", 1), folder=BENCH_FILE.parent)


def test_the_example_of_the_page_is_read_and_is_part_of_the_fingerprint() -> None:
    [line] = re.findall(r"<!-- rule: decision -->\n```yaml\n(.*?)\n```", PAGE.read_text("utf-8"), re.DOTALL)
    found = bench_with(line)
    assert found.required.decision == Decision(
        rule="guard band", measuring_chain="1 ms", source="risk assessment, item 12"
    )
    assert fingerprint(found) != fingerprint(BENCH)


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        ("{rule: guard_band, source: s}", "rule"),
        ("{rule: guard band, measuring_chain: -1 ms, source: s}", "negative"),
        ("{rule: guard band, measuring_chain: 1, source: s}", "no unit"),
        ("{rule: guard band}", "source"),
        ("{source: s}", "rule"),
    ],
)
def test_a_rule_that_is_none_is_told_at_its_place(entry, why) -> None:
    with pytest.raises(BenchError, match=why) as told:
        bench_with(f"  decision: {entry}")
    assert re.search(r"bench\.yaml:\d+:\d+: ", str(told.value))


def test_a_stated_rule_runs_through_the_whole_judgement() -> None:
    """The sound log passes by both rules; with a chain that reaches beyond the least limit it is inconclusive."""
    strict = bench_with('  decision: {rule: guard band, measuring_chain: 60 ms, source: "item 12"}')
    mild = bench_with('  decision: {rule: guard band, source: "item 12"}')
    trace = sound().trace()
    assert judge_trace(mild, trace).verdict is Verdict.PASS
    found = judge_trace(strict, trace)
    assert found.verdict is Verdict.INCONCLUSIVE
    barred = [one for one in found.findings if one.verdict is not Verdict.PASS]
    assert barred
    assert all(one.limit_ns is not None and "[item 12]" in one.sentence for one in barred)


def test_a_prediction_is_wider_by_the_measuring_chain() -> None:
    plain = coast_downs(judged_sound())
    wide = coast_downs(
        judge_trace(
            bench_with("  decision: {rule: guard band, measuring_chain: 60 ms, source: s}"), sound().trace()
        )
    )
    for before, after in zip(plain, wide, strict=True):
        assert (after.taken.lo, after.taken.hi) == (before.taken.lo - 60 * MS, before.taken.hi + 60 * MS)


def test_the_document_keeps_to_its_schema() -> None:
    whole = replay_schema()
    bench = bench_with("  decision: {rule: guard band, measuring_chain: 1 ms, source: s}")
    for judgement in (heard(sound()), judge_trace(bench, sound().trace())):
        made = document(judgement, "0" * 64)
        for name in ("decision", "decisions", "discharges"):
            part = {"$defs": whole["$defs"], **whole["properties"][name]}
            jsonschema.validate(made[name], part, jsonschema.Draft202012Validator)
        rows = whole["properties"]["decisions"]["items"]
        assert made["decisions"]
        assert all(set(one) == set(rows["required"]) == set(rows["properties"]) for one in made["decisions"])
    assert made["decision"] == {"rule": "guard band", "measuring_chain_ns": MS, "source": "s"}
    assert made["decisions"][-1]["what"] == "discharge_from_highest_voltage"
