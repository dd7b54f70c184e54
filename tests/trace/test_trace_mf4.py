"""MF4: frames as asammdf and python-can give them, decoded channels as asammdf extracts them, one error without it.

`two_buses.mf4`: from api-examples (CSS Electronics, MIT), see tests/data/README.md. All but the tests of the missing
library are skipped where asammdf is not installed.
"""

import datetime
import io
import random
import sys
from pathlib import Path

import can
import numpy as np
import pytest
from needed import need_extra
from trace_kit import DATA, by_python_can, payloads, read

from interlock.errors import LogError
from interlock.trace import LogFile, QualityKind, load
from interlock.trace.mf4 import looks_like
from interlock.trace.readers import read_log

REAL = DATA / "two_buses.mf4"


def test_without_the_library_the_error_names_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "asammdf", None)
    with pytest.raises(LogError, match=r"two_buses\.mf4: reading MF4 needs .* pip install asammdf$"):
        read_log(REAL)


def test_no_other_format_needs_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "asammdf", None)
    assert read_log(DATA / "short.log")[1].frames == 1500


def test_looks_like_by_its_first_bytes() -> None:
    assert looks_like(b"MDF     4.10    ")
    assert looks_like(b"UnFinMF 4.11    ")
    assert not looks_like(b"LOGG")


def test_frames_are_those_that_python_can_reads_by_asammdf() -> None:
    need_extra("asammdf")
    reading = read(REAL)
    messages = sorted(can.MF4Reader(io.BytesIO(REAL.read_bytes())), key=lambda message: message.timestamp)
    columns = reading.columns
    mine = list(zip(columns.idents.tolist(), columns.extended.tolist(), payloads(columns), strict=True))
    assert mine == by_python_can(messages)
    for time, message in zip(columns.times_ns.tolist(), messages, strict=True):
        assert abs(time - message.timestamp * 1e9) < 500
    assert (reading.channels, columns.absolute) == (("1", "2"), True)


def test_times_are_those_of_asammdf_to_the_nanosecond() -> None:
    asammdf = need_extra("asammdf")
    with asammdf.MDF(io.BytesIO(REAL.read_bytes())) as mdf:
        seconds = mdf.get_master(0)
        began = (mdf.start_time - datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)) // datetime.timedelta(
            seconds=1
        )
    expected = [began * 10**9 + round(float(second) * 1e9) for second in seconds]
    assert read(REAL).columns.times_ns.tolist() == expected


def test_real_stamps_show_their_step_and_an_unfinished_file_is_told() -> None:
    need_extra("asammdf")
    reading = read(REAL)
    assert reading.resolution_ns == 50_000  # every stamp is a multiple of it
    (piece,) = reading.rejected
    assert (piece.kind, piece.until_end, piece.from_start) == (QualityKind.TRUNCATED, True, False)


def made(tmp_path: Path, *, groups: int = 1, count: int = 500) -> Path:
    """A file of decoded channels; group n samples every n + 1 milliseconds."""
    asammdf = need_extra("asammdf")
    path = tmp_path / "decoded.mf4"
    with asammdf.MDF(version="4.10") as mdf:
        mdf.start_time = datetime.datetime(2026, 9, 21, 14, 13, 20, tzinfo=datetime.UTC)
        for group in range(groups):
            times = np.arange(count) * (group + 1) / 1000
            signals = [
                asammdf.Signal(np.sin(times), times, name=f"Torque {group}", unit="N·m"),
                asammdf.Signal(np.arange(count, dtype=np.uint8), times, name=f"State{group}"),
                asammdf.Signal(np.array([b"on"] * count), times, name=f"Text{group}", encoding="utf-8"),
            ]
            mdf.append(signals, acq_name=f"ECU {group}", common_timebase=True)
        mdf.save(path, overwrite=True)
    return path


def test_decoded_channels_are_those_that_were_written(tmp_path: Path) -> None:
    path = made(tmp_path)
    trace = load([LogFile(path, "Daq")], None, messages=[])
    torque = trace.signals["Daq.Torque_0"]
    assert torque.unit == "N·m"
    assert np.array_equal(torque.values, np.sin(np.arange(500) / 1000))
    assert torque.times_ns.tolist() == [n * 10**6 for n in range(500)]
    assert trace.signals["Daq.State0"].values.tolist() == [n % 256 for n in range(500)]
    assert set(trace.signals) == {"Daq.Torque_0", "Daq.State0"}
    assert trace.quality == ()
    assert (trace.start_ns, trace.absolute) == (1_790_000_000 * 10**9, True)
    assert any("hold no plain numbers" in note for note in trace.notes)


def test_groups_with_their_own_times_are_messages_of_their_own(tmp_path: Path) -> None:
    trace = load([made(tmp_path, groups=3)], None, messages=[])
    assert set(trace.messages) == {"ECU_0", "ECU_1", "ECU_2"}
    assert trace.messages["ECU_2"][-1] == 3 * 499 * 10**6
    assert trace.sources[0].frames == 1500


def test_only_wanted_channels(tmp_path: Path) -> None:
    trace = load([LogFile(made(tmp_path, groups=2), wanted=("State1",))], None, messages=[])
    assert set(trace.signals) == {"ECU_1.State1"}


@pytest.mark.filterwarnings("ignore")  # of asammdf, about the damage
@pytest.mark.parametrize("seed", range(25))
def test_damage_is_an_error_or_a_doubt_or_changes_nothing_outside_the_data(tmp_path: Path, seed: int) -> None:
    need_extra("asammdf")
    source = random.Random(seed)
    content = REAL.read_bytes()
    path = tmp_path / "damaged.mf4"
    path.write_bytes(content[: source.randrange(100, len(content))])
    try:
        reading = read(path)
    except LogError as error:
        assert str(path) in str(error)
        return
    assert reading.rejected
    assert len(reading.columns.idents) <= 1815  # as many as the whole file has


@pytest.mark.parametrize("together", [50, 700, 1 << 23])
def test_whatever_is_read_together_the_reading_is_the_same(
    tmp_path: Path, together: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    need_extra("asammdf")
    files = [LogFile(REAL), LogFile(made(tmp_path, groups=2))]
    whole = [load([file], None, messages=[]) for file in files]
    frames = read(REAL)
    monkeypatch.setattr("interlock.trace.mf4_axis.TOGETHER", together)
    for file, trace in zip(files, whole, strict=True):
        again = load([file], None, messages=[])
        assert (again.sources, again.quality, again.notes) == (trace.sources, trace.quality, trace.notes)
        assert again.message_width_ns == trace.message_width_ns
        for name, samples in trace.signals.items():
            assert np.array_equal(samples.values, again.signals[name].values)
    columns = read(REAL).columns
    assert columns.times_ns.tolist() == frames.columns.times_ns.tolist()
    assert payloads(columns) == payloads(frames.columns)
    assert columns.places.tolist() == frames.columns.places.tolist()


def test_a_file_whose_frames_no_memory_has_room_for_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    need_extra("asammdf")
    monkeypatch.setattr("interlock.trace.mf4.room", lambda: 1000)
    with pytest.raises(LogError, match=r"two_buses\.mf4: its \d+ frames need some \d+ MiB of memory"):
        read_log(REAL)
