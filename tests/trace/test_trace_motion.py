"""A real capture of a motion controller: its enable falls a nearly constant time after the last step.

`enable_after_steps.sr`: a milling controller's enable and step lines at 2 MHz, from sigrok-dumps (public domain), see
tests/data/README.md. Known of it: 28.2 to 29.0 ms from the last step pulse to the fall, seven times.
"""

import numpy as np
import pytest
from trace_kit import DATA

from interlock.trace import LogFile, Trace, load

MS = 10**6


@pytest.fixture(scope="module")
def trace() -> Trace:
    return load([LogFile(DATA / "enable_after_steps.sr", "CNC")], None, messages=[])


def test_enable_falls_a_nearly_constant_time_after_the_last_step(trace: Trace) -> None:
    enable, step = trace.signals["CNC.EN"], trace.signals["CNC.STEP_Y_axis"]
    rises = np.flatnonzero(np.diff(step.values) > 0)
    falls = np.flatnonzero(np.diff(enable.values) < 0)
    bounds = []
    for fall in falls:
        last = rises[rises < fall][-1]
        bounds.append(
            (
                int(enable.times_ns[fall] - step.times_ns[last + 1]) / MS,
                int(enable.times_ns[fall + 1] - step.times_ns[last]) / MS,
            )
        )
    assert len(bounds) == 7
    assert all(28.2 <= low <= high <= 29.0 for low, high in bounds)
    assert all(0 < high - low <= 0.0011 for low, high in bounds)  # two samples of 500 ns


def test_a_capture_is_whole_and_without_doubts(trace: Trace) -> None:
    (source,) = trace.sources
    assert trace.quality == ()
    assert source.frames == 34_037_760
    assert source.non_frames == 2
    assert trace.end_ns == (34_037_760 - 1) * 500
