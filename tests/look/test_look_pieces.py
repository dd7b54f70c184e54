"""Long records are looked at piece by piece: the figures are those of the whole, and take little memory."""

import math
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from look_material import DATA, DBC, candump, counting

from interlock.look import counters, document, look, messages, values
from interlock.look.counters import FEWEST, counter_in, counters_in_bytes
from interlock.look.seen import Counter, Edge, SignalSeen, Still
from interlock.look.signals import figures_of
from interlock.look.values import MOST_EDGES, summary
from interlock.trace.gather import Log, Stream, gather, streams_of
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import QualityKind, Samples
from interlock.trace.readers import read_log

PIECES = [1, 2, 3, 7, 64]
LEVELS = st.sampled_from([0.0, -0.0, 1.0, 1.0, 2.5, math.nan, math.inf, -math.inf])
RECORD = st.lists(st.tuples(st.integers(0, 5), LEVELS), min_size=1, max_size=60)
"""Steps of time and what was seen then; some stamps are equal."""


def seen(record: list[tuple[int, float]]) -> SignalSeen:
    times = np.cumsum([step for step, _ in record], dtype=np.int64)
    return summary(Samples("M", "S", "V", times, np.array([value for _, value in record])), 8)


def same(one: float, other: float) -> bool:
    return one == other or (math.isnan(one) and math.isnan(other))


def walked(record: list[tuple[int, float]]) -> tuple[tuple[int, int, int], list[tuple[int, int, float]]]:
    """The longest stretch of one value as samples, begin and end; and each change: both stamps and the new value."""
    times = np.cumsum([step for step, _ in record]).tolist()
    levels = [value for _, value in record]
    first, best = 0, (0, 0)
    for at in range(len(levels)):
        if not same(levels[at], levels[first]):
            first = at
        if times[at] - times[first] > times[best[1]] - times[best[0]]:
            best = first, at
    start = best[0]
    end = (
        next((at for at in range(start, len(levels)) if not same(levels[at], levels[start])), len(levels)) - 1
    )
    edges = [
        (times[at], times[at + 1], levels[at + 1])
        for at, (before, after) in enumerate(pairwise(levels))
        if before != after
    ]
    return (end - start + 1, times[start], times[end]), edges


@pytest.mark.parametrize("size", PIECES)
@given(record=RECORD)
@example(record=[(0, 1.0)] * 9)
@example(record=[(0, math.nan), (5, math.nan), (1, 1.0), (5, 1.0)])
@example(record=[(1, float(at % 2)) for at in range(30)])
def test_a_signal_in_pieces_is_what_a_plain_walk_over_its_samples_sees(
    size: int, record: list[tuple[int, float]]
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(values, "PIECE", size)
        found = seen(record)
    (samples, begin, end), edges = walked(record)
    finite = [value for _, value in record if math.isfinite(value)]
    assert found.distinct == len(set(finite))
    assert (found.least, found.most) == (min(finite, default=None), max(finite, default=None))
    assert isinstance(found.still, Still)
    assert (found.still.samples, found.still.span.lo, found.still.span.hi) == (samples, begin, end)
    if len(finite) == len(record) and len(set(finite)) <= 2:
        assert found.edges is not None
        assert [(edge.span.lo, edge.span.hi, edge.value) for edge in found.edges] == edges
    else:
        assert found.edges is None


@pytest.mark.parametrize("size", [1, 399, 400, 401])
def test_of_many_edges_the_first_are_listed_whatever_is_taken_together(
    size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(values, "PIECE", size)
    found = seen([(1, float(at % 2)) for at in range(1000)])
    assert found.edges is not None
    assert len(found.edges) == MOST_EDGES
    last = found.edges[-1]
    assert isinstance(last, Edge)
    assert (last.span.lo, last.span.hi, last.value) == (MOST_EDGES, MOST_EDGES + 1, float(MOST_EDGES % 2))


def counted(numbers: list[int], bits: int) -> tuple[int, float, int, int] | None:
    """Modulo, share, stands and jumps, step by step as the docstring of `counter_in` says it."""
    if bits < 2 or len(numbers) < FEWEST:
        return None
    steps = list(pairwise(numbers))
    most = max(numbers)
    after_most = [after for before, after in steps if before == most]
    zeros = after_most.count(0)
    wraps = most > 0 and zeros > 0 and zeros >= 0.9 * len(after_most)
    modulo = most + 1 if wraps else 1 << bits
    ups = sum(after - before in (1, 1 - modulo) for before, after in steps)
    stands = sum(after == before for before, after in steps)
    if ups < 0.9 * len(steps):
        return None
    return modulo, ups / len(steps), stands, len(steps) - ups - stands


def figures(counter: Counter | None) -> tuple[int, float, int, int] | None:
    return None if counter is None else (counter.modulo, counter.share, counter.stands, counter.jumps)


@pytest.mark.parametrize("size", PIECES)
@given(
    modulo=st.integers(2, 16),
    count=st.integers(1, 80),
    lost=st.sets(st.integers(0, 79), max_size=6),
    kind=st.sampled_from([np.uint8, np.int64, np.float64]),
)
def test_a_counter_in_pieces_is_what_is_counted_step_by_step(
    size: int, modulo: int, count: int, lost: set[int], kind: type
) -> None:
    numbers = [at % modulo for at in range(count) if at not in lost]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(counters, "PIECE", size)
        found = counter_in("x", np.array(numbers, kind), 4)
    assert figures(found) == counted(numbers, 4)


def test_bytes_that_step_back_over_zero_are_counted_as_numbers_with_a_sign() -> None:
    column = np.array([250, 251, 252, 253, 254, 255, 0, 1, 2, 3, 2, 3, 4], np.uint8)
    (found,) = counters_in_bytes(column[:, None])
    assert figures(found) == counted(column.tolist(), 8)
    assert found.jumps == 1


@pytest.mark.parametrize("size", [7, 997])
@pytest.mark.parametrize("name", ["short.log", "short.blf"])
@pytest.mark.parametrize("dbc", [None, DBC], ids=["plain", "dbc"])
def test_a_log_in_pieces_gives_the_same_document(
    name: str, dbc: object, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = document(look([DATA / name], dbc))
    for room in (values, counters, messages):
        monkeypatch.setattr(room, "PIECE", size)
    assert document(look([DATA / name], dbc)) == whole


def test_each_identifier_has_the_length_of_its_first_frame_in_whatever_piece(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(messages, "PIECE", 4)
    frames = [
        *counting(5),
        (60_000, "1ABCDEF0#0102"),
        (70_000, "1ABCDEF0#01"),
        (80_000, "7FF#"),
        *counting(0),
    ]
    log = candump(tmp_path / "a.log", frames)
    reading, _ = read_log(log)
    found = messages.nameless(gather([log], [reading]))
    assert {(one.name, one.length) for one in found.values()} == {("#120", 8), ("#1ABCDEF0x", 2), ("#7FF", 0)}


def peak_of(work: Callable[[], object]) -> int:
    """The most memory that was in use at once, above what was in use before, bytes."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


NOISE = np.random.default_rng(1).integers(0, 30_000, 1 << 20).astype(np.float64)
FEW = np.round(NOISE / 10_000)
COUNT = (np.arange(1 << 20) % 256).astype(np.uint8)
LONG = np.arange(1 << 20, dtype=np.int64)


@pytest.mark.parametrize("taken", [NOISE, FEW], ids=["noise", "few"])
def test_the_figures_of_a_long_record_need_little_memory_beside_it(taken: np.ndarray) -> None:
    assert peak_of(lambda: summary(Samples("M", "S", "", LONG, taken), 16)) < taken.nbytes / 2


def test_of_a_long_record_of_ever_new_values_no_more_than_one_copy_is_made() -> None:
    taken = NOISE + LONG / (1 << 21)
    assert peak_of(lambda: summary(Samples("M", "S", "", LONG, taken), None)) < 1.5 * taken.nbytes


def test_a_long_counter_needs_little_memory_beside_it() -> None:
    assert peak_of(lambda: counter_in("x", COUNT, 8)) < 4 << 20


def test_a_state_is_no_counter_and_may_be_unknown(tmp_path) -> None:
    """What stands for nothing known is no number, and no number counts."""
    log = candump(tmp_path / "a.log", counting(40, modulo=4))
    plain = SignalLayout("S", "", 56, 2, False, False, False, 1.0, 0.0, None, None)
    state = replace(plain, codes=(0.0, 1.0, math.nan, 3.0))
    found = {
        one.codes: look([log], None, [MessageLayout("M", 0x120, False, 8, (one,))]) for one in (plain, state)
    }
    assert [one.where for one in found[plain.codes].messages[0].counters] == ["S"]
    assert found[state.codes].messages[0].counters == ()
    assert found[state.codes].signals[0].distinct == 3
    assert {doubt.kind for doubt in found[state.codes].doubts} == {QualityKind.OUT_OF_RANGE}


def of_signals(count: int) -> tuple[Log, Stream]:
    """A log of one message of so many signals of two bits."""
    signals = tuple(
        SignalLayout(f"S{at}", "", 2 * at, 2, False, False, False, 1.0, 0.0, None, None)
        for at in range(count)
    )
    rows = len(LONG) // 4
    keys, data = np.full(rows, 0x120, np.uint32), np.repeat(COUNT[:rows], 8).reshape(rows, 8)
    short = np.full(rows, 8, np.uint8)
    log = Log((), (), np.array([0, rows]), 0, rows, LONG[:rows], keys, short, data, short.astype(np.uint16))
    streams, _ = streams_of(log, {0x120: MessageLayout("M", 0x120, False, 8, signals)})
    return log, streams["M"]


def test_a_message_of_many_signals_needs_no_more_memory_than_one_of_few() -> None:
    few, many = (of_signals(count) for count in (2, 20))
    assert len(figures_of(*many).signals) == 20
    assert peak_of(lambda: figures_of(*many)) < 1.2 * peak_of(lambda: figures_of(*few))
