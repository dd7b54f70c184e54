"""The vectorised monitor against a naive one that knows the truth, and against every truth the samples allow."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timing_monitor_truth import naive_latencies, truth

from interlock.interval import Interval
from interlock.timing.inputs import TimingError
from interlock.timing.monitor import NEVER, respond
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track
from interlock.verdict import Verdict

EXACT = Clock(0, 0, 0)
MARKS = {"0": NO, "1": YES, "?": UNKNOWN, "x": BLIND}


def track(marks: str, stamps=None, clock=EXACT, name="a") -> Track:
    """One sample a mark: 0, 1, ? (near the bound) or x (no evidence); every 10 ns unless stamps are given."""
    times = np.arange(len(marks)) * 10 if stamps is None else stamps
    states = np.array([MARKS[mark] for mark in marks], dtype=np.int8)
    return Track(name, name, np.asarray(times, dtype=np.int64), states, clock)


def outcome(trigger, answer, within):
    return respond(track(trigger), track(answer), within)


def test_one_rise_by_hand() -> None:
    """Rise in (10, 20], answer begun in (30, 40]: 10 to 30 ns."""
    found = outcome("00111111", "00001111", 30)
    assert (found.rise_lo.tolist(), found.rise_hi.tolist()) == ([10], [20])
    assert found.latencies() == (Interval(10, 30),)
    assert found.verdict() is Verdict.PASS


def test_one_sample_of_an_answer_is_enough() -> None:
    """Rise in (10, 20], the answer shown at 20 alone: it came at the rise or up to 10 ns after it."""
    assert outcome("001111", "001000", 10).latencies() == (Interval(0, 10),)


@pytest.mark.parametrize(
    ("within", "verdict"),
    [(30, Verdict.PASS), (29, Verdict.INCONCLUSIVE), (10, Verdict.INCONCLUSIVE), (9, Verdict.FAIL)],
)
def test_the_verdict_turns_at_the_bounds(within, verdict) -> None:
    assert outcome("00111111", "00001111", within).verdict() is verdict


@pytest.mark.parametrize(
    ("trigger", "answer", "verdict"),
    [
        ("0011", "1111", Verdict.PASS),  # answered already
        ("0011", "0000", Verdict.INCONCLUSIVE),  # the log ends before the time is over
        ("00111111111", "00000000000", Verdict.FAIL),
        ("0000", "0000", Verdict.NOT_OBSERVED),
        ("1111", "0000", Verdict.NOT_OBSERVED),  # it rose before the log began, if ever
        ("0011111111111", "00000??111111", Verdict.INCONCLUSIVE),
        ("0011111111111", "0000xx0000000", Verdict.INCONCLUSIVE),  # an answer may be hidden
        ("0011111111111", "00001x0000000", Verdict.PASS),
        ("00?1111111111", "0001111111111", Verdict.PASS),
        ("00x0000000000", "0000000000000", Verdict.INCONCLUSIVE),  # a rise may be hidden
        ("00x0000000000", "1111111111111", Verdict.NOT_OBSERVED),  # it would have been answered
        ("0100000010000", "0011111000000", Verdict.FAIL),  # the second rise is not
        ("??00", "1111", Verdict.NOT_OBSERVED),
        ("00??", "0000", Verdict.INCONCLUSIVE),
        ("", "0000", Verdict.NOT_OBSERVED),
        ("0011", "", Verdict.INCONCLUSIVE),
        ("?", "0", Verdict.INCONCLUSIVE),
    ],
)
def test_cases(trigger, answer, verdict) -> None:
    assert outcome(trigger, answer, 30).verdict() is verdict


def test_each_rise_is_told_apart() -> None:
    found = outcome("0100000010000", "0011111000000", 30)
    assert found.answered.tolist() == [YES, NO]
    assert found.certain.tolist() == [True, True]
    assert found.latencies() == (Interval(0, 20), Interval(40, None))


def test_a_possible_rise_cannot_fail() -> None:
    found = outcome("0x000000000", "00000000000", 30)
    assert found.certain.tolist() == [False]
    assert found.answered.tolist() == [UNKNOWN]
    assert found.latencies() == ()


def test_delays_of_stamps_widen_both_bounds() -> None:
    """Samples taken 2 to 5 ns before their stamp, known to 1 ns."""
    clock = Clock(2, 5, 1)
    found = respond(track("0011111", clock=clock), track("0000111", clock=clock), 1000)
    assert (found.rise_lo.tolist(), found.rise_hi.tolist()) == ([10 - 6], [20 - 1])
    assert found.latencies() == (Interval((30 - 6) - (20 - 1), (40 - 1) - (10 - 6)),)


def test_a_million_samples_at_once() -> None:
    """2000 rises, each answered 20 to 21 samples later."""
    states = (np.arange(1_000_000) // 250 % 2).astype(np.int8)
    stamps = np.arange(1_000_000) * 1_000_000
    trigger = Track("a", "a", stamps, states, EXACT)
    answer = Track("b", "b", stamps, np.roll(states, 20), EXACT)
    found = respond(trigger, answer, 21_000_000)
    assert len(found.certain) == 2000
    assert set(found.latencies()) == {Interval(19_000_000, 21_000_000)}
    assert found.verdict() is Verdict.PASS


def check(seed, within) -> Verdict:
    world = truth(seed)
    found = respond(world.trigger, world.answer, within)
    rows = list(
        zip(found.rise_lo, found.rise_hi, found.latency_lo, found.latency_hi, found.answered, strict=True)
    )
    verdict = found.verdict()
    for rise, latency in zip(world.rises, naive_latencies(world.rises, world.spans, world.end), strict=True):
        real = [row for row in rows if row[0] <= rise <= row[1]]
        late = latency is not None and latency > within
        if not real:  # before the first or after the last sample of the trigger: not in the log
            continue
        for _, _, least, most, said in real:
            assert latency is None or least <= latency
            assert most == NEVER or (latency is not None and latency <= most)
            assert not (said == YES and (late or latency is None))
        if verdict is Verdict.PASS:
            assert latency is not None
            assert latency <= within
    if verdict is Verdict.FAIL:
        cut = naive_latencies(world.rises, world.spans, world.end)
        assert any(wait is None or wait > within for wait in cut)
    return verdict


@settings(max_examples=400)
@given(st.integers(0, 2**31), st.integers(0, 400_000))
def test_never_claims_what_the_truth_refutes(seed, within) -> None:
    check(seed, within)


def test_every_verdict_is_reached() -> None:
    assert {check(seed, 100_000) for seed in range(400)} == set(Verdict)


def consistent(states) -> list[tuple[int, ...]]:
    """Every truth at six half-steps between and at samples that agrees with the known ones.

    Sampled at even places; between neighbouring known samples at most one change, elsewhere anything.
    """
    size = 2 * len(states) - 1
    known = {2 * i: state for i, state in enumerate(states) if state >= NO}
    found = []
    for bits in product((0, 1), repeat=size):
        if any(bits[at] != state for at, state in known.items()):
            continue
        gaps = [(i, i + 2) for i in range(0, size - 2, 2) if i in known and i + 2 in known]
        if all(not (bits[low] == bits[high] != bits[low + 1]) for low, high in gaps):
            found.append(bits)
    return found


def refuted_by(a, b, within) -> bool | None:
    """Whether a rise of `a` has no answer within so many half-steps; None if the end comes first or none rises."""
    verdict: bool | None = None
    for at in range(1, len(a)):
        if a[at] and not a[at - 1]:
            window = b[at : at + within + 1]
            if any(window):
                verdict = False if verdict is None else verdict
            elif at + within < len(b):
                return True
            else:
                return None
    return verdict


@pytest.mark.parametrize("within", [0, 1, 2, 3])
def test_against_every_truth_that_the_samples_allow(within) -> None:
    """All 81 · 81 pairs of four samples, each of 0, 1 and unknown: no pass that one truth refutes, no wrong fail."""
    tracks = list(product((NO, YES, UNKNOWN), repeat=4))
    truths = {states: consistent(states) for states in tracks}
    random = np.random.default_rng(within)
    passed = 0
    for trigger, answer in ((tracks[i], tracks[j]) for i, j in random.integers(81, size=(400, 2))):
        found = respond(
            *(Track("t", "t", np.arange(4) * 2, np.array(s, np.int8), EXACT) for s in (trigger, answer)),
            within,
        )
        verdict = found.verdict()
        if verdict is Verdict.INCONCLUSIVE:
            continue
        outcomes = {refuted_by(a, b, within) for a in truths[trigger] for b in truths[answer]}
        if verdict is Verdict.PASS:
            passed += 1
            assert outcomes == {False}
        elif verdict is Verdict.FAIL:
            assert False not in outcomes
        else:
            assert True not in outcomes
    assert passed > 0 or within < 2


@given(
    st.text("01?x", min_size=1, max_size=20), st.text("01?x", min_size=1, max_size=20), st.integers(0, 100)
)
def test_less_evidence_never_decides_otherwise(trigger, answer, within) -> None:
    """Samples that become unknown turn pass or fail into nothing but inconclusive or not observed."""
    full = outcome(trigger, answer, within).verdict()
    for i in range(min(len(trigger), len(answer))):
        fewer = (trigger[:i] + "?" + trigger[i + 1 :], answer[:i] + "?" + answer[i + 1 :])
        for one in ((fewer[0], answer), (trigger, fewer[1]), fewer):
            less = outcome(*one, within).verdict()
            assert less in {full, Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED} or full in {
                Verdict.NOT_OBSERVED,
                Verdict.INCONCLUSIVE,
            }


@given(st.text("01?x", max_size=20), st.text("01?x", max_size=20), st.integers(0, 100), st.integers(0, 100))
def test_more_time_never_fails_more(trigger, answer, within, more) -> None:
    tight, loose = outcome(trigger, answer, within), outcome(trigger, answer, within + more)
    assert ((loose.answered == YES) | (tight.answered != YES)).all()
    assert ((tight.answered == NO) | (loose.answered != NO)).all()


def test_odd_limits() -> None:
    for bad in (-1, 1.5, None):
        with pytest.raises(TimingError, match="within_ns"):
            outcome("01", "01", bad)
