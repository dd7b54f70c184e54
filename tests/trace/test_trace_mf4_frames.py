"""Bus events of MF4 files, from a stand-in for the library's file object: what is taken, and what is refused.

The names of the members follow ASAM MDF bus logging, as asammdf gives them (from memory).
"""

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from interlock.errors import LogError
from interlock.trace.mf4_frames import Frames, events_of, frames_of, kind_of, numbers_of

TIMES = np.arange(3, dtype=np.int64) * 1000


@dataclass
class FakeFile:
    """One channel group whose channels are given by name."""

    channels: dict[str, Any]
    conversions: dict[str, Any] = field(default_factory=dict)

    @property
    def groups(self) -> list[Any]:
        named = [SimpleNamespace(name=name) for name in self.channels]
        return [SimpleNamespace(channels=named, channel_group=SimpleNamespace(cycles_nr=len(TIMES)))]

    def get(
        self, *, group: int, index: int, raw: bool, ignore_invalidation_bits: bool, **records: Any
    ) -> Any:
        assert (group, raw, ignore_invalidation_bits) == (0, True, True)
        name = list(self.channels)[index]
        first, count = records["record_offset"], records["record_count"]
        here = slice(first, None if count is None else first + count)
        samples, conversion = self.channels[name][here], self.conversions.get(name)
        return SimpleNamespace(samples=samples, conversion=conversion, unit="", timestamps=TIMES[here] / 1e9)

    def get_master(self, index: int, *, record_offset: int, record_count: int) -> Any:
        assert index == 0
        return TIMES[record_offset : record_offset + record_count] / 1e9

    def select(
        self, channels: list[tuple[None, int, int]], *, raw: bool, copy_master: bool, **records: Any
    ) -> list[Any]:
        assert not copy_master
        return [
            self.get(group=group, index=index, raw=raw, ignore_invalidation_bits=True, **records)
            for _, group, index in channels
        ]


def data_group(**changes: Any) -> FakeFile:
    members = {
        "BusChannel": np.array([1, 2, 1], np.uint8),
        "ID": np.array([0x120, 0x18ABCDEF, 0x7FF], np.uint32),
        "IDE": np.array([0, 1, 0], np.uint8),
        "DataLength": np.array([2, 8, 0], np.uint8),
        "DataBytes": np.arange(24, dtype=np.uint8).reshape(3, 8),
        **changes,
    }
    named = {f"CAN_DataFrame.{name}": value for name, value in members.items() if value is not None}
    return FakeFile({"Timestamp": TIMES, "CAN_DataFrame": None, **named})


def taken(file: FakeFile) -> Frames:
    return frames_of(Path("a.mf4"), 0, events_of(file, 0, 0, len(TIMES)), TIMES)


def test_data_frames() -> None:
    assert kind_of(data_group(), 0) == "data"
    frames = taken(data_group())
    assert frames.idents.tolist() == [0x120, 0x18ABCDEF, 0x7FF]
    assert frames.extended.tolist() == [False, True, False]
    assert frames.channels.tolist() == [1, 2, 1]
    assert frames.data.tolist() == [[0, 1, 0, 0, 0, 0, 0, 0], [8, 9, 10, 11, 12, 13, 14, 15], [0] * 8]


def test_bytes_beyond_the_length_are_zero_and_long_frames_keep_theirs() -> None:
    block = np.full((3, 64), 255, np.uint8)
    frames = taken(data_group(DataBytes=block, DataLength=np.array([12, 64, 0], np.uint8)))
    assert frames.data.sum(axis=1, dtype=np.int64).tolist() == [12 * 255, 64 * 255, 0]
    assert frames.data.shape == (3, 64)


def test_the_kind_of_identifier_may_be_in_its_highest_bit_or_in_its_size() -> None:
    marked = np.array([0x120 | 1 << 31, 0x18ABCDEF | 1 << 31, 0x7FF], np.uint32)
    assert taken(data_group(ID=marked, IDE=None)).extended.tolist() == [True, True, False]
    assert taken(data_group(IDE=None)).extended.tolist() == [False, True, False]
    assert taken(data_group(ID=marked, IDE=None)).idents.tolist() == [0x120, 0x18ABCDEF, 0x7FF]


def test_without_a_bus_there_is_one() -> None:
    assert taken(data_group(BusChannel=None)).channels.tolist() == [0, 0, 0]


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"ID": None}, "without identifier, length or data"),
        ({"DataLength": None}, "without identifier, length or data"),
        ({"DataBytes": None}, "without identifier, length or data"),
        ({"DataLength": np.array([2, 9, 0], np.uint8)}, "longer than their data"),
        ({"ID": np.array([1, 2], np.uint32)}, "not as many values as times"),
        ({"IDE": np.zeros(3, np.uint8)}, "identifiers beyond 11 bits"),
    ],
)
def test_groups_that_contradict_themselves_are_refused(changes: dict[str, Any], reason: str) -> None:
    with pytest.raises(LogError, match=reason):
        taken(data_group(**changes))


@pytest.mark.parametrize(
    ("channels", "kind"),
    [
        ({"CAN_ErrorFrame.ID": TIMES}, "error"),
        ({"CAN_RemoteFrame": TIMES}, "remote"),
        ({"CAN_DataFrame.ID": TIMES, "CAN_ErrorFrame.ID": TIMES}, "data"),
        ({}, ""),
        ({"LIN_Frame.ID": TIMES}, ""),
    ],
    ids=["error", "remote", "both", "none", "another bus"],
)
def test_the_members_tell_what_a_group_holds(channels: dict[str, Any], kind: str) -> None:
    assert kind_of(FakeFile({"Timestamp": TIMES, **channels}), 0) == kind


def test_a_group_without_records_holds_nothing() -> None:
    file = data_group()
    empty = SimpleNamespace(channels=file.groups[0].channels, channel_group=SimpleNamespace(cycles_nr=0))
    assert kind_of(SimpleNamespace(groups=[empty]), 0) == ""


def test_records_are_taken_from_where_and_as_many_as_asked() -> None:
    events = events_of(data_group(), 0, 1, 1)
    assert events.seconds.tolist() == [TIMES[1] / 1e9]
    assert frames_of(Path("a.mf4"), 0, events, TIMES[1:2]).idents.tolist() == [0x18ABCDEF]


def test_conversions_to_numbers_are_done_and_those_to_text_left_out() -> None:
    asked: list[bool] = []

    class Conversion:
        def convert(self, samples: Any, *, ignore_value2text_conversions: bool) -> Any:
            asked.append(ignore_value2text_conversions)
            return samples * 2

    file = FakeFile({"A": np.array([1, 2, 3])}, {"A": Conversion()})
    numbers, signal = numbers_of(file, 0, 0)
    assert numbers.tolist() == [2, 4, 6]
    assert asked == [True]
    assert signal.unit == ""


def test_what_cannot_be_is_told_with_the_file() -> None:
    # Found by fuzzing: the error named the group but not the file.
    with pytest.raises(LogError, match=r"a\.mf4: channel group 0: identifiers beyond 11 bits"):
        taken(data_group(ID=np.array([0x800, 1, 2], np.uint32), IDE=np.zeros(3, np.uint8)))
