"""Wires thinned to their changes: the rows are some of those of a plain reckoning, and every edge keeps its bounds."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.timing.track import NO, YES, Clock, follow
from interlock.trace.held import Held, Instants, Rows
from interlock.trace.model import Quality, QualityKind, Samples
from interlock.trace.sampled import before_and_after

STEP = 3
Change = tuple[int, int, float]  # instant, wire, value


@dataclass(frozen=True)
class Record:
    """Instants, the changes at them, and which must stay."""

    times: list[int]
    changes: list[Change]
    needed: list[int]

    @property
    def wires(self) -> int:
        return 2


LEVELS = st.sampled_from([0.0, 1.0, float("nan")])


@st.composite
def records(draw: st.DrawFn, *, backwards: bool = True) -> Record:
    steps = draw(st.lists(st.integers(-9 if backwards else 0, 20), min_size=1, max_size=30))
    times = np.cumsum([10, *steps[1:]]).tolist()
    places = st.integers(0, len(times) - 1)
    changes = draw(st.lists(st.tuples(places, st.integers(0, 1), LEVELS), max_size=40))
    needed = draw(st.lists(places, max_size=3))
    return Record(times, sorted(changes, key=lambda one: one[0]), sorted(needed))


def given_in(record: Record, sizes: list[int]) -> Held:
    """The record given in pieces of so many instants; each piece begins with changes at the last instant before."""
    held, begin = Held(record.wires, STEP), 0
    cuts = [*np.cumsum(sizes).tolist(), len(record.times)]
    for cut in cuts:
        end = min(cut, len(record.times))
        if end <= begin:
            continue
        here = [one for one in record.changes if begin <= one[0] < end]
        late = here[len(here) // 2 :] if here and here[-1][0] == end - 1 else []
        late = [one for one in late if one[0] == end - 1]
        now = [one for one in here if one not in late]
        _give(held, record, begin, end, now)
        _give(held, record, end, end, late)
        begin = end
    return held


def _give(held: Held, record: Record, begin: int, end: int, changes: list[Change]) -> None:
    times = np.array(record.times[begin:end], np.int64)
    held.add(
        Instants(
            times,
            np.arange(begin, end) + 100,
            np.array([at for at, _, _ in changes], np.int64) - begin,
            np.array([wire for _, wire, _ in changes], np.int32),
            np.array([value for _, _, value in changes], np.float64),
            np.array([at for at in record.needed if begin <= at < end], np.int64) - begin,
        )
    )


def plainly(record: Record) -> tuple[NDArray[np.int64], list[NDArray[np.float64]]]:
    """Two rows for each instant, whatever changed, reckoned one by one."""
    now, shown = [float("nan")] * record.wires, []
    for at in range(len(record.times)):
        for instant, wire, value in record.changes:
            if instant == at:
                now[wire] = value
        shown.append(list(now))
    columns = {str(wire): np.array([row[wire] for row in shown]) for wire in range(record.wires)}
    times, values = before_and_after(np.array(record.times, np.int64), STEP, columns)
    return times, [values[str(wire)] for wire in range(record.wires)]


SIZES = st.lists(st.integers(1, 6), max_size=12)


def as_rows(
    times: NDArray[np.int64], values: "list[NDArray[np.float64]] | tuple[NDArray[np.float64], ...]"
) -> list[str]:
    return [repr(row) for row in zip(times.tolist(), *(one.tolist() for one in values), strict=True)]


@given(records(), SIZES)
def test_whatever_the_pieces_the_rows_are_the_same(record: Record, sizes: list[int]) -> None:
    one, other = given_in(record, [len(record.times)]).rows(), given_in(record, sizes).rows()
    assert as_rows(one.times_ns, one.values) == as_rows(other.times_ns, other.values)
    assert one.places.tolist() == other.places.tolist()
    assert one.instants.tolist() == other.instants.tolist()


@given(records(), SIZES)
def test_the_rows_are_those_of_the_kept_instants(record: Record, sizes: list[int]) -> None:
    rows = given_in(record, sizes).rows()
    times, values = plainly(record)
    number = [row for at in rows.instants.tolist() for row in ((2 * at - 1, 2 * at) if at else (0,))]
    assert as_rows(rows.times_ns, rows.values) == as_rows(times[number], [one[number] for one in values])
    assert {0, len(record.times) - 1, *record.needed} <= set(rows.instants.tolist())
    for at in record.needed:
        later = [n for n in range(at, len(record.times)) if record.times[n] > max(record.times[: at + 1])]
        assert set(later[:1]) <= set(rows.instants.tolist())
    assert rows.places.tolist() == [100 + (row + 1) // 2 for row in number]


def edges(
    times: NDArray[np.int64], values: NDArray[np.float64], doubt: Quality | None
) -> list[tuple[int, ...]]:
    """Each change of what is known: both states, and the stamps between which it came; the first and last stamp."""
    samples = Samples("M", "S", "", times, values)
    states = np.where(np.isnan(values), -1, np.where(values > 0, YES, NO)).astype(np.int8)
    track = follow("S", [samples], states, [doubt] if doubt else [], Clock(0, 0, 1))
    cuts = np.flatnonzero(np.diff(track.states)).tolist()
    found = [
        (
            int(track.states[at]),
            int(track.states[at + 1]),
            track.interval(at, at + 1).lo,
            track.interval(at, at + 1).hi or 0,
        )
        for at in cuts
    ]
    return [*found, (int(track.stamps_ns[0]), int(track.stamps_ns[-1]))]


@example(Record([10, 10, 14, 14], [], []), 1, True)
@given(records(backwards=False), st.integers(0, 29), st.booleans())
def test_every_edge_keeps_its_bounds(record: Record, broken: int, doubted: bool) -> None:
    """Also where a lost line leaves all in doubt from the last instant before it on, if that instant was kept."""
    at = min(broken, len(record.times) - 1)
    record = Record(record.times, record.changes, [at])
    rows = given_in(record, []).rows()
    times, values = plainly(record)
    doubt = None
    if doubted:
        row = rows.row_of(at)
        lo = int(rows.times_ns[row - 1]) if row else 0
        assert lo == (int(times[2 * at - 1]) if at else 0)
        doubt = Quality(QualityKind.UNREADABLE, None, None, Interval(lo, None), "", True, "")
    for wire in range(record.wires):
        thinned = edges(rows.times_ns, rows.values[wire], doubt)
        assert thinned == edges(times, values[wire], doubt)


def test_stamps_that_run_back_keep_what_stands_about_them() -> None:
    times = [0, 10, 20, 30, 25, 26, 40, 50, 60]
    rows = given_in(Record(times, [(0, 0, 1.0)], []), []).rows()
    assert rows.instants.tolist() == [0, 3, 4, 5, 6, 8]


@pytest.mark.parametrize("sizes", [[], [1] * 1000, [7] * 200])
def test_a_wire_that_stands_still_takes_no_room(sizes: list[int]) -> None:
    record = Record(list(range(0, 10_000, 10)), [(0, 0, 0.0), (500, 0, 1.0), (501, 1, 0.0)], [])
    held = given_in(record, sizes)
    assert (held.instants, held.kept) == (1000, 3)
    assert held.rows().instants.tolist() == [0, 500, 501, 999]


def test_what_changes_back_within_an_instant_has_not_changed_wherever_the_pieces_are_cut() -> None:
    times, changes = [0, 17, 68], [(0, 0, 0.0), (1, 0, 1.0), (1, 0, 0.0)]
    held = Held(2, STEP)
    record = Record(times, changes, [])
    _give(held, record, 0, 2, changes[:2])
    _give(held, record, 2, 2, changes[2:])
    _give(held, record, 2, 3, [])
    assert held.rows().instants.tolist() == given_in(record, []).rows().instants.tolist() == [0, 2]


def test_nothing_given_nothing_kept() -> None:
    rows: Rows = Held(1, 1).rows()
    assert len(rows.times_ns) == len(rows.values[0]) == 0
    assert rows.row_of(-1) == 0
