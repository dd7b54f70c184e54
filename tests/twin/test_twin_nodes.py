"""What the nodes put on the bus: stamps, order, counters, noise, and that each value is the one that was true."""

from collections import defaultdict
from dataclasses import replace

import cantools
import numpy as np
import pytest
from sample_layout import sample_bench
from twin_short import quick_cell, short_run, short_walk

from interlock.twin import Run, TwinBench, run
from interlock.twin.bench import Logger
from interlock.twin.nets import Reading

LOGGERS = {
    "quiet": Logger(0.0001, 0.0, 0.003),
    "usual": Logger(0.0004, 0.0006, 0.003, 0.00005),
    "noisy": Logger(0.002, 0.002, 0.003, 0.0001),
}


def decoded(of: Run, bench: TwinBench) -> dict[str, np.ndarray]:
    """Every signal's values as cantools reads them, in order of the log."""
    base = cantools.database.load_string(bench.dbc, "dbc")
    seen: dict[str, list[float]] = defaultdict(list)
    for frame in of.log:
        message = base.get_message_by_frame_id(frame.frame_id, force_extended_id=frame.extended)
        for name, value in message.decode(frame.data, decode_choices=False).items():
            seen[name].append(float(value))
    return {name: np.array(values) for name, values in seen.items()}


@pytest.mark.parametrize("name", LOGGERS)
def test_stamps_lie_within_the_stated_delay_and_never_run_backwards(name: str) -> None:
    bench = replace(quick_cell(), logger=LOGGERS[name])
    log = run(bench, short_walk(), np.random.default_rng(1)).log
    delay = log.stamp_ns - log.content_ns
    assert delay.min() >= 0
    assert delay.max() <= round(LOGGERS[name].delay_max_s * 1e9)
    assert (np.diff(log.stamp_ns) >= 0).all()
    for message in bench.messages:
        content = log.content_ns[log.of(message.name)]
        assert (np.diff(content) > 0).all()


@pytest.mark.parametrize("bench", [quick_cell(), sample_bench()], ids=["cell", "sample"])
def test_every_decoded_value_is_the_true_one_within_noise_and_resolution(
    bench: TwinBench,
) -> None:
    of = run(bench, short_walk(), np.random.default_rng(3))
    values, seen = decoded(of, bench), 0
    base = cantools.database.load_string(bench.dbc, "dbc")
    for message in bench.messages:
        at_s = of.log.content_ns[of.log.of(message.name)] / 1e9
        for shown in message.shown:
            if shown.source is Reading.ALIVE:
                continue
            true = of.sensors.read(shown.source, at_s)
            true = 1.0 - true if shown.inverted else true
            step = base.get_message_by_name(message.name).get_signal_by_name(shown.signal).scale
            allowed = 6.0 * shown.noise + 0.5001 * step + 1e-5 * np.abs(true)
            negative = np.minimum(true, 0.0) if shown.source is Reading.BUS_VOLTAGE else 0.0
            assert (np.abs(values[shown.signal] - true + negative) <= allowed).all(), shown.signal
            seen += 1
    assert seen == sum(len(message.signals) for message in base.messages) - 1  # all but the counter


def test_the_counter_counts_by_one_modulo_its_range() -> None:
    beat = decoded(short_run(), quick_cell())["Beat"]
    assert set(np.diff(beat) % 16) == {1.0}
    assert beat.max() == 15


def test_periods_hold_on_average_and_no_frame_is_missing() -> None:
    log = short_run().log
    for message in quick_cell().messages:
        stamps = log.stamp_ns[log.of(message.name)] / 1e9
        assert np.mean(np.diff(stamps)) == pytest.approx(message.period_s, rel=2e-3)
        assert np.max(np.diff(stamps)) < message.period_s + 0.0032


def test_lost_frames_are_single() -> None:
    bench = replace(quick_cell(), logger=replace(quick_cell().logger, loss=0.2))
    log = run(bench, short_walk(), np.random.default_rng(1)).log
    gaps = np.rint(np.diff(log.content_ns[log.of("ShaftTorque")]) / 2e6)
    assert set(gaps) == {1.0, 2.0}


def test_noise_is_that_of_the_sensor() -> None:
    values = decoded(short_run(), quick_cell())["PrimeCurrent"]
    still = values[:200]  # nothing runs in the first 0.8 s
    assert np.mean(still) == pytest.approx(0.0, abs=0.02)
    assert np.std(still) == pytest.approx(0.03, rel=0.2)


def test_no_payload_of_a_live_message_repeats_for_long() -> None:
    log = short_run().log
    for name, longest in (("CellInputs", 1), ("AxisMotion", 4), ("ShaftTorque", 10)):
        payload = log.payload[log.of(name)]
        changes = np.flatnonzero((payload[1:] != payload[:-1]).any(axis=1))
        assert np.max(np.diff(changes, prepend=-1, append=len(payload) - 1)) <= longest


def test_the_same_seed_gives_the_same_log_and_another_seed_another() -> None:
    first, again, other = (run(quick_cell(), short_walk(), np.random.default_rng(seed)) for seed in (5, 5, 6))
    assert first.truth.to_json() == again.truth.to_json()
    for column in ("stamp_ns", "content_ns", "message", "payload"):
        assert np.array_equal(getattr(first.log, column), getattr(again.log, column))
    assert first.truth != other.truth
    assert not np.array_equal(first.log.payload[:1000], other.log.payload[:1000])


def test_a_counter_is_no_sensor() -> None:
    with pytest.raises(ValueError, match="no sensor"):
        short_run().sensors.read(Reading.ALIVE, np.zeros(1))
