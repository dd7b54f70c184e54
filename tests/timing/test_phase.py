"""Where a piece was cut out, the phases of all messages turn by its length: against cuts of known place and length.

Every expectation follows from how the stamps were made; nothing is taken from what the code prints.
"""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from interlock.timing.phase import Beat, phase_jumps, steady_period

MS = 1_000_000
S = 1_000_000_000
PERIODS = (5 * MS, 5 * MS, 10 * MS, 20 * MS)
Ints = NDArray[np.int64]


def stamps(period: float, seconds: float, stray: float, seed: int, *, loss: float = 0.0) -> Ints:
    """Frames every `period`, each stamped up to `stray` late, in order, some lost."""
    rng = np.random.default_rng(seed)
    sent = np.arange(rng.uniform(0, period), seconds * S, period)
    late = np.maximum.accumulate(sent + rng.uniform(0, stray, len(sent))).astype(np.int64)
    return late[rng.random(len(late)) >= loss]


def recording(
    seed: int = 1, stray: float = 0.3 * MS, *, seconds: float = 30, loss: float = 0.0, drift: float = 0.0
) -> list[Ints]:
    return [
        stamps(period * (1 + drift), seconds, stray, 10 * seed + k, loss=loss)
        for k, period in enumerate(PERIODS)
    ]


def cut(times: Ints, lo: float, length: float) -> Ints:
    """What lies from `lo` (ns) on for `length` is taken out, and the ends are joined."""
    kept = times[(times < lo) | (times >= lo + length)]
    return np.where(kept >= lo + length, kept - round(length), kept).astype(np.int64)


def beats(record: Sequence[Ints]) -> list[Beat]:
    made = []
    for period, times in zip(PERIODS, record, strict=True):
        measured = steady_period(times, period)
        assert measured is not None
        made.append(Beat(times, measured))
    return made


def found(record: Sequence[Ints], least_ns: float = 0.1 * MS) -> list[tuple[int, int]]:
    return [(one.lo, one.hi or 0) for one in phase_jumps(beats(record), least_ns)]


@given(
    st.integers(1, 10**6),
    st.floats(0, 3.5 * MS),
    st.floats(0, 0.05),
    st.floats(-0.01, 0.01),
)
@settings(max_examples=30)
def test_a_whole_record_never_jumps(seed: int, stray: float, loss: float, drift: float) -> None:
    assert found(recording(seed, stray, loss=loss, drift=drift)) == []


@given(st.integers(1, 10**6), st.floats(3.0, 24.0), st.floats(0.03, 4.0), st.floats(0.05 * MS, 0.6 * MS))
@settings(max_examples=40)
def test_a_cut_shows_where_it_is_unless_it_takes_whole_periods(
    seed: int, at: float, length: float, stray: float
) -> None:
    record = [cut(times, at * S, length * S) for times in recording(seed, stray)]
    off = abs(length * S - round(length * S / (20 * MS)) * 20 * MS)
    told = found(record)
    if off > 0.4 * MS:
        ((lo, hi),) = told
        assert lo - 25 * MS <= at * S <= hi + 25 * MS
    assert len(told) <= 1


@pytest.mark.parametrize("periods", [1, 7, 100])
def test_a_cut_of_a_whole_number_of_all_periods_leaves_no_trace(periods: int) -> None:
    assert found([cut(times, 9 * S, periods * 20 * MS) for times in recording()]) == []


@pytest.mark.parametrize("off_ms", [0.15, 0.3, 1.0, 9.7, 10.0, 19.7])
def test_many_stamps_tell_of_less_than_one_of_them_strays(off_ms: float) -> None:
    """Each stamp strays by up to 0.5 ms; hundreds of them tell of a third of that."""
    record = [cut(times, 9 * S, 2 * S + off_ms * MS) for times in recording(stray=0.5 * MS)]
    ((lo, hi),) = found(record, 0.05 * MS)
    assert lo - 60 * MS <= 9 * S <= hi + 60 * MS


def test_less_than_is_asked_for_is_not_told() -> None:
    record = [cut(times, 9 * S, 2 * S + 0.3 * MS) for times in recording()]
    assert found(record, 0.2 * MS) != []
    assert found(record, 0.4 * MS) == []


def test_two_cuts_are_two() -> None:
    record = [cut(cut(times, 20 * S, 1.233 * S), 9 * S, 0.517 * S) for times in recording()]
    told = sorted(found(record))
    assert [round(lo / S, 1) for lo, _ in told] == [9.0, 19.5]


@pytest.mark.parametrize("by_ms", [1, 2, 4])
@pytest.mark.parametrize("which", range(len(PERIODS)))
def test_one_sender_that_slips_tells_of_no_cut(by_ms: int, which: int) -> None:
    """From 9 s on one message comes later; the others keep their beat, so no piece is missing."""
    record = recording()
    times = record[which]
    record[which] = np.where(times > 9 * S, times + by_ms * MS, times)
    assert found(record) == []
    assert found([times + (times > 9 * S) * by_ms * MS for times in recording()]) != []  # all of them do


def counted(times: Ints, period: int, modulo: int) -> Beat:
    measured = steady_period(times, period)
    assert measured is not None
    return Beat(
        times, measured, np.mod(np.rint((times - times[0]) / period), modulo).astype(np.float64), modulo
    )


@pytest.mark.parametrize(
    ("length_ms", "told"), [(160, False), (320, False), (40, True), (180, True), (164, True)]
)
def test_a_counter_tells_of_whole_periods_but_not_of_whole_turns(length_ms: int, told: bool) -> None:
    """One of two messages of 10 ms counts to 16."""
    rng = np.random.default_rng(2)
    sent = np.arange(0, 30 * S, 10 * MS)
    late = (sent + rng.uniform(0, 0.2 * MS, len(sent))).astype(np.int64)
    whole = counted(late, 10 * MS, 16)
    assert whole.counts is not None
    kept = (late < 9 * S) | (late >= 9 * S + length_ms * MS)
    joined = cut(late, 9 * S, length_ms * MS)
    record = [Beat(joined, whole.period_ns, whole.counts[kept], 16), Beat(joined, whole.period_ns)]
    assert (list(phase_jumps(record, 0.1 * MS)) != []) is told
    assert list(phase_jumps([whole, Beat(late, whole.period_ns)], 0.1 * MS)) == []


def test_a_sender_that_begins_anew_is_no_cut() -> None:
    """Its counter starts from 0 at once; the other message goes on."""
    times = stamps(10 * MS, 30, 0.2 * MS, 5)
    whole = counted(times, 10 * MS, 256)
    assert whole.counts is not None
    anew = np.mod(whole.counts - (times > 9 * S) * 77, 256)
    record = [Beat(times, whole.period_ns, anew, 256), counted(stamps(5 * MS, 30, 0.2 * MS, 6), 5 * MS, 256)]
    assert list(phase_jumps(record, 0.1 * MS)) == []


@given(
    st.floats(0.5, 300),
    st.floats(0, 0.6),
    st.floats(0, 0.1),
    st.floats(-0.015, 0.015),
    st.integers(0, 10**6),
)
@settings(max_examples=60)
def test_the_period_is_measured_though_stamps_stray_and_frames_are_lost(
    period_ms: float, stray: float, loss: float, off: float, seed: int
) -> None:
    period = period_ms * MS
    times = stamps(period, max(3.0, period_ms), stray * period, seed, loss=loss)
    measured = steady_period(times, period * (1 + off))
    assert measured is not None
    assert abs(measured / period - 1) < 0.002


def test_a_counter_tells_the_period_though_stamps_stray_by_more_than_it() -> None:
    sent = np.arange(5000) * 4.0004 * MS
    rng = np.random.default_rng(4)
    times = np.maximum.accumulate(sent + rng.uniform(0, 5 * MS, 5000)).astype(np.int64)
    measured = steady_period(times, 4 * MS, np.mod(np.arange(5000.0), 256), 256)
    assert measured is not None
    assert abs(measured / (4.0004 * MS) - 1) < 1e-4


@pytest.mark.parametrize("times", [[], [5], [1, 2, 3], [0] * 40, list(range(8))], ids=len)
def test_too_few_frames_or_such_as_stand_have_no_period(times: list[int]) -> None:
    assert steady_period(np.array(times, dtype=np.int64), 10 * MS) is None


def test_a_period_that_is_not_the_stated_one_is_none() -> None:
    assert steady_period(stamps(11 * MS, 30, 0.2 * MS, 3), 10 * MS) is None


@pytest.mark.parametrize("count", [0, 1, 9])
def test_few_frames_tell_nothing(count: int) -> None:
    times = np.arange(count, dtype=np.int64) * 10 * MS
    assert list(phase_jumps([Beat(times, 10 * MS)] if count else [], 0.1 * MS)) == []


def test_a_clock_that_leaps_by_years_takes_no_memory() -> None:
    times = np.concatenate((np.arange(1000), np.arange(1000) + 10**10)) * 10 * MS
    assert list(phase_jumps([Beat(times, 10 * MS)], 0.1 * MS)) == []


def beside_a_punctual_one(seed: int, by: float) -> list[Beat]:
    """Senders whose clocks go apart; the first is punctual to microseconds, and comes later by `by` from 9 s on."""
    rng, made = np.random.default_rng(seed), []
    senders = ((6 * MS, 0.004 * MS), (6 * MS, 0.7 * MS), (3 * MS, 0.3 * MS), (25 * MS, 1.0 * MS))
    for number, (period, stray) in enumerate(senders):
        times = stamps(period * (1 + rng.uniform(-3e-4, 3e-4)), 30, stray, 10 * seed + number)
        times = times + (times > 9 * S) * round(0 if number else by)
        measured = steady_period(times, period)
        assert measured is not None
        made.append(Beat(times, measured))
    return made


@pytest.mark.parametrize("by", [0.03 * MS, 0.115 * MS, 0.5 * MS], ids=str)
@pytest.mark.parametrize("seed", [2, 7, 11, 24, 36])
def test_a_punctual_message_that_meets_another_one_on_the_bus_is_no_cut(seed: int, by: float) -> None:
    """It waits for one frame of the other, by chance for seconds; the strays of the rest let any length explain it."""
    assert list(phase_jumps(beside_a_punctual_one(seed, by), 0.05 * MS, alone_ns=1 * MS)) == []


@pytest.mark.parametrize("seed", [2, 7, 11])
@pytest.mark.parametrize("length", [0.3, 1.7], ids=str)
def test_a_cut_beside_a_punctual_message_still_shows(seed: int, length: float) -> None:
    whole = beside_a_punctual_one(seed, 0)
    record = [Beat(cut(one.times_ns, 9 * S, length * S + 1.4 * MS), one.period_ns) for one in whole]
    assert list(phase_jumps(whole, 0.05 * MS, alone_ns=1 * MS)) == []
    ((lo, hi),) = [(one.lo, one.hi or 0) for one in phase_jumps(record, 0.05 * MS, alone_ns=1 * MS)]
    assert lo - 25 * MS <= 9 * S <= hi + 25 * MS


def test_what_strays_widely_tells_of_no_more_than_it_surely_turned() -> None:
    """A long way of a message whose stamps stray by all of its period is chance; the punctual one turned by 0.04 ms."""
    punctual = beside_a_punctual_one(24, 0.04 * MS)[0]
    wide = stamps(80 * MS, 30, 60 * MS, 5)
    assert list(phase_jumps([punctual, Beat(wide, 80.0 * MS)], 0.05 * MS)) == []
    told = [stamps(6 * MS, 30, 0.004 * MS, seed) for seed in (1, 2)]
    both = [Beat(one + (one > 9 * S) * round(0.08 * MS), 6.0 * MS) for one in told]
    assert list(phase_jumps(both, 0.05 * MS)) != []
