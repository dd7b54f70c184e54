"""The second generator: its text is a candump log of the sample layout and holds the truth that it tells.

Reference reader and decoder: python-can and cantools. Coast-down and discharge: elementary closed forms.
"""

import math
from collections import defaultdict
from functools import cache
from pathlib import Path

import can
import cantools
import loggen
import numpy as np
import pytest

DBC = Path(__file__).parents[1] / "benches" / "sample" / "bench.dbc"
Series = dict[str, tuple[np.ndarray, np.ndarray]]


def series(text: str, tmp: Path) -> Series:
    """Times (s from the epoch) and values of every signal."""
    path = tmp / "x.log"
    path.write_text(text, encoding="ascii")
    base = cantools.database.load_file(DBC)
    rows: dict[str, list[tuple[float, float]]] = defaultdict(list)
    with can.LogReader(path) as reader:
        for message in reader:
            for name, value in base.decode_message(
                message.arbitration_id, message.data, decode_choices=False
            ).items():
                rows[name].append((message.timestamp - loggen.EPOCH, float(value)))
    return {name: tuple(np.array(pairs).T) for name, pairs in rows.items()}  # type: ignore[misc]


@cache
def sound_text(seed: int) -> str:
    return loggen.make(seed)[0]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> tuple[Series, dict]:
    text, truth = loggen.make(7)
    return series(text, tmp_path_factory.mktemp("loggen")), truth


def test_periods_and_counter(sound: tuple[Series, dict]) -> None:
    signals, _ = sound
    for name, period in (("Alive", 0.01), ("DrvCurrent", 0.005), ("SpeedRef", 0.02), ("ShaftTorque", 0.001)):
        steps = np.diff(signals[name][0])
        assert np.mean(steps) == pytest.approx(period, rel=1e-3)
        assert steps.max() < 3.5 * period
    assert set(np.diff(signals["Alive"][1]) % 256) == {1.0}


def test_the_told_latencies_lie_between_samples_on_and_off(sound: tuple[Series, dict]) -> None:
    signals, truth = sound
    assert len(truth["demands"]) == 6
    for demand in truth["demands"]:
        for unit, name in (("drive", "DrvCurrent"), ("load", "LodCurrent")):
            times, amps = signals[name]
            at = demand["demand_s"] + demand[f"{unit}_latency_s"]
            assert (amps[(times > at - 1.0) & (times < at - 0.005)] > 0.3).all()
            assert (np.abs(amps[(times > at + 0.006) & (times < at + 2.0)]) <= 0.3).all()
        contact = {"cover": "CoverA", "button": "TorqueOffPb", "emergency": "EmStop"}[demand["what"]]
        times, closed = signals[contact]
        assert closed[times < demand["demand_s"]][-1] == 1
        assert closed[times > demand["demand_s"] + 0.004][0] == 0


def test_coast_down_and_discharge_follow_the_laws(sound: tuple[Series, dict]) -> None:
    signals, truth = sound
    demand = truth["demands"][3]
    off = demand["demand_s"] + demand["drive_latency_s"] - 0.003
    times, rpm = signals["DrvSpeed"]
    j, c, b = 0.011, 0.28, 0.0012
    for later in (1.0, 2.0, 4.0):
        w = (1440 * math.pi / 30 + c / b) * math.exp(-b * later / j) - c / b
        assert np.interp(off + later, times, rpm) == pytest.approx(w * 30 / math.pi, abs=3.0)
    open_at = demand["demand_s"] + demand["contactor_s"]
    assert np.interp(open_at + 0.9, *signals["BusVoltage"]) == pytest.approx(96.0 / math.e, abs=0.6)


def test_same_seed_same_text_other_seed_other_text() -> None:
    assert loggen.make(5)[0] == sound_text(5)
    assert loggen.make(4)[0] != sound_text(5)


@pytest.mark.parametrize("defect", loggen.DEFECTS)
def test_every_defect_changes_the_log_and_may_not_pass(defect: str) -> None:
    text, truth = loggen.make(5, defect)
    assert text != sound_text(5)
    assert "pass" not in truth["allowed"]
    assert truth["allowed"]


@pytest.mark.parametrize("stamp_s", [0.00015, 0.001, 0.004])
def test_stamps_are_late_by_at_most_four_milliseconds_and_in_order(stamp_s: float) -> None:
    rows = [line.split() for line in loggen.make(2, stamp_s=stamp_s)[0].splitlines()]
    times = np.array([float(row[0][1:-1]) - loggen.EPOCH for row in rows])
    assert (np.diff(times) >= 0).all()
    heads = np.array([row[2].partition("#")[0] for row in rows])
    for name, period in loggen.PERIOD.items():
        own = times[heads == f"{loggen.IDENT[name]:03X}"]
        late = own - period * np.arange(len(own))
        assert late.max() - late.min() <= 0.004


def test_losses_leave_gaps_of_two_periods_at_most(tmp_path: Path) -> None:
    signals = series(loggen.make(2, loss=0.05)[0], tmp_path)
    steps = np.diff(signals["Alive"][1]) % 256
    assert set(steps) == {1.0, 2.0}
    assert np.diff(signals["DrvCurrent"][0]).max() < 0.0175


def test_speed_is_the_one_asked_for(tmp_path: Path) -> None:
    signals = series(loggen.make(2, rpm=700.0)[0], tmp_path)
    assert np.percentile(signals["DrvSpeed"][1], 99) == pytest.approx(700.0, abs=2.0)
    assert signals["SpeedRef"][1].max() == 700.0


def test_the_generator_imports_nothing_of_the_package() -> None:
    for name in ("loggen.py", "loggen_script.py"):
        assert "interlock" not in (Path(__file__).parent / name).read_text(encoding="utf-8").lower()
