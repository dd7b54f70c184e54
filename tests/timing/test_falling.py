"""Which part of a record a decay is fitted to, and when there is none."""

import numpy as np
import pytest

from interlock.errors import InterlockError
from interlock.timing.falling import falling
from interlock.timing.inputs import NotIdentified, TimingError

TIMES = np.arange(200) * 10_000_000
LINE = np.linspace(100.0, 1.0, 200)


def test_spans_and_means() -> None:
    used = falling(TIMES, LINE, floor=0.5)
    assert used.seconds == pytest.approx(1.99)
    assert used.top == 100.0
    assert used.left_out == 0
    assert used.blocks.values.max() == 1.0
    assert used.blocks.seconds[[0, -1]] == pytest.approx([0, 1])
    assert 99 < used.highest < 100
    assert 1 < used.lowest < 2.5


def test_the_record_ends_where_the_median_reaches_the_floor() -> None:
    used = falling(TIMES, LINE, floor=50.0)
    assert used.seconds == pytest.approx(1.0, abs=0.02)
    assert used.lowest > 49


def test_lone_zeros_do_not_end_it_and_are_counted() -> None:
    values = LINE + 0.3 * np.random.default_rng(2).normal(size=200)
    values[[20, 60, 61, 90]] = 0.0
    used = falling(TIMES, values, floor=10.0)
    assert used.left_out == 4
    assert used.seconds > 1.7
    assert used.lowest > 9


def test_rest_after_standstill_is_not_used() -> None:
    values = np.concatenate([LINE, np.zeros(500)])
    used = falling(np.arange(700) * 10_000_000, values, floor=5.0)
    assert used.seconds < 1.95


@pytest.mark.parametrize(
    ("times", "values", "reason"),
    [
        (TIMES[:11], LINE[:11], "11 samples above the floor"),
        (TIMES[:0], LINE[:0], "0 samples"),
        (TIMES, LINE[::-1], "does not fall"),
        (TIMES, np.full(200, 50.0), "does not fall"),
        (np.zeros(200, dtype=np.int64), LINE, "one stamp"),
        (TIMES, np.where(np.arange(200) % 8 == 3, 0.0, LINE + 100), "stand apart"),
        (TIMES, np.full(200, 0.1), "0 samples"),
    ],
)
def test_records_that_determine_nothing(times, values, reason) -> None:
    with pytest.raises(NotIdentified, match=reason):
        falling(times, values, floor=1.0)


@pytest.mark.parametrize("floor", [0, -1.0, np.nan, None])
def test_odd_floors(floor) -> None:
    with pytest.raises(TimingError, match="floor"):
        falling(TIMES, LINE, floor=floor)


def test_a_missing_number_is_no_evidence() -> None:
    values = LINE.copy()
    values[3] = np.nan
    with pytest.raises(InterlockError, match="value 3 is nan"):
        falling(TIMES, values, floor=1.0)
