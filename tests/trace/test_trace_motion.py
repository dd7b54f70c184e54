"""Real captures of a motion controller: its enable falls a nearly constant time after the last step.

`enable_*.sr`: a milling controller's enable and step lines at 2 MHz, from sigrok-dumps (public domain), see
tests/data/README.md. Known of the first: 28.2 to 29.0 ms from the last step pulse to the fall, seven times. In the
other two only the Y axis is recorded: where X or Z made the last step, Y's last step lies further back.
"""

from functools import cache

import numpy as np
import pytest
from trace_kit import DATA

from interlock.trace import LogFile, Trace, load

MS = 10**6
SAMPLE_MS = 0.0005
CAPTURES = {
    # falls of enable; those that follow a step of Y; samples
    "enable_after_steps.sr": (7, 7, 34_037_760),
    "enable_two_axes.sr": (7, 3, 96_727_040),
    "enable_long.sr": (10, 2, 195_092_480),
}
EVERY = pytest.mark.parametrize("name", CAPTURES)


@cache
def trace_of(name: str) -> Trace:
    return load([LogFile(DATA / name, "CNC")], None, messages=[])


def bounds_ms(trace: Trace) -> list[tuple[float, float]]:
    """From the last rise of the step line to each fall of enable: the least and the most that the samples allow."""
    enable, step = trace.signals["CNC.EN"], trace.signals["CNC.STEP_Y_axis"]
    rises = np.flatnonzero(np.diff(step.values) > 0)
    bounds = []
    for fall in np.flatnonzero(np.diff(enable.values) < 0):
        last = rises[step.times_ns[rises] < enable.times_ns[fall]][-1]
        least = int(enable.times_ns[fall] - step.times_ns[last + 1]) / MS
        bounds.append((least, int(enable.times_ns[fall + 1] - step.times_ns[last]) / MS))
    return bounds


@EVERY
def test_enable_falls_a_nearly_constant_time_after_the_last_step(name: str) -> None:
    falls, after_y, _ = CAPTURES[name]
    bounds = bounds_ms(trace_of(name))
    constant = [one for one in bounds if one[1] < 30]
    assert len(bounds) == falls
    assert len(constant) == after_y
    assert all(28.2 <= low <= high <= 29.0 for low, high in constant)


@EVERY
def test_enable_never_falls_sooner_after_a_step(name: str) -> None:
    assert min(low for low, _ in bounds_ms(trace_of(name))) >= 28.2


@EVERY
def test_bounds_are_as_tight_as_two_samples(name: str) -> None:
    widths = [high - low for low, high in bounds_ms(trace_of(name))]
    assert all(0 < width <= 2.0001 * SAMPLE_MS for width in widths)


@EVERY
def test_a_capture_is_whole_and_without_doubts(name: str) -> None:
    trace, samples = trace_of(name), CAPTURES[name][2]
    (source,) = trace.sources
    assert trace.quality == ()
    assert (source.frames, source.non_frames, source.rejected) == (samples, 2, 0)
    assert trace.end_ns == (samples - 1) * 500
