"""When a condition ended for good: against a slow oracle, against the truth, and as tight as the stamps allow."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timing_worlds import MS, Truth, clock_of, contents, thinned, track_of

from interlock.interval import Interval, delay
from interlock.timing.decision import judge
from interlock.timing.edges import changes
from interlock.timing.settle import Settled, Window, settled
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track
from interlock.verdict import Verdict

EXACT = Clock(0, 0, 0)


def track(states: list[int], clock: Clock = EXACT, step: int = 10) -> Track:
    return Track("t", "M", np.arange(len(states)) * step, np.array(states, dtype=np.int8), clock)


@dataclass
class Sample:
    """One frame as the oracle sees it: the bounds of its content, and its state."""

    lo: int
    hi: int
    stamp: int
    state: int


def oracle(shown: Track, window: Window) -> Settled:
    """By the definition, frame by frame, with no array in it."""
    frames = [
        Sample(shown.clock.sampled(int(t)).lo, shown.clock.sampled(int(t)).hi or 0, int(t), int(s))
        for t, s in zip(shown.stamps_ns, shown.states, strict=True)
    ]
    earlier = [k for k, one in enumerate(frames) if one.hi <= window.onset.lo]
    begin = earlier[-1] if earlier else 0
    inside = [
        one
        for k, one in enumerate(frames)
        if k in earlier[-1:] or (k >= begin and (window.end is None or one.hi < window.end.lo))
    ]
    before = frames[earlier[-1]].state if earlier else BLIND
    lo = window.onset.lo
    at = Interval(lo, lo if before == NO else (max(lo, inside[0].hi) if inside else None))
    open_ = [k for k, one in enumerate(inside) if one.state != NO]
    if open_:
        sure = [one.lo for one in inside if one.state == YES]
        lo = sure[-1] if sure else window.onset.lo
        last = open_[-1]
        at = Interval(lo, None if last == len(inside) - 1 else max(lo, inside[last + 1].hi))
    first_no = [k for k, one in enumerate(inside) if one.state == NO and not (before == YES and k == 0)]
    rest = inside[first_no[0] :] if first_no else []
    until = inside if not open_ else inside[: open_[-1] + 1]
    sure_no = [
        one for one in inside if one.state == NO and window.onset.hi is not None and one.lo >= window.onset.hi
    ]
    return Settled(
        at=at,
        before=before,
        returned=tuple(one.stamp for one in rest if one.state == YES),
        again=tuple(
            one.stamp for one in rest if one.state == YES and sure_no and one.stamp > sure_no[0].stamp
        ),
        held=any(one.state == YES for one in inside),
        ended=any(one.state == NO for one in inside),
        blind_before=any(one.state == BLIND for one in until),
        blind_after=any(one.state == BLIND for one in rest),
        last_stamp_ns=inside[-1].stamp if inside else None,
    )


@st.composite
def cases(draw: st.DrawFn) -> tuple[Track, Window]:
    states = draw(st.lists(st.sampled_from([YES, NO, NO, UNKNOWN, BLIND]), max_size=12))
    steps = draw(st.lists(st.integers(0, 9), min_size=len(states), max_size=len(states)))
    least = draw(st.integers(0, 3))
    clock = Clock(least, least + draw(st.integers(0, 6)), draw(st.integers(0, 3)))
    shown = Track(
        "t", "M", np.cumsum(np.array(steps, dtype=np.int64)), np.array(states, dtype=np.int8), clock
    )
    lo = draw(st.integers(-10, 70))
    end = draw(st.none() | st.integers(lo, 90))
    onset = Interval(lo, lo + draw(st.integers(0, 12)))
    return shown, Window(onset, None if end is None else Interval(end, end + 5))


@settings(max_examples=300)
@given(cases())
def test_settled_agrees_with_the_oracle(case: tuple[Track, Window]) -> None:
    shown, window = case
    assert settled(shown, window) == oracle(shown, window)


@pytest.mark.parametrize(
    ("states", "at", "returned"),
    [
        ([1, 1, 1, 0, 0, 0], Interval(20, 30), ()),
        ([1, 1, 1, 1, 1, 1], Interval(50, None), ()),  # never seen to end
        ([0, 0, 0, 0, 0, 0], Interval(15, 15), ()),  # had ended before
        ([1, 1, 0, 0, 1, 0], Interval(40, 50), (40,)),  # for good only after the return
        ([1, 1, 0, 0, UNKNOWN, 0], Interval(15, 50), ()),  # may have returned
        ([1, 1, 1, 0, 0, 1], Interval(50, None), (50,)),
        ([0, 0, 0, 1, 0, 0], Interval(30, 40), (30,)),  # came on in the window
        ([1, 1, 0, BLIND, 0, 0], Interval(15, 40), ()),
        ([1, 1, UNKNOWN, 0, 0, 0], Interval(15, 30), ()),
    ],
)
def test_the_end_for_good(states: list[int], at: Interval, returned: tuple[int, ...]) -> None:
    got = settled(track(states), Window(Interval(15, 22), None))
    assert got.returned == returned
    assert got.at.hi == at.hi
    assert got.at.lo == (10 if at.lo == 15 and states[1] == YES else at.lo)


def latency_of(demand: Track, effect: Track) -> Interval:
    (onset,) = [one for one in changes(demand) if one.to]
    return delay(onset.when, settled(effect, Window(onset.when, None)).at)


def one_stop(seed: int) -> tuple[int, Track, Track]:
    """The true latency, and the two tracks that a log shows of demand and torque."""
    rng = np.random.default_rng(seed)
    slow, fast, end = int(rng.choice([5, 10, 20])) * MS, int(rng.choice([1, 5, 10])) * MS, 600 * MS
    onset = int(rng.integers(150 * MS, 250 * MS))
    gone = onset + int(rng.choice([rng.integers(0, 3 * MS), rng.integers(0, 250 * MS)]))
    clock, loss = clock_of(rng), float(rng.choice([0.0, 0.05, 0.3]))
    demand = track_of(rng, Truth(False, (onset,)), contents(rng, slow, end, loss, 0.3), clock, "D", "demand")
    effect = track_of(rng, Truth(True, (gone,)), contents(rng, fast, end, loss, 0.3), clock, "E", "torque")
    return gone - onset, demand, effect


def test_the_latency_always_holds_the_truth_whatever_the_sampling() -> None:
    """Ten thousand stops: any phase, jitter, loss of frames, delay and width of stamps."""
    for seed in range(10_000):
        true, demand, effect = one_stop(seed)
        got = latency_of(demand, effect)
        assert true in got, seed
        gap = int(np.diff(demand.stamps_ns).max() + np.diff(effect.stamps_ns).max())
        blur = 2 * (effect.clock.most_ns - effect.clock.least_ns + 2 * effect.clock.width_ns)
        assert got.hi is not None, seed
        assert got.hi - got.lo <= gap + blur, seed  # no wider than the sampling explains


def test_no_verdict_is_ever_against_the_truth() -> None:
    limit, decided = 100 * MS, {Verdict.PASS: 0, Verdict.FAIL: 0, Verdict.INCONCLUSIVE: 0}
    for seed in range(2000):
        true, demand, effect = one_stop(seed)
        verdict = judge(latency_of(demand, effect), limit)
        decided[verdict] += 1
        assert verdict in {Verdict.INCONCLUSIVE, Verdict.PASS if true <= limit else Verdict.FAIL}, seed
    assert min(decided.values()) > 50


def test_fewer_frames_never_decide_more() -> None:
    for seed in range(1500):
        _, demand, effect = one_stop(seed)
        keep = np.random.default_rng(seed).random(len(effect.stamps_ns)) < 0.6
        keep[[0, -1]] = True
        full, thin = latency_of(demand, effect), latency_of(demand, thinned(effect, keep))
        assert full.lo >= thin.lo
        assert full.hi is not None
        assert thin.hi is None or full.hi <= thin.hi
        assert judge(thin, 100 * MS) in {judge(full, 100 * MS), Verdict.INCONCLUSIVE}, seed


@given(st.integers(0, 4), st.integers(0, 4), st.integers(0, 2), st.integers(3, 60), st.integers(0, 30))
def test_the_bounds_are_attained_by_a_log_that_is_out_to_deceive(
    least: int, band: int, width: int, shown: int, lasts: int
) -> None:
    """Two worlds show the same frames and have the latencies at the bounds, but for a nanosecond of the open end."""
    clock, frames, last = Clock(least, least + band, width), np.arange(100), shown + lasts
    demand = Track("d", "D", frames * 10, (frames >= shown).astype(np.int8), clock)
    effect = Track("e", "E", frames * 10 + 3, (frames <= last).astype(np.int8), clock)
    longest, shortest = least + band + width, least - width  # from content to stamp, as far as stated
    at_demand = demand.stamps_ns - np.where(frames < shown, longest, shortest)
    at_effect = effect.stamps_ns - np.where(frames <= last, longest, shortest)
    early, late = int(at_demand[shown - 1]) + 1, int(at_demand[shown])
    first, for_good = int(at_effect[last]) + 1, int(at_effect[last + 1])
    got = latency_of(demand, effect)
    for onset, ended, bound in ((late, first, got.lo + 1), (early, for_good, (got.hi or 0) - 1)):
        assert ended - onset == bound
        assert [Truth(False, (onset,)).at(int(t)) for t in at_demand] == (frames >= shown).tolist()
        assert [Truth(True, (ended,)).at(int(t)) for t in at_effect] == (frames <= last).tolist()


def test_a_blind_stretch_is_told_and_never_narrows_the_end() -> None:
    """Blinding any frames of a true monotone end: the new interval holds the old one, or says that it is blind."""
    for seed in range(1500):
        rng = np.random.default_rng(seed)
        _, demand, effect = one_stop(seed)
        lo = int(rng.integers(0, len(effect.states)))
        hi = int(rng.integers(lo, len(effect.states))) + 1
        states = effect.states.copy()
        states[lo:hi] = BLIND
        (onset,) = changes(demand)
        window = Window(onset.when, None)
        whole = settled(effect, window)
        blind = settled(Track("b", "E", effect.stamps_ns, states, effect.clock), window)
        assert blind.at.lo <= max(whole.at.lo, onset.when.lo), seed
        assert blind.at.hi is None or (whole.at.hi is not None and whole.at.hi <= blind.at.hi), seed
        reached = hi > 0 and effect.clock.sampled(int(effect.stamps_ns[lo])).lo > onset.when.lo
        if reached:
            assert blind.blind_before or blind.blind_after, seed


@pytest.mark.parametrize(
    ("end", "last", "returned"),
    [
        (Interval(45, 50), 40, ()),
        (Interval(50, 60), 40, ()),  # the sample at the end itself is not surely before it
        (Interval(51, 60), 50, (50,)),
        (None, 60, (50, 60)),
        (Interval(5, 9), 0, ()),
    ],
)
def test_nothing_after_the_end_of_the_window_counts(
    end: Interval | None, last: int, returned: tuple[int, ...]
) -> None:
    got = settled(track([1, 1, 1, 0, 0, 1, 1]), Window(Interval(15, 22), end))
    assert got.last_stamp_ns == max(last, 10)  # the sample before the onset belongs to it in any case
    assert got.returned == returned


def test_without_a_sample_before_the_onset_nobody_knows_that_it_had_not_ended_later() -> None:
    got = settled(track([0, 0, 0]), Window(Interval(-50, -40), None))
    assert (got.before, got.at) == (BLIND, Interval(-50, 0))
    got = settled(track([]), Window(Interval(-50, -40), None))
    assert (got.before, got.at) == (BLIND, Interval(-50, None))


def test_a_window_before_or_after_the_log_shows_nothing() -> None:
    early = settled(track([1, 1]), Window(Interval(-50, -40), Interval(-30, -20)))
    assert (early.before, early.last_stamp_ns, early.held) == (BLIND, None, False)
    late = settled(track([1, 0]), Window(Interval(500, 510), None))
    assert (late.before, late.last_stamp_ns) == (NO, 10)
    assert settled(track([]), Window(Interval(0, 1), None)).before == BLIND


@pytest.mark.parametrize(
    ("states", "again"),
    [
        ([1, 0, 1, 1, 0, 0, 0], ()),  # off and on again while the demand may not have come yet
        ([0, 1, 1, 1, 0, 0, 0], ()),  # came on near the onset
        ([1, 1, 1, 1, 0, 1, 0], (50,)),  # off after it, then on
        ([1, 0, 1, 1, 1, 0, 1], (60,)),
    ],
)
def test_only_what_ends_after_the_onset_can_surely_come_back(
    states: list[int], again: tuple[int, ...]
) -> None:
    """The demand came at some time from 5 to 35."""
    got = settled(track(states), Window(Interval(5, 35), None))
    assert got.again == again
    assert set(again) <= set(got.returned)


@given(cases())
def test_a_sharper_onset_never_takes_a_return_away(case: tuple[Track, Window]) -> None:
    shown, window = case
    assert window.onset.hi is not None
    sharp = settled(shown, Window(Interval(window.onset.lo, window.onset.lo), window.end))
    blurred = settled(shown, window)
    assert set(blurred.again) <= set(sharp.again)
    assert set(blurred.again) <= set(blurred.returned)
