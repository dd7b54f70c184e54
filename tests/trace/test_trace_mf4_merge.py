"""Frames of several channel groups in the order of time, and time axes looked at span by span: as if read at once."""

from collections.abc import Iterator
from itertools import pairwise
from math import gcd
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import LogError
from interlock.trace.inputs import LogFile
from interlock.trace.mf4_axis import Axis, axes_of, nanoseconds, spans, times_of
from interlock.trace.mf4_channels import channels_of
from interlock.trace.mf4_frames import Frames
from interlock.trace.mf4_merge import in_order, merged
from interlock.trace.pile import Pile

HERE = Path("a.mf4")


def frames(times: list[int], group: int) -> Frames:
    count = len(times)
    number = np.arange(count)
    return Frames(
        np.array(times, np.int64),
        (1000 * group + number).astype(np.uint32),
        number % 2 == 0,
        np.full(count, 8, np.uint8),
        np.full((count, 8 if group else 64), group, np.uint8),
        np.full(count, group, np.uint16),
    )


def parts(whole: Frames, sizes: list[int]) -> Iterator[Frames]:
    cuts = [0, *np.cumsum(sizes).tolist(), len(whole.times_ns)]
    for lo, hi in pairwise(cuts):
        rows = slice(lo, max(lo, min(hi, len(whole.times_ns))))
        yield Frames(
            whole.times_ns[rows],
            whole.idents[rows],
            whole.extended[rows],
            whole.lengths[rows],
            whole.data[rows],
            whole.channels[rows],
        )


TIMES = st.lists(st.integers(0, 30), max_size=25)
SIZES = st.lists(st.integers(0, 5), max_size=12)


def piled(groups: list[tuple[list[int], list[int]]]) -> Pile:
    pile, place, given = Pile("record"), 0, []
    for number, (times, sizes) in enumerate(groups):
        given.append((parts(frames(times, number), sizes), place))
        place += len(times)
    for part in merged(given):
        pile.add(part)
    return pile


@given(st.lists(st.tuples(TIMES.map(sorted), SIZES), min_size=1, max_size=4))
def test_merged_frames_are_those_of_a_stable_sort(groups: list[tuple[list[int], list[int]]]) -> None:
    if not any(times for times, _ in groups):
        return
    columns = in_order(piled(groups))
    whole = [frames(times, number) for number, (times, _) in enumerate(groups)]
    times = np.concatenate([one.times_ns for one in whole])
    order = np.argsort(times, kind="stable")
    assert columns.times_ns.tolist() == times[order].tolist()
    assert columns.idents.tolist() == np.concatenate([one.idents for one in whole])[order].tolist()
    assert columns.channels.tolist() == np.concatenate([one.channels for one in whole])[order].tolist()
    assert columns.places.tolist() == order.tolist()
    assert columns.data[:, 0].tolist() == columns.channels.tolist()
    assert not columns.data[columns.channels > 0, 8:].any()


@given(st.lists(st.tuples(TIMES, SIZES), min_size=1, max_size=3))
def test_times_that_run_backwards_lose_no_frame(groups: list[tuple[list[int], list[int]]]) -> None:
    if not any(times for times, _ in groups):
        return
    columns = in_order(piled(groups))
    times = np.concatenate([np.array(times, np.int64) for times, _ in groups])
    assert sorted(columns.places.tolist()) == list(range(len(times)))
    assert columns.times_ns.tolist() == times[columns.places].tolist() == sorted(times.tolist())


@given(st.lists(st.integers(-3, 9), max_size=30), SIZES)
def test_an_axis_in_spans_is_the_axis_at_once(steps: list[int], sizes: list[int]) -> None:
    times = np.cumsum(steps).astype(np.int64) * 1000
    axis, cuts = Axis(0, len(times) + 2), [0, *np.cumsum(sizes).tolist(), len(times)]
    for lo, hi in pairwise(cuts):
        axis.add(times[lo : max(lo, hi)])
    apart = np.diff(times).tolist()
    assert (axis.rows, axis.lost) == (len(times), 2)
    assert axis.backwards == any(one < 0 for one in apart)
    mdf = SimpleNamespace(
        masters_db={0: 0}, groups=[SimpleNamespace(channels=[SimpleNamespace(data_type=4, conversion=None)])]
    )
    raster = gcd(*apart) if len(set(apart)) > 2 else 1
    assert axis.width_ns(mdf) == max(1, raster)


@pytest.mark.parametrize(("b", "width"), [(1e-6, 1000), (1e-9, 1), (0.0, 1), (2.5e-9, 3), (None, 1)])
def test_an_axis_that_counts_steps_says_so(b: float | None, width: int) -> None:
    axis = Axis(0, 5)
    axis.add(np.arange(5) * 7)
    conversion = None if b is None else SimpleNamespace(b=b)
    channel = SimpleNamespace(data_type=0, conversion=conversion)
    mdf = SimpleNamespace(masters_db={0: 0}, groups=[SimpleNamespace(channels=[channel])])
    assert axis.width_ns(mdf) == width
    assert axis.width_ns(SimpleNamespace(masters_db={}, groups=[])) == 1


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), 3e6])
def test_times_beyond_what_a_float_tells_are_refused(bad: float) -> None:
    assert nanoseconds(HERE, 0, [0.0, 1.5]).tolist() == [0, 1_500_000_000]
    with pytest.raises(
        LogError, match=r"a\.mf4: channel group 3: times that cannot be told to the nanosecond"
    ):
        nanoseconds(HERE, 3, [0.0, bad])


class FakeFile:
    """One channel group of so many records, some of which may be missing from the file."""

    def __init__(self, records: int, there: int, **channels: np.ndarray[Any, Any]) -> None:
        group = SimpleNamespace(cycles_nr=records, samples_byte_nr=8, invalidation_bytes_nr=0, acq_name="")
        named = [SimpleNamespace(name=name) for name in ("time", *channels)]
        self.groups = [SimpleNamespace(channel_group=group, channels=named)]
        self.masters_db = {0: 0}
        self.there, self.channels = there, channels

    def get_master(self, index: int, *, record_offset: int, record_count: int) -> Any:
        assert index == 0
        return np.arange(record_offset, min(record_offset + record_count, self.there)) / 1000

    def get(self, *, group: int, index: int, record_offset: int, record_count: int, **_: Any) -> Any:
        samples = list(self.channels.values())[index - 1][record_offset : record_offset + record_count]
        invalid = samples == 7 if samples.dtype.kind == "u" else None
        return SimpleNamespace(samples=samples, conversion=None, unit="V", invalidation_bits=invalid)


@pytest.mark.parametrize("together", [1, 3, 100])
def test_channels_in_spans(together: int) -> None:
    rows = np.arange(20)
    mdf = FakeFile(20, 20, U=rows.astype(np.uint8), F=rows / 4, T=np.array([b"on"] * 20))
    axes = axes_of(mdf)
    axes[0].together = together
    (group,), skipped = channels_of(LogFile(HERE), mdf, axes)
    assert skipped == 1
    assert group.times_ns.tolist() == [n * 10**6 for n in range(20)]
    assert group.values["F"].tolist() == (rows / 4).tolist()
    assert np.flatnonzero(np.isnan(group.values["U"])).tolist() == [7]
    assert (group.units, group.continuous) == ({"U": "V", "F": "V"}, False)


@pytest.mark.parametrize("together", [1, 3, 100])
@pytest.mark.parametrize("there", [0, 1, 9])
def test_records_that_are_not_there_end_the_axis(together: int, there: int) -> None:
    mdf = FakeFile(10, there, F=np.arange(float(there)))
    (axis,) = axes_of(mdf)
    axis.together = together
    found = list(times_of(HERE, mdf, axis))
    assert sum(map(len, found)) == axis.rows == there
    assert axis.lost == 10 - there


def test_channels_that_no_memory_has_room_for_are_refused() -> None:
    mdf = FakeFile(10**12, 3, F=np.arange(3.0))
    with pytest.raises(
        LogError, match=r"channel group 0: the memory of this machine has no room for 1000000000000"
    ):
        channels_of(LogFile(HERE), mdf, axes_of(mdf))


def test_spans_cover_all_records_once() -> None:
    axis = Axis(0, 10, together=4)
    assert list(spans(axis, 10)) == [(0, 4), (4, 4), (8, 2)]
    assert list(spans(axis, 0)) == []
