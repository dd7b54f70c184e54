"""Writers against python-can, which reads back what the twin wrote (a general-purpose CAN library as reference)."""

from pathlib import Path

import can
import numpy as np
import pytest
from twin_short import short_run

from interlock.twin.frames import Frames
from interlock.twin.write import write

EPOCH_S = 1_800_000_000


@pytest.fixture(scope="module")
def log() -> Frames:
    whole = short_run().log
    return whole.take(np.arange(0, len(whole), 7))


def read_back(path: Path) -> list[can.Message]:
    with can.LogReader(path) as reader:
        return list(reader)


@pytest.mark.parametrize("suffix", [".log", ".asc", ".blf"])
def test_python_can_reads_the_same_frames(log: Frames, tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"run{suffix}"
    write(log, EPOCH_S, path)
    got = read_back(path)
    assert len(got) == len(log)
    for frame, message in zip(log, got, strict=True):
        assert (frame.frame_id, frame.extended) == (message.arbitration_id, message.is_extended_id)
        assert frame.data == bytes(message.data)
        assert message.is_rx


@pytest.mark.parametrize("suffix", [".log", ".blf"])
def test_stamps_survive_to_the_microsecond(log: Frames, tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"run{suffix}"
    write(log, EPOCH_S, path)
    got = np.array([message.timestamp for message in read_back(path)]) - EPOCH_S
    assert np.max(np.abs(got - log.stamp_ns / 1e9)) < 1e-6


def test_text_holds_the_stamp_digit_by_digit(log: Frames, tmp_path: Path) -> None:
    candump, asc = tmp_path / "run.log", tmp_path / "run.asc"
    write(log, EPOCH_S, candump)
    write(log, EPOCH_S, asc)
    expected = [f"{ns // 10**9}.{ns % 10**9 // 1000:06d}" for ns in log.stamp_ns.tolist()]
    lines = candump.read_text(encoding="ascii").splitlines()
    assert [line[1:].partition(")")[0] for line in lines] == [
        f"{EPOCH_S + int(text.partition('.')[0])}.{text.partition('.')[2]}" for text in expected
    ]
    rows = [line.split() for line in asc.read_text(encoding="ascii").splitlines() if " Rx " in line]
    assert [row[0] for row in rows] == expected


def test_the_head_of_an_asc_file_states_power_up_in_utc(log: Frames, tmp_path: Path) -> None:
    path = tmp_path / "run.asc"
    write(log, EPOCH_S, path)
    head = path.read_text(encoding="ascii").splitlines()[:4]
    assert head[0] == "date Fri Jan 15 08:00:00.000 2027"  # 1800000000 s of Unix time
    assert head[1] == "base hex  timestamps absolute"


@pytest.mark.parametrize("suffix", [".log", ".asc", ".blf"])
def test_the_same_log_gives_the_same_bytes(log: Frames, tmp_path: Path, suffix: str) -> None:
    first, second = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    write(log, EPOCH_S, first)
    write(log, EPOCH_S, second)
    assert first.read_bytes() == second.read_bytes()


def test_an_unknown_ending_is_refused_and_nothing_written(log: Frames, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"no writer for run\.txt"):
        write(log, EPOCH_S, tmp_path / "run.txt")
    assert list(tmp_path.iterdir()) == []
