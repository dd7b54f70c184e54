"""Mixed logs in every format: with and without compiled loops the same trace, and the frames that python-can reads."""

from collections import Counter
from pathlib import Path

import can
import numpy as np
import pytest
from trace_kit import DBC

from interlock.trace import LogFile, Trace, blf, lane, load
from interlock.trace.blf_lane import linked
from tests.bench.bench_mixed import written_mixed

COUNT = 900
SUFFIXES = (".log", ".asc", ".blf", ".trc", ".csv")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("mixed")


@pytest.fixture(scope="module", params=SUFFIXES)
def path(request: pytest.FixtureRequest, folder: Path) -> Path:
    return written_mixed(folder, request.param, COUNT)


def told(trace: Trace) -> tuple[object, ...]:
    """Everything that a trace says, by value."""
    signals = {
        name: (one.times_ns.tolist(), one.values.tolist(), one.unit, dict(one.labels))
        for name, one in trace.signals.items()
    }
    messages = {name: times.tolist() for name, times in trace.messages.items()}
    facts = (trace.start_ns, trace.absolute, trace.end_ns, trace.resolution_ns, trace.notes)
    return facts, signals, messages, trace.sources, trace.quality, dict(trace.message_width_ns)


def test_compiled_loops_make_the_same_trace(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = load([path], DBC, messages=[])
    monkeypatch.setattr(lane.Lanes, "compiled", lambda *_: True)
    monkeypatch.setattr(blf, "linker_for", lambda _: linked)
    with np.errstate(over="ignore"):  # where they are not compiled
        looped = load([LogFile(path)], DBC, messages=[])
    assert told(looped) == told(plain)


def test_the_ledger_adds_up_and_nothing_is_refused(path: Path) -> None:
    (source,) = load([path], DBC, messages=[]).sources
    assert source.rejected == 0
    assert source.lines_or_objects == source.frames + source.non_frames
    if path.suffix != ".blf":
        assert source.lines_or_objects == len(path.read_bytes().splitlines())


def test_python_can_reads_the_same_frames(path: Path) -> None:
    """Of each known message as many as python-can reads (general-purpose reference library)."""
    with can.LogReader(path) as reader:
        frames = [one for one in reader if not one.is_error_frame and not one.is_remote_frame]
    trace = load([path], DBC, messages=[])
    assert trace.sources[0].frames == len(frames)
    found = Counter({name: len(times) for name, times in trace.messages.items()})
    assert sum(found.values()) == sum(one.arbitration_id != 0x5A0 for one in frames)
