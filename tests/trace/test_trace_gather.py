"""Several files on one time base; the frames of each message in the order of time."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from trace_kit import LAYOUTS, MS, made_log, made_reading

from interlock.errors import LogError
from interlock.trace.gather import gather, streams_of

PATHS = [Path("a.log"), Path("b.log")]


def test_earliest_frame_of_any_file_is_time_zero() -> None:
    log = gather(PATHS, [made_reading([(900, 1, b"")]), made_reading([(700, 1, b""), (1000, 1, b"")])])
    assert (log.start_ns, log.end_ns) == (700, 300)
    assert log.times_ns.tolist() == [200, 0, 300]
    assert log.file_of(np.arange(3)).tolist() == [0, 1, 1]


def test_places_name_the_file() -> None:
    log = gather(PATHS, [made_reading([(900, 1, b"")]), made_reading([(700, 1, b""), (1000, 1, b"")])])
    assert [log.place(row) for row in range(3)] == ["a.log:1", "b.log:1", "b.log:2"]


def test_file_without_date_stands_alone_or_not_at_all() -> None:
    assert gather(PATHS[:1], [made_reading([(5, 1, b"")], absolute=False)]).start_ns == 5
    with pytest.raises(LogError, match=r"b\.log: its stamps do not say the time of day"):
        gather(PATHS, [made_reading([(5, 1, b"")]), made_reading([(5, 1, b"")], absolute=False)])


def test_classic_and_long_payloads_are_joined() -> None:
    log = gather(PATHS, [made_reading([(1, 1, b"\1")]), made_reading([(2, 1, b"\2" * 12)])])
    assert log.data.shape == (2, 64)
    assert log.data[:, 0].tolist() == [1, 2]


@given(
    st.lists(st.tuples(st.integers(0, 50), st.sampled_from([0x120, 0x201, 0x310, 0x5, 0x7FF])), min_size=1)
)
def test_streams_hold_each_frame_once_in_the_order_of_time(frames: list[tuple[int, int]]) -> None:
    log = made_log([(time, ident, bytes(8)) for time, ident in frames])
    streams, unknown = streams_of(log, LAYOUTS)
    rows = [row for stream in streams.values() for row in stream.rows.tolist()]
    assert len(rows) == len(set(rows)) == sum(ident in LAYOUTS for _, ident in frames)
    assert sum(item.count for item in unknown) == len(frames) - len(rows)
    for stream in streams.values():
        order = sorted(range(len(frames)), key=lambda row: frames[row][0])
        assert stream.rows.tolist() == [row for row in order if frames[row][1] == stream.layout.ident]
        assert (np.diff(stream.times_ns) >= 0).all()


@pytest.mark.parametrize("extended", [False, True])
def test_many_identifiers_are_grouped_rightly(extended: bool) -> None:
    reading = made_reading([(n, (n * 37) % 700, b"") for n in range(2100)])
    reading.columns.extended[:] = extended
    log = gather(PATHS[:1], [reading])
    streams, unknown = streams_of(log, LAYOUTS)
    present = 0 if extended else sum(key in LAYOUTS for key in range(700))
    assert len(streams) == present
    assert len(unknown) == 700 - present
    assert {item.count for item in unknown} == {3}
    assert all(item.key >> 31 == extended for item in unknown)


def test_wrong_lengths_are_marked() -> None:
    log = made_log([(0, 0x120, bytes(8)), (MS, 0x120, bytes(7)), (2 * MS, 0x310, bytes(8))])
    streams, _ = streams_of(log, LAYOUTS)
    assert streams["SAFE_State"].good.tolist() == [True, False]
    assert streams["TQS_Torque"].good.tolist() == [False]
