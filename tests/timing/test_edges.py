"""Changes between samples: where they may lie, which came first, and what held when they happened."""

import numpy as np
import pytest
from timing_worlds import MS, Truth, clock_of, contents, seen_throughout, thinned, track_of, with_states

from interlock.interval import Interval
from interlock.timing.edges import Change, after, before, changes, first_possible, hidden, holds_at
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track

EXACT = Clock(0, 0, 0)


def track(
    states: list[int], stamps: list[int] | None = None, message: str = "M", clock: Clock = EXACT
) -> Track:
    times = np.array(stamps or range(0, 10 * len(states), 10), dtype=np.int64)
    return Track("t", message, times, np.array(states, dtype=np.int8), clock)


def told(found: list[Change] | tuple[Change, ...]) -> list[tuple[int, int, bool, bool]]:
    return [(one.last_old, one.first_new, one.to, one.blind) for one in found]


@pytest.mark.parametrize(
    ("states", "expected"),
    [
        ([0, 1, 1, 0], [(0, 1, True, False), (2, 3, False, False)]),
        ([0, UNKNOWN, 1], [(0, 2, True, False)]),  # the unknown one widens the interval
        ([0, BLIND, 1], [(0, 2, True, True)]),
        ([0, BLIND, 0], []),  # nothing seen to change; see hidden()
        ([1, UNKNOWN, BLIND, UNKNOWN, 0], [(0, 4, False, True)]),
        ([UNKNOWN, 1, 1], []),  # what was before is not known
        ([1], []),
        ([], []),
        ([BLIND, BLIND], []),
    ],
)
def test_changes_lie_between_known_samples(
    states: list[int], expected: list[tuple[int, int, bool, bool]]
) -> None:
    found = changes(track(states))
    assert told(found) == expected
    assert all(one.when == Interval(10 * one.last_old, 10 * one.first_new) for one in found)


@pytest.mark.parametrize(
    ("states", "expected"),
    [
        ([1, BLIND, 1], [(0, 10, 20)]),
        ([1, BLIND, BLIND, 0], [(0, 10, 30)]),
        ([1, BLIND], [(0, 10, None)]),  # to the end of the log, and beyond
        ([BLIND, 1], [(None, None, 10)]),
        ([1, BLIND, UNKNOWN, BLIND, 1], [(0, 10, 40)]),  # one stretch without evidence, told once
        ([1, BLIND, 1, BLIND, 1], [(0, 10, 20), (20, 30, 40)]),
        ([1, UNKNOWN, 1], []),
        ([], []),
    ],
)
def test_hidden_tells_each_stretch_in_which_a_release_may_have_gone_unseen(
    states: list[int], expected: list[tuple[int | None, int | None, int | None]]
) -> None:
    found = hidden(track(states))
    assert [one.when.hi for one in found] == [hi for _, _, hi in expected]
    for one, (lo, _, _) in zip(found, expected, strict=True):
        assert one.when.lo == (one.when.lo if lo is None else lo)
        assert one.blind
        assert not one.to


def world(seed: int, message: str = "M", name: str = "it") -> tuple[Truth, np.ndarray, Track]:
    """A true signal, when its samples were taken, and the track that a log shows."""
    rng = np.random.default_rng(seed)
    period = int(rng.choice([1, 5, 10, 20])) * MS
    times = contents(
        rng, period, 40 * period, loss=float(rng.choice([0, 0.1])), jitter=float(rng.choice([0, 0.2]))
    )
    switches = np.unique(rng.integers(0, 40 * period, rng.integers(0, 5)))
    truth = Truth(bool(rng.integers(0, 2)), tuple(switches.tolist()))
    return truth, times, track_of(rng, truth, times, clock_of(rng), message, name)


def test_each_change_holds_a_true_switch_and_each_true_switch_that_can_be_seen_is_found() -> None:
    for seed in range(2000):
        truth, times, shown = world(seed)
        found = changes(shown)
        for one in found:
            assert any(switch in one.when for switch in truth.switches_to(one.to)), seed
        if seen_throughout(truth, times):
            inside = [switch for switch in truth.switches if times[0] < switch <= times[-1]]
            assert len(found) == len(inside), seed
            assert all(switch in one.when for switch, one in zip(inside, found, strict=True)), seed


def test_unknown_and_blind_samples_only_widen_a_change() -> None:
    for seed in range(1000):
        truth, times, shown = world(seed)
        if not seen_throughout(truth, times):
            continue
        rng = np.random.default_rng(seed)
        hide = rng.random(len(times)) < 0.3
        doubt = rng.choice([UNKNOWN, BLIND])
        for one in changes(with_states(shown, lambda states, h=hide, d=doubt: np.where(h, d, states))):
            assert any(switch in one.when for switch in truth.switches_to(one.to)), seed


def test_before_is_antisymmetric_and_never_against_the_true_order() -> None:
    """Two signals of one message, and of two."""
    decided = 0
    for seed in range(1500):
        rng = np.random.default_rng(seed)
        clock, period, count = clock_of(rng), int(rng.choice([5, 10])) * MS, 30
        shared = contents(rng, period, count * period)
        alone = contents(rng, int(rng.choice([5, 10])) * MS, count * period)
        at = [int(one) for one in np.sort(rng.integers(3 * period, (count - 3) * period, 2))]
        first, second = (Truth(False, (one,)) for one in at)
        one = track_of(rng, first, shared, clock, "M", "one")
        same = Track("two", "M", one.stamps_ns, np.array([second.at(int(t)) for t in shared], np.int8), clock)
        other = track_of(rng, second, alone, clock, "N", "two")
        for late in (same, other):
            (a,), (b,) = changes(one), changes(late)
            forward, backward = before(a, b), before(b, a)
            assert (forward, backward) in {(True, False), (None, None)}, seed
            decided += forward is True
    assert decided > 1000


def test_before_within_a_message_is_exact_whatever_the_delay_of_stamps() -> None:
    """Stamps 10 ms apart say nothing if they may be 50 ms late, but the order of the frames does."""
    clock = Clock(0, 50, 0)
    first, second = track([0, 1, 1, 1], clock=clock), track([0, 0, 1, 1], clock=clock)
    assert before(*changes(first), *changes(second)) is True
    assert before(*changes(second), *changes(first)) is False
    other = track([0, 0, 1, 1], message="N", clock=clock)
    assert before(*changes(first), *changes(other)) is None


@pytest.mark.parametrize(
    ("one", "two", "stamps", "expected"),
    [
        ([0, 1, 1, 1], [0, 0, 1, 1], [0, 10, 20, 30], True),
        ([0, 1, 1, 1], [0, 1, 1, 1], [0, 10, 20, 30], None),  # both at the same sample
        ([0, 0, 1, 1], [0, 0, 0, 1], [0, 10, 20, 30], True),
        (
            [0, 0, 1, 1],
            [0, 0, 0, 1],
            [0, 10, 10, 30],
            None,
        ),  # two frames with one stamp: which is which is open
        ([0, 1, 1, 1], [0, 0, 0, 1], [0, 10, 10, 30], None),
        ([0, 1, 1, 1], [0, 0, 0, 1], [0, 10, 20, 30], True),
    ],
)
def test_before_within_a_message_with_equal_stamps(
    one: list[int], two: list[int], stamps: list[int], expected: bool | None
) -> None:
    (a,), (b,) = changes(track(one, stamps)), changes(track(two, stamps))
    assert before(a, b) is expected
    assert before(b, a) is (None if expected is None else not expected)


def test_before_needs_the_whole_interval_between_messages() -> None:
    (early,) = changes(track([0, 1], [0, 10]))
    (late,) = changes(track([0, 1], [10, 20], "N"))
    (across,) = changes(track([0, 1], [9, 20], "N"))
    assert before(early, late) is True
    assert before(early, across) is None


def test_after_is_every_change_that_is_not_surely_before() -> None:
    for seed in range(400):
        _, _, shown = world(seed)
        _, _, other = world(seed + 10_000, "N" if seed % 2 else "M", "other")
        for moment in changes(other):
            expected = [one for one in changes(shown) if before(one, moment) is not True]
            assert list(after(changes(shown), moment)) == expected, seed


def rise_after(truth: Truth, instant: int) -> int | None:
    return next((one for one in truth.switches_to(True) if one > instant), None)


def test_first_possible_is_never_later_than_the_truth() -> None:
    tried = 0
    for seed in range(2000):
        since_truth, _, since_track = world(seed)
        truth, times, shown = world(seed + 50_000, "N", "other")
        if not seen_throughout(truth, times):
            continue
        for since in changes(since_track):
            instant = next(one for one in since_truth.switches if one in since.when)
            true_rise = rise_after(truth, instant)
            got = first_possible(shown, since)
            if true_rise is None or true_rise > times[-1] or true_rise <= times[0]:
                continue
            if truth.at(instant) and rise_after(truth, since.when.lo) != true_rise:
                continue  # rose, as it may be, just before
            assert got is not None, seed
            assert got.lo <= true_rise, seed
            tried += 1
    assert tried > 500


def test_first_possible_counts_what_may_have_come_unseen_together_with_the_change() -> None:
    """Both within one stretch without evidence: the rise may be as early as its beginning."""
    (since,) = changes(track([1, 1, BLIND, BLIND, 0, 0]))
    assert first_possible(track([0, 0, BLIND, BLIND, 0, 0, 1]), since) == Interval(10, 20)
    assert first_possible(track([0, 0, BLIND, BLIND, 1, 1, 1]), since) == Interval(10, 20)
    assert first_possible(track([0, 0, UNKNOWN, 0, 0, 0, 1]), since) == Interval(10, 20)
    assert first_possible(track([1, 1, 1, 1, 1, 0, 1]), since) == Interval(50, 60)


def test_blind_samples_only_bring_the_first_possible_instant_forward() -> None:
    for seed in range(600):
        _, _, since_track = world(seed)
        _, times, shown = world(seed + 50_000, "N" if seed % 2 else "M", "other")
        hide = np.random.default_rng(seed).random(len(times)) < 0.2
        blind = with_states(shown, lambda states, h=hide: np.where(h, BLIND, states))
        for since in changes(since_track):
            clear, doubtful = first_possible(shown, since), first_possible(blind, since)
            if clear is not None and not (shown.states == YES)[: int(np.argmax(hide)) + 1].any():
                assert doubtful is not None, seed
                assert doubtful.lo <= clear.lo, seed


@pytest.mark.parametrize(
    ("states", "expected"),
    [
        ([0, 0, 0, 0, 1], Interval(30, 40)),
        ([0, 0, 0, 0, 0], None),
        ([1, 1, 1, 1, 1], None),  # held all the time: has not become true
        ([1, 1, 1, 0, 1], Interval(30, 40)),
        ([0, 0, UNKNOWN, 0, 1], Interval(10, 20)),
        ([0, 0, 0, BLIND, 0], Interval(20, 30)),
        ([0, 0, 1, 1, 1], Interval(10, 20)),
        ([1, 0, 0, 0, 0], None),  # rose before
    ],
)
def test_first_possible_from_the_second_sample_on(states: list[int], expected: Interval | None) -> None:
    (since,) = changes(track([0, 0, 1, 1, 1]))
    assert first_possible(track(states), since) == expected


def test_holds_at_is_right_whenever_it_answers() -> None:
    answered = 0
    for seed in range(2000):
        truth, times, shown = world(seed)
        change_truth, change_times, changing = world(seed + 90_000, "N", "other")
        if not seen_throughout(truth, times) or not seen_throughout(change_truth, change_times):
            continue
        for change in changes(changing):
            instant = next(one for one in change_truth.switches if one in change.when)
            got = holds_at(shown, change)
            if got != UNKNOWN:
                answered += 1
                assert bool(got) == truth.at(instant), seed
    assert answered > 700


@pytest.mark.parametrize(
    ("states", "message", "expected"),
    [
        ([0, 1, 1, 0], "M", YES),
        ([0, 1, 0, 0], "M", UNKNOWN),  # changed in the same step
        ([1, 1, UNKNOWN, 1], "M", UNKNOWN),
        ([1, 1, BLIND, 1], "M", UNKNOWN),
        ([0, 0, 0, 1], "M", NO),
        ([1, 1, 1, 1], "N", YES),
        ([1, 1, 1, 0], "N", YES),
        ([1, 1, 0, 0], "N", UNKNOWN),
        ([0, 1, 1, 1], "N", YES),
    ],
)
def test_holds_at_looks_at_all_samples_next_to_the_change(
    states: list[int], message: str, expected: int
) -> None:
    (change,) = changes(track([0, 0, 1, 1]))
    assert holds_at(track(states, message=message), change) == expected


def test_holds_at_says_nothing_where_the_log_of_the_other_message_has_not_begun_or_has_ended() -> None:
    (change,) = changes(track([0, 0, 1, 1]))
    assert holds_at(track([1, 1], [15, 30], "N"), change) == UNKNOWN
    assert holds_at(track([1, 1], [0, 15], "N"), change) == UNKNOWN
    assert holds_at(track([1, 1], [10, 20], "N"), change) == YES


def test_fewer_frames_never_decide_more() -> None:
    """Thinning the other message may leave the order open, never turn it round."""
    for seed in range(600):
        rng = np.random.default_rng(seed)
        _, _, one = world(seed)
        truth, times, other = world(seed + 20_000, "N", "other")
        thin = thinned(other, np.arange(len(times)) % 2 == int(rng.integers(0, 2)))
        for a in changes(one):
            for b in changes(other):
                for c in changes(thin):
                    if (
                        any(s in b.when and s in c.when for s in truth.switches_to(b.to))
                        and len(truth.switches) == 1
                    ):
                        assert before(a, c) in {before(a, b), None}, seed
