"""Alignment holds the true clock for any clock, any sampling and any lost pulses, and refuses what is ambiguous."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.interval import Interval, delay
from interlock.timing.align import Pair, Records, Train, by_edges, by_offset, by_trains
from interlock.timing.clock import ClockDrift
from interlock.timing.inputs import NotIdentified, TimingError

MS = 1_000_000
STEADY = ClockDrift.ppm(0)
LOOSE = ClockDrift.ppm(100)
ANYWHERE = Interval(-(10**12), 10**12)


def by_pulses(reference, source, drift, search, missed=0):
    """One train alone."""
    return by_trains([Train(reference, source)], drift, search, missed)


def about(instant, before=0, after=0) -> Interval:
    return Interval(instant - before, instant + after)


def test_a_stated_offset() -> None:
    found = by_offset(Interval(4 * MS, 6 * MS), LOOSE)
    assert found.clock.common(0) == Interval(4 * MS, 6 * MS)
    assert found.events == 0
    assert "±1 ms" in found.sentence


def test_one_common_edge_by_hand() -> None:
    """CAN shows the edge within a period of 10 ms, the scope within 0.1 ms: the offset is known to 10.1 ms in all."""
    pair = Pair(common=Interval(490 * MS, 500 * MS), stamp=Interval(100 * MS, 100 * MS + MS // 10))
    found = by_edges([pair], STEADY).clock
    assert found.offset == Interval(490 * MS - 100 * MS - MS // 10, 400 * MS)


def test_an_edge_that_the_source_knows_badly_by_hand() -> None:
    """At 20 s, stamped between 0 and 10 s by a clock that is up to 1000 ppm slow; told for the stamp of 5 s."""
    slow = ClockDrift(Fraction(0), Fraction(1, 1000))
    found = by_edges([Pair(about(20_000 * MS), Interval(0, 10_000 * MS))], slow).clock
    assert found.anchor_ns == 5_000 * MS
    assert found.offset == Interval((20_000 - 10_000 - 5) * MS, (20_000 + 5) * MS)


def test_latency_carries_the_alignment() -> None:
    """Onset by the scope, effect by CAN: as wide as CAN's period twice (alignment and effect) and the scope's own."""
    clock = by_edges([Pair(Interval(490 * MS, 500 * MS), Interval(100 * MS, 100 * MS + 1))], STEADY).clock
    onset = clock.common(Interval(150 * MS, 150 * MS + 1))
    found = delay(onset, Interval(580 * MS, 590 * MS))
    assert found.hi - found.lo == pytest.approx(20 * MS, abs=10)
    assert 40 * MS in found


def test_within_the_scope_the_alignment_does_not_matter() -> None:
    clock = by_edges([Pair(Interval(490 * MS, 500 * MS), Interval(100 * MS, 100 * MS))], STEADY).clock
    assert clock.between(about(150 * MS), about(180 * MS)) == Interval(30 * MS, 30 * MS)


def test_two_edges_are_surer_than_one() -> None:
    pairs = [
        Pair(Interval(490 * MS, 500 * MS), about(100 * MS)),
        Pair(Interval(695 * MS, 705 * MS), about(300 * MS)),
    ]
    assert by_edges(pairs, STEADY).clock.offset == Interval(395 * MS, 400 * MS)


def test_a_steady_drift_is_found_by_edges_far_apart() -> None:
    """1000 s apart, each edge known to ±10 µs: the drift to 0.02 ppm about the true 50 ppm."""
    true = Fraction(50, 10**6)
    instants = [10**9, 1001 * 10**9]
    pairs = [Pair(about(int(at * (1 + true)), 10_000, 10_000), about(at)) for at in instants]
    found = by_edges(pairs, LOOSE, steady=True).clock.drift
    assert found.low <= true <= found.high
    assert found.high - found.low < Fraction(5, 10**8)
    assert by_edges(pairs, LOOSE).clock.drift == LOOSE


def test_edges_of_different_events_are_refused() -> None:
    pairs = [Pair(about(500 * MS), about(100 * MS)), Pair(about(900 * MS), about(300 * MS))]
    with pytest.raises(TimingError, match="no offset agrees"):
        by_edges(pairs, STEADY)
    with pytest.raises(TimingError, match="no drift"):
        by_edges(pairs, LOOSE, steady=True)


def test_no_bounded_pair_no_clock() -> None:
    for pairs in ([], [Pair(Interval(0, None), about(0))], [Pair(about(0), Interval(0, None))]):
        with pytest.raises(NotIdentified):
            by_edges(pairs, STEADY)


@st.composite
def worlds(draw, least=1, most=6):
    """A true clock within bounds, events at true instants, seen by both sources with widths of their own."""
    offset = draw(st.integers(-(10**10), 10**10))
    drift = Fraction(draw(st.integers(-100, 100)), 10**6)
    stamps = sorted(draw(st.lists(st.integers(0, 10**11), min_size=least, max_size=most, unique=True)))
    pairs = []
    for stamp in stamps:
        common = stamp * (1 + drift) + offset
        low, high = (draw(st.integers(0, 10**7)) for _ in range(2))
        early, late = (draw(st.integers(0, 10**6)) for _ in range(2))
        seen = Interval(int(common // 1) - low, int(common // 1) + 1 + high)
        pairs.append(Pair(seen, Interval(stamp - early, stamp + late)))
    return offset, drift, pairs


@given(worlds(), st.booleans(), st.integers(-(10**10), 2 * 10**11))
def test_the_true_clock_is_always_held(world, steady, stamp) -> None:
    offset, drift, pairs = world
    found = by_edges(pairs, LOOSE, steady=steady)
    common = found.clock.common(stamp)
    assert common.lo <= stamp * (1 + drift) + offset <= common.hi
    assert found.events == len(pairs)


@given(worlds(least=2), st.data())
def test_more_edges_never_know_less(world, data) -> None:
    pairs = sorted(world[2], key=lambda pair: (pair.stamp.lo, pair.stamp.hi))
    fewer = data.draw(st.lists(st.sampled_from(pairs), min_size=1, unique_by=id))
    few, all_ = (by_edges(some, LOOSE).clock for some in ([*fewer, pairs[0], pairs[-1]], pairs))
    assert all_.anchor_ns == few.anchor_ns
    assert few.offset.lo <= all_.offset.lo
    assert all_.offset.hi <= few.offset.hi


def train(random, count, spread=400):
    """Pulses at uneven distances."""
    return np.cumsum(random.integers(5, spread, size=count)) * MS


def seen(instants, before, after=0):
    return [about(int(at), before, after) for at in instants]


def test_a_train_of_pulses_is_laid_over_itself() -> None:
    true = train(np.random.default_rng(1), 12)
    found = by_pulses(seen(true, MS), seen(true - 123 * MS, 0), STEADY, ANYWHERE)
    assert 123 * MS in found.clock.offset
    assert found.clock.offset.hi - found.clock.offset.lo <= MS
    assert found.events == 12


def test_the_offset_is_what_all_pulses_allow() -> None:
    """Each pulse of the reference is known to a width of its own: the offset lies where all of them meet."""
    true = train(np.random.default_rng(2), 5)
    reference = [about(int(at), (i + 1) * MS, (5 - i) * MS) for i, at in enumerate(true)]
    found = by_pulses(reference, seen(true, 0), STEADY, ANYWHERE)
    assert found.clock.offset == Interval(-MS, MS)


def test_an_even_train_is_ambiguous_and_refused() -> None:
    even = np.arange(10) * 100 * MS
    with pytest.raises(NotIdentified, match="3 separate offsets"):
        by_pulses(seen(even, MS), seen(even, 0), STEADY, ANYWHERE, missed=1)


def test_an_even_train_is_told_by_a_narrow_search() -> None:
    even = np.arange(10) * 100 * MS
    found = by_pulses(seen(even, MS), seen(even, 0), STEADY, Interval(-40 * MS, 40 * MS), missed=1)
    assert 0 in found.clock.offset


def test_outside_the_search_nothing_is_found() -> None:
    true = train(np.random.default_rng(1), 12)
    with pytest.raises(NotIdentified, match="no offset lays"):
        by_pulses(seen(true, MS), seen(true - 123 * MS, 0), STEADY, Interval(0, 50 * MS))


def test_too_few_pulses() -> None:
    with pytest.raises(NotIdentified, match="too few"):
        by_pulses(seen([0, MS], 0), seen([0, MS], 0), STEADY, ANYWHERE, missed=2)
    with pytest.raises(NotIdentified, match="too few"):
        by_pulses([], [], STEADY, ANYWHERE)


@settings(max_examples=150)
@given(
    seed=st.integers(0, 10**6),
    count=st.integers(6, 14),
    lost=st.integers(0, 2),
    extra=st.integers(0, 3),
    offset=st.integers(-(10**9), 10**9),
    ppm=st.integers(-100, 100),
    width=st.integers(0, 3 * MS),
)
def test_the_true_offset_is_held_or_refused(seed, count, lost, extra, offset, ppm, width) -> None:
    """Lost pulses, pulses that only the reference has, drift, and sampled instants."""
    random = np.random.default_rng(seed)
    true = train(random, count)
    kept = np.sort(random.choice(true, count - lost, replace=False))
    stamps = [round((int(at) - offset) / (1 + Fraction(ppm, 10**6))) for at in kept]
    more = np.concatenate([np.delete(true, random.integers(count)), random.integers(0, true[-1], extra)])
    reference = [about(int(at) + random.integers(-width, 1).item(), 1, width + 1) for at in np.sort(more)]
    search = Interval(offset - 10**9, offset + 10**9)
    try:
        found = by_pulses(reference, [about(at, 1, 1) for at in stamps], LOOSE, search, missed=1 + lost)
    except NotIdentified:
        return
    for at in kept:
        stamp = round((int(at) - offset) / (1 + Fraction(ppm, 10**6)))
        common = found.clock.common(about(stamp, 1, 1))
        assert common.lo <= int(at) <= common.hi


def test_odd_trains() -> None:
    open_ = [Interval(0, None), Interval(5, None)]
    with pytest.raises(TimingError, match="upper bound"):
        by_pulses(open_, seen([0, 5], 0), STEADY, ANYWHERE)
    with pytest.raises(TimingError, match="shorter part"):
        by_pulses(seen(range(2000), 0), seen(range(2000), 0), STEADY, ANYWHERE)
    with pytest.raises(TimingError, match="missed"):
        by_pulses(seen([0], 0), seen([0], 0), STEADY, ANYWHERE, missed=-1)
    with pytest.raises(TimingError, match="upper bound"):
        by_pulses(seen([0], 0), seen([0], 0), STEADY, Interval(0, None))


# ---- several trains at once -----------------------------------------------------------------------------------------


def test_rises_and_falls_tell_what_either_alone_leaves_open() -> None:
    """Rises every 100 ms fit at many offsets; the falls, one of which came sooner, at one only."""
    rises, falls = np.arange(0, 500, 100) * MS, np.array([50, 130, 250, 350, 450]) * MS
    moved = 7 * MS
    here = [seen(rises[1:4] - moved, 0), seen(falls[1:4] - moved, 0)]
    with pytest.raises(NotIdentified, match="3 separate offsets"):
        by_trains([Train(seen(rises, MS), here[0])], STEADY, ANYWHERE)
    found = by_trains([Train(seen(rises, MS), here[0]), Train(seen(falls, MS), here[1])], STEADY, ANYWHERE)
    assert moved in found.clock.offset
    assert found.events == 6


def test_an_event_that_the_other_record_must_hold_rules_an_offset_out() -> None:
    """Two edges 100 ms apart fit two pairs of three; but there the third would lie within the shorter record."""
    reference, source = seen(np.array([0, 100, 200]) * MS, 0), seen(np.array([50, 150]) * MS, 0)
    records = Records(Interval(-1000 * MS, 1000 * MS), Interval(0, 400 * MS))
    with pytest.raises(NotIdentified, match="2 separate offsets"):
        by_trains([Train(reference, source)], STEADY, ANYWHERE)
    found = by_trains([Train(reference, source)], STEADY, ANYWHERE, records=records)
    assert found.clock.offset == Interval(
        50 * MS, 50 * MS
    )  # the first edge of the reference is before the record


def test_with_a_steady_drift_the_trains_narrow_it() -> None:
    true = Fraction(40, 10**6)
    stamps = np.array([1, 17, 403, 999]) * 1000 * MS
    reference = [about(int(at * (1 + true)) + 5 * MS, 1000, 1000) for at in stamps.tolist()]
    source = [about(at) for at in stamps.tolist()]
    found = by_trains([Train(reference, source)], LOOSE, ANYWHERE, steady=True)
    assert found.clock.drift.low <= true <= found.clock.drift.high
    assert found.clock.drift.high - found.clock.drift.low < Fraction(1, 10**8)


@st.composite
def lines(draw):
    """A line seen by two recorders over parts of a run: rises and falls in turn, offset and drift unknown."""
    offset, drift = draw(st.integers(-(10**10), 10**10)), Fraction(draw(st.integers(-100, 100)), 10**6)
    gaps = draw(st.lists(st.integers(20 * MS, 5000 * MS), min_size=1, max_size=9))
    stamps = np.cumsum(gaps).tolist()
    first = draw(st.integers(0, len(stamps) - 1))
    last = draw(st.integers(first + 1, len(stamps)))
    early, late = draw(st.integers(0, 8 * MS)), draw(st.integers(0, 8 * MS))
    trains = []
    for kind in (0, 1):
        there = [about(int((at * (1 + drift) + offset) // 1), early, late + 1) for at in stamps[kind::2]]
        here = [
            about(at) for number, at in enumerate(stamps) if number % 2 == kind and first <= number < last
        ]
        trains.append(Train(there, here))
    ends = [0, *stamps, stamps[-1] + 20 * MS]
    begin, end = (ends[first] + ends[first + 1]) // 2, (ends[last] + ends[last + 1]) // 2
    common = [int((at * (1 + drift) + offset) // 1) for at in (0, ends[-1])]
    return offset, drift, trains, Records(Interval(common[0], common[1]), Interval(begin, end))


@given(lines(), st.booleans(), st.booleans())
def test_a_line_seen_by_both_gives_the_true_clock_or_none(line, bounded, steady) -> None:
    """The source sees a part of the line, the reference all of it: the true clock is held, or nothing is told."""
    offset, drift, trains, records = line
    try:
        found = by_trains(trains, LOOSE, ANYWHERE, records=records if bounded else None, steady=steady)
    except NotIdentified:
        return
    for train in trains:
        for event in train.source:
            common = found.clock.common(event.lo)
            assert common.lo <= event.lo * (1 + drift) + offset <= common.hi


@given(lines())
def test_what_the_records_rule_out_is_never_the_truth(line) -> None:
    """With the records known, an answer that stood without them still stands, and no other takes its place."""
    _, _, trains, records = line
    try:
        alone = by_trains(trains, LOOSE, ANYWHERE).clock
    except NotIdentified:
        return
    assert by_trains(trains, LOOSE, ANYWHERE, records=records).clock == alone
