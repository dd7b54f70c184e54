"""Decoded signals to the verdict on one latency property: this package against rtamt's discrete-time monitor."""

import tempfile
import warnings
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from interlock.bench import load_bench
from interlock.bench.observe import parse_condition
from interlock.replay import judge_trace
from interlock.replay.replay import load_trace
from interlock.timing.monitor import respond
from interlock.timing.track import Clock, condition_states, follow
from interlock.trace.model import Samples
from interlock.verdict import Verdict
from tests.bench.bench_logs import BENCH, candump_log
from tests.bench.bench_row import Row, Size, compared, cpu_seconds, skipped

__all__ = ["NAMES", "rows"]

NAMES = {"monitor": "always (rise(demand) implies eventually[0:20] answer)"}
_GOAL = 500.0
_PERIOD_NS = 5_000_000
_WITHIN = 20  # samples
Floats = NDArray[np.float64]


def rows(size: Size, wanted: set[str]) -> Iterator[Row]:
    """The one row."""
    if "monitor" not in wanted:
        return
    count = size.of(1_000_000, 5_000)
    work = f"{count} samples of two signals to the verdict on: {NAMES['monitor']}"
    if find_spec("rtamt") is None:
        yield skipped("monitor", work, "rtamt is not installed", _GOAL)
        return
    demand, answer = _signals(count)
    ours = cpu_seconds(lambda: _agree(_ours(demand, answer)), times=3)
    peer = cpu_seconds(lambda: _agree(_peer(demand, answer)))
    yield compared("monitor", work, ours, peer, _GOAL, samples=count, **_whole(count))


def _whole(count: int) -> dict[str, float]:
    """What `replay` does with a log whose quickest signal has so many samples: everything required, stop by stop."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.log"
        candump_log(path, 5 * count // 3)  # three frames of five are of that signal
        bench = load_bench(BENCH)
        trace = load_trace(BENCH, bench, [path])
    seconds = cpu_seconds(lambda: judge_trace(bench, trace))
    said = judge_trace(bench, trace)
    return {
        "whole_judgement_s": round(seconds, 3),
        "whole_judgement_samples": max(len(one.times_ns) for one in trace.signals.values()),
        "whole_judgement_findings": len(said.findings),
    }


def _agree(verdict: bool) -> None:
    if not verdict:
        raise AssertionError("both must find the property true")


def _signals(count: int) -> tuple[Floats, Floats]:
    """A demand every thousand samples, and its answer some samples later."""
    demand, answer = np.zeros(count), np.zeros(count)
    rng = np.random.default_rng(7)
    for at in range(500, count - 900, 1000):
        demand[at : at + 400] = 1.0
        answer[at + int(rng.integers(1, _WITHIN - 2)) : at + 600] = 1.0
    return demand, answer


def _ours(demand: Floats, answer: Floats) -> bool:
    times = np.arange(len(demand), dtype=np.int64) * _PERIOD_NS
    clock = Clock(0, 0, 1)
    tracks = []
    for name, values in (("A", demand), ("B", answer)):
        samples = Samples("M", name, "", times, values)
        states = condition_states(parse_condition(f"M.{name} > 0.5"), {name: samples}, {})
        tracks.append(follow(name, [samples], states, [], clock))
    return respond(tracks[0], tracks[1], _WITHIN * _PERIOD_NS).verdict() is Verdict.PASS


def _peer(demand: Floats, answer: Floats) -> bool:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import rtamt

        spec = rtamt.StlDiscreteTimeSpecification()
        for name in ("demand", "answer", "out"):
            spec.declare_var(name, "float")
        spec.spec = f"out = always( rise(demand >= 0.5) implies eventually[0:{_WITHIN}] (answer >= 0.5) )"
        spec.parse()
        data = {"time": list(range(len(demand))), "demand": demand.tolist(), "answer": answer.tolist()}
        robustness = spec.evaluate(data)
    return bool(robustness[0][1] > 0)
